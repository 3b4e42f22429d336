"""Ontology files as editors save them: their graph, whichever form they are in."""

from __future__ import annotations

import io
from pathlib import Path
from xml.parsers import expat

import pyoxigraph
from rdflib import XSD, BNode, Graph, Literal, URIRef
from rdflib.term import Node

from lenticel.errors import BadFile
from lenticel.graphs import empty_graph

FORMS = {".ttl": "turtle", ".rdf": "xml", ".owl": "xml", ".xml": "xml", ".owx": "xml", ".nt": "nt", ".jsonld": "json-ld"}
OXIGRAPH = {
    "turtle": pyoxigraph.RdfFormat.TURTLE, "xml": pyoxigraph.RdfFormat.RDF_XML, "nt": pyoxigraph.RdfFormat.N_TRIPLES, "json-ld": pyoxigraph.RdfFormat.JSON_LD,
}  # fmt: skip
STRING = pyoxigraph.NamedNode(str(XSD.string))
OWL_XML = "http://www.w3.org/2002/07/owl# Ontology"  # its root (https://www.w3.org/TR/owl2-xml-serialization/)
IMPORT = "http://www.w3.org/2002/07/owl# Import"


def read_graph(path: Path) -> Graph:
    """The graph of an ontology file: Turtle, RDF/XML, OWL/XML, N-Triples or JSON-LD, by the end of its name and, of the two in XML, by its root.

    Raises:
        BadFile: no such file, an unknown form, it cannot be read, or what reads OWL/XML is not installed.
    """
    if path.suffix not in FORMS:
        raise BadFile(f"{path.name!r} does not end in one of {', '.join(FORMS)}.", "Save the ontology as Turtle, RDF/XML or OWL/XML.")
    try:
        data, form = path.read_bytes(), FORMS[path.suffix]
        kinds = _elements(data) if form == "xml" else []
        if kinds and kinds[0] == OWL_XML:
            if IMPORT in kinds:  # what reads OWL/XML would fetch it from the network
                raise BadFile(f"{path.name!r} imports other ontologies.", "Take the imports out; what they say cannot become rows.")
            data, form = _triples(data, path.name), "nt"
        graph = _parsed(data, form)
    except BadFile:
        raise
    except OSError as error:
        raise BadFile(f"{path.name!r} cannot be opened: {error.strerror}.", "Name a file that is there.") from None
    except Exception as error:  # each of the parsers raises errors of its own, without a common class
        raise BadFile(f"{path.name!r} is not sound: {str(error)[:200]}", "Save the ontology again as Turtle or RDF/XML.") from error
    return graph


def _parsed(data: bytes, form: str) -> Graph:
    """The graph that the bytes say; oxigraph reads them in a third of the time that rdflib takes, and fetches no context of JSON-LD from anywhere."""
    graph = empty_graph()
    found = pyoxigraph.parse(data, format=OXIGRAPH[form])
    names: dict[str, URIRef] = {}

    def term(each: pyoxigraph.NamedNode | pyoxigraph.BlankNode | pyoxigraph.Literal | pyoxigraph.Triple) -> Node:
        if isinstance(each, pyoxigraph.NamedNode):
            return names.get(each.value) or names.setdefault(each.value, URIRef(each.value))
        if isinstance(each, pyoxigraph.Literal):
            kind = None if each.language or each.datatype == STRING else term(each.datatype)
            return Literal(each.value, lang=each.language, datatype=str(kind) if kind else None)
        if isinstance(each, pyoxigraph.BlankNode):
            return BNode(each.value)
        raise ValueError("a triple about a triple is no part of an ontology")

    for quad in found:
        graph.add((term(quad.subject), term(quad.predicate), term(quad.object)))
    for prefix, space in found.prefixes.items():
        graph.bind(prefix, space)
    return graph


def _elements(data: bytes) -> list[str]:
    """The kinds of elements, each once, the outermost first.

    Raises:
        ExpatError: it is no XML.
    """
    found: dict[str, None] = {}
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.StartElementHandler = lambda name, _: found.setdefault(name)
    parser.Parse(data, True)
    return list(found)


def _triples(data: bytes, name: str) -> bytes:
    """An ontology in OWL/XML as N-Triples."""
    try:
        import owlready2
    except ImportError:
        raise BadFile(
            f"{name!r} is OWL/XML, which takes owlready2 to read.", "Save the ontology as RDF/XML or Turtle, or install it: pip install 'lenticel[proof]'."
        ) from None
    out = io.BytesIO()
    with owlready2.World() as world:
        ontology = world.get_ontology("urn:edited#").load(fileobj=io.BytesIO(data))
        ontology.save(out, format="ntriples")
    return out.getvalue()
