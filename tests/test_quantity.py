"""Ranges as floras print them, readings as observers give them, units and months."""

from __future__ import annotations

from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lenticel.errors import BadQuantity
from lenticel.quantity import MONTHS, UNITS, Interval, arc, convert, month_text, number, parse_printed, parse_reading, runs, widen_months

DECIMALS = st.decimals(min_value=0, max_value=1000, places=2)
BOUNDS = st.none() | DECIMALS
INTERVALS = st.builds(Interval, BOUNDS, BOUNDS)


@pytest.mark.parametrize(
    ("text", "figures"),
    [
        ("(3–)5–12(–15) cm", ("3", "5", "12", "15")),
        ("5-12", (None, "5", "12", None)),
        ("(3-)5 cm", ("3", "5", "5", None)),
        ("<=30 cm", (None, None, "30", None)),
        (">= 2 cm", (None, "2", None, None)),
        ("1 1/2-2 in", (None, "3.81", "5.08", None)),
        ("½ in", (None, "1.27", "1.27", None)),
        ("40 mm", (None, "4", "4", None)),
    ],
)
def test_a_printed_range_is_read_in_the_unit_wanted(text: str, figures: tuple[str | None, ...]) -> None:
    printed = parse_printed(text, "cm")
    assert (printed.extreme_lo, printed.lo, printed.hi, printed.extreme_hi) == tuple(None if each is None else Decimal(each) for each in figures)


@pytest.mark.parametrize("text", ["", "about five", "12-5 cm", "5-12 kg", "5--12", "(5)", "1/0 cm", "9" * 40, "5-12 furlongs", "NaN", "1e3", "-5", "(12-)5-8"])
def test_what_is_no_range_is_refused_with_a_fix(text: str) -> None:
    with pytest.raises(BadQuantity) as caught:
        parse_printed(text, "cm")
    assert caught.value.fix


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("7.5 cm", "7.45", "7.55"),
        ("7 cm", "6.5", "7.5"),
        ("7.5±0.5 cm", "7", "8"),
        ("5-8 cm", "5", "8"),
        ("1/2 in", "0.635", "1.905"),
        ("75 mm", "7.45", "7.55"),
        (">=12 cm", "12", None),
        ("≤12", None, "12"),
    ],
)
def test_a_reading_means_what_its_last_place_says(text: str, low: str | None, high: str | None) -> None:
    assert parse_reading(text, "cm") == Interval(None if low is None else Decimal(low), None if high is None else Decimal(high))


def test_counts_and_months_are_exact_and_whole() -> None:
    assert parse_reading("5", "1") == Interval(Decimal(5), Decimal(5))
    assert parse_reading("11-2", "mo") == Interval(Decimal(11), Decimal(2))
    with pytest.raises(BadQuantity, match="whole"):
        parse_reading("4.5", "1")


@pytest.mark.parametrize(
    ("unit", "to", "value"),
    [("[in_i]", "cm", "2.54"), ("[ft_i]", "cm", "30.48"), ("[ft_i]", "[in_i]", "12"), ("m", "mm", "1000"), ("kg", "g", "1000")],
)
def test_units_have_the_factors_of_ucum(unit: str, to: str, value: str) -> None:
    """The Unified Code for Units of Measure, version 2.2, tables 1, 2 and 7: [in_i] is 2.54 cm, [ft_i] is 12 [in_i]."""
    assert convert(number("1")[0], unit, to) == Decimal(value)


@given(st.sampled_from(sorted(UNITS)), st.sampled_from(sorted(UNITS)), st.fractions(min_value=0, max_value=1000, max_denominator=64))
def test_converting_there_and_back_gives_the_value_or_a_clear_refusal(one: str, other: str, value: object) -> None:
    if UNITS[one][0] != UNITS[other][0]:
        with pytest.raises(BadQuantity):
            convert(value, one, other)  # type: ignore[arg-type]
    else:
        there = convert(value, one, other)  # type: ignore[arg-type]
        back = convert(number(format(there, "f")[:30])[0], other, one)
        assert abs(back - Decimal(float(value))) < Decimal("0.000001")  # type: ignore[arg-type]


@given(INTERVALS, INTERVALS)
def test_two_intervals_overlap_if_and_only_if_some_number_lies_in_both(one: Interval, other: Interval) -> None:
    ends = [end for end in (one.lo, one.hi, other.lo, other.hi) if end is not None]
    probes = [*ends, *[min(ends) - 1, max(ends) + 1]] if ends else [Decimal(0)]

    def holds(interval: Interval, value: Decimal) -> bool:
        return (interval.lo is None or interval.lo <= value) and (interval.hi is None or value <= interval.hi)

    assert one.overlaps(other) == any(holds(one, value) and holds(other, value) for value in probes)
    assert one.overlaps(other) == other.overlaps(one)


@given(INTERVALS, INTERVALS)
def test_a_hull_holds_both_and_a_meet_lies_in_both(one: Interval, other: Interval) -> None:
    hull = one.hull(other)
    assert hull.meet(one) == one
    assert hull.meet(other) == other
    meet = one.meet(other)
    assert meet.meet(one) == meet
    assert meet == other.meet(one)


@given(DECIMALS, DECIMALS)
def test_a_printed_range_survives_its_own_text(low: Decimal, high: Decimal) -> None:
    low, high = sorted((low, high))
    printed = parse_printed(f"{low}-{high}", "cm")
    assert parse_printed(str(printed), "cm") == printed


def test_months_go_round_the_year() -> None:
    assert arc(11, 2) == {11, 12, 1, 2}
    assert widen_months(arc(12, 1), 1, 1) == {11, 12, 1, 2}
    assert month_text(arc(11, 2)) == "11–2"
    assert month_text(MONTHS) == "1–12"
    with pytest.raises(BadQuantity):
        arc(0, 5)


@given(st.frozensets(st.integers(1, 40)))
def test_runs_hold_every_number_once_and_do_not_touch(values: frozenset[int]) -> None:
    found = runs(values)
    assert {each for first, last in found for each in range(first, last + 1)} == values
    assert all(after[0] > before[1] + 1 for before, after in pairwise(found))
