"""The third question: what to doubt when nothing fits, and which taxa are a slip or two away.

A taxon is left exactly when every observation that contradicts it is withdrawn (DEVELOPERS.md, "The fragment"). So the least
withdrawals that leave something are the least of the taxa's own sets of contradicting observations, and the taxa left by
such a set are those whose set it is: no search is needed, and none can be missed.

The sets are made of all observations given, also of those that others entail. Whoever saw seven leaflets has seen a compound
leaf; a taxon with simple leaves is contradicted by both, and withdrawing only one of them would leave it out. Both then stand
in the set; the one that entails the other is marked as following from it, and adds nothing to the odds: had the leaf not
been compound, there would have been no leaflets.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import prod

from lenticel.cells import widened
from lenticel.cite import Citation, citations
from lenticel.engine import CONTRADICTS, VERDICTS, shown
from lenticel.identify import Answer, Context, cautions_for, identify
from lenticel.judging import Mark
from lenticel.model import Caution, Character
from lenticel.observation import ABSENT, Observation, Part, distinct, entails, probe
from lenticel.sight import out_of_season
from lenticel.slips import at_most
from lenticel.snapshot import Snapshot, indices_of, members_of
from lenticel.why import grounds

MOST = 3  # withdrawing more than three of one's observations is looking again, not doubting

# How easily an observation is got wrong, by the kind of its character: of all pairs of statements by different sources on one taxon and
# diagnostic character in this project's tables, the share that have nothing in common. That counts how often two people who looked at
# the same kind of plant differ, true variation and misprints included: good for an order, no measurement of any one observer.
# `python -m tests.outside.slips` counts it anew.
CHANCES = {
    "habit": 0.21,
    "hair": 0.17,
    "graded": 0.17,
    "colour": 0.16,
    "confusable": 0.13,
    "month": 0.11,
    "afar": 0.09,
    "state": 0.07,
    "measure": 0.05,
    "presence": 0.04,
    "count": 0.02,
}
# What no table can tell, by rule of thumb: a lens or a knife is used hastily, and what is out of season is old, or of another plant.
HANDLED, UNTIMELY, HIGHEST = 1.5, 3.0, 0.5
WORDS = {
    "hair": "a matter of hairs",
    "habit": "the look of the whole plant",
    "colour": "a colour",
    "graded": "a matter of degree",
    "confusable": "a state that is taken for another",
    "presence": "whether something is there",
    "month": "a date",
    "afar": "a size taken from afar",
    "state": "a form or arrangement",
    "measure": "a measurement",
    "count": "a count",
}


@dataclass(frozen=True, slots=True)
class Suspect:
    """An observation of a set: `chance` of being got wrong, `reasons` why so high; `follows` names the observation of the set that it entails, if any."""

    observation: str
    chance: float
    reasons: tuple[str, ...]
    follows: str


@dataclass(frozen=True, slots=True)
class NearMiss:
    """A taxon that is out, how many slips away it is, and what it would have shown in place of each observation that contradicts it."""

    taxon: str
    label: str
    label_language: str
    slips: int
    marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class DoubtSet:
    """A least set of observations whose withdrawal leaves something: none of them can be kept.

    `slips` counts those that no other observation entails, as an identify answer does; `chance` is the product of the
    chances of those that do not follow from another one; `left` are the taxa that it would leave, best supported first.
    """

    withdrawn: tuple[Suspect, ...]
    slips: int
    chance: float
    left: tuple[NearMiss, ...]


@dataclass(frozen=True, slots=True)
class Doubts:
    """What to doubt, likeliest first, and the near misses.

    `consistent` are the taxa that remain; if any do, there is nothing to doubt and `sets` is empty. `sets` holds every least
    set of at most `most` slips, `fewest` is the least number of slips that leaves something. `near` are the taxa one and two slips away.
    """

    digest: str
    observations: tuple[str, ...]
    wild: bool
    most: int
    fewest: int
    consistent: tuple[str, ...]
    sets: tuple[DoubtSet, ...]
    near: tuple[NearMiss, ...]
    cautions: tuple[Caution, ...]
    citations: dict[str, Citation] = field(repr=False)


def doubt(snapshot: Snapshot, observations: Iterable[Observation], context: Context | None = None, *, most: int = MOST) -> Doubts:
    """Find every least set of observations whose withdrawal leaves something, and the taxa one and two slips away.

    Args:
        snapshot: the knowledge.
        observations: what was seen.
        context: what else is known of the plant.
        most: the most slips of a set.
    """
    context = context or Context()
    seen = sorted({each.text: each for each in observations}.values(), key=lambda each: each.text)
    answer = identify(snapshot, seen, context)
    sets: list[DoubtSet] = []
    if not answer.consistent:
        order = {verdict.taxon: place for place, verdict in enumerate(answer.excluded)}
        for withdrawn, taxa in least_sets(snapshot, seen, most, wild=context.wild).items():
            sets.append(_doubt_set(snapshot, [seen[place] for place in withdrawn], sorted(taxa, key=order.__getitem__), context))
    sets.sort(key=lambda each: (-each.chance, each.slips, [suspect.observation for suspect in each.withdrawn]))
    near = tuple(NearMiss(each.taxon, each.label, each.label_language, each.slips, _contradicting(each.marks)) for each in answer.excluded if each.slips <= 2)
    missed = [*(miss for each in sets for miss in each.left), *near]
    return Doubts(
        snapshot.digest,
        tuple(each.text for each in seen),
        context.wild,
        most,
        _fewest(answer),
        tuple(each.taxon for each in answer.consistent),
        tuple(sets),
        near,
        cautions_for(snapshot, [*(each.taxon for each in answer.consistent), *(miss.taxon for miss in missed)]),
        citations(snapshot.knowledge, (key for miss in missed for mark in miss.marks for ground in mark.grounds for key in ground.statements)),
    )


def _fewest(answer: Answer) -> int:
    return 0 if answer.consistent or not answer.excluded else answer.excluded[0].slips


def _contradicting(marks: Iterable[Mark]) -> tuple[Mark, ...]:
    return tuple(mark for mark in marks if mark.verdict == VERDICTS[CONTRADICTS])


def least_sets(snapshot: Snapshot, seen: Sequence[Observation], most: int, *, wild: bool = False) -> dict[tuple[int, ...], list[str]]:
    """The least withdrawals of at most `most` slips that leave something, as places in `seen`, each with the lowest taxa that it leaves.

    If something is left as it is, that is the one withdrawal of nothing.
    """
    kept, _ = distinct(snapshot, seen)
    rows = indices_of(at_most(snapshot, [probe(snapshot, each) for each in kept], most, wild=wild)[-1])
    against = [0] * len(rows)
    for place, each in enumerate(seen):
        fits = shown(snapshot, probe(snapshot, each), wild=wild)
        if fits is not None:
            out = ~members_of(fits, snapshot.taxa_count)[rows]
            for at in out.nonzero()[0].tolist():
                against[at] |= 1 << place
    taxa: dict[int, list[str]] = {}
    for row, number in zip(rows.tolist(), against, strict=True):
        taxa.setdefault(number, []).append(snapshot.taxa[row])
    least: list[int] = []
    for number in sorted(taxa, key=int.bit_count):
        if not any(number & each == each for each in least):
            least.append(number)
    return {tuple(place for place in range(len(seen)) if number >> place & 1): taxa[number] for number in least}


def _doubt_set(snapshot: Snapshot, withdrawn: list[Observation], taxa: list[str], context: Context) -> DoubtSet:
    suspects = [suspicion(snapshot, each, context.month, _followed(snapshot, place, withdrawn)) for place, each in enumerate(withdrawn)]
    suspects.sort(key=lambda each: (each.follows != "", -each.chance, each.observation))
    slips = len(distinct(snapshot, withdrawn)[0])
    left = tuple(
        NearMiss(
            taxon,
            snapshot.knowledge.taxa[taxon].label,
            snapshot.knowledge.taxa[taxon].label_language,
            slips,
            tuple(Mark(each.text, VERDICTS[CONTRADICTS], tuple(grounds(snapshot, taxon, each, typical=False))) for each in withdrawn),
        )
        for taxon in taxa
    )
    return DoubtSet(tuple(suspects), slips, round(prod(each.chance for each in suspects if not each.follows), 6), left)


def _followed(snapshot: Snapshot, place: int, withdrawn: Sequence[Observation]) -> str:
    """An observation of the same set that the one at `place` entails; of two that entail each other the later follows. "" if there is none."""
    each = withdrawn[place]
    for there, other in enumerate(withdrawn):
        if there != place and entails(snapshot, each, other) and (there < place or not entails(snapshot, other, each)):
            return other.text
    return ""


def suspicion(snapshot: Snapshot, observation: Observation, month: int = 0, follows: str = "") -> Suspect:
    """How easily an observation is got wrong, and why; of "this or that" what holds of the part that is hardest to get wrong, since all must be."""
    chance, reasons = min(_part_chance(snapshot, part) for part in observation.parts)
    if month and out_of_season(snapshot, [observation], month):
        chance, reasons = chance * UNTIMELY, (*reasons, "out of season")
    return Suspect(observation.text, round(min(chance, HIGHEST), 3), reasons, follows)


def _part_chance(snapshot: Snapshot, part: Part) -> tuple[float, tuple[str, ...]]:
    character = snapshot.knowledge.characters[part.character]
    kind = kind_of(snapshot, character, part.chosen)
    if character.needs in ("hand lens", "knife"):
        return CHANCES[kind] * HANDLED, (WORDS[kind], f"needs a {character.needs}")
    return CHANCES[kind], (WORDS[kind],)


def kind_of(snapshot: Snapshot, character: Character, states: Iterable[str] = ()) -> str:
    """The kind of character, or of the states seen of it, by which `CHANCES` tells how easily it is got wrong."""
    if character.kind != "states":
        return "afar" if character.needs == "clinometer" else character.kind
    for word in ("colour", "hair"):
        if word in character.label:
            return word
    if character.organ == "habit":
        return "habit"
    if character.graded:
        return "graded"
    listed, partition, chosen = snapshot.knowledge.states_of(character.id), snapshot.body.partitions[character.id], set(states)
    if any(state.id == ABSENT for state in listed):
        return "presence"
    return "confusable" if partition.union(widened(listed, chosen, character)) != partition.union(chosen) else "state"
