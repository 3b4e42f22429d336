"""Laws of doubting and of justifying, on random knowledge and random observations."""

from __future__ import annotations

import random

from hypothesis import given, settings
from hypothesis import strategies as st

from lenticel import owl
from lenticel.compiler import compile_graph
from lenticel.deduction import CELL, Deduction
from lenticel.doubt import doubt
from lenticel.identify import Context, identify
from lenticel.justify import why_out
from lenticel.observation import Observation, Reader
from lenticel.snapshot import Snapshot
from tests.generators import random_knowledge, random_observation

SEEDS = st.integers(0, 10_000)
FEW = settings(max_examples=50, deadline=None)


def _case(seed: int, count: int) -> tuple[Snapshot, list[Observation]]:
    rnd = random.Random(seed)
    snapshot = compile_graph(owl.write(random_knowledge(rnd)))
    reader = Reader(snapshot)
    return snapshot, [random_observation(rnd, reader) for _ in range(count)]


def _remaining(snapshot: Snapshot, observations: list[Observation], wild: bool) -> set[str]:
    return {each.taxon for each in identify(snapshot, observations, Context(wild)).consistent}


@FEW
@given(SEEDS, st.booleans())
def test_a_set_leaves_its_taxa_and_nothing_once_any_of_it_is_kept(seed: int, wild: bool) -> None:
    snapshot, observations = _case(seed, 6)
    for one in doubt(snapshot, observations, Context(wild), most=6).sets:
        gone = {each.observation for each in one.withdrawn}
        assert any(not each.follows for each in one.withdrawn), "what all others follow from must be in the set"
        assert all(each.follows in gone for each in one.withdrawn if each.follows)
        assert 0 < one.slips <= len(gone)
        assert 0 < one.chance < 1
        rest = [each for each in observations if each.text not in gone]
        assert _remaining(snapshot, rest, wild) == {each.taxon for each in one.left} != set()
        for kept in gone:
            assert not _remaining(snapshot, [each for each in observations if each.text not in gone - {kept}], wild)


@FEW
@given(SEEDS, st.booleans())
def test_something_fits_or_something_can_be_doubted(seed: int, wild: bool) -> None:
    snapshot, observations = _case(seed, 6)
    answer = doubt(snapshot, observations, Context(wild), most=6)
    assert bool(answer.consistent) != bool(answer.sets)
    assert answer.fewest == min((one.slips for one in answer.sets), default=0)


@FEW
@given(SEEDS, st.randoms(use_true_random=False))
def test_withdrawing_more_never_leaves_fewer_taxa(seed: int, chooser: random.Random) -> None:
    snapshot, observations = _case(seed, 6)
    fewer = [each for each in observations if chooser.random() < 0.7]
    fewest = [each for each in fewer if chooser.random() < 0.7]
    assert _remaining(snapshot, observations, False) <= _remaining(snapshot, fewer, False) <= _remaining(snapshot, fewest, False)


@FEW
@given(SEEDS, st.randoms(use_true_random=False))
def test_the_order_of_observations_never_matters_to_doubt(seed: int, shuffler: random.Random) -> None:
    snapshot, observations = _case(seed, 6)
    mixed = list(observations)
    shuffler.shuffle(mixed)
    assert doubt(snapshot, mixed) == doubt(snapshot, observations)


@FEW
@given(SEEDS)
def test_a_justification_cites_only_statements_on_the_taxon_or_ranks_above_and_loses_its_claim_with_any_axiom(seed: int) -> None:
    snapshot, observations = _case(seed, 4)
    deduction = Deduction(snapshot.body)
    for verdict in identify(snapshot, observations, every_rank=True).excluded:
        line = set(snapshot.knowledge.lineage(verdict.taxon))
        answer = why_out(snapshot, verdict.taxon, observations)
        assert answer.justifications
        for each in answer.justifications:
            assert each.lines
            assert {axiom.subject for axiom in each.axioms if axiom.kind == CELL} == {one.cell for one in each.lines}
            for one in each.lines:
                assert one.statements
                assert {snapshot.knowledge.statements[key].taxon for key in one.statements} == {one.taxon} <= line
            assert deduction.holds(each.claim(observations), each.axioms)
            for axiom in each.axioms:
                assert not deduction.holds(each.claim(observations), [other for other in each.axioms if other != axiom])
