"""What one observation says of every taxon; remembered, since by the theorem of the fragment no other observation changes it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from lenticel.engine import ATYPICAL, VERDICTS, Levels, levels
from lenticel.likelihood import likelihood
from lenticel.observation import Observation, probe
from lenticel.snapshot import Snapshot, members_of
from lenticel.why import Ground, grounds

REMEMBERED = 4096  # observations; the marks of one on a hundred taxa take some 100 kB
COUNT_BITS = 13  # of one of four counts side by side in a number: 52 bits, which float64 holds exactly
COUNTS, BITS = range(2)  # the rows of what is told

Told = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Mark:
    """The verdict of one observation on one taxon, with its grounds where it is atypical or contradicts."""

    observation: str
    verdict: str
    grounds: tuple[Ground, ...] = ()


@dataclass(frozen=True, eq=False)
class Judged:
    """One observation: its verdict on every taxon (uint8 (N,)), and how much it speaks for each, in bits (float64 (N,)).

    `told` says both to be added up, float64 (2, N), the taxa in the order of `Order`: a one in the place of the verdict among the four counts, and the bits.
    """

    snapshot: Snapshot = field(repr=False)
    observation: Observation
    levels: Levels
    bits: npt.NDArray[np.float64]
    told: Told
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
    columns = snapshot.remembered("order", Order).columns

    @lru_cache(maxsize=REMEMBERED)
    def judge(observation: Observation, wild: bool) -> Judged:
        found, bits = levels(snapshot, probe(snapshot, observation), wild=wild), likelihood(snapshot).bits(observation)
        ones = np.int64(1) << (COUNT_BITS * found.astype(np.int64))
        return Judged(snapshot, observation, found, bits, np.stack([ones, bits]).take(columns, axis=1))

    return judge


class Order:
    """The order in which taxa are told of: the lowest taxa by name, then the others by name.

    `columns` are the rows of the snapshot in that order (N,), the first `lowest` of them those of the lowest taxa; `by_name` the places in that order of
    all taxa by name, `named` their rows.
    """

    def __init__(self, snapshot: Snapshot) -> None:
        taxa, lowest = snapshot.taxa, members_of(snapshot.terminal, snapshot.taxa_count).tolist()
        ordered = sorted(range(snapshot.taxa_count), key=lambda row: (not lowest[row], taxa[row]))
        self.lowest = sum(lowest)
        self.columns = np.array(ordered, np.intp)
        self.by_name = np.array(sorted(range(len(ordered)), key=lambda place: taxa[ordered[place]]), np.intp)
        self.named = self.columns[self.by_name]


def counts(told: int) -> Iterable[int]:
    """The four counts that lie side by side in a number: how many observations are silent, agree, are atypical, contradict."""
    return ((told >> COUNT_BITS * place) % (1 << COUNT_BITS) for place in range(len(VERDICTS)))
