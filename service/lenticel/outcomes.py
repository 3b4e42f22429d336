"""What looking at characters may show: the outcomes of each among some taxa, which taxa each outcome leaves, and how likely it is.

The outcomes of a character with states are its atoms; those of a quantity are intervals, cut where the bounds of the taxa
lie. Either way they cover what can be shown and do not overlap. Which taxa an outcome leaves is the hard tier's word, so
that it is what `identify` would say; how likely it is serves to weigh the outcomes and never excludes.

The order of an answer has a finer distribution (`likelihood`), made of the statements themselves: words of frequency, slips, kin. This one is made of the
arrays alone, for two reasons. It serves hundreds of thousands of taxa, and snapshots that hold no statements, within the time of a sweep over bits. And it
gives no weight to what the hard tier forbids, without which an outcome could count for a taxon that it leaves out; slips have no place where logic strikes
taxa off. Where any observation may be a slip, looks are weighed by the finer one (`reports`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import reduce
from operator import or_

import numpy as np
import numpy.typing as npt

from lenticel.observation import Part, state_text
from lenticel.quantity import Interval
from lenticel.snapshot import OPEN_HIGH, OPEN_LOW, Layout, Planes, Snapshot, indices_of, scaled

Flags = npt.NDArray[np.bool_]
Numbers = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]
Shown = int | tuple[int, int]  # a mask of atoms, or an interval on the grid of a quantity

USUAL = 0.9  # how often a plant shows what is usual of its taxon, where the taxon may show more; by rule of thumb
EVEN = 0.05  # the share of an unknown cell that is spread evenly, so that nothing is held impossible
MOST_CUTS = 12  # of a quantity: nobody wants more intervals to choose from
ENOUGH = 4096  # taxa, of which the usual run of a character is taken


@dataclass(frozen=True)
class Outcomes:
    """The outcomes of some characters among n taxa, one row an outcome, those of a character together.

    Attributes:
        characters: K identifiers.
        starts: int (K + 1,); the outcomes of character k are the rows `starts[k]` to `starts[k + 1]`.
        shown: what each outcome is.
        fits: bool (M, n); whether the taxon may show it.
        chance: float64 (M, n); how often a plant of the taxon shows it; the rows of a character add up to 1.
    """

    characters: tuple[str, ...]
    starts: Places
    shown: tuple[Shown, ...]
    fits: Flags
    chance: Numbers

    def of(self, place: int) -> slice:
        """The rows of the character at a place."""
        return slice(int(self.starts[place]), int(self.starts[place + 1]))


class Outlook:
    """The outcomes of one snapshot's characters; what does not depend on the taxa asked about is made once."""

    def __init__(self, snapshot: Snapshot) -> None:
        self.snapshot = snapshot
        lowest = indices_of(snapshot.terminal)
        self._sample = lowest[:: -(-len(lowest) // ENOUGH) or 1]
        self._usual_run: dict[str, Numbers] = {}
        self._of_states: dict[str, tuple[Flags, Numbers]] = {}

    def outcomes(self, characters: Sequence[str], rows: Places, *, usual: bool = False) -> Outcomes:
        """The outcomes among the taxa at some places, of those characters that every one of them can show.

        Args:
            characters: identifiers.
            rows: the places of n taxa.
            usual: let only what is usual of a taxon fit it, which excludes no plant.
        """
        kept: list[str] = []
        shown: list[Shown] = []
        starts, fits, chance = [0], [np.zeros((0, len(rows)), np.bool_)], [np.zeros((0, len(rows)))]
        for key in characters:
            values, may, likely = self._of(key, rows, 1 if usual else 0)
            if may.any(axis=0).all():
                kept.append(key)
                shown += values
                starts.append(len(shown))
                fits.append(may)
                chance.append(likely)
        return Outcomes(tuple(kept), np.array(starts), tuple(shown), np.concatenate(fits), np.concatenate(chance))

    def _of(self, key: str, rows: Places, tier: int) -> tuple[list[Shown], Flags, Numbers]:
        where = self.snapshot.layout[key]
        if not where.atoms:
            return self._intervals(where, rows, tier)
        may, likely = self._states(key, where, rows)
        return [1 << bit for bit in range(where.atoms)], self._tiers(where, rows)[1] if tier else may, likely

    def _states(self, key: str, where: Layout, rows: Places) -> tuple[Flags, Numbers]:
        count = self.snapshot.taxa_count
        if count > ENOUGH:
            return self._spread(key, where, rows)
        if key not in self._of_states:
            self._of_states[key] = self._spread(key, where, np.arange(count))
        may, likely = self._of_states[key]
        return may[:, rows], likely[:, rows]

    def _spread(self, key: str, where: Layout, rows: Places) -> tuple[Flags, Numbers]:
        if key not in self._usual_run:
            may, usual, known = self._tiers(where, self._sample)
            told = known & may.any(axis=0)
            even = np.full(where.atoms, 1 / where.atoms)
            self._usual_run[key] = EVEN * even + (1 - EVEN) * (_shares(may, usual)[:, told].mean(axis=1) if told.any() else even)
        may, usual, known = self._tiers(where, rows)
        return may, np.where(known, _shares(may, usual), self._usual_run[key][:, None])

    def _tiers(self, where: Layout, rows: Places) -> tuple[Flags, Flags, Flags]:
        """What the taxa at some places may show, what they usually show, and whether anything is known of them."""
        planes = slice(where.first, where.first + where.atoms)
        may, usual = (_bits(tier[planes], rows) for tier in (self.snapshot.hard, self.snapshot.typical))
        return may, usual & may, _bits(self.snapshot.known[where.place][None], rows)[0]

    def _intervals(self, where: Layout, rows: Places, tier: int) -> tuple[list[Shown], Flags, Numbers]:
        low, high = self.snapshot.ranges[2 * tier : 2 * tier + 2, where.slot].take(rows, axis=1).astype(np.int64)
        cuts = chosen_cuts(low, high)
        first, last = np.concatenate(([OPEN_LOW], cuts)), np.concatenate((cuts - 1, [OPEN_HIGH]))
        fits = (low <= last[:, None]) & (high >= first[:, None]) & (low <= high)
        return list(zip(first.tolist(), last.tolist(), strict=True)), fits, self._mass(where, rows, first, last)

    def _mass(self, where: Layout, rows: Places, first: npt.NDArray[np.int64], last: npt.NDArray[np.int64]) -> Numbers:
        """How often plants of the taxa at some places lie within intervals (M, n); where nothing is known, as often as the others do."""
        everyone = np.concatenate((rows, self._sample))
        bounds = self.snapshot.ranges[:, where.slot][:, everyone].astype(np.int64)
        known = _bits(self.snapshot.known[where.place][None], everyone)[0]
        mass, asked = _masses(bounds, first, last), len(rows)
        told = mass[:, asked:][:, known[asked:] & (bounds[0, asked:] <= bounds[1, asked:])]
        even = np.full(len(first), 1 / len(first))
        run = EVEN * even + (1 - EVEN) * (told.mean(axis=1) if told.size else even)
        return np.where(known[:asked], mass[:, :asked], run[:, None])

    def likely(self, part: Part, rows: Places) -> Numbers:
        """How often plants of the taxa at some places show what was seen of one character; float64 (n,)."""
        where = self.snapshot.layout[part.character]
        if where.atoms:
            likely = self._states(part.character, where, rows)[1]
            return np.asarray(likely[[bit for bit in range(where.atoms) if part.mask >> bit & 1]].sum(axis=0))
        ends = [(scaled(each.lo, where.places, low=True), scaled(each.hi, where.places, low=False)) for each in part.spans]
        return np.asarray(self._mass(where, rows, *np.array(ends, np.int64).T).sum(axis=0))


def outlook(snapshot: Snapshot) -> Outlook:
    """The outlook of a snapshot, made once."""
    return snapshot.remembered("outcomes", Outlook)


def _bits(planes: Planes, rows: Places) -> Flags:
    """The bits of the taxa at some places, of each plane; bool (P, n)."""
    return np.asarray((planes[:, rows >> 6] >> (rows & 63).astype(np.uint64) & np.uint64(1)).astype(np.bool_))


def critical(low: npt.NDArray[np.int64], high: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """Where the set of taxa that may show a value changes: the first value of each new stretch, ascending; above zero, since no quantity lies below."""
    alive = low <= high
    starts, ends = low[alive], high[alive]
    return np.unique(np.concatenate((starts[starts > 0], ends[(ends != OPEN_HIGH) & (ends >= 0)] + 1)))


def chosen_cuts(low: npt.NDArray[np.int64], high: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """The cuts of a quantity: the fewest that part all taxa with no value in common, and evenly chosen others up to MOST_CUTS."""
    every = critical(low, high)
    if len(every) <= MOST_CUTS:
        return every
    parting: list[int] = []
    for start in np.unique(low[low <= high]).tolist():  # the last value at which the taxa that end below can still be parted from those that start here
        below = high[(high < start) & (low <= high)]
        if len(below) and (not parting or parting[-1] <= below.max()):
            parting.append(start)
    spare = max(0, MOST_CUTS - len(parting))
    return np.union1d(np.array(parting, np.int64), every[np.linspace(0, len(every) - 1, spare).round().astype(np.intp)])


def _shares(may: Flags, usual: Flags) -> Numbers:
    """The distribution over atoms (A, n) of plants that show what is usual USUAL of the time, else what else they may show."""
    rare = may & ~usual
    often, seldom = usual.sum(axis=0), rare.sum(axis=0)
    weight = np.where(often == 0, 0.0, np.where(seldom == 0, 1.0, USUAL))
    return np.asarray(usual * (weight / np.maximum(often, 1)) + rare * ((1 - weight) / np.maximum(seldom, 1)))


def _masses(bounds: npt.NDArray[np.int64], first: npt.NDArray[np.int64], last: npt.NDArray[np.int64]) -> Numbers:
    """The distribution over intervals (M, n) of taxa with bounds (4, n): even within the usual ones and within the hard ones.

    An open end is taken at the outermost end of the others.
    """
    ends = bounds[(bounds != OPEN_LOW) & (bounds != OPEN_HIGH)]
    floor, ceiling = (int(ends.min()), int(ends.max())) if ends.size else (0, 1)
    clipped = np.clip(bounds, floor, ceiling)
    hard, usual = (_even(clipped[tier], clipped[tier + 1], first, last) for tier in (0, 2))
    weight = np.where(usual.sum(axis=0) > 0, USUAL, 0.0)
    return weight * usual + (1 - weight) * hard


def _even(low: npt.NDArray[np.int64], high: npt.NDArray[np.int64], first: npt.NDArray[np.int64], last: npt.NDArray[np.int64]) -> Numbers:
    inside = np.minimum(high, last[:, None]) - np.maximum(low, first[:, None]) + 1
    size = np.maximum(high - low + 1, 1)
    return np.asarray(np.maximum(inside, 0) / size) * (low <= high)


def distinct_rows(fits: Flags) -> list[list[int]]:
    """The rows of (M, n) that leave something, together those that leave the same."""
    alike: dict[bytes, list[int]] = {}
    for row in np.flatnonzero(fits.any(axis=1)).tolist():
        alike.setdefault(fits[row].tobytes(), []).append(row)
    return list(alike.values())


def part_of(snapshot: Snapshot, character: str, shown: Sequence[Shown]) -> Part:
    """Some outcomes of one character, taken together, as something observed."""
    masks = [each for each in shown if isinstance(each, int)]
    if masks:
        mask, partition = reduce(or_, masks), snapshot.body.partitions[character]
        return Part(character, mask, (), state_text(partition, mask), tuple(partition.describe(mask)))
    where, unit = snapshot.layout[character], snapshot.knowledge.characters[character].unit
    spans = tuple(_interval(each, where.places) for each in joined(each for each in shown if not isinstance(each, int)))
    return Part(character, 0, spans, " or ".join(map(str, spans)) + ("" if unit == "1" else f" {unit}"))


def joined(spans: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
    """Intervals of whole numbers, those that follow on each other made one."""
    found: list[tuple[int, int]] = []
    for first, last in sorted(spans):
        if found and found[-1][1] >= first - 1:
            found[-1] = (found[-1][0], max(last, found[-1][1]))
        else:
            found.append((first, last))
    return found


def _interval(span: tuple[int, int], places: int) -> Interval:
    low, high = (None if end in (OPEN_LOW, OPEN_HIGH) else Decimal(end).scaleb(-places) for end in span)
    return Interval(low, high)
