"""Time and place order what remains and never exclude."""

from __future__ import annotations

import pytest

from lenticel.errors import UnknownTerm
from lenticel.identify import Context, identify
from lenticel.observation import Reader
from lenticel.prior import REGIONS
from lenticel.snapshot import Snapshot


def shares(snapshot: Snapshot, context: Context, **seen: str) -> dict[str, float]:
    reader = Reader(snapshot)
    observations = [reader.observation(key.replace("_", "-"), value) for key, value in seen.items()]
    return {each.taxon: each.share for each in identify(snapshot, observations, context).consistent}


def test_a_taxon_that_is_native_in_the_region_gains_on_one_that_is_not(trees: Snapshot) -> None:
    plain, there = (shares(trees, context, leaf_arrangement="opposite", leaf_lobing="palmately-lobed") for context in (Context(), Context(region="ont")))
    assert plain.keys() == there.keys()
    assert there["acer-saccharum"] / there["acer-circinatum"] > 3 * plain["acer-saccharum"] / plain["acer-circinatum"]


def test_a_flower_seen_early_speaks_for_those_that_flower_early(trees: Snapshot) -> None:
    early, late = (shares(trees, Context(month=month), flower_colour="red", leaf_arrangement="opposite") for month in (3, 6))
    assert early.keys() == late.keys()
    assert early["acer-rubrum"] > late["acer-rubrum"]


def test_a_region_that_nobody_knows_is_refused_with_the_nearest(trees: Snapshot) -> None:
    with pytest.raises(UnknownTerm, match="atlantis"):
        identify(trees, [], Context(region="atlantis"))


def test_a_region_is_found_with_its_accents_and_the_others_are_offered_by_name(trees: Snapshot) -> None:
    seen = {"leaf_arrangement": "opposite"}
    assert shares(trees, Context(region="Québec"), **seen) == shares(trees, Context(region="que"), **seen)
    with pytest.raises(UnknownTerm) as caught:
        identify(trees, [], Context(region="USA"))
    assert "Michigan (MIC)" in caught.value.fix


@pytest.mark.parametrize("word", ["Ontario", "ontario (ont)", " ONT "])
def test_a_region_may_be_called_by_its_name(trees: Snapshot, word: str) -> None:
    by_name, by_code = (shares(trees, Context(region=region), planted_region=region, flower_colour="red") for region in (word, "ont"))
    assert by_name == by_code


def test_every_region_has_a_name_beside_its_code(trees: Snapshot) -> None:
    regions = [state for key in REGIONS for state in trees.knowledge.states_of(key) if state.id != "elsewhere"]
    assert len(regions) > 50
    assert all(state.synonyms for state in regions)


def test_knowledge_without_regions_refuses_one(workshop: Snapshot) -> None:
    with pytest.raises(UnknownTerm):
        identify(workshop, [], Context(region="ont"))
