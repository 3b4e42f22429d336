"""A body of knowledge about no plant goes through the whole pipeline; its answers are worked out by hand."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from lenticel.account import account
from lenticel.cli import main
from lenticel.compare import compare
from lenticel.errors import BadQuestion
from lenticel.identify import Context, identify
from lenticel.observation import Reader, read_observations
from lenticel.snapshot import Snapshot


def _left(snapshot: Snapshot, *rows: tuple[str, str], wild: bool = False) -> dict[str, str]:
    """The taxa that remain, each with its worst verdict."""
    answer = identify(snapshot, read_observations(Reader(snapshot), list(rows)), Context(wild))
    return {each.taxon: "atypical" if each.atypical else "agrees" if each.agrees else "silent" for each in answer.consistent}


def test_a_state_leaves_those_that_may_show_it_and_those_nobody_spoke_of(workshop: Snapshot) -> None:
    assert _left(workshop, ("thread", "absent")) == dict.fromkeys(("wire-nail", "lost-head-nail", "rivet"), "agrees")
    assert _left(workshop, ("length", "200 mm")) == {"coach-bolt": "agrees", "screw-nail": "silent", "rivet": "silent"}


@pytest.mark.parametrize(
    ("row", "inside", "outside"),
    [
        (("head", "pan"), {"machine-screw": "agrees", "wood-screw": "agrees"}, {"coach-bolt", "wire-nail"}),
        (("head", "round"), {"wood-screw": "agrees", "rivet": "agrees", "machine-screw": "agrees", "coach-bolt": "agrees"}, {"wire-nail"}),
        (("thickness", "medium"), {"wire-nail": "atypical", "rivet": "agrees"}, {"coach-bolt"}),
        (("thickness", "thick"), {"coach-bolt": "atypical", "rivet": "atypical"}, {"wire-nail"}),
        (("length", "105 mm"), {"wood-screw": "atypical", "wire-nail": "atypical", "coach-bolt": "agrees"}, {"machine-screw", "lost-head-nail"}),
        (("length", "111 mm"), {"wire-nail": "atypical"}, {"wood-screw"}),
        (("stocked", "1"), {"wood-screw": "agrees"}, {"wire-nail", "rivet"}),
        (("stocked", "10"), {"wood-screw": "atypical"}, {"wire-nail"}),
        (("stocked", "3"), {"wire-nail": "atypical"}, {"wood-screw"}),
        (("drive", "hex"), {"machine-screw": "agrees"}, {"wood-screw", "wire-nail", "rivet"}),
        (("drive", "cross-ribbed"), {"wood-screw": "atypical"}, {"machine-screw", "rivet"}),
        (("pitch", "0.9 mm"), {"machine-screw": "agrees", "wood-screw": "atypical"}, {"rivet", "wire-nail"}),
        (("finish", "dull"), {"wood-screw": "atypical", "wire-nail": "agrees", "coach-bolt": "silent"}, set()),
        (("finish-new", "dull"), {"wire-nail": "agrees"}, {"coach-bolt", "wood-screw"}),
        (("finish-new", "bright"), {"wood-screw": "agrees", "coach-bolt": "atypical", "wire-nail": "atypical"}, set()),
    ],
)
def test_each_kind_of_statement_means_what_the_tables_say(workshop: Snapshot, row: tuple[str, str], inside: dict[str, str], outside: set[str]) -> None:
    left = _left(workshop, row)
    assert inside.items() <= left.items()
    assert not outside & set(left)


def test_the_drawer_excludes_only_what_nobody_moved(workshop: Snapshot) -> None:
    assert _left(workshop, ("drawer", "upper"))["wire-nail"] == "atypical"
    assert "wire-nail" not in _left(workshop, ("drawer", "upper"), wild=True)


def test_this_or_that_excludes_only_what_shows_neither(workshop: Snapshot) -> None:
    left = _left(workshop, ("pitch|length", "3-4 mm"))
    assert "wood-screw" in left
    assert "rivet" in left
    assert "machine-screw" not in left


def test_a_condition_is_named_as_the_ground(workshop: Snapshot) -> None:
    answer = identify(workshop, read_observations(Reader(workshop), [("turns", "12")]))
    rivet = next(each for each in answer.excluded if each.taxon == "rivet")
    (ground,) = rivet.marks[0].grounds
    assert (ground.character, ground.seen, ground.shown, ground.entailed) == ("thread", "present", "absent", True)
    assert ground.statements == ("rivet.thread.drawer-labels",)


def test_comparing_tells_decisive_from_typical(workshop: Snapshot) -> None:
    answer = compare(workshop, ["machine-screw", "coach-bolt"])
    force = {each.character: each.force for each in answer.separators}
    assert force["length"] == "decisive"
    assert force["head"] == "decisive"
    assert "thread" not in force
    assert answer.inseparable == ()
    drawers = {each.character: each.force for each in compare(workshop, ["wood-screw", "wire-nail"]).separators}
    assert drawers["drawer"] == "typical", "where a thing lies never decides what it is"


@pytest.mark.parametrize("taxa", [["rivet"], ["rivet", "rivet"], ["screw", "wood-screw"], ["rivet"] * 13])
def test_a_comparison_needs_different_taxa_side_by_side(workshop: Snapshot, taxa: list[str]) -> None:
    with pytest.raises(BadQuestion):
        compare(workshop, taxa)


def test_an_account_holds_what_the_ranks_above_say(workshop: Snapshot) -> None:
    answer = account(workshop, "wood-screw")
    shown = {each.character: each.shown for each in answer.traits}
    assert shown["thread"] == "present"
    assert shown["drawer"] == "upper"
    assert answer.lineage == ("screw", "fastener")


def test_the_caution_stands_as_long_as_the_plant_is_one_slip_away(workshop: Snapshot) -> None:
    reader = Reader(workshop)
    one_slip = identify(workshop, read_observations(reader, [("thread", "absent")]))
    two_slips = identify(workshop, read_observations(reader, [("thread", "absent"), ("head", "round")]))
    assert [each.id for each in one_slip.cautions] == ["screw-nail-skin"]
    assert [each.id for each in two_slips.cautions] == []


def test_every_command_takes_the_folder(workshop_tables: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    where = ["--knowledge", str(workshop_tables)]
    assert main(["check", *where]) == 0
    assert main(["build", "--out", str(tmp_path / "release"), *where]) == 0
    for command in (
        ["stats"],
        ["terms"],
        ["terms", "--taxa"],
        ["disagreements"],
        ["account", "rivet"],
        ["compare", "rivet", "French nail"],
        ["identify", "-o", "thread=present"],
    ):
        capsys.readouterr()
        assert main([*command, "--json", "--knowledge", str(tmp_path / "release" / "snapshot")]) == 0
        assert json.loads(capsys.readouterr().out) is not None
        assert main([*command, *where]) == 0
        assert "acer" not in capsys.readouterr().out.lower()
