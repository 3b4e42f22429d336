"""The bundle of a release: the same bytes from the same tables, complete, readable by other tools, and honest about what changed."""

from __future__ import annotations

import csv
import gzip
import hashlib
import io
import json
import os
import subprocess
import sys
import tarfile
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pyoxigraph
import pytest
from csvw import CSVW
from rdflib import OWL, Dataset, Graph, Literal, URIRef
from rdflib.namespace import DCTERMS

from lenticel.build import check, ontology_of, snapshot_of
from lenticel.bundle import Bundle, _table_files, write_bundle
from lenticel.cli import main
from lenticel.compiler import compile_graph
from lenticel.credit import citation
from lenticel.errors import BadRelease, FaultyTables
from lenticel.model import About, Knowledge
from lenticel.records import knowledge_from
from lenticel.review import reviews
from lenticel.schema import TABLES
from lenticel.snapshot import Snapshot
from lenticel.tables import read
from lenticel.tabular import FILE, table_metadata
from lenticel.taking import adopt
from lenticel.versions import opened
from tests.planted_changes import PLANTED
from tests.planting import Edit, copied
from tests.test_changes import git

BASE = "https://example.org/workshop/"
FIRST, SECOND = "2026-11-25", "2026-12-24"
NEXT: Edit = ("about", f"{FIRST},{FIRST},{FIRST},", f"{SECOND},{FIRST},{SECOND},{FIRST}")
NEW_TAXON: tuple[Edit, ...] = (
    ("taxa", "", "dowel,species,fastener,Dowel,,,,,"),
    ("statements", "", 'dowel,drawer,lower,,,shop-ledger,"p. 9, invented",,'),
)
GONE: tuple[Edit, ...] = (
    ("recorded", "lost-head-nail,,,A storekeeper (invented),2026-11-25\n", ""),
    ("taxa", "lost-head-nail,species,nail,Lost-head nail,,,,,\n", ""),
    ("statements", 'lost-head-nail,thread,absent,,,shop-ledger,"label, invented",,\n', ""),
    ("statements", 'lost-head-nail,head,none,,,drawer-labels,"label, invented",,\n', ""),
    ("statements", 'lost-head-nail,length,40 mm,,,drawer-labels,"label, invented",,\n', ""),
)
RETIRED: tuple[Edit, ...] = (*GONE, ("released", "", f"{BASE}taxon/lost-head-nail,{FIRST},{BASE}taxon/wire-nail"))
CHANGED: Edit = ("statements", "wire-nail,length,20-100 mm", "wire-nail,length,10-100 mm")


@pytest.fixture(scope="module")
def bundle(workshop_tables: Path, tmp_path_factory: pytest.TempPathFactory) -> Bundle:
    return write_bundle(workshop_tables, tmp_path_factory.mktemp("out"))


@pytest.fixture(scope="module")
def second(workshop_tables: Path, tmp_path_factory: pytest.TempPathFactory) -> Bundle:
    """The version after, with a taxon that is new, one that is retired, and a statement that says something else."""
    top = tmp_path_factory.mktemp("second")
    return write_bundle(copied(workshop_tables, top / "tables", (NEXT, *NEW_TAXON, *RETIRED, CHANGED)), top / "out", str(workshop_tables))


def contents(folder: Path) -> dict[str, bytes]:
    return {each.relative_to(folder).as_posix(): each.read_bytes() for each in sorted(folder.rglob("*")) if each.is_file()}


def test_two_clones_of_a_commit_give_the_same_bytes_whatever_their_times_and_the_order_of_sets(workshop_tables: Path, tmp_path: Path) -> None:
    """The version before is found by its tag."""
    repository = tmp_path / "repository"
    copied(workshop_tables, repository / "tables", ())
    git(tmp_path, "init", "-q", "-b", "main", "repository")
    git(repository, "add", "-A")
    git(repository, "commit", "-q", "-m", "first")
    git(repository, "tag", FIRST)
    for path in contents(copied(workshop_tables, tmp_path / "next", (NEXT, *NEW_TAXON, CHANGED))):
        (repository / "tables" / path).write_bytes((tmp_path / "next" / path).read_bytes())
    git(repository, "commit", "-q", "-a", "-m", "second")
    made = []
    for seed in ("1", "2"):
        git(tmp_path, "clone", "-q", str(repository), f"clone-{seed}")
        tables = tmp_path / f"clone-{seed}" / "tables"
        for path in tables.rglob("*"):
            os.utime(path, (1_000_000_000 * int(seed),) * 2)
        out = tmp_path / f"out-{seed}"
        words = [sys.executable, "-m", "lenticel", "release", "--knowledge", str(tables), "--out", str(out)]
        said = subprocess.run(words, env={**os.environ, "PYTHONHASHSEED": seed, "TZ": f"UTC+{seed}"}, capture_output=True, text=True, check=True).stdout
        made.append(contents(out))
        assert hashlib.sha256(made[-1][f"workshop-{SECOND}.tar.gz"]).hexdigest() in said
    assert made[0].keys() == made[1].keys()
    assert [name for name in made[0] if made[0][name] != made[1][name]] == []
    assert len(made[0]) > 25


def test_the_sums_are_those_of_every_other_file(bundle: Bundle) -> None:
    told = dict(line.split("  ")[::-1] for line in (bundle.folder / "SHA256SUMS").read_text().splitlines())
    there = {name: hashlib.sha256(data).hexdigest() for name, data in contents(bundle.folder).items() if name != "SHA256SUMS"}
    assert told == there
    assert {
        "ontology.ttl",
        "ontology.rdf",
        "dataset.nq.gz",
        "NOTES.md",
        "CITATION.cff",
        "LICENSE",
        "identifiers.csv",
        "tables/taxa.csv",
        f"tables/{FILE}",
    } <= there.keys()


def test_the_archive_is_the_folder_and_says_nothing_of_where_it_was_made(bundle: Bundle) -> None:
    with tarfile.open(bundle.archive) as archive:
        members = archive.getmembers()
        held = {each.name.partition("/")[2]: archive.extractfile(each).read() for each in members}  # type: ignore[union-attr]
    assert held == contents(bundle.folder)
    assert {(each.uid, each.gid, each.uname, each.gname, each.mode, each.mtime) for each in members} == {(0, 0, "", "", 0o644, 1_795_564_800)}
    assert [each.name for each in members] == sorted(each.name for each in members)


def test_the_tables_of_the_bundle_are_the_knowledge(bundle: Bundle, workshop_tables: Path) -> None:
    assert snapshot_of(bundle.folder / "tables").digest == snapshot_of(workshop_tables).digest


def test_both_readers_find_the_whole_ontology_in_the_quads(second: Bundle) -> None:
    """The graphs of what is asserted hold each triple of the ontology once; what follows from it has graphs of its own."""
    data = gzip.decompress((second.folder / "dataset.nq.gz").read_bytes())
    ours = list(pyoxigraph.parse(data, format=pyoxigraph.RdfFormat.N_QUADS))
    theirs = Dataset()
    theirs.parse(data=data, format="nquads")
    assert len(ours) == len(set(ours)) == sum(len(each) for each in theirs.graphs()) > 500
    asserted = [each for each in ours if str(each.graph_name).rstrip(">").rsplit("/", 1)[-1] in ("terms", "statements")]
    assert len(asserted) == len(Graph().parse(second.folder / "ontology.ttl"))


# ---- the tables as the W3C describes tables


def described(folder: Path, about: About, files: dict[str, bytes]) -> Path:
    folder.mkdir(exist_ok=True)
    for name, content in files.items():
        (folder / name).write_bytes(content)
    (folder / FILE).write_text(json.dumps(table_metadata(about)))
    return folder / FILE


def complaints(path: Path) -> list[str]:
    """What a validator for the standard says against a folder, the strict reading of the standard taken."""
    try:
        read_in = CSVW(str(path), validate=True)
        return [] if read_in.is_valid else [str(each.message) for each in read_in.warnings]
    except ValueError as error:
        return [str(error)]


@pytest.mark.parametrize("name", ["tables", "workshop_tables"])
def test_a_validator_accepts_the_tables_by_their_description(name: str, request: pytest.FixtureRequest, tmp_path: Path) -> None:
    loaded = read(request.getfixturevalue(name))
    path = described(tmp_path / "described", loaded.knowledge.about, _table_files(loaded))
    assert complaints(path) == []
    rows = {table.local_name: sum(1 for _ in table) for table in CSVW(str(path)).tables}
    assert rows["statements.csv"] == len(loaded.knowledge.statements)
    assert rows["taxa.csv"] == len(loaded.knowledge.taxa)


def test_it_reads_each_kind_of_column_as_what_it_is(workshop_tables: Path, tmp_path: Path) -> None:
    loaded = read(workshop_tables)
    tables = {table.local_name: list(table) for table in CSVW(str(described(tmp_path / "described", loaded.knowledge.about, _table_files(loaded)))).tables}
    thread = next(row for row in tables["characters.csv"] if row["id"] == "thread")
    assert (thread["seasons"], thread["complete"], thread["graded"]) == (["spring", "summer", "autumn", "winter"], True, False)
    assert next(row for row in tables["taxa.csv"] if row["id"] == "screw-nail")["hybrid_parents"] == ["machine-screw", "wire-nail"]
    assert str(tables["about.csv"][0]["issued"])[:10] == FIRST


def test_every_table_says_what_tells_its_rows_apart_but_that_of_the_lookalikes(workshop: Snapshot) -> None:
    described_tables = table_metadata(workshop.knowledge.about)["tables"]
    assert {each["url"] for each in described_tables if "primaryKey" not in each["tableSchema"]} == {"lookalikes.csv"}
    assert len(described_tables) == len(TABLES)


HARMS: dict[str, tuple[str, Callable[[dict[str, str]], None]]] = {
    "a taxon that is nowhere": ("statements.csv", lambda row: row.update(taxon="acorn")),
    "a word that is no choice": ("statements.csv", lambda row: row.update(frequency="now and then")),
    "a figure that is none": ("characters.csv", lambda row: row.update(plausible_min="few")),
    "a date that is none": ("about.csv", lambda row: row.update(issued="yesterday")),
    "an empty cell that must be filled": ("characters.csv", lambda row: row.update(definition="")),
    "neither yes nor no": ("characters.csv", lambda row: row.update(complete="perhaps")),
    "a key that stands twice": ("taxa.csv", lambda row: row.update(id="rivet")),
    "no identifier": ("taxa.csv", lambda row: row.update(id="Wood Screw")),
}


@pytest.mark.parametrize("harm", HARMS)
def test_a_validator_refuses_tables_that_do_not_fit_their_description(harm: str, workshop_tables: Path, tmp_path: Path) -> None:
    loaded = read(workshop_tables)
    files = _table_files(loaded)
    name, change = HARMS[harm]
    rows = list(csv.DictReader(io.StringIO(files[name].decode())))
    change(rows[0])
    text = io.StringIO()
    writer = csv.DictWriter(text, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    path = described(tmp_path / "described", loaded.knowledge.about, {**files, name: text.getvalue().encode()})
    with warnings.catch_warnings(record=True):
        warnings.simplefilter("always")
        assert complaints(path) != []


# ---- citation and licence


def cff_faults(text: str, folder: Path) -> str:
    """What the published schema of the Citation File Format 1.2.0 says against a file, "" if nothing."""
    (folder / "CITATION.cff").write_text(text)
    words = [str(Path(sys.executable).with_name("check-jsonschema")), "--builtin-schema", "vendor.citation-file-format", str(folder / "CITATION.cff")]
    run = subprocess.run(words, capture_output=True, text=True, check=False)
    return run.stdout + run.stderr if run.returncode else ""


def test_the_citation_fits_its_schema(trees: Any, bundle: Bundle, tmp_path: Path) -> None:
    text = citation(trees.knowledge.about)
    assert cff_faults(text, tmp_path) == ""
    assert cff_faults((bundle.folder / "CITATION.cff").read_text(), tmp_path) == ""
    assert "date-released" in cff_faults(text.replace(trees.knowledge.about.issued, "soon"), tmp_path)
    assert "CC-BY-4.0" in text


def test_a_licence_that_is_not_known_is_given_by_its_address(workshop_tables: Path, tmp_path: Path) -> None:
    tables = copied(workshop_tables, tmp_path / "tables", (("about", "https://creativecommons.org/licenses/by/4.0/", "https://example.org/mine"),))
    folder = write_bundle(tables, tmp_path / "out").folder
    assert 'license-url: "https://example.org/mine"' in (folder / "CITATION.cff").read_text()
    assert cff_faults((folder / "CITATION.cff").read_text(), tmp_path) == ""
    assert "https://example.org/mine" in (folder / "LICENSE").read_text()


# ---- versions


def test_the_ontology_says_which_version_it_is_and_which_it_follows(second: Bundle) -> None:
    graph = Graph().parse(second.folder / "ontology.rdf")
    onto = URIRef(f"{BASE}ontology")
    said = {prop: str(graph.value(onto, prop)) for prop in (OWL.versionIRI, OWL.priorVersion, DCTERMS.created, DCTERMS.modified, DCTERMS.issued)}
    assert list(said.values()) == [f"{onto}/{SECOND}", f"{onto}/{FIRST}", FIRST, SECOND, SECOND]
    assert knowledge_from(graph).about.prior == FIRST


def test_what_was_retired_is_deprecated_with_its_successor_and_no_axiom_is_about_it(second: Bundle, workshop_tables: Path) -> None:
    graph = Graph().parse(second.folder / "ontology.ttl")
    old = URIRef(f"{BASE}taxon/lost-head-nail")
    assert set(graph.predicate_objects(old)) == {(OWL.deprecated, Literal(True)), (DCTERMS.isReplacedBy, URIRef(f"{BASE}taxon/wire-nail"))}
    assert compile_graph(graph).digest == snapshot_of(second.folder / "tables").digest
    taken = adopt(second.folder / "tables", ontology_of(second.folder / "tables")[0])
    assert (taken.changes, taken.files, taken.refused) == ((), (), ())


def test_the_notes_name_what_came_what_changed_and_what_went_with_numbers(second: Bundle) -> None:
    notes = (second.folder / "NOTES.md").read_text()
    assert f"version {SECOND}" in notes
    assert f"It follows version {FIRST}." in notes
    assert "| taxa | 10 | 1 | 0 | 1 |" in notes
    assert "| statements | 46 | 1 | 1 | 3 |" in notes
    assert "- added: Dowel (`dowel`)" in notes
    assert f"- retired: Lost-head nail (`{BASE}taxon/lost-head-nail`); use `{BASE}taxon/wire-nail` in its place" in notes
    assert "- Wire nail: 1 changed" in notes
    assert "- what a taxon may show, widened: 1\n" in notes
    assert "All statements rest on a source" in notes
    assert "not separable" in notes


def test_the_version_before_may_be_the_tables_of_its_bundle(second: Bundle, bundle: Bundle, tmp_path: Path) -> None:
    """Without git at hand the last release will do; the bytes are the same."""
    again = write_bundle(second.folder / "tables", tmp_path / "out", str(bundle.folder / "tables"))
    assert (again.sha256, contents(again.folder)) == (second.sha256, contents(second.folder))


def test_the_notes_count_who_recorded_and_what_was_read_back(bundle: Bundle, second: Bundle, workshop: Snapshot) -> None:
    notes, later = ((each.folder / "NOTES.md").read_text() for each in (bundle, second))
    known = workshop.knowledge
    by_keeper = sum(row.by.startswith("A storekeeper") for each in known.statements.values() if (row := known.recorded_of(each)))
    assert f"- recorded by A storekeeper (invented): {by_keeper} statements\n" in notes
    assert "- recorded by A visitor (invented): 1 statements\n" in notes
    nobody = sum(known.recorded_of(each) is None for each in known.statements.values())
    assert f"- nobody says who recorded them: {nobody} statements\n" in notes
    assert by_keeper + nobody + 1 == len(known.statements)
    answer = reviews(workshop)
    assert f"- read back against their sources as they stand: {answer.total.read} of 48 statements; found amiss and not mended: {len(answer.amiss)}\n" in notes
    assert f"- wrong when first read back: {answer.total.errors.count} of {answer.total.errors.of}, " in notes
    assert f"| reviews | {len(known.reviews)} |\n" in notes
    assert f"| rows that say who recorded statements | {len(known.recorded) - 1} | 0 | 0 | 1 |\n" in later


def test_the_notes_of_a_first_version_tell_of_no_change(bundle: Bundle) -> None:
    notes = (bundle.folder / "NOTES.md").read_text()
    assert "The first version." in notes
    assert "added" not in notes


def test_the_notes_name_the_pairs_that_changed_and_what_was_acknowledged(workshop_tables: Path, tmp_path: Path) -> None:
    accepted = next(each.edits for each in PLANTED if each.name == "the loss is accepted with a reason")
    tables = copied(workshop_tables, tmp_path / "tables", (NEXT, *accepted))
    notes = (write_bundle(tables, tmp_path / "out", str(workshop_tables)).folder / "NOTES.md").read_text()
    assert "- Wood screw and Coach bolt: no longer separable decisively in spring, summer, autumn, winter\n" in notes
    assert "- Wood screw and Screw nail, of which a mix-up can hurt, lost drive: The recess was overlooked.\n" in notes


def test_the_identifiers_keep_the_version_that_first_had_them(second: Bundle, tmp_path: Path) -> None:
    """The list of this release is what the table of released identifiers is to be before the next one."""
    rows = {row[0]: row[1:] for row in csv.reader(io.StringIO((second.folder / "identifiers.csv").read_text()))}
    assert rows[f"{BASE}taxon/rivet"] == [FIRST, ""]
    assert rows[f"{BASE}taxon/dowel"] == [SECOND, ""]
    assert rows[f"{BASE}taxon/lost-head-nail"] == [FIRST, f"{BASE}taxon/wire-nail"]
    after = copied(second.folder / "tables", tmp_path / "after", ())
    (after / "released.csv").write_bytes((second.folder / "identifiers.csv").read_bytes())
    assert check(after)[0] == []


# ---- what is refused


@pytest.mark.parametrize(
    ("edits", "told"),
    [
        ((NEXT, *GONE), "taxon/lost-head-nail"),
        ((CHANGED,), "names no version before"),
        ((("about", f"{FIRST},{FIRST},{FIRST},", f"{SECOND},{FIRST},{SECOND},2026-11-30"),), "but what was given is 2026-11-25"),
        ((("about", f"{FIRST},{FIRST},{FIRST},", f"{FIRST},{FIRST},{FIRST},{FIRST}"),), "cannot follow"),
        ((NEXT, *next(each.edits for each in PLANTED if each.name == "a pair that can hurt loses a separator")), "lost 1 separators"),
    ],
    ids=["an identifier vanished", "no prior", "another prior", "not newer", "a pair that can hurt lost a separator"],
)
def test_a_release_that_breaks_faith_with_the_one_before_is_refused(edits: tuple[Edit, ...], told: str, workshop_tables: Path, tmp_path: Path) -> None:
    tables = copied(workshop_tables, tmp_path / "tables", edits)
    with pytest.raises(BadRelease, match=told):
        write_bundle(tables, tmp_path / "out", str(workshop_tables))
    assert not (tmp_path / "out").exists()


def test_the_version_before_must_be_had(workshop_tables: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    tables = copied(workshop_tables, tmp_path / "tables", (NEXT,))
    assert main(["release", "--knowledge", str(tables), "--out", str(tmp_path / "out")]) == 1
    assert "--since" in capsys.readouterr().err


def test_faulty_tables_give_no_bundle(workshop_tables: Path, tmp_path: Path) -> None:
    tables = copied(workshop_tables, tmp_path / "tables", (("statements", "wire-nail,length,20-100 mm", "wire-nail,length,long"),))
    with pytest.raises(FaultyTables):
        write_bundle(tables, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_a_version_that_is_there_is_never_overwritten_with_other_content(workshop_tables: Path, tmp_path: Path) -> None:
    first = write_bundle(workshop_tables, tmp_path / "out")
    before = contents(tmp_path / "out")
    assert write_bundle(workshop_tables, tmp_path / "out") == first
    with pytest.raises(BadRelease, match="already"):
        write_bundle(copied(workshop_tables, tmp_path / "tables", (CHANGED,)), tmp_path / "out")
    assert contents(tmp_path / "out") == before


def test_tables_from_before_a_column_came_can_still_be_compared_with(workshop_tables: Path, tmp_path: Path) -> None:
    """Only where the column may be empty, and only for the older of two versions."""
    edits = (("about", ",issued,prior", ",issued"), ("about", f",{FIRST},\n", f",{FIRST}\n"))
    old = copied(workshop_tables, tmp_path / "old", edits)
    assert opened(old, older=True).loaded.knowledge == opened(workshop_tables).loaded.knowledge
    with pytest.raises(FaultyTables, match="header"):
        opened(old)
    needed = copied(workshop_tables, tmp_path / "needed", (("about", "title,", ""), ("about", "Fasteners of an invented workshop,", "")))
    with pytest.raises(FaultyTables, match="header"):
        opened(needed, older=True)


def test_the_records_of_a_second_version_come_back_from_its_ontology(second: Bundle) -> None:
    known: Knowledge = read(second.folder / "tables").knowledge
    assert knowledge_from(Graph().parse(second.folder / "ontology.ttl")).about == known.about
