"""The command and the API doubt and justify alike, as text for people and JSON for programs."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from lenticel.answers import as_json
from lenticel.api import create_app
from lenticel.cli import main
from lenticel.doubt import doubt
from lenticel.justify import why_apart, why_out
from lenticel.observation import Reader, read_observations
from lenticel.snapshot import Snapshot
from tests.conftest import ROOT
from tests.operations import is_problem

Capture = pytest.CaptureFixture[str]
IMPOSSIBLE = [
    ("leaf-arrangement", "alternate"),
    ("fruit-type", "paired-samara"),
    ("leaf-division", "compound"),
    ("leaflet-count", "7"),
    ("leaf-kind", "needle"),
]
TAG = str(ROOT / "fixtures" / "community-wood" / "tag-20.csv")


@pytest.fixture(scope="module")
def service(trees: Snapshot) -> TestClient:
    return TestClient(create_app(trees), raise_server_exceptions=False)


@pytest.fixture
def where(trees_folder: Path) -> list[str]:
    return ["--knowledge", str(trees_folder)]


def rows(seen: list[tuple[str, str]]) -> list[dict[str, Any]]:
    return [{"character": character, "value": value} for character, value in seen]


def test_command_and_api_give_the_same_doubts(trees: Snapshot, service: TestClient, where: list[str], capsys: Capture) -> None:
    due = as_json(doubt(trees, read_observations(Reader(trees), IMPOSSIBLE)))
    assert json.loads(due)["sets"]
    assert main(["doubt", *(word for pair in IMPOSSIBLE for word in ("-o", "=".join(pair))), "--json", *where]) == 0
    assert capsys.readouterr().out.strip().encode() == due
    assert service.post("/v1/doubt", json={"observations": rows(IMPOSSIBLE)}).content == due


def test_command_and_api_give_the_same_justifications(trees: Snapshot, service: TestClient, where: list[str], capsys: Capture) -> None:
    out = as_json(why_out(trees, "acer-saccharum", read_observations(Reader(trees), IMPOSSIBLE)))
    assert main(["why", "sugar maple", *(word for pair in IMPOSSIBLE for word in ("-o", "=".join(pair))), "--json", *where]) == 0
    assert capsys.readouterr().out.strip().encode() == out
    assert service.post("/v1/why", json={"taxa": ["sugar maple"], "observations": rows(IMPOSSIBLE)}).content == out
    apart = as_json(why_apart(trees, "acer-saccharum", "acer-platanoides", "petiole-sap"))
    assert main(["why", "sugar maple", "Norway maple", "--character", "petiole-sap", "--json", *where]) == 0
    assert capsys.readouterr().out.strip().encode() == apart
    assert service.post("/v1/why", json={"taxa": ["sugar maple", "Norway maple"], "character": "petiole-sap"}).content == apart


def test_where_nothing_fits_identify_says_what_to_doubt_and_names_the_taxa_a_slip_away(where: list[str], capsys: Capture) -> None:
    assert main(["identify", TAG, "--explain", "0", *where]) == 0
    said = capsys.readouterr().out
    assert "Doubt first (`lenticel doubt` says more):" in said
    assert "  leaf-arrangement: alternate (a form or arrangement): leaves Acer " in said
    assert "Nearest of what is out (one slip away): Acer " in said


def test_doubt_says_what_the_taxa_would_have_shown_and_on_whose_word(where: list[str], capsys: Capture) -> None:
    assert main(["doubt", TAG, *where]) == 0
    said = capsys.readouterr().out
    assert "not leaf-arrangement: alternate, but arrangement of leaves, leaf scars and buds: opposite" in said
    assert re.search(r"but arrangement of leaves, leaf scars and buds: opposite\n +[^\n]+, [^\n]+: opposite “opposite”", said)
    assert "if some of it is wrong, Acer saccharum (sugar maple), livestock" in said
    assert "One slip away" in said
    assert "Leave the plant be" in said


def test_why_reads_as_a_sentence_with_its_sources_and_is_proved(where: list[str], capsys: Capture) -> None:
    assert main(["why", "sugar maple", "-o", "leaf-arrangement=alternate", "-o", "height=60 m", "--axioms", "--prove", *where]) == 0
    said = capsys.readouterr().out
    assert (
        "It is out because you saw arrangement of leaves, leaf scars and buds: alternate; every Acer saccharum has arrangement of leaves, leaf scars and buds:"
        in said
    )
    assert "(Otis 1915, p. 181)" in said
    assert "acer-saccharum SubClassOf: not (leaf-arrangement some leaf-arrangement/alternate)" in said
    assert "of 4 statements, these 2 reach furthest" in said
    assert "HermiT agrees: 2 of 2 justifications are enough, and 0 of their" in said


def test_what_is_one_is_counted_as_one(where: list[str], capsys: Capture) -> None:
    assert main(["doubt", "-o", "leaf-division=trifoliate", "-o", "growth-form=climber", *where]) == 0
    assert "1 remains, so that nothing need be doubted: Toxicodendron radicans" in capsys.readouterr().out
    assert main(["key", "red maple", *where]) == 1
    assert "would end in 1 taxon." in capsys.readouterr().err
    assert main(["compare", "red maple", "acer rubrum", *where]) == 1
    assert "The same taxon was given twice." in capsys.readouterr().err


def test_what_is_not_out_is_said_not_to_be(where: list[str], capsys: Capture) -> None:
    assert main(["why", "sugar maple", "-o", "leaf-arrangement=opposite", *where]) == 0
    assert "It is not out" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["why", "sugar maple", "Norway maple"], "--character"),
        (["why", "sugar maple", "--character", "petiole-sap"], "--character"),
        (["why", "sugar maple", "red maple", "--character", "leaf-arrangement"], "lenticel compare"),
        (["why", "sugar maple", "Acer", "--character", "leaf-arrangement"], "none lies within the other"),
        (["why", "suger maple", "-o", "leaf-arrangement=opposite"], "sugar maple"),
        (["doubt", "-o", "leaf-arrangemnt=opposite"], "leaf-arrangement"),
        (["key", "red maple"], "a group that holds 2 to 60 species or hybrids"),
        (["compare", "red maple", "acer rubrum"], "2 to 12 different taxa"),
    ],
)
def test_a_mistake_ends_with_1_and_says_what_to_do(arguments: list[str], message: str, where: list[str], capsys: Capture) -> None:
    assert main([*arguments, *where]) == 1
    assert message in capsys.readouterr().err.partition("fix:")[2]


@pytest.mark.parametrize(
    ("path", "body", "code", "at"),
    [
        ("/v1/why", {"taxa": ["sugar maple", "red maple"]}, "bad-request", ""),
        ("/v1/why", {"taxa": ["sugar maple"], "character": "petiole-sap"}, "bad-request", ""),
        ("/v1/why", {"taxa": []}, "bad-request", "/taxa"),
        ("/v1/why", {"taxa": ["sugar mapel"], "observations": []}, "unknown-term", "/taxa/0"),
        ("/v1/why", {"taxa": ["sugar maple", "Norway maple"], "character": "petiol-sap"}, "unknown-term", "/character"),
        ("/v1/why", {"taxa": ["sugar maple", "red maple"], "character": "leaf-arrangement"}, "bad-question", "/character"),
        ("/v1/doubt", {"observations": rows(IMPOSSIBLE), "most": 4}, "bad-request", "/most"),
        ("/v1/doubt", {"observations": rows(IMPOSSIBLE) * 50}, "bad-request", "/observations"),
        ("/v1/doubt", {"observations": [*rows(IMPOSSIBLE), {"character": "no such thing", "value": "x"}]}, "unknown-term", "/observations/5"),
    ],
)
def test_a_question_that_cannot_be_asked_is_refused_where_it_is_wrong(service: TestClient, path: str, body: dict[str, Any], code: str, at: str) -> None:
    found = is_problem(service.post(path, json=body), 422, code)
    assert not at or found["errors"][0]["pointer"] == at


def test_help_shows_a_worked_example(capsys: Capture) -> None:
    for command in ("doubt", "why"):
        with pytest.raises(SystemExit):
            main([command, "--help"])
        assert f"lenticel {command}" in capsys.readouterr().out.split("example")[-1]
