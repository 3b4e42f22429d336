"""The trait by which a handbook parts two trees is mostly among our first three; the handbooks are named in `separators.csv`, row by row."""

from __future__ import annotations

import pytest

from lenticel.compare import compare
from lenticel.snapshot import Snapshot
from tests.outside.separators import FIRST, agreement, best_three, figures, looked_at, most_named, place, rows


@pytest.mark.parametrize(("part", "fewest", "three", "five"), [("looked at", 300, 0.82, 0.9), ("kept apart", 55, 0.68, 0.78)])
def test_the_published_separator_is_among_the_first(trees: Snapshot, part: str, fewest: int, three: float, five: float) -> None:
    """The bar is 90% among the first three, and is not reached; what other sources name most would do for fewer (below). The floors leave room."""
    chosen = [row for row in rows() if looked_at(row) == (part == "looked at")]
    assert len(chosen) >= fewest
    found = figures(trees, chosen)
    print(part, found)
    assert found.three >= three
    assert found.five >= five
    assert found.first <= found.three <= found.five <= found.listed <= 1


def test_our_first_three_foretell_a_source_better_than_what_the_other_sources_name_most(trees: Snapshot) -> None:
    """Of pairs that six sources or more tell apart, each record withdrawn in turn; the weights were fitted to them all the same."""
    found = agreement(trees)
    print(found)
    assert found.records >= 250
    assert found.others < found.ours < found.hindsight


def test_the_best_three_in_hindsight_and_what_most_others_name_leave_out_the_record_itself() -> None:
    sets = [frozenset("a"), frozenset("bc"), frozenset("bc"), frozenset("d"), frozenset("e")]
    assert sum(bool(each & set(best_three(sets))) for each in sets) == 4
    assert best_three([frozenset("a")]) == ("a",)
    told = {"one": frozenset({"a"}), "two": frozenset({"b", "c"}), "three": frozenset({"b", "c", "d"}), "four": frozenset({"b", "d"})}
    assert most_named(told, "one") == {"b", "c", "d"}
    assert most_named({"one": frozenset({"a"}), "two": frozenset({"b"})}, "one") == {"b"}


def test_a_separator_that_is_none_is_not_found(trees: Snapshot) -> None:
    row = {"one": "acer-saccharum", "other": "acer-platanoides", "characters": "leaf-arrangement", "season": "summer"}
    assert place(trees, row) == 0
    first = compare(trees, [row["one"], row["other"]], season="summer").separators[0].character
    assert place(trees, {**row, "characters": f"leaf-arrangement|{first}"}) == 1
    assert FIRST == 3
