"""Which pairs became separable, or no longer are, by season; and which separators pairs lost."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from lenticel.compare import disjoint_pairs
from lenticel.difference import Causes, RowChange
from lenticel.model import SEASONS
from lenticel.sight import there
from lenticel.snapshot import Snapshot

Pair = tuple[str, str]
Flags = npt.NDArray[np.bool_]
LostSeparator = tuple[Pair, str, str, tuple[RowChange, ...]]  # the pair, the character, its force, and why
FORCES = {"decisive": ("hard",), "typical": ("hard", "typical")}  # each with the tiers that it rests on


@dataclass(frozen=True, slots=True)
class Parting:
    """In these seasons a pair became separable, or no longer is: decisively, or (typical) at least by what is usual.

    `how` is "separable", "no longer separable", or "not separable" of a pair with a taxon that is new. `characters` are those
    that began or ceased to separate it.
    """

    pair: Pair
    force: str
    how: str
    seasons: tuple[str, ...]
    characters: tuple[str, ...]
    causes: tuple[RowChange, ...]


@dataclass
class Partings:
    """The pairs that changed, and every separator that a pair lost."""

    changed: tuple[Parting, ...] = ()
    lost: list[LostSeparator] = field(default_factory=list)


class _Version:
    """One version's separators of the pairs of some taxa: `by[force][character]` is bool (n, n)."""

    def __init__(self, snapshot: Snapshot, taxa: list[str]) -> None:
        self.known = snapshot.knowledge
        self._snapshot = snapshot
        self._rows = rows = np.array([snapshot.place_of[taxon] for taxon in taxa], np.intp)
        self.by: dict[str, dict[str, Flags]] = {force: {} for force in FORCES}
        for key, character in self.known.characters.items():
            hard, usual = (disjoint_pairs(snapshot, rows, key, tier) for tier in (0, 1))
            decisive = hard if character.force == "diagnostic" else np.zeros_like(hard)
            self.by["decisive"][key] = decisive
            self.by["typical"][key] = usual | hard

    def separable(self, force: str, season: str) -> Flags:
        """Whether any character that can be seen then separates each pair."""
        chosen = []
        for key, flags in self.by[force].items():
            kept = there(self._snapshot, key, self._rows, season)
            chosen.append(flags & kept[:, None] & kept)
        found: Flags = np.any(chosen, axis=0) if chosen else np.zeros((0, 0), np.bool_)
        return found


def partings(old: Snapshot, new: Snapshot, causes: Causes) -> Partings:
    """How the pairs of lowest taxa that both versions hold came to be separable, or not."""
    taxa = [taxon for taxon in new.knowledge.terminal if taxon in set(old.knowledge.terminal)]
    if len(taxa) < 2:
        return Partings()
    before, after = _Version(old, taxa), _Version(new, taxa)
    changed = (*_changed(before, after, taxa, causes), *_alike(new, set(taxa), causes))
    return Partings(changed, list(_lost(before, after, taxa, causes)))


def _changed(before: _Version, after: _Version, taxa: list[str], causes: Causes) -> Iterator[Parting]:
    for force in FORCES:
        found: dict[tuple[int, int, str], list[str]] = {}
        for season in SEASONS:
            was, is_now = before.separable(force, season), after.separable(force, season)
            for one, other in np.argwhere(np.triu(was != is_now, 1)).tolist():
                found.setdefault((one, other, "separable" if is_now[one, other] else "no longer separable"), []).append(season)
        for (one, other, how), seasons in found.items():
            pair = (taxa[one], taxa[other])
            characters = tuple(_differing(before, after, force, one, other, seasons))
            yield Parting(pair, force, how, tuple(seasons), characters, causes.of(pair, characters, FORCES[force]))


def _alike(new: Snapshot, old_taxa: set[str], causes: Causes) -> Iterator[Parting]:
    """The pairs with a new taxon that not even what is usual separates."""
    taxa = new.knowledge.terminal
    if old_taxa.issuperset(taxa):
        return
    version = _Version(new, taxa)
    found: dict[tuple[int, int], list[str]] = {}
    for season in SEASONS:
        for one, other in np.argwhere(np.triu(~version.separable("typical", season), 1)).tolist():
            if taxa[one] not in old_taxa or taxa[other] not in old_taxa:
                found.setdefault((one, other), []).append(season)
    for (one, other), seasons in found.items():
        fresh = [taxon for taxon in (taxa[one], taxa[other]) if taxon not in old_taxa]
        yield Parting((taxa[one], taxa[other]), "typical", "not separable", tuple(seasons), (), causes.of_taxa(fresh))


def _differing(before: _Version, after: _Version, force: str, one: int, other: int, seasons: list[str]) -> Iterator[str]:
    for key in dict.fromkeys((*before.by[force], *after.by[force])):
        sides = [
            key in version.by[force] and bool(version.by[force][key][one, other]) and bool(set(version.known.characters[key].seasons) & set(seasons))
            for version in (before, after)
        ]
        if sides[0] != sides[1]:
            yield key


def _lost(before: _Version, after: _Version, taxa: list[str], causes: Causes) -> Iterator[LostSeparator]:
    told: set[tuple[Pair, str]] = set()
    for force in FORCES:
        for key, was in before.by[force].items():
            if before.known.characters[key].force == "circumstantial":
                continue  # where a plant stands never told it from another
            now = after.by[force].get(key, np.zeros_like(was))
            for one, other in np.argwhere(np.triu(was & ~now, 1)).tolist():
                pair = (taxa[one], taxa[other])
                if (pair, key) not in told:
                    told.add((pair, key))
                    yield pair, key, force, causes.of(pair, [key], FORCES[force])
