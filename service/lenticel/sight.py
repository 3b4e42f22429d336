"""What can be looked at: by season, by the tools at hand, by the parts within reach, and by what the plant must show first."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lenticel.errors import BadQuestion, UnknownTerm, suggest
from lenticel.model import SEASONS, Character
from lenticel.observation import Observation, Part, closure, condition_of, entails
from lenticel.snapshot import Layout, Planes, Snapshot

# What looking costs, in looks with the bare eye, by what a character needs; by rule of thumb, since nobody has timed it.
EFFORT = {"eye": 1.0, "ruler": 1.5, "hand lens": 1.5, "tape": 2.0, "knife": 2.0, "clinometer": 3.0}
OTHER = 4.0  # for whatever else is needed, such as a ladder


@dataclass(frozen=True, slots=True)
class Sight:
    """The means of looking: a season, the tools at hand besides the eye, and the parts of the plant (organs) within reach; empty for any."""

    season: str = ""
    kit: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()


def checked(snapshot: Snapshot, sight: Sight) -> Sight:
    """The same means of looking, once each of its words is known.

    Raises:
        BadQuestion: there is no such season.
        UnknownTerm: no character needs such a tool, or is of such a part.
    """
    known = snapshot.knowledge.characters.values()
    if sight.season and sight.season not in SEASONS:
        raise BadQuestion(f"{sight.season[:40]!r} is no season.", f"Use one of: {', '.join(SEASONS)}.", "/season")
    for what, given, words in (("kit", sight.kit, {*EFFORT, *(each.needs for each in known)}), ("parts", sight.parts, {each.organ for each in known})):
        for place, word in enumerate(given):
            if word not in words:
                hint = suggest(word, words) or f"Use one of: {', '.join(sorted(words))}."
                raise UnknownTerm(f"Nothing in this knowledge is said of {word[:40]!r}.", hint, f"/{what}/{place}")
    return sight


def within(character: Character, sight: Sight) -> bool:
    """Whether a character can be looked at, as far as the means go."""
    return (
        (not sight.season or sight.season in character.seasons)
        and (not sight.kit or character.needs in ("eye", *sight.kit))
        and (not sight.parts or character.organ in sight.parts)
    )


def effort(character: Character) -> float:
    """What looking at a character costs."""
    return EFFORT.get(character.needs, OTHER)


def unseen(snapshot: Snapshot, sight: Sight, observations: Iterable[Observation]) -> list[Character]:
    """The characters that the means allow and that no observation bears on yet, in table order."""
    known, partitions = snapshot.knowledge, snapshot.body.partitions
    seen = {part.character for each in observations if len(each.parts) == 1 for part in closure(known, partitions, each.parts[0])}
    return [each for each in known.characters.values() if within(each, sight) and each.id not in seen]


def applies(snapshot: Snapshot, character: str, rows: npt.NDArray[np.intp], observations: Sequence[Observation]) -> bool:
    """Whether every plant of the taxa at some places that fits the observations can show a character.

    It can if each condition, its own and those on which these rest in turn, is entailed by an observation, or if no
    taxon may show anything outside it, as far as what was seen of it goes.
    """
    for key in snapshot.knowledge.broadening(character):
        condition = _condition(snapshot, key)
        if condition is None or any(entails(snapshot, each, Observation((condition,))) for each in observations):
            continue
        if not applies(snapshot, condition.character, rows, observations):
            return False
        outside = snapshot.body.partitions[condition.character].full & ~condition.mask
        for each in _seen_of(snapshot, condition.character, observations):
            outside &= each.mask
        if may_show(snapshot.hard, snapshot.layout[condition.character], outside, rows).any():
            return False
    return True


def _condition(snapshot: Snapshot, character: str) -> Part | None:
    """The condition of a character, put into words once: keys ask for it at every couplet."""
    made: dict[str, Part | None] = snapshot.memo.setdefault("sight", {})
    if character not in made:
        made[character] = condition_of(snapshot.knowledge, snapshot.body.partitions, character)
    return made[character]


def _seen_of(snapshot: Snapshot, character: str, observations: Iterable[Observation]) -> list[Part]:
    known, partitions = snapshot.knowledge, snapshot.body.partitions
    plain = (each.parts[0] for each in observations if len(each.parts) == 1)
    return [part for each in plain for part in closure(known, partitions, each) if part.character == character]


def may_show(planes: Planes, where: Layout, mask: int, rows: npt.NDArray[np.intp]) -> npt.NDArray[np.bool_]:
    """Bool (n,): whether the taxa at some places may show one of the atoms of a mask."""
    chosen = [where.first + bit for bit in range(where.atoms) if mask >> bit & 1]
    word, bit = rows >> 6, (rows & 63).astype(np.uint64)
    return np.asarray((planes[chosen][:, word] >> bit & np.uint64(1)).any(axis=0))
