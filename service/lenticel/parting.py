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


@dataclass(frozen=True, slots=True)
class Alone:
    """Nothing but one character says that no plant can be both of a pair, and it does so by one statement that is new or was changed."""

    pair: Pair
    character: str
    row: RowChange


@dataclass
class Partings:
    """The pairs that changed, every separator that a pair lost, and the pairs that a single new row decides between."""

    changed: tuple[Parting, ...] = ()
    lost: list[LostSeparator] = field(default_factory=list)
    alone: tuple[Alone, ...] = ()


class _Version:
    """One version's separators of the pairs of some taxa: `by[force][character]` is bool (n, n)."""

    def __init__(self, snapshot: Snapshot, taxa: list[str]) -> None:
        self.known = snapshot.knowledge
        self.taxa = taxa
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
    whole = after if len(taxa) == len(new.knowledge.terminal) else _Version(new, list(new.knowledge.terminal))
    changed = (*_changed(before, after, taxa, causes), *_alike(whole, set(taxa), causes))
    return Partings(changed, list(_lost(before, after, taxa, causes)), tuple(_alone(before, whole, causes)))


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


def _alike(version: _Version, old_taxa: set[str], causes: Causes) -> Iterator[Parting]:
    """The pairs with a new taxon that not even what is usual separates."""
    taxa = version.taxa
    if old_taxa.issuperset(taxa):
        return
    found: dict[tuple[int, int], list[str]] = {}
    for season in SEASONS:
        for one, other in np.argwhere(np.triu(~version.separable("typical", season), 1)).tolist():
            if taxa[one] not in old_taxa or taxa[other] not in old_taxa:
                found.setdefault((one, other), []).append(season)
    for (one, other), seasons in found.items():
        fresh = [taxon for taxon in (taxa[one], taxa[other]) if taxon not in old_taxa]
        yield Parting((taxa[one], taxa[other]), "typical", "not separable", tuple(seasons), (), causes.of_taxa(fresh))


def _alone(before: _Version, after: _Version, causes: Causes) -> Iterator[Alone]:
    """The pairs that nothing parted decisively before, and a single statement does now."""
    characters = list(after.by["decisive"])
    if not characters:
        return
    flags = np.stack([after.by["decisive"][key] for key in characters])
    parted = np.any(list(before.by["decisive"].values()), axis=0)
    place = {taxon: number for number, taxon in enumerate(before.taxa)}
    for one, other in np.argwhere(np.triu(flags.sum(axis=0) == 1, 1)).tolist():
        pair = (after.taxa[one], after.taxa[other])
        if place.keys() >= set(pair) and parted[place[pair[0]], place[pair[1]]]:
            continue
        character = characters[int(flags[:, one, other].argmax())]
        rows = [each for each in causes.of(pair, [character]) if each.table == "statements"]
        if len(rows) == 1 and rows[0].how != "gone":
            yield Alone(pair, character, rows[0])


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
