"""What is wrong with a query that cannot be read: where reading stopped, the text around it, and the likeliest cause."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches

from lenticel.errors import suggest
from lenticel.tokens import tokens, undeclared

UPDATES = {"INSERT", "DELETE", "LOAD", "CLEAR", "CREATE", "DROP", "COPY", "MOVE", "ADD", "WITH"}
FORMS = {"SELECT", "ASK", "CONSTRUCT", "DESCRIBE"}
_KEYWORDS = """
SELECT ASK CONSTRUCT DESCRIBE WHERE FROM NAMED PREFIX BASE OPTIONAL UNION MINUS FILTER GRAPH BIND VALUES DISTINCT REDUCED ORDER GROUP BY
HAVING LIMIT OFFSET ASC DESC AS NOT EXISTS IN COUNT SUM AVG MIN MAX SAMPLE GROUP_CONCAT STR LANG LANGMATCHES DATATYPE BOUND IRI URI BNODE
RAND ABS CEIL FLOOR ROUND CONCAT STRLEN UCASE LCASE ENCODE_FOR_URI CONTAINS STRSTARTS STRENDS STRBEFORE STRAFTER YEAR MONTH DAY NOW UUID
COALESCE IF SAMETERM ISIRI ISBLANK ISLITERAL ISNUMERIC REGEX SUBSTR REPLACE UNDEF SEPARATOR A TRUE FALSE STRDT STRLANG SERVICE SILENT HOURS
MINUTES SECONDS TIMEZONE TZ MD5 SHA1 SHA256 SHA384 SHA512 ISURI STRUUID
"""
WORDS = tuple(_KEYWORDS.split())
_AT = re.compile(r"error at (\d+):(\d+)")
AROUND = 30  # characters shown to either side


@dataclass(frozen=True, slots=True)
class Place:
    """Where reading stopped: line and column from 1, the text around, and the likeliest cause, or ""."""

    line: int
    column: int
    near: str
    hint: str


def updates(query: str) -> bool:
    """Whether a text is an update, by its first word after the prologue."""
    declaring = False
    for kind, text in tokens(query):
        word = text.upper() if kind == "word" else ""
        if word in ("PREFIX", "BASE"):
            declaring = True
        elif declaring and kind in ("prefixed", "iri"):
            declaring = kind == "prefixed"
        else:
            return word in UPDATES
    return False


def place_of(query: str, message: str, prefixes: Mapping[str, str]) -> Place:
    """Where and why a query cannot be read.

    Args:
        query: its text.
        message: what the parser says.
        prefixes: those that need not be declared.
    """
    found = _AT.search(message)
    line, column = (int(found[1]), int(found[2])) if found else (1, 1)
    lines = query.splitlines() or [""]
    text = lines[min(line, len(lines)) - 1]
    start, end = max(column - 1 - AROUND, 0), column - 1 + AROUND
    near = text[text.rfind(" ", 0, start) + 1 : end].strip()
    return Place(line, column, near, _hint(query, prefixes))


def _hint(query: str, prefixes: Mapping[str, str]) -> str:
    missing = undeclared(query, prefixes)
    if missing:
        known = suggest(missing[0], prefixes) or f"Declared already are: {', '.join(prefixes)}."
        return f"The prefix {missing[0][:40]!r} is not declared. {known} Or add a PREFIX line."
    return next((text for rule in RULES if (text := rule(query))), "")


def _quotes(query: str) -> str:
    return "Use plain quotation marks, ' or \"." if re.search("[\u2018\u2019\u201c\u201d\u00ab\u00bb\u201e]", query) else ""


def _brackets(query: str) -> str:
    counted = Counter(text for kind, text in tokens(query) if kind == "other")
    for opening, closing in ("{}", "()", "[]"):
        if counted[opening] != counted[closing]:
            more, less = (opening, closing) if counted[opening] > counted[closing] else (closing, opening)
            return f"There are {counted[more]} {more!r} and {counted[less]} {less!r}."
    return ""


def _form(query: str) -> str:
    words = {text.upper() for kind, text in tokens(query) if kind == "word"}
    if words & FORMS:
        return ""
    near_form = next((match[0] for word in words if (match := get_close_matches(word, sorted(FORMS), 1, 0.7))), "")
    return f"Did you mean {near_form}?" if near_form else "A query begins with SELECT, ASK, CONSTRUCT or DESCRIBE."


def _aggregate(query: str) -> str:
    found = re.search(r"(?i)(?:SELECT|DISTINCT|\?\w+)\s+((?:COUNT|SUM|AVG|MIN|MAX|SAMPLE|GROUP_CONCAT|STR|CONCAT|IF|COALESCE)\s*\()", query)
    if found and not query[: found.start(1)].rstrip().endswith("("):
        return "An expression after SELECT stands in brackets with its name: (COUNT(?x) AS ?n)."
    return "Write (expression AS ?name)." if re.search(r"(?i)SELECT[^{]*\(\s*(?:COUNT|SUM|AVG|MIN|MAX)\s*\([^()]*\)\s*\)", query) else ""


def _filter(query: str) -> str:
    if re.search(r"(?i)\bFILTER\s+(?!\s*(?:\(|NOT\b|EXISTS\b|\w+\s*\(|\w*:))", query):
        return "The condition of FILTER stands in brackets: FILTER(?x > 1)."
    if re.search(r"(?i)\?\w+\s+(?:LIKE|IS)\b", query):
        return "There is no LIKE and no IS NULL; use REGEX(?x, 'text'), CONTAINS(?x, 'text'), or BOUND(?x)."
    return "Equality is a single =." if "==" in query else "Unequal is written !=." if "<>" in query else ""


def _word(query: str) -> str:
    for kind, text in tokens(query):
        if kind == "word" and text.upper() not in WORDS:
            match = get_close_matches(text.upper(), WORDS, 1, 0.7)
            return f"Did you mean {match[0]}?" if match else f"{text[:40]!r} is no word of SPARQL; a name needs a prefix, a variable a question mark."
    return ""


def _comma(query: str) -> str:
    if re.search(r"(?i)SELECT\s+(?:DISTINCT\s+)?\?\w+\s*,", query):
        return "No comma stands between the variables after SELECT."
    return "A name with a slash is written in full, <...>, or with a backslash before the slash." if re.search(r"\w:\w[\w-]*/", query) else ""


def _late(query: str) -> str:
    found = [text.upper() for kind, text in tokens(query) if kind == "word"]
    order = [word for word in found if word in ("WHERE", "GROUP", "HAVING", "ORDER", "LIMIT")]
    if "LIMIT" in order[:-1] and order.index("LIMIT") < len(order) - 1 and "ORDER" in order[order.index("LIMIT") :]:
        return "ORDER BY comes before LIMIT."
    if "ORDER" in order and "GROUP" in order[order.index("ORDER") :]:
        return "GROUP BY comes before ORDER BY."
    if re.search(r"(?i)\b(?:ORDER|GROUP)\s+(?!BY\b)", query):
        return "After ORDER or GROUP stands BY."
    return "BIND is written BIND(expression AS ?name)." if re.search(r"(?i)\bBIND\s*\((?![^)]*\bAS\b)", query) else ""


def _dot(query: str) -> str:
    return "A triple has three parts, and a dot stands between two triples."


Rule = Callable[[str], str]
RULES: tuple[Rule, ...] = (_quotes, _form, _brackets, _aggregate, _filter, _comma, _late, _word, _dot)
