"""Random questions of ten observations that some taxon fulfils; light to import, for the processes whose memory is measured."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from lenticel.engine import Probe
from lenticel.errors import BadObservation, BadQuantity
from lenticel.model import Character
from lenticel.observation import Observation, Reader, probe, read_observations
from lenticel.snapshot import OPEN_HIGH, OPEN_LOW, Snapshot, indices_of

Rows = list[tuple[str, str]]
MIX = ("state",) * 4 + ("several",) * 2 + ("denial",) + ("interval",) * 3


@dataclass(frozen=True)
class Question:
    """Ten observations: as text, as read, and as probes; `target` is the place of a taxon that fulfils them all."""

    rows: Rows
    observations: list[Observation]
    probes: list[Probe]
    target: int


def read_probes(reader: Reader, rows: Rows) -> list[Probe]:
    """From text to what the engine takes, as every caller does it."""
    return [probe(reader.snapshot, each) for each in read_observations(reader, rows)]


def questions(snapshot: Snapshot, count: int, seed: int, mix: Sequence[str] = MIX) -> list[Question]:
    """Random questions, each of observations of different diagnostic characters that one lowest taxon fulfils."""
    rnd, reader = random.Random(seed), Reader(snapshot)
    targets = indices_of(snapshot.terminal)
    found = []
    for _ in range(count):
        target = int(rnd.choice(targets))
        rows = _rows(rnd, reader, target, mix)
        observations = read_observations(reader, rows)
        found.append(Question(rows, observations, [probe(snapshot, each) for each in observations], target))
    return found


def _rows(rnd: random.Random, reader: Reader, target: int, mix: Sequence[str]) -> Rows:
    diagnostic = [each for each in reader.knowledge.characters.values() if each.force == "diagnostic" and each.kind != "month"]
    rnd.shuffle(diagnostic)
    rows = []
    for form in rnd.sample(mix, len(mix)):
        wanted = [each for each in diagnostic if (each.kind != "states") == (form == "interval")]
        character, value = next((each, value) for each in wanted if (value := _value(rnd, reader, each, target, form)))
        diagnostic.remove(character)
        rows.append((character.id, value))
    return rows


def _value(rnd: random.Random, reader: Reader, character: Character, target: int, form: str) -> str:
    """What could have been seen of a character on a plant of the target; empty if nothing of this form could."""
    value = _interval(rnd, reader.snapshot, character, target) if form == "interval" else _states(rnd, reader, character, target, form)
    try:
        return value if value and reader.part(character, value) else ""
    except (BadObservation, BadQuantity):
        return ""  # a denial that leaves nothing, or a length that is not plausible


def _states(rnd: random.Random, reader: Reader, character: Character, target: int, form: str) -> str:
    snapshot, partition = reader.snapshot, reader.snapshot.body.partitions[character.id]
    where = snapshot.layout[character.id]
    shown = sum(1 << bit for bit in range(where.atoms) if snapshot.hard[where.first + bit, target // 64] >> target % 64 & 1)
    names = [state.id for state in reader.knowledge.states_of(character.id)]
    true = [name for name in names if partition.masks[name] & shown]
    if form == "denial":
        deniable = [name for name in names if shown & ~partition.masks[name]]
        return f"not {rnd.choice(deniable)}" if deniable else ""
    if not true:
        return ""
    first = rnd.choice(true)
    others = [name for name in names if name != first]
    return f"{first}|{rnd.choice(others)}" if form == "several" and others else first


def _interval(rnd: random.Random, snapshot: Snapshot, character: Character, target: int) -> str:
    where = snapshot.layout[character.id]
    low, high = (int(each) for each in snapshot.ranges[:2, where.slot, target])
    if low > high:
        return ""  # the character does not apply
    low = 0 if low == OPEN_LOW else low
    high = low + 50 * 10**where.places if high == OPEN_HIGH else high
    inside = rnd.randint(low, high)
    if character.kind == "count":
        return str(inside)
    ends = max(0, inside - rnd.randint(0, (high - low) // 4 + 1)), inside + rnd.randint(0, (high - low) // 4 + 1)
    return "-".join(f"{Decimal(end).scaleb(-where.places):f}" for end in ends) + f" {character.unit}"
