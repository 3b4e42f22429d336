"""The table for a lesson and practice: what is marked, how it prints, and the same answers from the command and the API."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from lenticel.answers import as_json
from lenticel.api import create_app
from lenticel.claims import claims
from lenticel.cli import main
from lenticel.compare import PARTING, compare
from lenticel.errors import BadQuestion
from lenticel.lesson import lesson
from lenticel.practice import practice
from lenticel.snapshot import Snapshot
from lenticel.spreadsheet import neutral
from lenticel.text import lesson_csv, lesson_html, lesson_markdown, practice_html, practice_markdown, practice_text
from tests.operations import is_problem

Capture = pytest.CaptureFixture[str]
MAPLES = ["acer-saccharum", "acer-platanoides", "acer-negundo"]
LEAFLET = "taxon,character,value\nsugar maple,petiole-sap,milky\nNorway maple,petiole-sap,milky\n"


@pytest.fixture(scope="module")
def service(trees: Snapshot) -> TestClient:
    return TestClient(create_app(trees), raise_server_exceptions=False)


@pytest.fixture
def where(trees_folder: Path) -> list[str]:
    return ["--knowledge", str(trees_folder)]


def test_a_cell_that_sets_its_taxon_apart_from_all_others_is_marked(trees: Snapshot) -> None:
    rows = {row.character: {cell.taxon: cell for cell in row.cells} for row in lesson(trees, MAPLES, season="summer").rows}
    assert rows["petiole-sap"]["acer-platanoides"].telling == "decisive"
    assert rows["petiole-sap"]["acer-saccharum"].telling == "partly"
    assert rows["leaf-division"]["acer-negundo"].telling == "decisive"


def test_marks_agree_with_the_comparison(trees: Snapshot) -> None:
    parted = {}
    for each in compare(trees, MAPLES).separators:
        if each.force in PARTING:
            for pair in each.pairs:
                parted.setdefault((each.character, frozenset(pair)), set()).add(each.force)
    checked = 0
    for row in lesson(trees, MAPLES, rows=40).rows:
        for cell in row.cells:
            forces = [parted.get((row.character, frozenset((cell.taxon, other)))) for other in MAPLES if other != cell.taxon]
            due = "" if not any(forces) else "partly" if not all(forces) else "decisive" if all(each == {"decisive"} for each in forces) else "typical"
            assert cell.telling == due, (row.character, cell.taxon)
            checked += 1
    assert checked >= 60


def test_as_many_rows_as_asked_for_and_pairs_first(trees: Snapshot) -> None:
    assert len(lesson(trees, MAPLES, rows=3).rows) == 3
    for rows in (0, 41):
        with pytest.raises(BadQuestion):
            lesson(trees, MAPLES, rows=rows)
    few = lesson(trees, MAPLES, season="summer", rows=2)
    told = {cell.taxon for row in few.rows for cell in row.cells if cell.telling in ("decisive", "typical")}
    assert told == {"acer-platanoides", "acer-negundo"}


def test_every_note_of_a_cell_stands_below_the_table(trees: Snapshot) -> None:
    answer = lesson(trees, MAPLES)
    used = {note for row in answer.rows for cell in row.cells for note in cell.notes}
    assert used == set(range(1, len(answer.notes) + 1))
    assert len(set(answer.notes)) == len(answer.notes)


def test_the_table_prints_in_each_form_with_cautions(trees: Snapshot) -> None:
    known, answer = trees.knowledge, lesson(trees, MAPLES, season="summer", rows=4)
    marked = "\n".join(lesson_markdown(known, answer))
    assert "**milky** (decisive)" in marked
    assert "Leave the plant be" in marked
    paged = lesson_html(known, answer)
    assert 'class="decisive" data-taxon="Acer platanoides (Norway maple)">milky' in paged
    assert "Leave the plant be" in paged
    assert "@media print" in paged
    lines = list(csv.reader(io.StringIO(lesson_csv(known, answer)), strict=True))
    assert len({len(line) for line in lines}) == 1
    assert "\r\n" in lesson_csv(known, answer)
    assert any("milky" in line and "decisive" in line for line in lines)
    assert any(line[0] == "caution" for line in lines)


@pytest.mark.parametrize("cell", ["=1+1", "+1", "-1", "@x", "\tx", "\rx"])
def test_no_cell_is_taken_for_a_formula(cell: str) -> None:
    assert neutral(cell) == f"'{cell}"
    assert neutral("5–9 cm") == "5–9 cm"


def test_what_is_written_in_a_table_is_no_markup(workshop: Snapshot) -> None:
    from dataclasses import replace

    odd = lesson(workshop, ["machine-screw", "coach-bolt"])
    odd = replace(odd, labels=("<b>one</b>", "a|b*"))
    assert "<b>one" not in lesson_html(workshop.knowledge, odd)
    assert "\\<b\\>one" in "\n".join(lesson_markdown(workshop.knowledge, odd))
    assert "a\\|b\\*" in "\n".join(lesson_markdown(workshop.knowledge, odd))


def test_the_same_seed_gives_the_same_questions_and_another_seed_others(trees: Snapshot) -> None:
    one, again, other = (practice(trees, ["acer"], season="winter", seed=seed) for seed in (1, 1, 2))
    assert as_json(one) == as_json(again)
    assert [each.text for each in one.questions] != [each.text for each in other.questions]


def test_every_answer_follows_from_the_comparison(trees: Snapshot) -> None:
    checked = 0
    for each in practice(trees, [], count=25).questions:
        force = {(one.character, one.force) for one in compare(trees, [each.one, each.other]).separators}
        assert all((trait.character, trait.force) in force for trait in each.traits)
        sure = {trait.force for trait in each.traits}
        assert each.level == ("easy" if "decisive" in sure else "harder" if "typical" in sure else "open")
        if each.kind == "which":
            assert each.answer in (each.one, each.other)
            first = each.traits[0]
            assert f": {first.one if each.answer == each.one else first.other}." in each.text
            assert trees.knowledge.taxa[each.answer].label in each.reason
        else:
            assert not each.answer
        assert each.lookalike in trees.knowledge.lookalikes
        checked += 1
    assert checked == 25


def test_a_group_of_several_asks_only_among_them_and_one_taxon_of_all_it_is_taken_for(trees: Snapshot) -> None:
    known = trees.knowledge
    among = practice(trees, ["acer", "fraxinus"], count=50).questions
    assert among
    assert all({"acer", "fraxinus"} & set(known.lineage(taxon)) for each in among for taxon in (each.one, each.other))
    alone = practice(trees, ["acer"], count=50).questions
    assert any("acer" not in known.lineage(taxon) for each in alone for taxon in (each.one, each.other))
    assert all("acer" in {*known.lineage(each.one), *known.lineage(each.other)} for each in alone)


def test_levels_season_and_number_are_kept_to(trees: Snapshot) -> None:
    for level in ("easy", "harder"):
        found = practice(trees, [], count=3, level=level).questions
        assert {each.level for each in found} == {level}
    known = trees.knowledge.characters
    for each in practice(trees, [], season="winter", count=10).questions:
        assert all("winter" in known[trait.character].seasons for trait in each.traits)
    for wrong in ({"season": "monsoon"}, {"level": "hard"}, {"count": 0}, {"count": 51}):
        with pytest.raises(BadQuestion):
            practice(trees, [], **wrong)


def test_practice_prints_questions_answers_sources_and_cautions(trees: Snapshot) -> None:
    known, answer = trees.knowledge, practice(trees, ["toxicodendron-radicans"], count=3)
    assert answer.questions
    for said in ("\n".join(practice_text(known, answer)), "\n".join(practice_markdown(known, answer)), practice_html(known, answer)):
        assert "Answers" in said
        assert "On record: " in said
        assert "Leave the plant be" in said
        assert "skin" in said


def test_command_and_api_answer_alike(trees: Snapshot, service: TestClient, where: list[str], tmp_path: Path, capsys: Capture) -> None:
    table = as_json(lesson(trees, MAPLES, season="winter", rows=4))
    assert main(["table", *MAPLES, "--season", "winter", "--rows", "4", "--json", *where]) == 0
    assert capsys.readouterr().out.strip().encode() == table
    assert service.get("/v1/table", params={"taxa": MAPLES, "season": "winter", "rows": 4}).content == table
    asked = as_json(practice(trees, ["acer"], season="winter", seed=5, count=2))
    assert main(["practice", "acer", "--season", "winter", "--seed", "5", "--count", "2", "--json", *where]) == 0
    assert capsys.readouterr().out.strip().encode() == asked
    assert service.get("/v1/practice", params={"group": ["acer"], "season": "winter", "seed": 5, "count": 2}).content == asked
    rows = [("sugar maple", "petiole-sap", "milky"), ("Norway maple", "petiole-sap", "milky")]
    judged = as_json(claims(trees, rows))
    body = {"claims": [dict(zip(("taxon", "character", "value"), row, strict=True)) for row in rows]}
    assert service.post("/v1/claims", json=body).content == judged
    for name, text in (("leaflet.csv", LEAFLET), ("leaflet.json", json.dumps(body))):
        (tmp_path / name).write_text(text, encoding="utf-8")
        assert main(["claims", str(tmp_path / name), "--json", *where]) == 0
        assert capsys.readouterr().out.strip().encode() == judged


def test_each_form_is_sent_as_what_it_is(service: TestClient) -> None:
    for path, parameters, forms in (
        ("/v1/table", {"taxa": MAPLES}, ("markdown", "html", "csv")),
        ("/v1/practice", {"group": ["acer"], "count": 2}, ("markdown", "html")),
    ):
        for form in forms:
            answer = service.get(path, params={**parameters, "form": form})
            assert answer.status_code == 200
            assert answer.headers["content-type"].startswith(f"text/{form}")
        is_problem(service.get(path, params={**parameters, "form": "pdf"}), 422, "bad-request")


def test_the_command_prints_claims_with_both_sides_and_ends_with_1_for_a_bad_row(where: list[str], tmp_path: Path, capsys: Capture) -> None:
    file = tmp_path / "leaflet.csv"
    file.write_text(LEAFLET, encoding="utf-8")
    assert main(["claims", str(file), *where]) == 0
    said = capsys.readouterr().out
    assert "1. Acer saccharum (sugar maple), sap of the broken leaf stalk: milky: contradicted\n    leave no room for it:" in said
    assert "write: Acer saccharum, sap of the broken leaf stalk: clear." in said
    assert "2 claims judged: 1 supported, 1 contradicted." in said
    file.write_text(LEAFLET + "suger maple,height,3 m\n", encoding="utf-8")
    assert main(["claims", str(file), *where]) == 1
    assert "3. cannot be judged (unknown-term, taxon)" in capsys.readouterr().out
    for text in ("a,b\n", 'taxon,character,value\n"x'):
        file.write_text(text, encoding="utf-8")
        assert main(["claims", str(file), *where]) == 1
        assert "fix:" in capsys.readouterr().err


def test_a_wrong_name_points_to_its_parameter(service: TestClient) -> None:
    found = is_problem(service.get("/v1/practice", params={"group": ["nothing-at-all"]}), 422, "unknown-term")
    assert found["errors"][0]["pointer"] == "/group"
    is_problem(service.post("/v1/claims", json={"claims": [{"taxon": "red maple"}]}), 422, "bad-request")


def test_a_question_rests_on_a_published_record_if_there_is_one(trees: Snapshot) -> None:
    known = trees.knowledge
    backwards = dict(reversed(known.lookalikes.items()))
    body = replace(trees.body, knowledge=replace(known, lookalikes=backwards))
    counted = 0
    for each in practice(replace(trees, load_body=lambda: body, memo={}), ["betula", "ostrya-virginiana"], count=50).questions:
        published = [record for record in known.lookalikes.values() if set(record.taxa) == {each.one, each.other} and known.sources[record.source].published]
        counted += bool(published)
        assert known.sources[known.lookalikes[each.lookalike].source].published or not published
    assert counted >= 5
