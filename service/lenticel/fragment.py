"""The fragment of OWL for which the engine is proven: reads an ontology's axioms, and refuses every other one by name.

Held: universal restrictions on named cells, value classes in a tree of disjoint siblings with coverings, sub-properties,
one domain (`some` of states) and one range a property, closed ranges of `xsd:decimal` and `xsd:integer`. Not held:
anything functional, cardinal, inverse or transitive, existential restrictions on taxa, individuals with properties.
"""

from __future__ import annotations

import re
from decimal import Decimal
from graphlib import CycleError, TopologicalSorter

from rdflib import OWL, RDF, RDFS, XSD, Graph, Literal, URIRef
from rdflib.term import Node

from lenticel.axioms import Axioms
from lenticel.cells import Cell, Region, StateRegion
from lenticel.errors import OutsideFragment
from lenticel.iris import LT, RECORD_CLASSES, Namer
from lenticel.model import Character, Knowledge
from lenticel.owl import datatype_of
from lenticel.partition import ROOT, Partition, from_tree, of_months
from lenticel.quantity import ANY, Interval
from lenticel.records import knowledge_from

LEXICAL = {XSD.decimal: re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)"), XSD.integer: re.compile(r"[+-]?\d+")}


class Fragment:
    """The axioms of an ontology as partitions and cells.

    Raises:
        OutsideFragment: naming every axiom outside the fragment.
    """

    def __init__(self, graph: Graph) -> None:
        self.axioms = Axioms(graph)
        self._stop()  # what follows reads lists and restrictions
        self.graph = graph
        self.knowledge: Knowledge = knowledge_from(graph)
        self.name = Namer(self.knowledge.about.iri)
        self.property_of = {self.name.record("characters", key): key for key in self.knowledge.characters}
        self.state_of = {self.name.record("states", key): each.id for key, each in self.knowledge.states.items()}
        self._check_links()
        self._stop()  # what follows walks up the hierarchies
        self.partitions = {key: self._partition(key) for key in self.knowledge.characters if self.knowledge.characters[key].kind in ("states", "month")}
        self.cells = self._cells()
        self._check_properties()
        self._check_classes()
        self._stop()

    def _stop(self) -> None:
        if self.axioms.strange:
            raise OutsideFragment(sorted(set(self.axioms.strange)))

    def _check_links(self) -> None:
        """Properties lie below characters only, and nothing lies above itself or applies only if it applies."""
        graph = self.graph
        for one, above in graph.subject_objects(RDFS.subPropertyOf):
            if one not in self.property_of or above not in self.property_of:
                self.axioms.refuse(one, RDFS.subPropertyOf, above)
        classes = [pair for pair in graph.subject_objects(RDFS.subClassOf) if isinstance(pair[1], URIRef)]
        conditions = [(one, graph.value(domain, OWL.onProperty)) for one, domain in graph.subject_objects(RDFS.domain)]
        for said, pairs in (
            ("rdfs:subClassOf", classes),
            ("rdfs:subPropertyOf or rdfs:domain", [*graph.subject_objects(RDFS.subPropertyOf), *conditions]),
        ):
            above_of: dict[Node, set[Node]] = {}
            for one, other in pairs:
                if other is not None:
                    above_of.setdefault(one, set()).add(other)
            try:
                TopologicalSorter(above_of).prepare()
            except CycleError as error:
                self.axioms.strange.append(f"{said} runs in a circle: {', '.join(self.axioms.short(each) for each in error.args[1])}")

    def _partition(self, character: str) -> Partition:
        if self.knowledge.characters[character].kind == "month":
            try:
                span = self._data_range(self.graph.value(self.name.record("characters", character), RDFS.range), XSD.integer)
            except ValueError:
                span = []
            if len(span) != 1 or span[0].lo is None or span[0].hi is None:
                self.axioms.strange.append(f'{character} lt:kind "month" without a closed range')
                return of_months()
            return of_months(int(span[0].lo), int(span[0].hi))
        root = self.knowledge.broadest(character)
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

    def _data_range(self, node: Node | None, datatype: URIRef) -> list[Interval]:
        if node == datatype:
            return [ANY]
        union = self.graph.value(node, OWL.unionOf)
        if union is not None:
            return [span for member in self.axioms.members(union) for span in self._data_range(member, datatype)]
        facets = self.graph.value(node, OWL.withRestrictions)
        if facets is None or self.graph.value(node, OWL.onDatatype) != datatype:
            raise ValueError(f"no range of {datatype}")
        low: Decimal | None = None
        high: Decimal | None = None
        for facet in self.axioms.members(facets):
            for prop, value in self.graph.predicate_objects(facet):
                if not isinstance(value, Literal) or value.datatype != datatype or not LEXICAL[datatype].fullmatch(str(value)):
                    raise ValueError(f"a bound that is no {datatype}")
                bound = Decimal(str(value))
                if prop == XSD.minInclusive:
                    low = bound if low is None else max(low, bound)
                else:
                    high = bound if high is None else min(high, bound)
        if low is not None and high is not None and low > high:
            raise ValueError("a range without a value")
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
        spans = self._data_range(filler, datatype_of(character))
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
        root = self.knowledge.broadest(character.id)
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
                taxon = str(subject).removeprefix(f"{self.name.base}cell/").split("/")[0]
                tier = "typical" if subject.endswith("/typical") else "hard"
                if taxon not in self.knowledge.taxa or subject != self.name.cell(Cell(taxon, character.id, tier, ANY, ())):
                    raise ValueError("no cell of this character")
                region = self._region(character, filler)
                found.setdefault(subject, []).append((character.id, region))
            except (ValueError, ArithmeticError):
                self.axioms.refuse(subject, RDFS.subClassOf, above)
        for subject, regions in found.items():
            if len(regions) > 1:
                self.axioms.strange.append(f"{self.axioms.short(subject)} holds {len(regions)} restrictions; a cell holds one")
        return {subject: (str(subject), *regions[0]) for subject, regions in found.items()}

    def _check_properties(self) -> None:
        """A property is of one sort, has one range of its kind, at most one domain, and at most one broader property, of its own kind and force."""
        for prop, key in self.property_of.items():
            character = self.knowledge.characters[key]
            root = self.knowledge.broadest(key)
            sort = OWL.ObjectProperty if character.kind == "states" else OWL.DatatypeProperty
            for declared in set(self.graph.objects(prop, RDF.type)) - {sort}:
                self.axioms.refuse(prop, RDF.type, declared)
            ranges = list(self.graph.objects(prop, RDFS.range))
            due = {"states": self.name.values(root), "measure": XSD.decimal, "count": XSD.integer}.get(character.kind)
            if len(ranges) != 1 or (due is not None and ranges[0] != due):
                self.axioms.strange.append(f"{self.axioms.short(prop)} rdfs:range is not {due}")
            domains = list(self.graph.objects(prop, RDFS.domain))
            for domain in domains:
                target = self.graph.value(domain, OWL.onProperty)
                held = self.property_of.get(target) if isinstance(target, URIRef) else None
                forces = {character.force, self.knowledge.characters[held].force} if held else set()
                if held is None or self.knowledge.characters[held].kind != "states" or forces != {"diagnostic"} or not self._affirms(held, domain):
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

    def _affirms(self, character: str, condition: Node) -> bool:
        """Whether the condition asks for some of the character's states, and denies none."""
        filler = self.graph.value(condition, OWL.someValuesFrom)
        try:
            region = self._region(self.knowledge.characters[character], filler) if filler is not None else None
        except ValueError:
            return False
        return isinstance(region, StateRegion) and region.denied is None

    def _check_classes(self) -> None:
        """Taxa lie below taxa and cells, states below states; only sibling states exclude each other, only values are covered."""
        known, name = self.knowledge, self.name
        kinds: dict[Node, str] = {name.record("states", key): "state" for key in known.states}
        kinds |= {name.values(key): "root" for key, each in known.characters.items() if each.kind == "states"}
        due = self._due_superclasses()
        tiers: dict[Node, str] = {name.taxon(key, tier): tier for key in known.taxa for tier in ("", "wild", "typical")}
        for one, above in self.graph.subject_objects(RDFS.subClassOf):
            if isinstance(above, URIRef) and above not in due.get(one, ()) and (above not in self.cells or self._tier(above) != tiers.get(one)):
                self.axioms.refuse(one, RDFS.subClassOf, above)
        for one, cover in self.graph.subject_objects(OWL.equivalentClass):
            if kinds.get(one) not in ("state", "root"):
                self.axioms.refuse(one, OWL.equivalentClass, cover)
        groups = [[one, other] for one, other in self.graph.subject_objects(OWL.disjointWith)]
        groups += [self.axioms.members(head) for head in self.graph.objects(None, OWL.members)]
        for group in groups:
            if {kinds.get(each) for each in group} != {"state"} or len({self._parent(each) for each in group}) != 1 or len(set(group)) != len(group):
                self.axioms.strange.append(f"{' and '.join(self.axioms.short(each) for each in group[:4])} are disjoint but no sibling states")

    def _tier(self, cell: URIRef) -> str:
        """The tier of the taxa that a cell binds: circumstantial characters bind wild plants only."""
        character = self.knowledge.characters[self.cells[cell][1]]
        return "typical" if cell.endswith("/typical") else "wild" if character.force == "circumstantial" else ""

    def _due_superclasses(self) -> dict[Node, set[URIRef]]:
        """Each class with the named classes, cells apart, that it may lie directly below."""
        known, name = self.knowledge, self.name
        due: dict[Node, set[URIRef]] = {each: {LT.Record} for each in RECORD_CLASSES.values()}
        for key, taxon in known.taxa.items():
            due[name.taxon(key)] = {name.taxon(taxon.parent) if taxon.parent else LT.Organism}
            due[name.taxon(key, "wild")] = {name.taxon(key), *([name.taxon(taxon.parent, "wild")] if taxon.parent else [])}
            due[name.taxon(key, "typical")] = {name.taxon(key, "wild")}
        for key, character in known.characters.items():
            if character.kind == "states":
                due[name.values(key)] = {LT.Value}
        for key, state in known.states.items():
            due[name.record("states", key)] = {name.record("states", f"{state.character}.{state.parent}") if state.parent else name.values(state.character)}
        return due

    def _parent(self, state: Node) -> Node | None:
        return self.graph.value(state, RDFS.subClassOf)
