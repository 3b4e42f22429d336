"""The keys of handbooks, walked lead by lead: at every couplet the target stays consistent, at the end it is among those left.

Otis 1915, the summer and winter keys to the species; Apgar 1892, the key to the genera and the keys to the species; Deam 1921, the keys
to the families, genera and species; two groups of the winter key of Blakeslee and Jarvis 1913. `keys.txt` names them in full. A failure must
be explained by a row of `key_failures.csv` that names the disagreement; a row that is no longer needed is itself a failure.
"""

from __future__ import annotations

import csv
import statistics
from collections import Counter
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path

import pytest

from lenticel.identify import TaxonVerdict, identify
from lenticel.observation import Reader
from lenticel.snapshot import Snapshot
from tests.outside.keys import Walk, paths, wrong_turns

FAILURES = Path(__file__).with_name("key_failures.csv")
HELD_OUT = {"Apgar 1892": "Trees of the Northern United States", "Blakeslee & Jarvis 1913": "Blakeslee", "Deam 1921": "Trees of Indiana"}

Judge = Callable[[str, str], Mapping[str, TaxonVerdict]]
Failure = tuple[str, str, str, str]  # key, lead, taxon, character


@pytest.fixture(scope="module")
def judge(trees: Snapshot, reader: Reader) -> Judge:
    """The verdict on every taxon by one observation; leads repeat each other's facts."""

    def verdicts(character: str, value: str) -> dict[str, TaxonVerdict]:
        answer = identify(trees, [reader.observation(character, value)], explain=0)
        return {each.taxon: each for each in (*answer.consistent, *answer.excluded)}

    return cache(verdicts)


def explained() -> set[Failure]:
    with FAILURES.open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    assert all(row["why"] for row in rows)
    return {(row["key"], row["lead"], row["taxon"], row["character"]) for row in rows}


def failures(judge: Judge, walk: Walk) -> list[Failure]:
    """The facts of a path that put the target out."""
    return [
        (walk.key, lead.name, walk.taxon, character)
        for lead in walk.leads
        for character, value in lead.facts
        if not judge(character, value)[walk.taxon].consistent
    ]


def test_the_target_of_every_published_path_stays_to_its_end(trees: Snapshot, reader: Reader, judge: Judge) -> None:
    walks = list(paths())
    failed = {each for walk in walks for each in failures(judge, walk)}
    assert failed == explained(), f"unexplained: {sorted(failed - explained())}; no longer needed: {sorted(explained() - failed)}"
    for source in dict.fromkeys(walk.source for walk in walks):
        own = [walk for walk in walks if walk.source == source]
        out = sum(each[0] in {walk.key for walk in own} for each in failed)
        print(f"\n{source}: {counted(own)}; {out} put their target out; {left(own, failed, trees, reader)}", end="")
    of = Counter(source for source, _ in {(walk.source, walk.key) for walk in walks})
    assert of["Otis 1915"] >= 26
    assert of["Apgar 1892"] >= 28
    assert of["Deam 1921"] >= 28
    assert len(walks) >= 450


def counted(walks: list[Walk]) -> str:
    """How much is walked, in words."""
    leads = {(walk.key, lead.name): lead for walk in walks for lead in walk.leads}.values()
    facts, unsaid = sum(len(lead.facts) for lead in leads), sum(len(lead.unsaid) for lead in leads)
    taxa, keys = {walk.taxon for walk in walks}, {walk.key for walk in walks}
    return f"{len(keys)} keys, {len(walks)} paths to {len(taxa)} taxa by {len(leads)} leads with {facts} facts and {unsaid} that no character expresses"


def left(walks: list[Walk], failed: set[Failure], snapshot: Snapshot, reader: Reader) -> str:
    """How many of a key's own taxa are left at the ends of its paths, in words; the target must be among them."""
    own: dict[str, set[str]] = {}
    for walk in walks:
        own.setdefault(walk.key, set()).add(walk.taxon)
    found = []
    for walk in walks:
        facts = [fact for lead in walk.leads for fact in lead.facts if (walk.key, lead.name, walk.taxon, fact[0]) not in failed]
        remain = {each.taxon for each in identify(snapshot, [reader.observation(*fact) for fact in facts], explain=0).consistent}
        assert walk.taxon in remain
        found.append(len(own[walk.key] & remain))
    return f"of a key's own taxa {statistics.mean(found):.1f} are left at the end in the mean"


def test_most_facts_of_the_paths_are_what_other_sources_usually_say(judge: Judge) -> None:
    """A target can also stay because nothing is known of it; that is counted apart."""
    for source in HELD_OUT:
        facts = {(walk.taxon, *fact) for walk in paths() if walk.source == source for lead in walk.leads for fact in lead.facts}
        verdicts = [judge(character, value)[taxon] for taxon, character, value in facts]
        agrees, unusual, silent = (sum(getattr(each, kind) for each in verdicts) for kind in ("agrees", "atypical", "silent"))
        print(f"\n{source}: of {len(facts)} facts of taxa {agrees} are usual, {unusual} unusual, {silent} not known", end="")
        assert agrees >= 0.8 * len(facts)


def test_most_wrong_turns_are_noticed_at_once(judge: Judge) -> None:
    """The facts of the lead beside the right one put the taxon out, unless the two leads differ in what no character here expresses or sources disagree on."""
    seen, noticed = Counter[str](), Counter[str]()
    for source, taxon, lead in wrong_turns():
        seen[source] += 1
        noticed[source] += any(not judge(*fact)[taxon].consistent for fact in lead.facts)
    print(*(f"\n{source}: {noticed[source]} of {seen[source]} wrong turns noticed" for source in seen), end="")
    assert seen.total() >= 1000
    assert noticed.total() >= 0.55 * seen.total()


def test_no_statement_rests_on_the_books_held_out(trees: Snapshot) -> None:
    cited = " ".join(f"{source.authors} {source.title} {source.container}" for source in trees.knowledge.sources.values()).casefold()
    assert "michigan trees" in cited
    assert not [title for title in HELD_OUT.values() if title.casefold() in cited]
    assert set(HELD_OUT) <= {walk.source for walk in paths()}


def test_a_path_with_a_wrong_turn_is_noticed(judge: Judge) -> None:
    walk = next(each for each in paths() if each.key == "acer-summer" and each.taxon == "acer-negundo")
    wrong = Walk(walk.key, walk.source, "acer-platanoides", walk.leads)
    assert failures(judge, wrong)
