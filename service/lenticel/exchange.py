"""Statements out to files of open formats and in from them: wide sheets (CSV, XLSX), Darwin Core (measurements as CSV, archives), NEXUS."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from lenticel.archive import archive, measurements_in
from lenticel.build import alive
from lenticel.errors import BadFile, FaultyTables
from lenticel.formats import Cited, Grid, NotHeld, StatementReader, measurements, wide
from lenticel.model import Knowledge, Statement
from lenticel.nexus import Matrix, nexus
from lenticel.sheets import csv_bytes
from lenticel.snapshot import Snapshot
from lenticel.taking import Taken, sound, take

FORMS = ("wide", "measurements", "archive", "nexus")


def form_of(path: Path) -> str:
    """The form that a file's name asks for.

    Raises:
        BadFile: the name ends in nothing known.
    """
    ending = path.suffix.lower()
    if ending in (".nex", ".nexus"):
        return "nexus"
    if ending == ".zip":
        return "archive"
    if ending not in (".csv", ".xlsx"):
        raise BadFile(f"{path.name!r} ends in nothing known here.", "Call it sheet.csv, sheet.xlsx, measurements.csv, archive.zip or matrix.nex.")
    return "measurements" if path.stem.lower().startswith("measurement") else "wide"


def export(snapshot: Snapshot, path: Path) -> list[NotHeld]:
    """Write the statements of a body of knowledge to a file, in the form that its name asks for; what the form cannot hold."""
    form = form_of(path)
    if form == "nexus":
        text, left_out = nexus(snapshot, inapplicable(snapshot))
        path.write_text(text, encoding="utf-8", newline="\n")
        return left_out
    if form == "archive":
        data, left_out = archive(snapshot.knowledge)
        path.write_bytes(data)
        return left_out
    grid, left_out = (measurements if form == "measurements" else wide)(snapshot.knowledge)
    path.write_bytes(_workbook(grid) if path.suffix.lower() == ".xlsx" else csv_bytes(grid))
    return left_out


def inapplicable(snapshot: Snapshot) -> Iterator[tuple[str, str]]:
    """The pairs of taxon and conditional character of which the one cannot show the other."""
    for key in snapshot.knowledge.characters:
        if any(snapshot.knowledge.characters[each].applies_if for each in snapshot.knowledge.broadening(key)):
            shows = alive(snapshot, key)
            yield from ((taxon, key) for taxon, place in snapshot.place_of.items() if not shows[place])


def imported(path: Path, folder: Path, cited: Cited) -> Taken:
    """Merge the statements of a file into a folder of tables: new ones are added, those of the same key changed, none is taken out.

    Raises:
        BadFile: the file is of no known form, or not sound.
        FaultyTables: it holds faults, or would bring them into the tables; nothing is written then.
    """
    loaded = sound(folder)
    found = _read(path, loaded.knowledge, cited)
    return take(folder, loaded, replace(loaded.knowledge, statements={**loaded.knowledge.statements, **found}))


def _read(path: Path, known: Knowledge, cited: Cited) -> dict[str, Statement]:
    reader = StatementReader(known, path.name, cited)
    form = form_of(path)
    if form == "archive":
        found = reader.measurements(measurements_in(_bytes(path), path.name))
    elif form == "nexus":
        found = {key: _as_held(known, key, each) for key, each in Matrix(_text(path), path.name).into(reader).items()}
    else:
        grid = _grid_of_workbook(path) if path.suffix.lower() == ".xlsx" else _grid(path)
        found = reader.measurements(grid) if grid and any(word.endswith("measurementType") for word in grid[0]) else reader.wide(grid)
    if reader.faults:
        raise FaultyTables(reader.faults)
    if not found:
        raise BadFile(f"{path.name!r} holds no statement.", "Fill in at least one cell.")
    return found


def _as_held(known: Knowledge, key: str, statement: Statement) -> Statement:
    """The statement as the tables hold it, with its words and its place, where a matrix says the same states or others of it."""
    held = known.statements.get(key)
    if held is None:
        return statement
    return held if set(held.states) == set(statement.states) else replace(held, value=statement.value)


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise BadFile(f"{path.name!r} cannot be opened: {error.strerror}.", "Name a file that is there.") from None


def _text(path: Path) -> str:
    try:
        return _bytes(path).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadFile(f"{path.name!r} is not UTF-8 (byte {error.start}).", "Save it as UTF-8.") from None


def _grid(path: Path) -> Grid:
    try:
        return list(csv.reader(io.StringIO(_text(path), newline=""), strict=True))
    except csv.Error as error:
        raise BadFile(f"{path.name!r} is not sound CSV: {error}.", "Close every quote.") from None


def _openpyxl() -> Any:
    try:
        import openpyxl
    except ImportError:
        raise BadFile("XLSX files need the package openpyxl.", "Install lenticel[exchange], or use a CSV file.") from None
    return openpyxl


def _workbook(grid: Grid) -> bytes:
    """The grid as a workbook of text cells, so that no spreadsheet takes `4-5` for a date or `=` for a formula."""
    book = _openpyxl().Workbook()
    page = book.active
    page.title = "taxa by characters"
    page.freeze_panes = "B2"
    for number, row in enumerate(grid, start=1):
        for place, text in enumerate(row, start=1):
            if text:
                cell = page.cell(number, place, text)
                cell.data_type, cell.number_format = "s", "@"
    room = io.BytesIO()
    book.save(room)
    return room.getvalue()


def _grid_of_workbook(path: Path) -> Grid:
    """The text of the first page of a workbook.

    Raises:
        BadFile: it is none, or a cell is a date or a formula, which a spreadsheet makes of figures such as 4-5.
    """
    openpyxl = _openpyxl()
    try:
        page = openpyxl.load_workbook(path, data_only=False).worksheets[0]
    except Exception as error:  # a damaged workbook raises what its zip or XML reader raises
        raise BadFile(f"{path.name!r} cannot be opened: {str(error)[:100]}.", "Save it as XLSX again.") from error
    for row in page.iter_rows():
        for cell in row:
            if cell.data_type in ("d", "f"):
                what = "date" if cell.data_type == "d" else "formula"
                raise BadFile(f"{path.name!r}: the cell {cell.coordinate} is a {what}.", "Format the cells as text and type it anew.")
    rows = [["" if value is None else str(value) for value in row] for row in page.iter_rows(values_only=True)]
    return [row for row in rows if any(row)]
