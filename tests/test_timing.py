"""A month makes observations doubtful and tells what is due; it never excludes."""

from __future__ import annotations

import pytest

from lenticel.identify import Context, identify
from lenticel.observation import Reader
from lenticel.sight import out_of_season
from lenticel.snapshot import Snapshot
from lenticel.timing import season_of


def test_the_seasons_begin_in_march_june_september_and_december() -> None:
    assert [season_of(month) for month in (3, 5, 6, 8, 9, 11, 12, 1, 2)] == ["spring"] * 2 + ["summer"] * 2 + ["autumn"] * 2 + ["winter"] * 3


def test_a_flower_in_february_is_doubted_and_excludes_no_more_than_without_the_month(trees: Snapshot, reader: Reader) -> None:
    seen = [reader.observation("flower-colour", "yellow"), reader.observation("leaf-arrangement", "opposite")]
    plain, dated = identify(trees, seen), identify(trees, seen, Context(month=2))
    assert dated.out_of_season == ("flower-colour: yellow",)
    assert {each.taxon for each in dated.consistent} == {each.taxon for each in plain.consistent}
    assert plain.out_of_season == ()


def test_what_flowers_in_april_is_due_in_april(trees: Snapshot, reader: Reader) -> None:
    answer = identify(trees, [reader.observation("leaf-arrangement", "opposite")], Context(month=4))
    assert "flowering-month" in answer.due["acer-platanoides"]
    assert "flowering-month" not in answer.due.get("acer-spicatum", ())


def test_months_wrap_round_the_year(workshop: Snapshot) -> None:
    reader = Reader(workshop)
    for month, due in ((12, {"wood-screw": ("stocked",)}), (6, {"rivet": ("stocked",)}), (8, {})):
        assert identify(workshop, [reader.observation("finish", "bright")], Context(month=month)).due == due


@pytest.mark.parametrize(("month", "late"), [(2, ("petals: present",)), (5, ("acorn-cup-fringe: present",)), (7, ()), (10, ())])
def test_fruit_in_may_is_no_slip_where_a_tree_bears_it_then(trees: Snapshot, reader: Reader, month: int, late: tuple[str, ...]) -> None:
    """Elms ripen in spring and witch-hazel flowers in autumn; no oak bears ripe acorns in May, and that some trees flower in February is left out."""
    said = (("fruit-hair", "fringed-edge"), ("acorn-cup-fringe", "present"), ("petals", "present"))
    assert out_of_season(trees, [reader.observation(*each) for each in said], month) == late
