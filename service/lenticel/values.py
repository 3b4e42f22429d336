"""What statements may say: states of their character, or ranges in its unit; and what to write in place of what they may not."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from functools import cache, partial

from lenticel.errors import BadQuantity, Fault, suggest
from lenticel.model import FREQUENCIES, Character
from lenticel.quantity import MONTHS, UNITS, parse_printed
from lenticel.ranges import in_unit, like_a_date, styled, with_points
from lenticel.spelling import Words
from lenticel.tables import MAX_ID, Loaded, Row

_FIGURES = {"count": "Write a number such as 5 or a range such as 5-7", "month": "Write months such as 4-5"}
_MONTHS_FIX = "Write it like 4-5, 11-2 or (3-)4-5."


def with_what_fits(loaded: Loaded) -> Iterator[Fault]:
    """The faults met on reading; that of a statement without a value tells which the character takes, so that a draft can be filled without looking it up."""
    rows = {(row.file, row.number): row for row in loaded.rows["statements"] if not row.cells["value"]}
    for fault in loaded.faults:
        row = rows.get((fault.file, fault.row)) if fault.rule == "required" else None
        character = loaded.knowledge.characters.get(row.cells["character"]) if row else None
        if character is None or fault.column != "value":
            yield fault
            continue
        states = sorted(states_taken(loaded, character.id))
        what = (
            f"Use one of: {', '.join(states)}" if states else _FIGURES.get(character.kind, f"Write a range in {character.unit} such as 5-12 {character.unit}")
        )
        yield replace(fault, message=f"{character.id!r}: {fault.message}", fix=f"{what}. Or take the row out.")


def statement_value(loaded: Loaded) -> Iterator[Fault]:
    """A statement's value is made of states of its character, or is a range in its unit and within what is plausible."""
    known, taken = loaded.knowledge, cache(partial(states_taken, loaded))
    for key, statement in known.statements.items():
        character = known.characters.get(statement.character)
        if character is None:
            continue
        row = loaded.origins["statements", key]
        if character.kind == "states":
            states = taken(statement.character)
            for word in statement.states:
                if word not in states:
                    yield row.fault(
                        "value",
                        "unknown-state",
                        f"{word[:60]!r} is no state of {statement.character!r}.",
                        _state_meant(states, word) or _rows_by_frequency(word) or _states_near(states, word),
                    )
            if len(set(statement.states)) != len(statement.states):
                yield row.fault("value", "list", "A state is named twice.", "Name it once.")
            continue
        if statement.frequency == "never":
            yield row.fault("frequency", "never-number", "A range cannot be denied.", "State the range that the plant shows.")
        yield from _range_faults(row, statement.value, character)


def _mended(better: str) -> str:
    return f"Write {better!r}; `lenticel check --fix` does."


def _range_faults(row: Row, value: str, character: Character) -> Iterator[Fault]:
    if character.unit not in UNITS:
        return
    if like_a_date(value):
        fix = "A spreadsheet may have made it of a range: write that anew from the page, such as 5-10, with the column set to text."
        yield row.fault("value", "bad-range", f"{value!r} is a date.", fix)
        return
    try:
        printed = parse_printed(value, character.unit)
    except BadQuantity as error:
        better = in_unit(styled(value, character.unit), character.unit)
        fix = _mended(better) if better != value else _pointed(value, character.unit) or _rows_by_frequency(value)
        fix = fix or (_MONTHS_FIX if character.unit == "mo" else error.fix)
        yield row.fault("value", "bad-range", error.message, fix)
        return
    better = in_unit(value, character.unit)
    if better != value:
        message = f"{value!r} is not in {character.unit}, the unit of {character.id!r}."
        yield row.fault("value", "other-unit", message, f"{_mended(better)[:-1]} and keeps in `printed` what the page says.")
    figures = [each for each in (printed.extreme_lo, printed.lo, printed.hi, printed.extreme_hi) if each is not None]
    if character.unit in ("1", "mo") and any(each != each.to_integral_value() for each in figures):
        yield row.fault("value", "not-whole", f"{value!r} holds a figure that is not whole.", "Counts and months are whole numbers.")
    if character.unit == "mo" and (not {int(each) for each in figures} <= MONTHS or None in (printed.lo, printed.hi)):
        yield row.fault("value", "bad-range", f"{value!r} is not a span of months.", _MONTHS_FIX)
    low, high = character.plausible_min, character.plausible_max
    if any((low is not None and each < low) or (high is not None and each > high) for each in figures):
        yield row.fault(
            "value",
            "implausible",
            f"{value!r} lies outside what is plausible for {character.id!r} ({low} to {high} {character.unit}).",
            "Check the unit and the decimal point, or widen the plausible range of the character.",
        )


def _pointed(value: str, unit: str) -> str:
    """What to write for a range with decimal commas; "" if it is none, or of what has no parts."""
    meant = in_unit(styled(with_points(value), unit), unit)
    try:
        parse_printed(meant, unit)
    except BadQuantity:
        return ""
    return "" if unit in ("1", "mo") else f"Write {meant!r} if the comma is a decimal one; two figures of a range are joined by a hyphen."


def one_of(words: Iterable[str], otherwise: str) -> str:
    """What to write where one of some words is due; `otherwise` if there are none."""
    return f"Use one of: {', '.join(sorted(words))}." if words else otherwise


def states_taken(loaded: Loaded, character: str) -> dict[str, tuple[str, ...]]:
    """The states that a character takes, each with its other words."""
    known, seen = loaded.knowledge, set()
    while character in known.characters and known.characters[character].broader and character not in seen:
        seen.add(character)
        character = known.characters[character].broader
    rows = [row.cells for row in loaded.rows["states"] if row.cells["character"] == character]
    return {cells["id"]: (cells["label"], *cells["synonyms"].split("|")) for cells in rows}


def _states_near(states: Mapping[str, tuple[str, ...]], word: str) -> str:
    """What to write for a word that may mean some states."""
    if re.match(r"not?\b", word, re.IGNORECASE):
        return "If the page denies a state, write that state, and `never` in `frequency`."
    held = Words(states).held(word)
    if held and all(len(each) <= MAX_ID for each in held):
        return f"Did you mean {'|'.join(held)!r}?"
    return suggest(word, states) or one_of(states, "Add the states to their table first.")


def _rows_by_frequency(value: str) -> str:
    """What to do with a value that says how often; "" if it does not."""
    found = next((each for each in FREQUENCIES[1:] if re.search(rf"\b{each}\b", value, re.IGNORECASE)), "")
    return f"Write a row for each, with {found!r} and the like in `frequency`, and the words of the page in `printed`." if found else ""


def _state_meant(states: Mapping[str, tuple[str, ...]], word: str) -> str:
    """What to write for a word that surely means one of some states; "" if it means none."""
    meant = Words(states).meant(word)
    return _mended(meant) if len(meant) <= MAX_ID and meant in states else ""
