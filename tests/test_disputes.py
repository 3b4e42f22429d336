"""A disagreement in full tells both citations and what each side by itself would exclude; settled ones stay and can be asked for."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from itertools import permutations

import pytest
from fastapi.testclient import TestClient

from lenticel.account import all_disagreements
from lenticel.api import create_app
from lenticel.cli import main
from lenticel.direct import snapshot_from
from lenticel.disputes import disputes, excluded
from lenticel.engine import consistent
from lenticel.model import Knowledge, Statement
from lenticel.observation import Reader, probe
from lenticel.snapshot import Snapshot
from tests.generators import random_knowledge

LEDGER, LABELS = "shop-ledger", "drawer-labels"


def stated(snapshot: Snapshot, character: str, value: str, source: str, *, exhaustive: bool | None = None) -> Statement:
    return Statement("rivet", character, value, "", exhaustive, source, "p. 1, invented", "", "")


@pytest.mark.parametrize(
    ("character", "alone", "other", "excludes"),
    [
        ("length", "10-20 mm", "30-40 mm", "30–40 mm"),
        ("length", "10-20 mm", "21-40 mm", "more than 24 mm"),
        ("turns", "20-40", "10-19", "less than 16"),
        ("length", "20-40 mm", "22-41 mm", ""),
        ("turns", "10-40", "100-200", "100–200"),
        ("head", "flat", "round", "round"),
        ("head", "flat", "flat|round", "round"),
        ("head", "flat|round", "flat", ""),
    ],
)
def test_a_side_excludes_what_the_other_says_and_its_slack_does_not_let_in(workshop: Snapshot, character: str, alone: str, other: str, excludes: str) -> None:
    assert excluded(workshop, stated(workshop, character, alone, LEDGER), stated(workshop, character, other, LABELS)) == excludes


def test_a_list_that_is_not_full_excludes_nothing(workshop: Snapshot) -> None:
    one, other = stated(workshop, "head", "flat", LEDGER, exhaustive=False), stated(workshop, "head", "round", LABELS)
    assert (excluded(workshop, one, other), excluded(workshop, other, one)) == ("", "flat")


def only(known: Knowledge, statement: Statement) -> Snapshot:
    """The knowledge in which this is all that is stated on its character, and no rank or condition bears on it."""
    taxon = replace(known.taxa[statement.taxon], parent="")
    character = replace(known.characters[statement.character], applies_if=None, broader="")
    return snapshot_from(
        Knowledge(
            known.about,
            known.sources,
            {taxon.id: taxon},
            [],
            {character.id: character},
            {key: each for key, each in known.states.items() if each.character == character.id},
            {statement.id: statement},
        )
    )


def test_what_a_side_excludes_is_what_the_engine_excludes_where_only_that_side_is_stated() -> None:
    """On random knowledge: something is named exactly if one of the states that the other side says puts the taxon out."""
    looked = named = 0
    for seed in range(60):
        snapshot = snapshot_from(known := random_knowledge(random.Random(seed)))
        for alone, other in combinations_with_flat_states(known):
            there = only(known, alone)
            out = [state for state in other.states if not len(consistent(there, [probe(there, Reader(there).observation(alone.character, state))], wild=True))]
            assert bool(excluded(snapshot, alone, other)) == bool(out), (seed, alone, other)
            looked, named = looked + 1, named + bool(out)
    print(f"\n{looked} pairs of statements were held against the engine, of {named} one side excludes something")
    assert named > 20
    assert looked - named > 20


def combinations_with_flat_states(known: Knowledge) -> Iterator[tuple[Statement, Statement]]:
    """Pairs of plain statements of different sources on one character whose states have none above or below them."""
    parents = {(each.character, each.parent) for each in known.states.values() if each.parent}
    flat = {key for key, each in known.characters.items() if each.kind == "states" and not each.broader and not any(key == owner for owner, _ in parents)}
    plain = [each for each in known.statements.values() if each.frequency == "" and each.character in flat]
    yield from ((one, other) for one, other in permutations(plain, 2) if one.character == other.character and one.source != other.source)


def test_settled_disagreements_stay_are_marked_and_can_be_asked_for(trees: Snapshot, capsys: pytest.CaptureFixture[str]) -> None:
    every = all_disagreements(trees)
    settled = [each for each in every if each.resolution]
    assert 0 < len(settled) < len(every)
    statements = trees.knowledge.statements
    assert all(each.one in statements and each.other in statements for each in settled)
    client = TestClient(create_app(trees))
    one = settled[0]
    told = client.get(f"/v1/statements/{one.one}").json()
    assert one.other in [each["other"] for each in told["disagreements"] if each["resolution"]]
    page = client.get("/v1/disagreements", params={"settled": "true"}).json()
    assert [each["one"] for each in page] == [each.one for each in settled]
    assert all(each["resolution"]["by"] and each["resolution"]["date"] and each["resolution"]["text"] for each in page)
    assert main(["disagreements", "--settled"]) == 0
    assert f"{len(settled)} pairs of statements disagree." in capsys.readouterr().out


def test_every_real_disagreement_has_both_citations_and_some_sides_exclude(trees: Snapshot) -> None:
    found = disputes(trees, all_disagreements(trees))
    for each in found:
        assert [side.statement for side in each.sides] == [each.one, each.other]
        assert all(side.citation.locator and side.citation.citation for side in each.sides)
    telling = sum(any(side.excludes for side in each.sides) for each in found)
    print(f"\n{telling} of {len(found)} disagreements have a side that alone would rule out what the other says")
    assert telling > len(found) // 10
