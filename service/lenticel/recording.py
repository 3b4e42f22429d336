"""The rows that say who recorded statements, as few as tell it truly."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from lenticel.curation import Recorded
from lenticel.model import Knowledge, Statement


def unrecorded(knowledge: Knowledge, before: Knowledge | None = None) -> list[Statement]:
    """The statements of which no row says who recorded them; with an earlier version, also those that only a row of that version covers.

    A row on a taxon speaks for the statements that were there when it was written; one that came later needs a row of its own.
    """
    found: list[Statement] = []
    for each in knowledge.statements.values():
        recorded = knowledge.recorded_of(each)
        came_later = before is not None and each.id not in before.statements
        if recorded is None or (came_later and before is not None and before.recorded.get(recorded.id) == recorded):
            found.append(each)
    return found


def recorded_rows(knowledge: Knowledge, statements: Iterable[Statement], by: str, date: str) -> list[Recorded]:
    """The rows for statements that one person recorded on one day: one a taxon, or a taxon and source, where all of its statements are among them."""
    chosen = list(statements)
    count = _counted(knowledge.statements.values())
    here = _counted(chosen)
    rows: dict[str, Recorded] = {}
    for each in chosen:
        whole = next((group for group in _groups(each) if here[group] == count[group]), None)
        row = Recorded(*((whole[0], "", whole[1]) if whole else (each.taxon, each.character, each.source)), by, date)
        rows.setdefault(row.id, row)
    return list(rows.values())


def _groups(each: Statement) -> tuple[tuple[str, str], ...]:
    return ((each.taxon, ""), (each.taxon, each.source))


def _counted(statements: Iterable[Statement]) -> Counter[tuple[str, str]]:
    return Counter(group for each in statements for group in _groups(each))
