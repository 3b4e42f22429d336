"""The axioms of an ontology as they stand in its graph: which triples are annotations, which have a form that can be read at all."""

from __future__ import annotations

from dataclasses import dataclass, field

from rdflib import OWL, RDF, RDFS, XSD, BNode, Graph, Literal, URIRef
from rdflib.collection import Collection
from rdflib.term import Node

from lenticel.iris import LT

BUILT_IN_ANNOTATIONS = {
    RDFS.label,
    RDFS.comment,
    RDFS.seeAlso,
    RDFS.isDefinedBy,
    OWL.versionInfo,
    OWL.deprecated,
    OWL.versionIRI,
    OWL.priorVersion,
}
DECLARATIONS = {OWL.Ontology, OWL.Class, OWL.ObjectProperty, OWL.DatatypeProperty, OWL.AnnotationProperty, OWL.NamedIndividual}
# What a blank node may be made of, each part once, and the types that it must then have (none where the type may be left out).
FORMS: dict[frozenset[URIRef], set[URIRef]] = {
    frozenset({OWL.onProperty, OWL.allValuesFrom}): {OWL.Restriction},
    frozenset({OWL.onProperty, OWL.someValuesFrom}): {OWL.Restriction},
    frozenset({OWL.unionOf}): {OWL.Class, RDFS.Datatype},
    frozenset({OWL.complementOf}): {OWL.Class},
    frozenset({OWL.onDatatype, OWL.withRestrictions}): {RDFS.Datatype},
    frozenset({OWL.members}): {OWL.AllDisjointClasses},
    frozenset({XSD.minInclusive}): set(),
    frozenset({XSD.maxInclusive}): set(),
    frozenset({RDF.first, RDF.rest}): {RDF.List},
}
UNTYPED = {frozenset({XSD.minInclusive}), frozenset({XSD.maxInclusive}), frozenset({RDF.first, RDF.rest})}
RESERVED = tuple(str(space) for space in (OWL, RDF, RDFS, XSD))


@dataclass
class Axioms:
    """The axioms of a graph, sorted by kind; `strange` collects every one that the fragment does not hold."""

    graph: Graph
    strange: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        graph = self.graph
        declared = set(graph.subjects(RDF.type, OWL.AnnotationProperty))
        taken = {each for each in declared - BUILT_IN_ANNOTATIONS if str(each).startswith(RESERVED)}
        for each in sorted(taken, key=str):
            self.refuse(each, RDF.type, OWL.AnnotationProperty)
        self.annotations = BUILT_IN_ANNOTATIONS | declared - taken
        for subject, prop, value in graph:
            if prop in self.annotations or isinstance(subject, BNode):
                continue
            if prop == RDF.type:
                known = value in DECLARATIONS or self._record(subject, value)
            else:
                known = prop in (RDFS.subClassOf, RDFS.subPropertyOf, RDFS.domain, RDFS.range, OWL.equivalentClass, OWL.disjointWith)
            if not known:
                self.refuse(subject, prop, value)
        for node in {each for each in graph.subjects() if isinstance(each, BNode)}:
            self._check_form(node)

    def _check_form(self, node: BNode) -> None:
        """A blank node says one thing: two restrictions, unions or bounds in one node have no single meaning."""
        parts = [prop for prop in self.graph.predicates(node) if prop != RDF.type and prop not in self.annotations]
        form, types = frozenset(part for part in parts if isinstance(part, URIRef)), set(self.graph.objects(node, RDF.type))
        if len(form) != len(parts) or form not in FORMS or not types <= FORMS[form] or not (types or form in UNTYPED):
            self.strange.append(f"{self._holder(node)}{self.short(node)} is no class, data range or list of the fragment")

    def _holder(self, node: Node) -> str:
        """The beginning of the axiom that a blank node stands in, or "" if it stands alone."""
        seen: set[Node] = set()
        prop: Node | None = None
        while isinstance(node, BNode) and node not in seen:
            seen.add(node)
            above = min(self.graph.subject_predicates(node), default=None)
            if above is None:
                break
            node, prop = above
        return f"{self.short(node)} {self.short(prop)} ... " if prop is not None and isinstance(node, URIRef) else ""

    def _record(self, subject: Node, kind: Node) -> bool:
        return (subject, RDF.type, OWL.NamedIndividual) in self.graph and (kind, RDFS.subClassOf, LT.Record) in self.graph

    def refuse(self, subject: Node, prop: Node, value: Node) -> None:
        """Note an axiom as outside the fragment."""
        self.strange.append(f"{self.short(subject)} {self.short(prop)} {self.short(value)}")

    def short(self, node: Node) -> str:
        """A node in few words: a class expression for a blank node."""
        if isinstance(node, BNode):
            inside = sorted(f"{self.short(prop)} {self.short(value)}" for prop, value in self.graph.predicate_objects(node) if prop not in (RDF.rest,))
            return f"[{'; '.join(inside)[:400]}]"
        return node.n3(self.graph.namespace_manager) if isinstance(node, (URIRef, Literal)) else str(node)

    def members(self, head: Node) -> list[Node]:
        """The items of an RDF list."""
        return list(Collection(self.graph, head))

    def superclasses(self, cls: Node) -> list[URIRef]:
        """The named superclasses of a class, itself first, without repetition."""
        found: dict[Node, None] = {cls: None}
        waiting = [cls]
        while waiting:
            for above in sorted(self.graph.objects(waiting.pop(), RDFS.subClassOf), key=str):
                if isinstance(above, URIRef) and above not in found:
                    found[above] = None
                    waiting.append(above)
        return [each for each in found if isinstance(each, URIRef)]
