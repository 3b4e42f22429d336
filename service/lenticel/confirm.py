"""Justifications put to HermiT: are the axioms enough, and is none of them idle?

The axioms go to HermiT and nothing else does, each written by the writer of the ontology and so as it stands there.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from rdflib import OWL, RDF, RDFS, Graph, URIRef

from lenticel.cells import StateRegion
from lenticel.deduction import BINDING, BROADER, CELL, CONDITION, COVER, RANGE, STATE, TAXON, Axiom, Claim
from lenticel.graphs import empty_graph
from lenticel.justify import Justification
from lenticel.observation import Observation
from lenticel.owl import datatype_of
from lenticel.proof import PLANT, ObservationWriter, Reasoner
from lenticel.snapshot import Body

MEMBER = URIRef(f"{PLANT}member")


@dataclass(frozen=True, slots=True)
class Confirmed:
    """What HermiT says of a justification: whether its axioms are enough, and which of them could go."""

    sufficient: bool
    idle: tuple[Axiom, ...]


class AxiomWriter(ObservationWriter):
    """Writes single axioms as the ontology has them, and claims as classes of plants."""

    def __init__(self, graph: Graph, body: Body) -> None:
        super().__init__(graph, body.knowledge)
        self.body = body

    def axiom(self, axiom: Axiom) -> None:
        """Write one axiom, with the declarations that it needs."""
        said = {TAXON: self._below, BINDING: self._binding, CELL: self._cell, BROADER: self._broader, CONDITION: self._condition, RANGE: self._range}
        said.get(axiom.kind, self._states)(axiom)

    def plants(self, cls: str) -> URIRef:
        """A class of plants, declared."""
        taxon, _, tier = cls.partition("/")
        return self._class(self.name.taxon(taxon, tier))

    def claim(self, claim: Claim) -> tuple[str, str]:
        """Two classes of which the claim says that they have nothing in common: the plants of all its classes, and those that show what was seen."""
        self.graph.add((MEMBER, RDF.type, OWL.Class))
        for cls in claim.classes:
            self.graph.add((MEMBER, RDFS.subClassOf, self.plants(cls)))
        for key in {part.character for part in claim.parts} | ({claim.shown} - {""}):
            self._property(key)
        if claim.parts:
            return str(MEMBER), str(self.plant(0, [Observation(claim.parts)]))
        showing = URIRef(f"{PLANT}showing")
        character = self.knowledge.characters[claim.shown]
        restriction = self.node(showing, claim.shown)
        top = OWL.Thing if character.kind == "states" else datatype_of(character)
        for prop, value in ((RDF.type, OWL.Restriction), (OWL.onProperty, self._property(claim.shown)), (OWL.someValuesFrom, top)):
            self.graph.add((restriction, prop, value))
        self.graph.add((self._class(showing), RDFS.subClassOf, restriction))
        return str(MEMBER), str(showing)

    def _class(self, node: URIRef) -> URIRef:
        self.graph.add((node, RDF.type, OWL.Class))
        return node

    def _property(self, character: str) -> URIRef:
        node = self.name.record("characters", character)
        states = self.knowledge.characters[character].kind == "states"
        self.graph.add((node, RDF.type, OWL.ObjectProperty if states else OWL.DatatypeProperty))
        return node

    def _value(self, key: str) -> URIRef:
        """A state, or all values of a character."""
        return self._class(self.name.record("states", key) if "." in key else self.name.values(key))

    def _below(self, axiom: Axiom) -> None:
        self.graph.add((self.plants(axiom.subject), RDFS.subClassOf, self.plants(axiom.objects[0])))

    def _binding(self, axiom: Axiom) -> None:
        self.graph.add((self.plants(axiom.subject), RDFS.subClassOf, self._class(self.name.cell(self.body.cells[axiom.objects[0]]))))

    def _cell(self, axiom: Axiom) -> None:
        cell = self.body.cells[axiom.subject]
        node = self._class(self.name.cell(cell))
        self._property(cell.character)
        self.graph.add((node, RDFS.subClassOf, self.restriction(node, self.knowledge.characters[cell.character], OWL.allValuesFrom, cell.region)))

    def _broader(self, axiom: Axiom) -> None:
        self.graph.add((self._property(axiom.subject), RDFS.subPropertyOf, self._property(axiom.objects[0])))

    def _condition(self, axiom: Axiom) -> None:
        target, *states = axiom.objects
        self._property(target)
        node = self._property(axiom.subject)
        condition = self.restriction(node, self.knowledge.characters[target], OWL.someValuesFrom, StateRegion(tuple(states)))
        self.graph.add((node, RDFS.domain, condition))

    def _range(self, axiom: Axiom) -> None:
        root = self.knowledge.broadest(axiom.subject)
        self.graph.add((self._property(axiom.subject), RDFS.range, self._value(root)))

    def _states(self, axiom: Axiom) -> None:
        subject, objects = self._value(axiom.subject), [self._value(each) for each in axiom.objects]
        if axiom.kind == STATE:
            self.graph.add((subject, RDFS.subClassOf, objects[0]))
        elif axiom.kind == COVER:
            self.cover(subject, objects)
        else:
            self.exclude(subject, objects)


def graph_of(body: Body, axioms: Iterable[Axiom]) -> Graph:
    """The axioms as a graph."""
    graph = empty_graph()
    writer = AxiomWriter(graph, body)
    for axiom in axioms:
        writer.axiom(axiom)
    return graph


def confirm(body: Body, justification: Justification, observations: Sequence[Observation] = ()) -> Confirmed:
    """Ask HermiT whether the axioms entail what is justified, and still do with any one of them left out.

    Args:
        body: the records.
        justification: what to confirm.
        observations: what was seen, if it justifies an exclusion.

    Raises:
        ProofUnavailable: HermiT is not installed.
    """
    axioms, claim = justification.axioms, justification.claim(observations)
    idle = tuple(left_out for left_out in axioms if entails(body, [each for each in axioms if each != left_out], claim))
    return Confirmed(entails(body, axioms, claim), idle)


def entails(body: Body, axioms: Iterable[Axiom], claim: Claim) -> bool:
    """Whether HermiT derives the claim from the axioms."""
    graph = graph_of(body, axioms)
    one, other = AxiomWriter(graph, body).claim(claim)
    reasoner = Reasoner(graph)
    try:
        return reasoner.entails_not(one, other)
    finally:
        reasoner.close()
