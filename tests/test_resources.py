"""What is written of one thing alone: all of it together is the ontology, and every format says the same."""

from __future__ import annotations

import gzip
import json
from hashlib import sha256
from itertools import chain
from pathlib import Path
from typing import Any

import pyoxigraph as ox
import pytest
from rdflib import OWL, Dataset, Graph, URIRef
from rdflib.compare import isomorphic, to_canonical_graph

from lenticel import owl
from lenticel.context import ADDRESS, context_text, terms
from lenticel.dataset import write_dataset
from lenticel.inferred import graphs_of
from lenticel.iris import IN_AXIOMS, LT, UNWRITTEN, predicate
from lenticel.paths import VOCABULARY, Place, address_of, path_of, places_of
from lenticel.resources import Resources
from lenticel.schema import TABLES
from lenticel.serialise import as_json_ld, serialised
from lenticel.snapshot import Snapshot

FORMS = {"turtle": "turtle", "nt": "nt", "xml": "xml", "json-ld": "json-ld"}


@pytest.fixture(scope="module")
def places(snapshot: Snapshot) -> dict[str, Place]:
    return places_of(snapshot.knowledge, snapshot.body.cells)


@pytest.fixture(scope="module")
def resources(snapshot: Snapshot) -> Resources:
    return Resources(snapshot)


def sample(places: dict[str, Place], each_table: int) -> list[Place]:
    """The same few of every table and part each time."""
    found: dict[tuple[str, str], list[Place]] = {}
    for path in sorted(places, key=lambda path: sha256(path.encode()).digest()):
        found.setdefault((places[path].table, places[path].part), []).append(places[path])
    return [place for rows in found.values() for place in rows[:each_table]]


def written(graph: Graph, form: str) -> bytes:
    return as_json_ld(graph, json.loads(context_text())["@context"], ADDRESS) if form == "json-ld" else serialised(graph, form)


def read_back(data: bytes, form: str) -> Graph:
    if form == "json-ld":
        told: dict[str, Any] = json.loads(data)
        assert told["@context"] == ADDRESS
        data = json.dumps({**told, **json.loads(context_text())}).encode()
    return Dataset().parse(data=data, format=form).default_graph


def test_the_descriptions_of_all_things_together_are_the_ontology(whole_graph: Graph, places: dict[str, Place], resources: Resources) -> None:
    parts = set(chain.from_iterable(map(resources.describe, places.values())))
    for word in resources.words:
        if (URIRef(VOCABULARY + word), None, None) in whole_graph:  # the words of inferred graphs are none of the ontology's
            parts.update(resources.describe_term(word))
    for triple in owl.vocabulary():
        if not str(triple[0]).startswith(VOCABULARY) and triple[0] != URIRef(VOCABULARY.rstrip("/")):
            parts.add(triple)  # the words of other vocabularies, which open at home
    assert len(whole_graph) > 500
    assert parts ^ set(whole_graph) == set()


def test_what_is_inferred_opens_and_says_what_its_graph_says(snapshot: Snapshot, resources: Resources) -> None:
    whole: dict[str, set[Any]] = {}
    for graph in graphs_of(snapshot).values():
        for triple in graph:
            whole.setdefault(str(triple[0]).removeprefix(resources.name.base), set()).add(triple)
    paths = {path for path in whole if path.startswith(("pair/", "trait/"))}
    assert paths == {path for path, place in resources.further.items() if place.table in ("pairs", "traits")}
    for place in sample(resources.further, 40):
        if place.table in ("pairs", "traits"):
            assert set(resources.describe(place)) == whole[path_of(place.table, place.key)]


def test_every_name_in_the_dataset_opens(snapshot: Snapshot, places: dict[str, Place], resources: Resources, whole_graph: Graph, tmp_path: Path) -> None:
    write_dataset(snapshot, tmp_path / "dataset.nq.gz", whole_graph)
    store = ox.Store()
    with gzip.open(tmp_path / "dataset.nq.gz") as file:
        store.load(file.read(), format=ox.RdfFormat.N_QUADS)
    named = {each.value for quad in store for each in quad if isinstance(each, ox.NamedNode)}
    below = {each.partition("#")[0].removeprefix(resources.name.base) for each in named if each.startswith(resources.name.base)}
    assert below - set(places) - set(resources.further) - {""} == set()
    words = {each.removeprefix(VOCABULARY) for each in named if each.startswith(VOCABULARY)}
    assert words - set(resources.words) <= {""}


def test_everything_with_an_iri_of_the_knowledge_has_a_place(snapshot: Snapshot, whole_graph: Graph, places: dict[str, Place]) -> None:
    iri = snapshot.knowledge.about.iri
    named = {str(each) for triple in whole_graph for each in triple if isinstance(each, URIRef) and str(each).startswith(iri)}
    assert {each.removeprefix(iri) for each in named} - {""} <= set(places)
    assert all(URIRef(iri + path) for path in places)


@pytest.mark.parametrize("form", FORMS)
def test_every_format_says_the_same(resources: Resources, places: dict[str, Place], form: str) -> None:
    for place in sample(places, 4):
        graph = resources.describe(place)
        assert len(graph) >= 2, place
        assert isomorphic(to_canonical_graph(read_back(written(graph, form), form)), to_canonical_graph(graph)), place


@pytest.mark.parametrize("form", FORMS)
def test_the_same_thing_gives_the_same_bytes(snapshot: Snapshot, places: dict[str, Place], form: str) -> None:
    for place in sample(places, 1):
        assert written(Resources(snapshot).describe(place), form) == written(Resources(snapshot).describe(place), form)


def test_json_ld_names_every_column_as_the_api_does() -> None:
    terms = json.loads(context_text())["@context"]
    columns = {(table.name, column.name) for table in TABLES.values() if table.name not in UNWRITTEN | {"about"} for column in table.columns} - IN_AXIOMS
    assert len(columns) > 60
    for table, column in columns - {("states", "label")}:
        term = terms[column]
        prefix, _, rest = (term if isinstance(term, str) else term["@id"]).partition(":")
        assert terms[prefix] + rest == str(predicate(table, column)), (table, column)


def test_the_context_is_frozen() -> None:
    """Whoever kept an answer must be able to read it for ever: what changes is a new version beside this one."""
    assert sha256(context_text("v1.jsonld").encode()).hexdigest() == "614845052534370232d64556dd05bad81c28af03703b44c87716a16451e1e524"
    assert terms("v1.jsonld").items() <= terms("v2.jsonld").items()


def test_a_word_of_the_vocabulary_is_described_and_no_other(resources: Resources) -> None:
    assert (LT.Statement, None, OWL.Class) in resources.describe_term("Statement")
    assert len(resources.describe_term("")) > 3
    assert not resources.describe_term("nothing-of-the-sort")


def test_an_address_is_the_path_of_the_iri() -> None:
    assert address_of("https://example.org/a/", "states", "head.flat") == "/a/state/head/flat"
