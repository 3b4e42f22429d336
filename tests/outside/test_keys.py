"""The keys of handbooks, walked lead by lead: at every couplet the target stays consistent, at the end it is among those left.

Otis, Charles Herbert (1915), Michigan Trees, the summer and winter keys to the species. A failure must be
explained by a row of `key_failures.csv` that names the disagreement; a row that is no longer needed is itself a failure.
"""

from __future__ import annotations

import csv
import statistics
from pathlib import Path

from lenticel.identify import identify
from lenticel.observation import Observation, Reader
from lenticel.snapshot import Snapshot
from tests.outside.keys import Walk, paths

FAILURES = Path(__file__).with_name("key_failures.csv")


def explained() -> set[tuple[str, str, str, str]]:
    with FAILURES.open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    assert all(row["why"] for row in rows)
    return {(row["key"], row["lead"], row["taxon"], row["character"]) for row in rows}


def failures(snapshot: Snapshot, reader: Reader, walk: Walk) -> list[tuple[str, str, str, str]]:
    """The facts of a path that put the target out."""
    found = []
    for lead in walk.leads:
        for character, value in lead.facts:
            answer = identify(snapshot, [reader.observation(character, value)], explain=0)
            if walk.taxon not in {each.taxon for each in answer.consistent}:
                found.append((walk.key, lead.name, walk.taxon, character))
    return found


def test_the_target_of_every_published_path_stays_to_its_end(trees: Snapshot, reader: Reader) -> None:
    walks = list(paths())
    failed = {each for walk in walks for each in failures(trees, reader, walk)}
    assert failed == explained(), f"unexplained: {sorted(failed - explained())}; no longer needed: {sorted(explained() - failed)}"
    left = []
    for walk in walks:
        kept: list[Observation] = [
            reader.observation(*fact) for lead in walk.leads for fact in lead.facts if (walk.key, lead.name, walk.taxon, fact[0]) not in failed
        ]
        remain = [each.taxon for each in identify(trees, kept, explain=0).consistent]
        assert walk.taxon in remain
        own = {each.taxon for each in walks if each.key == walk.key}
        left.append(len(own & set(remain)))
    facts = sum(len(lead.facts) for walk in walks for lead in walk.leads)
    unsaid = sum(len(lead.unsaid) for walk in walks for lead in walk.leads)
    keys = {walk.key for walk in walks}
    print(
        f"\n{len(keys)} keys, {len(walks)} paths to {len({walk.taxon for walk in walks})} taxa: {facts} facts, {unsaid} that no character expresses; "
        f"{len(failed)} put their target out; of a key's own taxa {statistics.mean(left):.1f} are left at the end in the mean"
    )
    assert len(keys) >= 25
    assert len(walks) >= 100


def test_a_path_with_a_wrong_turn_is_noticed(trees: Snapshot, reader: Reader) -> None:
    walk = next(each for each in paths() if each.key == "acer-summer" and each.taxon == "acer-negundo")
    wrong = Walk(walk.key, walk.source, "acer-platanoides", walk.leads)
    assert failures(trees, reader, wrong)
