"""The states of a character as a partition into atoms, so that sets of states become bit masks.

States form a tree; siblings exclude each other. What a plant shows is then exactly one *atom*: a state without
states below it, or "another kind of" a state whose list below it is not complete. This is the partition by which the
description-logic reading of the states (value classes, disjoint siblings, covering where complete) is decided.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

ROOT = ""


@dataclass(frozen=True)
class Partition:
    """Atoms of a character, and for each state the mask of the atoms that it covers.

    `atoms[i]` is the state that atom `i` falls under, with a trailing `+` for "another kind". `masks` maps each state,
    and `ROOT` for the whole, to an int with bit `i` set for atom `i`.
    """

    atoms: tuple[str, ...]
    masks: Mapping[str, int]

    @property
    def full(self) -> int:
        """The mask of all atoms."""
        return self.masks[ROOT]

    def union(self, states: Iterable[str]) -> int:
        """The mask of the atoms that at least one of the states covers."""
        mask = 0
        for state in states:
            mask |= self.masks[state]
        return mask

    def region(self, allowed: Iterable[str], denied: Iterable[str] | None = None) -> int:
        """The mask of (union of `allowed`) or, if `denied` is given, everything outside (union of `denied`)."""
        mask = self.union(allowed)
        return mask if denied is None else mask | (self.full & ~self.union(denied))

    def describe(self, mask: int) -> list[str]:
        """The fewest names whose union is the mask: states, and `state+` for "another kind of state"."""
        names: list[str] = []
        left = mask & self.full
        for state in sorted(self.masks, key=lambda each: -self.masks[each].bit_count()):
            covered = self.masks[state]
            if covered and covered & ~mask == 0 and covered & left:
                names.append(state)
                left &= ~covered
        names += [self.atoms[bit] for bit in range(len(self.atoms)) if left >> bit & 1]
        return names


def from_tree(parents: Mapping[str, str], complete: Iterable[str]) -> Partition:
    """The partition of a state tree.

    Args:
        parents: each state to the state it is a kind of (`ROOT` for a top state), in the order of the table.
        complete: the states (and perhaps `ROOT`) below which the list is complete.
    """
    closed = set(complete)
    children: dict[str, list[str]] = {}
    for state, parent in parents.items():
        children.setdefault(parent, []).append(state)
    atoms: list[str] = []
    masks: dict[str, int] = {}

    def visit(state: str) -> int:
        mask = 0
        for child in children.get(state, ()):
            mask |= visit(child)
        if state not in children or state not in closed:
            atoms.append(f"{state}+" if state in children or state == ROOT else state)
            mask |= 1 << (len(atoms) - 1)
        masks[state] = mask
        return mask

    visit(ROOT)
    return Partition(tuple(atoms), masks)


def of_months(first: int = 1, last: int = 12) -> Partition:
    """The partition of a whole-number character with few values, one atom each."""
    names = [str(value) for value in range(first, last + 1)]
    masks = {name: 1 << bit for bit, name in enumerate(names)}
    return Partition(tuple(names), {**masks, ROOT: (1 << len(names)) - 1})
