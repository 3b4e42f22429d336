"""Reading the tables: a folder of CSV files becomes records, or a list of every fault at once."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any

from lenticel.errors import Fault, FaultyTables, suggest
from lenticel.misread import not_utf8, rejoined
from lenticel.model import NO_SLACK, About, Knowledge, Slack
from lenticel.schema import TABLES, Column, Table, condition_in
from lenticel.spreadsheet import FORMULA

ID = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
IRI = re.compile(r"https?://[^\s<>\"{}|\\^`]+")
MAX_CELL, MAX_ID = 4000, 80
CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f\u202a-\u202e\u2066-\u2069\ufeff\ufffe\uffff]")


@dataclass(frozen=True, slots=True)
class Row:
    """One row as it stands in its file; `number` counts from 1, which is the header."""

    table: Table
    file: str
    number: int
    cells: dict[str, str]

    def fault(self, column: str, rule: str, message: str, fix: str) -> Fault:
        """A fault of this row."""
        return Fault(self.file, self.number, column, rule, message, fix)


@dataclass
class Loaded:
    """What reading a folder gave: the rows, the records made of the sound ones, and the faults found so far.

    `origins` tells from which row a record came, by table name and the record's identity.
    """

    rows: dict[str, list[Row]]
    knowledge: Knowledge
    origins: dict[tuple[str, str], Row]
    faults: list[Fault] = field(default_factory=list)


def read(folder: Path, *, older: bool = False) -> Loaded:
    """Read every table of a folder; a table is `<name>.csv`, or the CSV files of the folder `<name>/`, or both.

    Nothing is raised: a missing table is a fault among the others, and the faults are in the result.

    Args:
        folder: the tables.
        older: whether they may stem from a time when a column that may be empty was not there yet; it then counts as empty.
    """
    return records_of(*rows_in(folder, older=older))


def rows_in(folder: Path, *, older: bool = False) -> tuple[dict[str, list[Row]], list[Fault]]:
    """The rows of every table of a folder, and the faults of what could not be read as rows (`older`: see `read`)."""
    faults: list[Fault] = []
    return {name: list(_rows(folder, table, older, faults)) for name, table in TABLES.items()}, faults


def records_of(rows: dict[str, list[Row]], so_far: Iterable[Fault] = ()) -> Loaded:
    """The records that rows become, with the faults met on the way and those found so far."""
    faults = list(so_far)
    unread = {each.file.removesuffix(".csv").partition("/")[0] for each in faults}
    missing = [name for name in ("about", "taxa", "characters", "statements") if not rows[name] and name not in unread]
    faults += [
        Fault(f"{name}.csv", 1, "", "missing-table", f"The table {name!r} has no rows in this folder.", f"Add {name}.csv with its header and at least one row.")
        for name in missing
    ]
    records: dict[str, dict[str, Any]] = {}
    origins: dict[tuple[str, str], Row] = {}
    for name, table_rows in rows.items():
        records[name] = {}
        for row in table_rows:
            record = record_of(row, faults)
            if record is None:
                continue
            key = _identity(name, record)
            if (name, key) in origins:
                first = origins[name, key]
                faults.append(
                    row.fault(
                        table_key_column(row.table),
                        "duplicate",
                        f"{key!r} stands already in {first.file}, row {first.number}.",
                        "Merge the two rows, or take one out.",
                    )
                )
                continue
            records[name][key], origins[name, key] = record, row
    about = next(iter(records["about"].values()), About("", "", "", "", "", "", "", "", ""))  # its fault stops the build
    if len(rows["about"]) > 1:
        faults.append(rows["about"][1].fault("id", "one-about", "There is more than one row about the knowledge.", "Keep one."))
    knowledge = Knowledge(
        about,
        records["sources"],
        records["taxa"],
        list(records["names"].values()),
        records["characters"],
        records["states"],
        records["statements"],
        records["lookalikes"],
        records["cautions"],
        records["resolutions"],
        records["recorded"],
        records["reviews"],
        records["matches"],
    )
    return Loaded(rows, knowledge, origins, faults)


def terms_in(folder: Path) -> tuple[Knowledge, int]:
    """The taxa, characters and states of a folder that are sound in themselves, whatever else is amiss in it, and how many rows of theirs are not.

    Raises:
        FaultyTables: it has none.
    """
    loaded = read(folder)
    known = loaded.knowledge
    if not known.characters and not known.taxa:
        raise FaultyTables(loaded.faults)
    characters = {key: each for key, each in known.characters.items() if _has_root(known, key)}
    rows = sum(len(loaded.rows[name]) for name in ("taxa", "characters", "states"))
    return replace(known, characters=characters), rows - len(known.taxa) - len(characters) - len(known.states)


def _has_root(knowledge: Knowledge, character: str) -> bool:
    seen: set[str] = set()
    while character in knowledge.characters and character not in seen:
        seen.add(character)
        character = knowledge.characters[character].broader
    return not character


def table_key_column(table: Table) -> str:
    """The column that a reader should look at when a row repeats another."""
    return table.key or table.columns[0].name


def _identity(name: str, record: Any) -> str:
    if name == "states":
        return str(record.key)
    if name == "names":
        return f"{record.taxon}.{record.name}.{record.source}"
    return str(record.id)


def table_files(folder: Path, name: str) -> list[Path]:
    """The files of a table in a folder: `<name>.csv`, then those of the folder `<name>/`."""
    single = folder / f"{name}.csv"
    return ([single] if single.is_file() else []) + sorted((folder / name).glob("*.csv"))


def _header(table: Table, found: list[str], older: bool) -> list[str]:
    """The columns that a file of the table must have; those that may be empty can be missing from an older one."""
    return [column.name for column in table.columns if not older or column.required or column.name in found]


def _rows(folder: Path, table: Table, older: bool, faults: list[Fault]) -> Iterator[Row]:
    for path in table_files(folder, table.name):
        label = path.relative_to(folder).as_posix()
        content = path.read_bytes()
        try:
            text = content.decode("utf-8-sig")
            lines = list(csv.reader(io.StringIO(text, newline=""), strict=True))
        except UnicodeDecodeError as error:
            faults.append(Fault(label, 1, "", "encoding", *not_utf8(content, error.start)))
            continue
        except csv.Error as error:
            faults.append(Fault(label, 1, "", "csv", f"The file is not sound CSV: {error}.", "Close every quote and keep cells short."))
            continue
        found = [cell.strip() for cell in lines[0]] if lines else []
        header = _header(table, found, older)
        if found != header:
            faults.append(Fault(label, 1, "", "header", f"The header is not that of the table {table.name!r}.", f"Write exactly: {','.join(header)}"))
            continue
        for number, cells in enumerate(lines[1:], start=2):
            if not any(cells):
                continue
            if len(cells) != len(header):
                meant = rejoined(cells, header.index("value"), len(cells) - len(header)) if table.name == "statements" else ""
                fix = f"If a decimal comma split it, write the row as: {meant}" if meant else "Quote cells that hold a comma; leave no cell out."
                faults.append(Fault(label, number, "", "fields", f"The row has {len(cells)} cells, the header {len(header)}.", fix))
                continue
            yield Row(table, label, number, {**dict.fromkeys((column.name for column in table.columns), ""), **dict(zip(header, cells, strict=True))})


class _Blank(Exception):
    """A cell that must not be empty is."""


class _BadCell(Exception):
    def __init__(self, rule: str, message: str, fix: str) -> None:
        super().__init__(message)
        self.rule, self.message, self.fix = rule, message, fix


def record_of(row: Row, faults: list[Fault]) -> Any | None:
    """The record that a row becomes; None, with its faults added to `faults`, if a cell does not have the form of its column."""
    values: dict[str, Any] = {}
    blank: list[Column] = []
    for column in row.table.columns:
        try:
            values[column.name] = _value(column, row.cells[column.name])
        except _Blank:
            blank.append(column)
        except _BadCell as bad:
            faults.append(row.fault(column.name, bad.rule, bad.message, bad.fix))
    if blank:
        faults.append(_blank_fault(row, blank))
    return row.table.record(**values) if len(values) == len(row.table.columns) else None


def _blank_fault(row: Row, blank: list[Column]) -> Fault:
    """One fault for all that a row lacks, at the first cell to fill."""
    first, *more = blank
    if not more:
        return row.fault(first.name, "required", f"The column {first.name!r} must not be empty.", f"Fill it in: {first.meaning}")
    names = f"{', '.join(repr(each.name) for each in blank[:-1])} and {blank[-1].name!r}"
    fix = f"Fill them in, beginning with {first.name!r}, or take the row out; `lenticel guide` says what each holds."
    return row.fault(first.name, "required", f"The columns {names} must not be empty.", fix)


def _value(column: Column, cell: str) -> Any:
    if len(cell) > MAX_CELL:
        raise _BadCell("too-long", f"The cell holds {len(cell)} characters.", f"Keep a cell below {MAX_CELL}.")
    if CONTROL.search(cell):
        raise _BadCell("characters", "The cell holds control or direction characters.", "Type the text anew.")
    if cell != cell.strip():
        raise _BadCell("blank-edge", "The cell begins or ends with a blank.", "Take the blank out.")
    if column.required and not cell:
        raise _Blank
    value = _READERS[column.kind](column, cell)
    if cell.startswith(FORMULA):
        fix = "Write it otherwise: a spreadsheet takes it for a formula, and what is shown then is not what is stored."
        raise _BadCell("formula", f"The cell begins with {cell[0]!r}.", fix)
    return value


def _words(column: Column, cell: str) -> tuple[str, ...]:
    words = tuple(cell.split("|")) if cell else ()
    if any(not word or word != word.strip() for word in words) or len(set(words)) != len(words):
        raise _BadCell("list", f"{cell[:60]!r} is not a list.", "Join different words with `|`, without blanks or gaps.")
    if column.choices:
        for word in words:
            _choice(column, word)
        return tuple(word for word in column.choices if word in words)
    return tuple(sorted(words))


def _choice(column: Column, cell: str) -> str:
    if cell and cell not in column.choices:
        raise _BadCell(
            "choice", f"{cell[:60]!r} is none of the words for {column.name!r}.", suggest(cell, column.choices) or f"Use one of: {', '.join(column.choices)}."
        )
    return cell


def _id(column: Column, cell: str) -> str:
    if not ID.fullmatch(cell) or len(cell) > MAX_ID:
        raise _BadCell("id-form", f"{cell[:60]!r} is no identifier.", f"Use lower-case letters, digits and single hyphens, at most {MAX_ID}.")
    return cell


def _yesno(column: Column, cell: str) -> bool:
    if cell not in ("", "yes", "no"):
        raise _BadCell("choice", f"{cell[:60]!r} is neither yes nor no.", "Write yes or no.")
    return cell == "yes"


def _tristate(column: Column, cell: str) -> bool | None:
    return None if not cell else _yesno(column, cell)


def _number(column: Column, cell: str) -> Decimal | None:
    if not cell:
        return None
    if not re.fullmatch(r"\d{1,12}(\.\d{1,9})?", cell):
        raise _BadCell("number", f"{cell[:60]!r} is not a plain number.", "Write digits with a decimal point, such as 12.5.")
    return Decimal(cell)


def _slack(column: Column, cell: str) -> Slack:
    if not cell:
        return NO_SLACK
    try:
        amount = Decimal(cell.removesuffix("%"))
    except InvalidOperation:
        amount = Decimal(-1)
    if not re.fullmatch(r"\d{1,4}(\.\d{1,4})?%?", cell) or amount < 0:
        raise _BadCell("slack", f"{cell[:60]!r} is no slack.", "Write a share such as 30%, or a step in the unit such as 1.")
    if not amount:
        return NO_SLACK
    return Slack(amount / 100 if cell.endswith("%") else amount, relative=cell.endswith("%"))


def _condition(column: Column, cell: str) -> tuple[str, tuple[str, ...]] | None:
    if not cell:
        return None
    found = condition_in(cell)
    if found is None:
        raise _BadCell("condition", f"{cell[:60]!r} is no condition.", "Write it as `character: state|state`.")
    return found


def _date(column: Column, cell: str) -> str:
    try:
        return date.fromisoformat(cell).isoformat() if cell else ""
    except ValueError:
        raise _BadCell("date", f"{cell[:60]!r} is no date.", "Write it as 2026-11-25.") from None


def _iri(column: Column, cell: str) -> str:
    if cell and not IRI.fullmatch(cell):
        raise _BadCell("iri", f"{cell[:60]!r} is no web IRI.", "Write it in full, from https:// on.")
    return cell


def _text(column: Column, cell: str) -> str:
    return cell


_READERS: dict[str, Callable[[Column, str], Any]] = {
    "id": _id,
    "text": _text,
    "ref": _text,
    "refs": _words,
    "list": _words,
    "choice": _choice,
    "yesno": _yesno,
    "tristate": _tristate,
    "number": _number,
    "slack": _slack,
    "condition": _condition,
    "date": _date,
    "iri": _iri,
}
