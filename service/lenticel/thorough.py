"""The full check of a release: all that the check of the tables takes on trust, done the long way round.

The way through the ontology gives the same snapshot; the rules in `checks/` hold for the graph; HermiT finds the ontology
consistent and every class able to have members, and excludes the very taxa that the engine excludes.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from pyoxigraph import QuerySolutions, RdfFormat, Store
from rdflib import OWL, RDF, Graph, URIRef

from lenticel.build import ontology_of
from lenticel.compiler import compile_graph
from lenticel.errors import LenticelError, OutsideFragment
from lenticel.identify import identify
from lenticel.model import Knowledge
from lenticel.observation import Observation, Reader
from lenticel.places import ontology_folder
from lenticel.probing import probe_sets
from lenticel.proof import Hermit
from lenticel.snapshot import Snapshot

SAMPLE = 40  # observation sets put to both the engine and HermiT
SHOWN = 5  # violations of a rule that are told


@dataclass(frozen=True, slots=True)
class Looked:
    """One thing that was looked into: what, how many cases, and what was found wrong with them; `grave` unless it is only to be shown."""

    what: str
    count: int
    wrong: tuple[str, ...]
    grave: bool = True

    def __str__(self) -> str:
        told = "nothing wrong" if not self.wrong else f"{len(self.wrong)} wrong" if self.grave else f"{len(self.wrong)} to look at"
        return "\n  ".join([f"{self.what}: {self.count} looked at, {told}.", *self.wrong[:SHOWN]])


def thorough(folder: Path, snapshot: Snapshot, sample: int = SAMPLE) -> Iterator[Looked]:
    """Look into everything, one thing after another.

    Args:
        folder: tables that were found sound.
        snapshot: what they were found to say.
        sample: how many observation sets to put to HermiT.

    Raises:
        ProofUnavailable: the parts that this takes are not installed.
    """
    graph, knowledge = ontology_of(folder)
    yield through_the_ontology(graph, snapshot)
    yield from graph_rules(graph)
    yield from by_hermit(graph, knowledge, snapshot, sample)


def through_the_ontology(graph: Graph, snapshot: Snapshot) -> Looked:
    """Whether the axioms compile to the snapshot that the records gave."""
    try:
        wrong: tuple[str, ...] = () if compile_graph(graph).digest == snapshot.digest else ("The ontology says something else than the records.",)
    except OutsideFragment as error:
        wrong = tuple(error.axioms)
    return Looked("the way through the ontology", len(graph), wrong)


def graph_rules(graph: Graph) -> Iterator[Looked]:
    """Each rule of the folder `checks/`, as a SPARQL query on the graph."""
    store = Store()
    store.bulk_load(graph.serialize(format="nt", encoding="utf-8"), format=RdfFormat.N_TRIPLES)
    for path in sorted((ontology_folder() / "checks").glob("*.rq")):
        query = path.read_text(encoding="utf-8")
        said = dict(re.findall(r"^# ([A-Z][a-z ]+): (\S.*)$", query, re.MULTILINE))
        prefixes = "".join(re.findall(r"^PREFIX .*\n", query, re.MULTILINE))
        found, counted = store.query(query), store.query(f"{prefixes}SELECT (COUNT(DISTINCT ?entity) AS ?count) WHERE {{ {said['Looks at']} }}")
        assert isinstance(found, QuerySolutions)
        assert isinstance(counted, QuerySolutions)
        wrong = tuple(f"{row[0]}: {said['Problem']} {said['Fix']}" for row in found)
        yield Looked(f"rule {path.stem}", int(next(counted)[0].value), wrong, said["Level"] == "error")


def by_hermit(graph: Graph, knowledge: Knowledge, snapshot: Snapshot, sample: int) -> Iterator[Looked]:
    """What HermiT says of the ontology, and of a sample of observation sets beside the engine."""
    sets = sampled(snapshot, sample)
    hermit = Hermit(graph, knowledge, sets)
    classes = len({node for node in graph.subjects(RDF.type, OWL.Class) if isinstance(node, URIRef)})
    sound = hermit.is_consistent()
    yield Looked("consistency", 1, () if sound else ("The ontology has no model, so that everything follows from it.",))
    if not sound:
        return
    made = set(map(str, hermit.plants))
    yield Looked("classes that can have members", classes, tuple(f"{each} can have none." for each in hermit.unsatisfiable() if each not in made))
    differing: list[str] = []
    for place, observations in enumerate(sets):
        excluded = {each.taxon for each in identify(snapshot, observations, every_rank=True).excluded}
        odd = excluded ^ hermit.answer(place, typical=False).excluded
        differing += [f"{taxon}: {'; '.join(each.text for each in observations)}" for taxon in sorted(odd)]
    yield Looked("verdicts of the engine beside HermiT's", len(sets) * snapshot.taxa_count, tuple(differing))
    hermit.close()


def sampled(snapshot: Snapshot, count: int) -> list[list[Observation]]:
    """Observation sets spread evenly over those by which versions are compared; what cannot be read (half a leaflet) is left out of them."""
    every = [rows for _, rows in probe_sets(snapshot)]
    reader = Reader(snapshot)
    return [[seen for row in rows if (seen := _read(reader, *row))] for rows in every[:: max(1, len(every) // count)][:count]]


def _read(reader: Reader, character: str, value: str) -> Observation | None:
    try:
        return reader.observation(character, value)
    except LenticelError:
        return None
