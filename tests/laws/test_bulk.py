"""Laws of many plants at once: line by line the same as one plant after another."""

from __future__ import annotations

import random

from hypothesis import given, settings
from hypothesis import strategies as st

from lenticel import owl
from lenticel.bulk import FEW_SEEN, Bulk, asked_of
from lenticel.compiler import compile_graph
from lenticel.errors import LenticelError
from lenticel.identify import Context, identify
from lenticel.observation import Reader, read_observations
from lenticel.snapshot import Snapshot
from tests.generators import random_knowledge

SEEDS = st.integers(0, 10_000)


def seen_of(rnd: random.Random, reader: Reader, most: int) -> list[tuple[str, str]]:
    """Observations as text, some of them wrong."""
    found = []
    for _ in range(rnd.randint(0, most)):
        character = rnd.choice(list(reader.knowledge.characters.values()))
        states = [each.id for each in reader.knowledge.states_of(character.id)]
        value = "|".join(rnd.sample(states, rnd.randint(1, min(2, len(states))))) if states else rnd.choice(["3", "5-8", ">=2", "7"])
        value = rnd.choice([value, value, value, f"not {value}"])
        found.append((character.id, value if rnd.random() > 0.01 else "no such thing"))
    return found


def hold(snapshot: Snapshot, plants: list[list[tuple[str, str]]], claims: list[str], *, wild: bool, remembered: int = 4096) -> None:
    """Compare every line with the answer to the plant alone."""
    reader, context = Reader(snapshot), Context(wild)
    found = list(Bulk(snapshot, context, remembered=remembered).answer(asked_of(plants, claims)))
    assert len(found) == len(plants)
    for plant, claim, line in zip(plants, claims, found, strict=True):
        try:
            answer = identify(snapshot, read_observations(reader, plant), context, every_rank=True)
        except LenticelError as raised:
            refused = (raised.code, raised.message, raised.where)
            assert line.error is not None
            assert (line.error.code, line.error.message, line.error.where) == refused
            continue
        assert line.error is None
        lowest = set(snapshot.knowledge.terminal)
        remain = [each.taxon for each in answer.consistent if each.taxon in lowest]
        assert sorted(line.consistent) == sorted(remain)
        assert line.first == (remain[0] if remain else "")
        alone = identify(snapshot, read_observations(reader, plant), context)
        assert abs(line.share - (alone.consistent[0].share if alone.consistent else 0)) < 1.5e-4
        assert line.cautions == tuple(each.id for each in alone.cautions)
        if claim:
            marks = next(each.marks for each in (*answer.consistent, *answer.excluded) if each.taxon == claim)
            assert line.contradicting == tuple(mark.observation for mark in marks if mark.verdict == "contradicts")
            assert line.verdict == ("contradict" if line.contradicting else "agree")


@settings(max_examples=60, deadline=None)
@given(SEEDS, st.booleans())
def test_many_plants_are_answered_as_each_alone(seed: int, wild: bool) -> None:
    rnd = random.Random(seed)
    snapshot = compile_graph(owl.write(random_knowledge(rnd)))
    reader = Reader(snapshot)
    plants = [seen_of(rnd, reader, 7) for _ in range(12)]
    hold(snapshot, plants, [rnd.choice(["", *snapshot.taxa]) for _ in plants], wild=wild, remembered=rnd.choice([3, 20, 4096]))


def test_the_trees_are_answered_as_each_alone(trees: Snapshot) -> None:
    rnd = random.Random(5)
    reader = Reader(trees)
    plants = [seen_of(rnd, reader, 8) for _ in range(60)]
    hold(trees, [*plants, seen_of(rnd, reader, 3 * FEW_SEEN)], [rnd.choice(["", *trees.taxa]) for _ in range(61)], wild=False)
