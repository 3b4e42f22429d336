"""What all observations together come to, taxon by taxon, as arrays; the answer to the first question puts it in words."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lenticel.engine import CONTRADICTS
from lenticel.judging import Judged, judged
from lenticel.observation import Observation, distinct
from lenticel.prior import prior
from lenticel.snapshot import Snapshot, members_of

LIKELIEST = 5  # how many are named
NONE = np.zeros(0)

Numbers = npt.NDArray[np.float64]
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
    By row of the snapshot (N): `counts` (uint16 (N, 4)), how many observations are silent on a taxon, agree, are atypical, contradict; `support`, what
    speaks for it, in bits. `ordered` are the rows that were asked for, in the order of the answer; the first `remaining` of them remain, and `shares` says
    how likely each of these is among them. `likeliest` are the likeliest of all lowest taxa, row and share.
    """

    kept: list[Observation]
    dropped: list[tuple[Observation, Observation]]
    heard: list[Judged]
    counts: npt.NDArray[np.uint16]
    support: Numbers
    ordered: Rows
    remaining: int
    shares: Numbers
    likeliest: list[tuple[int, float]]

    @property
    def remain(self) -> Rows:
        """The rows of the taxa that remain."""
        return self.ordered[: self.remaining]

    @property
    def near(self) -> list[int]:
        """The rows of the taxa that are out with the fewest contradictions."""
        slips = self._slips
        return self.ordered[self.remaining : bisect_right(slips, slips[self.remaining])].tolist() if self.remaining < len(slips) else []

    @property
    def close(self) -> list[int]:
        """The rows of the taxa that at most one observation contradicts."""
        return list(self.ordered[: bisect_right(self._slips, 1)].tolist())

    @property
    def _slips(self) -> list[int]:
        """How many observations contradict each taxon, in the order of the answer; it rises."""
        return list(self.counts[self.ordered, CONTRADICTS].tolist())


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
    counts, bits = order.nothing, prior(snapshot, kept, month=context.month, region=context.region)
    for each in heard:
        counts, bits = counts + each.counts, bits + each.bits
    support = bits.round(2)
    rows = order.every if every_rank else order.lowest
    slips = counts[rows, CONTRADICTS]
    ordered = rows[np.lexsort((order.rank[rows], -support[rows], slips))]
    remaining = len(rows) - int(np.count_nonzero(slips))
    shares = _shares(bits[ordered[:remaining]])
    return Weighed(kept, dropped, heard, counts, support, ordered, remaining, shares, _likeliest(order, bits) if kept else [])


class Order:
    """What of the order is the same for every question: all rows, those of the lowest taxa, the place of each by name, and counts of nothing."""

    def __init__(self, snapshot: Snapshot) -> None:
        self.every: Rows = np.arange(snapshot.taxa_count)
        self.lowest: Rows = np.flatnonzero(members_of(snapshot.terminal, snapshot.taxa_count))
        self.rank: Rows = np.empty(snapshot.taxa_count, np.intp)
        self.rank[sorted(self.every.tolist(), key=lambda row: snapshot.taxa[row])] = self.every
        self.nothing = np.zeros((snapshot.taxa_count, 4), np.uint16)


def _shares(bits: Numbers) -> Numbers:
    """How likely each of some taxa is among them, by their bits."""
    if not bits.size:
        return NONE
    odds = np.exp2(bits - bits.max())
    return np.asarray((odds / odds.sum()).round(4))


def _likeliest(order: Order, bits: Numbers) -> list[tuple[int, float]]:
    shares = _shares(bits[order.lowest])
    first = np.lexsort((order.rank[order.lowest], -shares))[:LIKELIEST]
    return list(zip(order.lowest[first].tolist(), shares[first].tolist(), strict=True))
