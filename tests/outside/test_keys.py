"""The keys of handbooks, walked lead by lead: at every couplet the target stays consistent, at the end it is among those left.

Otis 1915, the summer and winter keys to the species; Apgar 1892, the key to the genera and the keys to the species; Deam 1921, the keys
to the families, genera and species; two groups of the winter key of Blakeslee and Jarvis 1913. `keys.txt` names them in full. A failure must
be explained by a row of `key_failures.csv` that names the disagreement; a row that is no longer needed is itself a failure.
"""

from __future__ import annotations

import csv
import statistics
from collections import Counter
from pathlib import Path

from lenticel.identify import identify
from lenticel.observation import Observation, Reader
from lenticel.snapshot import Snapshot
from tests.outside.keys import Walk, paths, wrong_turns

FAILURES = Path(__file__).with_name("key_failures.csv")
HELD_OUT = {"Apgar 1892": "Trees of the Northern United States", "Blakeslee & Jarvis 1913": "Trees in Winter", "Deam 1921": "Trees of Indiana"}


def explained() -> set[tuple[str, str, str, str]]:
    with FAILURES.open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    assert all(row["why"] for row in rows)
    return {(row["key"], row["lead"], row["taxon"], row["character"]) for row in rows}


def left_by(snapshot: Snapshot, reader: Reader, character: str, value: str) -> set[str]:
    """The taxa that one observation leaves."""
    answer = identify(snapshot, [reader.observation(character, value)], explain=0)
    return {each.taxon for each in answer.consistent}


def failures(snapshot: Snapshot, reader: Reader, walk: Walk) -> list[tuple[str, str, str, str]]:
    """The facts of a path that put the target out."""
    return [
        (walk.key, lead.name, walk.taxon, character)
        for lead in walk.leads
        for character, value in lead.facts
        if walk.taxon not in left_by(snapshot, reader, character, value)
    ]


def test_the_target_of_every_published_path_stays_to_its_end(trees: Snapshot, reader: Reader) -> None:
    walks = list(paths())
    failed = {each for walk in walks for each in failures(trees, reader, walk)}
    assert failed == explained(), f"unexplained: {sorted(failed - explained())}; no longer needed: {sorted(explained() - failed)}"
    for source in dict.fromkeys(walk.source for walk in walks):
        print(f"\n{source}: {counted([walk for walk in walks if walk.source == source], failed, trees, reader)}", end="")
    of = Counter(source for source, _ in {(walk.source, walk.key) for walk in walks})
    assert of["Otis 1915"] >= 26
    assert of["Apgar 1892"] >= 28
    assert of["Deam 1921"] >= 28
    assert len(walks) >= 450


def counted(walks: list[Walk], failed: set[tuple[str, str, str, str]], snapshot: Snapshot, reader: Reader) -> str:
    """How much was walked, and how many of a key's own taxa are left at the ends of its paths, the target always among them."""
    left = []
    for walk in walks:
        kept: list[Observation] = [
            reader.observation(*fact) for lead in walk.leads for fact in lead.facts if (walk.key, lead.name, walk.taxon, fact[0]) not in failed
        ]
        remain = {each.taxon for each in identify(snapshot, kept, explain=0).consistent}
        assert walk.taxon in remain
        left.append(len({each.taxon for each in walks if each.key == walk.key} & remain))
    leads = {(walk.key, lead.name): lead for walk in walks for lead in walk.leads}.values()
    keys = {walk.key for walk in walks}
    return (
        f"{len(keys)} keys, {len(walks)} paths to {len({walk.taxon for walk in walks})} taxa by {len(leads)} leads with "
        f"{sum(len(lead.facts) for lead in leads)} facts and {sum(len(lead.unsaid) for lead in leads)} that no character expresses; "
        f"{sum(each[0] in keys for each in failed)} put their target out; of a key's own taxa {statistics.mean(left):.1f} are left at the end in the mean"
    )


def test_most_wrong_turns_are_noticed_at_once(trees: Snapshot, reader: Reader) -> None:
    """The facts of the lead beside the right one put the taxon out, unless the two leads differ in what no character here expresses or sources disagree on."""
    seen, noticed = Counter[str](), Counter[str]()
    for source, taxon, lead in wrong_turns():
        seen[source] += 1
        noticed[source] += any(taxon not in left_by(trees, reader, *fact) for fact in lead.facts)
    print(*(f"\n{source}: {noticed[source]} of {seen[source]} wrong turns noticed" for source in seen), end="")
    assert seen.total() >= 1000
    assert noticed.total() >= 0.55 * seen.total()


def test_no_statement_rests_on_the_books_held_out(trees: Snapshot) -> None:
    cited = " ".join(f"{source.title} {source.container}" for source in trees.knowledge.sources.values()).casefold()
    assert "michigan trees" in cited
    assert not [title for title in HELD_OUT.values() if title.casefold() in cited]
    assert set(HELD_OUT) <= {walk.source for walk in paths()}


def test_a_path_with_a_wrong_turn_is_noticed(trees: Snapshot, reader: Reader) -> None:
    walk = next(each for each in paths() if each.key == "acer-summer" and each.taxon == "acer-negundo")
    wrong = Walk(walk.key, walk.source, "acer-platanoides", walk.leads)
    assert failures(trees, reader, wrong)
