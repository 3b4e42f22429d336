"""Mending: what is mechanical is mended for good, what sound tables mean is never changed, and the rest is left to people."""

from __future__ import annotations

import csv
import random
import re
import shutil
from collections import Counter
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lenticel.build import check
from lenticel.cli import main
from lenticel.errors import BadQuantity
from lenticel.mend import mend, mended
from lenticel.model import Knowledge
from lenticel.quantity import PrintedRange, parse_printed
from lenticel.ranges import in_unit, styled
from lenticel.snapshot import Snapshot
from lenticel.spelling import Words, one_slip
from tests.conftest import ROOT
from tests.test_broken_tables import FIXTURE, PLANTED, SOUND, Planted, Tables, files

with PLANTED.open(encoding="utf-8", newline="") as lines:
    MECHANICAL = {each["name"] for each in csv.DictReader(lines) if each["mends"] == "yes"}


def contents(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*.csv")}


@pytest.mark.parametrize("planted", FIXTURE, ids=lambda planted: planted.name)
def test_what_is_mechanical_is_mended_once_and_for_all_and_the_rest_is_still_reported(planted: Planted, tmp_path: Path) -> None:
    tables = Tables()
    planted.plant(tables)
    places = [(each.file, each.row, each.column) for _, mends in mended(tables.write(tmp_path)) for each in mends]
    mend(tmp_path)
    faults, _ = check(tmp_path)
    assert (faults == []) == (planted.name in MECHANICAL), faults[:3]
    if planted.name in MECHANICAL:
        assert (planted.file, planted.row, planted.column) in places
    before = contents(tmp_path)
    assert mend(tmp_path) == []
    assert contents(tmp_path) == before


def test_what_was_mended_is_told_by_the_row_where_it_stands_now(tmp_path: Path) -> None:
    tables = Tables()
    header, *rows = tables.rows["statements.csv"]
    styled_row = next(place for place, row in enumerate(rows) if "mm" in row[2])
    rows[styled_row][2] = f" {rows[styled_row][2]}"
    last = [*rows[0]]
    tables.rows["statements.csv"] = [header, *reversed(rows), [last[0].upper(), *last[1:]]]  # against the order, and one row twice in other letters
    mends = mend(tables.write(tmp_path))
    with (tmp_path / "statements.csv").open(encoding="utf-8", newline="") as file:
        written = list(csv.reader(file))
    cells = {(each.row, each.column): each.now for each in mends if each.column}
    assert cells
    for (row, column), now in cells.items():
        assert written[row - 1][header.index(column)] == now
    taken_out = [each.row for each in mends if each.what == "took out another row that says the same"]
    assert [written[row - 1] for row in taken_out] == [last]


FILES = ["a header in capitals", "semicolons", "tabs", "a blank line before the header", "UTF-16"]


@pytest.mark.parametrize("planted", [each for each in files() if each.name.startswith(tuple(FILES))], ids=lambda planted: planted.name)
def test_a_file_that_can_be_read_without_guessing_is_written_as_it_should_be(planted: Planted, tmp_path: Path) -> None:
    tables = Tables()
    planted.plant(tables)
    assert any(each.file == planted.file and each.row == 1 for each in mend(tables.write(tmp_path)))
    assert check(tmp_path)[0] == []


def test_a_sheet_saved_as_unicode_text_is_written_as_it_should_be_and_one_cut_short_is_left_as_it_is(tmp_path: Path) -> None:
    """Spreadsheets call UTF-16 with tabs so."""
    tables = Tables()
    text = "".join("\t".join(row) + "\r\n" for row in tables.rows["names.csv"])
    tables.raw["names.csv"] = f"\ufeff{text}".encode("utf-16-le")
    mends = [each for each in mend(tables.write(tmp_path)) if each.file == "names.csv"]
    assert [each.what for each in mends] == ["wrote the encoding, which was UTF-16, as it should be", "wrote what parts the cells as it should be"]
    assert (tmp_path / "names.csv").read_bytes() == Tables().bytes("names.csv")
    tables.raw["names.csv"] = tables.raw["names.csv"][:-1]
    mend(tables.write(tmp_path))
    assert (tmp_path / "names.csv").read_bytes() == tables.raw["names.csv"]
    assert [each.fix for each in check(tmp_path)[0]] == ['Save it anew where it was made, as "CSV UTF-8".']


def test_what_to_do_with_a_file_in_latin_1_names_a_word_to_see_that_it_is(tmp_path: Path) -> None:
    tables = Tables()
    tables.set("sources.csv", 3, "title", "Ladenb\u00fccher, invented")
    sound = tables.bytes("sources.csv")
    tables.raw["sources.csv"] = sound.decode().encode("latin-1")
    mend(tables.write(tmp_path))
    assert (tmp_path / "sources.csv").read_bytes() == tables.raw["sources.csv"]
    fault = next(each for each in check(tmp_path)[0] if each.rule == "encoding")
    assert fault.message == "The file is not UTF-8: line 3 holds 'Ladenb\u00fccher', if it is in Windows-1252 (Latin-1)."
    assert fault.fix == "Import it as Windows-1252; if 'Ladenb\u00fccher' then reads as it should, save it as \"CSV UTF-8\" under the same name."
    (tmp_path / "sources.csv").write_bytes(tables.raw["sources.csv"].decode("windows-1252").encode())
    assert check(tmp_path)[0] == []


@pytest.mark.parametrize("value", ["1,5-3 mm", "(1-)1,5-3,0(-4) mm", "1,5 mm"])
def test_a_row_that_a_decimal_comma_split_is_told_as_it_should_be(value: str, tmp_path: Path) -> None:
    tables = Tables()
    lines = tables.bytes("statements.csv").decode().splitlines()
    row = lines[23].replace("(1-)1.5-3(-4) mm", value)
    assert row != lines[23]
    tables.raw["statements.csv"] = "\n".join([*lines[:23], row, *lines[24:], ""]).encode()
    (fault,) = check(tables.write(tmp_path))[0]
    assert (fault.row, fault.rule) == (24, "fields")
    meant = fault.fix.removeprefix("If a decimal comma split it, write the row as: ")
    assert meant == row.replace(value, value.replace(",", "."))
    tables.raw["statements.csv"] = "\n".join([*lines[:23], meant, *lines[24:], ""]).encode()
    assert check(tables.write(tmp_path))[0] == []


@pytest.mark.parametrize("cells", ["wood-screw,pitch,1,500 mm,,,drawer-labels,p. 1,,", "wood-screw,head,flat,round,,,drawer-labels,p. 1,,", "x,y,1,5"])
def test_another_comma_too_many_is_not_taken_for_a_decimal_one(cells: str, tmp_path: Path) -> None:
    tables = Tables()
    tables.raw["statements.csv"] = tables.bytes("statements.csv") + f"{cells}\n".encode()
    (fault,) = check(tables.write(tmp_path))[0]
    assert (fault.rule, fault.fix) == ("fields", "Quote cells that hold a comma; leave no cell out.")


def test_columns_in_another_order_are_put_in_theirs(tmp_path: Path) -> None:
    tables = Tables()
    tables.rows["names.csv"] = [row[::-1] for row in tables.rows["names.csv"]]
    assert [each.what for each in mend(tables.write(tmp_path)) if each.file == "names.csv"] == ["wrote the header as it should be"]
    assert (tmp_path / "names.csv").read_bytes() == Tables().bytes("names.csv")


def test_at_least_forty_of_the_planted_faults_are_mechanical() -> None:
    assert len(MECHANICAL) >= 40
    assert {each.name for each in FIXTURE} >= MECHANICAL
    print(f"\n{len(MECHANICAL)} of {len(FIXTURE)} planted faults are mended by the check itself")


QUOTED = r"'((?:[^'\\]|\\.)*)'"


def follow(cell: str, message: str, fix: str) -> str | None:
    """The cell of one who takes the first way out that the fix spells out; None if it spells none out."""
    offered = re.search(rf"Did you mean {QUOTED}", fix) or re.search(r"Use one of: ([^,.]+)", fix) or re.search(rf"Write {QUOTED}", fix)
    wrong = re.match(QUOTED, message)
    if offered:
        return cell.replace(wrong[1], offered[1]) if wrong and wrong[1] and wrong[1] in cell else offered[1]
    if "Leave it empty" in fix:
        return ""
    if "Write yes or no" in fix:
        return "yes"
    given = re.search(r"(?:such as|like|as|Write) '?(\d[\d.%-]*(?: [a-z]+)?)", fix)
    return given[1].rstrip(".") if given else None


def test_a_fix_that_spells_out_what_to_write_works_when_followed(tmp_path: Path) -> None:
    """Of the planted cells, each whose fix names the words to write: with them the fault at this cell is gone."""
    followed, unmet = Counter[str](), []
    for number, planted in enumerate(FIXTURE):
        tables = Tables()
        planted.plant(tables)
        folder = tmp_path / str(number)
        folder.mkdir()
        place = (planted.file, planted.row, planted.column, planted.rule)
        fault = next(each for each in check(tables.write(folder))[0] if (each.file, each.row, each.column, each.rule) == place)
        column = tables.rows[planted.file][0].index(planted.column)
        cell = follow(tables.rows[planted.file][planted.row - 1][column], fault.message, fault.fix)
        if cell is None:
            continue
        tables.set(planted.file, planted.row, planted.column, cell)
        after = check(tables.write(folder))[0]
        followed[planted.rule] += 1
        if fault in after:
            unmet.append((planted.name, cell))
    assert unmet == []
    assert followed.total() >= 50
    print(f"\n{followed.total()} fixes followed to the letter, of {len(followed)} rules: {dict(followed)}")


def meaning(knowledge: Knowledge) -> tuple[object, ...]:
    """All that tables say, but for the way in which ranges are printed and the order of the statements."""
    known = knowledge.statements.values()
    return (
        replace(knowledge, statements={}),
        {each.id: replace(each, value=figures(knowledge, each.character, each.value), printed="") for each in known},
    )


def figures(knowledge: Knowledge, character: str, value: str) -> str:
    unit = knowledge.characters[character].unit
    return value if knowledge.characters[character].kind == "states" else repr(parse_printed(value, unit))


@pytest.mark.parametrize("name", SOUND)
def test_sound_tables_mean_the_same_after_mending(name: str, tmp_path: Path) -> None:
    tables = Tables()
    SOUND[name](tables)
    _, before = check(tables.write(tmp_path))
    mend(tmp_path)
    assert same(before, check(tmp_path)[1])


def same(before: Snapshot | None, after: Snapshot | None) -> bool:
    assert before is not None
    assert after is not None
    assert meaning(before.knowledge) == meaning(after.knowledge)
    return all(getattr(before.body, part) == getattr(after.body, part) for part in ("partitions", "cells", "bindings")) and all(
        np.array_equal(getattr(before, part), getattr(after, part)) for part in ("hard", "typical", "known", "ranges", "terminal")
    )


def disturbed(rnd: random.Random, folder: Path) -> int:
    """Write sound values in other styles and units, and the statements in another order; how many cells were restyled."""
    count = 0
    with (ROOT / "ontology" / "characters.csv").open(encoding="utf-8", newline="") as lines:
        kinds = {each["id"]: each for each in csv.DictReader(lines)}
    for path in sorted((folder / "statements").glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as lines:
            header, *rows = csv.reader(lines)
        rnd.shuffle(rows)
        for row in rows:
            if kinds[row[1]]["kind"] == "measure" and rnd.random() < 0.5:
                row[2] = rnd.choice([row[2].replace("-", "–"), row[2].replace(" ", "  "), converted(row[2], kinds[row[1]]["unit"])])
                count += 1
        with path.open("w", encoding="utf-8", newline="") as lines:
            csv.writer(lines, quoting=rnd.choice([csv.QUOTE_ALL, csv.QUOTE_MINIMAL]), lineterminator=rnd.choice(["\n", "\r\n"])).writerows([header, *rows])
    return count


def converted(text: str, unit: str) -> str:
    return in_unit(text, {"cm": "mm", "mm": "cm", "m": "cm"}.get(unit, unit))


STATEMENTS = ROOT / "ontology" / "statements"


def subjects(path: Path) -> list[list[str]]:
    """Taxon and character of each row of a file of statements, in their order."""
    with path.open(encoding="utf-8", newline="") as lines:
        return [row[:2] for row in csv.reader(lines)]


def test_the_real_tables_in_other_styles_units_and_orders_mean_the_same_after_mending(trees: Snapshot, tmp_path: Path) -> None:
    folder = tmp_path / "ontology"
    shutil.copytree(ROOT / "ontology", folder)
    count = disturbed(random.Random(1), folder)
    mends = mend(folder)
    faults, after = check(folder)
    assert faults == []
    assert same(trees, after)
    assert {path.name: subjects(path) for path in (folder / "statements").iterdir()} == {path.name: subjects(path) for path in STATEMENTS.iterdir()}
    assert count > 500
    assert sum(each.column == "value" for each in mends) > 300
    assert mend(folder) == []
    print(f"\n{count} values restyled in all files, {len(mends)} things mended, nothing changed in meaning")


def test_nothing_is_mended_in_the_real_tables(tmp_path: Path) -> None:
    shutil.copytree(ROOT / "ontology", tmp_path / "ontology")
    assert mend(tmp_path / "ontology") == []


def test_an_identifier_that_two_rows_claim_is_put_in_no_cell(tmp_path: Path) -> None:
    tables = Tables()
    tables.set("taxa.csv", 11, "id", "nail")
    before = [row[0] for row in tables.rows["statements.csv"]]
    mend(tables.write(tmp_path))
    with (tmp_path / "statements.csv").open(encoding="utf-8", newline="") as lines:
        assert sorted(row[0] for row in csv.reader(lines)) == sorted(before)


def test_the_printed_figure_is_kept_where_a_range_is_converted(tmp_path: Path) -> None:
    tables = Tables()
    tables.set("statements.csv", 29, "value", "1–2 in.")
    mend(tables.write(tmp_path))
    with (tmp_path / "statements.csv").open(encoding="utf-8", newline="") as lines:
        changed = [row for row in csv.DictReader(lines) if row["printed"] == "1–2 in."]
    assert [row["value"] for row in changed] == ["25-51 mm"]


def test_what_is_printed_in_another_unit_is_a_fault_until_it_is_mended(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    tables = Tables()
    for row, text in ((24, "1/16 in"), (29, "3 in."), (30, "3 in")):
        tables.set("statements.csv", row, "value", text)
    folder = str(tables.write(tmp_path))
    assert main(["check", "--knowledge", folder]) == 1
    out = capsys.readouterr().out
    assert [line.split(" ")[2] for line in out.splitlines()] == ["[other-unit]", "[bad-range]", "[other-unit]"]
    assert out.count("Write '76 mm'; `lenticel check --fix` does") == 2
    assert main(["check", "--fix", "--knowledge", folder]) == 0
    out = capsys.readouterr().out
    assert "value: converted to the unit of the character: '3 in' is now '76 mm'.\n" in out
    assert "printed: kept the figure as printed: '' is now '3 in.'.\n" in out
    assert "8 changes made." in out


def test_a_figure_that_is_converted_is_kept_beside_the_words_that_are_quoted_already(tmp_path: Path) -> None:
    tables = Tables()
    for row, printed in ((29, "as long as broad"), (30, "three (3) inches")):
        tables.set("statements.csv", row, "value", "3 in.")
        tables.set("statements.csv", row, "printed", printed)
    folder = tables.write(tmp_path)
    assert main(["check", "--fix", "--knowledge", str(folder)]) == 0
    text = (folder / "statements.csv").read_text()
    assert "as long as broad; 3 in." in text
    assert "three (3) inches" in text
    assert "three (3) inches;" not in text


def test_the_check_names_the_state_that_a_word_means_before_one_that_is_merely_spelled_like_it(tmp_path: Path) -> None:
    tables = Tables()
    tables.add("states.csv", character="head", id="domed", label="domed", synonyms="panned", definition="Invented.")
    tables.set("statements.csv", 2, "value", "panned")
    tables.set("statements.csv", 2, "character", "head")
    faults, _ = check(tables.write(tmp_path))
    assert [each.fix for each in faults if each.rule == "unknown-state"] == ["Write 'domed'; `lenticel check --fix` does."]


def test_another_word_for_a_state_is_kept_as_printed_but_no_slip_or_style_is(tmp_path: Path) -> None:
    for value, printed in (("Round-head", "Round-head"), ("Round", ""), ("rouund", "")):
        tables = Tables()
        tables.set("states.csv", state_row("head", "round"), "synonyms", "round-head")
        tables.set("statements.csv", 10, "value", value)
        mend(tables.write(tmp_path / (printed or value)))
        with (tmp_path / (printed or value) / "statements.csv").open(encoding="utf-8", newline="") as file:
            rows = [each for each in csv.DictReader(file) if each["taxon"] == "wood-screw" and each["character"] == "head" and each["value"] == "round"]
        assert [each["printed"] for each in rows] == [printed]


def state_row(character: str, state: str) -> int:
    """Where a state stands in the table of the workshop, row 1 being the header."""
    return next(number for number, row in enumerate(Tables().rows["states.csv"], 1) if row[:2] == [character, state])


@pytest.mark.parametrize(
    ("value", "fix"),
    [
        ("flat and roundish", "Did you mean 'flat|round'?"),
        ("not flat", "If the page denies a state, write that state"),
        ("flat, rarely round", "Write a row for each, with 'rarely' and the like in `frequency`"),
    ],
)
def test_the_check_finds_known_states_within_the_words_of_a_page(value: str, fix: str, tmp_path: Path) -> None:
    tables = Tables()
    tables.set("statements.csv", 10, "value", value)
    faults, _ = check(tables.write(tmp_path))
    assert [each.fix[: len(fix)] for each in faults] == [fix]


@pytest.mark.parametrize("text", ["05-Apr", "Apr-05", "4/5/2026", "5-Apr-2026", "2026-04-05", "05.04.2026"])
def test_a_date_that_was_a_range_is_left_to_people_since_nobody_can_tell_which(text: str) -> None:
    for unit in ("mo", "1", "mm"):
        assert styled(text, unit) == text


def test_months_by_name_are_no_dates() -> None:
    assert [styled(text, "mo") for text in ("May", "April-May", "Sept. to Oct.")] == ["5", "4-5", "9-10"]


def test_a_file_that_cannot_be_read_is_told_once(tmp_path: Path) -> None:
    tables = Tables()
    tables.raw["statements.csv"] = tables.bytes("statements.csv").decode().encode("utf-16")
    faults, _ = check(tables.write(tmp_path))
    assert [(each.file, each.rule) for each in faults if each.file in ("statements.csv", "recorded.csv")] == [("statements.csv", "encoding")]


def test_a_range_that_says_how_often_is_to_become_several_rows(tmp_path: Path) -> None:
    tables = Tables()
    tables.set("statements.csv", 27, "value", "usually 5-7, sometimes 9")
    faults, _ = check(tables.write(tmp_path))
    assert [each.fix[:50] for each in faults] == ["Write a row for each, with 'usually' and the like "]


def test_a_word_in_another_spelling_is_mended(tmp_path: Path) -> None:
    tables = Tables()
    tables.add("states.csv", character="finish", id="grey", label="grey", definition="Invented.")
    tables.add("states.csv", character="finish", id="dark-grey", label="dark grey", definition="Invented.")
    tables.repeat("statements.csv", 40, taxon="rivet", character="finish", value="gray|Dark Gray")
    mends = mend(tables.write(tmp_path))
    assert [(each.was, each.now) for each in mends if each.what == "named the known term"] == [("gray|Dark Gray", "grey|dark-grey")]
    assert check(tmp_path)[0] == []


@pytest.mark.parametrize(
    ("text", "unit", "expected"),
    [
        ("[3–] 5 – 12cm", "cm", "(3-)5-12 cm"),
        ("5 to 7", "1", "5-7"),
        ("up to 30 m", "m", "<=30 m"),
        ("≤ 30 m", "m", "<=30 m"),
        ("3-4 in.", "cm", "3-4 in"),
        ("April – June", "mo", "4-6"),
        ("Nov.-Feb.", "mo", "11-2"),
        ("12-5 cm", "cm", "12-5 cm"),
        ("1-3/4-2-1/2 in", "cm", "1 3/4-2 1/2 in"),
        ("1/2-3/4 in", "cm", "1/2-3/4 in"),
        ("1-5/4 in", "cm", "1-5/4 in"),
        ("about 5", "cm", "about 5"),
        ("5 [cm", "cm", "5 [cm"),
    ],
)
def test_a_range_takes_the_style_of_the_tables_or_stays(text: str, unit: str, expected: str) -> None:
    assert styled(text, unit) == expected


@pytest.mark.parametrize(
    ("text", "unit", "expected"),
    [
        ("3 in", "mm", "76 mm"),
        ("3-5 in", "cm", "7.6-13 cm"),
        ("1/2 in", "mm", "13 mm"),
        ("1/3 in", "cm", "0.85 cm"),
        ("1 1/2-2 in", "cm", "3.8-5.1 cm"),
        ("50-75 ft", "m", "15-23 m"),
        ("105 ft", "m", "32 m"),
        ("3.25 in", "cm", "8.26 cm"),
        ("<=100 ft", "m", "<=30 m"),
        ("(2-)3-5(-6.5) in", "cm", "(5.1-)7.6-13(-17) cm"),
        ("9.8-9.9 in", "cm", "24.9-25.1 cm"),
        ("12.35 mm", "cm", "1.235 cm"),
        ("0 in", "mm", "0 mm"),
        ("5 kg", "cm", "5 kg"),
        ("about 3 in", "cm", "about 3 in"),
    ],
)
def test_a_converted_figure_has_as_many_digits_as_the_printed_one_and_two_at_least(text: str, unit: str, expected: str) -> None:
    assert in_unit(text, unit) == expected


BOUNDS = st.lists(st.decimals(0, 9999, places=2), min_size=1, max_size=4).map(sorted)


@given(BOUNDS, st.sampled_from(["-", "–", " - ", " to "]), st.sampled_from(["()", "[]"]), st.sampled_from(["mm", "cm", "m", "in", "ft", ""]), st.booleans())
def test_style_and_unit_never_change_what_a_range_allows(bounds: list[Decimal], dash: str, brackets: str, unit: str, blank: bool) -> None:
    low, high = brackets
    core = dash.join(map(str, bounds[-3:][:2])) if len(bounds) > 1 else str(bounds[0])
    text = (f"{low}{bounds[0]}-{high}" if len(bounds) > 3 else "") + core + (f"{low}-{bounds[-1]}{high}" if len(bounds) > 2 else "") + " " * blank + unit
    new = styled(text, "cm")
    meant = parse_printed(new, "cm")
    assert_near(parse_printed(in_unit(new, "cm"), "cm"), meant, exact=unit not in ("in", "ft"))
    assert styled(new, "cm") == new
    assert in_unit(in_unit(new, "cm"), "cm") == in_unit(new, "cm")
    try:
        assert parse_printed(text, "cm") == meant
    except BadQuantity:  # the style was none that can be read
        assert set(text) & set("[]to ")


def assert_near(one: PrintedRange, other: PrintedRange, *, exact: bool) -> None:
    """Metric figures are the same after conversion; those of inches and feet differ by half of their second digit at most, none falls onto its neighbour."""
    if exact:
        assert one == other
    assert (one.lone, one.extreme_lo is None, one.extreme_hi is None) == (other.lone, other.extreme_lo is None, other.extreme_hi is None)
    for a, b in zip((one.extreme_lo, one.lo, one.hi, one.extreme_hi), (other.extreme_lo, other.lo, other.hi, other.extreme_hi), strict=True):
        assert a is None or b is None or abs(a - b) * 20 <= b


def test_a_word_is_replaced_only_where_it_surely_means_one_term() -> None:
    words = Words({"serrate": ["toothed"], "crenate": ["round-toothed"], "symmetrical": [], "oak-1913": [], "lobed": [], "lobes": []})
    meant = {
        "Serrate": "serrate", "toothed": "serrate", "serate": "serrate", "serratte": "serrate", "seratte": "seratte", "serarte": "serrate",
        "Round toothed": "crenate", "asymmetrical": "asymmetrical", "oak-1918": "oak-1918", "lobe": "lobe", "lobedd": "lobed", "lobec": "lobec",
    }  # fmt: skip
    assert {word: words.meant(word) for word in meant} == meant


@given(st.text("abc", max_size=5), st.text("abc", max_size=5))
def test_one_slip_apart_is_at_a_distance_of_one(one: str, other: str) -> None:
    near = {one[:i] + one[i + 1 :] for i in range(len(one))}
    near |= {one[:i] + sign + one[i:] for i in range(len(one) + 1) for sign in "abc"}
    near |= {one[:i] + sign + one[i + 1 :] for i in range(len(one)) for sign in "abc"}
    near |= {one[:i] + one[i + 1] + one[i] + one[i + 2 :] for i in range(len(one) - 1)}
    assert one_slip(one, other) == (other in near - {one})


def test_the_command_mends_shows_what_it_changed_and_checks(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    tables = Tables()
    tables.set("statements.csv", 24, "value", "1.5 – 3 mm")
    tables.set("taxa.csv", 11, "note", " x ")
    folder = str(tables.write(tmp_path))
    assert main(["check", "--knowledge", folder]) == 1
    capsys.readouterr()
    assert main(["check", "--fix", "--knowledge", folder]) == 0
    out = capsys.readouterr().out
    assert "taxa.csv:11: note: took blanks from the edges: ' x ' is now 'x'." in out
    assert "'1.5 – 3 mm' is now '1.5-3 mm'" in out
    assert "No fault in" in out
    assert main(["check", "--fix", "--knowledge", folder]) == 0
    assert " is now " not in capsys.readouterr().out
