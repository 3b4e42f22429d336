"""What to look at next, as text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from lenticel.following import Following, Look
from lenticel.model import Knowledge
from lenticel.text.parts import named, warned

OUTCOMES = 5  # of a look


def following_text(knowledge: Knowledge, answer: Following, *, listed: int = 5) -> Iterator[str]:
    """What remains and what to look at, line by line.

    Args:
        knowledge: the records.
        answer: the answer.
        listed: how many taxa to name of each outcome.
    """
    yield "Seen: " + "; ".join(answer.observations) if answer.observations else "Nothing was observed."
    yield from means(answer.season, answer.kit, answer.parts)
    yield ""
    if answer.slips:
        yield f"{len(answer.likely)} likely, if any observation may be a slip: {named(knowledge, answer.likely, 2 * listed)}"
    elif not answer.remaining:
        yield "Nothing remains, so that no look can tell more; `lenticel doubt` says what to doubt, `--slips` looks on nevertheless."
    else:
        yield f"{len(answer.remaining)} remain{'s' if len(answer.remaining) == 1 else ''}: {named(knowledge, answer.remaining, 2 * listed)}"
    if answer.looks:
        yield "Look at, most telling first:"
    elif len(answer.likely or answer.remaining) > 1:
        yield "Nothing that can be looked at tells these apart."
    for number, look in enumerate(answer.looks, 1):
        yield from _look(knowledge, answer, number, look, listed)
    if answer.more:
        yield f"  and {answer.more} more characters that would tell something"
    if answer.waiting:
        yield "To be looked at only once another was: " + "; ".join(
            f"{_label(knowledge, key)} (first {_label(knowledge, first)})" for key, first in answer.waiting
        )
    if answer.ordering:
        yield f"These put in order and decide nothing: {', '.join(_label(knowledge, key) for key in answer.ordering)}"
    yield from warned(knowledge, answer.cautions)
    yield ""
    yield f"Knowledge {answer.digest[:16]}. How likely an outcome is is a rule of thumb; what it leaves is what the statements say."


def means(season: str, kit: Sequence[str], parts: Sequence[str]) -> Iterator[str]:
    """With what one looks, in a line; none if with anything."""
    said = [f"in {season}"] if season else []
    said += [f"with the eye and {', '.join(tool for tool in kit if tool != 'eye')}" if set(kit) - {"eye"} else "with the bare eye"] if kit else []
    said += [f"at {', '.join(parts)}"] if parts else []
    if said:
        yield f"Looking {', '.join(said)}."


def _look(knowledge: Knowledge, answer: Following, number: int, look: Look, listed: int) -> Iterator[str]:
    counted = look.decides or answer.slips
    worth = f"leaves {look.expected:g} of {len(answer.likely or answer.remaining)} on average" if counted else "excludes none, and says which are likelier"
    yield f"  {number}. {look.label} ({look.organ}; {look.needs}): {worth}"
    for outcome in look.outcomes[:OUTCOMES]:
        names = f": {named(knowledge, outcome.taxa, listed)}" if counted and outcome.taxa else ""
        leaves = f", leaves {outcome.count}{names}" if counted else ""
        yield f"       {outcome.seen} ({outcome.chance:.0%}){leaves}"
    if len(look.outcomes) > OUTCOMES:
        more = len(look.outcomes) - OUTCOMES
        yield f"       and {more} less likely outcome{'s' if more > 1 else ''}"


def _label(knowledge: Knowledge, character: str) -> str:
    return knowledge.characters[character].label
