"""How often the trait by which a handbook parts two trees is among our first: `python -m tests.outside.separators` prints the table.

The rows of `separators.csv` were read in turns, by readers who saw no answer of ours: mostly from one book (reading 1); since that says little of others,
from some ninety books, universities, agencies and gardens (readings 2 and 3); from some forty others (reading 4); and from a dozen that nothing had been read
of before (reading 5). The weights of `lenticel.telling` were fitted to readings 1 and 3 and to half of reading 2, picked by a digest of the pair. Reading 3 are
74 rows of the other half, and 15 of a book on trees in winter, that have become look-alike records since, and so test nothing any more. Nothing was fitted to
readings 4 and 5; of half of reading 4, and of what is left of reading 2, the failures are not printed ("kept apart"). A published character is found if one on
the same property is: a special case of it, such as the leaf's colour in autumn for the leaf's colour, or the other way round; or one of SAME.

The look-alike records of common practice and from memory were written without sight of these rows or of our answers, and weigh in the places of these rows.
"""

from __future__ import annotations

import csv
import hashlib
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path

import lenticel
from lenticel.compare import compare
from lenticel.model import Knowledge, Lookalike
from lenticel.snapshot import Snapshot
from tests.benchmarks.timing import table

FILE = Path(__file__).with_name("separators.csv")
FIRST = 3
MANY = 6
HALVED = ("2", "4")  # readings of which half is kept apart
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


def rows(file: Path = FILE) -> list[Row]:
    """The rows of a table, this one if no other is named."""
    with file.open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def looked_at(row: Row) -> bool:
    """Whether a row is one of which the failures may be looked at: all but half of the second reading and of the fourth."""
    return row["reading"] not in HALVED or int(hashlib.sha1("|".join(sorted((row["one"], row["other"]))).encode()).hexdigest(), 16) % 2 == 0


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


@dataclass(frozen=True)
class Agreement:
    """Of records of pairs that many sources tell apart, the shares that name one of three characters.

    Those three are the ones that serve the records of the pair best (`hindsight`: no order can do better), those that the other sources name most
    often (`others`), or our first three if the record is withdrawn (`ours`). Records of common practice and from memory are left out throughout. The
    weights were fitted to these records among others: this says how well sources foretell each other, and is no test of ours.
    """

    records: int
    hindsight: float
    others: float
    ours: float


def agreement(snapshot: Snapshot) -> Agreement:
    """How well sources foretell each other, over the pairs of species that at least MANY published sources tell apart."""
    known = snapshot.knowledge
    pairs: dict[tuple[str, ...], list[Lookalike]] = {}
    for record in published(known):
        pairs.setdefault(record.taxa, []).append(record)
    hits: list[tuple[bool, bool, bool]] = []
    for records in pairs.values():
        if len({record.source for record in records}) >= MANY:
            told = {record.id: frozenset(root(known, each) for each in record.told_by) for record in records}
            best = set(best_three(list(told.values())))
            hits += [(bool(named & best), bool(named & most_named(told, key)), _found_without(snapshot, known.lookalikes[key])) for key, named in told.items()]
    return Agreement(len(hits), *(sum(each) / len(hits) for each in zip(*hits, strict=True)))


def published(known: Knowledge) -> Iterator[Lookalike]:
    """The look-alike records in print that say what tells two of the lowest taxa apart."""
    lowest = set(known.terminal)
    for record in known.lookalikes.values():
        if record.told_by and len(record.taxa) == 2 and lowest.issuperset(record.taxa) and known.sources[record.source].published:
            yield record


def best_three(told: Sequence[frozenset[str]]) -> tuple[str, ...]:
    """The three characters, or fewer if no more are named, of which most of some sets hold one."""
    characters = sorted(set().union(*told))
    return max(combinations(characters, min(FIRST, len(characters))), key=lambda three: sum(bool(named & set(three)) for named in told))


def most_named(told: Mapping[str, frozenset[str]], without: str) -> set[str]:
    """The three characters that most of the records name, but for one of them."""
    count = Counter(each for key, named in told.items() if key != without for each in sorted(named))
    return {each for each, _ in count.most_common(FIRST)}


def _found_without(snapshot: Snapshot, record: Lookalike) -> bool:
    known = snapshot.knowledge
    others = {key: each for key, each in known.lookalikes.items() if key != record.id and known.sources[each.source].published}
    body = replace(snapshot.body, knowledge=replace(known, lookalikes=others))
    row = {"one": record.taxa[0], "other": record.taxa[1], "season": "", "characters": "|".join(record.told_by)}
    return 0 < place(replace(snapshot, load_body=lambda: body, memo={}), row) <= FIRST


def main() -> None:
    """Print the figures of each part, how well sources foretell each other, and the failures that may be looked at."""
    snapshot, every = lenticel.load(), rows()
    parts = {
        "fitted to, reading 1": [row for row in every if row["reading"] == "1"],
        "fitted to, reading 2": [row for row in every if row["reading"] == "2" and looked_at(row)],
        "records since": [row for row in every if row["reading"] == "3"],
        "looked at, reading 4": [row for row in every if row["reading"] == "4" and looked_at(row)],
        "looked at, reading 5": [row for row in every if row["reading"] == "5"],
        "kept apart, reading 2": [row for row in every if row["reading"] == "2" and not looked_at(row)],
        "kept apart, reading 4": [row for row in every if row["reading"] == "4" and not looked_at(row)],
    }
    found = {name: figures(snapshot, chosen) for name, chosen in parts.items()}
    lines = [
        [name, str(each.rows), *(f"{share:.1%}" for share in (each.first, each.three, each.five, each.listed, each.stated))] for name, each in found.items()
    ]
    print(table(["rows", "number", "first", "among three", "among five", "listed", "stated of both"], lines))
    shares = agreement(snapshot)
    print(table(["pairs that six sources or more tell apart", "share of their records"], [
        ["records", str(shares.records)],
        ["name one of the three best in hindsight", f"{shares.hindsight:.1%}"],
        ["name one of the three that the other sources name most", f"{shares.others:.1%}"],
        ["name one of our first three, the record withdrawn", f"{shares.ours:.1%}"],
    ]))  # fmt: skip
    for row in filter(looked_at, every):
        if not 0 < (at := place(snapshot, row)) <= FIRST:
            print(f"{row['one']} / {row['other']} {row['season']}: {row['characters']} at {at}")


if __name__ == "__main__":
    main()
