"""Every command reads the tables that one would think it reads, and says which they were: no all-clear for other tables than those edited."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from lenticel import load
from lenticel.cli import main, meant
from lenticel.cli.meant import folder_meant, tables_meant
from lenticel.places import ontology_folder

Capture = pytest.CaptureFixture[str]


@pytest.fixture
def here(workshop_tables: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with tables in `ontology/`, in which one stands."""
    shutil.copytree(workshop_tables, tmp_path / "ontology")
    monkeypatch.chdir(tmp_path)
    return tmp_path


COMMANDS = [
    ["account", "rivet"],
    ["build", "--out", "built"],
    ["changes", "ontology"],
    ["check"],
    ["compare", "rivet", "wire-nail"],
    ["coverage"],
    ["disagreements"],
    ["doubt", "-o", "head=flat"],
    ["draft", "source", "new-label"],
    ["export", "--to", "sheet.csv"],
    ["identify", "-o", "head=flat"],
    ["key", "nail"],
    ["next"],
    ["publish", "--releases", "releases"],
    ["recorded", "--by", "A. Curator", "--date", "2026-11-29"],
    ["release", "--out", "bundles"],
    ["review", "report"],
    ["review", "sheet"],
    ["stats"],
    ["table", "rivet", "wire-nail"],
    ["terms", "--taxa", "rivet"],
    ["why", "rivet", "-o", "thread=present"],
]


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_each_command_reads_the_tables_that_stand_here_and_says_so(command: list[str], here: Path, capsys: Capture) -> None:
    """The taxa named are known in these tables only."""
    assert main(command) == 0
    assert capsys.readouterr().err.splitlines()[0] == "Knowledge: ontology/"


def test_a_fault_in_the_tables_here_is_found_without_naming_them(here: Path, capsys: Capture) -> None:
    path = here / "ontology" / "statements.csv"
    path.write_text(path.read_text().replace("rivet,", "rivvet,", 1))
    assert main(["check"]) == 1
    assert "'rivvet'" in capsys.readouterr().out


def test_what_is_named_goes_before_what_stands_here(here: Path, capsys: Capture) -> None:
    shutil.copytree(here / "ontology", here / "mine")
    assert main(["check", "--knowledge", "mine"]) == 0
    out, err = capsys.readouterr()
    assert err == "Knowledge: mine/\n"
    assert out.startswith("No fault in ")


@pytest.mark.parametrize("left", ["nothing", "a folder of that name without tables"])
def test_without_tables_here_it_is_what_lenticel_came_with(left: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    if left != "nothing":
        (tmp_path / "ontology").mkdir()
    monkeypatch.chdir(tmp_path)
    assert folder_meant(None) is None
    assert tables_meant(None) == ontology_folder()
    assert capsys.readouterr().err == "Knowledge: what Lenticel came with\n" * 2


def test_tables_that_are_those_compiled_already_are_not_compiled_again_until_one_differs(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shutil.copytree(here / "ontology", here / "kept")
    monkeypatch.setattr(meant, "embedded_tables", lambda: here / "kept")
    assert folder_meant(None) is None
    assert folder_meant("ontology") == Path("ontology")
    path = here / "ontology" / "statements.csv"
    path.write_text(path.read_text().replace("20-100 mm", "20-110 mm"))
    assert folder_meant(None) == Path("ontology")
    path.rename(here / "ontology" / "more.csv")
    assert folder_meant(None) == Path("ontology")


def test_the_embedded_tables_are_those_of_the_embedded_snapshot() -> None:
    assert load(meant.embedded_tables()).digest == load().digest
