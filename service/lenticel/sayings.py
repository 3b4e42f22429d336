"""What each triple of an ontology says, so that two ontologies can be held against each other whoever wrote them and under whatever blank nodes."""

from __future__ import annotations

from itertools import combinations
from typing import Any

from rdflib import OWL, RDF, RDFS, XSD, BNode, Graph, Literal
from rdflib.term import Node

from lenticel.iris import LT

Said = tuple[Any, ...]
Triple = tuple[Node, Node, Node]
NUMBERS = frozenset({XSD.decimal, XSD.integer, XSD.boolean})
ORDER, TYPE, BUILT_IN = str(LT.order), str(RDF.type), str(XSD)
DISJOINT = frozenset({str(OWL.members), str(OWL.disjointWith)})
PLAIN = frozenset({XSD.string, RDF.PlainLiteral})


def sayings(graph: Graph) -> dict[Said, Triple]:
    """Each axiom and annotation by what it says, blank nodes by what they hold; the order of rows and of list items is left out."""
    contents = _Contents(graph)
    found: dict[Said, Triple] = {}
    blank: list[Triple] = []
    inside: set[Node] = set()
    for triple in graph:
        subject, prop, value = triple
        name = str(prop)
        if name == ORDER:
            continue
        if type(value) is BNode:
            inside.add(value)
        if type(subject) is BNode:
            if name != TYPE:
                blank.append(triple)
        elif name != TYPE or value != RDFS.Datatype or not str(subject).startswith(BUILT_IN):  # the OWL API declares the built-in datatypes
            found |= dict.fromkeys(contents.said(triple), triple)
    for triple in blank:
        if triple[0] not in inside:
            found |= dict.fromkeys(contents.said(triple), triple)
    return found


class _Contents:
    """What the nodes of a graph hold: an IRI itself, a literal its value, a blank node all that is said of it."""

    def __init__(self, graph: Graph) -> None:
        self.graph = graph

    def said(self, triple: Triple) -> list[Said]:
        """What a triple says; of disjoint classes each pair, since editors write pairs for lists, and either class first."""
        subject, prop, value = triple
        if str(prop) not in DISJOINT:
            return [(self.of(subject), str(prop), self.of(value))]
        classes = self.graph.items(value) if prop == OWL.members else (subject, value)
        return [("disjoint", *pair) for pair in combinations(sorted(map(self.of, classes), key=repr), 2)]

    def of(self, node: Node) -> Any:
        """A name as a string, all else as a tuple; parts in an order that hangs on what they say."""
        if type(node) is Literal:
            return _literal(node)
        if type(node) is not BNode:
            return str(node)
        parts = list(self.graph.predicate_objects(node))
        if any(prop == RDF.first for prop, _ in parts):
            return ("list", *sorted((self.of(each) for each in self.graph.items(node)), key=repr))
        return ("node", *sorted(((str(prop), self.of(value)) for prop, value in parts if prop != RDF.type), key=repr))


def _literal(literal: Literal) -> Said:
    """A literal by its value: some editors type plain text as `xsd:string` or `rdf:PlainLiteral`, and numbers can be spelled in several ways."""
    kind = literal.datatype
    if kind is None or kind in PLAIN:
        return ("literal", "", str(literal.language), str(literal))
    return ("literal", str(kind), str(literal.language), literal.value if kind in NUMBERS else str(literal))
