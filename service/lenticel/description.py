"""What a dataset says of itself: VoID and DCAT for its graphs and figures, the SPARQL 1.1 Service Description for what the service can do.

The address of the service is not part of it: only the one who serves knows that, and adds it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from rdflib import DCAT, DCTERMS, OWL, PROV, RDF, RDFS, VOID, XSD, Graph, Literal, Namespace, URIRef
from rdflib.term import Node

from lenticel.graphs import empty_graph
from lenticel.iris import LT, Namer
from lenticel.model import Knowledge
from lenticel.paths import VOCABULARY
from lenticel.places import ontology_folder

SD = Namespace("http://www.w3.org/ns/sparql-service-description#")
FORMATS = Namespace("http://www.w3.org/ns/formats/")
RESULTS = (
    "SPARQL_Results_JSON", "SPARQL_Results_XML", "SPARQL_Results_CSV", "SPARQL_Results_TSV", "Turtle", "N-Triples", "RDF_XML", "JSON-LD", "N-Quads", "TriG"
)  # fmt: skip
GRAPHS = {
    "terms": ("Terms and axioms", "The ontology but for its records: taxa, characters, states, the cells that bind them, and every axiom."),
    "statements": ("Statements", "Who says what of which taxon and where: statements, sources, other names, look-alikes, cautions, resolutions."),
    "hierarchy": ("Hierarchy", "Inferred: each taxon and state below what holds it at second hand, each character likewise; and which taxa are lowest."),
    "traits": (
        "Traits",
        "Inferred: what each taxon may show and usually shows for each character, with what the ranks above it bring, and the statements behind.",
    ),
    "pairs": ("Pairs", "Inferred: for each pair of lowest taxa the characters that part it, the seasons in which they do, and those in which nothing does."),
    "exclusions": ("Exclusions", "Inferred: the lowest taxa that a plant cannot be that shows a state."),
}
STATED = ("terms", "statements")
Triple = tuple[Node, Node, Node]


@dataclass(frozen=True, slots=True)
class Counts:
    """How much a graph holds, as VoID counts it."""

    triples: int
    subjects: int
    objects: int
    properties: int

    @classmethod
    def of(cls, triples: Sequence[Triple]) -> Counts:
        """Count a graph, of which no triple is there twice."""
        subjects, properties, objects = (len({triple[place] for triple in triples}) for place in range(3))
        return cls(len(triples), subjects, objects, properties)


def describe(knowledge: Knowledge, counts: Mapping[str, Counts | None]) -> list[Triple]:
    """The default graph: the service, the dataset, each named graph, and the words that only inferred graphs use.

    Args:
        knowledge: what the dataset holds.
        counts: how much each of its graphs holds; None where that is not to be told.
    """
    name = Namer(knowledge.about.iri)
    own = [*_service(name), *_dataset(knowledge, name, counts)]
    for part, each in counts.items():
        own += _graph(name, part, each, knowledge)
    return list(dict.fromkeys((*own, *inferred_words())))


def inferred_words() -> Graph:
    """The words that only inferred graphs use, with their definitions."""
    return empty_graph().parse(data=(ontology_folder() / "inferred.ttl").read_text(encoding="utf-8"), format="turtle")


def service_of(name: Namer) -> URIRef:
    """The service as a thing that can be spoken of, wherever it runs."""
    return URIRef(f"{name.base}service")


def _service(name: Namer) -> Iterator[Triple]:
    service, dataset = service_of(name), URIRef(f"{name.base}dataset")
    yield service, RDF.type, SD.Service
    yield service, SD.supportedLanguage, SD.SPARQL11Query
    yield service, SD.feature, SD.UnionDefaultGraph
    yield from ((service, SD.resultFormat, FORMATS[each]) for each in RESULTS)
    yield service, SD.defaultDataset, dataset
    yield service, SD.availableGraphs, dataset


def _dataset(knowledge: Knowledge, name: Namer, counts: Mapping[str, Counts | None]) -> Iterator[Triple]:
    about, dataset = knowledge.about, URIRef(f"{name.base}dataset")
    for kind in (SD.Dataset, SD.GraphCollection, VOID.Dataset, DCAT.Dataset):
        yield dataset, RDF.type, kind
    yield dataset, DCTERMS.title, Literal(about.title)
    yield dataset, DCTERMS.description, Literal(about.description)
    yield dataset, DCTERMS.creator, Literal(about.creator)
    yield dataset, DCTERMS.license, URIRef(about.licence)
    yield dataset, DCTERMS.issued, Literal(about.issued, datatype=XSD.date)
    yield dataset, OWL.versionInfo, Literal(about.version)
    yield dataset, VOID.uriSpace, Literal(about.iri)
    yield dataset, VOID.vocabulary, URIRef(VOCABULARY.rstrip("/"))
    if all(counts.values()):
        yield dataset, VOID.triples, _count(sum(each.triples for each in counts.values() if each))
    yield dataset, SD.defaultGraph, URIRef(f"{dataset}#default")
    yield URIRef(f"{dataset}#default"), RDF.type, SD.Graph
    yield URIRef(f"{dataset}#default"), DCTERMS.description, Literal("The union of all graphs, this description included.")
    file = URIRef(f"{dataset}#file")
    yield dataset, DCAT.distribution, file
    yield file, RDF.type, DCAT.Distribution
    yield file, DCTERMS.title, Literal("All graphs as N-Quads")
    yield file, DCAT.mediaType, URIRef("https://www.iana.org/assignments/media-types/application/n-quads")
    yield file, DCTERMS.license, URIRef(about.licence)


def _graph(name: Namer, part: str, counted: Counts | None, knowledge: Knowledge) -> Iterator[Triple]:
    graph, dataset = name.graph(part), URIRef(f"{name.base}dataset")
    title, meaning = GRAPHS[part]
    entry = URIRef(f"{dataset}#{part}")
    yield dataset, SD.namedGraph, entry
    yield entry, RDF.type, SD.NamedGraph
    yield entry, SD.name, graph
    yield entry, SD.graph, graph
    yield dataset, VOID.subset, graph
    for kind in (SD.Graph, VOID.Dataset):
        yield graph, RDF.type, kind
    yield graph, DCTERMS.title, Literal(title)
    yield graph, DCTERMS.description, Literal(meaning)
    yield graph, DCTERMS.license, URIRef(knowledge.about.licence)
    yield graph, LT.inferred, Literal("false" if part in STATED else "true", datatype=XSD.boolean)
    if counted:
        yield graph, VOID.triples, _count(counted.triples)
        yield graph, VOID.distinctSubjects, _count(counted.subjects)
        yield graph, VOID.distinctObjects, _count(counted.objects)
        yield graph, VOID.properties, _count(counted.properties)
    if part not in STATED:
        yield from ((graph, PROV.wasDerivedFrom, name.graph(each)) for each in STATED)
    yield graph, RDFS.label, Literal(title)


def _count(figure: int) -> Literal:
    return Literal(figure, datatype=XSD.integer)
