"""What a careful writer says of a taxon and a character: hedged as the sources hedge, in the tables' unit."""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce

from lenticel.model import FREQUENCIES, RARE, Character, Knowledge, Statement
from lenticel.quantity import Interval, PrintedRange, arc, month_text, parse_printed, plain

HEDGES = {"usually": "usually ", "often": "often ", "sometimes": "sometimes ", "rarely": "rarely ", "cultivar": "only in garden forms ", "never": "never "}
FEW = "by some accounts "
ORDER = ("", "usually ", "often ", FEW, "sometimes ", "rarely ", "only in garden forms ")


def careful(known: Knowledge, taxon: str, character: Character) -> str:
    """What the sources say of a character, hedged; "" if they say nothing.

    A state is hedged by the strongest frequency word that any source gives it; one that no source hedges, but that fewer than half of them name, holds
    "by some accounts". Figures are the hull of the usual ranges, and of the extremes if those reach further.
    """
    said = known.nearest_said(taxon, character.id)
    if not said:
        return ""
    if character.kind == "states":
        return _states(known, character, said)
    printed = [(each, parse_printed(each.value, character.unit)) for each in said]
    usual = [pair for pair in printed if pair[0].frequency not in RARE]
    if character.kind == "month":
        return _months([each for _, each in usual or printed]) + ("" if usual else ", rarely")
    return _figures(character, printed, usual)


def _states(known: Knowledge, character: Character, said: Sequence[Statement]) -> str:
    root = known.broadest(character.id)
    sources = {each.source for each in said}
    groups: dict[str, list[str]] = {}
    for state in known.states_of(character.id):
        naming = [each for each in said if state.id in each.states]
        if not naming:
            continue
        strongest = min((each.frequency for each in naming), key=FREQUENCIES.index)
        few = strongest in ("", "always") and 2 * len({each.source for each in naming}) < len(sources)
        groups.setdefault(FEW if few else HEDGES.get(strongest, ""), []).append(known.states[f"{root}.{state.id}"].label)
    return "; ".join(hedge + " or ".join(groups[hedge]) for hedge in ORDER if hedge in groups)


def _months(printed: Sequence[PrintedRange]) -> str:
    return f"month {month_text(frozenset[int]().union(*(arc(each.lo or 1, each.hi or 12) for each in printed)))}"


def _figures(character: Character, printed: Sequence[tuple[Statement, PrintedRange]], usual: Sequence[tuple[Statement, PrintedRange]]) -> str:
    unit = "" if character.unit == "1" else f" {character.unit}"
    widest = reduce(Interval.hull, (each.reach for _, each in printed))
    if not usual:
        return f"rarely {widest}{unit}"
    if len(printed) == 1 and printed[0][1].lone:
        return f"about {plain(printed[0][1].lo)}{unit}"
    common = reduce(Interval.hull, (each.usual for _, each in usual))
    return f"usually {common}{unit}" + (f", at the extremes {widest}{unit}" if widest != common else "")
