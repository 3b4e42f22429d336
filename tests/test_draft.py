"""Starting points: drafted rows hold what is known already, leave blanks, and the check walks through the blanks."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from lenticel.build import check
from lenticel.cli import main
from lenticel.compare import disjoint_pairs
from lenticel.draft import characters_to_fill, new_taxon
from lenticel.errors import BadQuestion
from lenticel.snapshot import Snapshot


@pytest.fixture
def folder(workshop_tables: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(workshop_tables, tmp_path / "tables"))


def test_a_drafted_taxon_has_the_characters_of_its_relatives_and_not_what_it_inherits(trees: Snapshot) -> None:
    drafted = characters_to_fill(trees, "acer", ["platanus-occidentalis"])
    inherited = {each.character for each in trees.knowledge.statements.values() if each.taxon in ("acer", "sapindaceae")}
    assert len(drafted) > 30
    assert not set(drafted) & inherited
    assert "needle-length" not in drafted


def test_what_separates_the_relatives_comes_first(trees: Snapshot) -> None:
    drafted = characters_to_fill(trees, "acer")
    import numpy as np

    rows = np.array([trees.place_of[each] for each in trees.knowledge.terminal if "acer" in trees.knowledge.lineage(each)])
    apart = [int(disjoint_pairs(trees, rows, key, 1).sum()) for key in drafted]
    assert apart == sorted(apart, reverse=True)
    assert apart[0] > 0


def test_the_check_walks_through_the_blanks_until_none_is_left(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["draft", "taxon", "Tack", "--parent", "nail", "--knowledge", str(folder)]) == 0
    faults, _ = check(folder)
    blanks = [each for each in faults if each.rule == "required" and each.file == "statements/tack.csv"]
    assert len({each.row for each in blanks}) == len(blanks) >= 3  # one fault a row, however many of its cells are blank
    assert all("'value', 'source' and 'locator'" in each.message for each in blanks)
    path = folder / "statements" / "tack.csv"
    header = path.read_text().splitlines()[0]
    path.write_text(f'{header}\ntack,length,5-15 mm,,,drawer-labels,"label, invented",,\ntack,head,flat,,,drawer-labels,"label, invented",,\n')
    assert check(folder)[0] == []
    capsys.readouterr()
    assert main(["compare", "tack", "wire-nail", "--knowledge", str(folder)]) == 0


def test_a_drafted_character_with_states_and_a_drafted_source_leave_only_blanks(folder: Path) -> None:
    assert main(["draft", "character", "Colour of the drawer", "--states", "light wood|dark wood", "--knowledge", str(folder)]) == 0
    faults, _ = check(folder)
    assert {each.rule for each in faults} <= {"required", "orphan", "undefined"} | {
        each.rule for each in faults if each.file in ("characters.csv", "states.csv")
    }
    assert any(each.column == "definition" and each.file == "states.csv" for each in faults)


@pytest.mark.parametrize(
    "words",
    [
        ["taxon", "Rivet", "--parent", "fastener"],
        ["taxon", "Tack"],
        ["taxon", "?!", "--parent", "nail"],
        ["taxon", "Tack", "--parent", "nail", "--source", "shop-leger"],
        ["source", "drawer-labels"],
        ["source", "new-label", "--locator", "p. 1"],
    ],
)
def test_nothing_is_overwritten_and_a_mistake_says_what_to_do(folder: Path, words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    before = {path: path.read_bytes() for path in folder.rglob("*.csv")}
    assert main(["draft", *words, "--knowledge", str(folder)]) == 1
    assert "fix:" in capsys.readouterr().err
    assert {path: path.read_bytes() for path in folder.rglob("*.csv")} == before


@pytest.mark.parametrize("name", ["Quercus muhlenbergii", "Quercus acuminata", "Acer x freemanii", "acer rubrum"])
def test_a_species_that_is_there_by_another_name_or_spelling_is_not_drafted_again(trees: Snapshot, name: str) -> None:
    with pytest.raises(BadQuestion, match=r"is known as|is there already"):
        new_taxon(trees, name, "quercus")


@pytest.mark.parametrize("name", ["Quercus ellipsoidalis", "Quercus prinoides", "Acer x hybridum"])
def test_a_species_whose_name_is_only_like_another_is_drafted(trees: Snapshot, name: str) -> None:
    """One of them is also the first part of the name of a variety of another species."""
    assert new_taxon(trees, name, "quercus").rows


def test_a_source_that_all_rows_cite_is_written_once_on_the_command_line(folder: Path) -> None:
    assert main(["draft", "taxon", "Tack", "--parent", "nail", "--source", "shop-ledger", "--locator", "p. 9, invented", "--knowledge", str(folder)]) == 0
    rows = (folder / "statements" / "tack.csv").read_text().splitlines()[1:]
    assert len(rows) >= 3
    assert all(row.endswith(',,,,shop-ledger,"p. 9, invented",,') for row in rows)
    assert {each.message.partition(": ")[2] for each in check(folder)[0] if each.file == "statements/tack.csv"} == {"The column 'value' must not be empty."}


def test_the_check_tells_of_each_blank_what_the_character_takes(folder: Path) -> None:
    assert main(["draft", "taxon", "Tack", "--parent", "nail", "--knowledge", str(folder)]) == 0
    with (folder / "statements" / "tack.csv").open("a") as file:
        file.write("tack,turns,,,,,,,\ntack,stocked,,,,,,,\n")
    fixes = {each.message.split("'")[1]: each.fix for each in check(folder)[0] if each.file == "statements/tack.csv"}
    assert fixes["head"] == "Use one of: flat, mushroom, none, pan, round. Or take the row out."
    assert fixes["length"] == "Write a range in mm such as 5-12 mm. Or take the row out."
    assert fixes["turns"] == "Write a number such as 5 or a range such as 5-7. Or take the row out."
    assert fixes["stocked"] == "Write months such as 4-5. Or take the row out."


def test_a_source_that_turns_out_to_be_missing_can_be_drafted_while_blanks_are_open(folder: Path) -> None:
    assert main(["draft", "taxon", "Tack", "--parent", "nail", "--knowledge", str(folder)]) == 0
    assert main(["draft", "source", "new-label", "--knowledge", str(folder)]) == 0
    assert (folder / "sources.csv").read_text().splitlines()[-1].startswith("new-label,")


def test_a_taxon_may_cite_a_source_that_was_drafted_just_before(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """As README has it: if the book is new, its draft comes first."""
    assert main(["draft", "source", "new-label", "--knowledge", str(folder)]) == 0
    assert main(["draft", "taxon", "Tack", "--parent", "nail", "--source", "new-label", "--locator", "p. 1", "--knowledge", str(folder)]) == 0
    assert "tack,head,,,,new-label,p. 1," in (folder / "statements" / "tack.csv").read_text()
    assert main(["draft", "taxon", "Brad", "--parent", "nail", "--source", "old-label", "--knowledge", str(folder)]) == 1
    assert "There is no source 'old-label'." in capsys.readouterr().err


def test_it_says_how_many_characters_each_rank_above_has_already(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["draft", "taxon", "Tack", "--parent", "nail", "--knowledge", str(folder)]) == 0
    said = capsys.readouterr().out
    assert "left out, since the new taxon inherits what nail states of 4 characters: thread, drive, thickness, drawer\n" in said
    assert said.count("left out") == 1


def test_a_second_species_can_be_drafted_while_the_first_lies_open(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for name in ("Tack", "Brad"):
        assert main(["draft", "taxon", name, "--parent", "nail", "--knowledge", str(folder)]) == 0
    assert "on tack" in capsys.readouterr().err


def test_states_may_be_given_one_by_one_or_together(folder: Path) -> None:
    assert main(["draft", "character", "Tip", "--states", "pointed|blunt", "--states", "cut off", "--knowledge", str(folder)]) == 0
    assert [f"tip,{each}," in (folder / "states.csv").read_text() for each in ("pointed", "blunt", "cut-off")] == [True] * 3
