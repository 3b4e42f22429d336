"""How often sources name a character as the one that tells taxa apart, against how often they might have.

What a practitioner goes by is more than what differs: leaves against leaves, thorns, the number of needles. The look-alike
records, those of common practice and from memory among them, say what was named. A character that parts many of their taxa and is
hardly ever named is not prominent, however far apart it lies.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from itertools import combinations
from math import log2

import numpy as np
import numpy.typing as npt

from lenticel.snapshot import Layout, Snapshot, members_of

APART = 0.25  # of what is usual of either taxon, at least, the other does not show
STEADY = 2.0  # records that name a character as often as any, so that few records say little

Places = npt.NDArray[np.intp]


def prominence(snapshot: Snapshot) -> Mapping[str, float]:
    """For each broadest character, in bits: how often it is named as telling taxa apart, against how often a character is that sets them apart.

    Characters that no record names, and of which none could, have 0. Made once for a snapshot.
    """
    return snapshot.remembered("prominence", _prominence)


def _prominence(snapshot: Snapshot) -> dict[str, float]:
    known = snapshot.knowledge
    records = [each for each in known.lookalikes.values() if each.told_by]
    root = {key: known.broadest(key) for key in known.characters}
    named = Counter(broadest for each in records for broadest in {root[key] for key in each.told_by})
    pairs = [(number, *places) for number, each in enumerate(records) for places in combinations([snapshot.place_of[taxon] for taxon in each.taxa], 2)]
    of, one, other = np.array(pairs, np.intp).reshape(-1, 3).T
    parted: dict[str, set[int]] = {broadest: set() for broadest in root.values()}
    for key, broadest in root.items():
        parted[broadest].update(of[_apart(snapshot, snapshot.layout[key], one, other)].tolist())
    usual = named.total() / max(sum(map(len, parted.values())), 1)
    return {broadest: log2((named[broadest] + STEADY) / (usual * len(found) + STEADY)) for broadest, found in parted.items()}


def _apart(snapshot: Snapshot, where: Layout, one: Places, other: Places) -> npt.NDArray[np.bool_]:
    """Bool (n,): whether what is usual of n pairs of taxa lies apart for a character, if anything is said of both."""
    said = members_of(snapshot.known[where.place], snapshot.taxa_count)
    alike = _states_alike(snapshot, where, one, other) if where.atoms else _ranges_alike(snapshot, where, one, other)
    return np.asarray(said[one] & said[other] & (alike <= 1 - APART))


def _states_alike(snapshot: Snapshot, where: Layout, one: Places, other: Places) -> npt.NDArray[np.float64]:
    """The share that both show of what that taxon of each pair usually shows which shows more."""
    may = np.stack([members_of(plane, snapshot.taxa_count) for plane in snapshot.typical[where.first : where.first + where.atoms]])
    both, most = (may[:, one] & may[:, other]).sum(axis=0), np.maximum(may[:, one].sum(axis=0), may[:, other].sum(axis=0))
    return np.asarray(both / np.maximum(most, 1))


def _ranges_alike(snapshot: Snapshot, where: Layout, one: Places, other: Places) -> npt.NDArray[np.float64]:
    """The mean of the shares of either usual range of each pair that lie in the other; a single figure lies in a range or not."""
    low, high = snapshot.ranges[2:4, where.slot].astype(np.float64)
    both = np.minimum(high[one], high[other]) - np.maximum(low[one], low[other])
    shares = [np.where(high[side] > low[side], both / np.maximum(high[side] - low[side], 1), 1.0) for side in (one, other)]
    return np.asarray(np.where(both >= 0, (shares[0] + shares[1]) / 2, 0.0))
