"""What the links of a page carry on: the language that its own address names, which would be lost at the next step.

The release that an address names is not carried: an older release answers with the very bytes of when it was in force.
"""

from __future__ import annotations

import re
from urllib.parse import urlencode

from markupsafe import Markup, escape

_LINK = re.compile(r'(<a\b[^>]*?\shref=")(/(?!/)[^"#]*)')
_FORM = re.compile(r'<form\b[^>]*\saction="/[^>]*>')


def carrying(page: bytes, language: str) -> bytes:
    """A page whose inner links and forms name the language that its address names; if that is "", the page as it is.

    Args:
        page: the page as our templates write it.
        language: what the address says.
    """
    if not language:
        return page
    named = escape(urlencode({"lang": language}))
    field = str(Markup('<input type="hidden" name="lang" value="{}">').format(language))
    text = _LINK.sub(lambda found: f"{found[0]}{'&amp;' if '?' in found[2] else '?'}{named}", page.decode())
    return _FORM.sub(lambda found: found[0] + field, text).encode()
