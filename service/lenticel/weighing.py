"""What all observations together come to, taxon by taxon, as arrays; the answer to the first question puts it in words."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from lenticel.arranging import PARTS, SLIPS_FROM, Numbers, arranged, likeliest
from lenticel.judging import BITS, COUNTS, Judged, Order, Told, counts, judged
from lenticel.observation import Observation, distinct
from lenticel.prior import prior
from lenticel.snapshot import Snapshot


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
    `ordered` are the rows of the taxa that were asked for, in the order of the answer. In the same order, `counted` says how many observations are silent on
    each, agree, are atypical, contradict, side by side as in `judging.counts`, `slips` the last of these again, and `support` what speaks for it, in bits. The
    first `remaining` of them remain; `shares` says how likely each of these is among them. `likeliest` are the likeliest lowest taxa: row, share, slips.
    """

    kept: list[Observation]
    dropped: list[tuple[Observation, Observation]]
    heard: list[Judged]
    ordered: list[int]
    counted: list[int]
    slips: list[float]
    support: Numbers
    remaining: int
    shares: Numbers
    likeliest: list[tuple[int, float, int]]

    @property
    def counts(self) -> list[list[int]]:
        """How many observations are silent on each taxon, agree, are atypical, contradict."""
        return [list(counts(told)) for told in self.counted]

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
    def close(self) -> list[int]:
        """The rows of the taxa that at most one observation contradicts."""
        return self.ordered[: bisect_right(self.slips, 1)]


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
    order = snapshot.remembered("order", Order)
    kept, dropped = distinct(snapshot, observations)
    heard = [judged(snapshot, each, wild=context.wild) for each in kept]
    told: Told = np.zeros((2, len(order.columns)))
    if context.month or context.region:
        told[BITS] = prior(snapshot, kept, month=context.month, region=context.region)[order.columns]
    for each in heard:
        told += each.told
    lowest = told[:, : order.lowest]
    most = _likeliest(order, lowest) if kept else []
    told, rows = (told.take(order.by_name, axis=1), order.named) if every_rank else (lowest, order.columns)
    turn, counted, slips, support, remaining, shares = arranged(told)
    return Weighed(kept, dropped, heard, rows.take(turn).tolist(), counted.tolist(), slips.tolist(), support, remaining, shares, most)


def _likeliest(order: Order, told: Told) -> list[tuple[int, float, int]]:
    found = zip(*map(np.ndarray.tolist, likeliest(told)), strict=True)
    return [(order.columns.item(place), parts / PARTS, int(told.item(COUNTS, place)) >> SLIPS_FROM) for place, parts in found]
