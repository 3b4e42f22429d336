"""Invented knowledge of any size, written character by character to the arrays of a snapshot folder.

Four characters in five have 5 states, of which a taxon may show 1 to 3; one in five is measured, with a closed
interval that lacks one end in a quarter of the taxa. Nothing is known of a quarter of all cells. The typical tier lies within
the hard one. A character's column depends on nothing but the seed and its place, so that whoever checks an answer
makes the column anew instead of trusting the packed arrays.

`python -m tests.benchmarks.generated FOLDER TAXA CHARACTERS SEED` writes one in a process of its own.
"""

from __future__ import annotations

import hashlib
import json
import sys
from dataclasses import asdict
from pathlib import Path

import numpy as np
import numpy.typing as npt
from numpy.lib.format import open_memmap
from pydantic import TypeAdapter

from lenticel.model import NO_SLACK, About, Character, Knowledge, State
from lenticel.partition import from_tree
from lenticel.snapshot import OPEN_HIGH, OPEN_LOW, Body, Layout, bits_of
from lenticel.store import FORMAT

STATES = 5
UNKNOWN = 0.25
TOP = 2000  # of measured characters, in tenths of a centimetre
_SUBSETS = np.array([mask for mask in range(1, 1 << STATES) if mask.bit_count() <= 3], np.uint8)


def is_measured(place: int) -> bool:
    """Whether the character at this place is measured: one in five is."""
    return place % 5 == 4


def state_column(seed: int, place: int, taxa: int) -> tuple[npt.NDArray[np.uint8], npt.NDArray[np.uint8], npt.NDArray[np.bool_]]:
    """The masks of the states that each taxon may show, those it typically shows, and whether anything is known of it."""
    rng = np.random.default_rng([seed, place])
    known = rng.random(taxa) >= UNKNOWN
    size = rng.integers(1, 4, taxa)
    by_size = [_SUBSETS[np.bitwise_count(_SUBSETS) == each] for each in (1, 2, 3)]
    hard = np.zeros(taxa, np.uint8)
    for each, subsets in enumerate(by_size, 1):
        chosen = size == each
        hard[chosen] = rng.choice(subsets, int(chosen.sum()))
    lowest = hard & (~hard + np.uint8(1))
    typical = np.where(size > 1, hard & ~lowest, hard)  # the lowest of several states is shown rarely
    full = np.uint8((1 << STATES) - 1)
    return np.where(known, hard, full), np.where(known, typical, full), known


def range_column(seed: int, place: int, taxa: int) -> tuple[npt.NDArray[np.int32], npt.NDArray[np.bool_]]:
    """The bounds (4, taxa) of a measured character: hard low, hard high, typical low, typical high; and what is known."""
    rng = np.random.default_rng([seed, place])
    known = rng.random(taxa) >= UNKNOWN
    low = rng.integers(0, TOP, taxa)
    high = low + rng.integers(TOP // 20, TOP // 2, taxa)
    inset = (high - low) // 8
    bounds = np.stack([low, high, low + inset, high - inset]).astype(np.int32)
    open_end = rng.random(taxa)
    for limit, rows, missing in ((open_end < 0.125, slice(0, None, 2), OPEN_LOW), (open_end >= 0.875, slice(1, None, 2), OPEN_HIGH)):
        bounds[rows, limit | ~known] = missing
    return bounds, known


def _character(place: int) -> Character:
    measured = is_measured(place)
    kind, unit = ("measure", "cm") if measured else ("states", "")
    return Character(
        id=f"c{place}", label=f"character {place}", kind=kind, broader="", organ="leaf", stage="", sex="", seasons=("summer",), needs="eye",
        force="diagnostic", applies_if=None, winter_if=None, unit=unit, plausible_min=None, plausible_max=None, graded=False, complete=True, exhaustive=True,
        slack_low=NO_SLACK, slack_high=NO_SLACK, slack_extreme=NO_SLACK, slack_reason="", synonyms=(), definition=f"Invented {place}.",
    )  # fmt: skip


def body(characters: int) -> Body:
    """The words with which observations are read: characters and states, no taxa and no statements."""
    about = About(
        "generated", "Generated", "Invented.", "https://example.org/generated/", "https://example.org/licence", "nobody", "1", "2026-01-01", "2026-01-01"
    )
    found = [_character(place) for place in range(characters)]
    names = [f"s{number}" for number in range(STATES)]
    states = [State(each.id, name, name, "", False, (), (), f"Invented {name}.") for each in found if each.kind == "states" for name in names]
    partition = from_tree(dict.fromkeys(names, ""), [""])
    knowledge = Knowledge(about, characters={each.id: each for each in found}, states={each.key: each for each in states})
    return Body(knowledge, {each.id: partition for each in found if each.kind == "states"}, {}, {})


def layout(characters: int) -> dict[str, Layout]:
    """Where each character lies: 5 planes for one with states, one slot for a measured one."""
    found: dict[str, Layout] = {}
    first = slot = 0
    for place in range(characters):
        measured = is_measured(place)
        found[f"c{place}"] = Layout(place, -1 if measured else first, 0 if measured else STATES, slot if measured else -1, int(measured), False)
        first, slot = first + (0 if measured else STATES), slot + measured
    return found


def write(folder: Path, taxa: int, characters: int, seed: int) -> None:
    """Write the snapshot folder, holding one character's columns in memory at a time."""
    where, words = layout(characters), -(-taxa // 64)
    planes, slots = sum(each.atoms for each in where.values()), sum(not each.atoms for each in where.values())
    hard, typical, known = (
        open_memmap(folder / f"{name}.npy", "w+", np.uint64, (rows, words)) for name, rows in (("hard", planes), ("typical", planes), ("known", characters))
    )
    ranges = open_memmap(folder / "ranges.npy", "w+", np.int32, (4, slots, taxa))
    for each in where.values():
        if each.atoms:
            may, usual, said = state_column(seed, each.place, taxa)
            for bit in range(STATES):
                hard[each.first + bit], typical[each.first + bit] = bits_of(may >> bit & 1 == 1), bits_of(usual >> bit & 1 == 1)
        else:
            ranges[:, each.slot], said = range_column(seed, each.place, taxa)
        known[each.place] = bits_of(said)
    for array in (hard, typical, known, ranges):
        array.flush()
    np.save(folder / "terminal.npy", bits_of(np.ones(taxa, np.bool_)))
    records = TypeAdapter(Body).dump_json(body(characters))
    (folder / "records.json").write_bytes(records)
    manifest = {"format": FORMAT, "digest": f"generated from {seed}", "taxa": taxa, "records_sha256": hashlib.sha256(records).hexdigest()}
    (folder / "manifest.json").write_text(json.dumps(manifest | {"layout": {key: asdict(each) for key, each in where.items()}}), encoding="utf-8")


def plainly(taxa: int, seed: int, rows: list[tuple[str, str]]) -> npt.NDArray[np.intp]:
    """The taxa that no observation contradicts, from the columns themselves: no planes, no probes, no reader."""
    left = np.ones(taxa, np.bool_)
    for character, value in rows:
        place = int(character[1:])
        if is_measured(place):
            low, high = (round(float(end) * 10) for end in value.removesuffix(" cm").split("-"))
            bounds, _ = range_column(seed, place, taxa)
            left &= (bounds[0] <= high) & (bounds[1] >= low)
        else:
            named = sum(1 << int(word[1:]) for word in value.removeprefix("not ").split("|"))
            seen = named ^ (1 << STATES) - 1 if value.startswith("not ") else named
            left &= state_column(seed, place, taxa)[0] & seen != 0
    return np.flatnonzero(left)


if __name__ == "__main__":
    write(Path(sys.argv[1]), *(int(each) for each in sys.argv[2:5]))
