"""The tokens of a SPARQL query, as far as one must know them to find a keyword or a name outside strings and comments.

The rules are those of the grammar's terminals (SPARQL 1.1 Query Language, section 19.8). Escapes of code points (19.2) are read where they stand in names;
those in strings and IRIs belong to these, as the engine has it: else an escaped quotation mark would end a string here and not there.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from urllib.parse import urljoin

_TOKEN = re.compile(
    r"""
      (?P<comment>\#[^\r\n]*)
    | (?P<iri><[^<>"{}|^`\x00-\x20]*>)
    | (?P<string>'''(?:[^\\]|\\.)*?'''|\"\"\"(?:[^\\]|\\.)*?\"\"\"|'(?:[^'\\\r\n]|\\.)*'|"(?:[^"\\\r\n]|\\.)*")
    | (?P<variable>[?$]\w+)
    | (?P<language>@[A-Za-z]+(?:-[A-Za-z0-9]+)*)
    | (?P<prefixed>(?:_|[^\W\d_](?:[\w.\-\u00b7]*[\w\-\u00b7])?)?:(?:(?:[\w:\u00b7]|%[0-9A-Fa-f]{2}|\\[_~.\-!$&'()*+,;=/?\#@%])(?:(?:[\w.:\-\u00b7]|%[0-9A-Fa-f]{2}|\\[_~.\-!$&'()*+,;=/?\#@%])*(?:[\w:\-\u00b7]|%[0-9A-Fa-f]{2}|\\[_~.\-!$&'()*+,;=/?\#@%]))?)?)
    | (?P<word>[^\W\d]\w*)
    | (?P<number>\d[\w.]*)
    | (?P<other>\S)
    """,  # noqa: E501
    re.VERBOSE | re.DOTALL,
)
_WHOLE = re.compile(
    r"""
      \#[^\r\n]*
    | <[^<>"{}|^`\x00-\x20]*>
    | '''(?:[^\\]|\\.)*?'''|\"\"\"(?:[^\\]|\\.)*?\"\"\"|'(?:[^'\\\r\n]|\\.)*'|"(?:[^"\\\r\n]|\\.)*"
    | (?P<escape>\\u[0-9A-Fa-f]{4}|\\U[0-9A-Fa-f]{8})
    """,
    re.VERBOSE | re.DOTALL,
)
_ESCAPED = re.compile(r"\\u([0-9A-Fa-f]{4})|\\U([0-9A-Fa-f]{8})")


def _unescaped(text: str) -> str:
    """A text with its escapes of code points read; one that names no character stays as it is."""

    def read(found: re.Match[str]) -> str:
        code = int(found[1] or found[2], 16)
        return chr(code) if code < 0x110000 and not 0xD800 <= code < 0xE000 else found[0]

    return _ESCAPED.sub(read, text)


def readable(query: str) -> str:
    """The query with those escapes of code points read that stand in names, for an engine that reads them in strings and IRIs alone."""

    def read(found: re.Match[str]) -> str:
        character = _unescaped(found[0])
        return character if found.lastgroup == "escape" and (character.isalnum() or character in "_-") else found[0]

    return _WHOLE.sub(read, query) if "\\u" in query or "\\U" in query else query


def tokens(query: str) -> Iterator[tuple[str, str]]:
    """The kind and text of each token, without comments."""
    for found in _TOKEN.finditer(readable(query)):
        if found.lastgroup != "comment":
            yield str(found.lastgroup), found[0]


def filled(query: str, values: Mapping[str, str]) -> str:
    """The query with some variables replaced by terms, wherever they stand for themselves, in strings and comments not.

    Args:
        query: a query without escapes of code points.
        values: each variable as it is written, with its mark, and the term as a query writes it.
    """
    return _TOKEN.sub(lambda found: values.get(found[0], found[0]) if found.lastgroup == "variable" else found[0], query)


def keywords(query: str) -> set[str]:
    """Every bare word of a query, in capitals."""
    return {text.upper() for kind, text in tokens(query) if kind == "word"}


def named_iris(query: str, base: str, prefixes: Mapping[str, str]) -> list[str]:
    """The IRIs that a query names in full or by prefix, in order, without those that only declare."""
    known = dict(prefixes)
    found: dict[str, None] = {}
    declared: str | None = None
    last = ""
    for kind, text in tokens(query):
        if kind == "iri" and declared is not None:
            known[declared] = urljoin(base, _unescaped(text[1:-1]))
            declared = None
        elif kind == "iri" and last == "BASE":
            base = urljoin(base, _unescaped(text[1:-1]))
        elif kind == "iri":
            found[urljoin(base, _unescaped(text[1:-1]))] = None
        elif kind == "prefixed" and last == "PREFIX":
            declared = text.partition(":")[0]
        elif kind == "prefixed":
            prefix, _, local = text.partition(":")
            if prefix in known:
                found[known[prefix] + re.sub(r"\\(.)", r"\1", local)] = None
        last = text.upper() if kind == "word" else ""
    return list(found)


def undeclared(query: str, prefixes: Mapping[str, str]) -> list[str]:
    """The prefixes that a query uses and nobody declares."""
    known = {*prefixes, "_"}
    found: dict[str, None] = {}
    last = ""
    for kind, text in tokens(query):
        prefix = text.partition(":")[0]
        if kind == "prefixed" and last == "PREFIX":
            known.add(prefix)
        elif kind == "prefixed" and prefix not in known:
            found[prefix] = None
        last = text.upper() if kind == "word" else ""
    return list(found)
