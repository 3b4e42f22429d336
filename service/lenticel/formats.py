"""Open formats for statements: a wide sheet of taxa against characters, Darwin Core measurements, and what such a format cannot hold.

A format's writer gives a table of text and the list of what it leaves out; its reader gives statements, each with the row and
column that it came from, so that faults can be named there.
"""

from __future__ import annotations

import csv
import io
import json
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from lenticel.cite import taxon_named
from lenticel.errors import BadFile, Fault, LenticelError, suggest
from lenticel.iris import Namer
from lenticel.model import FREQUENCIES, Knowledge, Statement
from lenticel.ranges import in_unit
from lenticel.rows import cells_of_record, records_of

Grid = list[list[str]]
_PARTS = ("value", "frequency", "exhaustive", "source", "locator", "printed", "note")  # of a line in a cell of a wide sheet
TABLES_NOT_HELD = ("sources", "taxa", "names", "characters", "states", "lookalikes", "cautions", "resolutions", "recorded", "reviews", "matches")


@dataclass(frozen=True, slots=True, order=True)
class NotHeld:
    """Something that a format cannot hold: which row of which table, which part of it, and why."""

    table: str
    key: str
    part: str
    reason: str


@dataclass(frozen=True, slots=True)
class Cited:
    """Where statements come from if the file that they stand in does not say."""

    source: str = ""
    locator: str = ""


def rows_not_held(knowledge: Knowledge, tables: Iterable[str] = TABLES_NOT_HELD) -> Iterator[NotHeld]:
    """The rows of tables that a format of statements has no room for."""
    for table in tables:
        for key in records_of(knowledge, table):
            yield NotHeld(table, key, "", "only statements are held")


def counted(found: Iterable[NotHeld]) -> list[str]:
    """What is not held in few lines: how many rows or parts of each table, and why."""
    kinds = Counter((each.table, each.part, each.reason) for each in found)
    return [f"{count} of {table}{': ' + part if part else ''}: {reason}" for (table, part, reason), count in sorted(kinds.items())]


def wide(knowledge: Knowledge) -> tuple[Grid, list[NotHeld]]:
    """A row a taxon, a column a character; each line of a cell is a statement, its parts in the order of the table, as in CSV.

    The parts are value, frequency, exhaustive, source, locator, printed, note; empty ones at the end are left out.
    """
    used = dict.fromkeys(each.character for each in knowledge.statements.values())
    characters = [key for key in knowledge.characters if key in used]
    taxa = dict.fromkeys(each.taxon for each in knowledge.statements.values())
    cells = ([taxon, *("\n".join(map(_line, knowledge.statements_on(taxon, each))) for each in characters)] for taxon in taxa)
    return [["taxon", *characters], *cells], list(rows_not_held(knowledge))


def _line(statement: Statement) -> str:
    parts = cells_of_record("statements", statement)[2:]
    while parts and not parts[-1]:
        parts.pop()
    text = io.StringIO()
    csv.writer(text, lineterminator="").writerow(parts)
    return text.getvalue()


def measurements(knowledge: Knowledge) -> tuple[Grid, list[NotHeld]]:
    """Darwin Core: a row a statement, under the terms of the class MeasurementOrFact and four terms that go with any record.

    Terms: Darwin Core quick reference guide (TDWG), "MeasurementOrFact" and "Record-level". What no term is meant for (frequency, the
    printed words, the place in the source) stands in `dynamicProperties` as JSON. A denial is written as the value `not ...`.
    """
    name = Namer(knowledge.about.iri)
    grid = [list(_TERMS)]
    for key, each in knowledge.statements.items():
        more = {"frequency": each.frequency, "exhaustive": each.exhaustive, "locator": each.locator, "printed": each.printed}
        value = " | ".join(each.states) if knowledge.characters[each.character].kind == "states" else each.value
        grid.append(
            [
                str(name.record("statements", key)),
                str(name.taxon(each.taxon)),
                knowledge.taxa[each.taxon].scientific_name,
                each.character,
                f"not {value}" if each.frequency == "never" else value,
                knowledge.characters[each.character].unit,
                each.note,
                str(name.record("sources", each.source)),
                f"{knowledge.sources[each.source].citation} {each.locator}",
                json.dumps({part: what for part, what in more.items() if what not in ("", None)}, ensure_ascii=False, sort_keys=True),
            ]
        )
    return grid, list(rows_not_held(knowledge))


_TERMS = (
    "measurementID",
    "taxonID",
    "scientificName",
    "measurementType",
    "measurementValue",
    "measurementUnit",
    "measurementRemarks",
    "references",
    "bibliographicCitation",
    "dynamicProperties",
)


class StatementReader:
    """Reads statements out of a table of text against the knowledge that they are to join; collects every fault.

    Terms may be given by identifier or by name (taxa by any of their names, characters and states by label).
    """

    def __init__(self, knowledge: Knowledge, file: str, cited: Cited) -> None:
        self.knowledge, self.file, self.cited = knowledge, file, cited
        self.faults: list[Fault] = []
        self.found: dict[str, Statement] = {}
        self._characters = {word.casefold(): key for key, each in knowledge.characters.items() for word in (each.label, key)}

    def wide(self, grid: Grid) -> dict[str, Statement]:
        """The statements of a wide sheet.

        Raises:
            BadFile: its first row is no header of one.
        """
        if not grid or grid[0][:1] != ["taxon"]:
            raise BadFile(f"{self.file!r} is no wide sheet.", "Let its first row hold `taxon` and the characters, its first column the taxa.")
        characters = [self.character(word, 1, word) for word in grid[0][1:]]
        for number, row in enumerate(grid[1:], start=2):
            taxon = self.taxon(row[0], number, "taxon") if any(row) else None
            for character, cell in zip(characters, row[1:], strict=False):
                if taxon and character and cell:
                    self._lines(taxon, character, cell, number)
        return self.found

    def _lines(self, taxon: str, character: str, cell: str, number: int) -> None:
        try:
            lines = [line for line in csv.reader(io.StringIO(cell, newline=""), strict=True) if any(line)]
        except csv.Error as error:
            self.fault(number, character, "csv", f"The cell is not sound: {error}.", "Close every quote; each line is a statement, its parts as in CSV.")
            return
        for line in lines:
            if len(line) > len(_PARTS):
                self.fault(number, character, "fields", f"A line has {len(line)} parts.", f"Write at most {','.join(_PARTS)}; quote what holds a comma.")
                continue
            parts = dict(zip(_PARTS, [part.strip() for part in line] + [""] * len(_PARTS), strict=False))
            self.add(taxon, character, number, character, **parts)

    def measurements(self, grid: Grid) -> dict[str, Statement]:
        """The statements of a table of Darwin Core measurements; of the columns only measurementType, measurementValue and a name must be there.

        Raises:
            BadFile: these columns are missing.
        """
        header = [word.rsplit("/", 1)[-1].rsplit(":", 1)[-1] for word in (grid[0] if grid else [])]
        if not {"measurementType", "measurementValue"} <= set(header) or not {"taxonID", "scientificName"} & set(header):
            raise BadFile(f"{self.file!r} is no table of measurements.", "Let it have measurementType, measurementValue, and taxonID or scientificName.")
        for number, row in enumerate(grid[1:], start=2):
            cells = dict(zip(header, [cell.strip() for cell in row] + [""] * len(header), strict=False))
            if any(cells.values()):
                self._measurement(cells, number)
        return self.found

    def _measurement(self, cells: dict[str, str], number: int) -> None:
        name = cells.get("taxonID", "").rsplit("/", 1)[-1]
        taxon = self.taxon(name if name in self.knowledge.taxa else cells.get("scientificName") or name, number, "scientificName")
        character = self.character(cells["measurementType"].rsplit("/", 1)[-1], number, "measurementType")
        try:
            more = json.loads(cells.get("dynamicProperties") or "{}")
        except ValueError:
            more = None
        if not isinstance(more, dict):
            self.fault(number, "dynamicProperties", "csv", "The properties are no JSON object.", 'Write them like {"frequency": "rarely"}, or leave them out.')
            return
        if not taxon or not character:
            return
        value, unit = cells["measurementValue"], cells.get("measurementUnit", "")
        denied = value.startswith("not ")
        states = self.knowledge.characters[character].kind == "states"
        value = "|".join(word.strip() for word in value.removeprefix("not ").split("|")) if states else value
        if not states and unit and unit != self.knowledge.characters[character].unit and value[-1:].isdigit():
            value = f"{value} {unit}"
        self.add(
            taxon,
            character,
            number,
            "measurementValue",
            value=value,
            frequency=str(more.get("frequency") or ("never" if denied else "")),
            exhaustive="yes" if more.get("exhaustive") is True else "no" if more.get("exhaustive") is False else "",
            source=cells.get("references", "").rsplit("/", 1)[-1],
            locator=str(more.get("locator", "")),
            printed=str(more.get("printed", "")),
            note=cells.get("measurementRemarks", ""),
        )

    def taxon(self, word: str, number: int, column: str) -> str | None:
        """The taxon that a word means, or None and a fault."""
        try:
            return taxon_named(self.knowledge, word)
        except LenticelError as error:
            self.fault(number, column, "unknown-term", error.message, error.fix)
            return None

    def character(self, word: str, number: int, column: str) -> str | None:
        """The character that a word means, or None and a fault."""
        key = self._characters.get(word.strip().casefold())
        if key is None:
            hint = suggest(word, self._characters) or "Add it to the table 'characters' first."
            self.fault(number, column, "unknown-term", f"{word[:60]!r} is not in the table 'characters'.", hint)
        return key

    def add(self, taxon: str, character: str, number: int, column: str, **cells: Any) -> None:
        """Add a statement, its figures in the unit of its character; two of one key (taxon, character, source, frequency) are a fault."""
        if not cells["source"]:
            cells |= {"source": self.cited.source, "locator": cells["locator"] or self.cited.locator}
        if cells["source"] not in self.knowledge.sources:
            self.fault(
                number,
                column,
                "unknown-term",
                f"The source {cells['source'][:60]!r} is not in the table 'sources'.",
                "Add it there, or name the source of the whole file with --source.",
            )
            return
        if cells["frequency"] not in FREQUENCIES or cells["exhaustive"] not in ("", "yes", "no"):
            self.fault(number, column, "choice", f"{cells['frequency'][:60]!r} or {cells['exhaustive'][:60]!r} is no word for it.", f"Use {FREQUENCIES[1:]}.")
            return
        unit = self.knowledge.characters[character].unit
        if unit and (value := in_unit(cells["value"], unit)) != cells["value"]:
            cells |= {"value": value, "printed": cells["printed"] or cells["value"]}
        cells["exhaustive"] = {"yes": True, "no": False}.get(cells["exhaustive"])
        statement = Statement(taxon=taxon, character=character, **cells)
        if statement.id in self.found:
            self.fault(number, column, "duplicate", f"{statement.id!r} is stated twice.", "Merge the two.")
        self.found[statement.id] = statement

    def fault(self, number: int, column: str, rule: str, message: str, fix: str) -> None:
        """Note a fault of the file."""
        self.faults.append(Fault(self.file, number, column, rule, message, fix))
