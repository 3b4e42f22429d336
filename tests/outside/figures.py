"""How well handbook descriptions are answered: `python -m tests.outside.figures` prints the table of README.md.

The descriptions of `descriptions.csv` rest on sources that no statement rests on. They are split by a digest of
their names: the order of what remains was tuned on one half, the figures of the other half are what counts.
"""

from __future__ import annotations

import csv
import hashlib
import statistics
import sys
from dataclasses import dataclass
from pathlib import Path

import lenticel
from lenticel.identify import identify
from lenticel.observation import Reader, read_observations
from lenticel.snapshot import Snapshot

FILE = Path(__file__).with_name("descriptions.csv")
FEWEST = 3
Rows = list[tuple[str, str]]


@dataclass(frozen=True)
class Figures:
    """Shares of descriptions: true species kept, kept with one slip allowed, first, among the first three; and the median left."""

    count: int
    kept: float
    one_slip: float
    first: float
    three: float
    left: float


def descriptions() -> dict[tuple[str, str], Rows]:
    """The observations of each (description, taxon)."""
    found: dict[tuple[str, str], Rows] = {}
    with FILE.open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines):
            found.setdefault((row["description"], row["taxon"]), []).append((row["character"], row["value"]))
    return found


def tuned(description: str) -> bool:
    """Whether a description belongs to the half that was tuned on."""
    return int(hashlib.sha1(description.encode()).hexdigest(), 16) % 2 == 0


def figures(snapshot: Snapshot, chosen: dict[tuple[str, str], Rows], season: str = "") -> Figures:
    """The figures of some descriptions, of the characters that can be seen in a season."""
    reader = Reader(snapshot)
    slips, ranks, left = [], [], []
    for (_, taxon), rows in chosen.items():
        seen = [row for row in rows if not season or season in reader.character(row[0].split("|")[0]).seasons]
        if len(seen) < FEWEST:
            continue
        answer = identify(snapshot, read_observations(reader, seen))
        order = [*answer.consistent, *answer.excluded]
        place = next(place for place, each in enumerate(order) if each.taxon == taxon)
        slips.append(order[place].slips)
        ranks.append(place + 1)
        left.append(len(answer.consistent))
    count = len(slips)
    return Figures(
        count,
        sum(each == 0 for each in slips) / count,
        sum(each <= 1 for each in slips) / count,
        sum(each == 1 for each in ranks) / count,
        sum(each <= 3 for each in ranks) / count,
        statistics.median(left),
    )


def table(snapshot: Snapshot) -> list[str]:
    """The figures as Markdown."""
    whole = descriptions()
    halves = {
        "tuned on": {key: rows for key, rows in whole.items() if tuned(key[0])},
        "kept apart": {key: rows for key, rows in whole.items() if not tuned(key[0])},
        "at least 10 observations, kept apart": {key: rows for key, rows in whole.items() if not tuned(key[0]) and len(rows) >= 10},
    }
    lines = [
        "| half | season | descriptions | species kept | with one slip | first | in first three | left (median) |",
        "| --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    for half, chosen in halves.items():
        for season in ("", "summer", "winter"):
            each = figures(snapshot, chosen, season)
            shares = " | ".join(f"{share:.0%}" for share in (each.kept, each.one_slip, each.first, each.three))
            lines.append(f"| {half} | {season or 'any'} | {each.count} | {shares} | {each.left:g} |")
    return lines


if __name__ == "__main__":
    sys.stdout.write("\n".join(table(lenticel.load())) + "\n")
