"""What can be looked at: by season, by the tools at hand, by the parts within reach, by what the plant must show first, and by what it has shed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lenticel.cells import tells_all
from lenticel.errors import BadQuestion, UnknownTerm, suggest
from lenticel.model import SEASONS, Character
from lenticel.observation import Observation, Part, closure, conditional, entails
from lenticel.snapshot import Layout, Planes, Snapshot, members_of
from lenticel.timing import months_of, said_in, season_of

WINTER = SEASONS[-1]  # when what a plant sheds is not there
# What looking costs, in looks with the bare eye, by what a character needs; by rule of thumb, since nobody has timed it.
EFFORT = {"eye": 1.0, "ruler": 1.5, "hand lens": 1.5, "tape": 2.0, "knife": 2.0, "clinometer": 3.0}
MOST_READ = 1024  # taxa whose statements are read one by one
OTHER = 4.0  # for whatever else is needed, such as a ladder
IN_HAND = 0.5  # how much of what a tool adds is left if the asker says that it is at hand; by rule of thumb too


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


def effort(character: Character, kit: Sequence[str] = ()) -> float:
    """What looking at a character costs; less if what it needs is among the tools at hand."""
    cost = EFFORT.get(character.needs, OTHER)
    return 1 + (cost - 1) * IN_HAND if character.needs in kit else cost


def unseen(snapshot: Snapshot, sight: Sight, observations: Iterable[Observation]) -> list[Character]:
    """The characters that the means allow and that no observation bears on yet, in table order."""
    known, partitions = snapshot.knowledge, snapshot.body.partitions
    seen = {part.character for each in observations if len(each.parts) == 1 for part in closure(known, partitions, each.parts[0])}
    return [each for each in known.characters.values() if within(each, sight) and each.id not in seen]


def unmet(snapshot: Snapshot, character: str, rows: npt.NDArray[np.intp], observations: Sequence[Observation], season: str = "") -> Part | None:
    """The first condition for which not every plant of the taxa at some places that fits the observations can show a character; None if all can.

    They can if each condition, its own and those on which these rest in turn, is entailed by an observation, or if of no
    taxon anything outside it is said, as far as what was seen of it goes. In winter what is shed has a condition more.
    """
    for condition in (each for key in snapshot.knowledge.broadening(character) for each in conditions(snapshot, key, season)):
        if any(entails(snapshot, each, Observation((condition,))) for each in observations):
            continue
        if unmet(snapshot, condition.character, rows, observations, season):
            return condition
        outside = snapshot.body.partitions[condition.character].full & ~condition.mask
        for each in _seen_of(snapshot, condition.character, observations):
            outside &= each.mask
        if _may_truly_show(snapshot, condition.character, outside, rows):
            return condition
    return None


def conditions(snapshot: Snapshot, character: str, season: str = "") -> tuple[Part, ...]:
    """What a plant must show to have a character to look at in a season, put into words once: keys ask for it at every couplet."""
    made: dict[tuple[str, bool], tuple[Part, ...]] = snapshot.memo.setdefault("sight", {})
    winter = season == WINTER
    if (character, winter) not in made:
        each = snapshot.knowledge.characters[character]
        stated = (each.applies_if, each.winter_if if winter else None)
        made[character, winter] = tuple(conditional(snapshot.body.partitions, *condition) for condition in stated if condition)
    return made[character, winter]


def there(snapshot: Snapshot, character: str, rows: npt.NDArray[np.intp], season: str) -> npt.NDArray[np.bool_]:
    """Bool (n,): whether the taxa at some places may have a character to look at in a season, or have shed it by then.

    What is of a flower or fruit hangs on the months that are said of the taxa: out of its seasons those have it that bear it then, such as elms with ripe
    fruit in spring; in them those have it no more, but for winter, that have borne it before, such as elms in autumn.
    """
    known, partitions = snapshot.knowledge, snapshot.body.partitions
    if season and season not in known.characters[character].seasons:
        return members_of(_bearing(snapshot, character, season), snapshot.taxa_count)[rows]
    found = ~members_of(_past(snapshot, character, season), snapshot.taxa_count)[rows] if season else np.ones(len(rows), np.bool_)
    for key in known.broadening(character):
        kept = known.characters[key].winter_if
        if kept and season == WINTER:
            target, states = kept
            found &= may_show(snapshot.hard, snapshot.layout[target], partitions[target].union(states), rows)
    return found


def out_of_season(snapshot: Snapshot, observations: Iterable[Observation], month: int) -> tuple[str, ...]:
    """The observations, in words, of characters that cannot be seen in a month, nor are of a flower or fruit that some taxon then bears: a slip, or old."""
    season = season_of(month)

    def seen(character: str) -> bool:
        usual = season in snapshot.knowledge.characters[character].seasons
        return usual or bool((_bearing(snapshot, character, season) & snapshot.terminal).any())

    return tuple(each.text for each in observations if not any(seen(part.character) for part in each.parts))


def _bearing(snapshot: Snapshot, character: str, season: str) -> Planes:
    """uint64 (W,): the taxa of which something is said for a character of a flower or fruit, and whose usual months of it reach into a season but winter."""
    found = np.zeros_like(snapshot.terminal)
    for key in _months(snapshot, character, season):
        found |= said_in(snapshot, snapshot.typical, key, months_of(season))
    return np.asarray(found & snapshot.known[snapshot.layout[character].place])


def _past(snapshot: Snapshot, character: str, season: str) -> Planes:
    """uint64 (W,): the taxa that cannot bear a flower or fruit in a season, nor ripen it in the next one; none of what lasts, as cones do."""
    known, found = snapshot.knowledge.characters, np.zeros_like(snapshot.terminal)
    for key in _months(snapshot, character, season):
        if set(known[character].seasons) <= set(known[key].seasons):
            soon = SEASONS[(SEASONS.index(season) + 1) % len(SEASONS)]
            borne = said_in(snapshot, snapshot.hard, key, (*months_of(season), *months_of(soon)))
            found |= snapshot.known[snapshot.layout[key].place] & ~borne
    return found


def _months(snapshot: Snapshot, character: str, season: str) -> list[str]:
    """The characters that say in which months a taxon bears the flower or fruit that a character is of; none in winter, when it is dry."""
    if season == WINTER:
        return []
    known = snapshot.knowledge.characters
    its, by_organ = known[character], snapshot.remembered("sight.months", _months_by_organ)
    return [key for key in by_organ.get(its.organ, ()) if set(known[key].seasons) & set(its.seasons) - {WINTER}]


def _months_by_organ(snapshot: Snapshot) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for key, each in snapshot.knowledge.characters.items():
        if each.kind == "month":
            found.setdefault(each.organ, []).append(key)
    return found


def _may_truly_show(snapshot: Snapshot, character: str, mask: int, rows: npt.NDArray[np.intp]) -> bool:
    """Whether any taxon at some places may show something of a mask; what observers only take for what it shows takes no needle off a pine."""
    where = snapshot.layout[character]
    doubtful = rows[may_show(snapshot.hard, where, mask, rows)]
    if len(doubtful) > MOST_READ:
        return True
    said = ((row, mask & _said(snapshot, snapshot.taxa[row], character)) for row in doubtful.tolist())
    return any(bool(may_show(snapshot.hard, where, left, np.array([row]))[0]) for row, left in said if left)


def _said(snapshot: Snapshot, taxon: str, character: str) -> int:
    """The atoms that the nearest statements on a taxon name, without those that observers take for them; all if they do not tell all."""
    made: dict[tuple[str, str], int] = snapshot.memo.setdefault("said", {})
    if (taxon, character) not in made:
        partition = snapshot.body.partitions[character]
        stated, each = snapshot.knowledge.nearest_said(taxon, character), snapshot.knowledge.characters[character]
        closed = any(tells_all(each, one) for one in stated)
        made[taxon, character] = partition.union(state for one in stated for state in one.states) if closed else partition.full
    return made[taxon, character]


def _seen_of(snapshot: Snapshot, character: str, observations: Iterable[Observation]) -> list[Part]:
    known, partitions = snapshot.knowledge, snapshot.body.partitions
    plain = (each.parts[0] for each in observations if len(each.parts) == 1)
    return [part for each in plain for part in closure(known, partitions, each) if part.character == character]


def may_show(planes: Planes, where: Layout, mask: int, rows: npt.NDArray[np.intp]) -> npt.NDArray[np.bool_]:
    """Bool (n,): whether the taxa at some places may show one of the atoms of a mask."""
    chosen = [where.first + bit for bit in range(where.atoms) if mask >> bit & 1]
    word, bit = rows >> 6, (rows & 63).astype(np.uint64)
    return np.asarray((planes[chosen][:, word] >> bit & np.uint64(1)).any(axis=0))
