"""The engine: which taxa an observation leaves, by set operations on the snapshot's arrays.

That one contradicting observation is enough, and that several can be judged one by one, is the theorem on which this
rests (DEVELOPERS.md, "The fragment"); the tests hold it against HermiT.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lenticel.few import Few, places_of
from lenticel.snapshot import Planes, Snapshot, bits_of, indices_of, members_of

SILENT, AGREES, ATYPICAL, CONTRADICTS = range(4)
VERDICTS = ("silent", "agrees", "atypical", "contradicts")

Levels = npt.NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Bits:
    """An observed set of atoms: the planes that hold them, those of all atoms of the character, and the row of `known`."""

    planes: tuple[int, ...]
    all_planes: tuple[int, ...]
    place: int
    circumstantial: bool


@dataclass(frozen=True, slots=True)
class Spans:
    """Observed intervals on the grid of a measured character: its slot, the (low, high) pairs, and the row of `known`."""

    slot: int
    spans: tuple[tuple[int, int], ...]
    place: int
    circumstantial: bool


Probe = tuple[Bits | Spans, ...]  # one observation; several parts stand for "this or that"


def _shows(planes: Planes, chosen: tuple[int, ...]) -> Planes:
    """The taxa that may show one of the chosen atoms."""
    result: Planes = planes[chosen[0]]
    for plane in chosen[1:]:
        result = result | planes[plane]
    return result


def _within(snapshot: Snapshot, part: Spans, tier: int, rows: npt.NDArray[np.intp] | slice) -> npt.NDArray[np.bool_]:
    """Of the taxa in `rows`, those whose interval in the tier (0 hard, 2 typical) meets one of the spans."""
    low, high = snapshot.ranges[tier, part.slot][rows], snapshot.ranges[tier + 1, part.slot][rows]
    result: npt.NDArray[np.bool_] = (low <= part.spans[0][1]) & (high >= part.spans[0][0])
    for start, end in part.spans[1:]:
        result |= (low <= end) & (high >= start)
    if snapshot.has_void(tier, part.slot):
        result &= low <= high
    return result


def _excludes(part: Bits | Spans, wild: bool) -> bool:
    return wild or not part.circumstantial


def consistent(snapshot: Snapshot, probes: Sequence[Probe], *, wild: bool = False, terminal: bool = True) -> npt.NDArray[np.intp]:
    """The taxa that no observation contradicts.

    Args:
        snapshot: the knowledge.
        probes: the observations, in any order.
        wild: whether the plant is known to be wild, so that circumstantial characters exclude too.
        terminal: whether to answer only taxa with none below them.

    Returns:
        Their places in the snapshot, ascending.
    """
    if snapshot.few is not None:
        return places_of(_left_of_few(snapshot.few, probes, wild, terminal), snapshot.taxa_count)
    left: Planes = snapshot.terminal if terminal else bits_of(np.ones(snapshot.taxa_count, np.bool_))
    later: list[Spans] = []
    for probe in probes:
        if not all(_excludes(part, wild) for part in probe):
            continue
        first = probe[0]
        if len(probe) > 1:
            left = left & _any_part(snapshot, probe)
        elif isinstance(first, Bits):
            left = left & _shows(snapshot.hard, first.planes)
        else:
            later.append(first)
    rows = indices_of(left)
    for part in later:
        rows = rows.compress(_within(snapshot, part, 0, rows))
    return rows


def _left_of_few(few: Few, probes: Sequence[Probe], wild: bool, terminal: bool) -> int:
    left = few.terminal if terminal else few.everything
    for probe in probes:
        shown = 0
        for part in probe:
            if not _excludes(part, wild):
                shown = few.everything
            elif isinstance(part, Spans):
                shown |= few.meeting(part.slot, part.spans)
            else:
                for plane in part.planes:
                    shown |= few.hard[plane]
        left &= shown
    return left


def shown(snapshot: Snapshot, probe: Probe, *, wild: bool = False) -> Planes | None:
    """The taxa that one observation does not contradict, as words (W,); None if it is of a kind that contradicts none."""
    return _any_part(snapshot, probe) if all(_excludes(part, wild) for part in probe) else None


def _any_part(snapshot: Snapshot, probe: Probe) -> Planes:
    words = [_shows(snapshot.hard, part.planes) if isinstance(part, Bits) else bits_of(_within(snapshot, part, 0, slice(None))) for part in probe]
    result: Planes = words[0]
    for other in words[1:]:
        result = result | other
    return result


def levels(snapshot: Snapshot, probe: Probe, *, wild: bool = False) -> Levels:
    """The verdict of one observation on every taxon.

    An observation of several parts ("this or that") gets its mildest part's verdict.

    Returns:
        uint8 (N,): 0 silent, 1 agrees, 2 atypical, 3 contradicts.
    """
    if len(probe) == 1:
        return _part_levels(snapshot, probe[0], wild)
    parts = np.stack([_part_levels(snapshot, part, wild) for part in probe])
    rank = np.array([1, 0, 2, 3], np.uint8)  # agreement is milder than silence when one of several parts holds
    mildest = rank[parts].argmin(axis=0)
    return np.asarray(np.take_along_axis(parts, mildest[None], axis=0)[0], np.uint8)


def _part_levels(snapshot: Snapshot, part: Bits | Spans, wild: bool) -> Levels:
    count = snapshot.taxa_count
    known = members_of(snapshot.known[part.place], count)
    if isinstance(part, Bits):
        may = members_of(_shows(snapshot.hard, part.planes), count)
        usual = members_of(_shows(snapshot.typical, part.planes), count)
    else:
        may, usual = (_within(snapshot, part, tier, slice(None)) for tier in (0, 2))
    result = np.where(known, np.uint8(AGREES), np.uint8(SILENT))
    result[~usual] = ATYPICAL
    if _excludes(part, wild):
        result[~may] = CONTRADICTS
    return result
