"""Questions for learners, made from the look-alikes of a group and a season, each with its reasoned answer."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, product

from lenticel.cite import Citation
from lenticel.compare import Comparison, Separator, compare
from lenticel.errors import BadQuestion
from lenticel.identify import cautions_for
from lenticel.model import SEASONS, Caution, Character, Lookalike
from lenticel.snapshot import Snapshot

COUNT, MOST = 10, 50
TOLD = 3
LEVELS = ("easy", "harder", "open")


@dataclass(frozen=True, slots=True)
class TellingTrait:
    """A character that tells the two apart: what either shows, how surely it tells, and the statements that say so (keys of `citations`)."""

    character: str
    force: str
    one: str
    other: str
    statements: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PracticeQuestion:
    """One question and its answer.

    `kind` is "which" (a plant shows this: which of the two is it?) or "what" (what tells them apart?). `level` is "easy" if some trait is
    decisive, "harder" if what tells is only usual, "open" if nothing but tendencies does, so that the right answer leaves the name open. `answer` is the
    taxon for "which", else "". `traits` are what the answer rests on, the one asked about first.
    """

    number: int
    kind: str
    level: str
    one: str
    other: str
    text: str
    answer: str
    reason: str
    traits: tuple[TellingTrait, ...]
    lookalike: str
    warning: str
    cautions: tuple[Caution, ...]


@dataclass(frozen=True, slots=True)
class Practice:
    """The questions, in an order that the seed alone decides; and the pairs of look-alikes of the group that are left over."""

    digest: str
    group: tuple[str, ...]
    season: str
    seed: int
    questions: tuple[PracticeQuestion, ...]
    left_over: int
    citations: dict[str, Citation]


def practice(snapshot: Snapshot, group: Sequence[str] = (), *, season: str = "", seed: int = 0, count: int = COUNT, level: str = "") -> Practice:
    """Make questions for learners.

    Args:
        snapshot: the knowledge.
        group: identifiers of taxa of any rank. Of one, the look-alikes of what it holds with anything; of several, those among what they hold; of
            none, all look-alikes.
        season: only traps that are set then, and only what can be seen then ("" for any season).
        seed: the same seed gives the same questions; another one another choice.
        count: how many questions at most, 1 to 50.
        level: only questions of this level ("" for all).

    Raises:
        BadQuestion: there is no such season or level, or the number is out of bounds.
    """
    _check(season, count, level)
    pairs = _pairs(snapshot, group, season, seed)
    ordered = sorted(pairs, key=lambda pair: _draw(seed, *pair))
    questions: list[PracticeQuestion] = []
    said: dict[str, Citation] = {}
    done = 0
    for pair in ordered:
        if len(questions) == count:
            break
        done += 1
        answer = compare(snapshot, pair, season=season)
        question = _question(snapshot, answer, pairs[pair], len(questions) + 1, seed)
        if not level or question.level == level:
            questions.append(question)
            said |= {key: answer.citations[key] for trait in question.traits for key in trait.statements}
    return Practice(snapshot.digest, tuple(group), season, seed, tuple(questions), len(ordered) - done, dict(sorted(said.items())))


def _check(season: str, count: int, level: str) -> None:
    if season and season not in SEASONS:
        raise BadQuestion(f"{season[:40]!r} is no season.", f"Use one of: {', '.join(SEASONS)}.", "/season")
    if level and level not in LEVELS:
        raise BadQuestion(f"{level[:40]!r} is no level.", f"Use one of: {', '.join(LEVELS)}.", "/level")
    if not 1 <= count <= MOST:
        raise BadQuestion(f"{count} questions were asked for.", f"Ask for 1 to {MOST}.", "/count")


def _draw(seed: int, *words: str) -> str:
    """What orders things at random, yet the same way on every machine."""
    return hashlib.sha256("|".join((str(seed), *words)).encode()).hexdigest()


def _pairs(snapshot: Snapshot, group: Sequence[str], season: str, seed: int) -> dict[tuple[str, str], Lookalike]:
    """The pairs of lowest taxa that a record sets against each other, each with the first such record, a published one if there is any.

    Of a record on ranks above, one pair is drawn.
    """
    known = snapshot.knowledge
    held = {taxon for taxon in known.terminal if not group or set(known.lineage(taxon)) & set(group)}
    least = 1 if len(group) == 1 else 2
    found: dict[tuple[str, str], Lookalike] = {}
    for record in sorted(known.lookalikes.values(), key=lambda each: not known.sources[each.source].published):
        if season and season not in record.seasons:
            continue
        below = {rank: [taxon for taxon in known.terminal if rank in known.lineage(taxon)] for rank in record.taxa}
        for one, other in combinations(record.taxa, 2):
            meant = [(min(pair), max(pair)) for pair in product(below[one], below[other]) if len(set(pair)) == 2 and len(held.intersection(pair)) >= least]
            if meant:
                found.setdefault(min(meant, key=lambda pair: _draw(seed, record.id, *pair)), record)
    return found


def _question(snapshot: Snapshot, answer: Comparison, record: Lookalike, number: int, seed: int) -> PracticeQuestion:
    known = snapshot.knowledge
    pair = (answer.taxa[0], answer.taxa[1])
    telling = [each for each in answer.separators if each.force != "one-sided" and _is_look(known.characters[each.character])]
    sure = [each for each in telling if each.force == "decisive"] or [each for each in telling if each.force == "typical"]
    level = LEVELS[2] if not sure else LEVELS[0] if sure[0].force == "decisive" else LEVELS[1]
    which = bool(sure) and int(_draw(seed, *pair, "kind"), 16) % 2 == 0
    first = sure[0] if sure else None
    chosen = pair[int(_draw(seed, *pair, "side"), 16) % 2] if which else ""
    told = ([first] if first else []) + [each for each in telling if each is not first and (not sure or each.force != "tendency")]
    shown = {each.taxon: each.shown for each in first.shown} if first else {}
    names = [known.taxa[taxon].label for taxon in pair]
    when = f" in {answer.season}" if answer.season else ""
    if which and first:
        text = (
            f"A plant is {names[0]} or {names[1]}. You see{when}: {known.characters[first.character].label}: {shown[chosen]}. Which of the two is it, and why?"
        )
    else:
        text = f"{names[0]} and {names[1]} are taken for each other. What would you look at{when} to tell them apart?"
    return PracticeQuestion(
        number,
        "which" if which else "what",
        level,
        *pair,
        text,
        chosen,
        _reason(snapshot, pair, first, chosen, when),
        tuple(_trait(each, pair) for each in told[:TOLD]),
        record.id,
        record.reason,
        cautions_for(snapshot, pair),
    )


def _is_look(character: Character) -> bool:
    """Whether a character is seen on the plant in front of one: not where it stands, and no date."""
    return character.force == "diagnostic" and character.kind != "month"


def _trait(each: Separator, pair: tuple[str, str]) -> TellingTrait:
    shown = {one.taxon: one for one in each.shown}
    statements = tuple(dict.fromkeys(key for taxon in pair for key in shown[taxon].statements[:2]))
    return TellingTrait(each.character, each.force, shown[pair[0]].shown, shown[pair[1]].shown, statements)


def _reason(snapshot: Snapshot, pair: tuple[str, str], first: Separator | None, chosen: str, when: str) -> str:
    known = snapshot.knowledge
    one, other = (known.taxa[taxon].scientific_name for taxon in pair)
    if first is None:
        return f"Nothing here separates {one} and {other}{when}: leave the name open."
    shown = {each.taxon: each.shown for each in first.shown}
    label = known.characters[first.character].label
    both = f"{label}: {one} shows {shown[pair[0]]}, {other} {shown[pair[1]]}"
    sure = "no plant can be both" if first.force == "decisive" else "so do the usual plants; an odd one may not, so look for a second trait"
    return f"{known.taxa[chosen].label}, by the {both}; {sure}." if chosen else f"First at the {both}; {sure}."
