"""A fixed set of observation sets, and which taxa a change lets in or puts out of their answers."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from lenticel.cells import StateRegion
from lenticel.difference import Causes, RowChange
from lenticel.engine import consistent
from lenticel.errors import LenticelError
from lenticel.model import SEASONS
from lenticel.observation import Observation, Reader, probe
from lenticel.quantity import Interval, plain
from lenticel.snapshot import Snapshot

LENGTH = 5  # observations of a set
SETS = 3  # sets of a taxon and season
FINEST = Decimal("0.0001")  # as fine as a measured bound can be


@dataclass(frozen=True, slots=True)
class Moved:
    """A taxon that came into the answers to `count` of the sets, or fell out of them, through these characters; `example` names one set."""

    taxon: str
    how: str
    count: int
    example: str
    characters: tuple[str, ...]
    causes: tuple[RowChange, ...]


def moved(old: Snapshot, new: Snapshot, causes: Causes) -> tuple[int, tuple[Moved, ...]]:
    """How many sets were asked, and the taxa of both versions whose answers changed.

    The sets are made of what the old version says is usual: for each lowest taxon and season three sets of five
    characters that can be seen then, chosen by a digest of their names, so that the same version always gives the same
    sets. An observation that the new version cannot read is left out on both sides.
    """
    readers = Reader(old), Reader(new)
    shared = set(old.knowledge.terminal) & set(new.knowledge.terminal)
    found: dict[tuple[str, str], list[tuple[str, tuple[str, ...]]]] = {}
    count = 0
    for name, rows in probe_sets(old):
        pairs = [pair for row in rows if (pair := _both(readers, row))]
        if not pairs:
            continue
        count += 1
        left = [
            {snapshot.taxa[place] for place in consistent(snapshot, [probe(snapshot, each[side]) for each in pairs])}
            for side, snapshot in enumerate((old, new))
        ]
        for how, taxa in (("out", left[0] - left[1]), ("in", left[1] - left[0])):
            for taxon in taxa & shared:
                found.setdefault((taxon, how), []).append((name, tuple(_turned((old, new), taxon, pairs))))
    return count, tuple(_moved(taxon, how, told, causes) for (taxon, how), told in sorted(found.items()))


def _moved(taxon: str, how: str, told: list[tuple[str, tuple[str, ...]]], causes: Causes) -> Moved:
    characters = tuple(dict.fromkeys(each for _, turned in told for each in turned))
    return Moved(taxon, how, len(told), told[0][0], characters, causes.of([taxon], characters))


def _both(readers: tuple[Reader, Reader], row: tuple[str, str]) -> tuple[Observation, Observation] | None:
    try:
        return readers[0].observation(*row), readers[1].observation(*row)
    except LenticelError:
        return None


def _turned(versions: tuple[Snapshot, Snapshot], taxon: str, pairs: list[tuple[Observation, Observation]]) -> Iterator[str]:
    """The characters whose observation lets the taxon in by one version and not by the other."""
    for pair in pairs:
        lets = [
            snapshot.place_of[taxon] in consistent(snapshot, [probe(snapshot, each)], terminal=False) for snapshot, each in zip(versions, pair, strict=True)
        ]
        if lets[0] != lets[1]:
            yield pair[0].parts[0].character


def probe_sets(snapshot: Snapshot) -> Iterator[tuple[str, list[tuple[str, str]]]]:
    """The observation sets of a version, each with a name."""
    known = snapshot.knowledge
    for taxon in known.terminal:
        values = {key: value for key in snapshot.body.bindings[taxon] if (value := usual(snapshot, taxon, key))}
        ordered = sorted(values, key=lambda key: hashlib.sha1(f"{taxon} {key}".encode()).digest())
        for season in SEASONS:
            seen = [key for key in ordered if season in known.characters[key].seasons]
            for number in range(min(SETS, -(-len(seen) // LENGTH))):
                chosen = seen[number * LENGTH : (number + 1) * LENGTH]
                yield f"{taxon}, {season}, set {number + 1}", [(key, values[key]) for key in chosen]


def usual(snapshot: Snapshot, taxon: str, character: str) -> str:
    """A usual value of a diagnostic character, in the text form of an observation; "" if nothing is said."""
    if snapshot.knowledge.characters[character].force != "diagnostic":
        return ""
    finest = Decimal(1) if snapshot.knowledge.characters[character].kind == "count" else FINEST
    for cell in snapshot.body.bindings[taxon][character][1]:
        region = snapshot.body.cells[cell].region
        if isinstance(region, Interval):
            ends = [end for end in (region.lo, region.hi) if end is not None]
            return plain((sum(ends, Decimal(0)) / len(ends)).quantize(finest, ROUND_HALF_UP)) if ends else ""
        if isinstance(region, StateRegion):
            return region.allowed[0] if region.allowed else ""
        return str(min(region))
    return ""
