"""The full check: it counts what it looks at, and each of its parts has been seen to find what is wrong."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from rdflib import OWL, RDF, RDFS, Graph, Literal, URIRef

from lenticel import thorough as module
from lenticel.build import ontology_of
from lenticel.cli import main
from lenticel.identify import Answer, Context, identify
from lenticel.iris import LT
from lenticel.observation import Observation
from lenticel.snapshot import Snapshot
from lenticel.thorough import by_hermit, graph_rules, sampled, thorough, through_the_ontology
from tests.test_broken_tables import Tables

BASE = "https://example.org/workshop/"


@pytest.fixture
def graph(workshop_tables: Path) -> Graph:
    return ontology_of(workshop_tables)[0]


def test_nothing_is_wrong_with_sound_tables_and_everything_was_looked_at(workshop_tables: Path, workshop: Snapshot) -> None:
    found = list(thorough(workshop_tables, workshop, 12))
    assert [each for each in found if each.wrong] == []
    assert len(found) >= 25
    assert all(each.count > 0 for each in found)
    assert found[-1].count == 12 * workshop.taxa_count


def test_an_ontology_that_says_something_else_is_told(graph: Graph, workshop: Snapshot) -> None:
    assert through_the_ontology(graph, workshop).wrong == ()
    assert through_the_ontology(graph, replace(workshop, digest="0")).wrong == ("The ontology says something else than the records.",)
    graph.add((URIRef(f"{BASE}taxon/nail"), RDFS.subClassOf, URIRef("http://example.org/upper")))
    assert "upper" in through_the_ontology(graph, workshop).wrong[0]


def test_a_rule_that_the_graph_breaks_is_told_with_its_fix(graph: Graph) -> None:
    assert [each for each in graph_rules(graph) if each.wrong] == []
    graph.add((URIRef(f"{BASE}source/shop-ledger"), LT.unit, Literal("furlong")))
    broken = [each for each in graph_rules(graph) if each.wrong]
    assert [each.what for each in broken] == ["rule unknown-unit"]
    assert "source/shop-ledger" in broken[0].wrong[0]
    assert broken[0].wrong[0].endswith("Use a code of the list, or teach the program to convert the new one.")


def test_an_ontology_without_a_model_and_a_class_without_members_are_told(graph: Graph, workshop: Snapshot) -> None:
    nail = URIRef(f"{BASE}taxon/nail")
    graph.add((nail, OWL.disjointWith, URIRef(f"{BASE}taxon/fastener")))
    graph.add((nail, RDF.type, OWL.Class))
    found = {each.what: each for each in by_hermit(graph, workshop.knowledge, workshop, 2)}
    assert found["consistency"].wrong == ()
    assert f"{nail} can have none." in found["classes that can have members"].wrong
    graph.add((URIRef(f"{BASE}one"), RDF.type, nail))
    (told,) = by_hermit(graph, workshop.knowledge, workshop, 2)
    assert told.wrong == ("The ontology has no model, so that everything follows from it.",)


def test_a_verdict_that_hermit_does_not_share_is_told(graph: Graph, workshop: Snapshot, monkeypatch: pytest.MonkeyPatch) -> None:
    def hasty(snapshot: Snapshot, observations: list[Observation], *, every_rank: bool) -> Answer:
        answer = identify(snapshot, observations, Context(), every_rank=every_rank)
        return replace(answer, excluded=answer.excluded[1:])

    monkeypatch.setattr(module, "identify", hasty)
    told = list(by_hermit(graph, workshop.knowledge, workshop, 6))[-1]
    assert 0 < len(told.wrong) <= 6


def test_the_sample_is_spread_over_the_sets_and_always_the_same(trees: Snapshot) -> None:
    one = sampled(trees, 40)
    assert len(one) == 40
    assert sum(map(len, one)) > 150
    assert one == sampled(trees, 40)


def test_the_states_of_a_condition_may_be_named_in_any_order(tmp_path: Path) -> None:
    """The ontology keeps no order, so the records must not either: else a release would say something else than its tables."""
    digests = set()
    for number, states in enumerate(("flat|round", "round|flat")):
        tables = Tables()
        tables.set("characters.csv", 4, "applies_if", f"head: {states}")
        folder = tmp_path / str(number)
        folder.mkdir()
        assert main(["build", "--knowledge", str(tables.write(folder)), "--out", str(folder / "release")]) == 0
        digests.add((folder / "release" / "ontology.ttl").read_bytes())
    assert len(digests) == 1


def test_the_command_ends_with_one_if_anything_grave_is_wrong(
    workshop_tables: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert main(["check", "--full", "--knowledge", str(workshop_tables)]) == 0
    assert capsys.readouterr().out.count("nothing wrong.") >= 25
    monkeypatch.setattr(module, "through_the_ontology", lambda graph, snapshot: module.Looked("the way", 1, ("Not the same.",)))
    assert main(["check", "--full", "--knowledge", str(workshop_tables)]) == 1
    assert "the way: 1 looked at, 1 wrong.\n  Not the same." in capsys.readouterr().out
