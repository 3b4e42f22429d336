"""The compiler refuses, by name, every axiom outside the fragment for which the engine is proven."""

from __future__ import annotations

import signal
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
from rdflib import OWL, RDF, RDFS, Graph, Literal, URIRef

from lenticel.build import ontology_of
from lenticel.compiler import compile_graph
from lenticel.errors import OutsideFragment
from lenticel.iris import LT
from tests.planted import BASE, PLANTED, PREFIXES

SECONDS = 5


@contextmanager
def _within(seconds: int) -> Iterator[None]:
    """Fail instead of hanging: a circle that the compiler walks round for ever is a fault too."""

    def stop(*_: object) -> None:
        raise AssertionError(f"the compiler did not end within {seconds} s")

    before = signal.signal(signal.SIGALRM, stop)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


@pytest.fixture(scope="module")
def sound(workshop_tables: Path) -> Graph:
    return ontology_of(workshop_tables)[0]


def _copy(graph: Graph) -> Graph:
    copy = Graph(namespace_manager=graph.namespace_manager)
    for triple in graph:
        copy.add(triple)
    return copy


def _named(graph: Graph, words: Iterable[str]) -> bool:
    """Whether the compiler refuses the graph, in one line with all the words."""
    with _within(SECONDS), pytest.raises(OutsideFragment) as caught:
        compile_graph(graph)
    print("\n".join(caught.value.axioms))
    return any(all(word in line for word in words) for line in caught.value.axioms)


@pytest.mark.parametrize("name", PLANTED)
def test_the_compiler_refuses_and_names(sound: Graph, name: str) -> None:
    axioms, words = PLANTED[name]
    graph = _copy(sound)
    graph.parse(data=PREFIXES + axioms, format="turtle")
    assert _named(graph, words)


def test_the_sound_ontology_compiles_and_at_least_a_hundred_axioms_were_planted(sound: Graph) -> None:
    assert compile_graph(_copy(sound)).taxa_count == 10
    print(f"{len(PLANTED)} planted axioms")
    assert len(PLANTED) >= 100


@pytest.mark.parametrize(
    ("subject", "prop", "words"),
    [
        ("state/drive/cross-plain", OWL.disjointWith, ("cross-plain", "cross-ribbed", "do not exclude each other")),
        ("character/turns", RDFS.range, ("character/turns", "range")),
        ("character/head", RDFS.range, ("character/head", "range")),
        ("character/stocked", RDFS.range, ("stocked", "range")),
        ("ontology", RDF.type, ("header",)),
        ("", OWL.withRestrictions, ("owl:onDatatype", "no class, data range or list")),
        ("", OWL.allValuesFrom, ("cell/", "no class, data range or list")),
    ],
)
def test_an_axiom_that_lost_a_part_is_refused(sound: Graph, subject: str, prop: URIRef, words: tuple[str, ...]) -> None:
    graph = _copy(sound)
    found = sorted(graph.triples((URIRef(BASE + subject) if subject else None, prop, None)))
    assert found
    graph.remove(found[0])
    assert _named(graph, words)


def test_a_list_of_disjoint_classes_that_lost_its_type_is_refused(sound: Graph) -> None:
    graph = _copy(sound)
    graph.remove((None, RDF.type, OWL.AllDisjointClasses))
    assert _named(graph, ("owl:members", "no class, data range or list"))


def test_a_second_header_is_refused(sound: Graph) -> None:
    graph = _copy(sound)
    graph.add((URIRef(f"{BASE}other"), RDF.type, OWL.Ontology))
    assert _named(graph, ("workshop/other",))


def test_a_force_that_the_axioms_do_not_bear_out_is_refused(sound: Graph) -> None:
    graph = _copy(sound)
    graph.set((URIRef(f"{BASE}character/drawer"), LT.force, Literal("diagnostic")))
    assert _named(graph, ("taxon/nail/wild", "cell/nail/drawer"))


def test_annotations_are_no_axioms_and_change_nothing_that_is_compiled(sound: Graph) -> None:
    graph = _copy(sound)
    graph.parse(
        data=PREFIXES
        + """<seen-by> a owl:AnnotationProperty ; rdfs:label "seen by" .
        <taxon/rivet> <seen-by> "a visitor" ; rdfs:seeAlso <http://example.org/rivet> ; rdfs:comment "Invented." .
        <cell/rivet/head> <seen-by> <source/shop-ledger> .""",
        format="turtle",
    )
    before, after = compile_graph(_copy(sound)), compile_graph(graph)
    assert before.layout == after.layout
    for name in ("hard", "typical", "known", "ranges"):
        assert np.array_equal(getattr(before, name), getattr(after, name))
