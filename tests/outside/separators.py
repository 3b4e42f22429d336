"""How often the trait by which a handbook parts two trees is among our first: `python -m tests.outside.separators` prints the table.

The rows of `separators.csv` were read twice: mostly from one book (reading 1), and, since that says little of others, from some ninety books,
universities, agencies and gardens, by readers who saw no answer of ours (readings 2 and 3). To the first, and to that half of the second which a digest
of the pair picks, the weights of `lenticel.telling` were fitted, and of them alone the failures were looked at. Of the other half, 100 rows, 75% were
found among the first three; then 74 of them, whose sources may be cited, became look-alike records themselves (reading 3), and tell nothing any more. The
rest, mostly of books that no table may cite, stays apart: few rows, of which nothing but the figures is known. A published character is found if one on
the same property is: a special case of it, such as the leaf's colour in autumn for the leaf's colour, or the other way round; or one of SAME.
"""

from __future__ import annotations

import csv
import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import lenticel
from lenticel.compare import compare
from lenticel.model import Knowledge
from lenticel.snapshot import Snapshot
from tests.benchmarks.timing import table

FILE = Path(__file__).with_name("separators.csv")
FIRST = 3
# Characters that say the same of a plant in two ways: one scar, two or three are a pattern of that many dots, scales are counted one by one or in pairs, and
# a twig that smells rank has that kind of smell. Settled by the definitions of the characters, for both halves alike.
SAME = {"bundle-scar-pattern": "bundle-scar-count", "bud-scale-pairs": "bud-scale-count", "twig-odour": "twig-smell"}
Row = dict[str, str]


@dataclass(frozen=True)
class Found:
    """Shares of rows: the published character first, among the first three, among the first five, anywhere; and stated of both taxa at all."""

    rows: int
    first: float
    three: float
    five: float
    listed: float
    stated: float


def rows() -> list[Row]:
    """The rows of the table."""
    with FILE.open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def tuned(row: Row) -> bool:
    """Whether a row is one of which the failures may be looked at: all but half of the second reading."""
    return row["reading"] != "2" or int(hashlib.sha1("|".join(sorted((row["one"], row["other"]))).encode()).hexdigest(), 16) % 2 == 0


def root(known: Knowledge, character: str) -> str:
    """The broadest character of which one is a special case, or what stands for it in SAME."""
    last = known.broadest(character)
    return SAME.get(last, last)


def place(snapshot: Snapshot, row: Row) -> int:
    """The place of the published character among the separators, from 1; 0 if it is none."""
    known = snapshot.knowledge
    wanted = {root(known, each) for each in row["characters"].split("|")}
    answer = compare(snapshot, [row["one"], row["other"]], season=row["season"])
    return next((place for place, each in enumerate(answer.separators, 1) if root(known, each.character) in wanted), 0)


def stated(snapshot: Snapshot, row: Row) -> bool:
    """Whether anything is stated of both taxa for a published character."""
    known = snapshot.knowledge
    lines = [
        {(each.taxon, root(known, each.character)) for each in known.statements.values() if each.taxon in set(known.lineage(row[side]))}
        for side in ("one", "other")
    ]
    wanted = {root(known, each) for each in row["characters"].split("|")}
    return any(all(any(character == each for _, character in line) for line in lines) for each in wanted)


def figures(snapshot: Snapshot, chosen: Iterable[Row]) -> Found:
    """The figures of some rows."""
    judged = list(chosen)
    places = [place(snapshot, row) for row in judged]
    among = [sum(0 < each <= limit for each in places) / len(judged) for limit in (1, FIRST, 5, 10**6)]
    return Found(len(judged), *among, sum(stated(snapshot, row) for row in judged) / len(judged))


def main() -> None:
    """Print the figures of both halves, and the failures of the one that may be looked at."""
    snapshot = lenticel.load()
    parts = {
        "fitted to, reading 1": [row for row in rows() if row["reading"] == "1"],
        "fitted to, reading 2": [row for row in rows() if row["reading"] == "2" and tuned(row)],
        "records since": [row for row in rows() if row["reading"] == "3"],
        "kept apart": [row for row in rows() if not tuned(row)],
    }
    found = {name: figures(snapshot, chosen) for name, chosen in parts.items()}
    lines = [
        [name, str(each.rows), *(f"{share:.1%}" for share in (each.first, each.three, each.five, each.listed, each.stated))] for name, each in found.items()
    ]
    print(table(["rows", "number", "first", "among three", "among five", "listed", "stated of both"], lines))
    for row in filter(tuned, rows()):
        if not 0 < (at := place(snapshot, row)) <= FIRST:
            print(f"{row['one']} / {row['other']} {row['season']}: {row['characters']} at {at}")


if __name__ == "__main__":
    main()
