"""The second question: what separates these?"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, compress
from math import exp, log1p
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from lenticel.cite import Citation, citations
from lenticel.errors import BadQuestion
from lenticel.identify import cautions_for
from lenticel.model import SEASONS, Caution, Character, Lookalike
from lenticel.sight import there
from lenticel.snapshot import Snapshot, members_of
from lenticel.telling import TENDENCY, Evidence, Weigher, topic
from lenticel.why import shown_text

MAX_GROUP = 12
ALIKE = 0.1  # how far apart, at most, the statements on a character may lie that taxa share
PARTING = ("decisive", "typical")
FORCES = (*PARTING, "tendency", "one-sided")
FIRST = 3  # separators that are read first of all; no two of them are on one topic
ALONE = 2  # organs; a pair that no others part is said to need them
Pair = tuple[str, str]
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Shown:
    """What one taxon shows for a character, and the statements that say so."""

    taxon: str
    shown: str
    statements: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Separator:
    """A character that separates at least one pair of the group.

    `force` is "decisive" if no plant could be both of a pair, "typical" if only the usual plants differ, "tendency" if the usual
    regions overlap, but most of what is said lies apart or a look-alike record tells the two apart by it, "one-sided" if something is said of the one
    and nothing of the other, which may show it too: a mark that few taxa bear, or a character by which a look-alike record tells the two apart (`apart`
    and `sources` are then 0).
    `pairs` are those it separates with that force, `seasons` those in which both of a pair have it to look at. `apart` is how far the statements on these
    pairs lie apart on average (0 to 1), `sources` how many speak on the side of which fewer do, `chance` how easily it is got wrong; `contrasted` are the
    sources that set both of a pair apart by themselves, `named` the look-alike records that tell the two apart by it.
    """

    character: str
    force: str
    organ: str
    seasons: tuple[str, ...]
    needs: str
    pairs: tuple[Pair, ...]
    shown: tuple[Shown, ...]
    apart: float
    sources: int
    chance: float
    contrasted: tuple[str, ...]
    named: tuple[str, ...]
    score: float


@dataclass(frozen=True, slots=True)
class Shared:
    """A character that all of the group show alike, so that it is idle to look there."""

    character: str
    organ: str
    shown: tuple[Shown, ...]


@dataclass(frozen=True, slots=True)
class Gap:
    """When and without what a pair cannot be told apart.

    `seasons` are those in which not even usual plants of the two differ, `undecided` those in which nothing decides between them. `organs` are those
    that alone part the two in the season asked for, if they are few: without them nothing does.
    """

    pair: Pair
    seasons: tuple[str, ...]
    undecided: tuple[str, ...]
    organs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Comparison:
    """All separators, the most telling first; what all share; and the pairs that nothing separates.

    The order is by `score`: above all by whether look-alike records name the character as what tells the taxa apart, then by how
    far and in how many sources they lie apart; being decisive only tips the scale. Of characters on one topic (the size of the
    leaf, the hair of the twig) only one stands among the first three; circumstantial ones come last. A tendency decides nothing,
    still less what is said of one alone: `undecided` and `inseparable` hang on decisive and typical separators alone.
    """

    digest: str
    taxa: tuple[str, ...]
    season: str
    separators: tuple[Separator, ...]
    undecided: tuple[Pair, ...]
    inseparable: tuple[Pair, ...]
    lookalikes: tuple[Lookalike, ...]
    cautions: tuple[Caution, ...]
    citations: dict[str, Citation]
    shared: tuple[Shared, ...]
    gaps: tuple[Gap, ...]


@dataclass(frozen=True, slots=True)
class _Parted:
    """One character on all pairs: the force with which it parts each pair that it parts, and the evidence on each pair of which anything is said.

    `seen` are, by season, the taxa that have it to look at then.
    """

    character: Character
    forces: dict[Pair, str]
    evidence: dict[Pair, Evidence]
    seen: Mapping[str, frozenset[str]]

    def parts(self, pair: Pair, season: str, forces: Sequence[str]) -> bool:
        """Whether it parts a pair with one of some forces, by what both have to look at in a season ("" for any)."""
        return self.forces.get(pair) in forces and self.both_have(pair, season)

    def both_have(self, pair: Pair, season: str) -> bool:
        """Whether both of a pair have it to look at in a season ("" for any)."""
        return not season or self.seen[season].issuperset(pair)

    def then(self, season: str) -> _Parted:
        """The same, of the pairs of which both have it to look at in a season."""
        forces = {pair: each for pair, each in self.forces.items() if self.both_have(pair, season)}
        return replace(self, forces=forces, evidence={pair: each for pair, each in self.evidence.items() if self.both_have(pair, season)})


def compare(snapshot: Snapshot, taxa: Sequence[str], *, season: str = "") -> Comparison:
    """What separates two or more taxa, and what they share.

    Args:
        snapshot: the knowledge.
        taxa: identifiers, 2 to 12 of them.
        season: only characters that can be seen then ("" for any season).

    Raises:
        BadQuestion: too few or too many taxa, one twice, one above another, or no such season.
    """
    known = snapshot.knowledge
    _check(snapshot, taxa, season)
    weigher = Weigher(snapshot)
    records = {pair: lookalikes_among(snapshot, pair) for pair in combinations(taxa, 2)}
    everything = [_part(weigher, character, taxa, records, season) for character in known.characters.values()]
    seen = [each.then(season) for each in everything]
    separators = _ordered(snapshot, (each for parted in seen for each in _separators(weigher, parted, taxa, season)))
    shared = tuple(_shared(snapshot, each.character, taxa) for each in seen if _alike(each, taxa))
    pairs = list(combinations(taxa, 2))
    decided = {pair for each in separators if each.force == "decisive" for pair in each.pairs}
    touched = {pair for each in separators if each.force in PARTING for pair in each.pairs}
    told = (key for every in (*(each.shown for each in separators), *(each.shown for each in shared)) for shown in every for key in shown.statements)
    return Comparison(
        snapshot.digest,
        tuple(taxa),
        season,
        separators,
        tuple(pair for pair in pairs if pair not in decided),
        tuple(pair for pair in pairs if pair not in touched),
        lookalikes_among(snapshot, taxa, season),
        cautions_for(snapshot, taxa),
        citations(known, told),
        shared,
        tuple(gap for pair in pairs if (gap := _gap(pair, everything, season)) is not None),
    )


def _check(snapshot: Snapshot, taxa: Sequence[str], season: str) -> None:
    if not 2 <= len(taxa) <= MAX_GROUP or len(set(taxa)) != len(taxa):
        told = "The same taxon was given twice." if len(set(taxa)) < len(taxa) else f"Taxa given: {len(taxa)}."
        raise BadQuestion(told, f"Name 2 to {MAX_GROUP} different taxa; of a whole group ask a key.", "/taxa")
    if season and season not in SEASONS:
        raise BadQuestion(f"{season[:40]!r} is no season.", f"Use one of: {', '.join(SEASONS)}.", "/season")
    for one in taxa:
        for other in taxa:
            if one != other and other in snapshot.knowledge.lineage(one):
                raise BadQuestion(f"{other!r} holds {one!r}.", "Compare taxa of which none lies within another.", "/taxa")


def lookalikes_among(snapshot: Snapshot, taxa: Iterable[str], season: str = "") -> tuple[Lookalike, ...]:
    """The look-alike records that set at least two of the taxa, or ranks above them, against each other (in a season)."""
    known = snapshot.knowledge
    lines = [set(known.lineage(taxon)) for taxon in taxa]
    return tuple(each for each in known.lookalikes.values() if sets_apart(each, lines) and (not season or season in each.seasons))


def sets_apart(record: Lookalike, lines: Iterable[set[str]]) -> bool:
    """Whether a look-alike record sets at least two taxa against each other; of each taxon, `lines` has it and the ranks above it."""
    named = [line & set(record.taxa) for line in lines]
    return any(one and other and len(one | other) > 1 for one, other in combinations(named, 2))


def _part(weigher: Weigher, character: Character, taxa: Sequence[str], records: Mapping[Pair, tuple[Lookalike, ...]], season: str) -> _Parted:
    """What a character does to each pair; out of season nothing but whether it parts it, since nothing else is asked of it then."""
    snapshot = weigher.snapshot
    rows = np.array([snapshot.place_of[taxon] for taxon in taxa])
    hard, usual = (disjoint_pairs(snapshot, rows, character.id, tier) for tier in (0, 1))
    seen = {each: frozenset(compress(taxa, there(snapshot, character.id, rows, each).tolist())) for each in SEASONS}
    found = _Parted(character, {}, {}, seen)
    for one, other in combinations(range(len(taxa)), 2):
        pair = (taxa[one], taxa[other])
        evidence = weigher.evidence(*pair, character.id, records[pair]) if found.both_have(pair, season) else None
        if evidence:
            found.evidence[pair] = evidence
        if hard[one, other] or usual[one, other]:
            found.forces[pair] = "decisive" if hard[one, other] and character.force == "diagnostic" else "typical"
        elif character.force == "diagnostic":
            _lean(weigher, found, pair, records[pair], season)
    return found


def _lean(weigher: Weigher, found: _Parted, pair: Pair, records: tuple[Lookalike, ...], season: str) -> None:
    """What a character that does not part a pair says of it all the same: that the two tend to differ, or that one of them bears a mark."""
    evidence = found.evidence.get(pair)
    if evidence and (evidence.apart >= TENDENCY or evidence.named):
        found.forces[pair] = "tendency"
    elif not evidence and found.character.kind == "states" and found.both_have(pair, season) and able(weigher.snapshot, pair, found.character.id):
        mark = weigher.mark(*pair, found.character.id, records)
        if mark:
            found.forces[pair], found.evidence[pair] = "one-sided", mark


def _separators(weigher: Weigher, parted: _Parted, taxa: Sequence[str], season: str) -> list[Separator]:
    """The character as a separator of each force that it has. What parts all pairs counts in full, what parts a share of them that share."""
    found: list[Separator] = []
    character, count = parted.character, len(taxa) * (len(taxa) - 1) // 2
    for force in FORCES:
        pairs = tuple(pair for pair, each in parted.forces.items() if each == force)
        if not pairs:
            continue
        silent = Evidence(character.id, 1.0, 1, 0.0)  # what rows with `never` of a rank further up part
        said = [parted.evidence.get(pair, silent) for pair in pairs]
        found.append(
            Separator(
                character.id,
                force,
                character.organ,
                tuple(each for each in SEASONS if any(parted.both_have(pair, each) for pair in pairs)),
                character.needs,
                pairs,
                _shown(weigher.snapshot, character, taxa),
                round(sum(each.apart for each in said) / len(said), 3),
                min(each.sources for each in said),
                max(each.chance for each in said),
                tuple(dict.fromkeys(key for each in said for key in each.contrasted)),
                tuple(dict.fromkeys(key for each in said for key in each.named)),
                round(sum(log1p(exp(weigher.score(each, force, season))) for each in said) / count, 3),
            )
        )
    return found


def _ordered(snapshot: Snapshot, found: Iterable[Separator]) -> tuple[Separator, ...]:
    known = snapshot.knowledge
    ranked = sorted(
        found, key=lambda each: (known.characters[each.character].force != "diagnostic", -each.score, snapshot.layout[each.character].place, each.force)
    )
    diagnostic = (each for each in ranked if known.characters[each.character].force == "diagnostic")
    first = leading(diagnostic, lambda each: topic(known, each.character))
    return (*first, *(each for each in ranked if each not in first))


def leading(ranked: Iterable[T], about: Callable[[T], Hashable]) -> tuple[T, ...]:
    """What is read first of things in their order: the first FIRST of which no two are about the same."""
    first: dict[Hashable, T] = {}
    for each in ranked:
        if len(first) == FIRST:
            break
        first.setdefault(about(each), each)
    return tuple(first.values())


def _alike(parted: _Parted, taxa: Sequence[str]) -> bool:
    """Whether all pairs show a character alike."""
    count = len(taxa) * (len(taxa) - 1) // 2
    return not parted.forces and len(parted.evidence) == count and all(each.apart <= ALIKE for each in parted.evidence.values())


def _shared(snapshot: Snapshot, character: Character, taxa: Sequence[str]) -> Shared:
    return Shared(character.id, character.organ, _shown(snapshot, character, taxa))


def _shown(snapshot: Snapshot, character: Character, taxa: Sequence[str]) -> tuple[Shown, ...]:
    return tuple(Shown(taxon, shown_text(snapshot, taxon, character.id), statements_behind(snapshot, taxon, character.id)) for taxon in taxa)


def _gap(pair: Pair, everything: Sequence[_Parted], asked: str) -> Gap | None:
    """What is wanting to tell a pair apart; None if nothing is."""
    told = [each for each in everything if each.character.force == "diagnostic"]

    def blind(forces: Sequence[str]) -> tuple[str, ...]:
        return tuple(season for season in SEASONS if not any(each.parts(pair, season, forces) for each in told))

    never, open_ = blind(PARTING), blind(PARTING[:1])
    organs = tuple(dict.fromkeys(each.character.organ for each in told if each.parts(pair, asked, PARTING)))
    return Gap(pair, never, open_, organs if len(organs) <= ALONE else ()) if open_ or len(organs) <= ALONE else None


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


def able(snapshot: Snapshot, taxa: Sequence[str], character: str) -> bool:
    """Whether all of some taxa can show a character with states at all."""
    where, rows = snapshot.layout[character], [snapshot.place_of[taxon] for taxon in taxa]
    planes = snapshot.hard[where.first : where.first + where.atoms]
    return bool(np.stack([members_of(plane, snapshot.taxa_count)[rows] for plane in planes]).any(axis=0).all())


def statements_behind(snapshot: Snapshot, taxon: str, character: str) -> tuple[str, ...]:
    """The statements on a taxon, or on a rank above it, for this character or a broader one."""
    bound = [snapshot.body.bindings[taxon].get(key, ([], [])) for key in snapshot.knowledge.broadening(character)]
    return tuple(dict.fromkeys(statement for hard, usual in bound for cell in (*hard, *usual) for statement in snapshot.body.cells[cell].statements))
