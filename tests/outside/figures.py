"""How well handbook descriptions are answered: `python -m tests.outside.figures` prints the table of README.md.

The descriptions of `descriptions.csv` rest on sources that no statement rests on. Those of the first reading are split by
a digest of their names: the order of what remains was tuned on one half, the figures of the other half are what counts.
Those of the second reading were read after that, without a look at any answer.
"""

from __future__ import annotations

import csv
import hashlib
import statistics
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

import lenticel
from lenticel.engine import CONTRADICTS
from lenticel.identify import identify
from lenticel.judging import judged
from lenticel.observation import Reader, read_observations
from lenticel.probing import usual
from lenticel.snapshot import Snapshot, members_of

FILE = Path(__file__).with_name("descriptions.csv")
FEWEST = 3
MANY = 10
Rows = list[tuple[str, str]]
Descriptions = dict[tuple[str, str], Rows]


@dataclass(frozen=True)
class Figures:
    """Shares of descriptions: true species kept, kept with one slip allowed, first, among the first three; and the median left."""

    count: int
    kept: float
    one_slip: float
    first: float
    three: float
    left: float


def descriptions() -> Descriptions:
    """The observations of each (description, taxon)."""
    found: Descriptions = {}
    with FILE.open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines):
            found.setdefault((row["description"], row["taxon"]), []).append((row["character"], row["value"]))
    return found


def column(name: str) -> dict[str, str]:
    """What one column of the table says of each description."""
    with FILE.open(encoding="utf-8", newline="") as lines:
        return {row["description"]: row[name] for row in csv.DictReader(lines)}


def tuned(description: str) -> bool:
    """Whether a description of the first reading belongs to the half that was tuned on."""
    return int(hashlib.sha1(description.encode()).hexdigest(), 16) % 2 == 0


def figures(snapshot: Snapshot, chosen: Descriptions, season: str = "") -> Figures:
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


def groups() -> dict[str, Descriptions]:
    """The descriptions of each row of the table: the halves of the first reading, and the second reading."""
    whole, reading = descriptions(), column("reading")
    first = {key: rows for key, rows in whole.items() if reading[key[0]] == "1"}
    apart = {key: rows for key, rows in first.items() if not tuned(key[0])}
    second = {key: rows for key, rows in whole.items() if reading[key[0]] == "2"}
    return {
        "tuned on": {key: rows for key, rows in first.items() if tuned(key[0])},
        "kept apart": apart,
        f"at least {MANY} observations, kept apart": {key: rows for key, rows in apart.items() if len(rows) >= MANY},
        "read later": second,
        f"at least {MANY} observations, read later": {key: rows for key, rows in second.items() if len(rows) >= MANY},
    }


def by_source() -> dict[str, Descriptions]:
    """The descriptions of each source that has many of them, and those of all the others together."""
    whole, source = descriptions(), {name: text.split(",")[0] for name, text in column("source").items()}
    counts = {each: sum(source[name] == each for name, _ in whole) for each in source.values()}
    found: dict[str, Descriptions] = {each: {} for each in sorted(counts) if counts[each] >= MANY} | {"all others": {}}
    for key, rows in whole.items():
        found[source[key[0]] if counts[source[key[0]]] >= MANY else "all others"][key] = rows
    return found


def line(group: str, season: str, each: Figures) -> str:
    """One row of the table."""
    shares = " | ".join(f"{share:.0%}" for share in (each.kept, each.one_slip, each.first, each.three))
    return f"| {group} | {season or 'any'} | {each.count} | {shares} | {each.left:g} |"


def table(snapshot: Snapshot) -> list[str]:
    """The figures as Markdown."""
    lines = [
        "| half | season | descriptions | species kept | with one slip | first | in first three | left (median) |",
        "| --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    for group, chosen in groups().items():
        lines += [line(group, season, figures(snapshot, chosen, season)) for season in ("", "summer", "winter")]
    return lines + [line(source, "", figures(snapshot, chosen)) for source, chosen in by_source().items()]


def excluded_by_one(snapshot: Snapshot) -> tuple[int, float, float]:
    """How many diagnostic quantities there are, and what share of the other taxa one of them puts out by itself, of all and of those of which it is known.

    What is seen is the middle of what is usual of a taxon; the mean is over taxa, then over quantities. Slack made wide would show here.
    """
    reader, known = Reader(snapshot), snapshot.knowledge
    lowest = members_of(snapshot.terminal, snapshot.taxa_count)
    found = []
    for key, character in known.characters.items():
        if character.kind not in ("measure", "count") or character.force != "diagnostic":
            continue
        said = lowest & members_of(snapshot.known[snapshot.layout[key].place], snapshot.taxa_count)
        values = [(row, usual(snapshot, snapshot.taxa[row], key)) for row in said.nonzero()[0]]
        out = [(row, judged(snapshot, reader.observation(key, value), wild=False).levels == CONTRADICTS) for row, value in values if value]
        if out and said.sum() > 1:
            found.append([np.mean([each[among].sum() / (among.sum() - 1) for _, each in out]) for among in (lowest, said)])
    of_all, of_known = np.mean(found, axis=0).tolist()
    return len(found), of_all, of_known


def main() -> None:
    """Print the figures."""
    snapshot = lenticel.load()
    count, of_all, of_known = excluded_by_one(snapshot)
    told = f"One measured or counted part of usual size puts out {of_all:.0%} of the other taxa by itself, {of_known:.0%} of those whose size is known"
    sys.stdout.write("\n".join([*table(snapshot), "", f"{told} (mean of {count} diagnostic quantities)."]) + "\n")


if __name__ == "__main__":
    main()
