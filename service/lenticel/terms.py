"""IRIs and literals as a query writes them, so that a value of somebody else's can never become more than one term."""

from __future__ import annotations

import re

from lenticel.errors import LenticelError

_NOT_IN_IRIS = re.compile(r'[<>"{}|^`\\\x00-\x20\ud800-\udfff]')
_NOT_IN_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff]")
_ESCAPES = str.maketrans({"\\": "\\\\", '"': '\\"', "\n": "\\n", "\r": "\\r", "\t": "\\t"})


class NoTerm(LenticelError):
    """A value that no IRI or literal can hold."""

    code = "bad-parameter"


def iri_text(iri: str) -> str:
    """An IRI in its brackets (SPARQL 1.1 Query Language, 19.8, IRIREF).

    Raises:
        NoTerm: it holds a character that none may hold.
    """
    if _NOT_IN_IRIS.search(iri):
        raise NoTerm("The IRI holds a character that none may hold.", "Write it with percent signs.")
    return f"<{iri}>"


def literal_text(value: str, datatype: str = "") -> str:
    """A literal in its quotation marks (19.8, STRING_LITERAL2), with its datatype.

    Raises:
        NoTerm: it holds a control character, or half a surrogate pair.
    """
    if _NOT_IN_TEXT.search(value):
        raise NoTerm("The text holds a character that is none.", "Leave control characters out.")
    quoted = f'"{value.translate(_ESCAPES)}"'
    return f"{quoted}^^{iri_text(datatype)}" if datatype else quoted
