"""Every row of `separators.csv` names two taxa and characters that are held, and says where the trait is printed.

A row says: this source tells these two taxa apart by this trait; any one of `characters` expresses it. The rows were
written from the sources, without a look at what a comparison answers. Most of reading 1 are couplets of the keys of Otis 1915.
"""

from __future__ import annotations

import csv
from pathlib import Path

from lenticel.snapshot import Snapshot

FILE = Path(__file__).with_name("separators.csv")
COLUMNS = ["reading", "one", "other", "characters", "season", "source", "locator", "printed"]
SEASONS = ("", "spring", "summer", "autumn", "winter")


def rows() -> list[dict[str, str]]:
    """The rows of the table."""
    with FILE.open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def faults(trees: Snapshot, row: dict[str, str]) -> list[str]:
    """What is wrong with a row."""
    characters, taxa = trees.knowledge.characters, trees.knowledge.taxa
    found = [f"{taxon} is no taxon" for taxon in (row["one"], row["other"]) if taxon not in taxa]
    if row["one"] == row["other"]:
        found.append("a taxon is set against itself")
    if row["season"] not in SEASONS:
        found.append(f"{row['season']} is no season")
    for name in row["characters"].split("|"):
        if name not in characters:
            found.append(f"{name} is no character")
        elif row["season"] in SEASONS[1:] and row["season"] not in characters[name].seasons:
            found.append(f"{name} cannot be seen in {row['season']}")
    return found + [f"{name} is empty" for name in ("source", "locator", "printed") if not row[name]]


def test_there_are_at_least_a_hundred_pairs() -> None:
    with FILE.open(encoding="utf-8", newline="") as lines:
        assert next(csv.reader(lines)) == COLUMNS
    pairs = {frozenset((row["one"], row["other"])) for row in rows()}
    print(f"{len(rows())} published separations of {len(pairs)} pairs")
    assert len(pairs) >= 100


def test_every_row_names_what_is_held_and_where_it_is_printed(trees: Snapshot) -> None:
    found = [(row["one"], row["other"], faults(trees, row)) for row in rows()]
    assert found
    assert not [each for each in found if each[2]]


def test_no_source_is_counted_twice_for_one_pair_and_season() -> None:
    said = [(frozenset((row["one"], row["other"])), row["season"], row["source"]) for row in rows()]
    assert len(said) == len(set(said))
