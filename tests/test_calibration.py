"""The constants of the order are those that the fit prints, and the shares mean what they say."""

from __future__ import annotations

from dataclasses import replace

from lenticel.likelihood import FITTED
from lenticel.snapshot import Snapshot
from tests.calibration.likelihood import Trial, observers
from tests.calibration.reliability import brier, cases, log_score
from tests.calibration.separators import KEPT_APART, recalled
from tests.outside.figures import descriptions, tuned
from tests.outside.separators import figures


def test_the_fitted_constants_beat_their_neighbours_on_the_sources_of_the_tables(trees: Snapshot) -> None:
    asked = list(observers(trees))[::4]
    assert len(asked) > 100
    fitted = Trial(trees, FITTED).score(asked).bits
    worse = [Trial(trees, replace(FITTED, **change)).score(asked).bits for change in ({"slip": 0.01}, {"kin": 0.0}, {"unsaid": 1.0})]
    assert all(fitted > each for each in worse), (fitted, worse)


def test_the_shares_say_more_than_equal_ones_on_descriptions_kept_apart(trees: Snapshot) -> None:
    kept = cases(trees, {key: rows for key, rows in descriptions().items() if not tuned(key[0])})
    assert len(kept) >= 30
    assert log_score(kept, 1.0) > log_score(kept, 0) + 1
    assert brier(kept, 1.0) < brier(kept, 0) - 0.15


def test_what_readers_recalled_to_whom_nothing_was_fitted_is_mostly_among_the_first(trees: Snapshot) -> None:
    """They named, from memory and without sight of an answer, what handbooks tell well-known pairs apart by; a book need not say so."""
    rows, known = recalled(), trees.knowledge
    assert {row[side] for row in rows for side in ("one", "other")} <= set(known.terminal)
    assert {each for row in rows for each in row["characters"].split("|")} <= set(known.characters)
    kept = [row for row in rows if row["reader"] in KEPT_APART]
    assert len(kept) >= 290
    assert len({(row["reader"], *sorted((row["one"], row["other"]))) for row in kept}) == len(kept)
    found = figures(trees, kept)
    print(found)
    assert found.three >= 0.88
    assert found.five >= 0.93
