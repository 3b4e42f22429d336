"""Laws of the order among what remains: likelihood orders, only logic excludes."""

from __future__ import annotations

import random
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lenticel.direct import snapshot_from
from lenticel.engine import consistent
from lenticel.identify import Context, identify
from lenticel.likelihood import Likelihood
from lenticel.observation import Observation, Part, Reader, probe
from lenticel.quantity import Interval
from lenticel.snapshot import Snapshot
from tests.generators import random_knowledge, random_observation

SEEDS = st.integers(0, 10_000)
FEW = settings(max_examples=60, deadline=None)


def case(seed: int, count: int) -> tuple[Snapshot, list[Observation]]:
    rnd = random.Random(seed)
    snapshot = snapshot_from(random_knowledge(rnd))
    return snapshot, [random_observation(rnd, Reader(snapshot)) for _ in range(count)]


@FEW
@given(SEEDS, st.integers(0, 12))
def test_likelihood_neither_excludes_nor_brings_back_a_taxon(seed: int, month: int) -> None:
    snapshot, observations = case(seed, 4)
    answer = identify(snapshot, observations, Context(month=month))
    left = {snapshot.taxa[place] for place in consistent(snapshot, [probe(snapshot, each) for each in observations])}
    assert {each.taxon for each in answer.consistent} == left
    assert all(each.share > 0 or round(each.share, 3) == 0 for each in answer.consistent)
    assert all(each.share == 0 for each in answer.excluded)


@FEW
@given(SEEDS)
def test_the_shares_of_what_remains_sum_to_one_and_order_it(seed: int) -> None:
    snapshot, observations = case(seed, 3)
    remain = identify(snapshot, observations).consistent
    if remain:
        assert sum(each.share for each in remain) == pytest.approx(1, abs=0.001)
        assert [each.support for each in remain] == sorted((each.support for each in remain), reverse=True)


@FEW
@given(SEEDS)
def test_what_is_out_is_ordered_by_slips_before_anything_else(seed: int) -> None:
    snapshot, observations = case(seed, 5)
    slips = [each.slips for each in identify(snapshot, observations).excluded]
    assert slips == sorted(slips)


@FEW
@given(SEEDS)
def test_a_coarser_observation_is_at_least_as_likely(seed: int) -> None:
    snapshot, _ = case(seed, 0)
    like, rnd = Likelihood(snapshot), random.Random(seed)
    for key, partition in snapshot.body.partitions.items():
        fine = 1 << rnd.randrange(len(partition.atoms))
        coarse = fine | 1 << rnd.randrange(len(partition.atoms))
        known = like.of(snapshot.knowledge.characters[key])
        mine, its = (like.shown(Observation((Part(key, mask, (), ""),))) for mask in (fine, coarse))
        assert (its >= mine - 1e-9)[known].all()


@FEW
@given(SEEDS)
def test_the_distribution_over_the_atoms_sums_to_one(seed: int) -> None:
    snapshot, _ = case(seed, 0)
    like = Likelihood(snapshot)
    for key in snapshot.body.partitions:
        like.of(snapshot.knowledge.characters[key])
        assert np.allclose(like.rows[key].sum(axis=1), 1)
        assert (like.rows[key] >= 0).all()


@FEW
@given(SEEDS)
def test_what_is_remembered_changes_no_answer(seed: int) -> None:
    snapshot, observations = case(seed, 4)
    first = identify(snapshot, observations)
    identify(snapshot, observations[:2], Context(wild=True))
    assert identify(snapshot, observations) == first == identify(replace(snapshot, memo={}), observations)


@FEW
@given(SEEDS, st.integers(0, 4))
def test_explaining_fewer_taxa_changes_nothing_else(seed: int, explain: int) -> None:
    snapshot, observations = case(seed, 4)
    whole, brief = identify(snapshot, observations), identify(snapshot, observations, explain=explain)
    for side in ("consistent", "excluded"):
        assert [replace(each, marks=()) for each in getattr(whole, side)] == [replace(each, marks=()) for each in getattr(brief, side)]
        assert [each.marks for each in getattr(brief, side)[:explain]] == [each.marks for each in getattr(whole, side)[:explain]]
    assert brief.citations.items() <= whole.citations.items()
    assert whole.likeliest == brief.likeliest


@FEW
@given(SEEDS, st.integers(0, 4))
def test_listing_fewer_of_the_taxa_that_are_out_changes_nothing_else(seed: int, excluded: int) -> None:
    snapshot, observations = case(seed, 4)
    whole, brief = identify(snapshot, observations), identify(snapshot, observations, excluded=excluded)
    assert replace(brief, citations={}) == replace(whole, excluded=whole.excluded[:excluded], citations={})
    assert brief.citations.items() <= whole.citations.items()


def test_a_size_in_the_usual_range_is_likelier_than_one_beyond(trees: Snapshot) -> None:
    like = Likelihood(trees)
    place = trees.place_of["acer-platanoides"]
    usual, beyond = (Observation((Part("leaf-blade-width", 0, (Interval(Decimal(low), Decimal(low) + 1),), ""),)) for low in (12, 30))
    assert like.shown(usual)[place] > 2 * like.shown(beyond)[place] > 0


def test_a_look_that_names_no_age_is_ordered_by_what_is_said_of_any_age(trees: Snapshot) -> None:
    """Warty bark is said of hackberry's young bark and of its old, never of its bark at large."""
    reader = Reader(trees)
    assert not [each for each in trees.knowledge.statements_on("celtis-occidentalis", "bark-texture") if "warty" in each.states]
    assert identify(trees, [reader.observation("bark-texture", "warty")]).consistent[0].taxon == "celtis-occidentalis"
