"""The small proof procedure: clauses, least sets, and each kind of axiom, held against truth tables and against HermiT."""

from __future__ import annotations

import random
from itertools import combinations, product

import pytest

from lenticel import owl
from lenticel.cells import StateRegion
from lenticel.compiler import compile_graph
from lenticel.confirm import entails
from lenticel.deduction import COVER, DISJOINT, STATE, Axiom, Claim, Deduction, contract, satisfiable
from lenticel.doubt import doubt
from lenticel.errors import BadQuestion
from lenticel.justify import axioms_about, why_apart
from lenticel.observation import Observation, Reader
from lenticel.snapshot import Snapshot
from tests.generators import random_knowledge, random_part


def test_clauses_are_satisfiable_exactly_when_some_row_of_their_truth_table_is_true() -> None:
    rnd = random.Random(1)
    outcomes = []
    for _ in range(400):
        names = "abcd"[: rnd.randint(1, 4)]
        clauses = [frozenset((rnd.choice(names), rnd.random() < 0.5) for _ in range(rnd.randint(1, 3))) for _ in range(rnd.randint(1, 9))]
        rows = (dict(zip(names, values, strict=True)) for values in product((False, True), repeat=len(names)))
        due = any(all(any(row[name] == value for name, value in clause) for clause in clauses) for row in rows)
        assert satisfiable(clauses) == due
        outcomes.append(due)
    assert 50 < sum(outcomes) < 350
    assert not satisfiable([frozenset()])


def test_what_is_contracted_is_a_least_set_and_prefers_what_comes_first() -> None:
    axioms = [Axiom("any", str(number)) for number in range(9)]
    rnd = random.Random(2)
    for _ in range(200):
        ways = [set(rnd.sample(axioms, rnd.randint(1, 4))) for _ in range(rnd.randint(1, 4))]
        found = set(contract(axioms, lambda chosen, ways=ways: any(way <= set(chosen) for way in ways)))  # type: ignore[misc]
        assert found in ways
        assert not any(way < found for way in ways)
    assert contract(axioms, lambda chosen: bool(chosen)) == axioms[:1]


def test_every_choice_of_the_axioms_on_a_covered_state_is_decided_as_hermit_decides_it(workshop: Snapshot) -> None:
    hexagonal = workshop.body.cells["machine-screw/drive"]
    assert hexagonal.region == StateRegion(("hex",))
    claim = Claim((hexagonal.taxon,), Reader(workshop).observation("drive", "cross-plain").parts)
    every = [
        each for each in dict.fromkeys(axioms_about(workshop, claim)) if "drive" in (each.subject + "".join(each.objects)) and each.kind != "character range"
    ]
    chosen = [each for each in every if each.kind not in (STATE, DISJOINT, COVER)]
    varied = [each for each in every if each not in chosen and "drive.cross" in (each.subject, *each.objects)]
    assert {each.kind for each in varied} == {STATE, DISJOINT, COVER}
    deduction = Deduction(workshop.body)
    decided = []
    for size in range(len(varied) + 1):
        for some in combinations(varied, size):
            said = deduction.holds(claim, [*chosen, *some])
            assert said == entails(workshop.body, [*chosen, *some], claim), some
            decided.append(said)
    print(f"{len(decided)} sets of axioms decided alike, {sum(decided)} of them enough")
    assert {True, False} == set(decided)


def test_of_two_observations_that_say_the_same_one_follows_from_the_other() -> None:
    checked = 0
    for seed in range(40):
        rnd = random.Random(seed)
        snapshot = compile_graph(owl.write(random_knowledge(rnd)))
        reader = Reader(snapshot)
        seen = [Observation((random_part(rnd, reader), random_part(rnd, reader))) for _ in range(24)]
        turned = [Observation(each.parts[::-1]) for each in seen if len(each.parts) == 2 and each.parts[0].character != each.parts[1].character]
        for one in doubt(snapshot, [*seen, *turned]).sets:
            withdrawn = {each.observation: each for each in one.withdrawn}
            for each in turned:
                pair = [withdrawn[text] for text in (each.text, Observation(each.parts[::-1]).text) if text in withdrawn]
                assert len(pair) != 1
                assert not pair or any(suspect.follows for suspect in pair)
                checked += len(pair) == 2
            assert any(not suspect.follows for suspect in one.withdrawn)
    assert checked > 3


def test_a_taxon_and_one_above_it_are_not_apart(trees: Snapshot) -> None:
    with pytest.raises(BadQuestion):
        why_apart(trees, "acer-saccharum", "acer", "leaf-arrangement")
