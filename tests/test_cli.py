"""The command gives the API's answers, as text for people and JSON for programs, and says what to do when it cannot."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from lenticel.answers import as_json
from lenticel.cite import counts
from lenticel.cli import main
from lenticel.identify import identify
from lenticel.observation import Reader, read_observations
from lenticel.snapshot import Snapshot
from tests.conftest import ROOT

Capture = pytest.CaptureFixture[str]
WOOD = ROOT / "fixtures" / "community-wood"


@pytest.fixture
def where(trees_folder: Path) -> list[str]:
    return ["--knowledge", str(trees_folder)]


def test_json_is_the_pure_answer_byte_for_byte(trees: Snapshot, where: list[str], capsys: Capture) -> None:
    seen = [("leaf-arrangement", "opposite"), ("petiole-sap", "milky")]
    options = [word for pair in seen for word in ("-o", "=".join(pair))]
    assert main(["identify", *options, "--json", *where]) == 0
    assert capsys.readouterr().out.strip().encode() == as_json(identify(trees, read_observations(Reader(trees), seen)))


def test_stats_have_exactly_the_documented_keys(trees: Snapshot, where: list[str], capsys: Capture) -> None:
    assert main(["stats", "--json", *where]) == 0
    found = json.loads(capsys.readouterr().out)
    assert list(found) == ["taxa", "characters", "states", "statements", "statements_with_source", "sources", "lookalikes", "cautions"]
    assert found == counts(trees.knowledge)


@pytest.mark.parametrize(("tag", "taxon"), [line.split(",") for line in (WOOD / "labels.csv").read_text().splitlines()[1:]])
def test_each_tree_of_the_invented_wood_is_named_first(where: list[str], capsys: Capture, tag: str, taxon: str) -> None:
    assert main(["identify", str(WOOD / f"tag-{tag}.csv"), "--json", *where]) == 0
    assert json.loads(capsys.readouterr().out)["consistent"][0]["taxon"] == taxon


def test_where_nothing_fits_the_nearest_and_its_contradiction_are_shown(where: list[str], capsys: Capture) -> None:
    assert main(["identify", str(WOOD / "tag-20.csv"), "--json", *where]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["consistent"] == []
    assert [each["slips"] for each in answer["excluded"]] == sorted(each["slips"] for each in answer["excluded"])
    sugar = next(each for each in answer["excluded"] if each["taxon"] == "acer-saccharum")
    (slip,) = [mark for mark in sugar["marks"] if mark["verdict"] == "contradicts"]
    assert slip["observation"] == "leaf-arrangement: alternate"


def test_a_json_file_is_read_as_the_api_reads_it(tmp_path: Path, where: list[str], capsys: Capture) -> None:
    path = tmp_path / "seen.json"
    path.write_text(json.dumps({"observations": [{"character": "habitat", "states": ["swamp"]}], "wild": True}))
    assert main(["identify", str(path), "--json", *where]) == 0
    assert json.loads(capsys.readouterr().out)["wild"] is True


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["identify", "-o", "leaf-margn=serrate"], "leaf-margin"),
        (["identify", "-o", "leaf-margin=serate"], "serrate"),
        (["identify", "-o", "leaf-margin"], "CHARACTER=VALUE"),
        (["identify", "-o", "height=12 parsecs"], "unit"),
        (["identify", "no-such-file.csv"], "cannot be read"),
        (["account", "soft maple"], "acer-rubrum"),
        (["account", "redd maple"], "red maple"),
        (["compare", "red maple", "red maple"], "different taxa"),
        (["stats", "--knowledge", "no-such-folder"], "Name one that holds tables"),
    ],
)
def test_a_mistake_ends_with_1_and_says_what_to_do(arguments: list[str], message: str, where: list[str], capsys: Capture) -> None:
    options = arguments if "--knowledge" in arguments else [*arguments, *where]
    assert main(options) == 1
    assert message in capsys.readouterr().err


@pytest.mark.parametrize("text", ["", "a,b\n1,2\n", "character,value\nleaf-margin\n", '{"observations": 5}', '{"observations": [', 'character,value\n"leaf'])
def test_a_file_that_holds_no_observations_is_refused(tmp_path: Path, text: str, where: list[str], capsys: Capture) -> None:
    path = tmp_path / "seen"
    path.write_text(text)
    assert main(["identify", str(path), *where]) == 1
    assert "fix:" in capsys.readouterr().err


def test_the_second_opinion_agrees(where: list[str], capsys: Capture) -> None:
    assert main(["identify", str(WOOD / "tag-03.csv"), "--prove", *where]) == 0
    assert "HermiT agrees" in capsys.readouterr().out


def test_help_shows_a_worked_example(capsys: Capture) -> None:
    for command in ([], ["identify"], ["compare"], ["account"], ["check"], ["build"], ["release"], ["stats"], ["terms"], ["serve"]):
        with pytest.raises(SystemExit) as ended:
            main([*command, "--help"])
        assert ended.value.code == 0
        assert "lenticel " + (command[0] if command else "identify") in capsys.readouterr().out.split("example")[-1]


def test_building_twice_gives_the_same_bytes(tmp_path: Path) -> None:
    where = ["--knowledge", str(ROOT / "fixtures" / "workshop")]
    for name in ("one", "two"):
        assert main(["build", "--out", str(tmp_path / name), *where]) == 0
    files = [path.relative_to(tmp_path / "one") for path in sorted((tmp_path / "one").rglob("*")) if path.is_file()]
    assert len(files) == 12
    for path in files:
        assert (tmp_path / "one" / path).read_bytes() == (tmp_path / "two" / path).read_bytes()


def test_disagreements_can_be_asked_for_open_or_settled(capsys: pytest.CaptureFixture[str]) -> None:
    counts = []
    for words in ([], ["--open"], ["--settled"]):
        assert main(["disagreements", *words, "--json"]) == 0
        counts.append(len(json.loads(capsys.readouterr().out)))
    assert counts[0] == counts[1] + counts[2]
    assert counts[2] > 100


@pytest.mark.parametrize(
    "written", ["Character,VALUE\npetiole-sap,milky\n", "character;value\npetiole-sap;milky\n", "character\tvalue\tremark\npetiole-sap\tmilky\t\n"]
)
def test_a_file_of_observations_is_read_as_spreadsheets_of_any_country_write_it(where: list[str], capsys: Capture, tmp_path: Path, written: str) -> None:
    (tmp_path / "seen.csv").write_text(written)
    assert main(["identify", str(tmp_path / "seen.csv"), "--explain", "0", *where]) == 0
    assert "Seen: petiole-sap: milky" in capsys.readouterr().out


def test_a_file_that_begins_otherwise_is_refused_with_what_it_begins_with(where: list[str], capsys: Capture, tmp_path: Path) -> None:
    (tmp_path / "seen.csv").write_text("trait,state\npetiole-sap,milky\n")
    assert main(["identify", str(tmp_path / "seen.csv"), *where]) != 0
    assert "begins with 'trait,state', not with the header character,value" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["coverage", "--picture", "no/such/folder/picture.svg"], "'no/such/folder/picture.svg' cannot be read or written: No such file or directory."),
        (["export", "--to", "no/such/folder/sheet.csv"], "'no/such/folder/sheet.csv' cannot be read or written: No such file or directory."),
        (["sparql", "query.rq"], "The file 'query.rq' cannot be read: No such file or directory."),
        (["batch", "seen.csv", "--out", "out.csv"], "The file 'seen.csv' cannot be read: No such file or directory."),
        (["identify", "-o", "petiole-sap=milky", "--knowledge", "no/such/folder"], "There is no folder 'no/such/folder'."),
        (["check", "--knowledge", "no/such/folder"], "There is no folder 'no/such/folder'."),
    ],
)
def test_a_file_or_folder_that_is_not_there_is_said_to_be(where: list[str], capsys: Capture, arguments: list[str], told: str) -> None:
    assert main(arguments if "--knowledge" in arguments else [*arguments, *where]) == 1
    found = capsys.readouterr().err
    assert told in found
    assert "fix: " in found


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["recorded", "--by", "A clerk", "--date", "2026-13-45"], "'2026-13-45' is no day; write it as 2026-11-25"),
        (["recorded", "--by", "A clerk", "--date", ""], "'' is no day; write it as 2026-11-25"),
        (["review", "take", "sheet.csv", "--date", "last week"], "'last week' is no day; write it as 2026-11-25"),
        (["coverage", "--picture", "coverage.pdf"], "'coverage.pdf' does not end in .svg"),
        (["coverage", "--picture", "coverage"], "'coverage' does not end in .svg"),
    ],
)
def test_a_day_or_an_ending_that_is_none_is_refused_before_anything_is_read(
    capsys: Capture, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str], told: str
) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    assert ended.value.code == 2
    assert told in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("port", ["99999", "-1", "http", "²"])
def test_a_port_that_is_none_is_refused_before_anything_is_loaded(capsys: Capture, port: str) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["serve", f"--port={port}"])
    assert ended.value.code == 2
    assert "is no port" in capsys.readouterr().err
