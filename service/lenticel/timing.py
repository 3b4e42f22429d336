"""What a month has to say: its season, and what is due then. It never excludes."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from lenticel.model import SEASONS
from lenticel.snapshot import Planes, Snapshot, members_of


def season_of(month: int) -> str:
    """The season of a month (1 to 12) in the northern temperate zone, by the meteorological reckoning: spring from March on."""
    return SEASONS[(month - 3) % 12 // 3]


def months_of(season: str) -> tuple[int, ...]:
    """The three months of a season."""
    return tuple(month for month in range(1, 13) if season_of(month) == season)


def said_in(snapshot: Snapshot, planes: Planes, character: str, months: Iterable[int]) -> Planes:
    """uint64 (W,): the taxa of which a character of months is said, and that show one of some months; by the hard or the typical planes of a snapshot."""
    where = snapshot.layout[character]
    return np.asarray(np.bitwise_or.reduce([planes[where.first + month - 1] for month in months]) & snapshot.known[where.place])


def due(snapshot: Snapshot, taxa: Iterable[str], month: int) -> dict[str, tuple[str, ...]]:
    """For each taxon the characters of kind month whose usual months hold this one, such as flowering; taxa with none are left out."""
    words: dict[str, list[str]] = {}
    wanted = list(taxa)
    for key, character in snapshot.knowledge.characters.items():
        if character.kind != "month":
            continue
        usual = members_of(said_in(snapshot, snapshot.typical, key, (month,)), snapshot.taxa_count)
        for taxon in wanted:
            if usual[snapshot.place_of[taxon]]:
                words.setdefault(taxon, []).append(key)
    return {taxon: tuple(found) for taxon, found in words.items()}
