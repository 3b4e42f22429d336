"""The built ontologies as files: OWL 2 DL, consistent, the same in every reader, the same bytes each time, and back to records."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

import pyhornedowl
import pyoxigraph
import pytest
from rdflib import OWL, RDF, RDFS, Graph, URIRef
from rdflib.term import Node

from lenticel.build import ontology_of
from lenticel.graphs import empty_graph
from lenticel.model import Knowledge
from lenticel.proof import _java
from lenticel.records import knowledge_from
from lenticel.serialise import serialised

FILES = [
    "dataset.nq.gz",
    "released.csv",
    "identifiers.csv",
    "ontology.rdf",
    "ontology.ttl",
    *(f"snapshot/{name}" for name in ("hard.npy", "known.npy", "manifest.json", "ranges.npy", "records.json")),
]
FILES += ["snapshot/terminal.npy", "snapshot/typical.npy"]
PREFIXES = """
@base <https://example.org/workshop/> .
@prefix owl: <http://www.w3.org/2002/07/owl#> . @prefix rdfs: <http://www.w3.org/2000/01/rdf-schema#> .
"""


@dataclass(frozen=True)
class Release:
    """Two releases of the same tables, built by two processes, and the graph and records that this process makes of them."""

    first: Path
    second: Path
    graph: Graph
    knowledge: Knowledge


@pytest.fixture(scope="module")
def folders(tmp_path_factory: pytest.TempPathFactory, tables: Path, workshop_tables: Path) -> dict[str, list[Path]]:
    """Each body of knowledge released twice, in processes that order their sets and dictionaries differently."""
    top = tmp_path_factory.mktemp("release")
    found: dict[str, list[Path]] = {"trees": [], "workshop": []}
    running = []
    for name, source in (("trees", tables), ("workshop", workshop_tables)):
        for seed in ("1", "2"):
            found[name].append(top / f"{name}-{seed}")
            command = [sys.executable, "-m", "lenticel", "build", "--knowledge", str(source), "--out", str(found[name][-1])]
            environment = {**os.environ, "PYTHONHASHSEED": seed, "TZ": f"UTC+{seed}"}
            running.append(subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, cwd=top))
    for process in running:
        said, _ = process.communicate(timeout=400)
        assert process.returncode == 0, said.decode()
    return found


@pytest.fixture(scope="module", params=["trees", "workshop"])
def release(request: pytest.FixtureRequest, folders: dict[str, list[Path]], ontology: tuple[Graph, Knowledge], workshop_tables: Path) -> Release:
    built = ontology if request.param == "trees" else ontology_of(workshop_tables)
    return Release(*folders[request.param], *built)


@pytest.fixture(scope="module")
def parsed(release: Release) -> dict[str, Graph]:
    return {name: empty_graph().parse(release.first / name) for name in ("ontology.ttl", "ontology.rdf")}


class OwlApi:
    """An ontology file in the OWL API that HermiT's jar holds, annotations and all; the reasoner is made when first asked for."""

    def __init__(self, path: Path) -> None:
        self.java = _java()
        self.manager = self.java.JClass("org.semanticweb.owlapi.apibinding.OWLManager").createOWLOntologyManager()
        self.ontology = self.manager.loadOntologyFromOntologyDocument(self.java.JClass("java.io.File")(str(path)))
        self._reasoner: Any = None

    @property
    def reasoner(self) -> Any:
        if self._reasoner is None:
            hermit = self.java.JPackage("org").semanticweb.HermiT
            self._reasoner = hermit.Reasoner(hermit.Configuration(), self.ontology)
        return self._reasoner

    def violations(self) -> list[str]:
        """What breaks the OWL 2 DL profile (https://www.w3.org/TR/owl2-syntax/, section 3)."""
        report = self.java.JClass("org.semanticweb.owlapi.profiles.OWL2DLProfile")().checkOntology(self.ontology)
        return [str(each) for each in report.getViolations()]

    def impossible(self) -> list[str]:
        """The named classes that can have no member."""
        return sorted(str(each.getIRI()) for each in self.reasoner.getUnsatisfiableClasses().getEntitiesMinusBottom())

    def equal(self) -> list[list[str]]:
        """Groups of named classes that the axioms make one."""
        groups = (self.reasoner.getEquivalentClasses(each).getEntities() for each in self.ontology.getClassesInSignature())
        return sorted({tuple(sorted(str(one.getIRI()) for one in group)) for group in groups if group.size() > 1})

    def write_xml(self, path: Path) -> None:
        """Write the ontology as OWL/XML."""
        self.write(path, "OWLXMLOntologyFormat")

    def write(self, path: Path, form_name: str) -> None:
        """Write the ontology in a form, by the name of its class."""
        form = self.java.JClass(form_name if "." in form_name else f"org.semanticweb.owlapi.io.{form_name}")()
        self.manager.saveOntology(self.ontology, form, self.java.JClass("org.semanticweb.owlapi.model.IRI").create(self.java.JClass("java.io.File")(str(path))))

    def close(self) -> None:
        if self._reasoner is not None:
            self._reasoner.dispose()


@pytest.fixture(scope="module")
def owl_api(release: Release) -> Iterator[OwlApi]:
    opened = OwlApi(release.first / "ontology.rdf")
    yield opened
    opened.close()


def test_it_is_owl_2_dl_without_a_single_violation(owl_api: OwlApi) -> None:
    print(f"{owl_api.ontology.getAxiomCount()} axioms in the profile checker")
    assert owl_api.ontology.getAxiomCount() > 500
    assert owl_api.violations() == []


def test_the_header_is_read_as_annotations_of_the_ontology_itself(owl_api: OwlApi, release: Release) -> None:
    """The OWL API takes what stands before the type of the header for annotations of some IRI."""
    said = [prop for prop in release.graph.predicates(URIRef(f"{release.knowledge.about.iri}ontology")) if prop not in (RDF.type, OWL.versionIRI)]
    assert sorted(str(each.getProperty().getIRI()) for each in owl_api.ontology.getAnnotations()) == sorted(map(str, said))
    assert len(said) >= 10


def test_hermit_finds_it_consistent_with_every_class_possible(owl_api: OwlApi) -> None:
    assert owl_api.ontology.getClassesInSignature().size() > 100
    assert owl_api.reasoner.isConsistent()
    assert owl_api.impossible() == []


def test_no_two_named_classes_are_the_same(owl_api: OwlApi) -> None:
    assert owl_api.equal() == []


@pytest.mark.parametrize(
    ("planted", "sees"),
    [
        ("<taxon/rivet> <weighs> 5 .", OwlApi.violations),
        ("<character/head> a owl:DatatypeProperty .", OwlApi.violations),
        (
            "<character/head> a owl:TransitiveProperty , owl:AsymmetricProperty .",
            OwlApi.violations,
        ),
        ("<state/head/pan> owl:disjointWith <state/head/round> .", OwlApi.impossible),
        ("<taxon/rivet> rdfs:subClassOf <state/head/flat> , <state/head/none> .", OwlApi.impossible),
        ("<cell/rivet/head> rdfs:subClassOf <taxon/rivet> .", OwlApi.equal),
        ("<taxon/fastener> rdfs:subClassOf <taxon/rivet> .", OwlApi.equal),
    ],
)
def test_a_planted_axiom_is_seen_by_the_profile_checker_or_the_reasoner(
    workshop_tables: Path, tmp_path: Path, planted: str, sees: Callable[[OwlApi], list[object]]
) -> None:
    graph, _ = ontology_of(workshop_tables)
    graph.parse(data=PREFIXES + planted, format="turtle")
    (tmp_path / "planted.rdf").write_bytes(serialised(graph, "xml"))
    assert sees(OwlApi(tmp_path / "planted.rdf"))


def test_a_planted_contradiction_makes_it_inconsistent(workshop_tables: Path, tmp_path: Path) -> None:
    graph, _ = ontology_of(workshop_tables)
    graph.parse(data=PREFIXES + "<value> a owl:NamedIndividual , <state/head/flat> , <state/head/none> .", format="turtle")
    (tmp_path / "planted.rdf").write_bytes(serialised(graph, "xml"))
    assert not OwlApi(tmp_path / "planted.rdf").reasoner.isConsistent()


def _count(graph: Graph) -> Counter[str]:
    """The number of logical axioms of each kind, by the mapping of OWL to triples (https://www.w3.org/TR/owl2-mapping-to-rdf/)."""
    individuals = set(graph.subjects(RDF.type, OWL.NamedIndividual))
    properties = {kind: set(graph.subjects(RDF.type, kind)) for kind in (OWL.ObjectProperty, OWL.DatatypeProperty)}
    found = {
        "SubClassOf": len(list(graph.subject_objects(RDFS.subClassOf))),
        "EquivalentClasses": len(list(graph.subject_objects(OWL.equivalentClass))),
        "DisjointClasses": len(list(graph.subject_objects(OWL.disjointWith))) + len(set(graph.subjects(RDF.type, OWL.AllDisjointClasses))),
        "ClassAssertion": sum(1 for one, kind in graph.subject_objects(RDF.type) if one in individuals and kind != OWL.NamedIndividual),
        "SubObjectPropertyOf": sum(1 for one in graph.subjects(RDFS.subPropertyOf) if one in properties[OWL.ObjectProperty]),
        "SubDataPropertyOf": sum(1 for one in graph.subjects(RDFS.subPropertyOf) if one in properties[OWL.DatatypeProperty]),
        "ObjectPropertyDomain": sum(1 for one in graph.subjects(RDFS.domain) if one in properties[OWL.ObjectProperty]),
        "DataPropertyDomain": sum(1 for one in graph.subjects(RDFS.domain) if one in properties[OWL.DatatypeProperty]),
        "ObjectPropertyRange": sum(1 for one in graph.subjects(RDFS.range) if one in properties[OWL.ObjectProperty]),
        "DataPropertyRange": sum(1 for one in graph.subjects(RDFS.range) if one in properties[OWL.DatatypeProperty]),
    }
    return +Counter(found)


def _named(graph: Graph, kind: Node) -> set[str]:
    return {str(each) for each in graph.subjects(RDF.type, kind) if isinstance(each, URIRef)}


def test_rdflib_reads_from_both_files_what_the_owl_api_reads(parsed: dict[str, Graph], owl_api: OwlApi) -> None:
    told = Counter(str(each.getAxiomType()) for each in owl_api.ontology.getLogicalAxioms())
    for graph in parsed.values():
        assert _count(graph) == told
        assert _named(graph, OWL.Class) == {str(each.getIRI()) for each in owl_api.ontology.getClassesInSignature()}


# owlready2 forks to parse large files, and a process that runs a Java machine must not fork: it reads in a process of its own.
OWLREADY2 = """
import json, pathlib, sys, owlready2
opened = owlready2.World().get_ontology(pathlib.Path(sys.argv[1]).as_uri()).load()
classes, individuals = list(opened.classes()), list(opened.individuals())
properties = [*opened.object_properties(), *opened.data_properties()]
implied = (owlready2.Thing, owlready2.ObjectProperty, owlready2.DataProperty)
axioms = sum(1 for thing in (*classes, *individuals, *properties) for above in thing.is_a if above not in implied)
axioms += sum(len(each.equivalent_to) for each in classes) + len(list(opened.disjoints()))
axioms += sum(len(each.domain) + len(each.range) for each in properties)
print(json.dumps([axioms, *([each.iri for each in kind] for kind in (classes, individuals, properties))]))
"""


def test_owlready2_reads_as_many_axioms_and_the_same_terms(release: Release) -> None:
    command = [sys.executable, "-c", OWLREADY2, str(release.first / "ontology.rdf")]
    said = subprocess.run(command, capture_output=True, text=True, timeout=400, check=True).stdout
    axioms, classes, individuals, properties = json.loads(said)
    assert axioms == _count(release.graph).total()
    assert set(classes) == _named(release.graph, OWL.Class)
    assert set(individuals) == _named(release.graph, OWL.NamedIndividual)
    assert set(properties) == _named(release.graph, OWL.ObjectProperty) | _named(release.graph, OWL.DatatypeProperty)


def test_horned_owl_reads_every_axiom_from_owl_xml(release: Release, owl_api: OwlApi, tmp_path: Path) -> None:
    owl_api.write_xml(tmp_path / "ontology.owx")
    read = pyhornedowl.open_ontology_from_file(str(tmp_path / "ontology.owx"), serialization="owx")
    kinds = _count(release.graph)
    assert +Counter({kind: count for kind, count in _kinds(read).items() if kind in kinds}) == kinds
    assert {str(each) for each in read.get_classes()} == _named(release.graph, OWL.Class)


def test_horned_owl_reads_the_released_file_but_for_two_constructs_that_its_reader_drops(release: Release) -> None:
    """Its RDF reader (2.0.0) skips owl:AllDisjointClasses, and at times a restriction to a union of data ranges; all else must be there."""
    graph, read = release.graph, pyhornedowl.open_ontology_from_file(str(release.first / "ontology.rdf"), serialization="rdf")
    ranges = {union for union in graph.subjects(OWL.unionOf) if (union, RDF.type, RDFS.Datatype) in graph}
    dropped = {"DisjointClasses": len(set(graph.subjects(RDF.type, OWL.AllDisjointClasses))), "SubClassOf": len(ranges)}
    kinds = _kinds(read)
    for kind, count in _count(graph).items():
        assert count - dropped.get(kind, 0) <= kinds[kind] <= count, kind
    assert {str(each) for each in read.get_classes()} == _named(graph, OWL.Class)
    assert {str(each) for each in read.get_object_properties()} == _named(graph, OWL.ObjectProperty)


def _kinds(read: Any) -> Counter[str]:
    return Counter(type(each.component).__name__ for each in read.get_axioms())


def _canonical(data: bytes, form: pyoxigraph.RdfFormat) -> set[pyoxigraph.Quad]:
    """The triples with blank nodes named by what they say (https://www.w3.org/TR/rdf-canon/)."""
    dataset = pyoxigraph.Dataset(pyoxigraph.parse(data, format=form))
    dataset.canonicalize(pyoxigraph.CanonicalizationAlgorithm.RDFC_1_0)
    return set(dataset)


def test_turtle_and_rdf_xml_hold_the_same_graph(release: Release) -> None:
    turtle = _canonical((release.first / "ontology.ttl").read_bytes(), pyoxigraph.RdfFormat.TURTLE)
    xml = _canonical((release.first / "ontology.rdf").read_bytes(), pyoxigraph.RdfFormat.RDF_XML)
    print(f"{len(turtle)} triples")
    assert len(turtle) == len(release.graph)
    assert turtle == xml


def test_two_processes_write_the_same_bytes(release: Release) -> None:
    names, again = (sorted(each.relative_to(folder).as_posix() for each in folder.rglob("*") if each.is_file()) for folder in (release.first, release.second))
    assert names == again
    assert [each for each in names if not each.startswith("questions/")] == sorted(FILES)
    for name in names:
        assert (release.first / name).read_bytes() == (release.second / name).read_bytes(), name


@pytest.mark.parametrize("name", ["ontology.ttl", "ontology.rdf"])
def test_the_records_read_back_from_a_file_are_those_of_the_tables(release: Release, parsed: dict[str, Graph], name: str) -> None:
    read = knowledge_from(parsed[name])
    for each in fields(Knowledge):
        ours, theirs = getattr(release.knowledge, each.name), getattr(read, each.name)
        if each.name == "names":
            assert sorted(ours, key=repr) == sorted(theirs, key=repr)
            continue
        assert ours == theirs, each.name
        if each.name in ("taxa", "characters", "states"):  # the order of these tables means something
            assert list(ours) == list(theirs)
    assert read.statements
