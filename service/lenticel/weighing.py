"""What all observations together come to, taxon by taxon, as arrays; the answer to the first question puts it in words."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lenticel.engine import CONTRADICTS, VERDICTS
from lenticel.judging import Judged, judged
from lenticel.observation import Observation, distinct
from lenticel.prior import prior
from lenticel.snapshot import Snapshot, members_of

LIKELIEST = 5  # how many are named
NONE = np.zeros(0)
SLIPS = np.uint64(16 * CONTRADICTS)  # how far to the right they stand in four counts of 16 bits
FAR = 1e6  # bits; no support comes near it

Numbers = npt.NDArray[np.float64]
Counted = npt.NDArray[np.uint64]
Rows = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Context:
    """What is known of the plant beyond the observations.

    `wild`: nobody planted it. `month`: 1 to 12, 0 if unknown. `region`: where it stands, a state of the region characters ("" if
    unknown); like the month it orders and never excludes.
    """

    wild: bool = False
    month: int = 0
    region: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Weighed:
    """What some observations come to.

    `kept` are the observations in order, `heard` each of them judged, `dropped` those that another one entails, with that one.
    `rows` are those of the taxa that were asked for, in the order of the answer, and `ordered` the same as a list. In the same order, `counted` (uint64 (M,))
    says how many observations are silent on each, agree, are atypical, contradict, 16 bits each, `slips` the last of these again, and `support` what speaks
    for it, in bits. The first `remaining` of them remain; `shares` says how likely each of these is among them. `likeliest` are the likeliest lowest taxa:
    row, share, contradictions.
    """

    kept: list[Observation]
    dropped: list[tuple[Observation, Observation]]
    heard: list[Judged]
    rows: Rows
    ordered: list[int]
    counted: Counted
    slips: list[int]
    support: Numbers
    remaining: int
    shares: Numbers
    likeliest: list[tuple[int, float, int]]

    @property
    def counts(self) -> list[list[int]]:
        """How many observations are silent on each taxon, agree, are atypical, contradict."""
        told: list[list[int]] = self.counted.view(np.uint16).reshape(-1, len(VERDICTS)).tolist()
        return told

    @property
    def remain(self) -> list[int]:
        """The rows of the taxa that remain."""
        return self.ordered[: self.remaining]

    @property
    def near(self) -> list[int]:
        """The rows of the taxa that are out with the fewest contradictions."""
        fewest = self.slips[self.remaining : self.remaining + 1]
        return self.ordered[self.remaining : bisect_right(self.slips, fewest[0])] if fewest else []

    @property
    def close(self) -> Rows:
        """The rows of the taxa that at most one observation contradicts."""
        return self.rows[: bisect_right(self.slips, 1)]


def weigh(snapshot: Snapshot, observations: Iterable[Observation], context: Context, *, every_rank: bool = False) -> Weighed:
    """Judge every taxon by every observation, and order the taxa: fewest contradictions first, then what speaks for them, then by name.

    Args:
        snapshot: the knowledge.
        observations: what was seen.
        context: what else is known of the plant.
        every_rank: also order genera and other taxa that have taxa below them.

    Raises:
        UnknownTerm: the region of the context is none.
    """
    order = snapshot.remembered("weighing", Order)
    kept, dropped = distinct(snapshot, observations)
    heard = [judged(snapshot, each, wild=context.wild) for each in kept]
    counted, bits = order.nothing, prior(snapshot, kept, month=context.month, region=context.region)
    for each in heard:
        counted, bits = counted + each.counted, bits + each.bits
    likeliest = [(row, share, int(counted[row] >> SLIPS)) for row, share in _likeliest(order, bits)] if kept else []
    rows = order.every if every_rank else order.lowest
    counted, bits = counted[rows], bits[rows]
    support = _rounded(bits, 100)
    against = counted >> SLIPS
    turn = (against * FAR - support).argsort(kind="stable")
    slips: list[int] = against[turn].tolist()
    remaining = bisect_right(slips, 0)
    rows = rows[turn]
    return Weighed(kept, dropped, heard, rows, rows.tolist(), counted[turn], slips, support[turn], remaining, _shares(bits[turn[:remaining]]), likeliest)


class Order:
    """What of the order is the same for every question: all rows and those of the lowest taxa, by name, and counts of nothing."""

    def __init__(self, snapshot: Snapshot) -> None:
        named = sorted(range(snapshot.taxa_count), key=lambda row: snapshot.taxa[row])
        self.every: Rows = np.array(named, np.intp)
        self.lowest: Rows = self.every[members_of(snapshot.terminal, snapshot.taxa_count)[self.every]]
        self.nothing = np.zeros(snapshot.taxa_count, np.uint64)


def _rounded(numbers: Numbers, parts: int) -> Numbers:
    """To so many parts of one, as `round` does it, in half its time for few numbers."""
    return np.asarray(np.rint(numbers * parts) / parts)


def _shares(bits: Numbers) -> Numbers:
    """How likely each of some taxa is among them, by their bits."""
    if not bits.size:
        return NONE
    odds = np.exp2(bits - np.maximum.reduce(bits))
    return _rounded(odds / np.add.reduce(odds), 10_000)


def _likeliest(order: Order, bits: Numbers) -> list[tuple[int, float]]:
    shares = _shares(bits[order.lowest])
    first = (-shares).argsort(kind="stable")[:LIKELIEST]
    return list(zip(order.lowest[first].tolist(), shares[first].tolist(), strict=True))
