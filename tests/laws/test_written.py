"""The answer that is put together from kept pieces is, byte for byte, the answer of the function written as JSON."""

from __future__ import annotations

import random
import tracemalloc
from itertools import islice

from hypothesis import given, settings
from hypothesis import strategies as st

from lenticel import owl
from lenticel.answers import as_json
from lenticel.compiler import compile_graph
from lenticel.identify import Context, identify
from lenticel.judging import judged
from lenticel.observation import Observation, Reader, read_observations
from lenticel.probing import probe_sets
from lenticel.snapshot import Snapshot
from lenticel.written import Marks, identified
from tests.generators import random_knowledge, random_observation


def same(rnd: random.Random, snapshot: Snapshot, observations: list[Observation]) -> int:
    """Compare the two ways on one question with anything else left to chance; the length of the answer."""
    regions = [each.id for key in ("native-region", "planted-region") if key in snapshot.knowledge.characters for each in snapshot.knowledge.states_of(key)]
    context = Context(rnd.random() < 0.4, rnd.randint(0, 12), rnd.choice(["", *regions]))
    every_rank, explain = rnd.random() < 0.4, rnd.choice([None, None, 0, 1, 3, 10_000])
    excluded = rnd.choice([None, None, 0, 2, 10_000])
    written = identified(snapshot, observations, context, every_rank=every_rank, explain=explain, excluded=excluded)
    assert written == as_json(identify(snapshot, observations, context, every_rank=every_rank, explain=explain, excluded=excluded))
    return len(written)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000))
def test_on_random_knowledge_the_bytes_are_the_same(seed: int) -> None:
    rnd = random.Random(seed)
    snapshot = compile_graph(owl.write(random_knowledge(rnd)))
    reader = Reader(snapshot)
    for _ in range(8):
        assert same(rnd, snapshot, [random_observation(rnd, reader) for _ in range(rnd.randint(0, 6))])


def test_on_the_tables_the_bytes_are_the_same_however_often_a_piece_was_used(trees: Snapshot) -> None:
    rnd, reader = random.Random(1), Reader(trees)
    sets = [rows for _, rows in islice(probe_sets(trees), 0, None, 6)]
    lengths = [same(rnd, trees, read_observations(reader, rows + rnd.choice(sets)[: rnd.randint(0, 4)])) for rows in sets]
    assert len(lengths) > 200
    assert max(lengths) > 100_000, "no answer names its grounds"


def test_a_list_that_is_cut_short_is_not_taken_for_a_whole_one_of_the_same_length(trees: Snapshot) -> None:
    seen = read_observations(Reader(trees), [("leaf-arrangement", "opposite")])
    remaining = len(identify(trees, seen, every_rank=True).consistent)
    for every_rank, excluded in ((True, len(trees.knowledge.terminal) - remaining), (False, None)):
        answer = identify(trees, seen, every_rank=every_rank, excluded=excluded)
        assert len(answer.consistent + answer.excluded) == len(trees.knowledge.terminal)
        assert identified(trees, seen, every_rank=every_rank, excluded=excluded) == as_json(answer)


def test_the_pieces_that_are_kept_take_little_more_memory_than_their_text(trees: Snapshot) -> None:
    observation = Reader(trees).observation("leaf-arrangement", "opposite")
    marks = Marks(judged(trees, observation, wild=False), {key: place for place, key in enumerate(sorted(trees.knowledge.statements))})
    tracemalloc.start()
    try:
        length = sum(len(marks[row]) for row in range(trees.taxa_count))
        kept, _ = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert length > 20_000
    assert kept < 3 * length
