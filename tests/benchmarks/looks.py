"""How many looks a plant takes, beside the logarithm to base 2 of how many taxa it could be of: `python -m tests.benchmarks.looks`.

A look of two outcomes halves what remains at best, so that log2 N looks part N taxa if each look is of two outcomes, each taxon shows one of
them, and every character is stated of every taxon. Real characters have more outcomes and real tables have gaps. A plant is drawn of each
lowest taxon, as often as the tables say that it shows this or that; the look is always the first of `following` that can exclude a taxon,
in one season and with any tool; it ends with one taxon, or where no look excludes any. `bits` is the logarithm of how many times fewer remain
at the end: what was told. The plants come from the very distributions that the order rests on, so that the figures tell how well looks
are chosen, not how true the tables are.
"""

from __future__ import annotations

import argparse
import random
import sys
from dataclasses import dataclass
from math import log2
from statistics import mean

import numpy as np

import lenticel
from lenticel.following import following, remaining
from lenticel.identify import Context
from lenticel.model import SEASONS
from lenticel.observation import Observation
from lenticel.outcomes import Places, outlook, part_of
from lenticel.sight import Sight
from lenticel.snapshot import Snapshot, indices_of
from tests.benchmarks.timing import table

FEW = 3  # taxa, which whoever sees them side by side can hold apart
FIRST = 5  # looks asked for, among which one that excludes is nearly always found


@dataclass(frozen=True)
class Walked:
    """The looks at one plant, how many taxa they left, and after how many looks FEW or fewer were left (or no more could be told)."""

    looks: int
    left: int
    to_few: int


class Walker:
    """Looks at plants in one season; what was already asked of the same observations is not asked again."""

    def __init__(self, snapshot: Snapshot, sight: Sight, seed: int) -> None:
        self.snapshot, self.sight, self.rnd = snapshot, sight, random.Random(seed)
        self._next: dict[frozenset[str], tuple[Places, str]] = {}

    def walk(self, row: int) -> Walked:
        """Look at one plant of the taxon in a row, until nothing more can be excluded."""
        seen: list[Observation] = []
        to_few = -1
        while True:
            rows, character = self.next(seen)
            if to_few < 0 and (len(rows) <= FEW or not character):
                to_few = len(seen)
            if not character:
                return Walked(len(seen), len(rows), to_few)
            seen.append(self._shown(row, rows, character))

    def next(self, seen: list[Observation]) -> tuple[Places, str]:
        """What remains, and the character to look at: "" if none excludes anything."""
        known = frozenset(each.text for each in seen)
        if known not in self._next:
            rows = remaining(self.snapshot, seen, Context(), ())
            self._next[known] = rows, self._best(seen) if len(rows) > 1 else ""
        return self._next[known]

    def _best(self, seen: list[Observation]) -> str:
        for most in (FIRST, len(self.snapshot.knowledge.characters)):
            looks = following(self.snapshot, seen, sight=self.sight, most=most).looks
            if deciding := [each.character for each in looks if each.decides]:
                return deciding[0]
        return ""

    def _shown(self, row: int, rows: Places, character: str) -> Observation:
        outcomes = outlook(self.snapshot).outcomes([character], rows)
        chance = outcomes.chance[:, int(np.searchsorted(rows, row))] * outcomes.fits[:, int(np.searchsorted(rows, row))]
        chosen = self.rnd.choices(outcomes.shown, chance.tolist())[0]
        return Observation((part_of(self.snapshot, character, [chosen]),))


def season(snapshot: Snapshot, sight: Sight, plants: int, seed: int) -> list[str]:
    """The figures of one season, as a row of the table."""
    walker = Walker(snapshot, sight, seed)
    lowest = indices_of(snapshot.terminal).tolist()
    walked = [walker.walk(row) for row in lowest for _ in range(plants)]
    count, bits = log2(len(lowest)), mean(log2(len(lowest) / each.left) for each in walked)
    looks, to_few, left = (mean(values) for values in zip(*((each.looks, each.to_few, each.left) for each in walked), strict=True))
    single = mean(each.left == 1 for each in walked)
    figures = (f"{each:.2f}" for each in (count, to_few, looks, looks / count, bits, looks / bits if bits else 0, left))
    return [sight.season or "any", f"{len(walked)}", *figures, f"{single:.0%}"]


HEAD = ["season", "plants", "log2 N", f"to {FEW} taxa", "looks", "looks / log2 N", "bits", "looks / bit", "taxa left", "one left"]


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--plants", type=int, default=1, help="plants of each taxon (default 1)")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    snapshot = lenticel.load()
    rows = [season(snapshot, Sight(name), options.plants, options.seed) for name in ("", *SEASONS)]
    sys.stdout.write(f"{int(np.bitwise_count(snapshot.terminal).sum())} taxa; means over the plants\n\n{table(HEAD, rows)}\n")


if __name__ == "__main__":
    main()
