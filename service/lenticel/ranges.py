"""Ranges in the one style of the tables, and in the one unit of their character."""

from __future__ import annotations

import re
from decimal import Decimal

from lenticel.errors import BadQuantity
from lenticel.quantity import NUMBER, UNITS, PrintedRange, number, parse_printed, tidy, unit_code

_UNIT = re.compile(r"[a-z_°\[\]]+$", re.IGNORECASE)
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTH = rf"(?:{'|'.join(_MONTHS)})[a-z]*"
_DATE = re.compile(rf"\d+[-/. ]{_MONTH}(?:[-/. ]\d+)?|{_MONTH}[-/. ]\d+|\d+-\d+-\d+|\d+/\d+/\d+|\d+\.\d+\.\d+", re.IGNORECASE)
_COMMA = re.compile(r"(?<=\d),(?=\d{1,2}(?!\d))")  # with three digits after it, it may as well part thousands
_STYLES = (
    (r"\[(in|ft)_i\]", r"\1"),  # so that its brackets are not taken for those of a range
    (r"(?<![\d/.])(\d+)-(?=\d+/\d)", r"\1 "),  # 1-3/4 is how older books print 1 3/4; a range would descend
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


def like_a_date(text: str) -> bool:
    """Whether a cell holds a date, such as 5-Oct, which spreadsheets make of ranges; which of 5-10 and 10-5 it was, nobody can tell."""
    return _DATE.fullmatch(text.strip()) is not None


def styled(text: str, unit: str) -> str:
    """A range with plain hyphens, round brackets, no needless blanks, months as figures; as it stands if that cannot be read or means something else.

    Args:
        text: such as `[3–] 5 – 12cm`.
        unit: the UCUM code of the character's unit, meant where the text names none.
    """
    new = tidy(text)
    if like_a_date(new):
        return text
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
    """A range with its figures in a character's unit; as it stands if it is, or cannot be read.

    A converted figure is no more exact than what is printed: all figures of the range get as many digits as the one with most has there, but two
    at least, since a lone digit could move a figure by a quarter (half an inch is 13 mm, not 10), and as many as keep different figures apart.
    """
    named = _UNIT.search(text)
    try:
        if not named or unit not in UNITS or unit_code(named[0]) == unit:
            return text
        meant = parse_printed(text, unit)
        return f"{str(_rounded(meant, _digits(text[: named.start()]))).replace('–', '-')} {unit}"
    except BadQuantity:
        return text


def with_points(text: str) -> str:
    """The text with a point for each comma that may be a decimal one; nobody can tell whether it is, so this is to be offered, never done."""
    return _COMMA.sub(".", text)


def _digits(text: str) -> int:
    """The most digits that tell anything in a printed figure of a range: one in 1/2, 0.5 and 100, two in 1 3/4, 1.0 and 12."""
    found = [2]
    for each in re.findall(NUMBER, tidy(text)):
        value, step = number(each)
        steps = str(value / step)
        found.append(len(steps if step != 1 else steps.rstrip("0")))
    return max(found)


def _rounded(meant: PrintedRange, digits: int) -> PrintedRange:
    """The range with each of its figures rounded to so many digits, or to as many more as keep different ones apart."""
    figures = [each for each in (meant.extreme_lo, meant.lo, meant.hi, meant.extreme_hi) if each is not None]
    while len({_to_digits(each, digits) for each in figures}) < len(set(figures)):
        digits += 1
    return PrintedRange(*(None if each is None else _to_digits(each, digits) for each in (meant.extreme_lo, meant.lo, meant.hi, meant.extreme_hi)))


def _to_digits(value: Decimal, digits: int) -> Decimal:
    return value.quantize(Decimal(1).scaleb(value.adjusted() - digits + 1)) if value else value
