"""From knowledge to an OWL 2 DL ontology: the axioms are the meaning, the annotations say on whose word.

Only these constructs are written (DEVELOPERS.md, "The fragment"): universal restrictions on cells, value classes in a
tree with disjoint siblings and coverings, sub-properties, one domain and one range a property, closed ranges of
`xsd:decimal` and `xsd:integer`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from functools import cache
from typing import Any

from rdflib import OWL, RDF, RDFS, XSD, BNode, Graph, Literal, URIRef
from rdflib.namespace import DCTERMS, PROV, SKOS, VANN
from rdflib.term import Node

from lenticel.cells import Cell, Region, StateRegion, cells_of
from lenticel.graphs import empty_graph
from lenticel.iris import IN_AXIOMS, LT, OUTLIVING, RECORD_CLASSES, Namer, predicate
from lenticel.model import Character, Knowledge, Slack, Statement
from lenticel.places import ontology_folder
from lenticel.quantity import ANY, Interval, plain, runs
from lenticel.rows import cell_of, slack_cell
from lenticel.schema import TABLES, Column

PREFIXES = (("lt", LT), ("owl", OWL), ("dcterms", DCTERMS), ("skos", SKOS), ("prov", PROV), ("vann", VANN))


class Writer:
    """Writes axioms into a graph; blank nodes are named after what they say, so that the same axioms give the same graph."""

    def __init__(self, graph: Graph, knowledge: Knowledge) -> None:
        self.graph, self.knowledge, self.name = graph, knowledge, Namer(knowledge.about.iri)

    def node(self, *content: object) -> BNode:
        """A blank node whose name is a digest of the content that it stands for."""
        return BNode("n" + hashlib.sha256("\x1f".join(map(str, content)).encode()).hexdigest()[:24])

    def members(self, owner: Node, items: Iterable[Node]) -> Node:
        """An RDF list with nodes named after owner and place; `rdf:nil` if there are no items."""
        rest: Node = RDF.nil
        found = list(items)
        for place in range(len(found) - 1, -1, -1):
            cell = self.node(owner, "list", place)
            self.graph.add((cell, RDF.first, found[place]))
            self.graph.add((cell, RDF.rest, rest))
            rest = cell
        return rest

    def union(self, owner: Node, kind: URIRef, items: list[Node]) -> Node:
        """The one item, or the union of several."""
        if len(items) == 1:
            return items[0]
        union = self.node(owner, "union")
        self.graph.add((union, RDF.type, kind))
        self.graph.add((union, OWL.unionOf, self.members(union, items)))
        return union

    def state_expression(self, owner: Node, character: str, region: StateRegion) -> Node:
        """The class of the values in a region of states."""
        root = self.knowledge.broadest(character)

        def named(states: Iterable[str]) -> list[Node]:
            return [self.name.record("states", f"{root}.{state}") for state in states]

        items = named(region.allowed)
        if region.denied is not None:
            inverse = self.node(owner, "not")
            self.graph.add((inverse, RDF.type, OWL.Class))
            self.graph.add((inverse, OWL.complementOf, self.union(inverse, OWL.Class, named(region.denied))))
            items.append(inverse)
        return self.union(owner, OWL.Class, items)

    def data_range(self, owner: Node, datatype: URIRef, spans: list[Interval]) -> Node:
        """The data range of one or several closed intervals."""
        items: list[Node] = []
        for place, span in enumerate(spans):
            if span == ANY:
                return datatype
            item = self.node(owner, "span", place)
            self.graph.add((item, RDF.type, RDFS.Datatype))
            self.graph.add((item, OWL.onDatatype, datatype))
            facets: list[Node] = []
            for facet, bound in ((XSD.minInclusive, span.lo), (XSD.maxInclusive, span.hi)):
                if bound is not None:
                    node = self.node(item, facet)
                    self.graph.add((node, facet, Literal(lexical(bound, datatype), datatype=datatype)))
                    facets.append(node)
            self.graph.add((item, OWL.withRestrictions, self.members(item, facets)))
            items.append(item)
        return self.union(owner, RDFS.Datatype, items)

    def filler(self, owner: Node, character: Character, region: Region) -> Node:
        """The class or data range of a region of a character."""
        if isinstance(region, StateRegion):
            return self.state_expression(owner, character.id, region)
        if isinstance(region, Interval):
            return self.data_range(owner, datatype_of(character), [region])
        return self.data_range(owner, XSD.integer, [Interval(Decimal(a), Decimal(b)) for a, b in runs(region)])

    def restriction(self, owner: Node, character: Character, quantifier: URIRef, region: Region) -> Node:
        """`property quantifier region`, as a node of its own for this owner."""
        node = self.node(owner, character.id, quantifier)
        self.graph.add((node, RDF.type, OWL.Restriction))
        self.graph.add((node, OWL.onProperty, self.name.record("characters", character.id)))
        self.graph.add((node, quantifier, self.filler(node, character, region)))
        return node

    def header(self) -> None:
        """Title, licence, version and the rest of the ontology's own data."""
        about, onto = self.knowledge.about, self.name.ontology()
        self.graph.add((onto, RDF.type, OWL.Ontology))
        for prop, version in ((OWL.versionIRI, about.version), (OWL.priorVersion, about.prior)):
            if version:
                self.graph.add((onto, prop, URIRef(f"{onto}/{version}")))
        for prop, text in (
            (DCTERMS.title, about.title),
            (DCTERMS.description, about.description),
            (DCTERMS.creator, about.creator),
            (DCTERMS.identifier, about.id),
            (OWL.versionInfo, about.version),
            (VANN.preferredNamespacePrefix, about.id),
            (VANN.preferredNamespaceUri, about.iri),
        ):
            self.graph.add((onto, prop, Literal(text)))
        for prop, day in ((DCTERMS.created, about.created), (DCTERMS.modified, about.version), (DCTERMS.issued, about.issued)):
            self.graph.add((onto, prop, Literal(day, datatype=XSD.date)))
        self.graph.add((onto, DCTERMS.license, URIRef(about.licence)))

    def annotate(self, table: str, subject: URIRef, record: Any, order: int | None = None) -> None:
        """Every column of a record that no axiom carries, as an annotation."""
        for column in TABLES[table].columns:
            if (table, column.name) not in IN_AXIOMS:
                for value in self._values(table, column, getattr(record, column.name)):
                    self.graph.add((subject, predicate(table, column.name), value))
        for match in self.knowledge.matches_of(table, record.key if table == "states" else record.id):
            self.graph.add((subject, SKOS[match.relation], URIRef(match.match)))
        if order is not None:
            self.graph.add((subject, LT.order, Literal(order, datatype=XSD.integer)))

    def _values(self, table: str, column: Column, value: Any) -> list[Node]:
        if value is None or value == "" or value == ():
            return []
        if (table, column.name) == OUTLIVING:
            return [self.name.record("statements", value) if value in self.knowledge.statements else Literal(value)]
        if column.refers:
            return [self.name.record(column.refers, word) for word in (value if isinstance(value, tuple) else (value,))]
        if (table, column.name) == ("states", "confusable_with"):
            return []  # written by `states`, which knows the character
        if column.kind == "condition":
            return [Literal(cell_of(column, value))]
        if isinstance(value, bool):
            return [Literal("true" if value else "false", datatype=XSD.boolean)]
        if isinstance(value, Decimal):
            return [Literal(lexical(value, XSD.decimal), datatype=XSD.decimal)]
        if isinstance(value, Slack):
            return [Literal(slack_cell(value))] if value.amount else []
        return [Literal(word) for word in (value if isinstance(value, tuple) else (value,))]

    def taxa(self) -> None:
        """Three classes a taxon: its plants, those that grow wild, and the typical ones."""
        for order, key in enumerate(self.knowledge.taxa):
            self.taxon(key, order)

    def taxon(self, key: str, order: int) -> None:
        """The three classes of a taxon, `order` being its place in the tables."""
        taxon, plain_class = self.knowledge.taxa[key], self.name.taxon(key)
        self.annotate("taxa", plain_class, taxon, order)
        self.graph.add((plain_class, RDFS.label, Literal(taxon.label)))
        named = f"{taxon.scientific_name} {taxon.authorship}".strip().removesuffix(".")
        self.graph.add((plain_class, SKOS.definition, Literal(f"Plants of the {taxon.rank} {named}.")))
        self.graph.add((plain_class, RDF.type, OWL.Class))
        self.graph.add((plain_class, RDFS.subClassOf, self.name.taxon(taxon.parent) if taxon.parent else LT.Organism))
        for tier in ("wild", "typical"):
            part = self.name.taxon(key, tier)
            self.graph.add((part, RDF.type, OWL.Class))
            self.graph.add((part, RDFS.label, Literal(f"{taxon.label}, {tier}")))
            self.graph.add((part, RDFS.subClassOf, plain_class if tier == "wild" else self.name.taxon(key, "wild")))
            if tier == "wild" and taxon.parent:
                self.graph.add((part, RDFS.subClassOf, self.name.taxon(taxon.parent, tier)))

    def characters(self) -> None:
        """A property a character, with one range, at most one domain, and its broader property."""
        for order, key in enumerate(self.knowledge.characters):
            self.character(key, order)

    def character(self, key: str, order: int) -> None:
        """The property of a character and, if no other is broader, the class of its values; `order` is its place in the tables."""
        character = self.knowledge.characters[key]
        prop = self.name.record("characters", key)
        self.annotate("characters", prop, character, order)
        data = character.kind != "states"
        self.graph.add((prop, RDF.type, OWL.DatatypeProperty if data else OWL.ObjectProperty))
        if character.broader:
            self.graph.add((prop, RDFS.subPropertyOf, self.name.record("characters", character.broader)))
        if character.applies_if:
            target, states = character.applies_if
            condition = self.restriction(prop, self.knowledge.characters[target], OWL.someValuesFrom, StateRegion(states))
            self.graph.add((prop, RDFS.domain, condition))
        if character.kind == "month":
            self.graph.add((prop, RDFS.range, self.data_range(prop, XSD.integer, [Interval(Decimal(1), Decimal(12))])))
        elif data:
            self.graph.add((prop, RDFS.range, datatype_of(character)))
        else:
            root = self.knowledge.broadest(key)
            self.graph.add((prop, RDFS.range, self.name.values(root)))
            if root == key:
                self._value_root(character)

    def _value_root(self, character: Character) -> None:
        root = self.name.values(character.id)
        self.graph.add((root, RDF.type, OWL.Class))
        self.graph.add((root, RDFS.subClassOf, LT.Value))
        self.graph.add((root, RDFS.label, Literal(f"value of {character.label}")))
        self.graph.add((root, SKOS.definition, Literal(f"Any value of the character {character.label!r}.")))
        self._siblings(character.id, root, "", character.complete)

    def states(self) -> None:
        """A class a state, in a tree with disjoint siblings, covered by the states below where the list is complete."""
        for order, key in enumerate(self.knowledge.states):
            self.state(key, order)

    def state(self, key: str, order: int) -> None:
        """The class of a state, and how the states below it stand to each other; `order` is its place in the tables."""
        state = self.knowledge.states[key]
        node = self.name.record("states", key)
        self.annotate("states", node, state, order)
        self.graph.add((node, RDF.type, OWL.Class))
        parent = self.name.record("states", f"{state.character}.{state.parent}") if state.parent else self.name.values(state.character)
        self.graph.add((node, RDFS.subClassOf, parent))
        self.graph.add((node, RDFS.label, Literal(f"{self.knowledge.characters[state.character].label}: {state.label}")))
        for other in state.confusable_with:
            self.graph.add((node, predicate("states", "confusable_with"), self.name.record("states", f"{state.character}.{other}")))
        self._siblings(state.character, node, state.id, state.complete)

    def _siblings(self, character: str, parent: URIRef, state: str, complete: bool) -> None:
        below: list[Node] = [self.name.record("states", each.key) for each in self.knowledge.states_of(character) if each.parent == state]
        self.exclude(parent, below)
        if complete and below:
            self.cover(parent, below)

    def exclude(self, parent: URIRef, below: Sequence[Node]) -> None:
        """The values below a value exclude each other."""
        if len(below) == 2:
            self.graph.add((below[0], OWL.disjointWith, below[1]))
        elif len(below) > 2:
            axiom = self.node(parent, "disjoint")
            self.graph.add((axiom, RDF.type, OWL.AllDisjointClasses))
            self.graph.add((axiom, OWL.members, self.members(axiom, below)))

    def cover(self, parent: URIRef, below: Sequence[Node]) -> None:
        """The values below a value are all that there are."""
        self.graph.add((parent, OWL.equivalentClass, self.union(parent, OWL.Class, list(below))))

    def records(self) -> None:
        """Sources, statements, names, look-alikes and cautions, as individuals that bear annotations only."""
        known = self.knowledge
        for table, rows in (
            ("sources", known.sources),
            ("statements", known.statements),
            ("lookalikes", known.lookalikes),
            ("cautions", known.cautions),
            ("resolutions", known.resolutions),
            ("recorded", known.recorded),
            ("reviews", known.reviews),
            ("matches", known.matches),
        ):
            for key, record in rows.items():
                self.individual(table, key, record)
        for name in known.names:
            self.individual("names", name.id, name)

    def individual(self, table: str, key: str, record: Any) -> None:
        """A row of a table of records."""
        subject = self.name.record(table, key)
        self.graph.add((subject, RDF.type, OWL.NamedIndividual))
        self.graph.add((subject, RDF.type, RECORD_CLASSES[table]))
        self.annotate(table, subject, record)
        self.graph.add((subject, RDFS.label, Literal(self._record_label(table, record))))
        if isinstance(record, Statement):
            self._provenance(subject, record)

    def _provenance(self, subject: URIRef, statement: Statement) -> None:
        """Who wrote a statement into the tables and when, after PROV-O and Dublin Core; the row that says so is the activity that it was generated by."""
        recorded = self.knowledge.recorded_of(statement)
        if recorded:
            self.graph.add((subject, PROV.wasGeneratedBy, self.name.record("recorded", recorded.id)))
            self.graph.add((subject, DCTERMS.creator, Literal(recorded.by)))
            self.graph.add((subject, DCTERMS.created, Literal(recorded.date, datatype=XSD.date)))

    def _record_label(self, table: str, record: Any) -> str:
        if table == "sources":
            return str(record.citation)
        if table == "recorded":
            within = ", ".join(filter(None, (self.knowledge.taxa[record.taxon].scientific_name, record.character, record.source)))
            return f"Statements on {within}, recorded by {record.by} ({record.date})"
        if table == "reviews":
            return f"{record.statement}: {record.verdict} ({record.by}, {record.date})"
        if table == "matches":
            return f"{'.'.join(filter(None, (record.taxon, record.character, record.state)))} {record.relation} {record.called}"
        if table == "resolutions":
            taxon, character = self.knowledge.taxa[record.taxon], self.knowledge.characters[record.character]
            return f"{taxon.scientific_name}, {character.label}: {record.one} and {record.other}"
        place = f"{record.source}, {record.locator}"
        if table == "statements":
            taxon, character = self.knowledge.taxa[record.taxon], self.knowledge.characters[record.character]
            return f"{taxon.scientific_name}, {character.label}" + (f", {record.frequency}" if record.frequency else "") + f" ({place})"
        if table == "names":
            return f"{record.name} ({place})"
        if table == "cautions":
            return f"{self.knowledge.taxa[record.taxon].scientific_name}, {record.kind} ({record.id})"
        return " or ".join(self.knowledge.taxa[each].scientific_name for each in record.taxa) + f" ({place})"

    def cells(self) -> None:
        """Each cell as a named class under which the taxon falls, citing the statements that it rests on."""
        cells = cells_of(self.knowledge)
        for cell in cells:
            self.cell(cell)
            self.bind(cell)
        typical = {(cell.taxon, cell.character): cell for cell in cells if cell.tier == "typical"}
        for key in self.knowledge.taxa:
            self.usual(key, typical)

    def cell(self, cell: Cell) -> None:
        """The class of a cell, with its restriction and the statements that it rests on."""
        character, taxon = self.knowledge.characters[cell.character], self.knowledge.taxa[cell.taxon]
        node = self.name.cell(cell)
        self.graph.add((node, RDF.type, OWL.Class))
        self.graph.add((node, RDFS.label, Literal(f"{taxon.scientific_name}, {character.label}" + (", typical" if cell.tier == "typical" else ""))))
        for statement in cell.statements:
            self.graph.add((node, PROV.wasDerivedFrom, self.name.record("statements", statement)))
        self.graph.add((node, RDFS.subClassOf, self.restriction(node, character, OWL.allValuesFrom, cell.region)))

    def bind(self, cell: Cell) -> None:
        """Put a taxon under a hard cell; what circumstances allow binds only its wild plants."""
        if cell.tier == "hard":
            tier = "wild" if self.knowledge.characters[cell.character].force == "circumstantial" else ""
            self.graph.add((self.name.taxon(cell.taxon, tier), RDFS.subClassOf, self.name.cell(cell)))

    def usual(self, key: str, typical: Mapping[tuple[str, str], Cell]) -> None:
        """Put the typical plants of a taxon under its typical cells: for each character those of the nearest rank of which anything is stated."""
        settled: set[str] = set()
        for rank in self.knowledge.lineage(key):
            here = self.knowledge.characters_of(rank) - settled
            for each in sorted(here):
                cell = typical.get((rank, each))
                if cell:
                    self.graph.add((self.name.taxon(key, "typical"), RDFS.subClassOf, self.name.cell(cell)))
            settled |= here


def datatype_of(character: Character) -> URIRef:
    """`xsd:decimal` for measures, `xsd:integer` for counts and months; mixing them excludes falsely."""
    return XSD.decimal if character.kind == "measure" else XSD.integer


def lexical(value: Decimal, datatype: URIRef) -> str:
    """The canonical spelling of a number; a decimal always shows its point."""
    text = plain(value)
    return text if datatype == XSD.integer or "." in text else f"{text}.0"


def retire(graph: Graph, successors: Mapping[str, str]) -> None:
    """Mark identifiers as deprecated, each with what took its place; they have no type any more, so that no axiom is about them."""
    for old, successor in successors.items():
        graph.add((URIRef(old), OWL.deprecated, Literal(True)))
        graph.add((URIRef(old), DCTERMS.isReplacedBy, URIRef(successor)))
        graph.add((DCTERMS.isReplacedBy, RDF.type, OWL.AnnotationProperty))


@cache
def _words() -> tuple[tuple[Node, Node, Node], ...]:
    """What the vocabulary says, in order; read once, as every ontology holds it."""
    graph = empty_graph()
    graph.parse(data=(ontology_folder() / "vocabulary.ttl").read_text(encoding="utf-8"), format="turtle")
    return tuple(sorted(graph))


def vocabulary() -> Graph:
    """The hand-written vocabulary that every body of knowledge is said in."""
    graph = empty_graph()
    for triple in _words():
        graph.add(triple)
    return graph


def write(knowledge: Knowledge, *, records: bool = True) -> Graph:
    """The whole ontology of a body of knowledge, the vocabulary included, so that it stands alone.

    Args:
        knowledge: what it is to say.
        records: whether to write the individuals too, which bear annotations only.
    """
    graph = empty_graph()
    for prefix, space in PREFIXES:
        graph.bind(prefix, space)
    header = next(subject for subject, prop, value in _words() if (prop, value) == (RDF.type, OWL.Ontology))
    for triple in _words():
        if triple[0] != header:
            graph.add(triple)
    writer = Writer(graph, knowledge)
    for part in (writer.header, writer.taxa, writer.characters, writer.states, *([writer.records] if records else []), writer.cells):
        part()
    return graph
