"""Reading statements back: the sheet that is drawn, the verdicts that are taken in, and what the report makes of them."""

from __future__ import annotations

import csv
import io
import json
import shutil
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from scipy.stats import binomtest

from lenticel.cli import main
from lenticel.curation import Review
from lenticel.drawing import drawn, genus_of
from lenticel.errors import BadFile, UnknownTerm
from lenticel.model import Knowledge
from lenticel.proportion import proportion
from lenticel.readback import TakenBack, take_back
from lenticel.review import Readings, reviews
from lenticel.snapshot import Snapshot
from lenticel.tables import read
from lenticel.text.review import FILLED, SHEET, said

Lines = list[dict[str, str]]

# R. G. Newcombe, "Two-sided confidence intervals for the single proportion: comparison of seven methods", Statistics in
# Medicine 17 (1998), 857-872, table I, method 3 (score, not corrected for continuity).
NEWCOMBE = ((81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718))


@pytest.mark.parametrize(("count", "of", "low", "high"), NEWCOMBE)
def test_the_interval_is_that_of_a_published_table(count: int, of: int, low: float, high: float) -> None:
    found = proportion(count, of)
    assert (round(found.low, 4), round(found.high, 4)) == (low, high)


def test_the_interval_is_that_of_scipy_for_every_count_up_to_sixty() -> None:
    cases = [(count, of) for of in range(1, 61) for count in range(of + 1)]
    for count, of in cases:
        due = binomtest(count, of).proportion_ci(0.95, method="wilson")
        found = proportion(count, of)
        assert (found.low, found.high) == pytest.approx((due.low, due.high), abs=1e-12), (count, of)
        assert found.share is not None
        assert 0 <= found.low <= found.share <= found.high <= 1
    print(f"\n{len(cases)} intervals agree with SciPy")


def test_of_nothing_read_the_share_is_unknown() -> None:
    found = proportion(0, 0)
    assert (found.share, found.low, found.high) == (None, 0.0, 1.0)


def test_a_sheet_is_the_same_for_a_seed_and_another_for_another(workshop: Snapshot) -> None:
    known = workshop.knowledge
    one, again, other = ([each.id for each in drawn(known, seed, sample=8)] for seed in (1, 1, 2))
    assert one == again != other
    assert len(set(one)) == 8
    assert set(one) < {each.id for each in drawn(known, 1, sample=12)}, "a larger sample holds the smaller one"


def test_rows_that_come_or_change_elsewhere_do_not_change_which_others_are_drawn(workshop: Snapshot) -> None:
    known = workshop.knowledge
    before = {each.id for each in drawn(known, 3, sample=10)}
    left_out = next(key for key in known.statements if key not in before)
    after = {each.id for each in drawn(replace(known, statements={key: each for key, each in known.statements.items() if key != left_out}), 3, sample=10)}
    assert before == after


def test_what_somebody_read_as_it_stands_is_not_drawn_again(workshop: Snapshot) -> None:
    known = workshop.knowledge
    assert len(known.verdicts) == 2
    assert {each.id for each in drawn(known, 1, sample=1000)} == known.statements.keys() - known.verdicts.keys()


def test_a_sample_is_drawn_evenly(workshop: Snapshot) -> None:
    """Each statement comes about as often over many seeds: 600 samples of 12 of 46, so 156.5 times each, give or take four standard deviations of 10.8."""
    counts = Counter(each.id for seed in range(600) for each in drawn(workshop.knowledge, seed, sample=12))
    assert len(counts) == 46
    assert max(abs(count - 600 * 12 / 46) for count in counts.values()) < 4 * (600 * 12 / 46 * 34 / 46) ** 0.5


def test_a_sample_can_be_drawn_of_each_genus_or_of_one_or_of_a_source(workshop: Snapshot) -> None:
    known = workshop.knowledge
    each = Counter(genus_of(known, statement.taxon) for statement in drawn(known, 1, each_genus=3))
    assert each == {"screw": 3, "nail": 3, "rivet": 3}
    assert {genus_of(known, statement.taxon) for statement in drawn(known, 1, sample=9, genus="nail")} == {"nail"}
    assert {statement.source for statement in drawn(known, 1, sample=9, source="shop-ledger")} == {"shop-ledger"}
    for word in ({"genus": "screws"}, {"source": "shop-leger"}):
        with pytest.raises(UnknownTerm, match="Did you mean"):
            drawn(known, 1, sample=9, **word)


def test_a_statement_is_said_in_words(workshop: Snapshot) -> None:
    known = workshop.knowledge
    assert said(known, known.statements["wood-screw.head.drawer-labels.usually"]) == "Wood screw, head: usually flat"
    assert said(known, known.statements["screw.drive.drawer-labels"]) == "Screw, drive: slot or cross or hex; other things too"


@pytest.fixture
def folder(workshop_tables: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(workshop_tables, tmp_path / "tables"))


@pytest.fixture
def lines(folder: Path, capsys: pytest.CaptureFixture[str]) -> Lines:
    """A printed sheet of six, filled in as right by one reader."""
    assert main(["review", "sheet", "--sample", "6", "--seed", "5", "--knowledge", str(folder)]) == 0
    found = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert [len(found), list(found[0])] == [6, list(SHEET)]
    assert not any(line[name] for line in found for name in FILLED)
    return [line | {"verdict": "right", "by": "A reader", "date": "2026-12-01"} for line in found]


def taken(folder: Path, lines: Lines, mark: str = ",") -> TakenBack:
    text = io.StringIO()
    rows = csv.DictWriter(text, SHEET, delimiter=mark)
    rows.writeheader()
    rows.writerows(lines)
    sheet = folder.parent / "sheet.csv"
    sheet.write_text(text.getvalue(), encoding="utf-8-sig", newline="")
    return take_back(folder, sheet)


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_a_filled_sheet_is_taken_whole_and_taking_it_again_changes_nothing(folder: Path, lines: Lines, mark: str) -> None:
    found = taken(folder, lines, mark)
    assert (len(found.taken), found.already, found.blank, found.faults) == (6, 0, 0, ())
    written = (folder / "reviews.csv").read_bytes()
    known = read(folder).knowledge
    assert {line["statement"] for line in lines} <= known.verdicts.keys()
    again = taken(folder, lines, mark)
    assert (again.taken, again.already) == ((), 6)
    assert (folder / "reviews.csv").read_bytes() == written


def test_the_first_review_of_all_makes_the_table(folder: Path, lines: Lines) -> None:
    (folder / "reviews.csv").unlink()
    assert len(taken(folder, lines).taken) == 6
    assert len(read(folder).knowledge.reviews) == 6


SPOILT: dict[str, tuple[Callable[[dict[str, str]], dict[str, str]], str, str]] = {
    "a verdict of another sort": (lambda line: line | {"verdict": "correct"}, "verdict", "choice"),
    "no verdict but a note": (lambda line: line | {"verdict": "", "note": "Not there."}, "verdict", "required"),
    "nothing that says why": (lambda line: line | {"verdict": "wrong"}, "note", "verdict-reason"),
    "no reader": (lambda line: line | {"by": ""}, "by", "required"),
    "no day": (lambda line: line | {"date": ""}, "date", "required"),
    "a day of no calendar": (lambda line: line | {"date": "2026-02-30"}, "date", "date"),
    "a wording cut off": (lambda line: line | {"wording": line["wording"][:-1]}, "wording", "wording"),
    "a statement that is not there": (lambda line: line | {"statement": line["statement"] + ".never"}, "statement", "unknown-term"),
    "a statement that is none": (lambda line: line | {"statement": "nail"}, "statement", "id-form"),
}


@pytest.mark.parametrize("name", SPOILT)
def test_a_bad_line_is_told_with_its_place_and_the_others_are_taken(folder: Path, lines: Lines, name: str) -> None:
    spoil, column, rule = SPOILT[name]
    found = taken(folder, [*lines[:2], spoil(lines[2]), *lines[3:]])
    assert (4, column, rule) in [(each.row, each.column, each.rule) for each in found.faults]
    assert {each.row for each in found.faults} == {4}
    assert len(found.taken) == 5
    mended = taken(folder, lines)
    assert ([each.statement for each in mended.taken], mended.already, mended.faults) == ([lines[2]["statement"]], 5, ())


def test_every_bad_line_is_told_at_once(folder: Path, lines: Lines) -> None:
    spoilt = [spoil(lines[0]) for spoil, _, _ in SPOILT.values()]
    found = taken(folder, spoilt)
    assert {each.row for each in found.faults} == set(range(2, len(SPOILT) + 2))
    assert found.taken == ()


def test_two_verdicts_of_one_reader_on_one_day_are_told_not_overwritten(folder: Path, lines: Lines) -> None:
    taken(folder, lines)
    found = taken(folder, [lines[0] | {"verdict": "wrong", "note": "On second thought."}, *lines[1:]])
    assert [(each.row, each.rule) for each in found.faults] == [(2, "duplicate")]
    assert read(folder).knowledge.verdicts[lines[0]["statement"]].verdict == "right"


def test_lines_left_blank_are_left_for_later_and_a_name_and_day_can_be_given_for_all(folder: Path, lines: Lines, capsys: pytest.CaptureFixture[str]) -> None:
    blank = dict.fromkeys(FILLED, "")
    sheet = folder.parent / "sheet.csv"
    taken(folder, [lines[0] | blank, *(line | {"by": "", "date": ""} for line in lines[1:])])
    assert main(["review", "take", str(sheet), "--knowledge", str(folder), "--by", "A reader", "--date", "2026-12-02"]) == 0
    assert "5 verdicts taken, 0 there already, 1 lines left blank, 0 faults." in capsys.readouterr().err
    assert main(["review", "take", str(sheet), "--knowledge", str(folder)]) == 1


def test_a_verdict_on_a_statement_that_changed_meanwhile_is_kept_for_what_was_read(folder: Path, lines: Lines) -> None:
    path = folder / "statements.csv"
    key = lines[0]["statement"]
    known = read(folder).knowledge
    statement = known.statements[key]
    text = path.read_text(encoding="utf-8")
    row = read(folder).origins["statements", key].number
    rows = text.splitlines()
    rows[row - 1] = rows[row - 1].replace("invented", "read anew, invented", 1)
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    found = taken(folder, lines)
    assert found.outdated == (key,)
    after = read(folder).knowledge
    assert key not in after.verdicts
    assert statement.wording in {each.wording for each in after.reviews.values() if each.statement == key}


def test_a_verdict_on_a_statement_that_went_meanwhile_is_told_and_taken_when_asked_for(folder: Path, lines: Lines) -> None:
    line = lines[0] | {"statement": "wood-screw.drawer.old-book", "verdict": "wrong", "note": "Not there."}
    found = taken(folder, [line, *lines[1:]])
    assert [(each.row, each.rule, "--gone" in each.fix) for each in found.faults] == [(2, "unknown-term", True)]
    again = take_back(folder, folder.parent / "sheet.csv", gone=True)
    assert (len(again.taken), again.already, again.outdated, again.faults) == (1, 5, ("wood-screw.drawer.old-book",), ())
    assert "wood-screw.drawer.old-book" in {each.statement for each in read(folder).knowledge.reviews.values()}


@pytest.mark.parametrize("content", [b"", b"statement,verdict\n", b"\xff\xfe", b'statement,wording,verdict\n"a'])
def test_a_file_that_is_no_sheet_is_refused(folder: Path, content: bytes) -> None:
    (folder.parent / "sheet.csv").write_bytes(content)
    with pytest.raises(BadFile):
        take_back(folder, folder.parent / "sheet.csv")
    with pytest.raises(BadFile):
        take_back(folder, folder.parent / "no-sheet.csv")


def with_reviews(snapshot: Snapshot, *rows: tuple[str, str, str, str]) -> Snapshot:
    """The snapshot with other reviews: (statement, wording or "" for the present one, verdict, day)."""
    known = snapshot.knowledge
    made = [Review(key, wording or known.statements[key].wording, verdict, "", "invented", "a reader", day) for key, wording, verdict, day in rows]
    body = replace(snapshot.body, knowledge=replace(known, reviews={each.id: each for each in made}))
    return replace(snapshot, load_body=lambda: body)


def keyed(found: tuple[Readings, ...]) -> dict[str, Readings]:
    return {each.key: each for each in found}


HEAD, PITCH, NAIL, GONE = "wood-screw.head.drawer-labels.usually", "wood-screw.pitch.drawer-labels", "nail.thread.shop-ledger.usually", "bolt.head.old-book"
OLD = "w-0123456789ab"


def test_errors_are_counted_by_genus_and_by_source(workshop: Snapshot) -> None:
    found = reviews(with_reviews(workshop, (HEAD, "", "wrong", "2026-01-01"), (PITCH, "", "right", "2026-01-01"), (NAIL, "", "unclear", "2026-01-01")))
    assert (found.total.errors, found.total.unclear, found.total.read) == (proportion(1, 2), 1, 3)
    assert found.total.unread == found.total.statements - 3 == 45
    genera, sources = keyed(found.genera), keyed(found.sources)
    assert (genera["screw"].errors, genera["nail"].errors, genera["nail"].unclear) == (proportion(1, 2), proportion(0, 0), 1)
    assert (sources["drawer-labels"].errors, sources["shop-ledger"].errors) == (proportion(1, 2), proportion(0, 0))
    assert sum(each.statements for each in found.genera) == sum(each.statements for each in found.sources) == found.total.statements
    assert [each.statement for each in found.amiss] == [NAIL, HEAD]


def test_a_statement_counts_as_it_was_first_read_though_it_was_mended_since(workshop: Snapshot) -> None:
    found = reviews(with_reviews(workshop, (HEAD, OLD, "wrong", "2026-01-01"), (HEAD, "", "right", "2026-01-02")))
    assert (found.total.errors, found.total.read, found.amiss) == (proportion(1, 1), 1, ())
    assert [each.wording for each in found.outdated] == [OLD]


def test_a_statement_that_was_mended_and_read_again_on_the_same_day_was_wrong(workshop: Snapshot) -> None:
    found = reviews(with_reviews(workshop, (HEAD, "", "right", "2026-01-01"), (HEAD, OLD, "wrong", "2026-01-01")))
    assert (found.total.errors, found.total.read) == (proportion(1, 1), 1)


def test_of_the_first_wording_the_last_verdict_counts(workshop: Snapshot) -> None:
    found = reviews(with_reviews(workshop, (HEAD, "", "wrong", "2026-01-01"), (HEAD, "", "right", "2026-01-02")))
    assert (found.total.errors, found.amiss, found.outdated) == (proportion(0, 1), (), ())


def test_what_was_read_of_a_taxon_and_a_source_that_are_gone_still_counts(workshop: Snapshot) -> None:
    found = reviews(with_reviews(workshop, (GONE, OLD, "wrong", "2026-01-01")))
    assert keyed(found.genera)["bolt"].errors == keyed(found.sources)["old-book"].errors == proportion(1, 1)
    assert (keyed(found.genera)["bolt"].statements, len(found.outdated)) == (0, 1)


def test_the_command_and_the_service_give_the_same_report(workshop: Snapshot, workshop_tables: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from lenticel.api import create_app

    told = TestClient(create_app(workshop)).get("/v1/reviews").json()
    assert main(["review", "report", "--knowledge", str(workshop_tables), "--format", "json"]) == 0
    assert json.loads(capsys.readouterr().out) == told
    assert told["total"]["errors"]["of"] == 3
    assert main(["review", "report", "--knowledge", str(workshop_tables)]) == 0
    assert "66.7% (20.8% to 93.9%)" in capsys.readouterr().out


def test_a_sheet_to_print_names_each_statement_with_its_source_and_room_for_the_verdict(workshop_tables: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["review", "sheet", "--each-genus", "2", "--knowledge", str(workshop_tables), "--format", "markdown"]) == 0
    out = capsys.readouterr().out
    assert out.count("verdict: ____") == 6
    assert out.count("(invented). label, invented") == 6


def test_one_statement_of_each_real_genus_can_be_drawn(trees: Snapshot) -> None:
    known: Knowledge = trees.knowledge
    unread = {genus_of(known, each.taxon) for each in known.statements.values() if each.id not in known.verdicts}
    chosen = [genus_of(known, each.taxon) for each in drawn(known, 1, each_genus=1)]
    assert (sorted(chosen), len(chosen) > 30) == (sorted(unread), True)
