"""Mending what is mechanical in tables: style, order and spelling, never what a row says.

Sound tables mean the same after as before: what a value allows, and every other cell but for blanks, is kept. A word is only
replaced where it means nothing as it stands and surely means one known term (`spelling`). A figure in another unit than its character's,
which is no sound one, is converted and rounded (`ranges`), and what stood there is kept as what is printed; so is another word for a state.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from lenticel.quantity import SPELLINGS, UNITS
from lenticel.ranges import in_unit, styled
from lenticel.schema import Column
from lenticel.sheets import Sheet, sheets
from lenticel.spelling import Words, folded
from lenticel.tables import ID

Cells = dict[str, str]
_ROUNDS = 4  # a unit or a character that was mended lets its values be mended in the next round
_YES = {"yes": "yes", "y": "yes", "true": "yes", "no": "no", "n": "no", "false": "no"}


@dataclass(frozen=True, slots=True, order=True)
class Mend:
    """One thing that was mended: where (row 1 is the header), what was done, the cell before and after ("" for whole rows and files).

    From `mend` the row is where it stands in the file as it is written now; from `mended`, which writes nothing, where it stands as yet.
    """

    file: str
    row: int
    column: str
    what: str
    was: str = ""
    now: str = ""

    def __str__(self) -> str:
        cell = f"{self.column}: " if self.column else ""
        return f"{self.file}:{self.row}: {cell}{self.what}" + (f": {self.was!r} is now {self.now!r}" if self.column else "") + "."


def mend(folder: Path) -> list[Mend]:
    """Mend every table file of a folder, in place; what was mended, in the order of files and rows. Mending again mends nothing."""
    found: list[Mend] = []
    for sheet, mends in mended(folder):
        found += _as_it_stands(sheet, mends)
        if mends:
            sheet.path.write_bytes(sheet.written())
    return sorted(found, key=lambda each: (each.file, each.row))  # within a row in the order in which it was done


def _as_it_stands(sheet: Sheet, mends: Iterable[Mend]) -> Iterator[Mend]:
    """The mends with their rows as these stand in the mended sheet; those within a row that was taken out are gone with it."""
    now = {1: 1} | {number: place for place, number in enumerate(sheet.numbers, 2)}
    return (replace(each, row=now[each.row]) for each in mends if each.row in now)


def mended(folder: Path) -> list[tuple[Sheet, list[Mend]]]:
    """Each table file of a folder as it would be after mending, and what would be mended in it; nothing is written."""
    whole = sheets(folder)
    found = [[Mend(sheet.label, 1, "", f"wrote {what} as it should be") for what in sheet.tidied] for sheet in whole]
    for _ in range(_ROUNDS):
        more = list(map(_identifiers, whole))  # first, so that what refers to them can follow
        terms = _Terms(whole)
        for sheet, mends, new in zip(whole, found, more, strict=True):
            new += [each for place in range(len(sheet.rows)) for each in _row(sheet, place, terms)]
            new += _repeated(sheet) + _ordered(sheet, terms)
            mends += new
        if not any(more):
            break
    return list(zip(whole, found, strict=True))


def _identifiers(sheet: Sheet) -> list[Mend]:
    column = next((place for place, each in enumerate(sheet.table.columns) if each.kind == "id"), None)
    found: list[Mend] = []
    if column is None:
        return found
    taken = {tuple(row[: column + 1]) for row in sheet.rows}  # in the table of states the character comes before the identifier
    for row, number in zip(sheet.rows, sheet.numbers, strict=True):
        if len(row) != len(sheet.header):
            continue
        was, now = row[column], folded(row[column])
        if not ID.fullmatch(was) and ID.fullmatch(now) and (*row[:column], now) not in taken:
            row[column] = now
            found.append(Mend(sheet.label, number, sheet.header[column], "spelt the identifier as identifiers are", was, now))
    return found


class _Terms:
    """The words for every term of the tables, and the order of the terms that statements are sorted by."""

    def __init__(self, whole: list[Sheet]) -> None:
        self.rows: dict[str, list[Cells]] = {}
        for sheet in whole:
            self.rows.setdefault(sheet.table.name, []).extend(
                {name: cell.strip() for name, cell in zip(sheet.header, row, strict=True)} for row in sheet.rows if len(row) == len(sheet.header)
            )
        others: dict[str, list[str]] = {}
        for row in self.rows.get("names", []):
            others.setdefault(row["taxon"], []).append(row["name"])
        self.words = {
            "taxa": self._words("taxa", lambda row: (row["scientific_name"], row["common_name"], *others.get(row["id"], ()))),
            "sources": self._words("sources", lambda _: ()),
            "cautions": self._words("cautions", lambda _: ()),
            "characters": self._words("characters", lambda row: (row["label"], *row["synonyms"].split("|"))),
        }
        self.characters = {row["id"]: row for row in self.rows.get("characters", [])}
        self.order = {name: {row["id"]: place for place, row in enumerate(self.rows.get(name, []))} for name in ("taxa", "characters")}
        self._states: dict[str, Words] = {}

    def _words(self, table: str, also: Callable[[Cells], Iterable[str]], character: str = "") -> Words:
        """The words of a table's terms (of states, those of a character). An identifier that two rows claim stands for neither of them."""
        rows = [row for row in self.rows.get(table, []) if not character or self.words["characters"].meant(row["character"]) == character]
        claims = Counter(row["id"] for row in rows)
        return Words({row["id"]: also(row) for row in rows if row["id"] and claims[row["id"]] == 1})

    def states(self, character: str) -> Words:
        """The words for the states that a character takes."""
        seen: set[str] = set()
        while character in self.characters and self.characters[character]["broader"] and character not in seen:
            seen.add(character)
            character = self.words["characters"].meant(self.characters[character]["broader"])
        if character not in self._states:
            self._states[character] = self._words("states", lambda row: (row["label"], *row["synonyms"].split("|")), character)
        return self._states[character]


def _row(sheet: Sheet, place: int, terms: _Terms) -> Iterator[Mend]:
    row = sheet.rows[place]
    if len(row) != len(sheet.header):
        return
    cells = dict(zip(sheet.header, row, strict=True))
    for column in sheet.table.columns:
        printed = was = cells[column.name]
        for what, step in _STEPS:
            now = step(sheet.table.name, column, cells, terms)
            if now != cells[column.name]:
                was, cells[column.name] = cells[column.name], now
                yield Mend(sheet.label, sheet.numbers[place], column.name, what, was, now)
                if what == _CONVERTED and not re.search(r"\d", quoted := cells["printed"].strip()):
                    cells["printed"] = "; ".join(filter(None, (quoted, printed.strip())))
                    yield Mend(sheet.label, sheet.numbers[place], "printed", "kept the figure as printed", quoted, cells["printed"])
                if what == _NAMED and _by_other_words(sheet.table.name, column, cells, terms, was) and not cells["printed"].strip():
                    cells["printed"] = was
                    yield Mend(sheet.label, sheet.numbers[place], "printed", "kept the word as printed", "", was)
    sheet.rows[place] = list(cells.values())


def _edges(table: str, column: Column, cells: Cells, terms: _Terms) -> str:
    return cells[column.name].strip(" \t\n\r\xa0")


def _form(table: str, column: Column, cells: Cells, terms: _Terms) -> str:
    """The cell in the form of its kind: lists without gaps, yes and no, decimal points, dates with hyphens."""
    cell = cells[column.name]
    if column.kind in ("list", "refs") or (column.name == "value" and _kind(cells, terms) == "states"):
        return "|".join(dict.fromkeys(word.strip() for word in cell.split("|") if word.strip()))
    if column.kind in ("yesno", "tristate"):
        return _YES.get(cell.casefold(), cell)
    if column.kind in ("number", "slack"):
        return re.sub(r"^(\d+),(\d{1,2})(?=%?$)", r"\1.\2", cell.replace(" ", ""))
    if column.kind == "date":
        return _iso(cell)
    if column.kind == "condition":
        return re.sub(r"\s*:\s*(?=\S)", ": ", re.sub(r"\s*\|\s*", "|", cell), count=1)
    if (table, column.name) == ("about", "iri") and cell and not cell.endswith("/"):
        return f"{cell}/"
    return cell


def _iso(cell: str) -> str:
    found = re.fullmatch(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})", cell)
    try:
        return date(*(int(each) for each in found.groups())).isoformat() if found else cell
    except ValueError:
        return cell


def _term(table: str, column: Column, cells: Cells, terms: _Terms) -> str:
    """The cell with known terms in place of other words for them."""
    cell = cells[column.name]
    if column.kind == "condition" and cell.count(": ") == 1:
        character, states = cell.split(": ")
        character = terms.words["characters"].meant(character)
        return f"{character}: {_each(terms.states(character), states)}"
    if (table, column.name) == ("characters", "unit"):
        return SPELLINGS.get(cell, cell) if cell else cell
    words = _words_for(table, column, cells, terms)
    return _each(words, cell) if words and cell else cell


def _words_for(table: str, column: Column, cells: Cells, terms: _Terms) -> Words | None:
    if column.refers:
        return terms.words[column.refers]
    if column.choices:
        return Words(dict.fromkeys(column.choices, ()))
    states = (table == "states" and column.name in ("parent", "confusable_with")) or (table == "statements" and column.name == "value")
    return terms.states(cells["character"]) if states and (table == "states" or _kind(cells, terms) == "states") else None


def _each(words: Words, cell: str) -> str:
    parts = [words.meant(word) for word in re.split(r"\s*[|,;]\s*", cell)]
    if not set(parts) <= words.ids:  # then a comma may be part of a word
        parts = [words.meant(word) for word in cell.split("|")]
    return "|".join(dict.fromkeys(parts))


def _kind(cells: Cells, terms: _Terms) -> str:
    return terms.characters.get(cells.get("character", ""), {}).get("kind", "")


def _range(change: Callable[[str, str], str]) -> Callable[[str, Column, Cells, _Terms], str]:
    def step(table: str, column: Column, cells: Cells, terms: _Terms) -> str:
        cell = cells[column.name]
        ranged = (table, column.name) == ("statements", "value") and _kind(cells, terms) not in ("", "states")
        unit = terms.characters[cells["character"]]["unit"] if ranged else ""
        return change(cell, unit) if unit in UNITS and cell else cell

    return step


def _by_other_words(table: str, column: Column, cells: Cells, terms: _Terms, was: str) -> bool:
    """Whether a statement named its states by other words than the tables', which may be those of the page."""
    words = _words_for(table, column, cells, terms) if (table, column.name) == ("statements", "value") else None
    return words is not None and any(words.called(word.strip()) for word in re.split(r"[|,;]", was))


_CONVERTED, _NAMED = "converted to the unit of the character", "named the known term"
_STEPS: tuple[tuple[str, Callable[[str, Column, Cells, _Terms], str]], ...] = (
    ("took blanks from the edges", _edges),
    ("wrote it in the form of its column", _form),
    (_NAMED, _term),
    ("wrote the range in the style of the tables", _range(styled)),
    (_CONVERTED, _range(in_unit)),
)


def _repeated(sheet: Sheet) -> list[Mend]:
    first: dict[tuple[str, ...], int] = {}
    found: list[Mend] = []
    for number, row in zip(sheet.numbers, sheet.rows, strict=True):
        if first.setdefault(tuple(row), number) != number:
            found.append(Mend(sheet.label, first[tuple(row)], "", "took out another row that says the same"))
    kept = [place for place, number in enumerate(sheet.numbers) if number in first.values()]
    sheet.rows, sheet.numbers = [sheet.rows[place] for place in kept], [sheet.numbers[place] for place in kept]
    return found


def _ordered(sheet: Sheet, terms: _Terms) -> list[Mend]:
    """Statements stand in the order of their taxa and characters; no other order may be changed, since it says something or nothing depends on it."""
    if sheet.table.name != "statements" or any(len(row) != len(sheet.header) for row in sheet.rows):
        return []
    taxa, characters = terms.order["taxa"], terms.order["characters"]
    if not all(row[0] in taxa and row[1] in characters for row in sheet.rows):
        return []
    order = sorted(range(len(sheet.rows)), key=lambda place: (taxa[sheet.rows[place][0]], characters[sheet.rows[place][1]]))
    moved = next((sheet.numbers[place] for due, place in enumerate(order) if due != place), 0)
    if not moved:
        return []
    sheet.rows, sheet.numbers = [sheet.rows[place] for place in order], [sheet.numbers[place] for place in order]
    return [Mend(sheet.label, moved, "", "put the statements in the order of their taxa and characters")]
