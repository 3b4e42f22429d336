"""An ontology that was edited comes back as rows of the tables; what no row says is refused, with the reason."""

from __future__ import annotations

import random
import shutil
import sys
from collections.abc import Callable
from pathlib import Path

import owlready2
import pytest
from rdflib import OWL, RDF, RDFS, XSD, BNode, Graph, Literal, URIRef
from rdflib.namespace import DCTERMS, SKOS

from lenticel import owl
from lenticel.adoption import read_edited, refusals
from lenticel.build import ontology_of, serialised
from lenticel.cli import main
from lenticel.editions import read_graph
from lenticel.errors import BadFile, FaultyTables, OutsideFragment
from lenticel.iris import LT
from lenticel.model import Knowledge
from lenticel.rows import differing, write_tables
from lenticel.tables import read
from lenticel.taking import adopt
from tests.generators import random_knowledge
from tests.test_ontology import OwlApi

RANDOM = 200
BASE = "https://example.org/workshop/"


def at(path: str) -> URIRef:
    return URIRef(BASE + path)


def contents(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*.csv")}


@pytest.fixture
def folder(workshop_tables: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(workshop_tables, tmp_path / "tables"))


@pytest.fixture
def graph(folder: Path) -> Graph:
    return ontology_of(folder)[0]


def put(graph: Graph, subject: URIRef, prop: URIRef, value: str) -> None:
    """Set an annotation, as an editor's field does."""
    graph.set((subject, prop, Literal(value)))


def new_label(graph: Graph) -> None:
    put(graph, at("character/head"), RDFS.label, "shape of the head")


def changed_range(graph: Graph) -> None:
    put(graph, at("statement/machine-screw.length.drawer-labels"), LT.value, "5-25 mm")


def new_statement(graph: Graph) -> None:
    node = at("anything-42")
    for kind in (OWL.NamedIndividual, LT.Statement):
        graph.add((node, RDF.type, kind))
    for prop, value in ((LT.taxon, at("taxon/rivet")), (LT.character, at("character/drawer")), (DCTERMS.source, at("source/shop-ledger"))):
        graph.add((node, prop, value))
    put(graph, node, LT.value, "lower")
    put(graph, node, LT.locator, "p. 9, invented")


def new_taxon(graph: Graph) -> None:
    node = at("taxon/dowel")
    graph.add((node, RDF.type, OWL.Class))
    graph.add((node, RDFS.subClassOf, at("taxon/fastener")))
    put(graph, node, LT.rank, "species")
    put(graph, node, LT.scientificName, "Dowel")
    new_statement(graph)
    graph.set((at("anything-42"), LT.taxon, node))


def new_state(graph: Graph) -> None:
    node = at("state/thickness/hair-thin")
    graph.add((node, RDF.type, OWL.Class))
    graph.add((node, RDFS.subClassOf, at("character/thickness/value")))
    graph.add((node, LT.character, at("character/thickness")))
    put(graph, node, DCTERMS.identifier, "hair-thin")
    put(graph, node, LT.word, "thin as a hair")
    put(graph, node, SKOS.definition, "Invented.")


def moved_degree(graph: Graph) -> None:
    one, other = at("state/thickness/thin"), at("state/thickness/medium")
    first, second = graph.value(one, LT.order), graph.value(other, LT.order)
    assert first is not None
    assert second is not None
    graph.set((one, LT.order, second))
    graph.set((other, LT.order, first))


def moved_taxon(graph: Graph) -> None:
    graph.remove((at("taxon/rivet"), RDFS.subClassOf, at("taxon/fastener")))
    graph.add((at("taxon/rivet"), RDFS.subClassOf, at("taxon/nail")))


def gone_statement(graph: Graph) -> None:
    graph.remove((at("statement/rivet.stocked.shop-ledger"), None, None))


def gone_statement_recorded_by_itself(graph: Graph) -> None:
    graph.remove((at("statement/wire-nail.thread.shop-ledger.always"), None, None))


def other_recorder(graph: Graph) -> None:
    put(graph, at("recorded/wire-nail.thread.shop-ledger"), LT.by, "Another visitor (invented)")


def retired_taxon(graph: Graph) -> None:
    graph.add((at("taxon/lost-head-nail"), OWL.deprecated, Literal(True)))
    graph.add((at("taxon/lost-head-nail"), DCTERMS.isReplacedBy, at("taxon/wire-nail")))


def new_title(graph: Graph) -> None:
    put(graph, at("ontology"), DCTERMS.title, "Fasteners")


EDITS: list[tuple[Callable[[Graph], None], set[str]]] = [
    (new_label, {"changed characters head (label)"}),
    (changed_range, {"changed statements machine-screw.length.drawer-labels (value)"}),
    (new_statement, {"added statements rivet.drawer.shop-ledger"}),
    (new_taxon, {"added taxa dowel", "added statements dowel.drawer.shop-ledger"}),
    (new_state, {"added states thickness.hair-thin"}),
    (moved_degree, {f"moved states thickness.{each}" for each in ("thin", "medium", "thick", "very-thick")}),
    (moved_taxon, {"changed taxa rivet (parent)"}),
    (gone_statement, {"gone statements rivet.stocked.shop-ledger"}),
    (gone_statement_recorded_by_itself, {"gone statements wire-nail.thread.shop-ledger.always", "gone recorded wire-nail.thread.shop-ledger"}),
    (other_recorder, {"changed recorded wire-nail.thread.shop-ledger (by)"}),
    (
        retired_taxon,
        {
            "gone taxa lost-head-nail",
            "gone recorded lost-head-nail.-.-",
            *(f"gone statements lost-head-nail.{each}" for each in ("thread.shop-ledger", "head.drawer-labels", "length.drawer-labels")),
        },
    ),
    (new_title, {"changed about workshop (title)"}),
]


def told(changes: object) -> set[str]:
    return {f"{each.how} {each.table} {each.key}" + (f" ({', '.join(each.columns)})" if each.columns else "") for each in changes}  # type: ignore[attr-defined]


def same(one: Knowledge, other: Knowledge) -> bool:
    return differing(one, other) == []


@pytest.mark.parametrize(("edit", "expected"), EDITS, ids=[edit.__name__ for edit, _ in EDITS])
def test_each_planted_edit_comes_back_as_the_rows_that_say_it_and_nothing_else(
    edit: Callable[[Graph], None], expected: set[str], folder: Path, graph: Graph
) -> None:
    """The ontology of the tables after it is the one that any further edit starts from: it brings no change."""
    edit(graph)
    taken = adopt(folder, graph)
    assert told(taken.changes) == expected
    assert taken.refused == ()
    again = adopt(folder, ontology_of(folder)[0])
    assert (again.changes, again.refused, again.files) == ((), (), ())


def test_rows_that_did_not_change_keep_their_bytes(folder: Path, graph: Graph) -> None:
    before = contents(folder)
    changed_range(graph)
    adopt(folder, graph)
    after = contents(folder)
    lines = [(one, other) for one, other in zip(before["statements.csv"].splitlines(), after["statements.csv"].splitlines(), strict=True) if one != other]
    assert [other for _, other in lines] == [b'machine-screw,length,5-25 mm,,,drawer-labels,"label, invented",,']
    assert {name for name in before if before[name] != after[name]} == {"statements.csv"}


def test_a_new_state_stands_last_in_the_order_of_degree_unless_it_is_given_a_place(folder: Path, graph: Graph) -> None:
    new_state(graph)
    adopt(folder, graph)
    assert [each.id for each in read(folder).knowledge.states_of("thickness")][-1] == "hair-thin"


def test_the_order_of_degree_comes_back(folder: Path, graph: Graph) -> None:
    moved_degree(graph)
    adopt(folder, graph)
    assert [each.id for each in read(folder).knowledge.states_of("thickness")] == ["medium", "thin", "thick", "very-thick"]


def test_a_released_term_that_is_retired_needs_a_successor(folder: Path, graph: Graph) -> None:
    released = folder / "released.csv"
    released.write_text(released.read_text() + f"{BASE}taxon/lost-head-nail,2026-11-25,\n")
    graph.add((at("taxon/lost-head-nail"), OWL.deprecated, Literal(True)))
    before = contents(folder)
    with pytest.raises(FaultyTables, match="vanished"):
        adopt(folder, graph)
    assert contents(folder) == before
    retired_taxon(graph)
    adopt(folder, graph)
    assert f"{BASE}taxon/lost-head-nail,2026-11-25,{BASE}taxon/wire-nail" in released.read_text()


def some_restriction(graph: Graph) -> None:
    node = BNode()
    graph.add((at("taxon/rivet"), RDFS.subClassOf, node))
    graph.add((node, RDF.type, OWL.Restriction))
    graph.add((node, OWL.onProperty, at("character/head")))
    graph.add((node, OWL.someValuesFrom, at("state/head/round")))


def functional(graph: Graph) -> None:
    graph.add((at("character/head"), RDF.type, OWL.FunctionalProperty))


def own_annotation(graph: Graph) -> None:
    put(graph, at("taxon/rivet"), RDFS.comment, "I like it.")


def taxon_label(graph: Graph) -> None:
    put(graph, at("taxon/rivet"), RDFS.label, "Blind rivet")


def wider_cell(graph: Graph) -> None:
    """The bound of a cell moved by hand, not in the statement it rests on."""
    cell = graph.value(at("cell/lost-head-nail/length"), RDFS.subClassOf)
    holder = graph.value(graph.value(cell, OWL.allValuesFrom), OWL.withRestrictions)
    assert holder is not None
    facet = next(each for each in graph.items(holder) if (each, XSD.maxInclusive, None) in graph)
    graph.set((facet, XSD.maxInclusive, Literal("99.0", datatype=XSD.decimal)))


def second_of_a_key(graph: Graph) -> None:
    new_statement(graph)
    graph.set((at("anything-42"), LT.character, at("character/stocked")))
    put(graph, at("anything-42"), LT.value, "7")


def lost_disjointness(graph: Graph) -> None:
    graph.remove((None, OWL.disjointWith, None))


@pytest.mark.parametrize(
    ("edit", "axiom", "reason"),
    [
        (some_restriction, "someValuesFrom", "outside the fragment"),
        (functional, "FunctionalProperty", "outside the fragment"),
        (own_annotation, "I like it.", "no column"),
        (taxon_label, "Blind rivet", "lt:scientificName"),
        (wider_cell, "cell/lost-head-nail/length", "lost-head-nail.length.drawer-labels"),
        (second_of_a_key, '"7"', "same key"),
        (lost_disjointness, "disjointWith", "still there"),
    ],
)
def test_what_no_row_says_is_refused_with_the_reason_and_nothing_is_written(
    edit: Callable[[Graph], None], axiom: str, reason: str, folder: Path, graph: Graph
) -> None:
    changed_range(graph)
    edit(graph)
    before = contents(folder)
    taken = adopt(folder, graph)
    assert any(axiom in each.axiom and reason in each.reason for each in taken.refused), [str(each) for each in taken.refused]
    assert taken.files == ()
    assert contents(folder) == before
    assert adopt(folder, graph, rest=True).files == ("statements.csv",)


def test_an_edit_that_makes_the_tables_faulty_is_not_taken_in(folder: Path, graph: Graph) -> None:
    put(graph, at("statement/machine-screw.length.drawer-labels"), LT.value, "5-25 parsec")
    before = contents(folder)
    with pytest.raises(FaultyTables, match=r"statements\.csv:\d+: value: "):
        adopt(folder, graph)
    assert contents(folder) == before


def test_an_ontology_of_other_knowledge_is_refused(folder: Path) -> None:
    with pytest.raises(OutsideFragment, match="tables are about"):
        adopt(folder, owl.write(random_knowledge(random.Random(1))))


def test_an_ontology_saved_by_another_tool_says_the_same(folder: Path, graph: Graph, tmp_path: Path) -> None:
    """owlready2 reads the release, changes a label and a range, and writes RDF/XML of its own: strings typed, other blank nodes."""
    (tmp_path / "release.rdf").write_bytes(serialised(graph, "xml"))
    world = owlready2.World()
    onto = world.get_ontology((tmp_path / "release.rdf").as_uri()).load()
    world[BASE + "character/head"].label = ["shape of the head"]
    statement = world[BASE + "statement/machine-screw.length.drawer-labels"]
    world[str(LT.value)][statement] = ["5-25 mm"]
    onto.save(str(tmp_path / "edited.owl"), format="rdfxml")
    taken = adopt(folder, read_graph(tmp_path / "edited.owl"))
    assert told(taken.changes) == {"changed characters head (label)", "changed statements machine-screw.length.drawer-labels (value)"}
    assert [str(each) for each in taken.refused] == []


def saved(graph: Graph, path: Path) -> Path:
    """The ontology as an editor built on the OWL API saves it, in the form that the end of the name says."""
    path.with_suffix(".rdf").write_bytes(serialised(graph, "xml"))
    opened = OwlApi(path.with_suffix(".rdf"))
    form = {".owx": "OWLXMLOntologyFormat", ".owl": "RDFXMLOntologyFormat", ".ttl": "org.coode.owlapi.turtle.TurtleOntologyFormat"}[path.suffix]
    opened.write(path, form)
    return path


@pytest.mark.parametrize("end", [".owx", ".owl", ".ttl"])
def test_an_ontology_that_the_owl_api_saved_comes_back_as_it_was(end: str, folder: Path, graph: Graph, tmp_path: Path) -> None:
    """It writes pairs of disjoint classes either way round, types plain text, and declares the datatypes of XML Schema."""
    taken = adopt(folder, read_graph(saved(graph, tmp_path / f"edited{end}")))
    assert (told(taken.changes), [str(each) for each in taken.refused]) == (set(), [])


@pytest.mark.parametrize(("edit", "expected"), EDITS, ids=[edit.__name__ for edit, _ in EDITS])
def test_each_planted_edit_comes_back_from_owl_xml_too(edit: Callable[[Graph], None], expected: set[str], folder: Path, graph: Graph, tmp_path: Path) -> None:
    edit(graph)
    taken = adopt(folder, read_graph(saved(graph, tmp_path / "edited.owx")))
    assert (told(taken.changes), [str(each) for each in taken.refused]) == (expected, [])


def test_what_is_outside_the_fragment_is_refused_from_owl_xml_too(folder: Path, graph: Graph, tmp_path: Path) -> None:
    functional(graph)
    some_restriction(graph)
    lost_disjointness(graph)
    taken = adopt(folder, read_graph(saved(graph, tmp_path / "edited.owx")))
    refused = " ".join(each.axiom for each in taken.refused)
    assert all(word in refused for word in ("FunctionalProperty", "someValuesFrom", "disjointWith"))
    assert taken.files == ()


def test_json_ld_comes_back_as_it_was(folder: Path, graph: Graph, tmp_path: Path) -> None:
    whole = Graph()
    for triple in graph:
        whole.add(triple)
    whole.serialize(tmp_path / "edited.jsonld", format="json-ld")
    taken = adopt(folder, read_graph(tmp_path / "edited.jsonld"))
    assert (told(taken.changes), [str(each) for each in taken.refused]) == (set(), [])


@pytest.mark.parametrize("context", ['"http://127.0.0.1:9/context"', '["file:///etc/hosts"]', '{"@import": "http://127.0.0.1:9/context"}'])
def test_a_context_of_json_ld_that_lies_elsewhere_is_refused_and_not_fetched(context: str, tmp_path: Path) -> None:
    path = tmp_path / "edited.jsonld"
    path.write_text(f'{{"@context": {context}, "@id": "http://example.org/one", "name": "x"}}')
    with pytest.raises(BadFile, match="remote contexts"):
        read_graph(path)


def test_owl_xml_with_imports_is_refused_and_nothing_fetched(graph: Graph, tmp_path: Path) -> None:
    path = saved(graph, tmp_path / "edited.owx")
    path.write_text(path.read_text().replace("<Declaration>", "<Import>https://example.org/other</Import><Declaration>", 1))
    with pytest.raises(BadFile, match="imports"):
        read_graph(path)


def test_without_its_reader_owl_xml_is_refused_with_what_to_do(graph: Graph, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = saved(graph, tmp_path / "edited.owx")
    monkeypatch.setitem(sys.modules, "owlready2", None)
    with pytest.raises(BadFile, match="Save the ontology as RDF/XML or Turtle"):
        read_graph(path)


def back(known: Knowledge, graph: Graph) -> list[str]:
    edited = read_edited(graph, known)
    return [*told(differing(known, edited.knowledge)), *map(str, refusals(edited, known, edited.knowledge))]


def test_the_real_knowledge_comes_back_from_its_ontology_as_it_was(ontology: tuple[Graph, Knowledge]) -> None:
    graph, known = ontology
    assert back(known, graph) == []


def test_random_knowledge_comes_back_from_its_ontology_as_it_was_also_by_way_of_tables(tmp_path: Path) -> None:
    differ = []
    for seed in range(RANDOM):
        known = random_knowledge(random.Random(seed))
        write_tables(known, tmp_path / str(seed))
        if not same(known, read(tmp_path / str(seed)).knowledge) or back(known, owl.write(known)):
            differ.append(seed)
    print(f"\n{RANDOM} random bodies of knowledge to tables and to OWL and back, {len(differ)} differ")
    assert differ == []


def test_the_command_tells_what_it_took_and_what_it_refused(folder: Path, graph: Graph, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own_annotation(graph)
    changed_range(graph)
    (tmp_path / "edited.ttl").write_bytes(serialised(graph, "turtle"))
    assert main(["adopt", str(tmp_path / "edited.ttl"), "--against", str(folder)]) == 1
    shown = capsys.readouterr()
    assert "changed: statements: machine-screw.length.drawer-labels (value)" in shown.out
    assert "refused, added: " in shown.out
    assert "0 files written" in shown.err
    assert main(["adopt", str(tmp_path / "edited.ttl"), "--against", str(folder), "--rest"]) == 1
    assert "5-25 mm" in (folder / "statements.csv").read_text()


@pytest.mark.parametrize(("name", "content"), [("edited.doc", ""), ("missing.ttl", None), ("broken.ttl", "<a> <b>"), ("broken.owx", "<Ontology>")])
def test_a_file_that_cannot_be_read_is_named(name: str, content: str | None, tmp_path: Path) -> None:
    if content is not None:
        (tmp_path / name).write_text(content)
    with pytest.raises(BadFile, match=name):
        read_graph(tmp_path / name)
