"""What one observation says of every taxon; remembered, since by the theorem of the fragment no other observation changes it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from lenticel.engine import ATYPICAL, VERDICTS, Levels, levels
from lenticel.likelihood import likelihood
from lenticel.observation import Observation, probe
from lenticel.snapshot import Snapshot
from lenticel.why import Ground, grounds

REMEMBERED = 4096  # observations; the marks of one on a hundred taxa take some 100 kB


@dataclass(frozen=True, slots=True)
class Mark:
    """The verdict of one observation on one taxon, with its grounds where it is atypical or contradicts."""

    observation: str
    verdict: str
    grounds: tuple[Ground, ...] = ()


@dataclass(frozen=True, eq=False)
class Judged:
    """One observation: its verdict on every taxon (uint8 (N,)), and how much it speaks for each, in bits (float64 (N,)).

    `counted` (uint64 (N,)) says the same as `levels`, as ones to be added up: four counts of 16 bits side by side.
    """

    snapshot: Snapshot = field(repr=False)
    observation: Observation
    levels: Levels
    counted: npt.NDArray[np.uint64]
    bits: npt.NDArray[np.float64]
    _marks: dict[int, Mark] = field(default_factory=dict, repr=False)

    def mark(self, row: int) -> Mark:
        """Its mark on the taxon in a row of the snapshot, remembered."""
        if row not in self._marks:
            self._marks[row] = self.found(row)
        return self._marks[row]

    def found(self, row: int) -> Mark:
        """Its mark on the taxon in a row of the snapshot, for whoever keeps it in a form of his own."""
        level = int(self.levels[row])
        found = grounds(self.snapshot, self.snapshot.taxa[row], self.observation, typical=level == ATYPICAL) if level >= ATYPICAL else ()
        return Mark(self.observation.text, VERDICTS[level], tuple(found))


def judged(snapshot: Snapshot, observation: Observation, *, wild: bool) -> Judged:
    """One observation judged, from memory if it was asked lately."""
    return snapshot.remembered("judging", _judge)(observation, wild)


def _judge(snapshot: Snapshot) -> Callable[[Observation, bool], Judged]:
    @lru_cache(maxsize=REMEMBERED)
    def judge(observation: Observation, wild: bool) -> Judged:
        found = levels(snapshot, probe(snapshot, observation), wild=wild)
        counts = (found[:, None] == np.arange(len(VERDICTS))).astype(np.uint16)
        return Judged(snapshot, observation, found, counts.view(np.uint64)[:, 0].copy(), likelihood(snapshot).bits(observation))

    return judge
