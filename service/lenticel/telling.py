"""How telling a character is between two taxa: how far apart the sources set them, how many say so, and how easily it is seen.

Decisive and typical separation are matters of logic (`compare`). This is the rule of thumb that orders them, and that
finds what only tends to differ: the usual regions overlap, but most of what is said lies apart.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import product
from math import log2
from typing import Any

from lenticel.cells import bounds, widened
from lenticel.doubt import CHANCES, kind_of
from lenticel.model import RARE, Character, Knowledge, Lookalike, Statement
from lenticel.quantity import Interval, arc, parse_printed
from lenticel.snapshot import Snapshot

TENDENCY = 0.25  # how far apart, at least, what tends to differ must lie
OFTEN = {"sometimes": 0.4, "rarely": 0.1, "cultivar": 0.1, "never": 0.0, "often": 0.8}  # how much a statement counts; 1 without such a word
NEAR = 0.4  # how alike two states are of which one is taken for the other, or is one step from it
TOUCHING = 0.15  # how alike two ranges are that lie apart by less than the slack
CONTRASTING = 0.5  # how alike, at most, two statements of one source are that set two taxa apart
MOST_CONTRASTS, MOST_WORDS, MOST_NAMED = 2, 2.0, 4.0
LEAST_WORD = 4
WHOLE = ("sap", "smell")
COMMON = frozenset(
    "both with from that this those them have tree trees other more most when each under side sides upper lower shape form leaf leaves".split()  # noqa: SIM905
)

# Weights as log odds: of a conditional logit (of all characters that tell a pair apart, which one does a handbook name?) with a ridge of 3, rounded.
# It was fitted to the half of `tests/outside/separators.csv` that `tests.outside.separators.tuned` picks, and to the look-alike records, whose reasons
# name characters too and count for 0.6 of a row, but for pairs of the other half. What was kept is what told in eight-fold cross-validation by pairs;
# how easily a thing is got wrong did not, once what it takes to see it was in. Of 70 look-alike records of pairs on which another source has one too, what
# the other names raises the share with a named character among the first three from 63% to 74%.
APART, DECISIVE, SOURCES, CONTRAST, NAMED, KEYED, COUNTED = 1.0, 0.55, 0.6, 0.95, 0.65, 0.4, 0.35
NEEDS = {"ruler": -0.7, "clinometer": -0.7, "tape": -0.7, "hand lens": -0.7, "knife": 0.7}  # pith and inner bark are worth a cut to handbooks
ORGANS = {"bark": 0.8, "leaf": 1.3, "twig": -0.2, "winter bud": -0.2, "flower": -0.4, "fruit": -0.25, "habit": -0.5}
# Whoever asks for a season is shown first what handbooks go by then: while there are leaves, by these; in winter by twigs, and not by what fruit is left.
THEN = {season: {"leaf": 0.85, "petiole": 0.85} for season in ("spring", "summer", "autumn")} | {"winter": {"twig": 0.5, "fruit": -0.7}}
KEY_SHARE = 0.05  # of the statements on a character that keys use about as often as others

States = tuple[tuple[int, int], ...]  # of each state that a statement names, its atoms, and those together with what it is taken for
Span = tuple[Interval, Interval]  # the usual and the hard range


@dataclass(frozen=True, slots=True)
class Evidence:
    """What the statements on two taxa come to for one character.

    `apart` is 0 where all say the same, 1 where none of the one side has anything in common with any of the other. `sources` counts them on
    the side of which fewer speak. `contrasted` are the sources that speak of both and set them apart, `contrast` sums how far apart the statements of
    one source lie. `named` are the look-alike records of the two whose reason names the character, `words` how many words of it the reasons name (up to
    MOST_WORDS each), `chance` how easily what is shown is got wrong (`doubt.CHANCES`).
    """

    character: str
    apart: float
    sources: int
    chance: float
    contrasted: tuple[str, ...] = ()
    named: tuple[str, ...] = ()
    words: float = 0.0
    contrast: float = 0.0


class Weigher:
    """Weighs characters between pairs of taxa of one body of knowledge; keeps what it has read of each statement."""

    def __init__(self, snapshot: Snapshot) -> None:
        self.snapshot, self.known = snapshot, snapshot.knowledge
        self.side = cache(self._side)
        self.said = cache(self.known.nearest_said)

    def evidence(self, one: str, other: str, character: str, lookalikes: Iterable[Lookalike] = ()) -> Evidence | None:
        """The evidence on two taxa; None if nothing is said of one of them."""
        mine, its = self.said(one, character), self.said(other, character)
        pairs = [(first, second, OFTEN.get(first.frequency, 1.0) * OFTEN.get(second.frequency, 1.0)) for first, second in product(mine, its)]
        weight = sum(each for _, _, each in pairs)
        if not weight:
            return None
        kind = self.known.characters[character].kind
        likeness = {(first.id, second.id): _alike(kind, self.side(first.id), self.side(second.id)) for first, second, _ in pairs}
        apart = 1 - sum(likeness[first.id, second.id] * each for first, second, each in pairs) / weight
        contrasted = dict.fromkeys(
            first.source
            for first, second, _ in pairs
            if first.source == second.source and likeness[first.id, second.id] < CONTRASTING and not {first.frequency, second.frequency} & RARE
        )
        contrast = sum((1 - likeness[first.id, second.id]) * each for first, second, each in pairs if first.source == second.source)
        named = {each.id: self._named(each, character, (*mine, *its)) for each in lookalikes}
        return Evidence(
            character,
            round(max(apart, 0.0), 4),
            min(len({each.source for each in said}) for said in (mine, its)),
            self.chance(character, (*mine, *its)),
            tuple(contrasted),
            tuple(key for key, words in named.items() if words >= 1),
            sum(min(words, MOST_WORDS) for words in named.values()),
            round(contrast, 4),
        )

    def score(self, evidence: Evidence, force: str, season: str = "") -> float:
        """How telling the character is, as log odds; the higher, the earlier it is listed (in a season, if one is given)."""
        character = self.known.characters[evidence.character]
        found = APART * evidence.apart + DECISIVE * (force == "decisive") + SOURCES * log2(max(evidence.sources, 1))
        found += CONTRAST * min(evidence.contrast, MOST_CONTRASTS) + NAMED * min(evidence.words, MOST_NAMED)
        found += KEYED * log2(self.known.key_shares[evidence.character] / KEY_SHARE) + COUNTED * (character.kind == "count")
        return found + NEEDS.get(character.needs, 0.0) + ORGANS.get(character.organ, 0.0) + THEN.get(season, {}).get(character.organ, 0.0)

    def chance(self, character: str, said: Iterable[Statement]) -> float:
        """How easily what the statements say is got wrong."""
        each = self.known.characters[character]
        shown = {word for one in said for word in one.states} if each.kind == "states" else set()
        return CHANCES[kind_of(self.snapshot, each, shown)]

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

    def _named(self, record: Lookalike, character: str, said: Iterable[Statement]) -> float:
        """How many words of the character, and half as many of the states shown, the reason of a look-alike record holds."""
        reason, each = _words(record.reason), self.known.characters[character]
        *_, root = self.known.broadening(character)
        states = [self.known.states[f"{root}.{word}"] for one in said for word in one.states] if each.kind == "states" else []
        own = _words(" ".join((each.label, *each.synonyms, character.replace("-", " "))))
        shown = frozenset[str]().union(*(_words(" ".join((state.label, *state.synonyms))) for state in states))
        return len(own & reason) + len(shown & reason) / 2


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
    *_, root = known.broadening(character)
    return each.organ, word or root


@lru_cache(maxsize=1 << 12)
def _words(text: str) -> frozenset[str]:
    return frozenset(word for word in re.findall(r"[a-z]+", text.lower()) if len(word) >= LEAST_WORD) - COMMON


def _alike(kind: str, one: Any, other: Any) -> float:
    """How much two statements on a character of a kind have in common, 0 to 1."""
    if kind == "month":
        both = len(one & other)
        return (both / len(one) + both / len(other)) / 2
    return min(_share(one, other), _share(other, one)) if kind == "states" else _ranges_alike(one, other)


def _share(one: States, other: States) -> float:
    """The share of the states of the one side that the other shows too."""
    return sum(max(1.0 if mine & its else NEAR if wide & its or mine & wider else 0.0 for its, wider in other) for mine, wide in one) / len(one)


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
