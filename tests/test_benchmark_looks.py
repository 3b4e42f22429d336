"""The benchmark of looks counts what it says, on groups where the count is known. Nothing here is timed."""

from __future__ import annotations

import random
from dataclasses import replace

from lenticel.direct import snapshot_from
from lenticel.model import Statement
from lenticel.sight import Sight
from lenticel.snapshot import Snapshot
from tests.benchmarks.looks import Walker, season
from tests.optimal import group


def halving(taxa: int) -> Snapshot:
    """Invented taxa, each with a set of states of its own in three characters of two states that are shown."""
    known = group(random.Random(1), taxa, 3, 3, 0).knowledge
    stated = [Statement(f"t{number}", f"c{bit}", f"s{number >> bit & 1}", "", None, "one", "p. 1", "", "") for number in range(taxa) for bit in range(3)]
    return snapshot_from(replace(known, statements={each.id: each for each in stated}))


def test_eight_taxa_that_are_halved_by_every_look_take_three_looks() -> None:
    assert season(halving(8), Sight("summer"), 2, 1) == ["summer", "16", "3.00", "2.00", "3.00", "1.00", "3.00", "1.00", "1.00", "100%"]


def test_where_nothing_can_be_seen_no_look_is_made() -> None:
    walker = Walker(halving(8), Sight("winter"), 1)
    assert (walker.walk(0).looks, walker.walk(0).left) == (0, 8)
