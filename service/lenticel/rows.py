"""Records back into rows of the tables: the cells of a record, a whole folder of them, and changes written into files that are there."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import fields
from decimal import Decimal
from pathlib import Path
from typing import Any

from lenticel.difference import TABLES as RECORD_TABLES
from lenticel.difference import RowChange, row_changes
from lenticel.model import Knowledge, Slack
from lenticel.quantity import plain
from lenticel.schema import TABLES, Column
from lenticel.sheets import Sheet, csv_bytes, sheets
from lenticel.tables import Loaded


def cell_of(column: Column, value: Any) -> str:
    """The cell of a column that is read as this value."""
    if value is None or value == "" or value == ():
        return ""
    if column.kind == "condition":
        return f"{value[0]}: {'|'.join(value[1])}"
    if isinstance(value, bool):
        return "yes" if value else "no" if column.required or column.kind == "tristate" else ""
    if isinstance(value, Slack):
        return slack_cell(value) if value.amount else ""
    if isinstance(value, Decimal):
        return plain(value)
    return "|".join(value) if isinstance(value, tuple) else str(value)


def slack_cell(slack: Slack) -> str:
    """The slack as the tables spell it."""
    return f"{plain(slack.amount * 100)}%" if slack.relative else plain(slack.amount)


def cells_of_record(table: str, record: Any) -> list[str]:
    """The row that is read as this record."""
    return [cell_of(column, getattr(record, column.name)) for column in TABLES[table].columns]


def records_of(knowledge: Knowledge, table: str) -> dict[str, Any]:
    """The records of a table by their keys there, in order."""
    if table == "about":
        return {knowledge.about.id: knowledge.about}
    if table == "names":
        return {f"{each.taxon}.{each.name}.{each.source}": each for each in knowledge.names}
    return dict(getattr(knowledge, table))


def write_tables(knowledge: Knowledge, folder: Path) -> None:
    """Write every record into a new folder of tables, one file a table; tables without rows are left out."""
    folder.mkdir(parents=True, exist_ok=True)
    for table in ("about", *RECORD_TABLES):
        rows = [cells_of_record(table, each) for each in records_of(knowledge, table).values()]
        if rows:
            (folder / f"{table}.csv").write_bytes(csv_bytes([[column.name for column in TABLES[table].columns], *rows]))


def differing(old: Knowledge, new: Knowledge) -> list[RowChange]:
    """Every row that differs, that about the knowledge too, and the states that stand in another order though the order is one of degree."""
    about = tuple(each.name for each in fields(old.about) if getattr(old.about, each.name) != getattr(new.about, each.name))
    found = [RowChange("about", new.about.id, "changed", about)] if about else []
    return [*found, *row_changes(old, new), *_moved(old, new)]


def _moved(old: Knowledge, new: Knowledge) -> Iterator[RowChange]:
    """The characters whose states, as far as both versions have them, stand in another order of degree."""
    for key, character in new.characters.items():
        if not character.graded or key not in old.characters:
            continue
        before, after = ([each.key for each in known.states_of(key)] for known in (old, new))
        if [each for each in before if each in after] != [each for each in after if each in before]:
            yield from (RowChange("states", each, "moved") for each in after if each in before)


def amend(folder: Path, loaded: Loaded, new: Knowledge, changes: Iterable[RowChange]) -> list[str]:
    """Write changes into the files of a folder; rows that did not change keep their place and their spelling.

    Args:
        folder: the tables.
        loaded: what was read from them.
        new: where the rows that were added or changed stand.
        changes: from what was read to `new`.

    Returns:
        The files written, as labels.
    """
    files = {sheet.label: sheet for sheet in sheets(folder)}
    touched: dict[str, Sheet] = {}
    gone: list[tuple[Sheet, int]] = []
    regraded: set[str] = set()
    for change in changes:
        origin = loaded.origins.get((change.table, change.key)) or (loaded.rows["about"][0] if change.table == "about" else None)
        if origin is None or change.how == "added":
            record = _record(new, change)
            sheet = _home(folder, loaded, files, change.table, record)
            _insert(sheet, cells_of_record(change.table, record))
        else:
            sheet = files[origin.file]
            place = sheet.numbers.index(origin.number)
            if change.how == "gone":
                gone.append((sheet, origin.number))
            elif change.how == "changed":
                _overwrite(sheet.rows[place], change, _record(new, change))
        if change.table == "states" and change.how in ("added", "moved"):
            regraded.add(change.key.partition(".")[0])
        touched[sheet.label] = sheet
    for sheet, number in gone:
        place = sheet.numbers.index(number)
        del sheet.rows[place], sheet.numbers[place]
    for sheet in touched.values():
        if sheet.table.name == "states":
            _in_order(sheet, new, regraded)
        sheet.path.parent.mkdir(parents=True, exist_ok=True)
        sheet.path.write_bytes(sheet.written())
    return sorted(touched)


def _record(new: Knowledge, change: RowChange) -> Any:
    return records_of(new, change.table)[change.key] if change.table in ("about", "names") else getattr(new, change.table)[change.key]


def _overwrite(cells: list[str], change: RowChange, record: Any) -> None:
    for place, column in enumerate(TABLES[change.table].columns):
        if column.name in change.columns:
            cells[place] = cell_of(column, getattr(record, column.name))


def _home(folder: Path, loaded: Loaded, files: dict[str, Sheet], table: str, record: Any) -> Sheet:
    """The file in which a new row belongs: that of the taxon's other statements, else the file of the table."""
    label = f"{table}.csv"
    if table == "statements":
        beside = (loaded.origins["statements", each.id].file for each in loaded.knowledge.statements.values() if each.taxon == record.taxon)
        label = next(beside, f"{table}/{record.taxon}.csv" if (folder / table).is_dir() else label)
    elif label not in files:
        label = next((each for each in files if each.startswith(f"{table}/")), label)
    if label not in files:
        files[label] = Sheet(TABLES[table], folder / label, label, [], [], [])
    return files[label]


def _insert(sheet: Sheet, cells: list[str]) -> None:
    """Put a row behind the last one that begins alike (the states of a character, the statements on a taxon), else at the end."""
    alike = [place for place, row in enumerate(sheet.rows) if row[0] == cells[0]]
    place = alike[-1] + 1 if alike and sheet.table.name in ("states", "statements", "names") else len(sheet.rows)
    sheet.rows.insert(place, cells)
    sheet.numbers.insert(place, 0)


def _in_order(sheet: Sheet, new: Knowledge, characters: set[str]) -> None:
    """Let the states of these characters stand in the order that they have in `new`, in the places that they take up."""
    for character in characters:
        order = {each.id: place for place, each in enumerate(new.states_of(character))}
        places = [place for place, row in enumerate(sheet.rows) if row[0] == character]
        rows = sorted((sheet.rows[place] for place in places), key=lambda row: order.get(row[1], len(order)))
        for place, row in zip(places, rows, strict=True):
            sheet.rows[place] = row
