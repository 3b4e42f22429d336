"""Statements go out to open formats and come back the same; what a format cannot hold is listed, each with the reason."""

from __future__ import annotations

import io
import random
import shutil
import zipfile
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import dendropy
import openpyxl
import pytest
from Bio.Nexus.Nexus import Nexus
from dwca.read import DwCAReader

from lenticel.archive import archive
from lenticel.cli import main
from lenticel.direct import snapshot_from
from lenticel.errors import BadFile, FaultyTables
from lenticel.exchange import export, form_of, imported
from lenticel.formats import Cited, NotHeld, StatementReader, counted, measurements, wide
from lenticel.model import Knowledge
from lenticel.nexus import Matrix, nexus
from lenticel.snapshot import Snapshot
from lenticel.tables import read
from tests.generators import random_knowledge

RANDOM = 200
LOSSLESS = ("sheet.csv", "sheet.xlsx", "measurements.csv", "archive.zip")


@pytest.fixture
def folder(workshop_tables: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(workshop_tables, tmp_path / "tables"))


def contents(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*.csv")}


def joined(known: Knowledge) -> dict[tuple[str, str], set[str]]:
    """What a matrix of states can hold: by taxon and character, the states that are stated, denials left out."""
    found: dict[tuple[str, str], set[str]] = {}
    for each in known.statements.values():
        if known.characters[each.character].kind == "states" and each.frequency != "never":
            found.setdefault((each.taxon, each.character), set()).update(each.value.split("|"))
    return found


def of_statements(known: Knowledge) -> Knowledge:
    return replace(known, statements={})


@pytest.mark.parametrize("name", LOSSLESS)
def test_a_file_merged_into_the_tables_it_came_from_changes_no_byte(name: str, workshop: Snapshot, folder: Path, tmp_path: Path) -> None:
    export(workshop, tmp_path / name)
    before = contents(folder)
    assert imported(tmp_path / name, folder, Cited()).changes == ()
    assert contents(folder) == before


def test_a_matrix_merged_into_the_tables_changes_only_what_it_joined(workshop: Snapshot, folder: Path, tmp_path: Path) -> None:
    """But for the character `drive`: the matrix cannot say that its list on the screws is not exhaustive, so that the bolt would be at odds with it."""
    some = {key: each for key, each in workshop.knowledge.statements.items() if each.character != "drive"}
    export(snapshot_from(known := replace(workshop.knowledge, statements=some)), tmp_path / "matrix.nex")
    (folder / "sources.csv").open("a").write("matrix,invented,,,A matrix (invented),,,\n")
    imported(tmp_path / "matrix.nex", folder, Cited("matrix", "row, invented"))
    found = read(folder).knowledge
    assert joined(replace(found, statements={key: each for key, each in found.statements.items() if each.source == "matrix"})) == joined(known)


@pytest.mark.parametrize("name", LOSSLESS)
def test_every_statement_of_the_real_knowledge_comes_back_as_it_was(name: str, trees: Snapshot, tmp_path: Path) -> None:
    from lenticel.exchange import _read

    left_out = export(trees, tmp_path / name)
    assert _read(tmp_path / name, of_statements(trees.knowledge), Cited()) == trees.knowledge.statements
    due = {"sources", "taxa", "names", "characters", "states", "lookalikes", "cautions", "resolutions", "recorded", "reviews", "matches"}
    assert {each.table for each in left_out} == {each for each in due if getattr(trees.knowledge, each)}


def test_the_matrix_of_the_real_knowledge_comes_back_as_far_as_it_holds(trees: Snapshot, tmp_path: Path) -> None:
    left_out = export(trees, tmp_path / "matrix.nex")
    known = replace(trees.knowledge, statements={})
    source = next(iter(known.sources))
    found = Matrix((tmp_path / "matrix.nex").read_text(), "matrix.nex").into(StatementReader(known, "matrix.nex", Cited(source, "here")))
    assert joined(replace(known, statements=found)) == joined(trees.knowledge)
    figures = [each for each in trees.knowledge.statements.values() if trees.knowledge.characters[each.character].kind != "states"]
    assert sum(each.reason == "a matrix of states holds no figures" for each in left_out) == len(figures) > 100


def test_random_knowledge_goes_out_and_comes_back(tmp_path: Path) -> None:
    cells = 0
    for seed in range(RANDOM):
        known = random_knowledge(random.Random(seed))
        bare = of_statements(known)
        assert StatementReader(bare, "x", Cited()).wide(wide(known)[0]) == known.statements
        assert StatementReader(bare, "x", Cited()).measurements(measurements(known)[0]) == known.statements
        text, _ = nexus(snapshot_from(known), ())
        if joined(known):
            found = Matrix(text, "x").into(StatementReader(bare, "x", Cited("one", "here")))
            assert joined(replace(known, statements=found)) == joined(known)
        cells += len(joined(known))
    assert cells > RANDOM


def test_other_readers_of_nexus_find_the_same_matrix(trees: Snapshot, workshop: Snapshot, tmp_path: Path) -> None:
    """Peers: DendroPy reads the states of each cell, Biopython the names of characters and states."""
    for snapshot in (workshop, trees):
        export(snapshot, tmp_path / "matrix.nex")
        known, held = snapshot.knowledge, joined(snapshot.knowledge)
        peer = dendropy.StandardCharacterMatrix.get(path=str(tmp_path / "matrix.nex"), schema="nexus", preserve_underscores=True)
        names = Nexus(str(tmp_path / "matrix.nex"))
        characters = [names.charlabels[place].strip("'") for place in sorted(names.charlabels)]
        assert characters == [key for key in known.characters if any(each == key for _, each in held)]
        compared = 0
        for taxon in peer.taxon_namespace:
            for character, cell in zip(characters, peer[taxon], strict=True):
                states = [each.id for each in known.states_of(character)]
                signs = {each.symbol for each in (cell.member_states or [cell])} if cell.symbol not in ("?", "-") else set()
                shown = {states["0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ".index(sign)] for sign in signs}
                assert shown == held.get((taxon.label, character), set())
                compared += bool(shown)
        assert compared == len(held) > 10


def test_what_cannot_apply_is_told_from_what_is_not_known(workshop: Snapshot, tmp_path: Path) -> None:
    """The pitch of a thread is a figure; of the states, only those of conditional characters can be inapplicable."""
    text, _ = nexus(workshop, [("rivet", "drive")])
    one, _ = nexus(workshop, [("rivet", "finish")])
    rows = [next(line for line in each.splitlines() if line.startswith("    rivet ")) for each in (text, one)]
    assert "-" not in rows[0], "what is stated outranks it"
    assert rows[1].count("-") == 1


def test_what_a_matrix_cannot_hold_is_listed_item_by_item(
    workshop: Snapshot, tmp_path: Path, capsys: pytest.CaptureFixture[str], workshop_tables: Path
) -> None:
    _, left_out = nexus(workshop, ())
    assert NotHeld("statements", "wood-screw.length.drawer-labels", "", "a matrix of states holds no figures") in left_out
    assert NotHeld("statements", "coach-bolt.drive.drawer-labels.never", "", "a matrix says what is shown, not what is denied") in left_out
    assert NotHeld("statements", "nail.thread.shop-ledger.rarely", "frequency", "a matrix has no room for it") in left_out
    assert NotHeld("statements", "nail.thread.shop-ledger.rarely", "who says which", "the statements of one cell are joined") in left_out
    assert any("1 of statements: exhaustive" in line for line in counted(left_out))
    report = tmp_path / "left-out.csv"
    assert main(["export", "--to", str(tmp_path / "m.nex"), "--report", str(report), "--knowledge", str(workshop_tables)]) == 0
    assert f"{len(left_out)} items" in capsys.readouterr().out
    assert len(report.read_text().splitlines()) == len(left_out) + 1


HAND = 'taxon,head,length,Drive\nRivet,round,"5-6 mm,rarely,,drawer-labels,""p. 3, invented""",\nscrew-nail,,40 mm,no-recess\n'


def test_a_sheet_typed_by_hand_takes_its_source_from_the_command_line(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "mine.csv").write_text(HAND)
    assert main(["import", str(tmp_path / "mine.csv"), "--into", str(folder), "--source", "shop-ledger", "--locator", "p. 4, invented"]) == 0
    found = read(folder).knowledge.statements
    assert found["rivet.length.drawer-labels.rarely"].locator == "p. 3, invented"
    assert found["screw-nail.drive.shop-ledger"].locator == "p. 4, invented"
    assert found["rivet.head.shop-ledger"].value == "round"
    assert "4 rows differ" in capsys.readouterr().err


def test_figures_in_another_unit_come_in_in_that_of_the_character_with_what_was_printed(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "mine.csv").write_text("taxon,length\nrivet,1/2-3/4 in\n")
    (tmp_path / "measurements.csv").write_text("taxonID,measurementType,measurementValue,measurementUnit\nscrew-nail,length,3.5,cm\n")
    for name in ("mine.csv", "measurements.csv"):
        imported(tmp_path / name, folder, Cited("shop-ledger", "p. 4, invented"))
    found = read(folder).knowledge.statements
    told = {(found[key].value, found[key].printed) for key in ("rivet.length.shop-ledger", "screw-nail.length.shop-ledger")}
    assert told == {("13-19 mm", "1/2-3/4 in"), ("35 mm", "3.5 cm")}


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("a.csv", "taxon,head\nrivett,round\n", r"a\.csv:2: taxon: .*rivet"),
        ("a.csv", "taxon,heads\nrivet,round\n", r"a\.csv:1: heads: "),
        ("a.csv", "taxon,head\nrivet,rund\n", r"statements\.csv:\d+: value: .*unknown-state"),
        ("a.csv", 'taxon,head\nrivet,"round,seldom"\n', r"a\.csv:2: head: .*choice"),
        ("a.csv", 'taxon,head\nrivet,"round\nflat"\n', "stated twice"),
        ("a.csv", 'taxon,head\nrivet,"a,b,c,d,e,f,g,h"\n', "8 parts"),
        ("measurements.csv", "taxonID,measurementType,measurementValue\nrivet,girth,3\n", "girth"),
        ("measurements.csv", "taxonID,measurementType,measurementValue,dynamicProperties\nrivet,head,round,{\n", "JSON"),
        ("m.nex", "#NEXUS\nBEGIN CHARACTERS;\nCHARSTATELABELS 1 head / square;\nMATRIX rivet 0;\nEND;", "square"),
    ],
)
def test_each_fault_of_a_file_is_named_with_its_place_and_nothing_is_written(name: str, content: str, said: str, folder: Path, tmp_path: Path) -> None:
    (tmp_path / name).write_text(content)
    before = contents(folder)
    with pytest.raises(FaultyTables, match=said):
        imported(tmp_path / name, folder, Cited("shop-ledger", "p. 1, invented"))
    assert contents(folder) == before


def test_a_sheet_without_a_source_is_told_to_name_one(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text("taxon,head\nrivet,round\n")
    with pytest.raises(FaultyTables, match="--source"):
        imported(tmp_path / "a.csv", folder, Cited())


def zipped(files: dict[str, str]) -> bytes:
    room = io.BytesIO()
    with zipfile.ZipFile(room, "w") as packed:
        for name, text in files.items():
            packed.writestr(name, text)
    return room.getvalue()


META = """<archive xmlns="http://rs.tdwg.org/dwc/text/">
<core rowType="http://rs.tdwg.org/dwc/terms/Taxon"><files><location>t.txt</location></files><id index="0"/></core>
<extension rowType="http://rs.tdwg.org/dwc/terms/MeasurementOrFact" fieldsTerminatedBy="\\t" fieldsEnclosedBy="">
<files><location>m.txt</location></files><coreid index="1"/>
<field index="2" term="http://rs.tdwg.org/dwc/terms/measurementValue"/><field index="0" term="http://rs.tdwg.org/dwc/terms/measurementType"/></extension>
</archive>"""
HELD = "head\trivet\tflat\nlength\trivet\t5-6 mm\n"


def test_an_archive_of_another_make_is_read_as_its_metafile_says(folder: Path, tmp_path: Path) -> None:
    """Tabs, no quotes, no header, columns in another order, the taxon in the column that refers to the core."""
    (tmp_path / "theirs.zip").write_bytes(zipped({"meta.xml": META, "m.txt": HELD}))
    imported(tmp_path / "theirs.zip", folder, Cited("shop-ledger", "p. 4, invented"))
    found = read(folder).knowledge.statements
    assert {found[key].value for key in ("rivet.head.shop-ledger", "rivet.length.shop-ledger")} == {"flat", "5-6 mm"}


def test_another_reader_of_darwin_core_archives_finds_every_taxon_and_its_measurements(trees: Snapshot, tmp_path: Path) -> None:
    """python-dwca-reader, which follows the metafile; what the Darwin Core text guide (TDWG), 2.1 to 2.4, asks of one is looked at besides."""
    export(trees, tmp_path / "archive.zip")
    known, base = trees.knowledge, trees.knowledge.about.iri
    with DwCAReader(str(tmp_path / "archive.zip")) as theirs:
        assert (theirs.descriptor.core.type, [each.type for each in theirs.descriptor.extensions]) == (DWC + "Taxon", [DWC + "MeasurementOrFact"])
        rows = {row.id: row for row in theirs}
        held = {row.data[DWC + "measurementID"]: row for each in rows.values() for row in each.extensions}
    assert {row.data[DWC + "scientificName"] for row in rows.values()} == {each.scientific_name for each in known.taxa.values()}
    assert rows[f"{base}taxon/acer-rubrum"].data[DWC + "parentNameUsageID"] == f"{base}taxon/acer"
    assert {row.data["http://purl.org/dc/terms/license"] for row in rows.values()} == {known.about.licence}
    assert len(held) == len(known.statements) > 10_000
    assert {row.core_id for row in held.values()} <= rows.keys()
    assert all(row.data["http://purl.org/dc/terms/bibliographicCitation"] for row in held.values())
    with zipfile.ZipFile(tmp_path / "archive.zip") as packed:
        meta = ElementTree.fromstring(packed.read("meta.xml"))
        files = {each.findtext(f".//{TEXT}location"): each for each in meta}
        headers = {name: packed.read(str(name)).decode().splitlines()[0].split(",") for name in files}
    assert [each.tag for each in meta] == [f"{TEXT}core", f"{TEXT}extension"]
    for name, each in files.items():
        named = {int(field.get("index", "")): field.get("term", "").rsplit("/")[-1] for field in each.iter(f"{TEXT}field") if "default" not in field.attrib}
        assert list(named.values()) == [headers[name][place] for place in named]


DWC, TEXT = "http://rs.tdwg.org/dwc/terms/", "{http://rs.tdwg.org/dwc/text/}"


def test_an_archive_of_the_same_statements_is_the_same_bytes_and_lists_what_it_cannot_hold(workshop: Snapshot) -> None:
    (one, left_out), (other, _) = archive(workshop.knowledge), archive(workshop.knowledge)
    assert one == other
    assert NotHeld("taxa", "screw-nail", "hybrid_parents", "the core has no term for it") in left_out


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("a.doc", b""),
        ("gone.csv", None),
        ("a.csv", b"\xff\xfe"),
        ("a.csv", b'"'),
        ("a.csv", b"x,y\n"),
        ("a.csv", b"taxon,head\n"),
        ("measurements.csv", b"measurementType,who\n"),
        ("a.xlsx", b"no workbook"),
        ("a.zip", b"no archive"),
        ("a.zip", zipped({"taxa.csv": "taxonID"})),
        ("a.zip", zipped({"meta.xml": "<archive"})),
        ("a.zip", zipped({"meta.xml": "<archive><core rowType='x'/></archive>"})),
        ("a.zip", zipped({"meta.xml": META.replace("m.txt", "gone.txt")})),
        ("a.zip", zipped({"meta.xml": META.replace("\\t", "ab"), "m.txt": HELD})),
        ("a.nex", b"hello"),
        ("a.nex", b"#NEXUS\nBEGIN CHARACTERS;\nMATRIX rivet 0;\nEND;"),
        ("a.nex", b"#NEXUS\nFORMAT DATATYPE=DNA;\nCHARSTATELABELS 1 head / round;\nMATRIX rivet A;"),
        ("a.nex", b"#NEXUS\nFORMAT INTERLEAVE;\nCHARSTATELABELS 1 head / round;\nMATRIX rivet 0;"),
        ("a.nex", b"#NEXUS\nCHARSTATELABELS 1 head / round, 2 drive / slot;\nMATRIX rivet 0;"),
        ("a.nex", b"#NEXUS\nCHARSTATELABELS 1 head / round;\nMATRIX rivet (0;"),
    ],
)
def test_a_file_of_no_known_form_is_refused_by_name(name: str, content: bytes | None, folder: Path, tmp_path: Path) -> None:
    if content is not None:
        (tmp_path / name).write_bytes(content)
    with pytest.raises(BadFile):
        imported(tmp_path / name, folder, Cited("shop-ledger"))


def test_a_spreadsheet_that_made_a_date_of_a_range_is_caught(folder: Path, tmp_path: Path) -> None:
    import datetime

    book = openpyxl.Workbook()
    book.active.append(["taxon", "stocked"])
    book.active.append(["rivet", datetime.date(2026, 5, 4)])
    book.save(tmp_path / "a.xlsx")
    with pytest.raises(BadFile, match="B2 is a date"):
        imported(tmp_path / "a.xlsx", folder, Cited("shop-ledger"))


def test_comments_quotes_and_underscores_of_nexus_are_understood(folder: Path, tmp_path: Path) -> None:
    text = """#nexus [a comment; with a mark]
begin characters; dimensions nchar=2; format datatype=standard missing=* gap=- symbols="01";
charstatelabels 1 head / 'flat' round, 2 drive / slot hex; matrix
'Lost-head nail' ?* 'Wood screw' {01}- ; end;"""
    known = of_statements(read(folder).knowledge)
    found = Matrix(text.replace("?*", "**"), "x").into(StatementReader(known, "x", Cited("shop-ledger", "p. 1")))
    assert {key: set(each.states) for key, each in found.items()} == {"wood-screw.head.shop-ledger": {"flat", "round"}}


def test_the_name_of_a_file_says_its_form() -> None:
    assert [form_of(Path(each)) for each in ("a.CSV", "a.xlsx", "Measurements.csv", "a.zip", "a.nex")] == ["wide", "wide", "measurements", "archive", "nexus"]
