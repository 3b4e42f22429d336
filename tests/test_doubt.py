"""What to doubt: every least set is found, and only those; near misses are the taxa one and two slips away."""

from __future__ import annotations

import random
from collections.abc import Iterator
from itertools import combinations

import numpy as np
import pytest

from lenticel import owl
from lenticel.compiler import compile_graph
from lenticel.doubt import CHANCES, MOST, doubt, suspicion
from lenticel.engine import CONTRADICTS, consistent, levels
from lenticel.identify import Context, identify
from lenticel.observation import Observation, Reader, entails, probe
from lenticel.slips import near
from lenticel.snapshot import Snapshot
from tests.generators import random_knowledge, random_observation
from tests.outside.slips import shares

IMPOSSIBLE_SETS = 200
REAL_SHARE = 2  # every second set is about the real trees, the others about small generated knowledge


def left(snapshot: Snapshot, observations: list[Observation], wild: bool) -> frozenset[str]:
    return frozenset(snapshot.taxa[row] for row in consistent(snapshot, [probe(snapshot, each) for each in observations], wild=wild))


def by_brute_force(snapshot: Snapshot, observations: list[Observation], wild: bool) -> dict[frozenset[str], frozenset[str]]:
    """Every least set of observations whose withdrawal leaves something, with what it leaves: all subsets are tried, smallest first."""
    seen = list({each.text: each for each in observations}.values())
    found: dict[frozenset[str], frozenset[str]] = {}
    for size in range(len(seen) + 1):
        for chosen in combinations(seen, size):
            gone = frozenset(each.text for each in chosen)
            if not any(less <= gone for less in found):
                rest = left(snapshot, [each for each in seen if each.text not in gone], wild)
                if rest:
                    found[gone] = rest
    return found


def slips_of(snapshot: Snapshot, observations: list[Observation], gone: frozenset[str]) -> int:
    """How many observations of a set no other one of it entails (of two that say the same, one)."""
    chosen = sorted((each for each in {each.text: each for each in observations}.values() if each.text in gone), key=lambda each: each.text)
    return sum(
        not any(
            other is not each and entails(snapshot, other, each) and (place < there or not entails(snapshot, each, other)) for place, other in enumerate(chosen)
        )
        for there, each in enumerate(chosen)
    )


def impossible_sets(trees: Snapshot) -> Iterator[tuple[Snapshot, list[Observation], bool]]:
    """Random sets of observations that no taxon fulfils, some with observations that others entail, without end."""
    seed = 0
    reader = Reader(trees)
    while True:
        rnd = random.Random(seed)
        snapshot, asked = trees, reader
        if seed % REAL_SHARE:
            snapshot = compile_graph(owl.write(random_knowledge(rnd)))
            asked = Reader(snapshot)
        observations = [random_observation(rnd, asked) for _ in range(rnd.randint(3, 8) if seed % REAL_SHARE else rnd.randint(8, 11))]
        wild = rnd.random() < 0.3
        if not left(snapshot, observations, wild):
            yield snapshot, observations, wild
        seed += 1


def test_every_least_set_of_200_impossible_ones_is_what_brute_force_finds(trees: Snapshot) -> None:
    sets = following = larger = real = 0
    for (snapshot, observations, wild), _ in zip(impossible_sets(trees), range(IMPOSSIBLE_SETS), strict=False):
        brute = by_brute_force(snapshot, observations, wild)
        for most in (MOST, len(observations)):
            answer = doubt(snapshot, observations, Context(wild), most=most)
            found = {frozenset(each.observation for each in one.withdrawn): frozenset(miss.taxon for miss in one.left) for one in answer.sets}
            due = {gone: taxa for gone, taxa in brute.items() if slips_of(snapshot, observations, gone) <= most}
            assert found == due
            assert len(found) == len(answer.sets)
        sets += len(brute)
        real += snapshot is trees
        larger += any(slips_of(snapshot, observations, gone) > MOST for gone in brute)
        following += any(suspect.follows for one in answer.sets for suspect in one.withdrawn)
    print(f"{IMPOSSIBLE_SETS} impossible sets, {real} on the real trees; {sets} least withdrawals by brute force, all found; {following} with one that follows")
    assert sets > IMPOSSIBLE_SETS
    assert real > IMPOSSIBLE_SETS / 4
    assert following > 3
    assert larger > 3


def test_slips_are_counted_as_the_verdicts_say(trees: Snapshot, reader: Reader) -> None:
    rnd = random.Random(3)
    for _ in range(40):
        probes = [probe(trees, random_observation(rnd, reader)) for _ in range(rnd.randint(0, 9))]
        counted = sum((levels(trees, each) == CONTRADICTS for each in probes), np.zeros(trees.taxa_count, int))
        lowest = [trees.place_of[taxon] for taxon in trees.knowledge.terminal]
        for most in (1, 2, 4):
            places, counts = near(trees, probes, most)
            assert dict(zip(places.tolist(), counts.tolist(), strict=True)) == {row: counted[row] for row in sorted(lowest) if 1 <= counted[row] <= most}


def test_where_something_remains_nothing_is_doubted_and_the_near_misses_are_named(trees: Snapshot, reader: Reader) -> None:
    seen = [reader.observation("leaf-arrangement", "opposite"), reader.observation("petiole-sap", "milky")]
    answer = doubt(trees, seen)
    assert answer.consistent
    assert not answer.sets
    assert answer.fewest == 0
    assert "acer-saccharum" in {each.taxon for each in answer.near if each.slips == 1}
    assert {each.slips for each in answer.near} == {1, 2}


def test_an_identify_answer_always_names_its_nearest_misses(trees: Snapshot, reader: Reader) -> None:
    rnd = random.Random(11)
    empty = farther = 0
    for _ in range(60):
        answer = identify(trees, [random_observation(rnd, reader) for _ in range(rnd.randint(1, 40))])
        empty += not answer.consistent
        least = min((each.slips for each in answer.excluded), default=0)
        farther += least > 1
        assert set(answer.near) == {each.taxon for each in answer.excluded if each.slips == least}
        assert answer.near or not answer.excluded
    assert empty > 2
    assert farther > 2


def test_withdrawing_what_an_observation_entails_takes_that_observation_along(trees: Snapshot, reader: Reader) -> None:
    seen = [reader.observation(*row) for row in (("leaf-division", "compound"), ("leaflet-count", "7"), ("fruit-type", "acorn"))]
    answer = doubt(trees, seen)
    together = [one for one in answer.sets if {"leaf-division: compound", "leaflet-count: 7"} <= {each.observation for each in one.withdrawn}]
    assert together
    for one in together:
        chances = {each.observation: each for each in one.withdrawn}
        assert chances["leaflet-count: 7"].follows == "leaf-division: compound"
        assert one.slips == len(one.withdrawn) - 1
        assert one.chance == pytest.approx(np.prod([each.chance for each in one.withdrawn if not each.follows]), abs=1e-6)


def test_a_colour_is_got_wrong_more_easily_than_an_arrangement_and_both_more_so_out_of_season_or_by_lens(trees: Snapshot, reader: Reader) -> None:
    def chance(character: str, value: str, month: int = 0) -> float:
        return suspicion(trees, reader.observation(character, value), month).chance

    assert chance("leaf-arrangement", "opposite") < chance("bud-colour", "green")
    assert chance("samara-length", "3 cm") < chance("leaf-sinus-depth", "deep")
    assert chance("flower-colour", "red", 5) < chance("flower-colour", "red", 12)
    assert chance("bundle-scar-count", "3") > chance("leaflet-count", "3")
    assert chance("leaf-lobing", "pinnately-lobed") > chance("leaf-arrangement", "opposite"), "lobes of one kind are taken for another"
    assert suspicion(trees, reader.observation("bundle-scar-count", "3")).reasons == ("a count", "needs a hand lens")


def test_the_chances_are_those_that_the_tables_show(trees: Snapshot) -> None:
    found = shares(trees)
    assert set(found) == set(CHANCES)
    for kind, (pairs, apart) in found.items():
        assert pairs > 50
        assert abs(apart / pairs - CHANCES[kind]) < 0.04, kind
