"""Reading the records back out of an ontology: annotations for the words, axioms for what is logic."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from rdflib import OWL, RDF, RDFS, Graph, URIRef
from rdflib.namespace import DCTERMS, VANN
from rdflib.term import Node

from lenticel.errors import OutsideFragment
from lenticel.iris import IN_AXIOMS, LT, OUTLIVING, RECORD_CLASSES, Namer, predicate
from lenticel.model import NO_SLACK, About, Knowledge, Slack
from lenticel.quantity import plain
from lenticel.schema import TABLES, Column, condition_in


class RecordReader:
    """Reads the records of one ontology."""

    def __init__(self, graph: Graph) -> None:
        self.graph = graph
        headers = list(graph.subjects(RDF.type, OWL.Ontology))
        if len(headers) > 1:
            raise OutsideFragment([f"{' and '.join(sorted(each.n3() for each in headers))} are both owl:Ontology; a graph holds one"])
        self.onto = headers[0] if headers else None
        base = graph.value(self.onto, VANN.preferredNamespaceUri) if self.onto is not None else None
        if base is None:
            raise OutsideFragment(["the ontology has no header with vann:preferredNamespaceUri"])
        self.name = Namer(str(base))

    def about(self) -> About:
        """The header."""
        version = self.text(self.onto, OWL.versionInfo)
        return About(
            self.text(self.onto, DCTERMS.identifier),
            self.text(self.onto, DCTERMS.title),
            self.text(self.onto, DCTERMS.description),
            self.name.base,
            self.text(self.onto, DCTERMS.license),
            self.text(self.onto, DCTERMS.creator),
            version,
            self.text(self.onto, DCTERMS.created),
            self.text(self.onto, DCTERMS.issued),
            self.text(self.onto, OWL.priorVersion).removeprefix(f"{self.onto}/"),
        )

    def text(self, subject: Node | None, prop: URIRef) -> str:
        """The one value of an annotation, as text ("" if there is none)."""
        value = self.graph.value(subject, prop) if subject is not None else None
        return "" if value is None else str(value)

    def key(self, table: str, node: Node) -> str:
        """The identity, in its table, of the record that a node stands for."""
        return self.text(node, DCTERMS.identifier) or str(node).rsplit("/", 1)[-1]

    def record(self, table: str, node: URIRef, **logic: Any) -> Any:
        """A record, from its annotations and from what the axioms gave (`logic`)."""
        values = dict(logic)
        for column in TABLES[table].columns:
            if (table, column.name) not in IN_AXIOMS:
                values[column.name] = self._value(table, column, list(self.graph.objects(node, predicate(table, column.name))))
        return TABLES[table].record(**values)

    def _value(self, table: str, column: Column, found: list[Node]) -> Any:
        if (table, column.name) == ("states", "confusable_with"):
            return tuple(sorted(self.key("states", node) for node in found))
        named = column.refers or (table, column.name) == OUTLIVING
        words = sorted(self.key(column.refers, node) if named else str(node) for node in found)
        if column.kind in ("list", "refs"):
            return tuple(word for word in column.choices if word in words) if column.choices else tuple(words)
        if column.kind == "slack":
            return _slack(words[0]) if words else NO_SLACK
        if column.kind == "condition":
            return self._condition(table, column, words[0]) if words else None
        if column.kind == "number":
            return Decimal(plain(Decimal(words[0]))) if words else None
        if column.kind == "yesno":
            return words == ["true"]
        if column.kind == "tristate":
            return words[0] == "true" if words else None
        return words[0] if words else ""

    def _condition(self, table: str, column: Column, text: str) -> tuple[str, tuple[str, ...]]:
        found = condition_in(text)
        if found is None:
            raise OutsideFragment([f"{text[:60]!r} of {predicate(table, column.name)} is no condition; write it as `character: state|state`"])
        return found

    def ordered(self, nodes: Iterable[Node]) -> list[URIRef]:
        """The nodes in the order of their tables; those without a place, which an editor added, come last."""
        places = ((self.text(node, LT.order), node) for node in nodes if isinstance(node, URIRef))
        return [node for _, node in sorted(places, key=lambda each: (not each[0], int(each[0] or 0), str(each[1])))]

    def knowledge(self) -> Knowledge:
        """All records."""
        graph = self.graph
        taxa = self.ordered(graph.subjects(LT.rank, None))
        characters = self.ordered(self._properties())
        states = self.ordered(node for node in graph.subjects(LT.character, None) if (node, RDF.type, OWL.Class) in graph)
        rows = {table: self.ordered(graph.subjects(RDF.type, kind)) for table, kind in RECORD_CLASSES.items()}
        records = {table: [self.record(table, node) for node in nodes] for table, nodes in rows.items()}
        known_taxa, known_states = set(taxa), set(states)
        state_records = [self.record("states", node, parent=self._above("states", node, known_states), complete=self._covered(node)) for node in states]
        return Knowledge(
            self.about(),
            _keyed(records["sources"]),
            {self.key("taxa", node): self.record("taxa", node, parent=self._above("taxa", node, known_taxa)) for node in taxa},
            records["names"],
            {self.key("characters", node): self._character(node) for node in characters},
            {each.key: each for each in state_records},
            _keyed(records["statements"]),
            _keyed(records["lookalikes"]),
            _keyed(records["cautions"]),
            _keyed(records["resolutions"]),
            _keyed(records["recorded"]),
            _keyed(records["reviews"]),
            _keyed(records["matches"]),
        )

    def _properties(self) -> Iterable[Node]:
        for kind in (OWL.ObjectProperty, OWL.DatatypeProperty):
            yield from self.graph.subjects(RDF.type, kind)

    def _above(self, table: str, node: URIRef, among: set[URIRef]) -> str:
        found = [above for above in self.graph.objects(node, RDFS.subClassOf) if above in among]
        if len(found) > 1:
            raise OutsideFragment([f"{node} lies below {len(found)} {table}; the hierarchy is a tree"])
        return self.key(table, found[0]) if found else ""

    def _covered(self, node: Node) -> bool:
        return (node, OWL.equivalentClass, None) in self.graph

    def _character(self, node: URIRef) -> Any:
        key = self.key("characters", node)
        broader = self.graph.value(node, RDFS.subPropertyOf)
        domain = self.graph.value(node, RDFS.domain)
        condition: tuple[str, tuple[str, ...]] | None = None
        if domain is not None:
            target, filler = self.graph.value(domain, OWL.onProperty), self.graph.value(domain, OWL.someValuesFrom)
            if target is None or filler is None:
                raise OutsideFragment([f"{node} rdfs:domain is not `some` of a character"])
            union = self.graph.value(filler, OWL.unionOf)
            members = list(self.graph.items(union)) if union is not None else [filler]
            condition = self.key("characters", target), tuple(sorted(self.key("states", each) for each in members))
        return self.record(
            "characters",
            node,
            broader=self.key("characters", broader) if broader is not None else "",
            applies_if=condition,
            complete=self._covered(self.name.values(key)),
        )


def _keyed(records: list[Any]) -> dict[str, Any]:
    return {each.id: each for each in records}


def _slack(text: str) -> Slack:
    return Slack(Decimal(text.removesuffix("%")) / 100 if text.endswith("%") else Decimal(text), relative=text.endswith("%"))


def knowledge_from(graph: Graph) -> Knowledge:
    """The records of an ontology.

    Raises:
        OutsideFragment: there is no header, or a hierarchy is not a tree.
    """
    return RecordReader(graph).knowledge()
