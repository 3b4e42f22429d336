"""Who reads while others draft is answered from what is sound, is told what is left out, and is refused where leaving out could mislead."""

from __future__ import annotations

from pathlib import Path

import pytest

from lenticel.cli import main
from lenticel.errors import FaultyTables
from lenticel.sound import sound_part
from tests.planting import Edit, copied

Capture = pytest.CaptureFixture[str]
BLANK: Edit = ("statements", "wire-nail,length,20-100 mm", "wire-nail,length,")
MISSPELT: Edit = ("statements", "wood-screw,head,round,sometimes", "wood-screw,head,rnd,sometimes")
DRAFT = ("taxa", "", "tack,species,nail,Tack,,,,,"), ("statements", "", "tack,head,,,,drawer-labels,,,"), ("statements", "", "tack,length,,,,drawer-labels,,,")


@pytest.mark.parametrize(
    "command", [["account", "rivet"], ["compare", "rivet", "wire-nail"], ["disagreements"], ["coverage"], ["stats"]], ids=lambda words: words[0]
)
def test_what_reads_the_knowledge_works_while_a_draft_has_blanks(command: list[str], workshop_tables: Path, tmp_path: Path, capsys: Capture) -> None:
    assert main([*command, "--knowledge", str(workshop_tables)]) == 0
    before = capsys.readouterr()
    assert main([*command, "--knowledge", str(copied(workshop_tables, tmp_path / "drafted", DRAFT))]) == 0
    after = capsys.readouterr()
    assert "Left out for faults, which `lenticel check` names: 2 statements on tack." in after.err
    assert "Left out" not in before.err


def test_with_a_faulty_statement_go_the_others_that_would_seem_to_say_all(workshop_tables: Path, tmp_path: Path) -> None:
    found = sound_part(copied(workshop_tables, tmp_path / "tables", (MISSPELT,)))
    assert [(row.cells["taxon"], row.cells["character"]) for row in found.left_out] == [("wood-screw", "head")] * 2
    assert "wood-screw.head.hard" not in found.snapshot.body.cells
    assert str(found).endswith("2 statements on wood-screw.")


def test_of_sound_tables_nothing_is_left_out(workshop_tables: Path) -> None:
    found = sound_part(workshop_tables)
    assert found.left_out == ()
    assert str(found) == ""


def test_what_becomes_faulty_once_a_drafted_character_is_left_out_goes_too(workshop_tables: Path, tmp_path: Path) -> None:
    drafted: tuple[Edit, ...] = (
        ("characters", "", "tip,tip,states,,shank,,,spring,eye,diagnostic,,,,,,,,yes,,,,,,"),
        ("states", "", "tip,pointed,pointed,,,,,Drawn out to a point."),
        ("statements", "", 'rivet,tip,pointed,,,drawer-labels,"label, invented",,'),
    )
    found = sound_part(copied(workshop_tables, tmp_path / "tables", drafted))
    assert sorted(row.table.name for row in found.left_out) == ["characters", "statements", "states"]
    assert "tip" not in found.snapshot.knowledge.characters


@pytest.mark.parametrize(
    "fault",
    [
        ("cautions", "screw-nail-skin,screw-nail,skin", "screw-nail-skin,screw-nial,skin"),
        ("statements", "wire-nail,length,20-100 mm,,", "wire-nail,length,20-100 mm"),
    ],
    ids=["a caution", "a row of too few cells"],
)
def test_a_fault_that_cannot_be_left_out_is_told_with_all_others(fault: Edit, workshop_tables: Path, tmp_path: Path) -> None:
    with pytest.raises(FaultyTables) as error:
        sound_part(copied(workshop_tables, tmp_path / "tables", (fault, MISSPELT)))
    assert len(error.value.faults) == 2


def test_a_question_by_which_somebody_names_a_plant_is_not_answered_from_a_part(workshop_tables: Path, tmp_path: Path, capsys: Capture) -> None:
    folder = str(copied(workshop_tables, tmp_path / "tables", (BLANK,)))
    assert main(["identify", "-o", "thread=absent", "--knowledge", folder]) == 1
    assert "'length': The column 'value' must not be empty." in capsys.readouterr().err
