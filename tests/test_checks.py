"""The rules of `ontology/checks`: each holds for the built ontologies, and each has been seen to fail on a planted fault."""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterable
from pathlib import Path

import pytest
from pyoxigraph import NamedNode, QuerySolutions, RdfFormat, Store, parse
from rdflib import Graph

from lenticel.build import ontology_of
from lenticel.iris import IN_AXIOMS, OUTLIVING, predicate
from lenticel.model import Knowledge
from lenticel.quantity import UNITS
from lenticel.schema import TABLES

CHECKS = sorted((Path(__file__).parents[1] / "ontology" / "checks").glob("*.rq"))
SAID = ("Problem", "Why", "Fix", "Looks at", "Level")
BASE = "https://example.org/workshop/"
PREFIXES = f"""
@prefix bad: <{BASE}bad/> . @prefix good: <{BASE}good/> . @prefix character: <{BASE}character/> . @prefix state: <{BASE}state/> .
@prefix taxon: <{BASE}taxon/> . @prefix source: <{BASE}source/> . @prefix statement: <{BASE}statement/> .
@prefix lt: <https://w3id.org/lenticel/vocabulary/> . @prefix owl: <http://www.w3.org/2002/07/owl#> .
@prefix rdf: <http://www.w3.org/1999/02/22-rdf-syntax-ns#> . @prefix rdfs: <http://www.w3.org/2000/01/rdf-schema#> .
@prefix xsd: <http://www.w3.org/2001/XMLSchema#> . @prefix skos: <http://www.w3.org/2004/02/skos/core#> .
@prefix dcterms: <http://purl.org/dc/terms/> . @prefix prov: <http://www.w3.org/ns/prov#> . @prefix vann: <http://purl.org/vocab/vann/> .
"""
HEADER = 'a owl:Ontology ; dcterms:license <urn:licence> ; dcterms:creator "C" ; dcterms:description "D"'
CITED = 'dcterms:source source:shop-ledger ; lt:locator "p. 1"'


def each_with(properties: Iterable[str], line: str) -> str:
    """One planted line for each property, each about a subject of its own."""
    return "".join(line.format(subject=f"bad:n{place}", property=prop) for place, prop in enumerate(properties))


def columns(*kinds: str) -> list[str]:
    """The properties that carry columns of these kinds."""
    found = {predicate(name, column.name) for name, table in TABLES.items() for column in table.columns if column.kind in kinds and name != "about"}
    axioms = {predicate(*each) for each in (*IN_AXIOMS, OUTLIVING)}  # the last holds a term or, once it is gone, its identity as text
    return [f"<{each}>" for each in sorted(found - axioms) if not each.endswith("/confusableWith")]  # a list of states, which are terms


LOGICAL = ("rdfs:subClassOf", "rdfs:subPropertyOf", "rdfs:domain", "rdfs:range", "owl:equivalentClass", "owl:disjointWith")
INSIDE = ("owl:complementOf", "owl:onProperty", "owl:allValuesFrom", "owl:someValuesFrom", "rdf:first", "lt:taxon", "lt:character")

# For each rule, what is added to the workshop: it must find every subject called `bad`, and nothing that is called `good`.
PLANTED = {
    "built-in-vocabulary": """
        bad:a owl:hasNoMeaning "x" . bad:b a owl:Klass . bad:c rdfs:subclassOf taxon:nail . rdfs:bad rdfs:label "bad" .
        good:a rdfs:comment "x" ; rdfs:seeAlso good:b ; rdfs:isDefinedBy good:b ; owl:deprecated true ;
        owl:imports good:b ; owl:priorVersion good:b .""",
    "caution-without-advice": """
        bad:a a lt:Caution ; lt:harm "It cuts." ; lt:who "people" . bad:b a lt:Caution ; lt:harm "It cuts." ; lt:who "people" ; lt:advice " " .
        bad:c a lt:Caution ; lt:advice "Leave it be." ; lt:who "people" . bad:d a lt:Caution ; lt:advice "Leave it be." ; lt:harm "It cuts." .
        good:a a lt:Caution ; lt:advice "Leave it be." ; lt:harm "It cuts." ; lt:who "people" .""",
    "cell-without-statements": """
        bad:a rdfs:subClassOf [ a owl:Restriction ] . bad:b rdfs:subClassOf [ a owl:Restriction ] ; prov:wasDerivedFrom taxon:nail .
        good:a rdfs:subClassOf [ a owl:Restriction ] ; prov:wasDerivedFrom statement:rivet.drive.drawer-labels . good:b rdfs:subClassOf taxon:nail .""",
    "deprecated-in-use": each_with(LOGICAL + INSIDE, "{subject} a owl:Class ; owl:deprecated true . good:user {property} {subject} . ")
    + each_with(LOGICAL, "{subject}-own a owl:Class ; owl:deprecated true ; {property} taxon:nail . ")
    + """
        bad:d a owl:Class ; owl:deprecated "true" . [] owl:unionOf ( bad:d state:head ) .
        bad:e a owl:Class ; owl:deprecated "1"^^xsd:boolean ; rdfs:subClassOf taxon:nail .
        good:a owl:deprecated true ; dcterms:isReplacedBy taxon:nail . good:b owl:deprecated false ; rdfs:subClassOf taxon:nail .""",
    "deprecated-not-boolean": """
        bad:a a owl:Class . bad:b a owl:Class . bad:c a owl:Class . bad:d a owl:Class .
        bad:a owl:deprecated "true" . bad:b owl:deprecated "yes"^^xsd:boolean . bad:c owl:deprecated taxon:nail . bad:d owl:deprecated 1 .
        good:a owl:deprecated true . good:b owl:deprecated false . good:c owl:deprecated "1"^^xsd:boolean , "0"^^xsd:boolean .""",
    "deprecated-without-successor": """
        bad:a owl:deprecated true . bad:b owl:deprecated true ; dcterms:isReplacedBy bad:a . bad:c owl:deprecated true ; dcterms:isReplacedBy "nail" .
        bad:d a owl:Class ; owl:deprecated "1"^^xsd:boolean . bad:e a owl:Class ; owl:deprecated true ; dcterms:isReplacedBy bad:d .
        bad:a a owl:Class . bad:b a owl:Class . bad:c a owl:Class .
        good:a owl:deprecated true ; dcterms:isReplacedBy taxon:nail . good:b owl:deprecated false .""",
    "duplicate-definition": """
        bad:a a owl:Class ; lt:character character:head ; skos:definition "Flat above." . good:a a owl:Class ; skos:definition "Flat above." .
        bad:b a owl:Class ; lt:character character:head ; skos:definition "flat above." .
        good:b a owl:Class ; lt:character character:drive ; skos:definition "Flat above." .""",
    "duplicate-label": """
        bad:a a owl:Class ; rdfs:label "twin" . bad:b a owl:ObjectProperty ; rdfs:label "Twin" .
        bad:c a owl:DatatypeProperty ; rdfs:label "TWIN" .
        bad:h a owl:Class ; rdfs:label "couple" . bad:i a owl:Class ; rdfs:label "Couple" .
        bad:j a owl:ObjectProperty ; rdfs:label "two" . bad:k a owl:ObjectProperty ; rdfs:label "Two" .
        bad:d a owl:AnnotationProperty ; rdfs:label "pair" . bad:e a owl:AnnotationProperty ; rdfs:label "Pair" .
        bad:f a owl:DatatypeProperty ; rdfs:label "brace" . bad:g a owl:DatatypeProperty ; rdfs:label "Brace" .
        good:a a owl:NamedIndividual ; rdfs:label "twin" . good:b a owl:Class ; rdfs:label "twins" .""",
    "foreign-term": """
        <https://elsewhere.example/bad/a> a owl:Class . <https://elsewhere.example/bad/b> a owl:NamedIndividual .
        xsd:bad a owl:DatatypeProperty . owl:bad a owl:ObjectProperty .
        good:a a owl:Class . lt:good a owl:Class . skos:good a owl:AnnotationProperty .""",
    "label-spelling": r"""
        bad:a rdfs:label " blank before" . bad:b rdfs:label "two  blanks" . bad:c rdfs:label "a\nbreak" . bad:d rdfs:label "" . bad:e rdfs:label "a_b" .
        bad:f rdfs:label "leafMargin" . bad:g a owl:NamedIndividual ; rdfs:label "blank after " . bad:h rdfs:label "feuilleÉtroite" .
        good:a rdfs:label "leaf margin, of the Dutch kind" . good:b a owl:NamedIndividual ; rdfs:label "McIntosh, plant_list" .""",
    "lookalike-of-one": """
        bad:a a lt:Lookalike ; lt:taxa taxon:nail . bad:b a lt:Lookalike . bad:c a lt:Lookalike ; lt:taxa taxon:nail , taxon:unknown .
        good:a a lt:Lookalike ; lt:taxa taxon:nail , taxon:screw .""",
    "missing-definition": """
        bad:a a owl:Class ; lt:rank "species" . bad:b a owl:ObjectProperty . bad:d a owl:DatatypeProperty . [] a owl:Class .
        bad:c a owl:Class ; lt:character character:head ; skos:definition " " .
        lt:bad a owl:AnnotationProperty . <https://example.org/workshop/bad/typical> a owl:Class . skos:good a owl:AnnotationProperty .
        good:a lt:rank "species" ; a owl:Class ; skos:definition "x" . <https://example.org/workshop/good/a/wild> a owl:Class .
        good:b a owl:Class ; prov:wasDerivedFrom statement:any .""",
    "missing-label": """
        bad:a a owl:Class . bad:b a owl:DatatypeProperty . bad:c a owl:NamedIndividual . lt:bad a owl:AnnotationProperty . bad:d a owl:ObjectProperty .
        good:a a owl:Class ; rdfs:label "x" . skos:good a owl:AnnotationProperty . [] a owl:Class .""",
    "obsolete-label": """
        bad:a rdfs:label "obsolete head" . bad:b rdfs:label "Obsolete: head" ; owl:deprecated false . bad:c rdfs:label "deprecated" .
        good:a rdfs:label "obsolete head" ; owl:deprecated true . good:c rdfs:label "obsolete nail" ; owl:deprecated "1"^^xsd:boolean .
        good:b rdfs:label "obsoletely worn" .""",
    "ontology-header": f"""
        bad:a {HEADER} ; owl:versionIRI <urn:v> . bad:b {HEADER} ; dcterms:title "T" . bad:c {HEADER} ; dcterms:title "T" ; owl:versionIRI bad:c .
        bad:d {HEADER} ; dcterms:title "T", "U" ; owl:versionIRI <urn:v> . bad:e {HEADER} ; dcterms:title "T" ; owl:versionIRI "v" .
        bad:j {HEADER.replace("<urn:licence>", '"free"')} ; dcterms:title "T" ; owl:versionIRI <urn:v> .
        bad:f {HEADER} ; dcterms:title " " ; owl:versionIRI <urn:v> .
        bad:g a owl:Ontology ; dcterms:title "T" ; dcterms:description "D" ; dcterms:creator "C" ; owl:versionIRI <urn:v> .
        bad:h a owl:Ontology ; dcterms:title "T" ; dcterms:license <urn:l> ; dcterms:creator "C" ; owl:versionIRI <urn:v> .
        bad:i a owl:Ontology ; dcterms:title "T" ; dcterms:license <urn:l> ; dcterms:description "D" ; owl:versionIRI <urn:v> .
        good:a {HEADER} ; dcterms:title "T" ; owl:versionIRI <urn:v> .""",
    "quantity-without-unit": """
        bad:a a owl:DatatypeProperty . bad:b a owl:DatatypeProperty ; lt:unit "" . bad:c a owl:DatatypeProperty ; lt:unit "cm" , "mm" .
        good:a a owl:DatatypeProperty ; lt:unit "1" . good:b a owl:ObjectProperty .""",
    "record-without-source": f"""
        bad:a a lt:Statement ; lt:locator "p. 1" . bad:b a lt:Statement ; lt:locator "p. 1" ; dcterms:source source:unknown .
        bad:c a lt:Caution ; dcterms:source source:shop-ledger . bad:d a lt:Name ; dcterms:source source:shop-ledger ; lt:locator " " .
        bad:e a lt:Lookalike ; lt:locator "p. 1" ; dcterms:source source:shop-ledger , source:drawer-labels . good:a a lt:Statement ; {CITED} .""",
    "several-definitions": """
        bad:a skos:definition "One." , "Two." . bad:b skos:definition "One."@en , "One." . good:a skos:definition "One." .""",
    "several-labels": 'bad:a rdfs:label "one" , "two" . bad:b rdfs:label "one" , "one"@en . good:a rdfs:label "one" ; skos:altLabel "two" .',
    "source-without-title": 'bad:a a lt:Source . bad:b a lt:Source ; lt:title " " . good:a a lt:Source ; lt:title "T" .',
    "statement-without-cell": """
        bad:a a lt:Statement ; lt:value "flat" . bad:b a lt:Statement . good:a a lt:Statement . good:cell prov:wasDerivedFrom good:a .""",
    "term-for-text": each_with(
        [*columns("id", "text", "choice", "list"), "dcterms:title", "dcterms:description", "dcterms:creator"], "{subject} {property} lt:Source . "
    )
    + 'bad:a lt:note [] . good:a lt:locator "p. 1" ; rdfs:label "nail" ; lt:value "flat" ; lt:taxon taxon:nail .',
    "text-for-term": each_with(
        [*columns("ref", "refs"), "lt:confusableWith", "prov:wasDerivedFrom", "prov:wasGeneratedBy", "dcterms:isReplacedBy"], '{subject} {property} "nail" . '
    )
    + "bad:a lt:one [] . good:a lt:taxon taxon:nail ; dcterms:source source:shop-ledger .",
    "unknown-unit": 'bad:a lt:unit "inch" . bad:b lt:unit "CM" . bad:c lt:unit <urn:cm> . good:a lt:unit "cm" , "1" .',
    "unsourced-statement": f"""
        good:memory a lt:Source ; lt:kind "memory" . good:practice a lt:Source ; lt:kind "common-practice" .
        bad:a a lt:Statement ; dcterms:source good:memory . bad:b a lt:Caution ; dcterms:source good:practice . good:a a lt:Statement ; {CITED} .""",
    "unused-states": """
        bad:a a owl:ObjectProperty . good:state-1 a owl:Class ; lt:character bad:a . good:state-2 a owl:Class ; lt:character bad:a .
        [] a owl:AllDisjointClasses ; owl:members ( good:state-1 good:state-2 ) .
        good:a a owl:ObjectProperty . good:state-3 a owl:Class ; lt:character good:a . good:state-4 a owl:Class ; lt:character good:a .
        good:cell prov:wasDerivedFrom good:statement ; rdfs:subClassOf [ owl:allValuesFrom [ owl:unionOf ( state:flat good:state-4 ) ] ] .
        good:b a owl:ObjectProperty . good:state-5 a owl:Class ; lt:character good:b . good:c a owl:ObjectProperty .
        good:cell-2 prov:wasDerivedFrom good:statement ; rdfs:subClassOf [ owl:allValuesFrom [ owl:complementOf good:state-5 ] ] .""",
}


def stored(graph: Graph) -> Store:
    """The graph in a store that answers queries fast."""
    store = Store()
    store.bulk_load(graph.serialize(format="nt", encoding="utf-8"), format=RdfFormat.N_TRIPLES)
    return store


@pytest.fixture(scope="module")
def small(workshop_tables: Path) -> Graph:
    return ontology_of(workshop_tables)[0]


@pytest.fixture(scope="module", params=["trees", "workshop"])
def store(request: pytest.FixtureRequest, ontology: tuple[Graph, Knowledge], small: Graph) -> Store:
    return stored(ontology[0] if request.param == "trees" else small)


def said(check: Path) -> dict[str, str]:
    """What the comments at the top of a rule say."""
    return dict(re.findall(r"^# ([A-Z][a-z ]+): (\S.*)$", check.read_text(encoding="utf-8").split("\n\n")[0], re.MULTILINE))


def looked_at(check: Path, wanted: str) -> str:
    """The query for the nodes that a rule looks at."""
    prefixes = "".join(re.findall(r"^PREFIX .*\n", check.read_text(encoding="utf-8"), re.MULTILINE))
    return f"{prefixes}SELECT {wanted} WHERE {{ {said(check)['Looks at']} }}"


def select(store: Store, query: str) -> QuerySolutions:
    """The rows of a SELECT query."""
    found = store.query(query)
    assert isinstance(found, QuerySolutions)
    return found


def rows(store: Store, check: Path) -> list[tuple[str, ...]]:
    """Entity, property and value of each violation of a rule."""
    found = select(store, check.read_text(encoding="utf-8"))
    assert [each.value for each in found.variables] == ["entity", "property", "value"]
    return sorted(tuple("" if each is None else getattr(each, "value", str(each)) for each in row) for row in found)


def test_there_is_a_planted_fault_for_every_rule() -> None:
    assert {each.stem for each in CHECKS} == set(PLANTED)
    assert len(CHECKS) >= 20


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.stem)
def test_a_rule_says_its_problem_why_it_matters_and_the_fix(check: Path) -> None:
    lines = check.read_text(encoding="utf-8").splitlines()
    assert [line.split(":")[0] for line in lines[: len(SAID)]] == [f"# {each}" for each in SAID]
    assert list(said(check)) == list(SAID)
    assert all(re.fullmatch(r"[A-Z].{15,200}\.", said(check)[each]) for each in ("Problem", "Why", "Fix"))
    assert said(check)["Level"] in ("error", "warning")


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.stem)
def test_the_ontology_breaks_no_rule(store: Store, check: Path) -> None:
    """A rule of the level `warning` is shown, not failed: there may be nothing better to cite yet."""
    count = int(next(select(store, looked_at(check, "(COUNT(DISTINCT ?entity) AS ?count)")))[0].value)
    found, told = rows(store, check), said(check)
    print(f"{check.stem}: {count} looked at")
    assert count > 0
    report = f"{told['Problem']} {told['Fix']} {len(found)} rows:\n" + "\n".join(map(str, found[:20]))
    if told["Level"] == "error":
        assert not found, report
    elif found:
        warnings.warn(report, stacklevel=1)


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.stem)
def test_a_rule_finds_each_planted_fault_and_leaves_the_rest_alone(small: Graph, check: Path) -> None:
    planted = PREFIXES + PLANTED[check.stem]
    subjects = {each.subject.value for each in parse(planted, format=RdfFormat.TURTLE) if isinstance(each.subject, NamedNode)}
    faults = {each for each in subjects if re.search("[/#]bad", each)}
    store = stored(small)
    store.load(planted, format=RdfFormat.TURTLE)
    assert len(faults) > 0
    assert {entity for entity, _, _ in rows(store, check)} == faults
    assert faults <= {each[0].value for each in select(store, looked_at(check, "DISTINCT ?entity"))}


def test_the_units_of_the_rule_are_those_that_the_program_converts() -> None:
    rule = next(each for each in CHECKS if each.stem == "unknown-unit").read_text(encoding="utf-8")
    listed = re.search(r"NOT IN \((.*)\)\)", rule)
    assert listed is not None
    assert set(re.findall(r'"([^"]+)"', listed[1])) == set(UNITS)
