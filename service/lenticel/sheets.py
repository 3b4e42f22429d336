"""The table files as they stand, sound or not: their cells, where these lie in the text, and writing them back."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from lenticel.misread import is_utf16, text_of
from lenticel.schema import TABLES, Table
from lenticel.tables import table_files

_BREAK = re.compile(r"\r\n|\n|\r")
_TOKEN = re.compile(r'"(?:[^"]|"")*"|,|\r\n|\n|\r|[^,"\r\n]+|"')


@dataclass
class Sheet:
    """One file of a table; `rows` leaves the header out, and `numbers` says which row of the file each was (1 is the header).

    `tidied` tells what had to be understood to read it at all, in words.
    """

    table: Table
    path: Path
    label: str
    rows: list[list[str]]
    numbers: list[int]
    tidied: list[str]

    @property
    def header(self) -> list[str]:
        """The names of the columns, as they are due."""
        return [column.name for column in self.table.columns]

    def written(self) -> bytes:
        """The file as it should be stored: UTF-8, commas, quotes only where needed, line feeds, no empty lines."""
        return csv_bytes([self.header, *self.rows])


def csv_bytes(rows: Iterable[Iterable[str]]) -> bytes:
    """Rows as the tables store them: UTF-8, commas, quotes only where needed, line feeds."""
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    return text.getvalue().encode()


def sheets(folder: Path) -> list[Sheet]:
    """Every file of a folder of tables that can be read without guessing; the check tells what is wrong with the others."""
    found = (_sheet(table, path, path.relative_to(folder).as_posix()) for table in TABLES.values() for path in table_files(folder, table.name))
    return [each for each in found if each]


def _sheet(table: Table, path: Path, label: str) -> Sheet | None:
    due = [column.name for column in table.columns]
    try:
        content = path.read_bytes()
        text = text_of(content)
        for mark in ",;\t":
            numbered = [(number, row) for number, row in enumerate(csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True), 1) if any(row)]
            named = [cell.strip().casefold() for cell in numbered[0][1]] if numbered else []
            if sorted(named) == sorted(due):
                break
        else:
            return None
    except (UnicodeDecodeError, csv.Error):
        return None
    places = [named.index(name) for name in due]
    rows = [[row[place] for place in places] if len(row) == len(due) else row for _, row in numbered[1:]]
    sheet = Sheet(table, path, label, rows, [number for number, _ in numbered[1:]], [])
    if is_utf16(content):
        sheet.tidied.append("the encoding, which was UTF-16,")
    if mark != ",":
        sheet.tidied.append("what parts the cells")
    if numbered[0][1] != due:
        sheet.tidied.append("the header")
    if not sheet.tidied and sheet.written() != content:
        sheet.tidied.append("the form of the file (quotes, line ends, empty lines)")
    return sheet


def places(text: str) -> Iterator[list[tuple[int, int]]]:
    """Where each cell of each row of a CSV text begins: line and column, from 1, counted in characters.

    The last place of a row is where a further cell would begin. An empty line is a row too.
    """
    line, begin, row = 1, 0, [(1, 1)]
    for token in _TOKEN.finditer(text + "\n"):
        ends = token[0][0] in "\r\n"
        if ends or token[0] == ",":
            row.append((line, token.start() - begin + 2))
        breaks = list(_BREAK.finditer(token[0]))
        if breaks:
            line, begin = line + len(breaks), token.start() + breaks[-1].end()
        if ends:
            yield row
            row = [(line, 1)]
