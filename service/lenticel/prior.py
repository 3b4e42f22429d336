"""What time and place say before anything was seen: a prior in bits, which orders and never excludes."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import numpy.typing as npt

from lenticel.errors import UnknownTerm, suggest
from lenticel.likelihood import likelihood
from lenticel.model import State
from lenticel.observation import Observation, Part
from lenticel.snapshot import Snapshot, members_of
from lenticel.spelling import respelt

# The characters of kind states whose states are regions, and how likely a taxon is met where that character names the region, against one
# that is native there. No source gives such figures; they are a rule of thumb. A taxon of which no region is known counts as planted.
REGIONS = {"native-region": 1.0, "planted-region": 0.5}
ELSEWHERE = 0.1


def prior(snapshot: Snapshot, observations: Iterable[Observation], *, month: int = 0, region: str = "") -> npt.NDArray[np.float64]:
    """The prior of every taxon, in bits; float64 (N,).

    Args:
        snapshot: the knowledge.
        observations: what was seen; an organ that was seen in its month speaks for the taxa that have it then.
        month: 1 to 12, 0 if unknown.
        region: a state of the region characters or another word for it, such as "Michigan"; "" if unknown.

    Raises:
        UnknownTerm: there is no such region.
    """
    bits = np.zeros(snapshot.taxa_count)
    if region:
        bits = bits + _of_region(snapshot, region)
    if month:
        bits = bits + _of_month(snapshot, observations, month)
    return bits


def _of_region(snapshot: Snapshot, region: str) -> npt.NDArray[np.float64]:
    known = snapshot.knowledge
    wanted = respelt(region.strip().casefold())
    held = {key: _by_word(known.states_of(key)) for key in REGIONS if key in known.characters}
    if not any(wanted in words for words in held.values()):
        names = sorted({state.label for key in held for state in known.states_of(key)})
        hint = suggest(wanted, set().union(*held.values())) or f"Use one of: {', '.join(names)}."
        raise UnknownTerm(f"There is no region {region[:60]!r}.", hint, "/region")
    count = snapshot.taxa_count
    weight, told = np.full(count, ELSEWHERE), np.zeros(count, np.bool_)
    for key, words in held.items():
        where = snapshot.layout[key]
        told |= members_of(snapshot.known[where.place], count)
        if wanted in words:
            mask = snapshot.body.partitions[key].masks[words[wanted]]
            there = np.any([members_of(snapshot.typical[where.first + bit], count) for bit in range(where.atoms) if mask >> bit & 1], axis=0)
            there &= members_of(snapshot.known[where.place], count)
            weight = np.where(there, np.maximum(weight, REGIONS[key]), weight)
    return np.asarray(np.log2(np.where(told, weight, REGIONS["planted-region"])))


def _by_word(states: Iterable[State]) -> dict[str, str]:
    """The states by every word for them, in small letters without accents."""
    return {respelt(word.casefold()): each.id for each in states for word in (each.id, each.label, *each.synonyms)}


def _of_month(snapshot: Snapshot, observations: Iterable[Observation], month: int) -> npt.NDArray[np.float64]:
    """Who saw a flower in May has seen that it flowers in May: the month speaks through the month characters of the organs seen."""
    known = snapshot.knowledge
    seen = {part.character for each in observations for part in each.parts}
    organs = {known.characters[key].organ for key in seen}
    bits = np.zeros(snapshot.taxa_count)
    for key, character in known.characters.items():
        if character.kind == "month" and character.organ in organs and key not in seen:
            bits = bits + likelihood(snapshot).bits(Observation((Part(key, 1 << (month - 1), (), str(month)),)))
    return bits
