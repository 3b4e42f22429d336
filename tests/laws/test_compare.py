"""Laws of comparing, on random knowledge."""

from __future__ import annotations

import random

from hypothesis import given, settings
from hypothesis import strategies as st

from lenticel import owl
from lenticel.compare import PARTING, Comparison, compare
from lenticel.compiler import compile_graph
from lenticel.snapshot import Snapshot
from tests.generators import random_knowledge

SEEDS = st.integers(0, 10_000)
FEW = settings(max_examples=60, deadline=None)


def _pair(seed: int) -> tuple[Snapshot, list[str]] | None:
    snapshot = compile_graph(owl.write(random_knowledge(random.Random(seed))))
    return (snapshot, snapshot.knowledge.terminal[:2]) if len(snapshot.knowledge.terminal) > 1 else None


def _told(answer: Comparison) -> list[tuple[str, str, float, float, dict[str, str]]]:
    return [(each.character, each.force, each.apart, each.score, {shown.taxon: shown.shown for shown in each.shown}) for each in answer.separators]


@FEW
@given(SEEDS)
def test_the_order_in_which_taxa_are_named_means_nothing(seed: int) -> None:
    case = _pair(seed)
    if case:
        snapshot, (one, other) = case
        there, back = compare(snapshot, [one, other]), compare(snapshot, [other, one])
        assert _told(there) == _told(back)
        assert [each.character for each in there.shared] == [each.character for each in back.shared]


@FEW
@given(SEEDS)
def test_what_is_shared_separates_nothing(seed: int) -> None:
    case = _pair(seed)
    if case:
        answer = compare(*case)
        assert not {each.character for each in answer.shared} & {each.character for each in answer.separators}
        assert bool(answer.inseparable) == (not any(each.force in PARTING for each in answer.separators))
