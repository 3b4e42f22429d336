"""The names of things on the web: the vocabulary's properties, and the IRIs of a body of knowledge."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache

from rdflib import RDFS, Namespace, URIRef
from rdflib.namespace import DCTERMS, SKOS

from lenticel.cells import Cell
from lenticel.paths import VOCABULARY, path_of

LT = Namespace(VOCABULARY)
STANDARD = {"label": RDFS.label, "definition": SKOS.definition, "synonyms": SKOS.altLabel, "source": DCTERMS.source, "id": DCTERMS.identifier}
RECORD_CLASSES = {
    "sources": LT.Source,
    "statements": LT.Statement,
    "names": LT.Name,
    "lookalikes": LT.Lookalike,
    "cautions": LT.Caution,
    "resolutions": LT.Resolution,
    "recorded": LT.Recording,
    "reviews": LT.Review,
    "matches": LT.Match,
}
UNWRITTEN = {"acknowledged", "released"}  # tables that watch over the ontology and are not part of it
IN_AXIOMS = {
    ("taxa", "parent"),
    ("characters", "broader"),
    ("characters", "applies_if"),
    ("characters", "complete"),
    ("states", "parent"),
    ("states", "complete"),
}
OUTLIVING = ("reviews", "statement")  # a review stays when its statement goes, so that its column is no reference that the check holds to


@cache
def predicate(table: str, column: str) -> URIRef:
    """The annotation property that carries a column of a table."""
    if (table, column) == ("states", "label"):
        return LT.word  # the label proper names the character as well, so that it is unique
    head, *rest = column.split("_")
    return STANDARD.get(column) or LT[head + "".join(word.capitalize() for word in rest)]


@lru_cache(1 << 16)
def _record(base: str, table: str, key: str) -> URIRef:
    return URIRef(base + path_of(table, key))


@dataclass(frozen=True, slots=True)
class Namer:
    """The IRIs of a body of knowledge: each kind of thing has its folder below the knowledge's own IRI."""

    base: str

    def ontology(self) -> URIRef:
        """The ontology."""
        return URIRef(f"{self.base}ontology")

    def record(self, table: str, key: str) -> URIRef:
        """A row of a table, by its identity there."""
        return _record(self.base, table, key)

    def taxon(self, key: str, tier: str = "") -> URIRef:
        """The class of plants of a taxon, of those that are `wild`, or of those that are `typical`."""
        return URIRef(f"{self.record('taxa', key)}{'/' + tier if tier else ''}")

    def values(self, character: str) -> URIRef:
        """The class of all values of a character with states."""
        return URIRef(f"{self.record('characters', character)}/value")

    def cell(self, cell: Cell) -> URIRef:
        """A cell."""
        return URIRef(f"{self.base}cell/{cell.id}")

    def trait(self, taxon: str, character: str) -> URIRef:
        """All that a taxon shows for a character, inherited or not."""
        return URIRef(f"{self.base}trait/{taxon}/{character}")

    def pair(self, one: str, other: str) -> URIRef:
        """A pair of lowest taxa, in the order of the tables."""
        return URIRef(f"{self.base}pair/{one}/{other}")

    def graph(self, part: str) -> URIRef:
        """A graph of the released dataset."""
        return URIRef(f"{self.ontology()}/{part}")
