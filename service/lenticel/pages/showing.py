"""Which lowest taxa show what of a character."""

from __future__ import annotations

from dataclasses import dataclass

from lenticel.snapshot import Snapshot, members_of
from lenticel.why import shown_text


@dataclass(frozen=True, slots=True)
class Shown:
    """The lowest taxa of which anything is stated: those that usually show a state, those that may as well, and those that cannot."""

    usually: tuple[str, ...]
    maybe: tuple[str, ...]
    never: tuple[str, ...]


def by_state(snapshot: Snapshot, character: str) -> dict[str, Shown]:
    """For each state of a character, by its key, who shows it."""
    where, partition = snapshot.layout[character], snapshot.body.partitions[character]
    known = stated(snapshot, character)
    tiers = [
        [members_of(plane, snapshot.taxa_count) for plane in planes[where.first : where.first + where.atoms]] for planes in (snapshot.typical, snapshot.hard)
    ]
    found: dict[str, Shown] = {}
    for state in snapshot.knowledge.states_of(character):
        mask = partition.union([state.id])
        bits = [bit for bit in range(where.atoms) if mask >> bit & 1]
        usual, may = ({key for key in known if any(tier[bit][snapshot.place_of[key]] for bit in bits)} for tier in tiers)
        found[state.key] = Shown(*(tuple(key for key in known if key in held) for held in (usual & may, may - usual, set(known) - may)))
    return found


def by_taxon(snapshot: Snapshot, character: str) -> list[tuple[str, str]]:
    """Each lowest taxon of which anything is stated, with what it shows."""
    return [(key, shown_text(snapshot, key, character)) for key in stated(snapshot, character)]


def stated(snapshot: Snapshot, character: str) -> list[str]:
    """The lowest taxa on which anything is stated of a character, for them or a rank above."""
    held = members_of(snapshot.known[snapshot.layout[character].place], snapshot.taxa_count)
    return [key for key in snapshot.knowledge.terminal if held[snapshot.place_of[key]]]


def silent(snapshot: Snapshot, character: str) -> list[str]:
    """The lowest taxa on which nothing is stated of it."""
    spoken = set(stated(snapshot, character))
    return [key for key in snapshot.knowledge.terminal if key not in spoken]
