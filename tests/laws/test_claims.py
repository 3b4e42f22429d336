"""Laws of judging claims, on random knowledge."""

from __future__ import annotations

import random
from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from lenticel import owl
from lenticel.claims import VERDICTS, claims
from lenticel.compiler import compile_graph
from lenticel.quantity import plain
from lenticel.snapshot import Snapshot
from tests.generators import ENDS, random_knowledge

SEEDS = st.integers(0, 10_000)
FEW = settings(max_examples=60, deadline=None)
SIXTEENTHS = st.integers(0, 160)


def _case(seed: int) -> Snapshot:
    return compile_graph(owl.write(random_knowledge(random.Random(seed))))


def _verdict(snapshot: Snapshot, taxon: str, character: str, value: str) -> str:
    answer = claims(snapshot, [(taxon, character, value)])
    assert not answer.bad
    return answer.judged[0].verdict


@FEW
@given(SEEDS, st.lists(SIXTEENTHS, min_size=4, max_size=4))
def test_a_supported_range_stays_supported_when_narrowed(seed: int, cuts: list[int]) -> None:
    snapshot = _case(seed)
    low, inner, outer, high = (plain(Decimal(each) / 16) for each in sorted(cuts))
    for each in snapshot.knowledge.characters.values():
        if each.kind == "measure":
            for taxon in snapshot.taxa:
                if _verdict(snapshot, taxon, each.id, f"{low}-{high}") == "supported":
                    assert _verdict(snapshot, taxon, each.id, f"{inner}-{outer}") == "supported"


@FEW
@given(SEEDS, st.sampled_from(ENDS), st.sampled_from(ENDS))
def test_a_range_is_contradicted_wherever_a_wider_one_is(seed: int, one: Decimal, other: Decimal) -> None:
    """A wider range has at least as much in common with what the taxon may show, so it is contradicted only if the narrower one is."""
    snapshot = _case(seed)
    low, high = sorted((one, other))
    for each in snapshot.knowledge.characters.values():
        if each.kind == "measure":
            for taxon in snapshot.taxa:
                if _verdict(snapshot, taxon, each.id, f"0-{plain(high + 1)}") == "contradicted":
                    assert _verdict(snapshot, taxon, each.id, f"{plain(low)}-{plain(high)}") == "contradicted"


@FEW
@given(SEEDS)
def test_claiming_more_states_is_never_judged_better(seed: int) -> None:
    snapshot = _case(seed)
    for each in snapshot.knowledge.characters.values():
        states = [state.id for state in snapshot.knowledge.states_of(each.id)] if each.kind == "states" else []
        for taxon in snapshot.taxa:
            alone = [VERDICTS.index(_verdict(snapshot, taxon, each.id, state)) for state in states]
            if states:
                assert VERDICTS.index(_verdict(snapshot, taxon, each.id, "|".join(states))) == max(alone)
