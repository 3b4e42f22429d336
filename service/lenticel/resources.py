"""What the graph says of one thing: the triples of its own, with the blank nodes that they lead to.

All of them together are the ontology, no triple more or less; the tests hold them to it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cached_property

from rdflib import OWL, RDF, Graph, URIRef
from rdflib.collection import Collection
from rdflib.term import BNode, Node

from lenticel import owl
from lenticel.cells import Cell
from lenticel.description import GRAPHS, Triple, describe, inferred_words
from lenticel.graphs import empty_graph
from lenticel.inferred import Inferred, places_of
from lenticel.iris import Namer
from lenticel.paths import DERIVED, VOCABULARY, Place, path_of
from lenticel.snapshot import Snapshot


class Resources:
    """The descriptions of everything that a snapshot names, each written when it is asked for."""

    def __init__(self, snapshot: Snapshot) -> None:
        self.snapshot, self.known = snapshot, snapshot.knowledge
        self.name = Namer(self.known.about.iri)
        self._places = {table: {key: place for place, key in enumerate(getattr(self.known, table))} for table in ("taxa", "characters", "states")}
        self._hard: dict[str, list[Cell]] = {}
        for cell in snapshot.body.cells.values():
            if cell.tier == "hard":
                self._hard.setdefault(cell.taxon, []).append(cell)
        self._typical = {(cell.taxon, cell.character): cell for cell in snapshot.body.cells.values() if cell.tier == "typical"}

    def describe(self, place: Place) -> Graph:
        """What the ontology says of the thing at a place."""
        header = place.table == "ontology" and not place.part
        graph = _graph() if header else empty_graph("none")  # of the others only a part is answered, in a graph of its own
        writer = owl.Writer(graph, self.known)
        if header:
            writer.header()
            return graph
        subject = URIRef(self.name.base + path_of(place.table, place.key, place.part))
        if place.table in DERIVED:
            for triple in self._derived(place):
                graph.add(triple)
            return _about(graph, subject)
        self._write(writer, place)
        return _about(graph, subject)

    def _derived(self, place: Place) -> Iterable[Triple]:
        """What is said of a place outside the ontology: of what is inferred, and of the dataset with its graphs."""
        one, _, other = place.key.partition("/")
        if place.table == "pairs":
            return Inferred(self.snapshot).pairs_of((one, other))
        if place.table == "traits":
            return Inferred(self.snapshot).trait(one, other)
        return describe(self.known, dict.fromkeys(GRAPHS))

    @cached_property
    def further(self) -> dict[str, Place]:
        """What stands at each path that names something inferred, or the dataset, its graphs and the service."""
        parts = [Place("dataset", ""), Place("service", ""), *(Place("ontology", "", part) for part in GRAPHS)]
        return {**{path_of(each.table, each.key, each.part): each for each in parts}, **places_of(self.snapshot)}

    def describe_term(self, word: str) -> Graph:
        """What the vocabulary says of one of its words, or of itself if the word is empty or its version; empty if there is no such word."""
        itself = URIRef(VOCABULARY.rstrip("/"))
        version = str(self._vocabulary.value(itself, OWL.versionIRI))
        if word in self.words:
            return _about(self._vocabulary, URIRef(VOCABULARY + word))
        return _about(self._vocabulary, itself) if VOCABULARY + word in (VOCABULARY, version) else _graph()

    @cached_property
    def _vocabulary(self) -> Graph:
        graph = _graph()
        for triple in (*owl.vocabulary(), *inferred_words()):
            graph.add(triple)
        return graph

    @cached_property
    def words(self) -> list[str]:
        """The words of the vocabulary."""
        return sorted({str(each).removeprefix(VOCABULARY) for each in self._vocabulary.subjects() if str(each).startswith(VOCABULARY)})

    def _write(self, writer: owl.Writer, place: Place) -> None:
        """Write at least all that is said of a place."""
        known, key = self.known, place.key
        if place.table == "taxa":
            writer.taxon(key, self._places["taxa"][key])
            for cell in self._hard.get(key, ()):
                writer.bind(cell)
            writer.usual(key, self._typical)
        elif place.table in ("characters", "states"):
            root = known.states[key].character if place.table == "states" else key
            writer.character(root, self._places["characters"][root])
            for state in known.states_of(root) if place.table == "states" or place.part else ():
                writer.state(state.key, self._places["states"][state.key])
        elif place.table == "cells":
            writer.cell(self.snapshot.body.cells[key])
        elif place.table == "names":
            writer.individual("names", key, self._names[key])
        else:
            writer.individual(place.table, key, getattr(known, place.table)[key])

    @cached_property
    def _names(self) -> dict[str, object]:
        return {each.id: each for each in self.known.names}


def _graph() -> Graph:
    graph = empty_graph("none")
    for prefix, space in owl.PREFIXES:
        graph.bind(prefix, space)
    return graph


def _about(graph: Graph, subject: URIRef) -> Graph:
    """The triples of a subject, with those of the blank nodes that they lead to, and the axiom by which it excludes its siblings."""
    found = _graph()
    waiting: list[Node] = [subject, *_exclusions(graph, subject)]
    done: set[Node] = set()
    while waiting:
        node = waiting.pop()
        done.add(node)
        for triple in sorted(graph.triples((node, None, None))):
            found.add(triple)
            if isinstance(triple[2], BNode) and triple[2] not in done:
                waiting.append(triple[2])
    return found


def _exclusions(graph: Graph, subject: URIRef) -> Iterator[Node]:
    for axiom in sorted(graph.subjects(RDF.type, OWL.AllDisjointClasses), key=str):
        if any(subject in Collection(graph, members) for members in graph.objects(axiom, OWL.members)):
            yield axiom
