"""JSON (RFC 8259) as requests are written in: read strictly, and what is unsound pointed to (JSON pointer, RFC 6901)."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from typing import Any, NoReturn

from lenticel.errors import BadQuestion
from lenticel.quantity import MAX_DIGITS

MOST_DEPTH = 32  # arrays and objects within one another
MOST_NAMES = 32  # of an object; no question has half as many
MOST_SIGNS = 13_000  # commas and opening brackets, those in texts too; the fullest question that fits its schema has 12,849
MOST_DIGITS = 1000  # of a whole number; thousands of more digits each would take long to turn into numbers
LISTED = 20  # places that an error names
MAX_STEP = 60  # characters of a step of a pointer

_BOUNDS = "[]{}"
_CONSTANTS = ("NaN", "Infinity", "-Infinity")  # which Python's reader lets pass
_TOKEN = re.compile(rf'[][{{}},]|"[^"\\]*+(?:\\.[^"\\]*+)*+"?|{"|".join(_CONSTANTS)}|(?<![.\deE+-])-?\d{{{MOST_DIGITS + 1},}}+(?!\.\d|[eE][+-]?\d)', re.DOTALL)


class BadJson(BadQuestion):
    """The request cannot be parsed as JSON: it is broken, not UTF-8, nested too deep, or names one thing twice; `errors` points to the value."""

    code = "bad-json"


class Misfit(BadQuestion):
    """A part of the request is missing, has another type or size, or is not known; `places` points to each.

    Args:
        places: JSON pointers into the request, each with what is wrong there.
        count: how many there are, if only the first are given.
    """

    code = "bad-request"

    def __init__(self, places: Iterable[tuple[str, str]], count: int = 0) -> None:
        self.places = list(places)
        where, detail = self.places[0]
        count = max(count, len(self.places))
        message = f"{detail[:1].upper()}{detail[1:]}." if count == 1 else f"{count} parts of the request do not fit."
        super().__init__(message, "Write it as the API takes it; /openapi.json has the schema.", where)


def pointer(place: Iterable[int | str]) -> str:
    """A place in a document as a JSON pointer (RFC 6901), each step cut at 60 characters."""
    return "".join(f"/{str(step)[:MAX_STEP].replace('~', '~0').replace('/', '~1')}" for step in place)


def read_json(text: str | bytes) -> Any:
    """Read JSON strictly: UTF-8 without a byte order mark, no name twice in an object, no NaN or Infinity, at most 32 deep.

    Raises:
        BadJson: it is none; `where` points to the value at which reading ended.
        Misfit: it holds more than any question needs.
    """
    sent = text.encode("utf-8", "surrogatepass") if isinstance(text, str) else text
    if sum(sent.count(sign) for sign in (b",", b"[", b"{")) > MOST_SIGNS:
        raise Misfit([("", f"it holds more than {MOST_SIGNS} commas and opening brackets, and no question needs as many")])
    try:
        return _read(sent.decode())
    except UnicodeDecodeError as error:
        raise _not_utf_8(sent, error.start) from None


def _read(text: str) -> Any:
    try:
        found = READER.decode(text)
    except (ValueError, RecursionError) as error:
        raise _first_fault(text, error.pos if isinstance(error, json.JSONDecodeError) else len(text)) from None
    if text.count("[") + text.count("{") > MOST_DEPTH and _deeper(found, MOST_DEPTH):
        raise _first_fault(text, len(text))
    return found


def _not_utf_8(sent: bytes, start: int) -> BadJson:
    """The error for text of which a byte is no UTF-8; it points to where reading ends if nothing came after what is."""
    where = ""
    try:
        _read(sent[:start].decode())
    except (BadJson, Misfit) as error:
        where = error.where
    return BadJson(f"The JSON is not UTF-8 (byte {start}).", "Send it as UTF-8.", where)


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs) or len(found) > MOST_NAMES:
        raise ValueError  # _first_fault says what it is
    return found


def _whole(word: str) -> int:
    if len(word) > MOST_DIGITS:
        raise ValueError
    return int(word)


def _constant(word: str) -> NoReturn:
    raise ValueError(word)


READER = json.JSONDecoder(object_pairs_hook=_object, parse_int=_whole, parse_constant=_constant)


def _deeper(value: Any, most: int) -> bool:
    """Whether there are more than so many arrays and objects within one another."""
    level = [value]
    for _ in range(most):
        level = [inner for each in level if isinstance(each, dict | list) for inner in (each.values() if isinstance(each, dict) else each)]
    return any(isinstance(each, dict | list) for each in level)


class _Inside:
    """The arrays and objects whose end has not come: of each the step to the value in it that comes or has just been, and the names that it has.

    The step is None in an object before a name.
    """

    __slots__ = ("names", "steps")

    def __init__(self) -> None:
        self.steps: list[int | str | None] = []
        self.names: list[set[str]] = []

    @property
    def where(self) -> str:
        """The place that has been reached."""
        return pointer(each for each in self.steps if each is not None)


def _first_fault(text: str, end: int) -> BadJson | Misfit:
    """What is wrong first with JSON that Python's reader took up to `end`, or refused as a whole, and the place of it.

    That reader tells the place of broken syntax alone, so the text is gone through once more, with what is open held on a stack. Up to `end` it is known
    to be sound, so that only what opens, closes, separates or names need be looked at, and what we refuse ourselves.
    """
    inside = _Inside()
    steps = inside.steps
    for token in _TOKEN.finditer(text):
        if token.end() > end:
            break
        word, fault = token[0], None
        if word == ",":
            last = steps[-1]
            steps[-1] = last + 1 if isinstance(last, int) else None
        elif word[0] == '"':
            fault = _named(inside, word) if steps and steps[-1] is None else None
        elif word in _BOUNDS:
            fault = _bounded(inside, word)
        else:
            fault = _misread(inside, word)
        if fault:
            return fault
    line, column = text.count("\n", 0, end) + 1, end - text.rfind("\n", 0, end)
    return BadJson(f"The JSON is broken at line {line}, column {column}.", "Send one JSON object in UTF-8, without a byte order mark.", inside.where)


def _bounded(inside: _Inside, bound: str) -> BadJson | None:
    """Take the beginning or end of an array or object; what is wrong if it lies too deep."""
    if bound in "]}":
        inside.steps.pop()
        inside.names.pop()
    elif len(inside.steps) == MOST_DEPTH:
        return BadJson(f"The JSON is nested deeper than {MOST_DEPTH}.", "Send it as /openapi.json has it.", inside.where)
    else:
        inside.steps.append(0 if bound == "[" else None)
        inside.names.append(set())
    return None


def _named(inside: _Inside, word: str) -> BadJson | Misfit | None:
    """Take the name of a member; what is wrong if its object has it, or too many, already."""
    inside.steps[-1] = name = str(json.loads(word)) if "\\" in word else word[1:-1]
    names = inside.names[-1]
    if name in names:
        return BadJson(f"The name {name[:MAX_STEP]!r} stands twice in one object.", "Name each thing once.", inside.where)
    names.add(name)
    if len(names) > MOST_NAMES:
        inside.steps.pop()
        return Misfit([(inside.where, f"it must have no more than {MOST_NAMES} names")])
    return None


def _misread(inside: _Inside, word: str) -> BadJson:
    """What is wrong with a word or number that Python's reader takes and we do not."""
    if word in _CONSTANTS:
        return BadJson(f"{word} is not JSON.", "Leave out what is not known.", inside.where)
    return BadJson("The JSON holds a number with too many digits.", f"Use at most {MAX_DIGITS} characters for a number.", inside.where)
