"""Terms are found by the words that people use, whatever is amiss elsewhere in the tables, and a word that finds nothing says so."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from lenticel.cite import taxon_named
from lenticel.cli import main
from lenticel.errors import UnknownTerm
from lenticel.finding import characters_found, taxa_found
from lenticel.snapshot import Snapshot

Capture = pytest.CaptureFixture[str]


@pytest.fixture
def folder(workshop_tables: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(workshop_tables, tmp_path / "tables"))


def test_a_character_is_found_by_part_of_its_name_before_those_that_take_such_a_state(trees: Snapshot) -> None:
    found = characters_found(trees.knowledge, "bud")
    assert found.keys[0].startswith("bud") or "bud" in trees.knowledge.characters[found.keys[0]].label
    called = [
        "bud" in f"{each.id} {each.label} {each.organ} {' '.join(each.synonyms)}".casefold() for each in map(trees.knowledge.characters.get, found.keys) if each
    ]
    assert called == sorted(called, reverse=True)
    assert found.note == ""


def test_a_state_is_found_by_another_word_for_it(trees: Snapshot) -> None:
    state = next(each for each in trees.knowledge.states.values() if each.synonyms)
    assert state.character in characters_found(trees.knowledge, state.synonyms[0]).keys


@pytest.mark.parametrize(("word", "other"), [("gray", "grey"), ("color", "colour")])
def test_either_spelling_finds_the_other_and_says_so(trees: Snapshot, word: str, other: str) -> None:
    found = characters_found(trees.knowledge, word)
    assert found.keys == characters_found(trees.knowledge, other).keys
    assert found.note == f"{word!r} is found in another spelling."


def test_where_nothing_holds_a_word_the_nearest_is_shown_and_named(trees: Snapshot) -> None:
    found = characters_found(trees.knowledge, "serratte")
    assert "leaf-margin" in found.keys
    assert "'serrate'" in found.note
    assert "acer-rubrum" in taxa_found(trees.knowledge, "redd mapel").keys


def test_a_word_near_nothing_finds_nothing_and_says_what_to_do(trees: Snapshot) -> None:
    with pytest.raises(UnknownTerm, match="xyzzyq"):
        characters_found(trees.knowledge, "xyzzyq")


def test_a_taxon_is_found_by_a_name_that_is_not_the_accepted_one(trees: Snapshot) -> None:
    name = trees.knowledge.names[0]
    assert name.taxon in taxa_found(trees.knowledge, name.name).keys


@pytest.mark.parametrize("word", ["érable rouge", "erable rouge", "Érable Rouge"])
def test_a_taxon_is_found_by_a_name_in_another_language_with_or_without_accents(trees: Snapshot, word: str) -> None:
    assert taxa_found(trees.knowledge, word).keys == ("acer-rubrum",)


@pytest.mark.parametrize(("word", "taxon"), [("erable rouge", "acer-rubrum"), ("orme d’Amerique", "ulmus-americana")])
def test_a_name_means_its_taxon_with_or_without_accents(trees: Snapshot, word: str, taxon: str) -> None:
    assert taxon_named(trees.knowledge, word) == taxon


def test_the_command_lists_terms_while_a_draft_has_blanks_and_a_character_has_none_yet(folder: Path, capsys: Capture) -> None:
    where = ["--knowledge", str(folder)]
    assert main(["draft", "taxon", "Tack", "--parent", "nail", *where]) == 0
    assert main(["draft", "character", "Tip", "--states", "pointed|cut off", *where]) == 0
    assert main(["identify", "-o", "head=flat", *where]) == 1
    capsys.readouterr()
    assert main(["terms", "head", *where]) == 0
    out, err = capsys.readouterr()
    assert out.startswith("head  (head;")
    assert "3 rows of taxa, characters and states have faults and are left out" in err
    assert main(["terms", "--taxa", "tack", *where]) == 0
    assert capsys.readouterr().out == "tack  Tack\n"


def test_a_character_whose_broader_one_cannot_be_read_is_left_out(folder: Path, capsys: Capture) -> None:
    path = folder / "characters.csv"
    path.write_text(path.read_text().replace("finish-new,finish when new,states,finish,", "finish-new,finish when new,states,finish-new,"))
    assert main(["terms", "--knowledge", str(folder)]) == 0
    out, err = capsys.readouterr()
    assert "finish-new" not in out
    assert "1 rows" in err


def test_a_state_found_by_another_word_has_that_word_beside_it(folder: Path, capsys: Capture) -> None:
    path = folder / "states.csv"
    lines = path.read_text().splitlines()
    place = next(number for number, line in enumerate(lines) if line.startswith("head,flat,"))
    cells = lines[place].split(",")
    cells[6] = "gray-topped"
    path.write_text("\n".join([*lines[:place], ",".join(cells), *lines[place + 1 :]]) + "\n")
    for word in ("grey-topped", "gray-topped"):
        assert main(["terms", word, "--knowledge", str(folder)]) == 0
        assert "flat (gray-topped)" in capsys.readouterr().out


def test_a_folder_without_terms_is_refused_with_what_is_missing(tmp_path: Path, capsys: Capture) -> None:
    assert main(["terms", "--knowledge", str(tmp_path)]) == 1
    assert "missing-table" in capsys.readouterr().err


def test_a_word_that_finds_nothing_ends_with_1(folder: Path, capsys: Capture) -> None:
    assert main(["terms", "xyzzyq", "--knowledge", str(folder)]) == 1
    assert "fix:" in capsys.readouterr().err


def test_a_single_character_comes_with_its_definitions(folder: Path, capsys: Capture) -> None:
    assert main(["terms", "head", "--knowledge", str(folder)]) == 0
    alone = capsys.readouterr().out
    assert main(["terms", "hea", "--knowledge", str(folder)]) == 0
    among_others = capsys.readouterr().out
    assert "  round: " in alone
    assert "unless it says otherwise in `exhaustive`" in alone
    assert "  round: " not in among_others
