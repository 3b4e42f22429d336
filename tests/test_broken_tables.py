"""Faults planted in sound tables: each is reported at its file, row and column, with its rule and what to do."""

from __future__ import annotations

import ast
import csv
import io
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from lenticel import build as build_module
from lenticel import check as check_module
from lenticel import tables as tables_module
from lenticel import values as values_module
from lenticel.build import check
from lenticel.cli import main
from lenticel.errors import Fault
from lenticel.rules import RULES
from lenticel.schema import TABLES
from lenticel.tables import MAX_CELL
from tests.conftest import ROOT

WORKSHOP = ROOT / "fixtures" / "workshop"
PLANTED = ROOT / "fixtures" / "broken-tables.csv"
READING = {
    "required",
    "choice",
    "id-form",
    "list",
    "number",
    "slack",
    "condition",
    "date",
    "iri",
    "characters",
    "blank-edge",
    "formula",
    "too-long",
    "duplicate",
}


class Tables:
    """The tables of the workshop, to be changed and written elsewhere; rows count from 1, which is the header."""

    def __init__(self) -> None:
        self.rows = {f"{name}.csv": [[column.name for column in table.columns]] for name, table in TABLES.items()}
        for path in WORKSHOP.glob("*.csv"):
            self.rows[path.name] = list(csv.reader(io.StringIO(path.read_text(encoding="utf-8"), newline="")))
        self.raw: dict[str, bytes] = {}

    def set(self, file: str, row: int, column: str, text: str) -> None:
        """Overwrite a cell; a table that the workshop does not have gets a row of the schema's own examples first."""
        if len(self.rows[file]) == 1:
            self.rows[file].append([each.example or "x" for each in TABLES[file.removesuffix(".csv")].columns])
        self.rows[file][row - 1][self.rows[file][0].index(column)] = text

    def add(self, file: str, **cells: str) -> None:
        self.rows[file].append([cells.get(column, "") for column in self.rows[file][0]])

    def repeat(self, file: str, row: int, **cells: str) -> None:
        """Add a copy of a row, with some cells changed."""
        self.add(file, **{**dict(zip(self.rows[file][0], self.rows[file][row - 1], strict=True)), **cells})

    def bytes(self, file: str) -> bytes:
        text = io.StringIO()
        csv.writer(text, lineterminator="\n").writerows(self.rows[file])
        return text.getvalue().encode()

    def write(self, folder: Path) -> Path:
        for file, content in {**{file: self.bytes(file) for file in self.rows}, **self.raw}.items():
            (folder / file).parent.mkdir(exist_ok=True)
            (folder / file).write_bytes(content)
        return folder


@dataclass(frozen=True)
class Planted:
    """A change to the tables, and the place and rule of the fault that it must raise."""

    name: str
    file: str
    row: int
    column: str
    rule: str
    plant: Callable[[Tables], object]


def cells() -> Iterator[Planted]:
    """The faults of the fixture: one cell each is overwritten, and reported there. `\\uXXXX` stands for a character that would not show."""
    with PLANTED.open(encoding="utf-8", newline="") as lines:
        for each in csv.DictReader(lines):
            text = re.sub(r"\\u([0-9a-f]{4})", lambda found: chr(int(found[1], 16)), each["text"])
            yield overwriting(each["name"], each["file"], int(each["row"]), each["column"], text, each["rule"])


def overwriting(name: str, file: str, row: int, column: str, text: str, rule: str) -> Planted:
    return Planted(name, file, row, column, rule, lambda tables: tables.set(file, row, column, text))


def forms() -> Iterator[Planted]:
    """What no cell of any column may hold."""
    for table in TABLES.values():
        for column in table.columns:
            for what, text, rule in (
                ("too long", "x" * (MAX_CELL + 1), "too-long"),
                ("huge", "x" * 100_000, "too-long"),
                ("with a control character", "x\x00y", "characters"),
                ("with a byte order mark", "\ufeffx", "characters"),
                ("between blanks", " x ", "blank-edge"),
            ):
                yield overwriting(f"{table.name} {column.name} {what}", f"{table.name}.csv", 2, column.name, text, rule)
            for text in ("=1+1", "-x", "+x", "@x") if column.kind in ("text", "ref", "refs", "list") and not column.choices else ():
                yield overwriting(f"{table.name} {column.name} with {text}", f"{table.name}.csv", 2, column.name, text, "formula")
            if column.required:
                yield overwriting(f"{table.name} {column.name} left empty", f"{table.name}.csv", 2, column.name, "", "required")


def built(name: str, file: str, row: int, column: str, rule: str, *changes: Callable[[Tables], object]) -> Planted:
    return Planted(name, file, row, column, rule, lambda tables: [change(tables) for change in changes])


def _raw(file: str, change: Callable[[bytes], bytes]) -> Callable[[Tables], object]:
    return lambda tables: tables.raw.update({file: change(tables.bytes(file))})


def rows() -> Iterator[Planted]:
    """Faults of several cells or of whole rows."""
    yield built("a second row about the knowledge", "about.csv", 3, "id", "one-about", lambda t: t.repeat("about.csv", 2, id="another"))
    yield built("the row about the knowledge twice", "about.csv", 3, "id", "duplicate", lambda t: t.repeat("about.csv", 2))
    synonym = {"kind": "synonym", "language": "la", "name": "Rivet"}
    yield built("a synonym that is another taxon's name", "names.csv", 3, "name", "same-label", lambda t: t.repeat("names.csv", 2, **synonym))
    yield built("a name twice", "names.csv", 3, "taxon", "duplicate", lambda t: t.repeat("names.csv", 2))
    yield built("a look-alike twice", "lookalikes.csv", 3, "taxa", "duplicate", lambda t: t.repeat("lookalikes.csv", 2))
    yield built("a caution twice", "cautions.csv", 3, "id", "duplicate", lambda t: t.repeat("cautions.csv", 2))
    yield built("a state twice", "states.csv", 5, "character", "duplicate", lambda t: t.set("states.csv", 5, "id", "flat"))
    yield built("a statement twice", "statements.csv", 4, "taxon", "duplicate", lambda t: t.set("statements.csv", 4, "frequency", "usually"))
    yield built("a label that is another state", "states.csv", 5, "synonyms", "same-label", lambda t: t.set("states.csv", 5, "label", "Flat"))
    book = {"id": "manual", "kind": "book", "authors": "Smith, Ann", "year": "1900", "title": "Manual"}
    for column, row, cells_ in (
        ("id", 4, book),
        ("authors", 4, {**book, "authors": ""}),
        ("year", 4, {**book, "year": ""}),
        ("year", 4, {**book, "year": "about 1900"}),
    ):
        rule = "orphan" if column == "id" else "source-detail"
        yield built(f"a book with the {column} {cells_[column]!r}", "sources.csv", row, column, rule, lambda t, cells_=cells_: t.add("sources.csv", **cells_))
    state = {"id": "odd", "label": "odd", "definition": "Odd."}
    yield built("states of a special case", "characters.csv", 10, "kind", "stray-states", lambda t: t.add("states.csv", character="finish-new", **state))
    yield built("states of a length", "characters.csv", 7, "kind", "stray-states", lambda t: t.add("states.csv", character="length", **state))
    yield built("a special case without its broader one", "characters.csv", 10, "kind", "no-states", lambda t: t.set("characters.csv", 10, "broader", ""))
    yield built(
        "two characters each under the condition of the other", "characters.csv", 3, "applies_if", "cycle",
        lambda t: t.set("characters.csv", 2, "applies_if", "head: flat"), lambda t: t.set("characters.csv", 3, "applies_if", "thread: present"),
    )  # fmt: skip
    yield built("a bound below what is stated", "statements.csv", 29, "value", "implausible", lambda t: t.set("characters.csv", 7, "plausible_max", "30"))
    bolt = {"id": "bolt", "rank": "species", "scientific_name": "Bolt"}
    yield built("a taxon of which nothing is stated", "taxa.csv", 12, "id", "orphan", lambda t: t.add("taxa.csv", **bolt))
    yield built("a character that nothing uses", "characters.csv", 13, "id", "orphan", lambda t: t.repeat("characters.csv", 7, id="width", label="width"))
    yield built(
        "a copy of a taxon", "taxa.csv", 12, "id", "identical-taxa",
        lambda t: t.add("taxa.csv", **bolt, parent="nail"),
        lambda t: [t.repeat("statements.csv", row, taxon="bolt") for row in (6, 14, 34)],
    )  # fmt: skip
    yield built(
        "turns on what has no thread", "statements.csv", 50, "value", "dead-cell",
        lambda t: t.repeat("statements.csv", 27, taxon="rivet"),
    )  # fmt: skip
    yield built(
        "a genus without the thread of its species", "statements.csv", 24, "value", "dead-cell", lambda t: t.set("statements.csv", 2, "value", "absent")
    )
    yield built(
        "a condition that no taxon meets", "characters.csv", 5, "applies_if", "never-applies",
        lambda t: t.add("states.csv", character="thread", **state), lambda t: t.set("characters.csv", 5, "applies_if", "thread: odd"),
        lambda t: t.repeat("statements.csv", 2, taxon="fastener", value="present|absent"),
    )  # fmt: skip
    settled = {"one": "drawer-labels", "other": "shop-ledger", "reason": "true variation", "text": "Both occur.", "by": "A. Smith", "date": "2026-11-25"}
    yield built(
        "a disagreement settled that there never was", "resolutions.csv", 2, "one", "no-disagreement",
        lambda t: t.add("resolutions.csv", taxon="coach-bolt", character="head", **settled),
    )  # fmt: skip


def files() -> Iterator[Planted]:
    """Faults of whole files; the ones that hide every row are reported on row 1, without a column."""
    for name in ("about", "taxa", "characters", "statements"):
        yield built(f"no {name}", f"{name}.csv", 1, "", "missing-table", lambda t, name=name: t.rows.pop(f"{name}.csv"))
        yield built(
            f"the header alone of {name}", f"{name}.csv", 1, "", "missing-table", lambda t, name=name: t.rows.update({f"{name}.csv": t.rows[f"{name}.csv"][:1]})
        )
    headers: dict[str, Callable[[bytes], bytes]] = {
        "an empty file": lambda _: b"",
        "no header": lambda content: content.partition(b"\n")[2],
        "a misspelt header": lambda content: content.replace(b"taxon", b"taxa", 1),
        "a header in capitals": lambda content: content.partition(b"\n")[0].upper() + b"\n" + content.partition(b"\n")[2],
        "semicolons": lambda content: content.replace(b",", b";"),
        "tabs": lambda content: content.replace(b",", b"\t"),
        "a deleted column": lambda content: b"\n".join(line.partition(b",")[2] for line in content.splitlines()),
        "a column more": lambda content: b"\n".join(line + b",x" for line in content.splitlines()),
        "swapped columns": lambda content: b",".join(content.split(b",", 2)[i] for i in (1, 0, 2)),
        "a blank line before the header": lambda content: b"\n" + content,
        "a web page": lambda _: b"<!doctype html>\n<title>Not found</title>\n",
    }  # fmt: skip
    for file in ("names.csv", "statements.csv"):
        for name, change in headers.items():
            yield built(f"{name} in {file}", file, 1, "", "header", _raw(file, change))
        for name, end in (("a cell too few", b"wire-nail,x,y\n"), ("a cell too many", b"x," * 12 + b"x\n"), ("a lone word", b"# note\n")):
            row = len(Tables().rows[file]) + 1
            yield built(f"{name} in {file}", file, row, "", "fields", _raw(file, lambda content, end=end: content + end))
        for name, end in (("an open quote", b'"wire-nail'), ("a quote within a word", b'"a"b,c\n'), ("a cell beyond all limits", b"x" * 200_000 + b"\n")):
            yield built(f"{name} in {file}", file, 1, "", "csv", _raw(file, lambda content, end=end: content + end))
        for name, bad in (
            ("Latin-1", "é".encode("latin-1")),
            ("half a character", b"\xc3"),
            ("an overlong form", b"\xc0\xaf"),
            ("a surrogate", b"\xed\xa0\x80"),
        ):
            yield built(f"{name} in {file}", file, 1, "", "encoding", _raw(file, lambda content, bad=bad: content + bad))
        yield built(f"UTF-16 in {file}", file, 1, "", "encoding", _raw(file, lambda content: content.decode().encode("utf-16")))
    more = "statements/more.csv"
    yield built(
        "a statement twice, in two files",
        more,
        2,
        "taxon",
        "duplicate",
        lambda t: t.raw.update({more: b"".join(t.bytes("statements.csv").splitlines(True)[:2])}),
    )
    yield built("a second file without a header", more, 1, "", "header", lambda t: t.raw.update({more: t.bytes("statements.csv").partition(b"\n")[2]}))


FIXTURE = list(cells())
OTHERS = [*rows(), *files(), *forms()]


@pytest.mark.parametrize("planted", [*FIXTURE, *OTHERS], ids=lambda planted: planted.name)
def test_a_planted_fault_is_reported_where_it_lies_with_what_to_do(planted: Planted, tmp_path: Path) -> None:
    tables = Tables()
    planted.plant(tables)
    faults, snapshot = check(tables.write(tmp_path))
    assert snapshot is None
    places = [(fault.file, fault.row, fault.column, fault.rule) for fault in faults]
    assert (planted.file, planted.row, planted.column, planted.rule) in places, places[:10]
    assert_helpful(faults)


def assert_helpful(faults: list[Fault]) -> None:
    for fault in faults:
        assert len(fault.message) > 10, fault
        assert len(fault.fix) > 5, fault
        assert len(str(fault)) < 1000, fault
        assert "Traceback" not in str(fault)


def test_there_are_at_least_a_hundred_planted_cells_and_three_hundred_faults_in_all() -> None:
    assert len(FIXTURE) >= 100
    assert len({(each.file, each.row, each.column, each.name) for each in FIXTURE}) == len(FIXTURE)
    assert len({each.name for each in [*FIXTURE, *OTHERS]}) == len(FIXTURE) + len(OTHERS) >= 300


def test_every_rule_that_the_check_has_is_broken_at_least_once() -> None:
    modules = (tables_module, check_module, values_module, build_module)
    rules = {rule for module in modules for rule in rules_in(Path(str(module.__file__)).read_text(encoding="utf-8"))}
    assert len(rules) >= 40
    assert {each.rule for each in [*FIXTURE, *OTHERS]} == rules == set(RULES)


def rules_in(code: str) -> Iterator[str]:
    """The rules that a module can report: the words handed to `_BadCell(rule, ...)`, `Fault(file, row, column, rule, ...)` and `row.fault(column, rule, ...)`.

    A rule that is handed on by name was a word somewhere else in the module.
    """
    for node in ast.walk(ast.parse(code)):
        if isinstance(node, ast.Call):
            name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            place = {"_BadCell": 0, "Fault": 3, "fault": 1}.get(name)
            if place is not None and ast.unparse(node.args[place]) not in ("rule", "bad.rule"):
                yield ast.literal_eval(node.args[place])


def test_sound_tables_have_no_fault(workshop_tables: Path) -> None:
    faults, snapshot = check(workshop_tables)
    assert faults == []
    assert snapshot is not None
    assert snapshot.taxa_count == 10


SOUND: dict[str, Callable[[Tables], object]] = {
    "long dashes in a range": lambda t: t.set("statements.csv", 24, "value", "(1–)1.5–3(–4) mm"),
    "a range without its unit": lambda t: t.set("statements.csv", 24, "value", "1.5-3"),
    "months over the turn of the year": lambda t: t.set("statements.csv", 44, "value", "(10-)11-2"),
    "the warning that a thing is unsafe": lambda t: t.set("cautions.csv", 2, "advice", "It is unsafe to touch."),
    "a source without an author that is no publication": lambda t: t.set("sources.csv", 3, "kind", "memory"),
    "a cell of the greatest length": lambda t: t.set("taxa.csv", 11, "note", "x" * MAX_CELL),
    "the header alone of a table that may be empty": lambda t: t.rows.update({"names.csv": t.rows["names.csv"][:1]}),
    "no table that may be left out": lambda t: t.rows.pop("names.csv"),
    "a byte order mark and the line ends of another system": _raw("statements.csv", lambda content: b"\xef\xbb\xbf" + content.replace(b"\n", b"\r\n")),
    "empty lines": _raw("statements.csv", lambda content: content + b"\n,,,,,,,,\n\n"),
    "statements in a file of a folder": lambda t: [t.raw.update({"statements/all.csv": t.bytes("statements.csv")}), t.rows.pop("statements.csv")],
}  # fmt: skip


@pytest.mark.parametrize("name", SOUND)
def test_what_a_curator_may_write_is_no_fault(name: str, tmp_path: Path) -> None:
    tables = Tables()
    SOUND[name](tables)
    faults, snapshot = check(tables.write(tmp_path))
    assert faults == []
    assert snapshot is not None


def test_faults_planted_together_are_all_reported_in_one_run(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    chosen = together()
    assert len(chosen) >= 20
    assert len({each.file for each in chosen}) >= 7
    assert len({each.rule for each in chosen}) >= 12
    tables = Tables()
    for each in chosen:
        each.plant(tables)
    assert main(["check", "--knowledge", str(tables.write(tmp_path))]) == 1
    out, err = capsys.readouterr()
    for each in chosen:
        assert f"{each.file}:{each.row}: {each.column}: [{each.rule}] " in out, each
    assert err.strip().endswith("faults.")
    assert out.count(" Fix: ") == len(out.splitlines()) >= len(chosen)
    assert "Traceback" not in out + err


def together() -> list[Planted]:
    """Of the fixture, one fault a row and as many rules as may be, with no fault that takes the ground from a rule which others of them break."""
    apart = {"cycle", "stray-states", "no-states", "dead-cell", "duplicate", "bad-unit", "vanished"}
    grounds = {"about.csv", "characters.csv", "states.csv"}
    fit = [each for each in FIXTURE if each.rule not in apart and not (each.file in grounds and each.rule in READING)]
    chosen: dict[tuple[str, int], Planted] = {}
    rules: set[str] = set()
    for each in fit:
        if each.rule not in rules and (each.file, each.row) not in chosen:
            chosen[each.file, each.row] = each
            rules.add(each.rule)
    for each in fit:
        chosen.setdefault((each.file, each.row), each)
    return list(chosen.values())


def test_the_faults_are_in_the_order_of_files_and_rows(tmp_path: Path) -> None:
    tables = Tables()
    for each in reversed(together()):
        each.plant(tables)
    faults, _ = check(tables.write(tmp_path))
    assert [(fault.file, fault.row) for fault in faults] == sorted((fault.file, fault.row) for fault in faults)


def test_a_misspelt_word_comes_back_with_what_is_near(tmp_path: Path) -> None:
    tables = Tables()
    for file, row, column, text in (("taxa.csv", 5, "parent", "scrw"), ("statements.csv", 11, "value", "pann"), ("statements.csv", 27, "frequency", "rareley")):
        tables.set(file, row, column, text)
    faults, _ = check(tables.write(tmp_path))
    assert [hint in fault.fix for hint, fault in zip(("'pan'", "'rarely'", "'screw'"), faults, strict=True)] == [True] * 3
