"""The fit of what orders separators: `python -m tests.calibration.separators` prints the weights of `lenticel.telling`, fitted and in use.

A conditional logit: of all characters that tell a pair apart, which one does a source name? Each row of `tests/outside/separators.csv` that may be
looked at, and each published look-alike record of two species, is a case; a record is no evidence in its own. So is each row of `recalled.csv`: eight
readers, who saw nothing of ours but the names of taxa and, once they had written, of characters, put down from memory by what handbooks tell well-known
pairs apart; no publication stands behind such a row. Left out of the fit are readings 4 and 5, readers 7 and 8, who took each pair once, and rows of spring and
autumn.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from math import log2
from operator import itemgetter
from pathlib import Path

import numpy as np
import numpy.typing as npt
from scipy.optimize import minimize

import lenticel
from lenticel import telling
from lenticel.compare import Separator, compare, leading, lookalikes_among
from lenticel.model import Lookalike
from lenticel.snapshot import Snapshot
from lenticel.telling import Evidence, Weigher, topic
from tests.benchmarks.timing import table
from tests.outside.separators import Row, figures, looked_at, published, root, rows

RIDGE, FOLDS, SEED = 2.0, 6, 0
WEIGHTS = {"1": 0.6, "2": 1.0, "3": 1.0, "record": 0.25, "recalled": 0.25}  # one book has most of reading 1; records and what readers recall are many
RECALLED = Path(__file__).with_name("recalled.csv")
UNFITTED = ("spring", "autumn")
KEPT_APART = ("7", "8")  # readers to whose rows nothing was fitted
IN_USE = {
    "APART": telling.APART,
    "SOURCES": telling.SOURCES,
    "NAMED": telling.NAMED,
    "AGREED": telling.AGREED,
    "PROMINENT": telling.PROMINENT,
    "MARK": telling.MARK,
    "LEAF": telling.LEAF,
    "THEN, leaf in summer": telling.THEN["summer"]["leaf"],
    **{f"THEN, {organ} in winter": weight for organ, weight in telling.THEN["winter"].items()},
}
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Case:
    """One source that tells a pair apart: of each character that does, its features, whether the source names it, and its topic."""

    pair: tuple[str, str]
    weight: float
    features: Floats
    named: npt.NDArray[np.bool_]
    topics: tuple[tuple[str, str], ...]


def recalled() -> list[Row]:
    """The rows that readers wrote from memory."""
    return rows(RECALLED)


def cases(snapshot: Snapshot) -> Iterator[Case]:
    """All cases in which a character that the source names tells the pair apart at all."""
    weigher, known = Weigher(snapshot), snapshot.knowledge
    chosen = [(row, WEIGHTS[row["reading"]]) for row in rows() if looked_at(row) and row["reading"] in WEIGHTS]
    chosen += [(row, WEIGHTS["recalled"]) for row in recalled() if row["reader"] not in KEPT_APART]
    for row, weight in chosen:
        if row["season"] not in UNFITTED:
            yield from _case(weigher, (row["one"], row["other"]), row["season"], row["characters"].split("|"), weight, None)
    for record in published(known):
        yield from _case(weigher, (record.taxa[0], record.taxa[1]), "", record.told_by, WEIGHTS["record"], record)


def _case(weigher: Weigher, pair: tuple[str, str], season: str, told: Sequence[str], weight: float, own: Lookalike | None) -> Iterator[Case]:
    known = weigher.known
    wanted = {root(known, each) for each in told}
    found = [each for each in compare(weigher.snapshot, pair, season=season).separators if known.characters[each.character].force == "diagnostic"]
    records = [each for each in lookalikes_among(weigher.snapshot, pair) if each != own]
    evidence = [(each, _evidence(weigher, pair, each, records)) for each in found]
    kept = [(each, said) for each, said in evidence if each.force != "tendency" or said.apart >= telling.TENDENCY or said.named]
    named = np.array([root(known, each.character) in wanted for each, _ in kept])
    if named.any():
        features = np.array([features_of(weigher, said, season) for _, said in kept])
        yield Case((min(pair), max(pair)), weight, features, named, tuple(topic(known, each.character) for each, _ in kept))


def _evidence(weigher: Weigher, pair: tuple[str, str], each: Separator, records: Sequence[Lookalike]) -> Evidence:
    found = weigher.mark(*pair, each.character, records) if each.force == "one-sided" else weigher.evidence(*pair, each.character, records)
    return found or Evidence(each.character, 1.0 if each.force != "one-sided" else 0.0, 1, 0.0)


def features_of(weigher: Weigher, said: Evidence, season: str) -> list[float]:
    """The features of one character, in the order of IN_USE; DECISIVE is our choice and none of them."""
    character = weigher.known.characters[said.character]
    organ = character.organ
    return [
        said.apart,
        log2(max(said.sources, 1)),
        bool(said.named),
        log2(1 + weigher.voices(said.named)),
        weigher.prominence[weigher.root(character.id)],
        0.0 if said.named else said.rarity,
        organ == "leaf",
        season == "summer" and organ in ("leaf", "petiole"),
        *(season == "winter" and organ == each for each in telling.THEN["winter"]),
    ]


def fitted(chosen: Sequence[Case]) -> Floats:
    """The weights that make what the sources name likeliest, with a ridge."""
    joined, named = np.concatenate([each.features for each in chosen]), np.concatenate([each.named for each in chosen])
    lengths, weights = np.array([len(each.named) for each in chosen]), np.array([each.weight for each in chosen])
    starts, of = np.concatenate([[0], np.cumsum(lengths)[:-1]]), np.repeat(np.arange(len(chosen)), lengths)

    def loss(at: Floats) -> tuple[float, Floats]:
        score = joined @ at
        odds = np.exp(score - np.maximum.reduceat(score, starts)[of])
        every, right = np.add.reduceat(odds, starts), np.add.reduceat(odds * named, starts)
        pull = (weights / every)[of] * odds - (weights / right)[of] * odds * named
        return float(RIDGE * at @ at / 2 - (weights * np.log(right / every)).sum()), np.asarray(RIDGE * at + joined.T @ pull)

    return np.asarray(minimize(loss, np.zeros(joined.shape[1]), jac=True, method="L-BFGS-B").x)


def found(each: Case, weights: Floats) -> bool:
    """Whether a named character is among the first three, no two on one topic."""
    ranked: list[int] = np.argsort(-(each.features @ weights), kind="stable").tolist()
    return any(each.named[place] for place in leading(ranked, lambda place: each.topics[place]))


def crossed(every: Sequence[Case]) -> float:
    """The share of cases found by weights fitted to the other folds, which are drawn by pairs."""
    pairs = sorted({each.pair for each in every})
    fold = dict(zip(pairs, np.random.default_rng(SEED).integers(0, FOLDS, len(pairs)), strict=True))
    hits = 0
    for number in range(FOLDS):
        weights = fitted([each for each in every if fold[each.pair] != number])
        hits += sum(found(each, weights) for each in every if fold[each.pair] == number)
    return hits / len(every)


def main() -> None:
    """Print the weights fitted and in use, the share found in cross-validation, and how many of what each reader recalls is found."""
    snapshot = lenticel.load()
    every = list(cases(snapshot))
    weights = fitted(every)
    print(table(["weight", "fitted", "in use"], [[name, f"{new:.2f}", f"{old:.2f}"] for (name, old), new in zip(IN_USE.items(), weights, strict=True)]))
    now = np.array(list(IN_USE.values()))
    print(f"{len(every)} cases; among the first three: {sum(found(each, now) for each in every) / len(every):.1%} in use, {crossed(every):.1%} in {FOLDS}-fold")
    by_reader = {reader: figures(snapshot, group) for reader, group in groupby(recalled(), key=itemgetter("reader"))}
    print(table(["recalled by reader", "rows", "first", "among three", "among five"], [
        [f"{reader}, kept apart" if reader in KEPT_APART else reader, str(each.rows), f"{each.first:.1%}", f"{each.three:.1%}", f"{each.five:.1%}"]
        for reader, each in by_reader.items()
    ]))  # fmt: skip


if __name__ == "__main__":
    main()
