"""How far the shares of an answer can be trusted: `python -m tests.calibration.reliability` prints it for the descriptions kept apart.

For each description the taxa that remain have shares. Of all (description, taxon) pairs with a share in a bin, how often was the
taxon the true one? Besides the Brier score (the mean squared distance of the shares from what was true, summed over taxa; Brier
1950) and the log score (mean log2 of the share of the true taxon), against the same with equal shares.
`--weights` prints the scores of the other half if every bit counted more or less than it does.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

import lenticel
from lenticel.identify import identify
from lenticel.observation import Reader, read_observations
from lenticel.snapshot import Snapshot
from tests.outside.figures import Rows, descriptions, tuned

BINS = (0.0, 0.02, 0.05, 0.1, 0.2, 0.4, 0.6, 0.8, 1.0)
LEAST = 1e-6


@dataclass(frozen=True)
class Case:
    """One description: the bits of the taxa that remain, and the place of the true one (-1 if it is out)."""

    bits: np.ndarray
    true: int

    def shares(self, weight: float = 1.0) -> np.ndarray:
        """The shares at another weight."""
        odds = np.exp2((self.bits - self.bits.max()) * weight)
        return np.asarray(odds / odds.sum())


def cases(snapshot: Snapshot, chosen: dict[tuple[str, str], Rows]) -> list[Case]:
    """The descriptions, answered."""
    reader, found = Reader(snapshot), []
    for (_, taxon), rows in chosen.items():
        remain = identify(snapshot, read_observations(reader, rows), explain=0).consistent
        if remain:
            found.append(Case(np.array([each.support for each in remain]), next((place for place, each in enumerate(remain) if each.taxon == taxon), -1)))
    return found


def log_score(asked: list[Case], weight: float) -> float:
    """The mean log2 of the true taxon's share, over the descriptions that keep it."""
    return float(np.mean([np.log2(max(each.shares(weight)[each.true], LEAST)) for each in asked if each.true >= 0]))


def brier(asked: list[Case], weight: float) -> float:
    """The mean Brier score; 0 is perfect, 2 the worst."""
    scores = []
    for each in asked:
        shares = each.shares(weight)
        truth = np.zeros(len(shares))
        if each.true >= 0:
            truth[each.true] = 1
        scores.append(float(((shares - truth) ** 2).sum()) + (each.true < 0))
    return float(np.mean(scores))


def table(asked: list[Case]) -> list[str]:
    """The reliability table as Markdown."""
    shares = np.concatenate([each.shares(1.0) for each in asked])
    truth = np.concatenate([np.arange(len(each.bits)) == each.true for each in asked])
    lines = ["| share given | taxa | mean share | true |", "| --- | --- | --- | --- |"]
    for low, high in pairwise(BINS):
        held = (shares >= low) & ((shares < high) | (high == 1.0))
        if held.any():
            lines.append(f"| {low:.0%} to {high:.0%} | {held.sum()} | {shares[held].mean():.1%} | {truth[held].mean():.1%} |")
    return lines


def main() -> None:
    """Print the table and the scores."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--weights", action="store_true", help="also print the scores of several weights on the half that was tuned on")
    options = parser.parse_args()
    snapshot, whole = lenticel.load(), descriptions()
    halves = {half: cases(snapshot, {key: rows for key, rows in whole.items() if tuned(key[0]) == half}) for half in (True, False)}
    for weight in (0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.2) if options.weights else ():
        sys.stdout.write(f"weight {weight}: log score {log_score(halves[True], weight):.3f}, Brier {brier(halves[True], weight):.3f}\n")
    kept = halves[False]
    sys.stdout.write("\n".join(table(kept)) + "\n")
    sys.stdout.write(f"{len(kept)} descriptions kept apart: log score {log_score(kept, 1.0):.2f} bits, Brier {brier(kept, 1.0):.2f}; ")
    sys.stdout.write(f"with equal shares {log_score(kept, 0):.2f} bits, {brier(kept, 0):.2f}\n")


if __name__ == "__main__":
    main()
