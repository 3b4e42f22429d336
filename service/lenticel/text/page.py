"""Pages to print and to read on a phone: one plain sheet, and text made safe for HTML and Markdown."""

from __future__ import annotations

import re
from collections.abc import Iterable
from html import escape

SHEET = """\
body { font: 1rem/1.4 Georgia, serif; color: #111; background: #fff; max-width: 60rem; margin: 1rem auto; padding: 0 1rem; }
h1 { font-size: 1.4rem; } h2 { font-size: 1.1rem; }
table { border-collapse: collapse; width: 100%; }
th, td { border: 1px solid #777; padding: .3rem .5rem; text-align: left; vertical-align: top; }
thead th { border-bottom: 2px solid #111; }
td.decisive { font-weight: bold; border: 2px solid #111; } td.typical { font-weight: bold; } td.partly { font-style: italic; }
sup { font-weight: normal; font-style: normal; } small { display: block; font-weight: normal; }
.caution { border: 2px solid #111; padding: .3rem .8rem; } .notes { font-size: .85rem; }
.answer { margin: 0 0 1rem 1rem; }
@media (max-width: 40rem) {
  table, tbody, tr, td, tbody th { display: block; width: auto; }
  thead { display: none; }
  tbody th { border-width: 0 0 2px; margin-top: 1rem; }
  td { border-width: 0 0 1px; } td.decisive { border-width: 2px; }
  td::before { content: attr(data-taxon) ": "; font-weight: normal; font-style: normal; }
}
@media print { body { max-width: none; margin: 0; font-size: 10pt; } tr, .question { break-inside: avoid; } thead { display: table-header-group; } }
"""


def page(title: str, body: Iterable[str], sheet: str = SHEET) -> str:
    """A whole page; `body` is HTML, `title` is text, `sheet` how it looks."""
    head = f'<meta charset="utf-8">\n<meta name="viewport" content="width=device-width, initial-scale=1">\n<title>{escape(title)}</title>'
    return f'<!doctype html>\n<html lang="en">\n<head>\n{head}\n<style>\n{sheet}</style>\n</head>\n<body>\n' + "\n".join(body) + "\n</body>\n</html>\n"


def in_markdown(text: str) -> str:
    """Text in which nothing is taken for Markdown or HTML (CommonMark 0.31, 2.4), also within a table."""
    return re.sub(r"([\\`*_\[\]<>|#~])", r"\\\1", text)
