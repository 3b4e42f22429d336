"""Words of the built ontologies: labels, definitions, sources, header, literals; each check has been seen to fail."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable
from datetime import date
from pathlib import Path

import pytest
from rdflib import OWL, RDF, RDFS, Graph, Literal, URIRef, namespace
from rdflib.namespace import DCTERMS, PROV, SKOS, VANN
from rdflib.term import Node

from lenticel.build import ontology_of
from lenticel.iris import IN_AXIOMS, LT, UNWRITTEN, predicate
from lenticel.model import Knowledge
from lenticel.owl import vocabulary
from lenticel.schema import TABLES

Built = tuple[Graph, Knowledge]
Found = tuple[int, list[str]]  # how many things were looked at, and what is wrong

SCHEMA = (OWL.Class, OWL.ObjectProperty, OWL.DatatypeProperty, OWL.AnnotationProperty)
# https://www.w3.org/TR/xmlschema11-2/, the lexical space of each datatype that the ontology uses
LEXICAL = {
    namespace.XSD.decimal: r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)",
    namespace.XSD.integer: r"[+-]?[0-9]+",
    namespace.XSD.boolean: r"true|false|1|0",
    namespace.XSD.date: r"[0-9]{4}-[0-9]{2}-[0-9]{2}",
}


@pytest.fixture(scope="module", params=["trees", "workshop"])
def built(request: pytest.FixtureRequest, ontology: Built, workshop_tables: Path) -> Built:
    return ontology if request.param == "trees" else ontology_of(workshop_tables)


def _ours(graph: Graph, knowledge: Knowledge, kinds: Iterable[Node]) -> list[URIRef]:
    """The named things of these kinds whose IRIs lie below the knowledge's or the vocabulary's."""
    found = {each for kind in kinds for each in graph.subjects(RDF.type, kind) if isinstance(each, URIRef)}
    return sorted(each for each in found if str(each).startswith((knowledge.about.iri, str(LT))))


def labels(graph: Graph, knowledge: Knowledge) -> Found:
    """Everything has one label in plain words, and no two classes or properties share one (OBO Foundry principle 12)."""
    schema = _ours(graph, knowledge, SCHEMA)
    things = [*schema, *_ours(graph, knowledge, [OWL.NamedIndividual])]
    faults = []
    for thing in things:
        found = [str(each) for each in graph.objects(thing, RDFS.label)]
        if len(found) != 1 or not found[0] or found[0] != found[0].strip() or re.search(r"[_\n]|  ", found[0]):
            faults.append(f"{thing} is labelled {found}")
    words = Counter(str(each).casefold() for thing in schema for each in graph.objects(thing, RDFS.label))
    return len(things), faults + [f"{count} terms are labelled {word!r}" for word, count in words.items() if count > 1]


def _exempt(graph: Graph, thing: Node) -> bool:
    """Cells and the tiers of taxa are generated, and say in their label all that there is to say."""
    tier = str(thing).endswith(("/wild", "/typical")) and (URIRef(str(thing).rsplit("/", 1)[0]), LT.rank, None) in graph
    return tier or (thing, PROV.wasDerivedFrom, None) in graph


def definitions(graph: Graph, knowledge: Knowledge) -> Found:
    """Every taxon, character, state and word of the vocabulary has one definition (OBO Foundry principle 6)."""
    terms = [each for each in _ours(graph, knowledge, SCHEMA) if not _exempt(graph, each)]
    faults = []
    for term in terms:
        found = [str(each) for each in graph.objects(term, SKOS.definition)]
        if len(found) != 1 or not re.fullmatch(r"\S.*[.)]", found[0], re.DOTALL):
            faults.append(f"{term} is defined as {found}")
    return len(terms), faults


def sources(graph: Graph, knowledge: Knowledge) -> Found:
    """Every statement cites one source that is described here, and a place in it."""
    found = sorted(graph.subjects(RDF.type, LT.Statement))
    faults = []
    for statement in found:
        cited, places = list(graph.objects(statement, DCTERMS.source)), list(graph.objects(statement, LT.locator))
        if len(cited) != 1 or (cited[0], RDF.type, LT.Source) not in graph or len(places) != 1 or not str(places[0]).strip():
            faults.append(f"{statement} cites {cited}, {places}")
    return len(found), faults


def cells(graph: Graph, knowledge: Knowledge) -> Found:
    """Every class that holds a restriction is a cell, and rests on statements about its taxon and its character."""
    found = sorted((cell, above) for cell, above in graph.subject_objects(RDFS.subClassOf) if (above, RDF.type, OWL.Restriction) in graph)
    faults = []
    for cell, above in found:
        rests_on = list(graph.objects(cell, PROV.wasDerivedFrom))
        about = {(graph.value(each, LT.taxon), graph.value(each, LT.character)) for each in rests_on}
        taxon, prop = about.copy().pop() if about else (None, None)
        if len(about) != 1 or prop != graph.value(above, OWL.onProperty) or (taxon, LT.rank, None) not in graph:
            faults.append(f"{cell} rests on {rests_on}")
    return len(found), faults


def header(graph: Graph, knowledge: Knowledge) -> Found:
    """The header has what FAIR checkers ask of an ontology, once each, and a version IRI made of the IRI and the version."""
    onto = URIRef(f"{knowledge.about.iri}ontology")
    wanted = [DCTERMS.title, DCTERMS.description, DCTERMS.license, DCTERMS.creator, DCTERMS.created, DCTERMS.issued]
    wanted += [OWL.versionIRI, OWL.versionInfo, VANN.preferredNamespacePrefix, VANN.preferredNamespaceUri]
    faults = [f"{prop} stands {len(list(graph.objects(onto, prop)))} times" for prop in wanted if len(list(graph.objects(onto, prop))) != 1]
    faults += [f"{each} is a second header" for each in graph.subjects(RDF.type, OWL.Ontology) if each != onto]
    version, name = graph.value(onto, OWL.versionIRI), graph.value(onto, OWL.versionInfo)
    if version == onto or str(version) != f"{onto}/{name}":
        faults.append(f"the version {version} is not the IRI followed by {name}")
    return len(wanted), faults


def literals(graph: Graph, knowledge: Knowledge) -> Found:
    """Every literal is a plain text, or spelt as its datatype asks."""
    found = sorted({each for each in graph.objects() if isinstance(each, Literal)}, key=repr)
    faults = []
    for each in found:
        if each.datatype is None or each.datatype == namespace.XSD.string:
            continue
        spelt = each.datatype in LEXICAL and re.fullmatch(LEXICAL[each.datatype], str(each))
        if not spelt or each.ill_typed or (each.datatype == namespace.XSD.date and date.fromisoformat(str(each)) is None):
            faults.append(each.n3())
    return len(found), faults


def subjects(graph: Graph, knowledge: Knowledge) -> Found:
    """Nothing is said of a thing that others named, save that its property is an annotation property."""
    found = sorted({(one, prop, value) for one, prop, value in graph if isinstance(one, URIRef)})
    faults = [
        f"{one} {prop} {value}"
        for one, prop, value in found
        if not str(one).startswith((knowledge.about.iri, str(LT))) and (prop, value) != (RDF.type, OWL.AnnotationProperty)
    ]
    return len(found), faults


CHECKS: tuple[Callable[[Graph, Knowledge], Found], ...] = (labels, definitions, sources, cells, header, literals, subjects)


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
def test_the_ontology_passes(built: Built, check: Callable[[Graph, Knowledge], Found]) -> None:
    looked_at, faults = check(*built)
    print(f"{check.__name__}: {looked_at} looked at")
    assert looked_at >= 10
    assert not faults, "\n".join(faults[:20])


BASE = "https://example.org/workshop/"
TAXON, STATE, CHARACTER = (URIRef(BASE + each) for each in ("taxon/rivet", "state/head/flat", "character/head"))
STATEMENT, CELL, ONTO = (URIRef(BASE + each) for each in ("statement/rivet.head.drawer-labels", "cell/rivet/head", "ontology"))


@pytest.mark.parametrize(
    ("check", "subject", "prop", "values"),
    [
        (labels, TAXON, RDFS.label, []),
        (labels, CELL, RDFS.label, ["one", "two"]),
        (labels, STATEMENT, RDFS.label, [" blank before"]),
        (labels, STATE, RDFS.label, ["snake_case"]),
        (labels, STATE, RDFS.label, ["HEAD"]),
        (labels, LT.rank, RDFS.label, ["status"]),
        (definitions, TAXON, SKOS.definition, []),
        (definitions, STATE, SKOS.definition, ["One.", "Two."]),
        (definitions, CHARACTER, SKOS.definition, ["no sentence"]),
        (definitions, LT.rank, SKOS.definition, []),
        (sources, STATEMENT, DCTERMS.source, []),
        (sources, STATEMENT, DCTERMS.source, [URIRef("urn:unknown")]),
        (sources, STATEMENT, LT.locator, []),
        (sources, STATEMENT, LT.locator, [" "]),
        (cells, CELL, PROV.wasDerivedFrom, []),
        (cells, CELL, PROV.wasDerivedFrom, [URIRef(f"{BASE}statement/rivet.drive.drawer-labels")]),
        (cells, STATEMENT, LT.taxon, [URIRef("urn:unknown")]),
        (header, ONTO, DCTERMS.license, []),
        (header, ONTO, DCTERMS.title, ["One", "Two"]),
        (header, ONTO, OWL.versionIRI, [ONTO]),
        (header, ONTO, OWL.versionInfo, ["2027-01-01"]),
        (header, URIRef(f"{BASE}other"), RDF.type, [OWL.Ontology]),
        (literals, ONTO, DCTERMS.created, [Literal("25/11/2026", datatype=namespace.XSD.date)]),
        (literals, CHARACTER, LT.plausibleMin, [Literal("1e3", datatype=namespace.XSD.decimal, normalize=False)]),
        (literals, CHARACTER, LT.plausibleMin, [Literal(1.5)]),
        (subjects, RDFS.label, RDFS.comment, ["A word on another's word."]),
    ],
)
def test_a_planted_fault_is_found(workshop_tables: Path, check: Callable[[Graph, Knowledge], Found], subject: URIRef, prop: URIRef, values: list[str]) -> None:
    graph, knowledge = ontology_of(workshop_tables)
    graph.remove((subject, prop, None))
    for value in values:
        graph.add((subject, prop, value if isinstance(value, (URIRef, Literal)) else Literal(value)))
    assert check(graph, knowledge)[1]


@pytest.mark.parametrize(("table", "column"), [(name, column.name) for name, table in TABLES.items() for column in table.columns if name != "about"])
def test_every_column_is_an_annotation_property_of_the_vocabulary_or_an_axiom(table: str, column: str) -> None:
    if (table, column) in IN_AXIOMS or table in UNWRITTEN:
        return
    words, prop = vocabulary(), predicate(table, column)
    assert prop == RDFS.label or (prop, RDF.type, OWL.AnnotationProperty) in words
    if prop in LT:
        assert len(list(words.objects(prop, RDFS.label))) == 1
        assert len(list(words.objects(prop, SKOS.definition))) == 1


def test_the_vocabulary_declares_no_word_that_nothing_uses(ontology: Built) -> None:
    columns = {
        predicate(name, column.name)
        for name, table in TABLES.items()
        for column in table.columns
        if name not in {"about", *UNWRITTEN} and (name, column.name) not in IN_AXIOMS
    }
    declared = {each for each in vocabulary().subjects(RDF.type, OWL.AnnotationProperty) if each in LT}
    print(f"{len(declared)} annotation properties of the vocabulary")
    assert declared == {each for each in columns if each in LT} | {LT.order}
    used = set(ontology[0].predicates())
    foreign = set(vocabulary().subjects(RDF.type, OWL.AnnotationProperty)) - declared
    assert foreign <= used


def test_cells_and_axioms_carry_the_columns_that_no_annotation_does(built: Built) -> None:
    graph, knowledge = built
    assert all(any(column.name == name for column in TABLES[table].columns) for table, name in IN_AXIOMS)
    below = sum(1 for each in knowledge.taxa.values() if each.parent)
    assert below == sum(1 for one, above in graph.subject_objects(RDFS.subClassOf) if (one, LT.rank, None) in graph and (above, LT.rank, None) in graph)
    assert sum(1 for each in knowledge.characters.values() if each.broader) == len(list(graph.subject_objects(RDFS.subPropertyOf)))
    assert sum(1 for each in knowledge.characters.values() if each.applies_if) == len(list(graph.subject_objects(RDFS.domain)))
