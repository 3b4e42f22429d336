"""The dataset: the same bytes each time, no triple twice, and everything inferred as the functions say it."""

from __future__ import annotations

import gzip
from itertools import combinations
from pathlib import Path

import pyoxigraph as ox
import pytest
from rdflib import Graph

from lenticel.build import ontology_of
from lenticel.compare import compare
from lenticel.dataset import write_dataset
from lenticel.errors import BadRelease
from lenticel.identify import Context, identify
from lenticel.model import SEASONS, Knowledge
from lenticel.observation import Reader, read_observations
from lenticel.paths import path_of
from lenticel.prefixes import prefixes_of
from lenticel.quadstore import make, stored
from lenticel.snapshot import Snapshot


def lines(path: Path) -> list[str]:
    return gzip.decompress(path.read_bytes()).decode().splitlines()


def test_the_same_knowledge_gives_the_same_bytes_in_order(workshop: Snapshot, workshop_dataset: Path, tmp_path: Path, workshop_tables: Path) -> None:
    write_dataset(workshop, tmp_path / "again.nq.gz", ontology_of(workshop_tables)[0])
    assert (tmp_path / "again.nq.gz").read_bytes() == workshop_dataset.read_bytes()
    found = lines(workshop_dataset)
    assert found == sorted(found)
    assert len(found) > 500


@pytest.mark.parametrize("kind", ["workshop", "trees"])
def test_no_triple_is_in_two_graphs(kind: str, request: pytest.FixtureRequest) -> None:
    """So that all graphs seen as one count each triple once."""
    with gzip.open(request.getfixturevalue(f"{kind}_dataset")) as file:
        triples = [quad.triple for quad in ox.parse(file.read(), format=ox.RdfFormat.N_QUADS)]
    assert len(set(triples)) == len(triples) > 500


def test_the_stated_graphs_are_the_ontology(workshop: Snapshot, workshop_tables: Path, workshop_dataset: Path) -> None:
    base = workshop.knowledge.about.iri
    stated = {ox.NamedNode(f"{base}ontology/{part}") for part in ("terms", "statements")}
    with gzip.open(workshop_dataset) as file:
        quads = [quad for quad in ox.parse(file.read(), format=ox.RdfFormat.N_QUADS) if quad.graph_name in stated]
    ontology = Graph()
    for triple in ontology_of(workshop_tables)[0]:
        ontology.add(triple)
    assert len(quads) == len(ontology) > 300
    written = Graph().parse(data=ox.serialize([quad.triple for quad in quads], format=ox.RdfFormat.N_TRIPLES), format="nt")
    named = [[triple for triple in graph if "BNode" not in repr(triple)] for graph in (written, ontology)]
    assert set(named[0]) == set(named[1])


def rows(store: Path, knowledge: Knowledge, query: str) -> list[list[str]]:
    found = ox.Store.read_only(str(store)).query(query, prefixes=prefixes_of(knowledge.about), base_iri=knowledge.about.iri, use_default_graph_as_union=True)
    return [[row[place].value.removeprefix(knowledge.about.iri) for place in range(len(found.variables))] for row in found]  # type: ignore[union-attr, index, misc]


PARTED = """SELECT ?one ?other ?force ?key {
  ?p a lt:Pair ; lt:taxa ?one, ?other .
  { ?p lt:partedBy ?key BIND("decisive" AS ?force) } UNION { ?p lt:usuallyPartedBy ?key BIND("typical" AS ?force) }
}"""
FORCES = {"decisive", "typical"}
IN_SEASON = "SELECT ?one ?other ?how ?season { ?p a lt:Pair ; lt:taxa ?one, ?other ; ?how ?season . FILTER(isLiteral(?season)) }"


def test_pairs_are_parted_as_compare_says(trees: Snapshot, trees_store: Path) -> None:
    known = trees.knowledge
    parted: dict[tuple[str, str], set[tuple[str, str]]] = {}
    for one, other, force, key in rows(trees_store, known, PARTED):
        parted.setdefault((one, other), set()).add((force, key))
    seasons = {tuple(row) for row in rows(trees_store, known, IN_SEASON)}
    looked = 0
    for one, other in combinations(known.terminal[::9], 2):
        pair = (path_of("taxa", one), path_of("taxa", other))
        told = compare(trees, [one, other])
        assert {(each.force, path_of("characters", each.character)) for each in told.separators if each.force in FORCES} == parted.get(pair, set())
        for season in SEASONS:
            forces = {each.force for each in compare(trees, [one, other], season=season).separators} & FORCES
            how = "partedIn" if "decisive" in forces else "usuallyPartedIn" if forces else "alikeIn"
            assert (*pair, f"https://w3id.org/lenticel/vocabulary/{how}", season) in seasons
        looked += 1
    assert looked >= 50


def test_states_exclude_what_identify_excludes(trees: Snapshot, trees_store: Path) -> None:
    known, reader = trees.knowledge, Reader(trees)
    told: dict[str, set[str]] = {}
    for state, taxon in rows(trees_store, known, "SELECT ?s ?t { ?s lt:excludes|lt:excludesWild ?t }"):
        told.setdefault(state, set()).add(taxon)
    looked = 0
    for key, state in list(known.states.items())[::5]:
        wild = known.characters[state.character].force == "circumstantial"
        answer = identify(trees, read_observations(reader, [(state.character, state.id)]), Context(wild))
        assert told.get(path_of("states", key), set()) == {path_of("taxa", each.taxon) for each in answer.excluded}, key
        looked += 1
    assert looked >= 60


def test_traits_hold_what_the_ranks_above_bring(trees: Snapshot, trees_store: Path) -> None:
    """An inherited state excludes as an own one: a state that no trait may show is one that excludes the taxon."""
    known = trees.knowledge
    may = {tuple(row) for row in rows(trees_store, known, "SELECT ?t ?s { ?trait a lt:Trait ; lt:taxon ?t ; lt:mayShow ?s }")}
    out = {(taxon, state) for state, taxon in rows(trees_store, known, "SELECT ?s ?t { ?s lt:excludes ?t }")}
    assert len(may) > 5000
    assert not may & out
    inherited = rows(trees_store, known, "SELECT ?t ?c { ?trait lt:inherited true ; lt:taxon ?t ; lt:character ?c } LIMIT 300")
    assert len(inherited) > 50
    for taxon, character in inherited:
        assert not known.statements_on(taxon.removeprefix("taxon/"), character.removeprefix("character/"))


def test_a_store_is_made_once_and_whole(workshop_dataset: Path, tmp_path: Path) -> None:
    told: list[str] = []
    first = stored(workshop_dataset, tmp_path, told.append)
    before = first.stat().st_mtime_ns
    assert stored(workshop_dataset, tmp_path, told.append) == first
    assert told == [f"The dataset for queries is laid out in {tmp_path}; this takes some seconds, once for each version of the knowledge."]
    assert first.stat().st_mtime_ns == before
    assert [each.name for each in tmp_path.iterdir()] == [first.name]


def test_a_damaged_dataset_makes_no_store(workshop_dataset: Path, tmp_path: Path) -> None:
    cut = tmp_path / "cut.nq.gz"
    cut.write_bytes(workshop_dataset.read_bytes()[:-2000])
    with pytest.raises(BadRelease):
        stored(cut, tmp_path / "cache")
    assert list((tmp_path / "cache").iterdir()) == []
    with pytest.raises(BadRelease):
        stored(tmp_path / "none.nq.gz", tmp_path / "cache")


def test_whoever_comes_second_keeps_the_first_store(workshop_dataset: Path, tmp_path: Path) -> None:
    make(workshop_dataset, tmp_path / "store")
    make(workshop_dataset, tmp_path / "store")
    assert [each.name for each in tmp_path.iterdir()] == ["store"]
