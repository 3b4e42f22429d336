"""How soon simulated observers find the name: `python -m tests.benchmarks.observers`.

A plant is drawn of each lowest taxon from what the tables say of it, rare things as rarely as the words of frequency say. An observer makes
eight looks with the eye, a ruler and a hand lens: one observation in ten is wrong (what another taxon shows), one in five coarse. The next look is
the one that `following` puts first if any observation may be a slip, or, beside it, any character at random that these tools allow. The order is
that of `Answer.likeliest`, over all taxa, since a wrong observation can put the true one out. The observations come from the very distributions
that the order rests on, so that the figures tell how well looks are chosen, not how true the tables are.
"""

from __future__ import annotations

import argparse
import random
import sys
from decimal import Decimal

import numpy as np

import lenticel
from lenticel.following import following
from lenticel.identify import identify
from lenticel.likelihood import likelihood
from lenticel.observation import Observation, Part
from lenticel.quantity import Interval
from lenticel.sight import Sight, within
from lenticel.snapshot import Snapshot

LOOKS = 8
WRONG, COARSE = 0.10, 0.20
KIT = Sight(kit=("ruler", "hand lens"))
AT_ONCE = 40  # looks asked for, of which the first that was not made yet is taken


class Nature:
    """Draws what plants show."""

    def __init__(self, snapshot: Snapshot, seed: int) -> None:
        self.snapshot, self.like, self.rnd = snapshot, likelihood(snapshot), random.Random(seed)
        self.lowest = np.flatnonzero(self.like.lowest).tolist()

    def seen(self, row: int, key: str) -> Observation | None:
        """One observation of a character on a plant of the taxon in a row; None if nothing is known of it."""
        if self.rnd.random() < WRONG:
            row = self.rnd.choice(self.lowest)
        character = self.snapshot.knowledge.characters[key]
        if not self.like.of(character)[row]:
            return None
        coarse = self.rnd.random() < COARSE
        if key in self.like.ranges_of:
            return Observation((self._size(key, row, coarse),))
        shares = self.like.rows[key][row]
        atom = self.rnd.choices(range(len(shares)), shares.tolist())[0]
        mask = 1 << atom | (1 << self.rnd.randrange(len(shares)) if coarse else 0)
        return Observation((Part(key, mask, (), f"{mask:x}"),))

    def _size(self, key: str, row: int, coarse: bool) -> Part:
        low, high, _ = self.rnd.choices(self.like.ranges_of[key][row], [each[2] for each in self.like.ranges_of[key][row]])[0]
        size = Decimal(str(round(float(np.exp(self.rnd.uniform(low, high))), 2)))
        give = Decimal("0.3") if coarse else Decimal("0.05")
        span = Interval(size * (1 - give), size * (1 + give))
        return Part(key, 0, (span,), str(span))


def chosen(snapshot: Snapshot, made: list[Observation], tried: set[str]) -> str:
    """The next look, if any observation may be a slip."""
    found = following(snapshot, made, sight=KIT, slips=True, most=AT_ONCE)
    return next((each.character for each in found.looks if each.character not in tried), "")


def walk(snapshot: Snapshot, nature: Nature, row: int, *, at_random: bool) -> tuple[bool, bool]:
    """One observer and one plant: whether the true taxon is first, and among the first three."""
    made: list[Observation] = []
    tried: set[str] = set()
    diagnostic = [key for key, each in snapshot.knowledge.characters.items() if each.force == "diagnostic" and each.kind != "month" and within(each, KIT)]
    while len(made) < LOOKS and len(tried) < len(diagnostic):
        key = nature.rnd.choice([each for each in diagnostic if each not in tried]) if at_random else chosen(snapshot, made, tried)
        if not key:
            break
        tried.add(key)
        seen = nature.seen(row, key)
        if seen is not None:
            made.append(seen)
    first = [each.taxon for each in identify(snapshot, made, explain=0).likeliest[:3]]
    taxon = snapshot.taxa[row]
    return first[:1] == [taxon], taxon in first


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--plants", type=int, default=2, help="plants of each taxon (default 2)")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    snapshot = lenticel.load()
    for kind, at_random in (("chosen looks", False), ("random looks", True)):
        nature = Nature(snapshot, options.seed)
        results = [walk(snapshot, nature, row, at_random=at_random) for row in nature.lowest for _ in range(options.plants)]
        first, three = (sum(each[place] for each in results) / len(results) for place in (0, 1))
        sys.stdout.write(f"{kind}: of {len(results)} plants {first:.0%} first, {three:.0%} among the first three after {LOOKS} looks\n")


if __name__ == "__main__":
    main()
