"""The fragment of OWL for which the engine is proven: reads an ontology's axioms, and refuses every other one by name.

Held: universal restrictions on named cells, value classes in a tree of disjoint siblings with coverings, sub-properties,
one domain (`some` of states) and one range a property, closed ranges of `xsd:decimal` and `xsd:integer`. Not held:
anything functional, cardinal, inverse or transitive, existential restrictions on taxa, individuals with properties.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal

from rdflib import OWL, RDF, RDFS, XSD, BNode, Graph, Literal, URIRef
from rdflib.collection import Collection
from rdflib.term import Node

from lenticel.cells import Region, StateRegion
from lenticel.errors import OutsideFragment
from lenticel.model import Character, Knowledge
from lenticel.owl import LT, Namer
from lenticel.partition import ROOT, Partition, from_tree, of_months
from lenticel.quantity import ANY, Interval
from lenticel.records import knowledge_from

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
NODE_TYPES = {OWL.Restriction, OWL.AllDisjointClasses, RDFS.Datatype, OWL.Class, RDF.List}
NODE_PARTS = {
    OWL.onProperty,
    OWL.allValuesFrom,
    OWL.someValuesFrom,
    OWL.unionOf,
    OWL.complementOf,
    OWL.onDatatype,
    OWL.withRestrictions,
    OWL.members,
    XSD.minInclusive,
    XSD.maxInclusive,
    RDF.first,
    RDF.rest,
}


@dataclass
class Axioms:
    """The axioms of a graph, sorted by kind; `strange` collects every one that the fragment does not hold."""

    graph: Graph
    strange: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        graph = self.graph
        self.annotations = BUILT_IN_ANNOTATIONS | set(graph.subjects(RDF.type, OWL.AnnotationProperty))
        for subject, prop, value in sorted(graph):
            if prop in self.annotations:
                continue
            if prop == RDF.type:
                known = value in NODE_TYPES if isinstance(subject, BNode) else value in DECLARATIONS or self._record(subject, value)
            elif prop in (RDFS.subClassOf, RDFS.subPropertyOf, RDFS.domain, RDFS.range, OWL.equivalentClass, OWL.disjointWith):
                known = isinstance(subject, URIRef)
            else:
                known = prop in NODE_PARTS and isinstance(subject, BNode)
            if not known:
                self.refuse(subject, prop, value)

    def _record(self, subject: Node, kind: Node) -> bool:
        return (subject, RDF.type, OWL.NamedIndividual) in self.graph and (kind, RDFS.subClassOf, LT.Record) in self.graph

    def refuse(self, subject: Node, prop: Node, value: Node) -> None:
        """Note an axiom as outside the fragment."""
        self.strange.append(f"{self.short(subject)} {self.short(prop)} {self.short(value)}")

    def short(self, node: Node) -> str:
        """A node in few words: a class expression for a blank node."""
        if isinstance(node, BNode):
            inside = sorted(f"{self.short(prop)} {self.short(value)}" for prop, value in self.graph.predicate_objects(node) if prop not in (RDF.rest,))
            return f"[{'; '.join(inside)[:160]}]"
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


class Fragment:
    """The axioms of an ontology as partitions and cells.

    Raises:
        OutsideFragment: naming every axiom outside the fragment.
    """

    def __init__(self, graph: Graph) -> None:
        self.axioms = Axioms(graph)
        self.graph = graph
        self.knowledge: Knowledge = knowledge_from(graph)
        self.name = Namer(self.knowledge.about.iri)
        self.property_of = {self.name.record("characters", key): key for key in self.knowledge.characters}
        self.state_of = {self.name.record("states", key): each.id for key, each in self.knowledge.states.items()}
        self.partitions = {key: self._partition(key) for key in self.knowledge.characters if self.knowledge.characters[key].kind in ("states", "month")}
        self.cells = self._cells()
        self._check_properties()
        self._check_classes()
        if self.axioms.strange:
            raise OutsideFragment(sorted(set(self.axioms.strange)))

    def _partition(self, character: str) -> Partition:
        if self.knowledge.characters[character].kind == "month":
            span = self._data_range(self.graph.value(self.name.record("characters", character), RDFS.range))
            if len(span) != 1 or span[0].lo is None or span[0].hi is None:
                self.axioms.strange.append(f'{character} lt:kind "month" without a closed range')
                return of_months()
            return of_months(int(span[0].lo), int(span[0].hi))
        *_, root = self.knowledge.broadening(character)
        states = self.knowledge.states_of(character)
        nodes: dict[str, URIRef] = {ROOT: self.name.values(root), **{each.id: self.name.record("states", each.key) for each in states}}
        complete: list[str] = []
        for state, node in nodes.items():
            below = [nodes[each.id] for each in states if each.parent == state]
            self._siblings_exclude(below)
            for cover in self.graph.objects(node, OWL.equivalentClass):
                union = self.graph.value(cover, OWL.unionOf)
                covering = set(self.axioms.members(union)) if union is not None else {cover}
                if covering == set(below):
                    complete.append(state)
                else:
                    self.axioms.refuse(node, OWL.equivalentClass, cover)
        return from_tree({each.id: each.parent for each in states}, complete)

    def _siblings_exclude(self, below: list[URIRef]) -> None:
        said = [set(self.axioms.members(head)) for head in self.graph.objects(None, OWL.members)] if len(below) > 2 else []
        for place, one in enumerate(below):
            for other in below[place + 1 :]:
                if (one, OWL.disjointWith, other) in self.graph or (other, OWL.disjointWith, one) in self.graph or any({one, other} <= group for group in said):
                    continue
                self.axioms.strange.append(f"{self.axioms.short(one)} and {self.axioms.short(other)} are siblings that do not exclude each other")

    def _data_range(self, node: Node | None) -> list[Interval]:
        if node in (XSD.decimal, XSD.integer):
            return [ANY]
        union = self.graph.value(node, OWL.unionOf)
        if union is not None:
            return [span for member in self.axioms.members(union) for span in self._data_range(member)]
        facets = self.graph.value(node, OWL.withRestrictions)
        if facets is None or self.graph.value(node, OWL.onDatatype) not in (XSD.decimal, XSD.integer):
            raise ValueError("no range of xsd:decimal or xsd:integer")
        low: Decimal | None = None
        high: Decimal | None = None
        for facet in self.axioms.members(facets):
            for prop, value in self.graph.predicate_objects(facet):
                bound = Decimal(str(value))
                if prop == XSD.minInclusive:
                    low = bound if low is None else max(low, bound)
                elif prop == XSD.maxInclusive:
                    high = bound if high is None else min(high, bound)
                else:
                    raise ValueError("a facet other than inclusive bounds")
        return [Interval(low, high)]

    def _region(self, character: Character, filler: Node) -> Region:
        if character.kind == "states":
            allowed: list[str] = []
            denied: list[str] | None = None
            for member in self._alternatives(filler):
                inverse = self.graph.value(member, OWL.complementOf)
                if inverse is None:
                    allowed.append(self._state(character, member))
                else:
                    denied = [*(denied or []), *(self._state(character, each) for each in self._alternatives(inverse))]
            order = [each.id for each in self.knowledge.states_of(character.id)]
            return StateRegion(tuple(sorted(allowed, key=order.index)), None if denied is None else tuple(sorted(denied, key=order.index)))
        spans = self._data_range(filler)
        if character.kind == "month":
            partition = self.partitions[character.id]
            return frozenset(int(atom) for atom in partition.atoms for span in spans if span.overlaps(Interval(Decimal(atom), Decimal(atom))))
        if len(spans) != 1:
            raise ValueError("several spans of an open-ended quantity")
        return spans[0]

    def _alternatives(self, node: Node) -> list[Node]:
        union = self.graph.value(node, OWL.unionOf)
        return [node] if union is None else self.axioms.members(union)

    def _state(self, character: Character, node: Node) -> str:
        *_, root = self.knowledge.broadening(character.id)
        if not isinstance(node, URIRef) or node not in self.state_of or not str(node).startswith(f"{self.name.base}state/{root}/"):
            raise ValueError(f"no state of {character.id}")
        return self.state_of[node]

    def _cells(self) -> dict[URIRef, tuple[str, str, Region]]:
        """Every universal restriction: the class that holds it, its character and its region."""
        found: dict[URIRef, list[tuple[str, Region]]] = {}
        for subject, above in sorted(self.graph.subject_objects(RDFS.subClassOf)):
            if isinstance(above, URIRef):
                continue
            prop, filler = self.graph.value(above, OWL.onProperty), self.graph.value(above, OWL.allValuesFrom)
            try:
                if (
                    not isinstance(prop, URIRef)
                    or prop not in self.property_of
                    or filler is None
                    or not isinstance(subject, URIRef)
                    or len(list(self.graph.objects(above, OWL.allValuesFrom))) > 1
                ):
                    raise ValueError("no universal restriction on a character")
                character = self.knowledge.characters[self.property_of[prop]]
                found.setdefault(subject, []).append((character.id, self._region(character, filler)))
            except (ValueError, ArithmeticError):
                self.axioms.refuse(subject, RDFS.subClassOf, above)
        for subject, regions in found.items():
            if len(regions) > 1:
                self.axioms.strange.append(f"{self.axioms.short(subject)} holds {len(regions)} restrictions; a cell holds one")
        return {subject: (str(subject), *regions[0]) for subject, regions in found.items()}

    def _check_properties(self) -> None:
        """Every property has one range of its kind, at most one domain, and at most one broader property, of its own kind and force."""
        for prop, key in self.property_of.items():
            character = self.knowledge.characters[key]
            *_, root = self.knowledge.broadening(key)
            ranges = list(self.graph.objects(prop, RDFS.range))
            due = {"states": self.name.values(root), "measure": XSD.decimal, "count": XSD.integer}.get(character.kind)
            if len(ranges) != 1 or (due is not None and ranges[0] != due):
                self.axioms.strange.append(f"{self.axioms.short(prop)} rdfs:range is not {due}")
            domains = list(self.graph.objects(prop, RDFS.domain))
            for domain in domains:
                target = self.graph.value(domain, OWL.onProperty)
                held = self.property_of.get(target) if isinstance(target, URIRef) else None
                forces = {character.force, self.knowledge.characters[held].force} if held else set()
                if held is None or self.knowledge.characters[held].kind != "states" or forces != {"diagnostic"}:
                    self.axioms.refuse(prop, RDFS.domain, domain)
            broader = list(self.graph.objects(prop, RDFS.subPropertyOf))
            if len(domains) > 1 or len(broader) > 1:
                self.axioms.strange.append(f"{self.axioms.short(prop)} has several domains, which intersect, or several broader properties")
            for above in broader:
                other = self.knowledge.characters.get(self.property_of.get(above, "") if isinstance(above, URIRef) else "")
                if other is None or (other.kind, other.force, other.unit) != (character.kind, character.force, character.unit):
                    self.axioms.refuse(prop, RDFS.subPropertyOf, above)
        for said in (RDFS.domain, RDFS.range, RDFS.subPropertyOf):
            for subject, value in self.graph.subject_objects(said):
                if subject not in self.property_of:
                    self.axioms.refuse(subject, said, value)

    def _check_classes(self) -> None:
        """Taxa lie below taxa and cells, states below states; only sibling states exclude each other, only values are covered."""
        kinds: dict[Node, str] = {LT.Organism: "organism", LT.Value: "value", LT.Record: "record"}
        kinds |= {self.name.taxon(key, tier): "taxon" for key in self.knowledge.taxa for tier in ("", "wild", "typical")}
        kinds.update(dict.fromkeys(self.cells, "cell"))
        kinds.update(dict.fromkeys(self.state_of, "state"))
        kinds |= {self.name.values(key): "root" for key, each in self.knowledge.characters.items() if each.kind == "states"}
        kinds |= dict.fromkeys(self.graph.subjects(RDFS.subClassOf, LT.Record), "record")
        allowed = {("taxon", "taxon"), ("taxon", "organism"), ("taxon", "cell"), ("state", "state"), ("state", "root"), ("root", "value"), ("record", "record")}
        for one, above in self.graph.subject_objects(RDFS.subClassOf):
            if isinstance(above, URIRef) and (kinds.get(one), kinds.get(above)) not in allowed:
                self.axioms.refuse(one, RDFS.subClassOf, above)
        for one, cover in self.graph.subject_objects(OWL.equivalentClass):
            if kinds.get(one) not in ("state", "root"):
                self.axioms.refuse(one, OWL.equivalentClass, cover)
        groups = [[one, other] for one, other in self.graph.subject_objects(OWL.disjointWith)]
        groups += [self.axioms.members(head) for head in self.graph.objects(None, OWL.members)]
        for group in groups:
            if {kinds.get(each) for each in group} != {"state"} or len({self._parent(each) for each in group}) != 1:
                self.axioms.strange.append(f"{' and '.join(self.axioms.short(each) for each in group[:4])} are disjoint but no sibling states")

    def _parent(self, state: Node) -> Node | None:
        return self.graph.value(state, RDFS.subClassOf)
