"""Slips: how many observations contradict each taxon, counted for all taxa at once and no further than needed.

The counts are kept as saturating planes: row `i` holds the taxa that at most `i` observations contradict. Another observation
leaves in row `i` those that it fits too, and adds those of the row before; so that each costs two passes over words,
whatever the number of taxa, and who is beyond the last row is counted no more.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from lenticel.engine import Probe, shown
from lenticel.snapshot import Planes, Snapshot, indices_of, members_of


def at_most(snapshot: Snapshot, probes: Sequence[Probe], most: int, *, wild: bool = False) -> Planes:
    """The lowest taxa that at most 0, 1, 2 ... observations contradict.

    Args:
        snapshot: the knowledge.
        probes: the observations, in any order; of two that entail each other leave one out, or one slip counts twice.
        most: the highest number that is counted.
        wild: whether the plant is known to be wild, so that circumstantial characters exclude too.

    Returns:
        uint64 (most + 1, W); each row holds the bits of the row before it.
    """
    here = np.empty((most + 1, len(snapshot.terminal)), np.uint64)
    here[:] = snapshot.terminal
    there = np.empty_like(here)
    for probe in probes:
        fits = shown(snapshot, probe, wild=wild)
        if fits is not None:
            np.bitwise_and(here, fits, out=there)
            np.bitwise_or(there[1:], here[:-1], out=there[1:])
            here, there = there, here
    return here


def near(snapshot: Snapshot, probes: Sequence[Probe], most: int = 2, *, wild: bool = False) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.uint8]]:
    """The lowest taxa that at least one and at most `most` observations contradict.

    Returns:
        Their places, ascending; and how many observations contradict each, uint8.
    """
    planes = at_most(snapshot, probes, most, wild=wild)
    places = indices_of(planes[-1] & ~planes[0])
    counts = np.ones(len(places), np.uint8)
    for plane in planes[1:-1]:
        counts += ~members_of(plane, snapshot.taxa_count).take(places)
    return places, counts
