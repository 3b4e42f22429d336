"""The second question: what separates these?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt

from lenticel.cite import Citation, citations
from lenticel.errors import BadQuestion
from lenticel.identify import cautions_for
from lenticel.model import SEASONS, Caution, Character, Lookalike
from lenticel.snapshot import Snapshot, members_of
from lenticel.why import shown_text

MAX_GROUP = 12


@dataclass(frozen=True, slots=True)
class Shown:
    """What one taxon shows for a character, and the statements that say so."""

    taxon: str
    shown: str
    statements: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Separator:
    """A character that separates at least one pair of the group.

    `force` is "decisive" if no plant could be both of a pair, "typical" if only the usual plants differ. `pairs` are
    those it separates with that force.
    """

    character: str
    force: str
    organ: str
    seasons: tuple[str, ...]
    needs: str
    pairs: tuple[tuple[str, str], ...]
    shown: tuple[Shown, ...]


@dataclass(frozen=True, slots=True)
class Comparison:
    """All separators, decisive before typical and those of most pairs first; and the pairs that nothing separates."""

    digest: str
    taxa: tuple[str, ...]
    season: str
    separators: tuple[Separator, ...]
    undecided: tuple[tuple[str, str], ...]
    inseparable: tuple[tuple[str, str], ...]
    lookalikes: tuple[Lookalike, ...]
    cautions: tuple[Caution, ...]
    citations: dict[str, Citation]


def compare(snapshot: Snapshot, taxa: Sequence[str], *, season: str = "") -> Comparison:
    """What separates two or more taxa.

    Args:
        snapshot: the knowledge.
        taxa: identifiers, 2 to 12 of them.
        season: only characters that can be seen then ("" for any season).

    Raises:
        BadQuestion: too few or too many taxa, one twice, one above another, or no such season.
    """
    known = snapshot.knowledge
    if not 2 <= len(taxa) <= MAX_GROUP or len(set(taxa)) != len(taxa):
        raise BadQuestion(f"{len(taxa)} taxa were given.", f"Name 2 to {MAX_GROUP} different taxa.", "/taxa")
    if season and season not in SEASONS:
        raise BadQuestion(f"{season[:40]!r} is no season.", f"Use one of: {', '.join(SEASONS)}.", "/season")
    for one in taxa:
        for other in taxa:
            if one != other and other in known.lineage(one):
                raise BadQuestion(f"{other!r} holds {one!r}.", "Compare taxa of which none lies within another.", "/taxa")
    found: list[Separator] = []
    for character in known.characters.values():
        if not season or season in character.seasons:
            found += _separators(snapshot, character, taxa)
    found.sort(
        key=lambda each: (
            each.force != "decisive",
            -len(each.pairs),
            known.characters[each.character].force != "diagnostic",
            each.needs != "eye",
            snapshot.layout[each.character].place,
        )
    )
    pairs = list(combinations(taxa, 2))
    decided = {pair for each in found if each.force == "decisive" for pair in each.pairs}
    touched = {pair for each in found for pair in each.pairs}
    return Comparison(
        snapshot.digest,
        tuple(taxa),
        season,
        tuple(found),
        tuple(pair for pair in pairs if pair not in decided),
        tuple(pair for pair in pairs if pair not in touched),
        lookalikes_among(snapshot, taxa, season),
        cautions_for(snapshot, taxa),
        citations(known, (key for each in found for shown in each.shown for key in shown.statements)),
    )


def lookalikes_among(snapshot: Snapshot, taxa: Iterable[str], season: str = "") -> tuple[Lookalike, ...]:
    """The look-alike records that set at least two of the taxa, or ranks above them, against each other (in a season)."""
    known = snapshot.knowledge
    lines = [set(known.lineage(taxon)) for taxon in taxa]

    def named_apart(each: Lookalike) -> bool:
        named = [line & set(each.taxa) for line in lines]
        return any(one and other and len(one | other) > 1 for one, other in combinations(named, 2))

    return tuple(each for each in known.lookalikes.values() if named_apart(each) and (not season or season in each.seasons))


def _separators(snapshot: Snapshot, character: Character, taxa: Sequence[str]) -> list[Separator]:
    rows = np.array([snapshot.place_of[taxon] for taxon in taxa])
    decisive, usual = (disjoint_pairs(snapshot, rows, character.id, tier) for tier in (0, 1))
    decided = [pair for pair in combinations(range(len(taxa)), 2) if decisive[pair]]
    typical = [pair for pair in combinations(range(len(taxa)), 2) if usual[pair] and not decisive[pair]]
    found: list[Separator] = []
    for force, pairs in (("decisive" if character.force == "diagnostic" else "typical", decided), ("typical", typical)):
        if pairs:
            shown = tuple(Shown(taxon, shown_text(snapshot, taxon, character.id), statements_behind(snapshot, taxon, character.id)) for taxon in taxa)
            named = tuple((taxa[one], taxa[other]) for one, other in pairs)
            found.append(Separator(character.id, force, character.organ, character.seasons, character.needs, named, shown))
    return found


def disjoint_pairs(snapshot: Snapshot, rows: npt.NDArray[np.intp], character: str, tier: int) -> npt.NDArray[np.bool_]:
    """Bool (n, n): whether both taxa can show the character, but nothing that the one may show may the other.

    Args:
        snapshot: the knowledge.
        rows: the places of n taxa.
        character: its identifier.
        tier: 0 for what they may show, 1 for what they usually show.
    """
    where = snapshot.layout[character]
    if where.atoms:
        planes = (snapshot.typical if tier else snapshot.hard)[where.first : where.first + where.atoms]
        may = np.stack([members_of(plane, snapshot.taxa_count)[rows] for plane in planes]).astype(np.int32)
        able: npt.NDArray[np.bool_] = np.asarray(may.any(axis=0))
        return np.asarray((may.T @ may == 0) & able[:, None] & able[None, :])
    low, high = snapshot.ranges[2 * tier, where.slot][rows], snapshot.ranges[2 * tier + 1, where.slot][rows]
    alive: npt.NDArray[np.bool_] = np.asarray(low <= high)
    apart = (low[:, None] > high[None, :]) | (high[:, None] < low[None, :])
    return np.asarray(apart & alive[:, None] & alive[None, :])


def statements_behind(snapshot: Snapshot, taxon: str, character: str) -> tuple[str, ...]:
    """The statements on a taxon, or on a rank above it, for this character or a broader one."""
    bound = [snapshot.body.bindings[taxon].get(key, ([], [])) for key in snapshot.knowledge.broadening(character)]
    return tuple(dict.fromkeys(statement for hard, usual in bound for cell in (*hard, *usual) for statement in snapshot.body.cells[cell].statements))
