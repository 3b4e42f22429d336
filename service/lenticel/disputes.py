"""Disagreements in full: both citations, and what each side by itself would exclude of what the other says."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from lenticel.account import Disagreement
from lenticel.cells import Region, region_mask, regions
from lenticel.cite import Citation, citations
from lenticel.model import Statement
from lenticel.observation import state_text
from lenticel.partition import Partition
from lenticel.quantity import Interval, month_text, plain
from lenticel.snapshot import Snapshot


@dataclass(frozen=True, slots=True)
class Side:
    """One side of a disagreement.

    `excludes` is what a plant may show that the other side says, and that would put it out if this side alone stood; empty
    if it would at most be atypical then, because of slack, of states taken for each other, or since the list is not full.
    """

    statement: str
    citation: Citation
    excludes: str


@dataclass(frozen=True, slots=True)
class Dispute(Disagreement):
    """A disagreement with its two sides, `one` first."""

    sides: tuple[Side, Side]


def disputes(snapshot: Snapshot, found: Iterable[Disagreement]) -> list[Dispute]:
    """Disagreements in full, in the order given."""
    return [_dispute(snapshot, each) for each in found]


def _dispute(snapshot: Snapshot, each: Disagreement) -> Dispute:
    known = snapshot.knowledge
    cited = citations(known, (each.one, each.other))
    one, other = known.statements[each.one], known.statements[each.other]
    sides = (Side(one.id, cited[one.id], excluded(snapshot, one, other)), Side(other.id, cited[other.id], excluded(snapshot, other, one)))
    return Dispute(each.taxon, each.character, each.one, each.other, each.resolution, sides)


def excluded(snapshot: Snapshot, alone: Statement, other: Statement) -> str:
    """What `other` says is usual and a taxon of which `alone` were all that is stated could not show, in words; "" if it could show it all."""
    known = snapshot.knowledge
    character = known.characters[alone.character]
    hard, _ = regions(known, character, [alone])
    _, usual = regions(known, character, [other])
    if hard is None or usual is None:
        return ""
    if isinstance(hard, Interval) and isinstance(usual, Interval):
        text = _beyond(hard, usual)
        return f"{text} {character.unit}" if text and character.unit != "1" else text
    return _outside(snapshot.body.partitions[character.id], hard, usual, months=character.kind == "month")


def _outside(partition: Partition, hard: Region, usual: Region, *, months: bool) -> str:
    mask = region_mask(partition, usual) & ~region_mask(partition, hard)
    if not mask:
        return ""
    return f"month {month_text(frozenset(int(atom) for bit, atom in enumerate(partition.atoms) if mask >> bit & 1))}" if months else state_text(partition, mask)


def _beyond(hard: Interval, usual: Interval) -> str:
    """The part of a usual range that lies outside hard bounds."""
    if not hard.overlaps(usual):
        return str(usual)
    low = hard.lo is not None and (usual.lo is None or usual.lo < hard.lo)
    high = hard.hi is not None and (usual.hi is None or usual.hi > hard.hi)
    return " or ".join([f"less than {plain(hard.lo)}"] * low + [f"more than {plain(hard.hi)}"] * high)
