"""Laws of the first question, on random knowledge and random observations."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import pairwise

from hypothesis import example, given, settings
from hypothesis import strategies as st

from lenticel import owl
from lenticel.compiler import compile_graph
from lenticel.engine import consistent
from lenticel.identify import Context, identify
from lenticel.observation import Observation, Reader, distinct, entails, probe
from lenticel.snapshot import Snapshot
from tests.generators import random_knowledge, random_observation

SEEDS = st.integers(0, 10_000)
FEW = settings(max_examples=60, deadline=None)


def _case(seed: int, count: int) -> tuple[Snapshot, Reader, list[Observation]]:
    rnd = random.Random(seed)
    snapshot = compile_graph(owl.write(random_knowledge(rnd)))
    reader = Reader(snapshot)
    return snapshot, reader, [random_observation(rnd, reader) for _ in range(count)]


def _remaining(snapshot: Snapshot, observations: list[Observation], *, wild: bool = False) -> set[str]:
    return {each.taxon for each in identify(snapshot, observations, Context(wild), every_rank=True).consistent}


@FEW
@given(SEEDS, st.randoms(use_true_random=False))
def test_the_order_of_observations_never_matters(seed: int, shuffler: random.Random) -> None:
    snapshot, _, observations = _case(seed, 6)
    mixed = list(observations)
    shuffler.shuffle(mixed)
    assert identify(snapshot, mixed) == identify(snapshot, observations)


@FEW
@given(SEEDS)
def test_a_repeated_observation_changes_nothing(seed: int) -> None:
    snapshot, _, observations = _case(seed, 4)
    assert identify(snapshot, [*observations, observations[0]]) == identify(snapshot, observations)


@FEW
@given(SEEDS)
def test_adding_an_observation_never_adds_a_taxon(seed: int) -> None:
    snapshot, _, observations = _case(seed, 6)
    for wild in (False, True):
        sizes = [_remaining(snapshot, observations[:count], wild=wild) for count in range(len(observations) + 1)]
        assert all(later <= earlier for earlier, later in pairwise(sizes))


@FEW
@given(SEEDS)
def test_an_observation_that_another_entails_changes_no_verdict(seed: int) -> None:
    snapshot, _, observations = _case(seed, 8)
    kept, dropped = distinct(snapshot, observations)
    for weak, strong in dropped:
        assert entails(snapshot, strong, weak)
    one, other = identify(snapshot, observations), identify(snapshot, kept)
    assert (one.consistent, one.excluded) == (other.consistent, other.excluded)


@FEW
@given(SEEDS)
def test_whoever_sees_the_broader_character_excludes_no_more_than_whoever_sees_the_special_one(seed: int) -> None:
    snapshot, reader, _ = _case(seed, 0)
    rnd = random.Random(seed)
    for key, character in reader.knowledge.characters.items():
        if character.broader and character.kind == "states":
            states = [each.id for each in reader.knowledge.states_of(key)]
            value = "|".join(rnd.sample(states, rnd.randint(1, len(states))))
            special, broad = reader.observation(key, value), reader.observation(character.broader, value)
            assert _remaining(snapshot, [special]) <= _remaining(snapshot, [broad])


@FEW
@given(SEEDS)
def test_knowing_that_the_plant_is_wild_never_adds_a_taxon(seed: int) -> None:
    snapshot, _, observations = _case(seed, 5)
    assert _remaining(snapshot, observations, wild=True) <= _remaining(snapshot, observations)


@FEW
@given(SEEDS)
def test_the_fast_path_leaves_the_same_taxa_as_the_full_answer(seed: int) -> None:
    snapshot, _, observations = _case(seed, 5)
    probes = [probe(snapshot, each) for each in observations]
    for wild in (False, True):
        remaining = _remaining(snapshot, observations, wild=wild)
        assert snapshot.few is not None
        by_numbers = consistent(snapshot, probes, wild=wild, terminal=False)
        by_arrays = consistent(replace(snapshot, few_limit=0), probes, wild=wild, terminal=False)
        assert by_numbers.tolist() == by_arrays.tolist()
        assert {snapshot.taxa[row] for row in by_arrays} == remaining


@FEW
@given(SEEDS)
@example(99)  # a character and its broader one, each with a condition on the same third
def test_every_verdict_that_costs_a_taxon_something_has_a_ground_with_statements(seed: int) -> None:
    snapshot, _, observations = _case(seed, 5)
    answer = identify(snapshot, observations, every_rank=True)
    for verdict in (*answer.consistent, *answer.excluded):
        for mark in verdict.marks:
            if mark.verdict in ("atypical", "contradicts"):
                assert mark.grounds
                assert all(ground.statements for ground in mark.grounds)
