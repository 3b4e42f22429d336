"""Taking back an ontology that somebody edited: the rows that its records became, and every axiom that no row says, with the reason.

The axioms follow from the rows. So what an edited ontology says must be said by the ontology of the old rows (left as it was) or
by that of the new ones (changed with its row); and what both of them say must still be there. All else is refused.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from rdflib import OWL, RDF, RDFS, Graph, Literal, URIRef
from rdflib.namespace import DCTERMS, PROV, SKOS
from rdflib.term import Node

from lenticel import owl
from lenticel.axioms import Axioms
from lenticel.curation import recorded_keys
from lenticel.errors import OutsideFragment
from lenticel.fragment import Fragment
from lenticel.graphs import empty_graph
from lenticel.iris import LT, RECORD_CLASSES, Namer
from lenticel.model import Knowledge
from lenticel.records import RecordReader, knowledge_from
from lenticel.rows import differing, records_of
from lenticel.sayings import Triple, sayings


@dataclass(frozen=True, slots=True)
class Refused:
    """An axiom or annotation that no row of the tables can take over: as it stands, whether it is new or was taken out, and why not."""

    axiom: str
    how: str
    reason: str

    def __str__(self) -> str:
        return f"{self.how}: {self.axiom}: {self.reason}"


@dataclass(frozen=True)
class Edited:
    """What an edited ontology holds: its records, and the successors that it names for terms that it retires."""

    graph: Graph
    knowledge: Knowledge
    successors: dict[str, str]


def read_edited(graph: Graph, old: Knowledge) -> Edited:
    """Read the records of an edited ontology of the tables `old`.

    What is marked `owl:deprecated` counts as taken out; what was said of a taxon or a character that went is taken out with it.

    Raises:
        OutsideFragment: it has no header, is one of another body of knowledge, or a hierarchy is not a tree.
    """
    graph = _named_as_written(graph)
    retired = {each for each in graph.subjects(OWL.deprecated, Literal(True)) if isinstance(each, URIRef)}
    successors = {str(each): str(graph.value(each, DCTERMS.isReplacedBy) or "") for each in sorted(retired)}
    graph.remove((DCTERMS.isReplacedBy, RDF.type, OWL.AnnotationProperty))  # declared only where something is retired
    for each in retired:
        for part in (each, *(URIRef(f"{each}/{tier}") for tier in ("wild", "typical", "value"))):
            graph.remove((part, None, None))
    for onto, licence in list(graph.subject_objects(DCTERMS.license)):
        if str(licence).rstrip("/") == old.about.licence.rstrip("/"):  # owlready2 drops the final slash
            graph.set((onto, DCTERMS.license, URIRef(old.about.licence)))
    known = knowledge_from(graph)
    if known.about.iri != old.about.iri:
        raise OutsideFragment([f"the ontology is about {known.about.iri}, the tables are about {old.about.iri}"])
    return Edited(graph, _with_fitting_recordings(_without_the_gone(known, old)), successors)


def _named_as_written(graph: Graph) -> Graph:
    """The graph with each record under the name that its columns give it: an editor mints names of its own for new ones."""
    _identify(graph)
    reader = RecordReader(graph)
    names: dict[Node, Node] = {}
    for table, kind in RECORD_CLASSES.items():
        for node in graph.subjects(RDF.type, kind):
            if isinstance(node, URIRef):
                record = reader.record(table, node)
                key = f"{record.taxon}.{record.name}.{record.source}" if table == "names" else record.id
                names[node] = reader.name.record(table, key)
    if all(one == other for one, other in names.items()):
        return graph
    renamed = empty_graph()
    renamed.namespace_manager = graph.namespace_manager
    for subject, prop, value in graph:
        renamed.add((names.get(subject, subject), prop, names.get(value, value)))
    return renamed


def _identify(graph: Graph) -> None:
    """Give each new term without an identifier the last part of its name."""
    kinds = (OWL.ObjectProperty, OWL.DatatypeProperty, LT.Source, LT.Caution)
    terms = {*graph.subjects(LT.rank, None), *(each for kind in kinds for each in graph.subjects(RDF.type, kind))}
    terms |= {each for each in graph.subjects(LT.character, None) if (each, RDF.type, OWL.Class) in graph}
    for each in terms:
        if (each, DCTERMS.identifier, None) not in graph:
            graph.add((each, DCTERMS.identifier, Literal(str(each).rsplit("/", 1)[-1])))


def _without_the_gone(new: Knowledge, old: Knowledge) -> Knowledge:
    """The records without what is said of taxa and characters that went, and without the states of those."""
    gone = (old.taxa.keys() - new.taxa.keys()) | (old.characters.keys() - new.characters.keys())
    if not gone:
        return new
    owners = ("taxon", "character")

    def kept(table: str) -> dict[str, Any]:
        return {key: each for key, each in records_of(new, table).items() if not gone & {getattr(each, owner, "") for owner in owners}}

    rest: dict[str, Any] = {table: kept(table) for table in ("states", "statements", "cautions", "resolutions", "matches")}
    return replace(new, names=list(kept("names").values()), **rest)


def _with_fitting_recordings(known: Knowledge) -> Knowledge:
    """The records without those that say who recorded statements of which none is left."""
    fitting = {key for each in known.statements.values() for key in recorded_keys(each.taxon, each.character, each.source)}
    return replace(known, recorded={key: each for key, each in known.recorded.items() if key in fitting})


def refusals(edited: Edited, old: Knowledge, new: Knowledge) -> list[Refused]:
    """Every axiom and annotation of the edited ontology that neither version of the tables says, and each that both say and it does not.

    Args:
        edited: as read.
        old: the tables before.
        new: the tables after the rows were taken over; sound.
    """
    written = owl.write(old)
    before, there = sayings(written), sayings(edited.graph)
    after = sayings(owl.write(new)) if differing(old, new) else before
    added = [triple for key, triple in there.items() if key not in before and key not in after]
    missing = [before[key] for key in before.keys() & after.keys() - there.keys() if not _retired(before[key], edited.successors)]
    if not added and not missing:
        return []
    why = _Reasons(edited.graph, written, new.about.iri)
    found = {Refused(why.text(each), "added", why.of_added(each)) for each in added}
    return sorted(found | {Refused(why.text(each, before=True), "taken out", why.of_lost(each)) for each in missing}, key=str)


def _retired(triple: Triple, retired: Iterable[str]) -> bool:
    return any(str(triple[0]) == each or str(triple[0]).startswith(f"{each}/") for each in retired)


class _Reasons:
    """Says why an axiom cannot become a row."""

    def __init__(self, graph: Graph, before: Graph, base: str) -> None:
        self._axioms, self._before, self._name = Axioms(graph), Axioms(before), Namer(base)
        try:
            Fragment(graph)
            self._outside: set[str] = set()
        except OutsideFragment as error:
            self._outside = set(error.axioms)

    def text(self, triple: Triple, *, before: bool = False) -> str:
        """The axiom in few words."""
        short = (self._before if before else self._axioms).short
        return " ".join(short(each) for each in triple)

    def of_added(self, triple: Triple) -> str:
        """Why an axiom that is new in the edited ontology is refused."""
        subject, prop, value = triple
        if self._cell(subject) or self._cell(value):
            return self._of_cell(subject if self._cell(subject) else value)
        if self.text(triple) in self._outside or prop not in self._axioms.annotations:
            return "it lies outside the fragment for which the engine is proven, or no column of the tables says it"
        if prop in (RDFS.label, SKOS.definition):
            return "this text is put together from columns of the row; change those (for a taxon lt:scientificName and lt:commonName, for a state lt:word)"
        return "no column of the tables holds this annotation here, or another record has the same key"

    def of_lost(self, triple: Triple) -> str:
        """Why it cannot be left out."""
        cell = next((each for each in (triple[0], triple[2]) if self._cell(each)), None)
        return self._of_cell(cell) if cell is not None else "it follows from a row that is still there; change or take out what the row says"

    def _cell(self, node: Node) -> bool:
        return isinstance(node, URIRef) and node.startswith(f"{self._name.base}cell/")

    def _of_cell(self, cell: Node) -> str:
        graphs = (self._axioms.graph, self._before.graph)
        held = sorted({str(each).rsplit("/", 1)[-1] for graph in graphs for each in graph.objects(cell, PROV.wasDerivedFrom)})
        return f"a cell follows from its statements; change lt:value of {_listed(held) or 'a statement, or add one'}"


def _listed(words: list[str]) -> str:
    return ", ".join(words[:4]) + (f" and {len(words) - 4} more" if len(words) > 4 else "")
