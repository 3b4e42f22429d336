"""How telling a character is between two taxa: who names it as what tells them apart, how far apart the sources set them and how many say so.

How rare a mark it is counts too, and, if a season is asked for, what is looked at then.

Decisive and typical separation are matters of logic (`compare`). This is the rule of thumb that orders them, and that
finds what only tends to differ: the usual regions overlap, but most of what is said lies apart, or a source tells the taxa apart by it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, reduce
from itertools import product
from math import log2
from operator import or_
from typing import Any

from lenticel.cells import bounds, widened
from lenticel.doubt import CHANCES, kind_of
from lenticel.model import COMMON_PRACTICE, RARE, SELDOM, Character, Knowledge, Lookalike, State, Statement
from lenticel.prominence import prominence
from lenticel.quantity import Interval, arc, parse_printed
from lenticel.snapshot import Snapshot

TENDENCY = 0.25  # how far apart, at least, what tends to differ must lie
OFTEN = {"sometimes": 0.4, "rarely": 0.1, "cultivar": 0.1, "often": 0.8}  # how much a statement counts; 1 without such a word
NEAR = 0.4  # how alike two states are of which one is taken for the other, or is one step from it
TOUCHING = 0.15  # how alike two ranges are that lie apart by less than the slack
CONTRASTING = 0.5  # how alike, at most, two statements of one source are that set two taxa apart
LACKING = ("absent", "none", "hairless")  # what a state is called that says that a mark is not there; or it begins with LACK
LACK = ("no-", "not-")
DENIALS = ("No ", "None ", "Not ")  # with what the definition begins of one that goes by a name of its own, such as a dry bud or a round twig
FEW = 0.04  # of all taxa, at most, show what marks one taxon out
WHOLE = ("sap", "smell")

# Weights as log odds, fitted (`python -m tests.calibration.separators`) but for DECISIVE, PRACTICE and those of spring and autumn: of a conditional logit (of
# all characters that tell a pair apart, which one does a source name?) with a ridge of 2, rounded. It was fitted to the rows of
# `tests/outside/separators.csv` of readings 1 to 3, but for the half of reading 2 that is kept apart, of which the many rows of one book count for 0.6 of a
# row; to the published look-alike records of two species, each of which counts for 0.25 and is no evidence where it is itself what is asked for; and to what
# six readers, who saw no answer of ours, take handbooks to call decisive, from memory, each row for 0.25. In six-fold cross-validation by pairs a named
# character is among the first three for 87%. Whether a separator is decisive says nothing of whether sources name it; that it goes before one as telling that
# is not is our choice. How far the statements of one source set the two apart, whether the character is a count, what it needs, whether it is of the leaf scar
# or the fruit, how often it is named within one genus or family or of one of the two taxa, the order in which a record names its characters, how many
# it names, whether it is of these two taxa alone, how often the character stands in keys and how easily it is got wrong told nothing further.
APART, DECISIVE, SOURCES, NAMED, AGREED, PROMINENT, MARK, LEAF = 1.1, 0.2, 0.35, 1.5, 1.45, 0.3, 0.34, 0.45
# Whoever asks for a season is shown first what is looked at then: in summer leaves, in spring flowers too, in autumn fruit; in winter not bark or what fruit
# is left. The weights of summer and winter were fitted like the others; those of spring and autumn, of which ten published rows speak, were chosen so that
# what common practice and memory name for them comes first.
THEN = {
    "spring": {"leaf": 0.6, "petiole": 0.6, "flower": 1.2},
    "summer": {"leaf": 1.7, "petiole": 1.7},
    "autumn": {"leaf": 1.0, "petiole": 1.0, "fruit": 1.2},
    "winter": {"fruit": -2.0, "bark": -1.1},
}
PRACTICE = 2  # sources that a record of common practice counts for, since two readers at least named it; one from memory counts for one: our choice

States = tuple[tuple[int, int], ...]  # of each state that a statement names, its atoms, and those together with what it is taken for
Span = tuple[Interval, Interval]  # the usual and the hard range


@dataclass(frozen=True, slots=True)
class Evidence:
    """What the statements on two taxa come to for one character.

    `apart` is 0 where all say the same, 1 where none of the one side has anything in common with any of the other. `sources` counts them on
    the side of which fewer speak. `contrasted` are the sources that speak of both and set them apart. `named` are the look-alike records of the two that
    tell them apart by the character, `chance` how easily what is shown is got wrong (`doubt.CHANCES`); it is shown with the answer and does not weigh.
    `rarity` is how few of all taxa are said to show what the rarer-marked of the two shows, in bits; it weighs only where no record names the character.
    """

    character: str
    apart: float
    sources: int
    chance: float
    contrasted: tuple[str, ...] = ()
    named: tuple[str, ...] = ()
    rarity: float = 0.0


class Weigher:
    """Weighs characters between pairs of taxa of one body of knowledge; keeps what it has read of each statement."""

    def __init__(self, snapshot: Snapshot) -> None:
        self.snapshot, self.known = snapshot, snapshot.knowledge
        self.side = cache(self._side)
        self.affirmed = cache(self.known.nearest_said)
        self.said = cache(lambda taxon, character: self.affirmed(taxon, character) or self.known.nearest_denied(taxon, character))
        self.root = cache(self.known.broadest)
        self.line = cache(lambda character: frozenset(self.known.broadening(character)))
        self.prominence = prominence(snapshot)

    def evidence(self, one: str, other: str, character: str, lookalikes: Iterable[Lookalike] = ()) -> Evidence | None:
        """The evidence on two taxa; None if nothing is said of one of them."""
        mine, its = self.said(one, character), self.said(other, character)
        pairs = [(first, second, *self._weighed(first, second)) for first, second in product(mine, its)]
        weight = sum(each for _, _, each, _ in pairs)
        if not weight:
            return None
        apart = 1 - sum(each * alike for _, _, each, alike in pairs) / weight
        contrasted = dict.fromkeys(
            first.source
            for first, second, each, alike in pairs
            if first.source == second.source and each and alike < CONTRASTING and not {first.frequency, second.frequency} & RARE
        )
        return Evidence(
            character,
            round(max(apart, 0.0), 4),
            min(len({each.source for each in said}) for said in (mine, its)),
            self.chance(character, (*mine, *its)),
            tuple(contrasted),
            self.telling(lookalikes, character),
            max(self.rarity(character, said) for said in (mine, its)),
        )

    def score(self, evidence: Evidence, force: str, season: str = "") -> float:
        """How telling the character is, as log odds; the higher, the earlier it is listed (in a season, if one is given)."""
        character = self.known.characters[evidence.character]
        found = APART * evidence.apart + DECISIVE * (force == "decisive") + SOURCES * log2(max(evidence.sources, 1))
        if evidence.named:
            found += NAMED + AGREED * log2(1 + self.voices(evidence.named))
        else:
            found += MARK * evidence.rarity
        found += PROMINENT * self.prominence[self.root(character.id)]
        return found + LEAF * (character.organ == "leaf") + THEN.get(season, {}).get(character.organ, 0.0)

    def voices(self, named: Iterable[str]) -> int:
        """How many sources speak in look-alike records, of which common practice counts for more than one."""
        sources = {self.known.lookalikes[each].source for each in named}
        return sum(PRACTICE if self.known.sources[each].kind == COMMON_PRACTICE else 1 for each in sources)

    def telling(self, lookalikes: Iterable[Lookalike], character: str) -> tuple[str, ...]:
        """The look-alike records that tell their taxa apart by a character, a broader one or a special case of it."""
        return tuple(each.id for each in lookalikes if any(character in self.line(named) or named in self.line(character) for named in each.told_by))

    def mark(self, one: str, other: str, character: str, lookalikes: Iterable[Lookalike] = ()) -> Evidence | None:
        """The evidence on a mark that one of two taxa bears, where nothing is said of the other; None if there is none.

        A state that says that something is lacking, or that more than FEW of all taxa show, is no mark, unless a record tells the two apart by the
        character. That does not hold of a character with special cases, since the other may have been described by one of them. `apart` and `sources`
        are 0, since nothing can be compared.
        """
        said = self.affirmed(one, character) or self.affirmed(other, character)
        shown = self._shown(character, said)
        if not shown:
            return None
        named = self.telling(lookalikes, character)
        unmarked = any(lacking(self.known.states[".".join(each)]) or self.known.shown_shares[each] > FEW for each in shown)
        divided = len(self.known.cases_of(self.root(character))) > 1
        if unmarked and (divided or not named):
            return None
        return Evidence(character, 0.0, 0, self.chance(character, said), named=named, rarity=self.rarity(character, said))

    def rarity(self, character: str, said: Iterable[Statement]) -> float:
        """How few of all taxa are said to show what statements say, in bits, where silence counts as not showing: 0 of a range, or where all show it."""
        shown = self._shown(character, said)
        return -log2(min(1.0, sum(self.known.shown_shares[each] for each in shown))) if shown else 0.0

    def _shown(self, character: str, said: Iterable[Statement]) -> set[tuple[str, str]]:
        """The states, each with the broadest character, that statements give more often than seldom; none of a range."""
        if self.known.characters[character].kind != "states":
            return set()
        return {(self.root(character), word) for each in said if each.frequency not in SELDOM for word in each.states}

    def chance(self, character: str, said: Iterable[Statement]) -> float:
        """How easily what the statements say is got wrong."""
        each = self.known.characters[character]
        shown = {word for one in said for word in one.states} if each.kind == "states" else set()
        return CHANCES[kind_of(self.snapshot, each, shown)]

    def _weighed(self, one: Statement, other: Statement) -> tuple[float, float]:
        """How much two statements on a character count together, and how much they have in common; what one denies counts as far as the other shows it."""
        weight = OFTEN.get(one.frequency, 1.0) * OFTEN.get(other.frequency, 1.0)
        mine, its = self.side(one.id), self.side(other.id)
        if "never" not in (one.frequency, other.frequency):
            return weight, _alike(self.known.characters[one.character].kind, mine, its)
        if one.frequency == other.frequency:
            return 0.0, 1.0
        shown, denied = (its, mine) if one.frequency == "never" else (mine, its)
        return weight * _denied(shown, denied), 0.0

    def _side(self, key: str) -> States | frozenset[int] | Span:
        statement = self.known.statements[key]
        character = self.known.characters[statement.character]
        if character.kind == "states":
            partition, states = self.snapshot.body.partitions[character.id], self.known.states_of(character.id)
            return tuple((partition.union([word]), partition.union(widened(states, {word}, character))) for word in statement.states)
        if character.kind == "month":
            printed = parse_printed(statement.value, character.unit)
            return arc(printed.lo or 1, printed.hi or 12)
        return self._usual(character, statement), bounds(character, statement)

    def _usual(self, character: Character, statement: Statement) -> Interval:
        """What a statement says is usual; a lone count is that count, since nobody sees one scar for two."""
        printed = parse_printed(statement.value, character.unit)
        if character.kind == "count" and printed.lo is not None and printed.lo == printed.hi:
            return Interval(printed.lo, printed.hi)
        return bounds(character, statement, typical=True)


def lacking(state: State) -> bool:
    """Whether a state says that a mark is not there: by its identifier, or since its definition denies something first of all."""
    return state.id in LACKING or state.id.startswith(LACK) or state.definition.startswith(DENIALS)


def topic(known: Knowledge, character: str) -> tuple[str, str]:
    """What a character is about, so that a list need not begin with one trait told three times.

    That is the organ, with its size, colour, hair, or the broadest character; and sap and smell, which a plant has of one kind.
    """
    each = known.characters[character]
    if each.kind == "measure":
        return each.organ, "size"
    for word in WHOLE:
        if word in each.label:
            return "", word
    word = next((word for word in ("colour", "hair") if word in each.label), "")
    root = known.broadest(character)
    return each.organ, word or root


def _alike(kind: str, one: Any, other: Any) -> float:
    """How much two statements on a character of a kind have in common, 0 to 1."""
    if kind == "month":
        both = len(one & other)
        return (both / len(one) + both / len(other)) / 2
    return min(_share(one, other), _share(other, one)) if kind == "states" else _ranges_alike(one, other)


def _share(one: States, other: States) -> float:
    """The share of the states of the one side that the other shows too."""
    return sum(max(1.0 if mine & its else NEAR if wide & its or mine & wider else 0.0 for its, wider in other) for mine, wide in one) / len(one)


def _denied(shown: Any, denied: Any) -> float:
    """The share of the states of the one side that the other rules out."""
    ruled = reduce(or_, (each for each, _ in denied), 0)
    return sum(not each & ~ruled for each, _ in shown) / len(shown)


def _ranges_alike(one: Span, other: Span) -> float:
    """The mean of the shares of either range that lie in the other."""
    (low, high), (bottom, top) = _ends(one[0]), _ends(other[0])
    both = min(high, top) - max(low, bottom)
    if both < 0:
        return TOUCHING if one[1].overlaps(other[1]) else 0.0
    return (_part(both, high - low) + _part(both, top - bottom)) / 2


def _part(both: float, width: float) -> float:
    return both / width if width else 1.0


def _ends(span: Interval) -> tuple[float, float]:
    """The ends of a range; an open lower end is nothing, an open upper end twice the lower one."""
    low = float(span.lo) if span.lo is not None else 0.0
    return low, float(span.hi) if span.hi is not None else 2 * low
