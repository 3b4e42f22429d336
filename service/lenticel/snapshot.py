"""The compiled, immutable form of an ontology: bit planes and exact bounds, with the records they rest on.

Shapes: N taxa, W = ceil(N / 64) words, P planes (one an atom of each character with states or months), K characters,
Q measured or counted characters. Bit `i % 64` of word `i // 64` of a plane belongs to taxon `i`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cached_property
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

from lenticel.cells import Cell
from lenticel.few import Few
from lenticel.model import Knowledge
from lenticel.partition import Partition
from lenticel.quantity import Interval

Planes = npt.NDArray[np.uint64]
Bounds = npt.NDArray[np.int32]
Kept = TypeVar("Kept")
OPEN_LOW, OPEN_HIGH = int(np.iinfo(np.int32).min), int(np.iinfo(np.int32).max)
FEW = 1024  # taxa; the ladders of a measured character take a quarter of a megabyte then, and four times that for twice as many


@dataclass(frozen=True, slots=True)
class Layout:
    """Where a character lies in the arrays.

    `place` is its row in `known`. A character with atoms has `first` plane and `atoms` planes; one with bounds has
    `slot` in `ranges`, in units of 10 to the power `-places` of its unit. `circumstantial` characters exclude only wild plants.
    """

    place: int
    first: int
    atoms: int
    slot: int
    places: int
    circumstantial: bool


@dataclass(frozen=True)
class Body:
    """What answers are worded with: the records, the partitions of states, the cells, and which cells bind which taxon.

    `bindings[taxon][character]` lists the ids of the hard and of the typical cells that the taxon itself, or a rank above
    it, brings to bear on exactly that character.
    """

    knowledge: Knowledge
    partitions: dict[str, Partition]
    cells: dict[str, Cell]
    bindings: dict[str, dict[str, tuple[list[str], list[str]]]]


@dataclass(frozen=True)
class Snapshot:
    """The arrays, and the way to the rest.

    Attributes:
        digest: content hash (SHA-256, hex) of everything in the snapshot.
        layout: each character's place in the arrays.
        taxa_count: N.
        hard: uint64 (P, W); bit set where the taxon may show the atom.
        typical: uint64 (P, W); bit set where a typical plant of the taxon may show it.
        known: uint64 (K, W); bit set where anything is said of taxon and character.
        ranges: int32 (4, Q, N); hard low, hard high, typical low, typical high; the hard half lies together, since excluding maps only that.
        terminal: uint64 (W,); bit set for taxa with none below them.
        few_limit: up to how many taxa the hard tier is kept as whole numbers as well.
        memo: what questions remember of it, by the name of their module; the same for all who ask.
    """

    digest: str
    layout: dict[str, Layout]
    taxa_count: int
    hard: Planes
    typical: Planes
    known: Planes
    ranges: Bounds
    terminal: Planes
    load_body: Callable[[], Body] = field(repr=False)
    few_limit: int = FEW
    memo: dict[str, Any] = field(default_factory=dict, repr=False, compare=False)

    def remembered(self, name: str, make: Callable[[Snapshot], Kept]) -> Kept:
        """What a module keeps of this snapshot, made when it is first asked for.

        Args:
            name: the module.
            make: makes it.
        """
        if name not in self.memo:
            self.memo[name] = make(self)
        kept: Kept = self.memo[name]
        return kept

    @cached_property
    def body(self) -> Body:
        """The records, loaded on first use."""
        return self.load_body()

    @property
    def knowledge(self) -> Knowledge:
        """The records."""
        return self.body.knowledge

    @cached_property
    def few(self) -> Few | None:
        """The hard tier as whole numbers, if the taxa are few enough."""
        return Few(self.hard, self.terminal, self.ranges[:2], self.taxa_count) if self.taxa_count <= self.few_limit else None

    @cached_property
    def taxa(self) -> list[str]:
        """The taxa in the order of the bits."""
        return list(self.knowledge.taxa)

    @cached_property
    def labels(self) -> list[str]:
        """The taxa's labels, in the same order."""
        return [each.label for each in self.knowledge.taxa.values()]

    @cached_property
    def label_languages(self) -> list[str]:
        """The languages of the labels."""
        return [each.label_language for each in self.knowledge.taxa.values()]

    @cached_property
    def place_of(self) -> dict[str, int]:
        """Each taxon's bit."""
        return {taxon: place for place, taxon in enumerate(self.taxa)}

    def has_void(self, tier: int, slot: int) -> bool:
        """Whether some taxon can show no value at all of a measured character, so that its low bound lies above its high one; worked out once."""
        if (tier, slot) not in self._void:
            self._void[tier, slot] = bool((self.ranges[tier, slot] > self.ranges[tier + 1, slot]).any())
        return self._void[tier, slot]

    @cached_property
    def _void(self) -> dict[tuple[int, int], bool]:
        return {}


def region_of(snapshot: Snapshot, taxon: str, character: str, tier: int) -> int | Interval:
    """What a taxon may show (tier 0) or usually shows (1) of a character: a mask of atoms, or an interval; empty if it cannot show it at all."""
    where, place = snapshot.layout[character], snapshot.place_of[taxon]
    if where.atoms:
        planes = (snapshot.typical if tier else snapshot.hard)[where.first : where.first + where.atoms, place // 64]
        return sum(1 << bit for bit, word in enumerate(planes.tolist()) if word >> (place % 64) & 1)
    low, high = (int(each) for each in snapshot.ranges[2 * tier : 2 * tier + 2, where.slot, place])
    return Interval(
        None if low == OPEN_LOW else Decimal(low).scaleb(-where.places),
        None if high == OPEN_HIGH else Decimal(high).scaleb(-where.places),
    )


def bits_of(members: npt.NDArray[np.bool_]) -> Planes:
    """Pack a bool array (..., N) into words (..., W)."""
    count = members.shape[-1]
    words = -(-count // 64)
    packed = np.packbits(members, axis=-1, bitorder="little")
    padded = np.zeros((*members.shape[:-1], words * 8), np.uint8)
    padded[..., : packed.shape[-1]] = packed
    return padded.view(np.uint64)


def members_of(words: Planes, count: int) -> npt.NDArray[np.bool_]:
    """Unpack words (W,) into a bool array (N,)."""
    return np.unpackbits(np.ascontiguousarray(words).view(np.uint8), count=count, bitorder="little").view(np.bool_)


def indices_of(words: Planes) -> npt.NDArray[np.intp]:
    """The places of the set bits of words (W,), ascending; only octets that hold any are unpacked, and as bools, which NumPy searches fastest.

    Where many octets hold some, unpacking them all costs less than choosing.
    """
    octets = np.ascontiguousarray(words).view(np.uint8)
    holding = octets != 0
    if np.count_nonzero(holding) * 4 > len(octets):
        return np.unpackbits(octets, bitorder="little").view(np.bool_).nonzero()[0]
    held = holding.nonzero()[0]
    found = np.unpackbits(octets[held], bitorder="little").view(np.bool_).nonzero()[0]
    places: npt.NDArray[np.intp] = (held[found >> 3] << 3) | (found & 7)
    return places


def scaled(value: Decimal | None, places: int, *, low: bool) -> int:
    """A bound of an observation on the integer grid of a character, so that comparing integers decides exactly.

    With grid bounds L and H of a taxon, `value <= H` holds iff `ceil(value) <= H`, and `value >= L` iff `floor(value) >= L`.
    """
    if value is None:
        return OPEN_LOW if low else OPEN_HIGH
    on_grid = value.scaleb(places).to_integral_value("ROUND_CEILING" if low else "ROUND_FLOOR")
    return max(OPEN_LOW, min(OPEN_HIGH, int(on_grid)))
