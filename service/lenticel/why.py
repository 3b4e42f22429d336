"""Why a verdict: the cells that bring it about, and through them the statements and sources.

By the theorem of the fragment a verdict rests on one observation, the cells on its character (and on broader ones),
and where the character applies only under a condition, on the cells of that condition.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import reduce

from lenticel.cells import Cell, region_mask
from lenticel.model import Character
from lenticel.observation import Observation, Part, closure, state_text
from lenticel.quantity import ANY, Interval, month_text
from lenticel.snapshot import Body, Snapshot


@dataclass(frozen=True, slots=True)
class Ground:
    """One ground of a verdict.

    `character` and `seen` are what the observation comes to on the character that decides, `shown` is what the taxon
    shows instead. `entailed` is True if the observation only entails it (a condition, a broader character). `cells` and
    `statements` are the identifiers of what it rests on.
    """

    character: str
    seen: str
    shown: str
    entailed: bool
    cells: tuple[str, ...]
    statements: tuple[str, ...]


def grounds(snapshot: Snapshot, taxon: str, observation: Observation, *, typical: bool) -> list[Ground]:
    """What makes the observation contradict the taxon (or, with `typical`, makes it atypical): one ground a part.

    No cell of a ground can go: without it the ground would no longer hold.
    """
    found: list[Ground] = []
    for part in observation.parts:
        for each in closure(snapshot.knowledge, snapshot.body.partitions, part):
            cells = _guilty(snapshot.body, _cells(snapshot, taxon, each.character, typical), each)
            if cells:
                found.append(_ground(snapshot, part, each, cells))
                break
    return found


def _ground(snapshot: Snapshot, part: Part, seen: Part, cells: list[Cell]) -> Ground:
    concerned = {cell.character for cell in cells}
    character = concerned.pop() if len(concerned) == 1 else seen.character
    statements = tuple(dict.fromkeys(statement for cell in cells for statement in cell.statements))
    shown = region_text(snapshot.body, snapshot.knowledge.characters[seen.character], cells)
    return Ground(character, seen.text, shown, character != part.character, tuple(cell.id for cell in cells), statements)


def _cells(snapshot: Snapshot, taxon: str, character: str, typical: bool) -> list[Cell]:
    """The cells that bear on a character, its own and those of broader ones."""
    tier = 1 if typical else 0
    bound = snapshot.body.bindings[taxon]
    return [snapshot.body.cells[cell] for key in snapshot.knowledge.broadening(character) if key in bound for cell in bound[key][tier]]


def _guilty(body: Body, cells: list[Cell], part: Part) -> list[Cell]:
    """A smallest-by-removal set of cells that leaves nothing of what was seen; empty if something is left."""
    clash: Callable[[list[Cell]], bool] = lambda held: not _left(body, held, part)  # noqa: E731
    if not cells or not clash(cells):
        return []
    single = next(([cell] for cell in cells if clash([cell])), None)
    if single:
        return single
    kept = list(cells)
    for cell in cells:
        without = [each for each in kept if each is not cell]
        if clash(without):
            kept = without
    return kept


def _left(body: Body, cells: list[Cell], part: Part) -> bool:
    if part.spans:
        allowed = reduce(Interval.meet, (cell.region for cell in cells if isinstance(cell.region, Interval)), ANY)
        return not allowed.empty and any(allowed.overlaps(span) for span in part.spans)
    partition = body.partitions[part.character]
    return bool(reduce(lambda mask, cell: mask & region_mask(partition, cell.region), cells, partition.full) & part.mask)


def region_text(body: Body, character: Character, cells: list[Cell]) -> str:
    """What the cells together allow, in words."""
    if not cells:
        return "unknown"
    if character.kind in ("measure", "count"):
        allowed = reduce(Interval.meet, (cell.region for cell in cells if isinstance(cell.region, Interval)), ANY)
        return f"{allowed}" + ("" if character.unit == "1" else f" {character.unit}")
    partition = body.partitions[character.id]
    mask = reduce(lambda mask, cell: mask & region_mask(partition, cell.region), cells, partition.full)
    if character.kind == "month":
        return f"month {month_text(frozenset(int(atom) for bit, atom in enumerate(partition.atoms) if mask >> bit & 1))}"
    return state_text(partition, mask)


def shown_text(snapshot: Snapshot, taxon: str, character: str) -> str:
    """What the statements on a taxon and character say is usual, or, if none does, what they allow; "unknown" if silent."""
    each = snapshot.knowledge.characters[character]
    for typical in (True, False):
        cells = _cells(snapshot, taxon, character, typical)
        if cells:
            return region_text(snapshot.body, each, cells)
    return "unknown"
