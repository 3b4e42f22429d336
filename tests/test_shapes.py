"""The shapes hold for every record of the built ontologies, and each of their constraints has been seen to fail."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from pathlib import Path

import pytest
from pyshacl import validate
from rdflib import OWL, RDF, SH, BNode, Graph, Literal, URIRef
from rdflib.collection import Collection
from rdflib.term import Node

from lenticel import model
from lenticel.build import ontology_of
from lenticel.curation import VERDICTS
from lenticel.iris import LT
from lenticel.model import Knowledge
from lenticel.owl import write
from lenticel.quantity import UNITS
from lenticel.schema import TABLES

SHAPE = "https://w3id.org/lenticel/shapes/"
CONSTRAINTS = {
    SH.minCount, SH.maxCount, SH.datatype, SH.nodeKind, SH["class"], SH.node, SH.pattern, SH["in"], SH.minLength, SH.maxLength, SH.minInclusive,
    SH.hasValue, SH.lessThanOrEquals, SH.closed, SH["or"], SH.xone, SH["not"], SH.equals, SH.disjoint,
}  # fmt: skip
PARAMETERS_OF_OTHERS = {SH.path, SH.message, SH.property, SH.targetClass, SH.targetSubjectsOf, SH.ignoredProperties, SH.flags, RDF.type}
Seen = set[tuple[str, str]]


@pytest.fixture(scope="module")
def shapes(tables: Path) -> Graph:
    return Graph().parse(tables / "shapes.ttl")


@pytest.fixture(scope="module")
def small(workshop_tables: Path) -> Graph:
    """The workshop, with at least one record of every kind."""
    known = ontology_of(workshop_tables)[1]
    invented = model.Resolution("nail", "thread", "drawer-labels", "shop-ledger", "misprint", "Invented.", "a visitor", "2026-11-25")
    known.resolutions.setdefault(invented.id, invented)
    return write(known)


def _contextual(graph: Graph) -> Graph:
    """The same graph in a store that can hold named graphs, as pyshacl must have it."""
    return Graph() + graph


def _results(graph: Graph, shapes: Graph) -> tuple[dict[Node, Seen], str]:
    """For each node with a fault, the (shape, constraint) pairs that it breaks; and the report as text."""
    _, report, text = validate(_contextual(graph), shacl_graph=shapes, inplace=True)
    assert isinstance(report, Graph), text
    found: dict[Node, Seen] = {}
    for result in report.objects(None, SH.result):
        focus, shape = report.value(result, SH.focusNode), report.value(result, SH.sourceShape)
        component = str(report.value(result, SH.sourceConstraintComponent)).removeprefix(str(SH)).removesuffix("ConstraintComponent")
        assert focus is not None
        found.setdefault(focus, set()).add((str(shape).removeprefix(SHAPE), component[0].lower() + component[1:]))
    return found, text


def test_every_record_of_the_real_ontology_conforms(ontology: tuple[Graph, Knowledge], shapes: Graph) -> None:
    graph, knowledge = ontology
    targets = {each for kind in shapes.objects(None, SH.targetClass) for each in graph.subjects(RDF.type, kind)}
    targets |= {each for prop in shapes.objects(None, SH.targetSubjectsOf) for each in graph.subjects(prop)}
    found, text = _results(graph, shapes)
    print(f"{len(targets)} nodes validated")
    assert len(targets) > len(knowledge.statements) + len(knowledge.taxa) + len(knowledge.states)
    assert not found, text[:4000]


def test_every_record_of_the_workshop_conforms_and_the_shapes_are_well_formed(small: Graph, shapes: Graph) -> None:
    conforms, _, text = validate(_contextual(small), shacl_graph=shapes, meta_shacl=True)
    assert conforms, text[:4000]


def test_the_shapes_are_shacl_core_and_speak_of_no_body_of_knowledge_in_particular(shapes: Graph) -> None:
    words = {prop for prop in shapes.predicates() if str(prop).startswith(str(SH))}
    core = CONSTRAINTS | PARAMETERS_OF_OTHERS | {SH.zeroOrMorePath, SH.oneOrMorePath, SH.alternativePath}
    assert words <= core, "a constraint that no test below makes fail, or one that is not of SHACL Core"
    spaces = {str(each).rsplit("/", 1)[0] for triple in shapes for each in triple if isinstance(each, URIRef) and "w3id.org" in each}
    assert spaces == {SHAPE.rstrip("/"), str(LT).rstrip("/")}


@pytest.mark.parametrize(
    ("shape", "words"),
    [
        ("frequency", model.FREQUENCIES[1:]),
        ("source-kind", model.SOURCE_KINDS),
        ("rank", model.RANKS),
        ("seasons", model.SEASONS),
        ("reason-kind", model.REASONS),
        ("force", model.FORCES),
        ("quantity-kind", model.KINDS[1:]),
        ("states-kind", model.KINDS[:1]),
        ("name-kind", TABLES["names"].column("kind").choices),
        ("caution-kind", TABLES["cautions"].column("kind").choices),
        ("status", TABLES["taxa"].column("status").choices),
        ("sex", TABLES["characters"].column("sex").choices),
        ("unit", tuple(UNITS)),
        ("verdict", VERDICTS),
        ("relation", model.MATCHES),
    ],
)
def test_the_lists_of_the_shapes_are_those_of_the_tables(shapes: Graph, shape: str, words: tuple[str, ...]) -> None:
    head = shapes.value(URIRef(SHAPE + shape), SH["in"])
    assert head is not None
    assert {str(each) for each in Collection(shapes, head)} == set(words)


def test_each_constraint_of_each_shape_catches_a_record_that_breaks_it(small: Graph, shapes: Graph) -> None:
    graph, expected = Graph() + small, {}
    for place, (owner, shape, constraint) in enumerate(_constraints(shapes)):
        clone: Node = BNode() if (owner, constraint) == (shape, SH.nodeKind) else URIRef(f"urn:broken:{place}")
        for _, prop, value in small.triples((_richest(small, shapes, owner), None, None)):
            graph.add((clone, prop, value))
        _break(graph, clone, shapes, shape, constraint)
        expected[clone] = (str(shape).removeprefix(SHAPE), str(constraint).removeprefix(str(SH)))
    found, _ = _results(graph, shapes)
    missed = [pair for clone, pair in expected.items() if pair not in found.get(clone, set())]
    print(f"{len(expected)} constraints were each broken by a record of its own")
    assert len(expected) > 150
    assert not missed
    assert set(found) == set(expected), "a record that was left whole is found fault with"


def _constraints(shapes: Graph) -> Iterable[tuple[URIRef, URIRef, URIRef]]:
    """Every constraint as (node shape with a target, shape that holds it, parameter); a shared property shape counts once."""
    done: set[tuple[Node, Node]] = set()
    owners = sorted({*shapes.subjects(SH.targetClass), *shapes.subjects(SH.targetSubjectsOf)})
    for owner in owners:
        for shape in (owner, *sorted(each for each in shapes.objects(owner, SH.property))):
            for constraint in sorted(set(shapes.predicates(shape)) & CONSTRAINTS):
                if isinstance(shape, URIRef) and (shape, constraint) not in done:
                    done.add((shape, constraint))
                    yield owner, shape, constraint


def _richest(graph: Graph, shapes: Graph, owner: URIRef) -> Node:
    """The target of a shape about which the graph says most, so that most of the shape applies to it."""
    targets = {each for kind in shapes.objects(owner, SH.targetClass) for each in graph.subjects(RDF.type, kind)}
    targets |= {each for prop in shapes.objects(owner, SH.targetSubjectsOf) for each in graph.subjects(prop)}
    if owner == URIRef(f"{SHAPE}NamedValue"):
        targets = set(graph.subjects(LT.word))
    return max(sorted(targets), key=lambda each: len(set(graph.predicates(each))))


def _path(shapes: Graph, shape: Node) -> URIRef:
    """The property that a shape is about; the first one of alternatives."""
    path = shapes.value(shape, SH.path)
    for part in (SH.zeroOrMorePath, SH.alternativePath):
        path = shapes.value(path, part) or path
    return path if isinstance(path, URIRef) else next(iter(Collection(shapes, path)))  # type: ignore[arg-type, return-value]


def _break(graph: Graph, node: Node, shapes: Graph, shape: URIRef, constraint: URIRef) -> None:
    """Change a copy of a sound record so that it breaks one constraint."""
    name = str(shape).removeprefix(SHAPE)
    if name in BROKEN_BY_HAND:
        prop, values = BROKEN_BY_HAND[name]
    elif constraint == SH.closed:
        prop, values = LT.misspelt, [Literal("a column that no table has")]
    elif constraint == SH.nodeKind and shapes.value(shape, SH.path) is None:
        return  # the copy is a blank node
    elif constraint == SH["class"] and shapes.value(shape, SH.path) is None:
        prop, values = RDF.type, [OWL.NamedIndividual]
    else:
        prop, values = _path(shapes, shape), _bad_values(shapes, shape, constraint)
    graph.remove((node, prop, None))
    for value in values:
        graph.add((node, prop, value))


def _bad_values(shapes: Graph, shape: URIRef, constraint: URIRef) -> list[Node]:
    if constraint == SH.disjoint:
        return [URIRef("https://example.org/workshop/source/shop-ledger")]
    if constraint == SH.maxCount:
        return [Literal(f"value {place}") for place in range(int(str(shapes.value(shape, constraint))) + 1)]
    if constraint == SH.node and shapes.value(shape, SH.node) == URIRef(f"{SHAPE}Worrying"):
        return [Literal("The berries are Safe to eat.")]
    bad: dict[URIRef, list[Node]] = {
        SH.minCount: [],
        SH.hasValue: [],
        SH.datatype: [Literal("x", lang="en")],
        SH.nodeKind: [Literal("x")],
        SH["class"]: [URIRef("urn:unknown")],
        SH.node: [URIRef("urn:unknown")],
        SH.pattern: [Literal(" ")],
        SH["in"]: [Literal("no word of the list")],
        SH.minLength: [Literal("")],
        SH.maxLength: [Literal("a" * 81)],
        SH.minInclusive: [Literal(-1)],
        SH.lessThanOrEquals: [Literal(Decimal(10) ** 6)],
    }
    return bad[constraint]


BROKEN_BY_HAND: dict[str, tuple[URIRef, list[Node]]] = {
    "PublishedSource": (LT.kind, [Literal("book")]),
    "NamedValue": (LT.word, []),
    "ReasonedSlack": (LT.slackReason, []),
    "UnitOfKind": (LT.unit, [Literal("mo")]),
    "ConfusedWithinCharacter": (LT.confusableWith, [URIRef("https://example.org/workshop/state/head/flat")]),
}
