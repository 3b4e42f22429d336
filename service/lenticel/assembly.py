"""Laying out what binds each taxon in the arrays of a snapshot, from wherever it was read."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import reduce
from typing import Any

import numpy as np
import numpy.typing as npt

from lenticel.cells import Cell, Region, region_mask
from lenticel.errors import OutsideFragment
from lenticel.model import Knowledge
from lenticel.partition import Partition
from lenticel.quantity import ANY, Interval
from lenticel.snapshot import OPEN_HIGH, OPEN_LOW, Body, Layout, Snapshot, bits_of

MAX_PLACES = 4
TIERS = ("", "wild", "typical")
Held = Mapping[str, list[str]]  # by character, the cells that bind


@dataclass
class _Arrays:
    """The arrays of a snapshot while they fill: bool where the snapshot packs bits."""

    hard: npt.NDArray[np.bool_]
    typical: npt.NDArray[np.bool_]
    known: npt.NDArray[np.bool_]
    ranges: npt.NDArray[np.int32]


class Assembly:
    """Lays out one body of knowledge.

    `held(taxon, tier)` names, by character, the cells that bind the plants of a taxon ("": any; "wild"; "typical").
    """

    def __init__(self, knowledge: Knowledge, partitions: dict[str, Partition], cells: dict[str, Cell], held: Callable[[str, str], Held]) -> None:
        self.knowledge, self.partitions, self.held = _in_one_order(knowledge), partitions, held
        self.cells = {key: replace(cell, region=_in_one_form(cell.region)) for key, cell in sorted(cells.items())}
        self.order = self._conditions_first()

    def snapshot(self) -> Snapshot:
        """The snapshot of the ontology."""
        layout = self._layout()
        count = len(self.knowledge.taxa)
        planes, slots = sum(each.atoms for each in layout.values()), sum(1 for each in layout.values() if not each.atoms)
        arrays = _Arrays(
            np.zeros((planes, count), np.bool_),
            np.zeros((planes, count), np.bool_),
            np.zeros((len(layout), count), np.bool_),
            np.empty((4, slots, count), np.int32),
        )
        bindings: dict[str, dict[str, tuple[list[str], list[str]]]] = {}
        for place, taxon in enumerate(self.knowledge.taxa):
            plain, wild, usual = (self._in_order(taxon, self.held(taxon, tier)) for tier in TIERS)
            self._fill_tier(layout, arrays, place, 0, plain, wild)
            self._fill_tier(layout, arrays, place, 1, usual, usual)
            bindings[taxon] = {}
            for key, where in layout.items():
                hard = wild if where.circumstantial else plain
                if key in hard or key in usual:
                    bindings[taxon][key] = (hard.get(key, []), usual.get(key, []))
                arrays.known[where.place, place] = any(each in hard or each in usual for each in self.knowledge.broadening(key))
        terminal = np.isin(np.array(list(self.knowledge.taxa)), np.array(self.knowledge.terminal))
        body = Body(self.knowledge, self.partitions, self.cells, bindings)
        packed = bits_of(arrays.hard), bits_of(arrays.typical), bits_of(arrays.known), arrays.ranges, bits_of(terminal)
        digest = hashlib.sha256(repr(layout).encode() + repr(body).encode())
        for array in packed:
            digest.update(array.tobytes())
        return Snapshot(digest.hexdigest(), layout, count, *packed, load_body=lambda: body)

    def _in_order(self, taxon: str, held: Held) -> dict[str, list[str]]:
        """The cells of each character, those of the nearest rank first, and the typical before the hard one."""
        place = {rank: depth for depth, rank in enumerate(self.knowledge.lineage(taxon))}
        return {key: sorted(cells, key=lambda each: (place[self.cells[each].taxon], self.cells[each].tier == "hard")) for key, cells in held.items()}

    def _layout(self) -> dict[str, Layout]:
        layout: dict[str, Layout] = {}
        first = slot = 0
        for place, (key, character) in enumerate(self.knowledge.characters.items()):
            atoms = len(self.partitions[key].atoms) if key in self.partitions else 0
            layout[key] = Layout(
                place, first if atoms else -1, atoms, -1 if atoms else slot, 0 if atoms else self._places(key), character.force == "circumstantial"
            )
            first += atoms
            slot += 0 if atoms else 1
        return layout

    def _places(self, character: str) -> int:
        family = set(self.knowledge.broadening(character))
        bounds = [
            bound
            for cell in self.cells.values()
            if cell.character in family and isinstance(cell.region, Interval)
            for bound in (cell.region.lo, cell.region.hi)
            if bound is not None
        ]
        exponents = [-exponent for exponent in (bound.normalize().as_tuple().exponent for bound in bounds) if isinstance(exponent, int)]
        places = max([0, *exponents])
        if places > MAX_PLACES or any(abs(bound.scaleb(places)) >= OPEN_HIGH for bound in bounds):
            raise OutsideFragment([f"{character} has a bound with more than {MAX_PLACES} decimal places, or beyond 32 bits"])
        return places

    def _fill_tier(self, layout: dict[str, Layout], arrays: _Arrays, place: int, tier: int, plain: Held, wild: Held) -> None:
        """Fill one tier (0 hard, 1 typical) of one taxon; `wild` holds what binds circumstantial characters."""
        planes = arrays.typical if tier else arrays.hard
        for key in self.order:
            where = layout[key]
            held = wild if where.circumstantial else plain
            regions = [self.cells[cell].region for each in self.knowledge.broadening(key) for cell in held.get(each, [])]
            applies = all(self._applies(layout, planes, place, each) for each in self.knowledge.broadening(key))
            if where.atoms:
                partition = self.partitions[key]
                mask = reduce(lambda mask, region: mask & region_mask(partition, region), regions, partition.full) if applies else 0
                planes[where.first : where.first + where.atoms, place] = [bool(mask >> bit & 1) for bit in range(where.atoms)]
            else:
                span = reduce(Interval.meet, (region for region in regions if isinstance(region, Interval)), ANY)
                bounds = (_on_grid(span.lo, where.places, OPEN_LOW), _on_grid(span.hi, where.places, OPEN_HIGH)) if applies else (OPEN_HIGH, OPEN_LOW)
                arrays.ranges[2 * tier : 2 * tier + 2, where.slot, place] = bounds

    def _applies(self, layout: dict[str, Layout], planes: npt.NDArray[np.bool_], place: int, character: str) -> bool:
        condition = self.knowledge.characters[character].applies_if
        if condition is None:
            return True
        where, mask = layout[condition[0]], self.partitions[condition[0]].union(condition[1])
        return any(planes[where.first + bit, place] for bit in range(where.atoms) if mask >> bit & 1)

    def _conditions_first(self) -> list[str]:
        order: dict[str, None] = {}

        def visit(key: str) -> None:
            for each in self.knowledge.broadening(key):
                condition = self.knowledge.characters[each].applies_if
                if condition and condition[0] not in order:
                    visit(condition[0])
            order.setdefault(key, None)

        for key in self.knowledge.characters:
            visit(key)
        return list(order)


def _on_grid(bound: Decimal | None, places: int, open_end: int) -> int:
    return open_end if bound is None else int(bound.scaleb(places))


def _in_one_order(knowledge: Knowledge) -> Knowledge:
    """The same records, those whose order means nothing by their identity, so that the digest does not hang on files and rows."""
    tables = ("sources", "statements", "lookalikes", "cautions", "resolutions", "recorded", "reviews", "matches")
    ordered: dict[str, Any] = {name: dict(sorted(getattr(knowledge, name).items())) for name in tables}
    return replace(knowledge, names=sorted(knowledge.names, key=lambda each: (each.taxon, each.name, each.source)), **ordered)


def _in_one_form(region: Region) -> Region:
    """The same region, its bounds without zeros that say nothing, its months put in one by one from the first, since the order of a set hangs on that."""
    if isinstance(region, frozenset):
        return frozenset(sorted(region))
    if not isinstance(region, Interval):
        return region
    return Interval(*(None if bound is None else bound.normalize() for bound in (region.lo, region.hi)))
