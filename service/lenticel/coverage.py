"""How much is known, and where it is thin: taxa by season and organ, and pairs that nothing separates."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt

from lenticel.compare import disjoint_pairs
from lenticel.model import SEASONS
from lenticel.snapshot import Snapshot, members_of

THIN = 8


@dataclass(frozen=True, slots=True)
class TaxonCoverage:
    """How many characters are known of a taxon (own statements or inherited), by season and by organ; and from how many sources."""

    taxon: str
    label: str
    characters: int
    by_season: dict[str, int]
    by_organ: dict[str, int]
    sources: int


@dataclass(frozen=True, slots=True)
class CharacterCoverage:
    """Of how many of the lowest taxa a character is known."""

    character: str
    organ: str
    taxa: int


@dataclass(frozen=True, slots=True)
class Coverage:
    """What is known of the lowest taxa.

    `thin` lists, by season, the taxa of which fewer than `THIN` characters are known that can be seen then. `rare` are the
    characters known of fewer than a tenth of the taxa. `unseparated` lists, by season, the pairs between which no character
    decides; `inseparable` those that not even usual plants differ.
    """

    digest: str
    taxa: tuple[TaxonCoverage, ...]
    characters: tuple[CharacterCoverage, ...]
    thin: dict[str, tuple[str, ...]]
    rare: tuple[str, ...]
    unseparated: dict[str, tuple[tuple[str, str], ...]]
    inseparable: dict[str, tuple[tuple[str, str], ...]]


def coverage(snapshot: Snapshot) -> Coverage:
    """What is known of the lowest taxa, and what is not."""
    known = snapshot.knowledge
    rows = np.flatnonzero(members_of(snapshot.terminal, snapshot.taxa_count))
    names = [snapshot.taxa[row] for row in rows]
    table = {key: members_of(snapshot.known[where.place], snapshot.taxa_count)[rows] for key, where in snapshot.layout.items()}
    taxa = tuple(_taxon(snapshot, name, [key for key in table if table[key][place]]) for place, name in enumerate(names))
    characters = tuple(CharacterCoverage(key, known.characters[key].organ, int(table[key].sum())) for key in table)
    decided = {season: _separated(snapshot, rows, season, 0) for season in SEASONS}
    differ = {season: decided[season] | _separated(snapshot, rows, season, 1) for season in SEASONS}
    return Coverage(
        snapshot.digest,
        taxa,
        characters,
        {season: tuple(each.taxon for each in taxa if each.by_season[season] < THIN) for season in SEASONS},
        tuple(each.character for each in characters if each.taxa * 10 < len(names)),
        {season: _missing(names, decided[season]) for season in SEASONS},
        {season: _missing(names, differ[season]) for season in SEASONS},
    )


def _taxon(snapshot: Snapshot, taxon: str, characters: list[str]) -> TaxonCoverage:
    known = snapshot.knowledge
    organs: dict[str, int] = {}
    for key in characters:
        organs[known.characters[key].organ] = organs.get(known.characters[key].organ, 0) + 1
    seasons = {season: sum(season in known.characters[key].seasons for key in characters) for season in SEASONS}
    lineage = set(known.lineage(taxon))
    sources = {each.source for each in known.statements.values() if each.taxon in lineage}
    return TaxonCoverage(taxon, known.taxa[taxon].label, len(characters), seasons, organs, len(sources))


def _missing(names: list[str], separated: npt.NDArray[np.bool_]) -> tuple[tuple[str, str], ...]:
    return tuple((names[one], names[other]) for one, other in combinations(range(len(names)), 2) if not separated[one, other])


def _separated(snapshot: Snapshot, rows: npt.NDArray[np.intp], season: str, tier: int) -> npt.NDArray[np.bool_]:
    """Bool (n, n): whether a diagnostic character that can be seen in the season separates two taxa (tier 0 decisively, 1 typically)."""
    result = np.zeros((len(rows), len(rows)), np.bool_)
    for key, character in snapshot.knowledge.characters.items():
        if season in character.seasons and character.force == "diagnostic":
            result |= disjoint_pairs(snapshot, rows, key, tier)
    return result
