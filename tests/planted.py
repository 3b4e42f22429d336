"""Axioms that lie outside the fragment, each to be added to the ontology of the invented workshop, and refused by name."""

from __future__ import annotations

from rdflib import OWL, RDF, RDFS, XSD

from lenticel.iris import LT

BASE = "https://example.org/workshop/"
PREFIXES = f"""
@base <{BASE}> .
@prefix lt: <{LT}> . @prefix owl: <{OWL}> . @prefix rdf: <{RDF}> . @prefix rdfs: <{RDFS}> . @prefix xsd: <{XSD}> .
@prefix skos: <http://www.w3.org/2004/02/skos/core#> . @prefix dcterms: <http://purl.org/dc/terms/> .
"""
# name: (axioms in Turtle, what the line of the error that names them must hold)
PLANTED: dict[str, tuple[str, tuple[str, ...]]] = {
    # ---- properties
    "functional property": ("<character/head> a owl:FunctionalProperty .", ("character/head", "FunctionalProperty")),
    "transitive property": ("<character/head> a owl:TransitiveProperty .", ("character/head", "TransitiveProperty")),
    "symmetric property": ("<character/head> a owl:SymmetricProperty .", ("character/head", "SymmetricProperty")),
    "inverse functional property": ("<character/head> a owl:InverseFunctionalProperty .", ("character/head", "InverseFunctional")),
    "inverse of a property": ("<shape-of> a owl:ObjectProperty ; owl:inverseOf <character/head> .", ("shape-of", "inverseOf", "character/head")),
    "property chain": ("<character/head> owl:propertyChainAxiom ( <character/drive> <character/thread> ) .", ("character/head", "propertyChainAxiom")),
    "equivalent properties": ("<character/head> owl:equivalentProperty <character/drive> .", ("character/head", "equivalentProperty", "character/drive")),
    "disjoint properties": ("<character/head> owl:propertyDisjointWith <character/drive> .", ("character/head", "propertyDisjointWith")),
    "disjoint properties in a list": (
        "[] a owl:AllDisjointProperties ; owl:members ( <character/head> <character/drive> <character/thread> ) .",
        ("AllDisjointProperties",),
    ),
    "key": ("<taxon/screw> owl:hasKey ( <character/length> ) .", ("taxon/screw", "hasKey")),
    "two broader properties": ("<character/finish-new> rdfs:subPropertyOf <character/head> .", ("character/finish-new", "broader")),
    "broader property of another kind": ("<character/turns> rdfs:subPropertyOf <character/length> .", ("character/turns", "subPropertyOf", "character/length")),
    "broader property that is no character": ("<character/head> rdfs:subPropertyOf <part-of> .", ("character/head", "subPropertyOf", "part-of")),
    "property broader than itself": ("<character/head> rdfs:subPropertyOf <character/head> .", ("character/head", "subPropertyOf")),
    "properties broader than each other": (
        "<character/length> rdfs:subPropertyOf <character/pitch> . <character/pitch> rdfs:subPropertyOf <character/length> .",
        ("character/length", "subPropertyOf", "character/pitch"),
    ),
    "second range": ("<character/head> rdfs:range lt:Value .", ("character/head", "range")),
    "range of another character": ("<character/turns> rdfs:range xsd:decimal .", ("character/turns", "range")),
    "domain that is a taxon": ("<character/head> rdfs:domain <taxon/screw> .", ("character/head", "domain")),
    "second domain": (
        "<character/pitch> rdfs:domain [ a owl:Restriction ; owl:onProperty <character/drive> ; owl:someValuesFrom <state/drive/slot> ] .",
        ("character/pitch", "domain"),
    ),
    "domain of all instead of some": (
        "<character/head> rdfs:domain [ a owl:Restriction ; owl:onProperty <character/drive> ; owl:allValuesFrom <state/drive/slot> ] .",
        ("character/head", "domain"),
    ),
    "domain on a quantity": (
        "<character/head> rdfs:domain [ a owl:Restriction ; owl:onProperty <character/length> ; owl:someValuesFrom xsd:decimal ] .",
        ("character/head", "domain"),
    ),
    "domain of a circumstantial character": (
        "<character/head> rdfs:domain [ a owl:Restriction ; owl:onProperty <character/drawer> ; owl:someValuesFrom <state/drawer/upper> ] .",
        ("character/head", "domain", "character/drawer"),
    ),
    "domain with a denied state": (
        """<character/head> rdfs:domain [ a owl:Restriction ; owl:onProperty <character/drive> ;
            owl:someValuesFrom [ a owl:Class ; owl:complementOf <state/drive/slot> ] ] .""",
        ("character/head", "domain", "character/drive"),
    ),
    "domain with a state of another character": (
        "<character/head> rdfs:domain [ a owl:Restriction ; owl:onProperty <character/drive> ; owl:someValuesFrom <state/thickness/thin> ] .",
        ("character/head", "domain", "character/drive"),
    ),
    "domain that needs itself": (
        "<character/head> rdfs:domain [ a owl:Restriction ; owl:onProperty <character/head> ; owl:someValuesFrom <state/head/flat> ] .",
        ("character/head", "domain"),
    ),
    "domains in a circle": (
        """<character/head> rdfs:domain [ a owl:Restriction ; owl:onProperty <character/drive> ; owl:someValuesFrom <state/drive/slot> ] .
        <character/drive> rdfs:domain [ a owl:Restriction ; owl:onProperty <character/head> ; owl:someValuesFrom <state/head/flat> ] .""",
        ("character/head", "domain"),
    ),
    "property of both kinds": ("<character/head> a owl:DatatypeProperty .", ("character/head", "DatatypeProperty")),
    "property that is an annotation too": ("<character/head> a owl:AnnotationProperty .", ("character/head", "AnnotationProperty")),
    "word of OWL as an annotation": (
        "owl:sameAs a owl:AnnotationProperty . <statement/rivet.head.drawer-labels> owl:sameAs <statement/rivet.drive.drawer-labels> .",
        ("owl:sameAs", "AnnotationProperty"),
    ),
    # ---- taxa
    "some-restriction on a taxon": (
        "<taxon/rivet> rdfs:subClassOf [ a owl:Restriction ; owl:onProperty <character/head> ; owl:someValuesFrom <state/head/round> ] .",
        ("taxon/rivet", "someValuesFrom", "state/head/round"),
    ),
    "cardinality": (
        "<taxon/rivet> rdfs:subClassOf [ a owl:Restriction ; owl:onProperty <character/head> ; owl:maxCardinality 1 ] .",
        ("taxon/rivet", "maxCardinality"),
    ),
    "qualified cardinality": (
        """<taxon/rivet> rdfs:subClassOf [ a owl:Restriction ; owl:onProperty <character/head> ;
            owl:qualifiedCardinality 1 ; owl:onClass <state/head/round> ] .""",
        ("taxon/rivet", "qualifiedCardinality"),
    ),
    "value restriction": (
        "<taxon/rivet> rdfs:subClassOf [ a owl:Restriction ; owl:onProperty <character/length> ; owl:hasValue 5.0 ] .",
        ("taxon/rivet", "hasValue"),
    ),
    "self restriction": (
        "<taxon/rivet> rdfs:subClassOf [ a owl:Restriction ; owl:onProperty <character/head> ; owl:hasSelf true ] .",
        ("taxon/rivet", "hasSelf"),
    ),
    "restriction without a cell": (
        "<taxon/rivet> rdfs:subClassOf [ a owl:Restriction ; owl:onProperty <character/finish> ; owl:allValuesFrom <state/finish/dull> ] .",
        ("taxon/rivet", "allValuesFrom", "state/finish/dull"),
    ),
    "restriction on all organisms": (
        "lt:Organism rdfs:subClassOf [ a owl:Restriction ; owl:onProperty <character/finish> ; owl:allValuesFrom <state/finish/dull> ] .",
        ("lt:Organism", "allValuesFrom", "state/finish/dull"),
    ),
    "taxon under two taxa": ("<taxon/rivet> rdfs:subClassOf <taxon/screw> .", ("taxon/rivet", "2 taxa")),
    "wild plants under two taxa": ("<taxon/rivet/wild> rdfs:subClassOf <taxon/screw/wild> .", ("taxon/rivet/wild", "taxon/screw/wild")),
    "taxon whose plants are all wild": ("<taxon/rivet> rdfs:subClassOf <taxon/rivet/wild> .", ("taxon/rivet", "taxon/rivet/wild")),
    "taxon under itself": ("<taxon/fastener> rdfs:subClassOf <taxon/fastener> .", ("taxon/fastener",)),
    "taxa under each other": ("<taxon/fastener> rdfs:subClassOf <taxon/rivet> .", ("taxon/fastener", "taxon/rivet")),
    "circumstantial cell over every plant": ("<taxon/nail> rdfs:subClassOf <cell/nail/drawer> .", ("taxon/nail", "cell/nail/drawer")),
    "diagnostic cell over wild plants": ("<taxon/screw/wild> rdfs:subClassOf <cell/nail/thread> .", ("taxon/screw/wild", "cell/nail/thread")),
    "disjoint taxa": ("<taxon/rivet> owl:disjointWith <taxon/screw> .", ("taxon/rivet", "taxon/screw", "disjoint")),
    "disjoint taxa in a list": (
        "[] a owl:AllDisjointClasses ; owl:members ( <taxon/rivet> <taxon/screw> <taxon/nail> ) .",
        ("taxon/rivet", "taxon/nail", "disjoint"),
    ),
    "equivalent taxa": ("<taxon/rivet> owl:equivalentClass <taxon/screw> .", ("taxon/rivet", "equivalentClass", "taxon/screw")),
    "defined taxon": (
        "<taxon/rivet> owl:equivalentClass [ a owl:Restriction ; owl:onProperty <character/head> ; owl:allValuesFrom <state/head/round> ] .",
        ("taxon/rivet", "equivalentClass"),
    ),
    "disjoint union": ("<taxon/nail> owl:disjointUnionOf ( <taxon/wire-nail> <taxon/lost-head-nail> <taxon/screw-nail> ) .", ("taxon/nail", "disjointUnionOf")),
    "impossible taxon": ("<taxon/rivet> rdfs:subClassOf owl:Nothing .", ("taxon/rivet", "owl:Nothing")),
    "taxon under a foreign class": ("<tool> a owl:Class . <taxon/rivet> rdfs:subClassOf <tool> .", ("taxon/rivet", "tool")),
    "general class inclusion": (
        "[ a owl:Restriction ; owl:onProperty <character/head> ; owl:someValuesFrom <state/head/round> ] rdfs:subClassOf <taxon/rivet> .",
        ("subClassOf", "taxon/rivet"),
    ),
    "taxon that is a record": ("<taxon/rivet> rdfs:subClassOf lt:Record .", ("taxon/rivet", "lt:Record")),
    "import": ("<ontology> owl:imports <http://example.org/upper> .", ("ontology", "imports")),
    "rule of a foreign class": ("<a> a owl:Class ; rdfs:subClassOf <b> . <b> a owl:Class .", ("workshop/a", "workshop/b")),
    # ---- individuals
    "individual with a property": (
        "<statement/rivet.head.drawer-labels> <character/head> <statement/rivet.drive.drawer-labels> .",
        ("statement/rivet.head.drawer-labels", "character/head"),
    ),
    "individual with a figure": ("<source/shop-ledger> <character/length> 5.0 .", ("source/shop-ledger", "character/length")),
    "plant as an individual": ("<plant> a owl:NamedIndividual , <taxon/rivet> .", ("workshop/plant", "taxon/rivet")),
    "unnamed plant": ("[] a <taxon/rivet> .", ("taxon/rivet",)),
    "same individuals": ("<source/shop-ledger> owl:sameAs <source/drawer-labels> .", ("source/shop-ledger", "sameAs")),
    "different individuals": ("[] a owl:AllDifferent ; owl:distinctMembers ( <source/shop-ledger> <source/drawer-labels> ) .", ("AllDifferent",)),
    "denied assertion": (
        """[] a owl:NegativePropertyAssertion ; owl:sourceIndividual <source/shop-ledger> ;
            owl:assertionProperty <character/head> ; owl:targetIndividual <source/drawer-labels> .""",
        ("NegativePropertyAssertion",),
    ),
    "annotated axiom": (
        """[] a owl:Axiom ; rdfs:comment "Invented." ;
            owl:annotatedSource <taxon/rivet> ; owl:annotatedProperty rdfs:subClassOf ; owl:annotatedTarget <taxon/fastener> .""",
        ("owl:Axiom",),
    ),
    # ---- states
    "state under two states": ("<state/head/mushroom> rdfs:subClassOf <state/head/flat> .", ("state/head/mushroom", "2 states")),
    "state under another character's value": ("<state/head/flat> rdfs:subClassOf <character/drive/value> .", ("state/head/flat", "character/drive/value")),
    "state under another character's state": ("<state/head/flat> rdfs:subClassOf <state/drive/slot> .", ("state/head/flat", "state/drive/slot")),
    "states under each other": ("<state/head/round> rdfs:subClassOf <state/head/mushroom> .", ("state/head/round", "state/head/mushroom")),
    "values under values": ("<character/head/value> rdfs:subClassOf <character/drive/value> .", ("character/head/value", "character/drive/value")),
    "equivalent states": ("<state/head/flat> owl:equivalentClass <state/head/pan> .", ("state/head/flat", "equivalentClass", "state/head/pan")),
    "cover that leaves a state out": (
        "<state/head/round> owl:equivalentClass [ a owl:Class ; owl:unionOf ( <state/head/mushroom> <state/head/flat> ) ] .",
        ("state/head/round", "equivalentClass"),
    ),
    "cover by individuals": (
        "<character/head/value> owl:equivalentClass [ a owl:Class ; owl:oneOf ( <source/shop-ledger> ) ] .",
        ("character/head/value", "equivalentClass"),
    ),
    "state that is what another is not": (
        "<state/head/round> owl:equivalentClass [ a owl:Class ; owl:complementOf <state/head/flat> ] .",
        ("state/head/round", "equivalentClass"),
    ),
    "state disjoint with itself": ("<state/head/flat> owl:disjointWith <state/head/flat> .", ("state/head/flat", "disjoint")),
    "state twice in a list": (
        "[] a owl:AllDisjointClasses ; owl:members ( <state/head/flat> <state/head/none> <state/head/flat> ) .",
        ("state/head/flat", "disjoint"),
    ),
    "state disjoint with its parent": ("<state/head/pan> owl:disjointWith <state/head/round> .", ("state/head/pan", "state/head/round", "disjoint")),
    "states of two characters disjoint": ("<state/head/pan> owl:disjointWith <state/drive/hex> .", ("state/head/pan", "state/drive/hex", "disjoint")),
    "siblings that overlap": (
        """<state/head/square> a owl:Class ; rdfs:subClassOf <character/head/value> ;
            lt:character <character/head> ; lt:word "square" ; dcterms:identifier "square" .""",
        ("state/head/flat", "state/head/square", "do not exclude each other"),
    ),
    "state with a restriction": (
        "<state/head/flat> rdfs:subClassOf [ a owl:Restriction ; owl:onProperty <character/thread> ; owl:allValuesFrom <state/thread/absent> ] .",
        ("state/head/flat", "state/thread/absent"),
    ),
    # ---- cells
    "two restrictions on one cell": (
        "<cell/rivet/head> rdfs:subClassOf [ a owl:Restriction ; owl:onProperty <character/head> ; owl:allValuesFrom <state/head/flat> ] .",
        ("cell/rivet/head", "2 restrictions"),
    ),
    "second restriction of another character": (
        "<cell/rivet/head> rdfs:subClassOf [ a owl:Restriction ; owl:onProperty <character/drive> ; owl:allValuesFrom <state/drive/slot> ] .",
        ("cell/rivet/head", "character/drive"),
    ),
    "two quantifiers in one restriction": (
        """<cell/rivet/finish> a owl:Class ; rdfs:subClassOf [ a owl:Restriction ; owl:onProperty <character/finish> ;
            owl:allValuesFrom <state/finish/dull> ; owl:someValuesFrom <state/finish/rusty> ] . <taxon/rivet> rdfs:subClassOf <cell/rivet/finish> .""",
        ("cell/rivet/finish", "someValuesFrom"),
    ),
    "two properties in one restriction": (
        """<cell/rivet/finish> a owl:Class ; rdfs:subClassOf [ a owl:Restriction ; owl:onProperty <character/finish> , <character/finish-new> ;
            owl:allValuesFrom <state/finish/dull> ] . <taxon/rivet> rdfs:subClassOf <cell/rivet/finish> .""",
        ("cell/rivet/finish", "character/finish-new"),
    ),
    "cell under a cell": ("<cell/rivet/head> rdfs:subClassOf <cell/wire-nail/head> .", ("cell/rivet/head", "cell/wire-nail/head")),
    "cell under a taxon": ("<cell/rivet/head> rdfs:subClassOf <taxon/nail> .", ("cell/rivet/head", "taxon/nail")),
    "cell outside the folder of cells": (
        """<box> a owl:Class ; rdfs:subClassOf [ a owl:Restriction ; owl:onProperty <character/finish> ; owl:allValuesFrom <state/finish/dull> ] .
        <taxon/rivet> rdfs:subClassOf <box> .""",
        ("workshop/box",),
    ),
    "cell under another character's name": (
        """<cell/rivet/finish> a owl:Class ; rdfs:subClassOf [ a owl:Restriction ;
            owl:onProperty <character/thickness> ; owl:allValuesFrom <state/thickness/thin> ] .
        <taxon/rivet> rdfs:subClassOf <cell/rivet/finish> .""",
        ("cell/rivet/finish", "character/thickness"),
    ),
}


def _cell(filler: str, character: str = "finish") -> str:
    """A new cell of the rivet for one character, with the filler given."""
    return f"""<cell/rivet/{character}> a owl:Class ;
        rdfs:subClassOf [ a owl:Restriction ; owl:onProperty <character/{character}> ; owl:allValuesFrom {filler} ] .
        <taxon/rivet> rdfs:subClassOf <cell/rivet/{character}> ."""


def _span(facets: str, datatype: str = "xsd:decimal") -> str:
    return f"[ a rdfs:Datatype ; owl:onDatatype {datatype} ; owl:withRestrictions ( {facets} ) ]"


FILLERS: dict[str, tuple[str, str]] = {
    # name: (character, filler)
    "nominal": ("finish", "[ a owl:Class ; owl:oneOf ( <source/shop-ledger> ) ]"),
    "intersection": ("finish", "[ a owl:Class ; owl:intersectionOf ( <state/finish/dull> <state/finish/rusty> ) ]"),
    "state of another character": ("finish", "<state/thickness/thin>"),
    "taxon as a value": ("finish", "<taxon/nail>"),
    "any value at all": ("finish", "<character/finish/value>"),
    "nothing": ("finish", "owl:Nothing"),
    "denial of a denial": ("finish", "[ a owl:Class ; owl:complementOf [ a owl:Class ; owl:complementOf <state/finish/dull> ] ]"),
    "union within a union": (
        "finish",
        "[ a owl:Class ; owl:unionOf ( <state/finish/dull> [ a owl:Class ; owl:unionOf ( <state/finish/black> <state/finish/bright> ) ] ) ]",
    ),
    "list without an end": ("finish", "[ a owl:Class ; owl:unionOf [ rdf:first <state/finish/dull> ] ]"),
    "restriction as a value": ("finish", "[ a owl:Restriction ; owl:onProperty <character/head> ; owl:someValuesFrom <state/head/flat> ]"),
    "data range for states": ("finish", "xsd:decimal"),
    "states for a measure": ("length", "<state/finish/dull>"),
    "exclusive bound": ("length", _span("[ xsd:minExclusive 3.0 ] [ xsd:maxInclusive 5.0 ]")),
    "pattern": ("length", _span('[ xsd:pattern "[0-9]" ]')),
    "data complement": ("length", f"[ a rdfs:Datatype ; owl:datatypeComplementOf {_span('[ xsd:maxInclusive 5.0 ]')} ]"),
    "enumerated figures": ("length", "[ a rdfs:Datatype ; owl:oneOf ( 3.0 5.0 ) ]"),
    "gap in a measure": (
        "length",
        f"[ a rdfs:Datatype ; owl:unionOf ( {_span('[ xsd:maxInclusive 3.0 ]')} {_span('[ xsd:minInclusive 5.0 ]')} ) ]",
    ),
    "range of doubles": ("length", _span("[ xsd:minInclusive 3.0e0 ]", "xsd:double")),
    "double as a bound of decimals": ("length", _span('[ xsd:minInclusive "3.0"^^xsd:double ]')),
    "text as a bound": ("length", _span('[ xsd:minInclusive "3.0" ]')),
    "no number as a bound": ("length", _span('[ xsd:minInclusive "NaN"^^xsd:decimal ]')),
    "reversed range": ("length", _span("[ xsd:minInclusive 12.0 ] [ xsd:maxInclusive 5.0 ]")),
    "whole numbers for a measure": ("length", _span("[ xsd:minInclusive 3 ] [ xsd:maxInclusive 5 ]", "xsd:integer")),
    "any whole number for a measure": ("length", "xsd:integer"),
    "decimals for a count": ("turns", _span("[ xsd:minInclusive 3.5 ] [ xsd:maxInclusive 5.5 ]")),
    "range of texts": ("length", "xsd:string"),
    "two bounds on one node": ("length", _span("[ xsd:minInclusive 3.0 ; xsd:maxInclusive 5.0 ]")),
    "two unions on one node": ("finish", "[ a owl:Class ; owl:unionOf ( <state/finish/dull> ) , ( <state/finish/black> ) ]"),
}
PLANTED |= {
    f"filler: {name}": (_cell(filler, character), ("cell/rivet/" + character,)) for name, (character, filler) in FILLERS.items() if character != "length"
}
# The rivet has no cell on length; "beyond 32 bits" and "five decimal places" are told by character.
PLANTED |= {f"filler: {name}": (_cell(filler, character), (f"cell/rivet/{character}", "subClassOf")) for name, (character, filler) in FILLERS.items()}
PLANTED |= {
    "bound with five decimal places": (_cell(_span("[ xsd:minInclusive 3.00001 ]"), "length"), ("length", "decimal places")),
    "bound beyond 32 bits": (_cell(_span("[ xsd:minInclusive 30000000000.0 ]"), "length"), ("length", "32 bits")),
}
