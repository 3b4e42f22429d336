"""Faults beside the line: the place in the text is that of the cell, and what the forges read says what the check says."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from sarif_pydantic import Sarif

from lenticel.annotations import Places, sarif, workflow_commands
from lenticel.build import check
from lenticel.cli import main
from lenticel.errors import Fault
from lenticel.rules import RULES
from lenticel.sheets import places
from tests.test_broken_tables import FIXTURE, Tables, together


@pytest.fixture
def broken(tmp_path: Path) -> tuple[Path, list[Fault]]:
    tables = Tables()
    for each in together():
        each.plant(tables)
    tables.set("taxa.csv", 2, "note", 'Two\nlines, and a "quote".')
    folder = tables.write(tmp_path)
    return folder, check(folder)[0]


def cut(text: str, span: tuple[int, int, int, int]) -> str:
    lines = text.split("\n")
    first, column, last, end = span
    if first == last:
        return lines[first - 1][column - 1 : end - 1]
    return "\n".join([lines[first - 1][column - 1 :], *lines[first : last - 1], lines[last - 1][: end - 1]])


def test_the_place_of_a_fault_is_its_cell_in_the_text(broken: tuple[Path, list[Fault]]) -> None:
    """Rows below one with a line end in a cell stand a line further down than their number."""
    folder, faults = broken
    tables = Tables()
    for each in together():
        each.plant(tables)
    where, looked = Places(folder), 0
    for fault in faults:
        header, *rows = tables.rows[fault.file]
        if fault.column:
            cell = rows[fault.row - 2][header.index(fault.column)]
            found = cut((folder / fault.file).read_text(encoding="utf-8"), where.span(fault))
            assert (found[1:-1].replace('""', '"') if found.startswith('"') else found) == cell
            looked += 1
    assert looked >= 20
    assert any(fault.file == "taxa.csv" and where.span(fault)[0] == fault.row + 1 for fault in faults)


def test_the_cells_of_a_text_are_where_a_reader_sees_them() -> None:
    assert list(places('a,"b,""c\n\nd",e\r\n\nf,\n')) == [[(1, 1), (1, 3), (3, 4), (3, 6)], [(4, 1), (4, 2)], [(5, 1), (5, 3), (5, 4)], [(6, 1), (6, 2)]]


def test_each_fault_becomes_one_command_of_the_log(broken: tuple[Path, list[Fault]]) -> None:
    folder, faults = broken
    lines = list(workflow_commands(folder, [*faults, Fault("taxa.csv", 1, "", "csv", "100%,\nof: it.", "Mend it.")]))
    assert len(lines) == len(faults) + 1 > 20
    form = re.compile(r"::error file=[^,:]+,line=\d+,col=\d+(,endColumn=\d+)?,title=[a-z-]+::[^\n\r]+")
    assert [line for line in lines if not form.fullmatch(line)] == []
    assert lines[-1].endswith("::100%25,%0Aof: it. Fix: Mend it.")


def test_the_sarif_log_is_read_by_another_reader_and_holds_every_fault(broken: tuple[Path, list[Fault]]) -> None:
    """The models of the package sarif-pydantic take the log, and give the faults back."""
    folder, faults = broken
    text = sarif(folder, faults)
    (run,) = Sarif.model_validate_json(text).runs
    assert {rule.id for rule in run.tool.driver.rules or []} == set(RULES)
    found = run.results or []
    assert [(each.rule_id, str(each.message.text).split(" Fix: ")[1]) for each in found] == [(each.rule, each.fix) for each in faults]
    assert all(each.locations and each.locations[0].physical_location for each in found)


def write(path: Path, region: dict[str, int], text: str) -> None:
    """Put a text in the place of a region within one line."""
    lines = path.read_text(encoding="utf-8").split("\n")
    assert region["startLine"] == region["endLine"]
    line = lines[region["startLine"] - 1]
    lines[region["startLine"] - 1] = line[: region["startColumn"] - 1] + text + line[region["endColumn"] - 1 :]
    path.write_text("\n".join(lines), encoding="utf-8")


def test_the_log_offers_the_cell_to_write_where_mending_is_mechanical(tmp_path: Path) -> None:
    offered = 0
    for number, planted in enumerate(FIXTURE):
        if planted.rule not in ("unknown-term", "list", "blank-edge", "bad-range"):
            continue
        tables = Tables()
        planted.plant(tables)
        folder = tmp_path / str(number)
        folder.mkdir()
        faults = check(tables.write(folder))[0]
        results = json.loads(sarif(folder, faults))["runs"][0]["results"]
        fixes = [each["fixes"][0]["artifactChanges"][0] for each in results if "fixes" in each]
        for change in {json.dumps(each): each for each in fixes}.values():  # two faults of one cell are mended by the same
            (replacement,) = change["replacements"]
            write(Path(change["artifactLocation"]["uri"]), replacement["deletedRegion"], replacement["insertedContent"]["text"])
        if len(fixes) == len(faults):
            assert check(folder)[0] == []
            offered += len(fixes)
    assert offered >= 15
    print(f"\n{offered} cells offered and written, all tables sound then")


def test_the_command_writes_both_forms(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    tables = Tables()
    tables.set("statements.csv", 3, "taxon", "nial")
    folder = str(tables.write(tmp_path))
    assert main(["check", "--knowledge", folder, "--format", "github"]) == 1
    assert capsys.readouterr().out.startswith(f"::error file={folder}/statements.csv,line=3,col=1,endColumn=5,title=unknown-term::taxon: 'nial'")
    assert main(["check", "--knowledge", folder, "--format", "sarif"]) == 1
    assert len(json.loads(capsys.readouterr().out)["runs"][0]["results"]) == 1
    assert main(["check", "--knowledge", str(Tables().write(tmp_path)), "--format", "sarif"]) == 0
    assert json.loads(capsys.readouterr().out)["runs"][0]["results"] == []
