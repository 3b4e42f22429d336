"""The first question in its usual form, read in a fifth of the time that its model takes; whatever else is sent is left to the model."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import orjson

from lenticel.identify import Context
from lenticel.requests import MAX_OBSERVATIONS

LONGEST = 1 << 16  # bytes; what is longer is read by the model alone, once, and under the limits of `notation`
NAMES = frozenset({"observations", "month", "wild", "region", "every_rank", "explain", "excluded"})


@dataclass(frozen=True, slots=True)
class PlainQuestion:
    """What `IdentifyRequest` says, where each observation is a character and a value in its text form."""

    pairs: list[tuple[str, str]]
    month: int = 0
    wild: bool = False
    region: str = ""
    every_rank: bool = False
    explain: int | None = None
    excluded: int | None = None

    def rows(self) -> list[tuple[str, str]]:
        """The observations in their text form."""
        return self.pairs

    def context(self) -> Context:
        """What else is known of the plant."""
        return Context(self.wild, self.month, self.region)


def plain_question(body: bytes) -> PlainQuestion | None:
    """The question in a body, if it is one that `parse_request` would read too and has the usual form; else None.

    A name that stands twice in an object is refused: no such name is there if the body holds no more quotation marks than what was read of it needs.
    """
    if len(body) > LONGEST:
        return None
    try:
        found = orjson.loads(body)
    except orjson.JSONDecodeError:
        return None
    if type(found) is not dict or not found.keys() <= NAMES:
        return None
    pairs = _pairs(found.pop("observations", None))
    if pairs is None or not all(_fits(name, value) for name, value in found.items()):
        return None
    strings = 1 + len(found) + ("region" in found) + 4 * len(pairs)
    return PlainQuestion(pairs, **found) if body.count(b'"') == 2 * strings else None


def _pairs(observations: Any) -> list[tuple[str, str]] | None:
    if type(observations) is not list or len(observations) > MAX_OBSERVATIONS:
        return None
    pairs = []
    for each in observations:
        if type(each) is not dict or len(each) != 2:
            return None
        character, value = each.get("character"), each.get("value")
        if type(character) is not str or type(value) is not str or not 1 <= len(character) <= 200 or len(value) > 400:
            return None
        pairs.append((character, value))
    return pairs


def _fits(name: str, value: Any) -> bool:
    if name == "region":
        return type(value) is str and len(value) <= 80
    if name in ("wild", "every_rank"):
        return type(value) is bool
    least, most = (1, 12) if name == "month" else (0, 10_000)
    return type(value) is int and least <= value <= most
