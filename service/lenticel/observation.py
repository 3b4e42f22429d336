"""Observations: what somebody holds possible for a character, read from text or from plain data.

Text forms: `serrate`, `serrate|doubly-serrate` (one of several), `not milky`, `7.5 cm`, `7.5±0.5 cm`, `5-8 cm`, `>=12 m`,
`not 5-7`, `absent`. A character may be several joined by `|`: "this or that of them".
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property, lru_cache, reduce
from operator import attrgetter, or_

from lenticel.engine import Bits, Probe, Spans
from lenticel.errors import BadObservation, BadQuantity, LenticelError, UnknownTerm, suggest
from lenticel.model import Character, Knowledge
from lenticel.partition import Partition
from lenticel.quantity import MONTHS, Interval, arc, month_text, parse_reading
from lenticel.snapshot import Snapshot, scaled
from lenticel.spelling import folded, respelt

ABSENT = "absent"
MAX_ALTERNATIVES = 12
MAX_PARTS = 200
REMEMBERED = 8192  # readings, since the same words come again and again


@dataclass(frozen=True, slots=True)
class Part:
    """What is held possible for one character: a mask of atoms, or intervals in its unit.

    `text` says it in words, in one spelling for each meaning. `chosen` and `denied` keep the states or months as they
    were named, so that a reasoner can be asked in the observer's own terms.
    """

    character: str
    mask: int
    spans: tuple[Interval, ...]
    text: str
    chosen: tuple[str, ...] = ()
    denied: bool = False

    def weaker_than(self, other: Part) -> bool:
        """True if, the characters being the same, whatever `other` allows this allows too."""
        if self.spans or other.spans:
            return all(any(_holds(mine, its) for mine in self.spans) for its in other.spans)
        return other.mask & ~self.mask == 0


def _holds(outer: Interval, inner: Interval) -> bool:
    return outer.meet(inner) == inner


@dataclass(frozen=True)
class Observation:
    """One observation: one part, or several of which at least one is true."""

    parts: tuple[Part, ...]

    @cached_property
    def text(self) -> str:
        """The observation in words."""
        return " or ".join(f"{part.character}: {part.text}" for part in self.parts)

    def __hash__(self) -> int:
        """By its words, which are made once; hashing all figures of its parts takes longer, and observations are looked up all the time."""
        return hash(self.text)


class Reader:
    """Reads observations against a snapshot's words; misspelt words come back with suggestions."""

    def __init__(self, snapshot: Snapshot) -> None:
        self.snapshot = snapshot
        self.knowledge: Knowledge = snapshot.knowledge
        self._remembered = lru_cache(maxsize=REMEMBERED)(self._observation)
        self._words: dict[str, str] = {}
        for key, character in self.knowledge.characters.items():
            self._words |= {word.casefold(): key for word in (key, character.label, *character.synonyms)}
        self._plain = {_plain(word): key for word, key in self._words.items()}

    def character(self, word: str) -> Character:
        """The character that a word, identifier or synonym means.

        Raises:
            UnknownTerm: none; the fix offers the nearest.
        """
        key = self._words.get(word.strip().casefold()) or self._plain.get(_plain(word))
        if key is None:
            hint = suggest(word, self._words) or "List the characters with `lenticel terms`, or at /v1/characters."
            raise UnknownTerm(f"There is no character {word[:60]!r}.", hint)
        return self.knowledge.characters[key]

    def state(self, character: Character, word: str) -> str:
        """The state of a character that a word, identifier or synonym means.

        Raises:
            UnknownTerm: none; the fix offers the nearest, or lists them all.
        """
        named = self._state_named(character, word)
        if named:
            return named
        states = self.knowledge.states_of(character.id)
        known = [word for state in states for word in (state.id, *state.synonyms)]
        hint = suggest(word, known) or f"Use one of: {', '.join(state.id for state in states)}."
        raise UnknownTerm(f"{word[:60]!r} is no state of {character.id!r}.", hint)

    def _state_named(self, character: Character, word: str) -> str:
        wanted = _plain(word)
        for state in self.knowledge.states_of(character.id):
            if wanted in map(_plain, (state.id, state.label, *state.synonyms)):
                return state.id
        return ""

    def observation(self, characters: str, value: str) -> Observation:
        """Read one observation in its text form.

        Args:
            characters: a character, or several joined by `|` for "this or that of them".
            value: as in the text forms above.

        Raises:
            UnknownTerm, BadQuantity, BadObservation: with what to write instead.
        """
        return self._remembered(characters, value)

    def _observation(self, characters: str, value: str) -> Observation:
        words = [word for word in characters.split("|") if word.strip()]
        if len(words) > MAX_ALTERNATIVES:
            raise BadObservation(f"{len(words)} characters are joined.", f"Join at most {MAX_ALTERNATIVES}.")
        if not words:
            raise BadObservation("No character is named.", "Write it as `character=value`, such as leaf-margin=serrate.")
        if not value.strip():
            raise BadObservation(f"Nothing is said of {characters[:60]!r}.", "Give a state or a value; leave the observation out if you did not look.")
        keys = dict.fromkeys(self.character(word).id for word in words)
        return Observation(tuple(self.part(self.knowledge.characters[key], value) for key in keys))

    def part(self, character: Character, value: str) -> Part:
        """Read a value in its text form for one character."""
        text = value.strip()
        denial = None if self._state_named(character, text) else re.match(r"(?:not\s+|!\s*)", text)
        body = text[denial.end() :] if denial else text
        if body.casefold() == ABSENT:
            return self.absent(character, denied=bool(denial))
        if character.kind == "states":
            return self.states(character, body.split("|"), denied=bool(denial))
        try:
            return self.span(character, parse_reading(body, character.unit), denied=bool(denial))
        except BadQuantity as error:
            named = repr(character.id) in error.message
            raise error if named else BadQuantity(f"{character.id!r}: {error.message}", error.fix) from None

    def states(self, character: Character, words: Iterable[str], *, denied: bool = False) -> Part:
        """Some states held possible, or ruled out."""
        if character.kind != "states":
            raise BadObservation(f"{character.id!r} takes a quantity in {character.unit!r}, not states.", "Give a value such as 5-8.")
        chosen = [self.state(character, word) for word in words]
        partition = self.snapshot.body.partitions[character.id]
        mask = partition.union(chosen)
        mask = partition.full & ~mask if denied else mask
        if not mask:
            raise BadObservation(f"Nothing is left of {character.id!r} once that is denied.", "Deny fewer states, or say what was seen.")
        return Part(character.id, mask, (), state_text(partition, mask), tuple(sorted(set(chosen))), denied)

    def span(self, character: Character, span: Interval, *, denied: bool = False) -> Part:
        """A measured or counted interval in the character's unit, or everything outside it."""
        if character.kind == "states":
            raise BadObservation(
                f"{character.id!r} takes states, not a quantity.", f"Use one of: {', '.join(state.id for state in self.knowledge.states_of(character.id))}."
            )
        if character.kind == "month":
            return self._months(character, span, denied)
        self._plausible(character, span)
        spans = (span,) if not denied else _outside(span, whole=character.kind == "count")
        if not spans:
            raise BadObservation(f"Nothing is left of {character.id!r} once that is denied.", "Say what was seen.")
        unit = "" if character.unit == "1" else f" {character.unit}"
        return Part(character.id, 0, spans, " or ".join(f"{each}{unit}" for each in spans))

    def absent(self, character: Character, *, denied: bool = False) -> Part:
        """Looked for and not there: the state `absent` of the character, or of the one on which it depends."""
        for key in (character.id, character.applies_if[0] if character.applies_if else ""):
            if key and any(state.id == ABSENT for state in self.knowledge.states_of(key)):
                return self.states(self.knowledge.characters[key], [ABSENT], denied=denied)
        presence = [key for key in self.knowledge.characters if any(state.id == ABSENT for state in self.knowledge.states_of(key))]
        raise BadObservation(f"{character.id!r} cannot be absent.", f"Characters that can: {', '.join(presence)}." if presence else "Say what was seen.")

    def _months(self, character: Character, span: Interval, denied: bool) -> Part:
        months = arc(span.lo if span.lo is not None else 1, span.hi if span.hi is not None else 12)
        months = MONTHS - months if denied else months
        if not months:
            raise BadObservation("No month is left.", "Name at least one.")
        mask = self.snapshot.body.partitions[character.id].union(str(month) for month in months)
        return Part(character.id, mask, (), f"month {month_text(months)}", tuple(str(month) for month in sorted(months)))

    def _plausible(self, character: Character, span: Interval) -> None:
        low, high = character.plausible_min, character.plausible_max
        if (high is not None and span.lo is not None and span.lo > high) or (low is not None and span.hi is not None and span.hi < low):
            raise BadQuantity(
                f"{span} {character.unit} is not plausible for {character.id!r} ({low} to {high} {character.unit}).", "Check the unit and the decimal point."
            )


def _plain(word: str) -> str:
    """The word in the one spelling in which words are compared: "leaf margin" is `leaf-margin`, "gray" is `grey`. A mark on a letter makes another word."""
    plain = folded(word)
    return respelt(plain) if plain.isascii() else plain


def _outside(span: Interval, *, whole: bool) -> tuple[Interval, ...]:
    """What lies outside; for measures the ends stay in, since no measurement tells 5 from just above 5."""
    step = Decimal(1 if whole else 0)
    below = () if span.lo is None or span.lo <= 0 else (Interval(None, span.lo - step),)
    above = () if span.hi is None else (Interval(span.hi + step, None),)
    return (*below, *above)


def state_text(partition: Partition, mask: int) -> str:
    """The mask in words: the fewest states that make it up."""
    names = partition.describe(mask)
    missing = partition.describe(partition.full & ~mask)
    if not missing:
        return "any"
    if len(missing) < len(names) and not any(name.endswith("+") for name in missing):
        return "not " + " or ".join(missing)
    return " or ".join(("another kind" + (f" of {name[:-1]}" if name != "+" else "")) if name.endswith("+") else name for name in names)


def read_observations(reader: Reader, rows: Sequence[tuple[str, str]]) -> list[Observation]:
    """Read (character, value) pairs, pointing each error to its row (a JSON pointer `/observations/i`)."""
    found: list[Observation] = []
    parts = 0
    for place, (characters, value) in enumerate(rows):
        try:
            found.append(reader.observation(characters, value))
        except LenticelError as error:
            raise error.at(f"/observations/{place}") from None
        parts += len(found[-1].parts)
        if parts > MAX_PARTS:  # judging what entails what takes their number squared
            raise BadObservation(f"More than {MAX_PARTS} things were observed.", "Ask about one plant at a time.", f"/observations/{place}")
    return found


def closure(knowledge: Knowledge, partitions: Mapping[str, Partition], part: Part) -> list[Part]:
    """Everything that a part entails by itself: itself for each broader character, and the conditions of each, in turn."""
    found: dict[Part, None] = {}  # several of one character, where conditions of two name different states of it
    waiting = [part]
    while waiting:
        here = waiting.pop()
        if here in found:
            continue
        found[here] = None
        character = knowledge.characters[here.character]
        if character.broader:
            waiting.append(replace(here, character=character.broader))
        condition = condition_of(knowledge, partitions, here.character)
        if condition:
            waiting.append(condition)
    return list(found)


def condition_of(knowledge: Knowledge, partitions: Mapping[str, Partition], character: str) -> Part | None:
    """What showing a character at all means for the one on which it depends; None if it depends on none."""
    applies_if = knowledge.characters[character].applies_if
    return conditional(partitions, *applies_if) if applies_if else None


def conditional(partitions: Mapping[str, Partition], character: str, states: tuple[str, ...]) -> Part:
    """A condition of the tables, some states of a character, as something observed."""
    mask = partitions[character].union(states)
    return Part(character, mask, (), state_text(partitions[character], mask), states)


@dataclass(frozen=True, slots=True)
class Closure:
    """What each part of an observation entails; `about` and `reached` are the characters of the observation and of all that its first part entails, as bits."""

    parts: list[list[Part]]
    about: int
    reached: int

    def entails(self, weaker: Observation) -> bool:
        """True if whoever saw this has seen `weaker` too."""
        return all(any(mine.character == its.character and its.weaker_than(mine) for its in weaker.parts for mine in part) for part in self.parts)


def _closures(snapshot: Snapshot) -> Callable[[Observation], Closure]:
    bits = {key: 1 << place for place, key in enumerate(snapshot.knowledge.characters)}

    @lru_cache(maxsize=REMEMBERED)
    def closures(observation: Observation) -> Closure:
        parts = [closure(snapshot.knowledge, snapshot.body.partitions, part) for part in observation.parts]
        about, reached = (reduce(or_, (bits[part.character] for part in each)) for each in (observation.parts, parts[0]))
        return Closure(parts, about, reached)

    return closures


def entails(snapshot: Snapshot, stronger: Observation, weaker: Observation) -> bool:
    """True if whoever saw `stronger` has seen `weaker` too."""
    return snapshot.remembered("closures", _closures)(stronger).entails(weaker)


def distinct(snapshot: Snapshot, observations: Iterable[Observation]) -> tuple[list[Observation], list[tuple[Observation, Observation]]]:
    """The observations in one order, without those that others entail.

    Returns:
        Those that remain, sorted by their text; and each dropped one with one that entails it.
    """
    unique = sorted({each.text: each for each in observations}.values(), key=attrgetter("text"))
    closures = list(map(snapshot.remembered("closures", _closures), unique))
    once = twice = 0  # the characters that some observation comes to, and those that several do; only what is among the latter can be entailed
    for mine in closures:
        twice |= once & mine.reached
        once |= mine.reached
    if not any(twice & mine.about for mine in closures):
        return unique, []
    kept: list[Observation] = []
    dropped: list[tuple[Observation, Observation]] = []
    for place, (each, mine) in enumerate(zip(unique, closures, strict=True)):
        near = [there for there, its in enumerate(closures) if there != place and its.reached & mine.about] if twice & mine.about else []
        stronger = (there for there in near if closures[there].entails(each))
        cause = next((there for there in stronger if there < place or not mine.entails(unique[there])), None)
        if cause is None:
            kept.append(each)
        else:
            dropped.append((each, unique[cause]))
    return kept, dropped


def probe(snapshot: Snapshot, observation: Observation) -> Probe:
    """The observation in terms of the snapshot's arrays."""
    return tuple(_probe_part(snapshot, part) for part in observation.parts)


def _probe_part(snapshot: Snapshot, part: Part) -> Bits | Spans:
    layout = snapshot.layout[part.character]
    if part.spans:
        spans = tuple((scaled(each.lo, layout.places, low=True), scaled(each.hi, layout.places, low=False)) for each in part.spans)
        return Spans(layout.slot, spans, layout.place, layout.circumstantial)
    planes = tuple(layout.first + bit for bit in range(layout.atoms) if part.mask >> bit & 1)
    return Bits(planes, tuple(range(layout.first, layout.first + layout.atoms)), layout.place, layout.circumstantial)
