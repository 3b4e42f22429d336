"""How the constants of `lenticel.likelihood` were fitted: `python -m tests.calibration.likelihood` prints how they fare, `--fit` looks for better ones.

Each source that says much of a lowest taxon is taken for an observer: what it says is usual is what was seen, and the tables
without it are asked what the plant is. The score is the mean log2 of the share that the true taxon gets among all: of whole
descriptions, of eight characters of each, and of those that can be seen in winter. No description kept apart takes part.
"""

from __future__ import annotations

import argparse
import hashlib
import sys
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import dataclass, replace
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np

from lenticel.cells import region_mask, regions
from lenticel.direct import snapshot_from
from lenticel.likelihood import FITTED, Constants, Likelihood, nearest, neighbours
from lenticel.model import RARE, Statement
from lenticel.observation import Observation, Part
from lenticel.quantity import Interval
from lenticel.snapshot import Snapshot
from lenticel.tables import read

ONTOLOGY = Path(__file__).parents[2] / "ontology"
FEWEST = 6  # characters of a source that is taken for an observer
GRID: dict[str, tuple[float, ...]] = {
    "beside": (0.05, 0.12, 0.25, 0.4),
    "slip": (0.06, 0.12, 0.2, 0.3),
    "figure_slip": (0.03, 0.06, 0.12, 0.2),
    "tail": (0.12, 0.22, 0.35),
    "count_tail": (0.15, 0.3, 0.45),
    "kin": (0.0, 0.3, 0.6, 0.8, 1.0),
    "unsaid": (0.0, 0.1, 0.25, 0.5),
    "month": (0.1, 0.2, 0.4),
}


@dataclass(frozen=True)
class Observer:
    """A source taken for an observer of a taxon: what it saw, character by character."""

    taxon: str
    source: str
    seen: tuple[Observation, ...]


@dataclass(frozen=True)
class Score:
    """The mean log2 share of the true taxon, how often it is first and among the first three, and of how many observers."""

    bits: float
    first: float
    three: float
    count: int


def observers(snapshot: Snapshot) -> Iterator[Observer]:
    """Every source that says enough of a lowest taxon."""
    known, lowest = snapshot.knowledge, set(snapshot.knowledge.terminal)
    said: dict[tuple[str, str], dict[str, list[Statement]]] = {}
    for each in known.statements.values():
        if each.taxon in lowest and each.frequency not in RARE | {"never"} and known.characters[each.character].force == "diagnostic":
            said.setdefault((each.taxon, each.source), {}).setdefault(each.character, []).append(each)
    for (taxon, source), by_character in sorted(said.items()):
        seen = tuple(found for key, statements in by_character.items() if (found := _observation(snapshot, key, statements)))
        if len(seen) >= FEWEST:
            yield Observer(taxon, source, seen)


def _observation(snapshot: Snapshot, key: str, said: list[Statement]) -> Observation | None:
    _, usual = regions(snapshot.knowledge, snapshot.knowledge.characters[key], said)
    if usual is None:
        return None
    if isinstance(usual, Interval):
        return Observation((Part(key, 0, (usual,), str(usual)),))
    return Observation((Part(key, region_mask(snapshot.body.partitions[key], usual), (), key),))


class Trial:
    """Some constants, tried on all observers."""

    def __init__(self, snapshot: Snapshot, constants: Constants) -> None:
        self.snapshot, self.likelihood = snapshot, Likelihood(snapshot, constants)
        self.lowest = np.flatnonzero(self.likelihood.lowest)
        self._shown: dict[Observation, np.ndarray] = {}

    def without(self, observer: Observer, seen: Observation) -> np.ndarray:
        """How likely each lowest taxon shows it, that of the observer by the other sources alone, in bits."""
        if seen not in self._shown:
            self._shown[seen] = self.likelihood.shown(seen)
        found = self._shown[seen].copy()
        found[self.snapshot.place_of[observer.taxon]] = self._alone(seen, observer.taxon, observer.source)
        return np.log2(found[self.lowest])

    def _alone(self, seen: Observation, taxon: str, source: str) -> float:
        """How likely a plant of a taxon shows it, if the source had not written of the taxon: its row is put in for this once."""
        like, known = self.likelihood, self.snapshot.knowledge
        character, row = known.characters[seen.parts[0].character], self.snapshot.place_of[taxon]
        told, others = like.of(character), nearest(known, taxon, character.id, source)
        table: Any = like.ranges_of[character.id] if character.id in like.ranges_of else like.rows[character.id]
        if character.id in like.ranges_of:
            now: Any = like.ranges(character, others)
        else:
            now = like.row(character, others, neighbours(known, character, self.snapshot.body.partitions[character.id]))
        kept = deepcopy(table[row]), told[row]
        table[row], told[row] = now, bool(others)
        found = float(like.shown(seen)[row])
        table[row], told[row] = kept
        return found

    def score(self, asked: list[Observer], season: str = "", most: int = 0) -> Score:
        """How the constants fare."""
        known, results = self.snapshot.knowledge, []
        for each in asked:
            seen = [one for one in each.seen if not season or season in known.characters[one.parts[0].character].seasons]
            if most:
                seen = sorted(seen, key=lambda one: hashlib.sha1(f"{each.taxon}{each.source}{one.parts[0].character}".encode()).digest())[:most]
            if len(seen) < FEWEST - 2:
                continue
            bits = np.sum([self.without(each, one) for one in seen], axis=0)
            odds = np.exp2(bits - bits.max())
            true = int(np.flatnonzero(self.lowest == self.snapshot.place_of[each.taxon])[0])
            results.append((float(np.log2(odds[true] / odds.sum())), int((bits > bits[true]).sum())))
        shares, ranks = zip(*results, strict=True)
        return Score(float(np.mean(shares)), float(np.mean([rank == 0 for rank in ranks])), float(np.mean([rank < 3 for rank in ranks])), len(ranks))

    def scores(self, asked: list[Observer]) -> tuple[Score, Score, Score]:
        """Of whole descriptions, of eight characters, and in winter."""
        return self.score(asked), self.score(asked, most=8), self.score(asked, "winter")


def told(name: str, scores: tuple[Score, Score, Score]) -> str:
    """The scores in a line."""
    return f"{name:28}" + "   ".join(f"{each.bits:6.3f} bits, first {each.first:.0%}, three {each.three:.0%}" for each in scores)


def main() -> None:
    """Print how the constants fare, and with `--fit` look for better ones, one at a time."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fit", action="store_true", help="try every other value of each constant (some minutes)")
    options = parser.parse_args()
    snapshot = snapshot_from(read(ONTOLOGY).knowledge)
    asked = list(observers(snapshot))
    best, scores = FITTED, Trial(snapshot, FITTED).scores(asked)
    sys.stdout.write(f"{len(asked)} observers\n{told('as they are', scores)}\n")
    for name, value in ((name, value) for _, (name, values) in product(range(2), GRID.items()) for value in values) if options.fit else ():
        tried = replace(best, **{name: value})
        found = Trial(snapshot, tried).scores(asked)
        if sum(each.bits for each in found) > sum(each.bits for each in scores) + 1e-4:
            best, scores = tried, found
            sys.stdout.write(f"{told(f'{name} {value}', scores)}\n")


__all__ = ["Observer", "Score", "Trial", "observers"]

if __name__ == "__main__":
    main()
