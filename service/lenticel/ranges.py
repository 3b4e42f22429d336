"""Ranges in the one style of the tables, and in the one unit of their character."""

from __future__ import annotations

import re

from lenticel.errors import BadQuantity
from lenticel.quantity import UNITS, parse_printed, tidy, unit_code

_UNIT = re.compile(r"[a-z_°\[\]]+$", re.IGNORECASE)
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_STYLES = (
    (r"\[(in|ft)_i\]", r"\1"),  # so that its brackets are not taken for those of a range
    (r"\[", "("),
    (r"\]", ")"),
    (r"(?<=[a-z])\.$", ""),
    (r"^(?:up )?to (?=\d)", "<="),
    (r"(?<=\d) to (?=\d)", "-"),
    (r"(?<=[(\d]) ?- ?(?=[)\d])", "-"),
    (r"(?<=\() | (?=\))", ""),
    (r"(?<=\d) (?=\()|(?<=\)) (?=[\d(])", ""),
    (r"(?<=<=|>=) ", ""),
    (r"(?<=[\d)])(?=[a-z])", " "),
)


def styled(text: str, unit: str) -> str:
    """A range with plain hyphens, round brackets, no needless blanks, months as figures; as it stands if that cannot be read or means something else.

    Args:
        text: such as `[3–] 5 – 12cm`.
        unit: the UCUM code of the character's unit, meant where the text names none.
    """
    new = tidy(text)
    if unit == "mo":
        new = re.sub(rf"\b({'|'.join(_MONTHS)})[a-z]*\b\.?", lambda found: str(_MONTHS.index(found[1].lower()) + 1), new, flags=re.IGNORECASE)
    for pattern, sign in _STYLES:
        new = re.sub(pattern, sign, new)
    try:
        meant = parse_printed(new, unit)
    except BadQuantity:
        return text
    try:
        return new if parse_printed(text, unit) == meant else text
    except BadQuantity:
        return new


def in_unit(text: str, unit: str) -> str:
    """A range with its figures in a character's unit; as it stands if it is, cannot be read, or has no finite decimals there."""
    named = _UNIT.search(text)
    try:
        if not named or unit not in UNITS or unit_code(named[0]) == unit:
            return text
        meant = parse_printed(text, unit)
        new = f"{str(meant).replace('–', '-')} {unit}"
        return new if parse_printed(new, unit) == meant else text
    except BadQuantity:
        return text
