"""The part of faulty tables that is sound, for whoever wants to read while a draft lies open."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from lenticel.build import HARMLESS, judged
from lenticel.errors import Fault, FaultyTables
from lenticel.snapshot import Snapshot
from lenticel.tables import Row, records_of, rows_in

DRAFTED = ("characters", "states", "sources")  # a row of these may go where it has blanks, since nothing can rest on it as yet
MOST = 6  # taxa that are named


@dataclass(frozen=True, slots=True)
class Sound:
    """The knowledge in what is sound, and the rows that were left out."""

    snapshot: Snapshot
    left_out: tuple[Row, ...]

    def __str__(self) -> str:
        """What was left out, in a line; "" if nothing was."""
        taxa = Counter(row.cells["taxon"] for row in self.left_out if row.table.name == "statements")
        told = [f"{count} statement{'s' * (count != 1)} on {taxon or 'no taxon'}" for taxon, count in taxa.most_common(MOST)]
        told += [f"statements on {len(taxa) - MOST} more taxa"] * (len(taxa) > MOST)
        told += [f"{row.table.name}: {row.cells['id']}" for row in self.left_out if row.table.name in DRAFTED]
        return f"Left out for faults, which `lenticel check` names: {', '.join(told)}." if told else ""


def sound_part(folder: Path) -> Sound:
    """The knowledge in a folder of tables without the statements that have faults, and without drafted terms that have blanks.

    What is not stated is unknown and rules nothing out, so that what the rest says is less, but not wrong. For that, with a faulty
    statement all others on its taxon and character go: without it they would seem to be all that is known. Faults elsewhere, say
    in a caution, are not got round.

    Raises:
        FaultyTables: there are some; the error lists all faults.
        OutsideFragment: a bound does not fit the arrays.
    """
    rows, unread = rows_in(folder)
    faults, snapshot = judged(records_of(rows, unread))
    first, left_out = faults, list[Row]()
    while snapshot is None or not _harmless(faults):
        gone = _bound_to_go(rows, [each for each in faults if not _harmless([each])])
        if not gone:
            raise FaultyTables(first)
        left_out += gone
        places = {(row.file, row.number) for row in gone}
        rows = {name: [row for row in table if (row.file, row.number) not in places] for name, table in rows.items()}
        faults, snapshot = judged(records_of(rows, unread))
    return Sound(snapshot, tuple(left_out))


def _harmless(faults: Iterable[Fault]) -> bool:
    return all(each.rule in HARMLESS for each in faults)


def _bound_to_go(rows: Mapping[str, Iterable[Row]], faults: Iterable[Fault]) -> list[Row]:
    """The rows to leave out for some faults; none if one of these lies where nothing may be left out."""
    at = {(row.file, row.number): row for table in rows.values() for row in table}
    cells: set[tuple[str, str]] = set()
    terms: set[tuple[str, str]] = set()
    for fault in faults:
        row = at.get((fault.file, fault.row))
        if row and row.table.name == "statements":
            cells.add(_cell(row))
        elif row and row.table.name in DRAFTED and fault.rule == "required":
            terms.add((row.table.name, row.cells["id"]))
        else:
            return []
    gone = [row for name in ("statements", "resolutions") for row in rows[name] if _cell(row) in cells]
    gone += [row for name in DRAFTED for row in rows[name] if (name, row.cells["id"]) in terms]
    return gone + [row for row in rows["states"] if ("characters", row.cells["character"]) in terms and row not in gone]


def _cell(row: Row) -> tuple[str, str]:
    return row.cells["taxon"], row.cells["character"]
