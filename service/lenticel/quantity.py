"""Quantities as floras print them and as observers read them: ranges, units, months.

All arithmetic is exact (`decimal.Decimal`, `fractions.Fraction`); nothing here is a float.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Context, Decimal
from fractions import Fraction
from functools import lru_cache

from lenticel.errors import BadQuantity

EXACT = Context(prec=60, rounding=ROUND_HALF_EVEN)
MAX_DIGITS = 30
MONTHS = frozenset(range(1, 13))

# Exact factors to the base of each dimension, by UCUM code (Unified Code for Units of Measure, 2.2:
# table 4 "customary lengths": [in_i] = 2.54 cm, [ft_i] = 12 [in_i]). The second spelling is what people type.
UNITS: dict[str, tuple[str, Fraction]] = {
    "mm": ("length", Fraction(1, 1000)),
    "cm": ("length", Fraction(1, 100)),
    "m": ("length", Fraction(1)),
    "[in_i]": ("length", Fraction(254, 10000)),
    "[ft_i]": ("length", Fraction(3048, 10000)),
    "deg": ("angle", Fraction(1)),
    "g": ("mass", Fraction(1)),
    "kg": ("mass", Fraction(1000)),
    "mo": ("month", Fraction(1)),
    "1": ("number", Fraction(1)),
}
SPELLINGS = {"in": "[in_i]", "inch": "[in_i]", "inches": "[in_i]", "ft": "[ft_i]", "feet": "[ft_i]", "°": "deg", "": "1"}

_VULGAR = {"¼": "1/4", "½": "1/2", "¾": "3/4", "⅓": "1/3", "⅔": "2/3", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
NUMBER = r"(?:\d+ \d+/\d+|\d+/\d+|\d+(?:\.\d+)?)"
_UNIT = r"(?P<unit>\[?[A-Za-z_]+\]?|°|1(?![\d./]))?"
_READING = re.compile(
    rf"(?:(?P<bound><=|>=)\s*(?P<limit>{NUMBER})"
    rf"|(?P<a>{NUMBER})(?:\s*±\s*(?P<pm>{NUMBER})|\s*-\s*(?P<b>{NUMBER}))?)\s*{_UNIT}"
)
_PRINTED = re.compile(
    rf"(?:(?P<bound><=|>=)\s*(?P<limit>{NUMBER})"
    rf"|(?:\((?P<elo>{NUMBER})-\))?(?P<lo>{NUMBER})(?:-(?P<hi>{NUMBER}))?(?:\(-(?P<ehi>{NUMBER})\))?)\s*{_UNIT}"
)


@dataclass(frozen=True, slots=True)
class Interval:
    """A closed interval of the real line; `None` at an end leaves that end open for ever."""

    lo: Decimal | None
    hi: Decimal | None

    @property
    def empty(self) -> bool:
        """True if no number lies in it."""
        return self.lo is not None and self.hi is not None and self.lo > self.hi

    def overlaps(self, other: Interval) -> bool:
        """True if at least one number lies in both; ends that only touch do overlap."""
        return not self.meet(other).empty

    def meet(self, other: Interval) -> Interval:
        """What lies in both (perhaps empty)."""
        return Interval(
            other.lo if self.lo is None else self.lo if other.lo is None else max(self.lo, other.lo),
            other.hi if self.hi is None else self.hi if other.hi is None else min(self.hi, other.hi),
        )

    def hull(self, other: Interval) -> Interval:
        """The smallest interval that holds both."""
        return Interval(
            None if self.lo is None or other.lo is None else min(self.lo, other.lo),
            None if self.hi is None or other.hi is None else max(self.hi, other.hi),
        )

    def __str__(self) -> str:
        if self.lo is None and self.hi is None:
            return "any"
        if self.lo is None:
            return f"up to {plain(self.hi)}"
        if self.hi is None:
            return f"{plain(self.lo)} or more"
        return plain(self.lo) if self.lo == self.hi else f"{plain(self.lo)}–{plain(self.hi)}"


ANY = Interval(None, None)


def plain(value: Decimal | None) -> str:
    """The value without exponent or needless zeros ("" for None)."""
    if value is None:
        return ""
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


@dataclass(frozen=True, slots=True)
class PrintedRange:
    """A range as floras print it: `(3–)5–12(–15)`, usual bounds outside the brackets, extremes inside.

    `lo`/`hi` are the usual bounds, `extreme_lo`/`extreme_hi` the bracketed ones, each None if not printed.
    A lone figure has `lo == hi`; "up to 12" has `lo` None.
    """

    extreme_lo: Decimal | None
    lo: Decimal | None
    hi: Decimal | None
    extreme_hi: Decimal | None

    @property
    def lone(self) -> bool:
        """True for a single figure, which writers use for "about"."""
        return self.lo is not None and self.lo == self.hi and self.extreme_lo is None and self.extreme_hi is None

    @property
    def usual(self) -> Interval:
        """What the source calls usual."""
        return Interval(self.lo, self.hi)

    @property
    def reach(self) -> Interval:
        """The usual range with the bracketed extremes."""
        return Interval(self.lo if self.extreme_lo is None else self.extreme_lo, self.hi if self.extreme_hi is None else self.extreme_hi)

    def __str__(self) -> str:
        if self.lo is None:
            return f"<={plain(self.hi)}"
        if self.hi is None:
            return f">={plain(self.lo)}"
        left = f"({plain(self.extreme_lo)}–)" if self.extreme_lo is not None else ""
        right = f"(–{plain(self.extreme_hi)})" if self.extreme_hi is not None else ""
        return left + plain(self.lo) + ("" if self.lo == self.hi else f"–{plain(self.hi)}") + right


def tidy(text: str) -> str:
    """The text with dashes, plus-minus, comparison signs and vulgar fractions in one spelling."""
    text = re.sub(r"[‐‑‒–—−]", "-", text.strip())
    text = text.replace("≤", "<=").replace("≥", ">=").replace("+/-", "±").replace("+-", "±")
    for sign, spelled in _VULGAR.items():
        text = re.sub(rf"(?<=\d){sign}", f" {spelled}", text).replace(sign, spelled)
    return re.sub(r"\s+", " ", text)


def unit_code(text: str) -> str:
    """The UCUM code of a unit as people type it.

    Raises:
        BadQuantity: the unit is not known here.
    """
    code = SPELLINGS.get(text, text)
    if code not in UNITS:
        raise BadQuantity(f"The unit {text[:20]!r} is not known.", "Use one of mm, cm, m, in, ft, deg, g, kg, or no unit for a count.")
    return code


def convert(value: Fraction, unit: str, to: str) -> Decimal:
    """The value in another unit of the same dimension, exact to 60 digits.

    Args:
        value: the figure.
        unit: UCUM code that it is in.
        to: UCUM code wanted.

    Raises:
        BadQuantity: the units measure different things.
    """
    (dimension, factor), (wanted, target) = UNITS[unit], UNITS[to]
    if dimension != wanted:
        raise BadQuantity(f"{unit!r} measures {dimension}, but {to!r} ({wanted}) is due here.", f"Give the value in {to}.")
    result = value * factor / target
    return EXACT.divide(Decimal(result.numerator), Decimal(result.denominator))


def number(text: str) -> tuple[Fraction, Fraction]:
    """A printed number and the size of one step in its last place (`1 1/2` steps by a half, `7.5` by a tenth).

    Raises:
        BadQuantity: more than 30 digits, or division by zero.
    """
    if len(text) > MAX_DIGITS:
        raise BadQuantity("The number has too many digits.", f"Use at most {MAX_DIGITS} characters for a number.")
    whole, _, part = text.rpartition(" ")
    if "/" in part:
        top, bottom = part.split("/")
        if int(bottom) == 0:
            raise BadQuantity(f"{text!r} divides by zero.", "Write a fraction such as 1/2.")
        return Fraction(int(whole or 0)) + Fraction(int(top), int(bottom)), Fraction(1, int(bottom))
    return Fraction(part), Fraction(1, 10 ** len(part.partition(".")[2]))


def _match(pattern: re.Pattern[str], text: str, example: str) -> re.Match[str]:
    found = pattern.fullmatch(tidy(text[:200])) if len(text) <= 200 else None
    if found is None:
        raise BadQuantity(f"{text[:60]!r} is not a quantity.", f"Write it like {example}.")
    return found


@lru_cache(maxsize=1 << 16)  # each figure of a table is read several times
def parse_printed(text: str, unit: str) -> PrintedRange:
    """Read a range in flora notation and express it in `unit`.

    Args:
        text: such as `(3–)5–12(–15) cm`, `<=30 m`, `7`; a missing unit means `unit`.
        unit: UCUM code wanted.

    Raises:
        BadQuantity: unreadable, of another dimension, or with figures that do not ascend.
    """
    found = _match(_PRINTED, text, "'5-12 cm', '(3-)5-12(-15) cm', '<=30 m' or '4'")
    source = unit_code(found["unit"]) if found["unit"] else unit

    def figure(group: str) -> Decimal | None:
        return None if found[group] is None else convert(number(found[group])[0], source, unit)

    if found["bound"]:
        limit = figure("limit")
        return PrintedRange(None, None, limit, None) if found["bound"] == "<=" else PrintedRange(None, limit, None, None)
    low, high = figure("lo"), figure("hi")
    result = PrintedRange(figure("elo"), low, low if high is None else high, figure("ehi"))
    figures = [each for each in (result.extreme_lo, result.lo, result.hi, result.extreme_hi) if each is not None]
    if unit != "mo" and figures != sorted(figures):
        raise BadQuantity(f"The figures of {text!r} do not ascend.", "Write the lower figure first.")
    return result


def parse_reading(text: str, unit: str) -> Interval:
    """Read what an observer measured, as the interval in which the true value lies.

    A bare `7.5 cm` means what its last place says: 7.45 to 7.55. `7.5±0.3 cm` gives the uncertainty, `5-8 cm` an
    interval, `<=5 cm` or `>=5 cm` one bound. Counts (unit `1`) and months are exact.

    Raises:
        BadQuantity: unreadable, of another dimension, descending, or a count that is not whole.
    """
    found = _match(_READING, text, "'4' for April, or '4-5'" if unit == "mo" else "'7.5 cm', '7.5±0.5 cm', '5-8 cm', '3/8 in', '<=12 cm', '>=12 cm' or '5'")
    source = unit_code(found["unit"]) if found["unit"] else unit

    def figure(value: Fraction) -> Decimal:
        return convert(value, source, unit)

    whole = unit in ("1", "mo")
    if found["bound"]:
        limit, _ = number(found["limit"])
        result = Interval(None, figure(limit)) if found["bound"] == "<=" else Interval(figure(limit), None)
    elif found["b"]:
        result = Interval(figure(number(found["a"])[0]), figure(number(found["b"])[0]))
    else:
        value, step = number(found["a"])
        margin = number(found["pm"])[0] if found["pm"] else Fraction(0) if whole else step / 2
        result = Interval(figure(value - margin), figure(value + margin))
    return check_interval(result, text, whole=whole, circular=unit == "mo")


def check_interval(result: Interval, text: str, *, whole: bool, circular: bool = False) -> Interval:
    """The interval itself, once it is known to ascend and, for counts, to have whole ends.

    Raises:
        BadQuantity: it descends, or an end of a count is not whole.
    """
    if result.empty and not circular:
        raise BadQuantity(f"The interval {text[:60]!r} descends.", "Write the lower figure first.")
    if whole and any(end is not None and end != end.to_integral_value() for end in (result.lo, result.hi)):
        raise BadQuantity(f"{text[:60]!r} is no whole number.", "A count or a month takes whole numbers.")
    return result


def arc(start: Decimal | int, end: Decimal | int) -> frozenset[int]:
    """The months from `start` to `end` going forward through the year: `arc(11, 2)` is {11, 12, 1, 2}.

    Raises:
        BadQuantity: a month outside 1 to 12.
    """
    first, last = int(start), int(end)
    if not {first, last} <= MONTHS:
        raise BadQuantity(f"{start}-{end} is not a span of months.", "Months are 1 to 12.")
    return frozenset((first - 1 + step) % 12 + 1 for step in range((last - first) % 12 + 1))


def widen_months(months: frozenset[int], before: int, after: int) -> frozenset[int]:
    """The months with `before` more ahead of each and `after` more behind each, round the year."""
    return frozenset((month - 1 + step) % 12 + 1 for month in months for step in range(-before, after + 1))


def runs(values: Iterable[int]) -> list[tuple[int, int]]:
    """The maximal runs of consecutive whole numbers: {1, 2, 11, 12} gives [(1, 2), (11, 12)]."""
    found: list[tuple[int, int]] = []
    for value in sorted(values):
        if found and found[-1][1] == value - 1:
            found[-1] = (found[-1][0], value)
        else:
            found.append((value, value))
    return found


def month_text(months: frozenset[int]) -> str:
    """The months as spans round the year: {11, 12, 1, 2} is "11–2"."""
    if months == MONTHS:
        return "1–12"
    spans = runs(months)
    if len(spans) > 1 and spans[0][0] == 1 and spans[-1][1] == 12:
        spans = [*spans[1:-1], (spans[-1][0], spans[0][1])]
    return ", ".join(str(a) if a == b else f"{a}–{b}" for a, b in spans)
