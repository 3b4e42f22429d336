"""Taking a sheet that readers filled in into the table of reviews: what can be taken is taken, and every line that cannot is told."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from lenticel.check import review_faults
from lenticel.curation import Review
from lenticel.errors import BadFile, Fault, suggest
from lenticel.model import Statement
from lenticel.schema import TABLES
from lenticel.tables import Row, record_of
from lenticel.taking import sound, take

TABLE = TABLES["reviews"]
MUST = {"statement", "wording", "verdict"}
FINDINGS = ("correction", "note")


@dataclass(frozen=True, slots=True)
class TakenBack:
    """What became of the lines of a sheet.

    `taken` are the reviews that are new in the table, `already` counts those that it held before, `blank` the lines that nobody
    filled in. `outdated` names the statements that changed or went since the sheet was printed: their verdict is kept, for the wording
    that was read. `faults` are the lines that could not be taken; they stand in the sheet as before.
    """

    taken: tuple[Review, ...]
    already: int
    blank: int
    outdated: tuple[str, ...]
    faults: tuple[Fault, ...]


def take_back(folder: Path, sheet: Path, *, by: str = "", date: str = "", gone: bool = False) -> TakenBack:
    """Take the verdicts of a sheet into a folder of tables; the same sheet can be taken again.

    Args:
        folder: the tables.
        sheet: CSV with the columns of `lenticel review sheet`; of these only `statement`, `wording` and `verdict` must be there.
        by: who read, for lines that do not say.
        date: when, for lines that do not say.
        gone: whether verdicts on statements that are not in the tables any more are taken too.

    Raises:
        BadFile: the sheet cannot be read at all.
        FaultyTables: the tables have faults already.
    """
    loaded = sound(folder)
    known = dict(loaded.knowledge.reviews)
    taken: list[Review] = []
    faults: list[Fault] = []
    already = blank = 0
    for row in _rows(sheet, {"by": by, "date": date}):
        if not row.cells["verdict"] and not any(row.cells[name] for name in FINDINGS):
            blank += 1
            continue
        review = _review(row, None if gone else loaded.knowledge.statements, known, faults)
        if review is None:
            continue
        if review.id in known:
            already += 1
        else:
            known[review.id] = review
            taken.append(review)
    if taken:
        take(folder, loaded, replace(loaded.knowledge, reviews=known))
    wording = {key: each.wording for key, each in loaded.knowledge.statements.items()}
    outdated = tuple(each.statement for each in taken if wording.get(each.statement) != each.wording)
    return TakenBack(tuple(taken), already, blank, outdated, tuple(sorted(faults)))


def _review(row: Row, there: Mapping[str, Statement] | None, known: Mapping[str, Review], faults: list[Fault]) -> Review | None:
    """The review of a line, or None with its faults noted; its statement must be among those `there`, if they are given."""
    found: list[Fault] = []
    review: Review | None = record_of(row, found)
    if review is not None:
        found += _line_faults(row, review, there, known)
    faults += found
    return None if found else review


def _line_faults(row: Row, review: Review, there: Mapping[str, Statement] | None, known: Mapping[str, Review]) -> Iterator[Fault]:
    yield from review_faults(row, review)
    if there is not None and review.statement not in there:
        near = suggest(review.statement, (key for key in there if key.startswith(f"{review.statement.partition('.')[0]}.")))
        fix = f"{near} If it went since it was read, take the sheet with --gone.".strip()
        yield row.fault("statement", "unknown-term", f"There is no statement {review.statement[:80]!r}.", fix)
    other = known.get(review.id)
    if other and other != review:
        message = f"{review.by} said {other.verdict!r} of this wording on the same day already, or gave another reason."
        yield row.fault("verdict", "duplicate", message, "Leave one of the two, here or in the table of reviews; or give the day of the later reading.")


def _rows(sheet: Path, otherwise: Mapping[str, str]) -> Iterator[Row]:
    """The lines of a sheet as rows of the table of reviews; what parts the cells may be a comma, a semicolon or a tab."""
    try:
        text = sheet.read_bytes().decode("utf-8-sig")
        for mark in ",;\t":
            lines = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
            header = [cell.strip().casefold() for cell in next(lines, [])]
            if set(header) >= MUST:
                break
        else:
            raise BadFile(f"{sheet.name!r} does not begin with the header of a sheet.", "Keep the first line of what `lenticel review sheet` printed.")
        numbered = [(number, cells) for number, cells in enumerate(lines, start=2) if any(cells)]
    except OSError as error:
        raise BadFile(f"{sheet.name!r} cannot be opened: {error.strerror}.", "Name a file that is there.") from None
    except UnicodeDecodeError:
        raise BadFile(f"{sheet.name!r} is not UTF-8.", "Save it as CSV in UTF-8.") from None
    except csv.Error as error:
        raise BadFile(f"{sheet.name!r} is not sound CSV: {error}.", "Close every quote.") from None
    for number, cells in numbered:
        given = {name: cell.strip() for name, cell in zip(header, cells, strict=False)}
        given["verdict"] = given.get("verdict", "").casefold()
        yield Row(TABLE, sheet.name, number, {column.name: given.get(column.name) or otherwise.get(column.name, "") for column in TABLE.columns})
