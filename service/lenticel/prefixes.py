"""The prefixes that a query may use without declaring them: those of the standards, and ours below a knowledge's own IRI."""

from __future__ import annotations

from lenticel.model import About
from lenticel.paths import VOCABULARY

STANDARD = {
    "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
    "rdfs": "http://www.w3.org/2000/01/rdf-schema#",
    "owl": "http://www.w3.org/2002/07/owl#",
    "xsd": "http://www.w3.org/2001/XMLSchema#",
    "skos": "http://www.w3.org/2004/02/skos/core#",
    "dcterms": "http://purl.org/dc/terms/",
    "prov": "http://www.w3.org/ns/prov#",
    "void": "http://rdfs.org/ns/void#",
    "sd": "http://www.w3.org/ns/sparql-service-description#",
    "dcat": "http://www.w3.org/ns/dcat#",
    "vann": "http://purl.org/vocab/vann/",
    "sh": "http://www.w3.org/ns/shacl#",
}
KINDS = ("taxon", "character", "state", "statement", "source", "name", "lookalike", "caution", "resolution", "cell", "trait", "pair")


def prefixes_of(about: About) -> dict[str, str]:
    """Every prefix and what it stands for, ours first."""
    own = {kind: f"{about.iri}{kind}/" for kind in KINDS}
    return {"lt": VOCABULARY, "graph": f"{about.iri}ontology/", **own, **STANDARD}
