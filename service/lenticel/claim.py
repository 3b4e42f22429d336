"""A claim on what a taxon shows, as a leaflet prints it, read part by part: each state on its own, or one range as a whole."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from lenticel.cite import taxon_named
from lenticel.errors import BadObservation, BadQuantity, LenticelError
from lenticel.model import Character
from lenticel.observation import Part, Reader
from lenticel.quantity import Interval, parse_printed

DENIAL = re.compile(r"(?:not\s+|!\s*)")
Found = TypeVar("Found")


@dataclass(frozen=True, slots=True)
class Claimed:
    """One part of a claim, of a `kind`: a "state", a "denial" (that it is not shown), a span of "months", or a "range".

    `part` is what a plant that bears it out would show; of a range its `usual` part is claimed as a whole, and `outer` takes in bracketed
    extremes. An open end is not claimed: "up to 30 m" says nothing of the smallest.
    """

    kind: str
    part: Part
    text: str
    usual: Interval | None = None
    outer: Interval | None = None


@dataclass(frozen=True, slots=True)
class Claim:
    """What is claimed of a taxon for a character, part by part; all of them are claimed."""

    taxon: str
    character: Character
    parts: tuple[Claimed, ...]


def read_claim(reader: Reader, taxon: str, character: str, value: str) -> Claim:
    """Read a claim.

    Args:
        reader: reads words against the knowledge.
        taxon: a name or identifier.
        character: a label, synonym or identifier.
        value: states joined by `|`, `not milky`, `absent`, or a range as floras print it.

    Raises:
        UnknownTerm, BadQuantity, BadObservation: with what to write instead; pointing to /taxon, /character or /value.
    """
    key = _at("/taxon", lambda: taxon_named(reader.knowledge, taxon))
    each = _at("/character", lambda: reader.character(character))
    return Claim(key, each, _at("/value", lambda: _parts(reader, each, value)))


def _at(where: str, read: Callable[[], Found]) -> Found:
    try:
        return read()
    except LenticelError as error:
        raise error.at(where) from None


def _parts(reader: Reader, character: Character, value: str) -> tuple[Claimed, ...]:
    text = value.strip()
    if not text:
        raise BadObservation("Nothing is claimed.", "Give a state or a range; leave the row out if it claims nothing.")
    if character.kind != "states":
        return (_range(reader, character, text),)
    if text.casefold() == "absent" or DENIAL.match(text):
        part = reader.part(character, text)
        return (Claimed("denial" if part.denied else "state", part, text),)
    words = [word.strip() for word in text.split("|")]
    return tuple(Claimed("state", reader.states(character, [word]), word) for word in dict.fromkeys(words))


def _range(reader: Reader, character: Character, text: str) -> Claimed:
    if DENIAL.match(text):
        raise BadObservation(f"{text[:60]!r} does not say what {character.id!r} measures.", "Give a range such as 5-12.")
    try:
        printed = parse_printed(text, character.unit)
    except BadQuantity:
        part = reader.part(character, text)  # a measured value with its uncertainty
        return Claimed("range", part, part.text, part.spans[0], part.spans[0]) if part.spans else Claimed("months", part, part.text)
    if character.kind == "month":
        return Claimed("months", reader.span(character, printed.reach), f"month {printed}")
    unit = f" {character.unit}" if character.kind == "measure" else ""
    return Claimed("range", reader.span(character, printed.usual), f"{printed}{unit}", printed.usual, printed.reach)
