"""A key as an HTML page that stands by itself: no script, nothing fetched, made to be printed or read on a phone."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape
from string import ascii_lowercase

from lenticel.keys import Couplet, Key, Lead
from lenticel.model import Knowledge
from lenticel.text.following import means
from lenticel.text.key import caution_words, lead_words, notes, references, sources, summary, title
from lenticel.text.key_ends import among, goes, where_it_ends
from lenticel.text.page import page
from lenticel.text.parts import LEAVE_BE, by_touch

STYLE = """\
:root { color-scheme: light; }
body { font: 1rem/1.45 Georgia, "Times New Roman", serif; color: #22211d; background: #fdfcf8; max-width: 46rem; margin: 0 auto; padding: 1rem; }
h1 { font-size: 1.5rem; line-height: 1.2; margin: .5rem 0; } h2 { font-size: 1.1rem; margin: 1.5rem 0 .5rem; }
.couplet { border-top: 1px solid #c9c4b5; padding: .5rem 0; display: grid; grid-template-columns: 3.2rem 1fr; break-inside: avoid; }
.number { font-weight: bold; } .number a { color: inherit; font-weight: normal; font-size: .8rem; display: inline-block; }
.leads { list-style: none; margin: 0; padding: 0; } .leads li { padding: .15rem 0 .15rem 1.3rem; text-indent: -1.3rem; }
.leads li.typical { font-style: italic; } .to { font-style: normal; font-weight: bold; } .to a { color: #1d4f3a; }
.more { font-style: normal; } .among { margin: 0 0 .3rem; }
.said { font-size: .8rem; color: #5d584b; margin: .2rem 0 0; }
.caution { border: 2px solid #8c2f16; padding: .5rem .8rem; margin: 1rem 0; break-inside: avoid-page; } .caution ul { padding-left: 1.1rem; margin: .4rem 0; }
.sources { font-size: .85rem; padding-left: 1.1rem; } footer { font-size: .8rem; color: #5d584b; margin-top: 1.5rem; }
@media print { body { max-width: none; padding: 0; background: #fff; font-size: 10pt; } .to a { color: inherit; text-decoration: none; } }
"""


def key_html(knowledge: Knowledge, answer: Key) -> Iterator[str]:
    """The whole page."""
    yield page(title(knowledge, answer), _body(knowledge, answer), STYLE).rstrip("\n")


def _body(knowledge: Knowledge, answer: Key) -> Iterator[str]:
    yield f"<h1>{escape(title(knowledge, answer))}</h1>"
    yield f"<p>{escape(' '.join((*means('', answer.kit, answer.parts), summary(answer))))}</p>"
    if answer.cautions:
        yield '<section class="caution"><h2>Caution</h2><ul>'
        yield from (f"<li>{escape(caution_words(knowledge, each))}</li>" for each in by_touch(answer.cautions))
        yield f"</ul><p><strong>{escape(LEAVE_BE)}</strong></p></section>"
    yield "<main>"
    for couplet in answer.couplets:
        yield from _couplet(knowledge, answer, couplet)
    if answer.end:
        yield f"<p>{escape(''.join(where_it_ends(knowledge, answer, answer.end)))}</p>"
    yield "</main>"
    yield from (f"<p>{escape(line)}</p>" for line in notes(knowledge, answer))
    yield '<h2>Sources</h2><ul class="sources">'
    yield from (f"<li>{escape(line)}</li>" for line in references(answer))
    yield f"</ul><footer>Knowledge {escape(answer.digest[:16])}.</footer>"


def _couplet(knowledge: Knowledge, answer: Key, couplet: Couplet) -> Iterator[str]:
    back = " ".join(f'<a href="#c{number}">({number})</a>' for number in couplet.back)
    yield f'<div class="couplet" id="c{couplet.number}"><div class="number">{couplet.number} {back}</div><div>'
    yield from (f'<p class="among">{escape(line)}</p>' for line in among(knowledge, answer, couplet))
    yield '<ul class="leads">'
    for letter, lead in zip(ascii_lowercase, couplet.leads, strict=False):
        kind = ' class="typical"' if couplet.typical else ""
        yield f"<li{kind}>{letter}. {escape(lead_words(lead))} → {_there(knowledge, answer, couplet, lead)}</li>"
    yield f'</ul><p class="said">{escape(sources(answer, couplet))}</p></div></div>'


def _there(knowledge: Knowledge, answer: Key, couplet: Couplet, lead: Lead) -> str:
    there, more = (escape(each) for each in goes(knowledge, answer, couplet, lead))
    return f'<span class="to"><a href="#c{lead.to}">{there}</a></span>' if lead.to else f'<span class="to">{there}</span><span class="more">{more}</span>'
