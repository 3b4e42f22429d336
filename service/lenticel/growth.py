"""Growing a key: which character is asked of which taxa, and what follows each lead."""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import partial

import numpy as np

from lenticel.couplets import DECIDING, USUAL, Couplets, condensed, rounded
from lenticel.engine import consistent
from lenticel.looking import worth
from lenticel.model import Character
from lenticel.observation import Observation, Part, probe
from lenticel.outcomes import Flags, Numbers, Outcomes, Places, Shown, outlook, part_of
from lenticel.sight import Sight, conditions, effort, unmet, unseen
from lenticel.snapshot import Snapshot

LONGEST = 120  # couplets; what is not told apart by then stays together
VARIABLE = 1.0  # what it costs, in looks, if every taxon stood in two leads
LEAST = 1e-12


@dataclass(eq=False)
class Branch:
    """A lead: what is seen, which taxa of the node show it and how often they do, and what follows (None if it fits no taxon)."""

    part: Part
    may: Flags
    chance: Numbers
    node: Node | None


@dataclass(eq=False)
class Node:
    """Taxa still together, and how they are told apart: the character ("" if by none) and its leads.

    `rows` are their places. Where nothing decides any more, what is usual may still tell: then `typical` is set, the leads take on the taxa that
    usually show what is seen, and `also` are the places of those that may show all that was seen, but usually do not. `path` is
    one way to get here; `cut` says that something would tell them apart, had the key not grown too long, `little` that what is left to ask
    would strike off too little.
    """

    rows: Places
    also: Places
    path: tuple[Observation, ...]
    typical: bool = False
    character: str = ""
    cut: bool = False
    little: bool = False
    branches: list[Branch] = field(default_factory=list)

    @property
    def everyone(self) -> Places:
        """The places of all taxa that fit what was seen, ascending."""
        return np.union1d(self.rows, self.also)


class Growth:
    """Grows a key from its first couplet; taxa that come together again with the same characters open share what follows."""

    def __init__(self, snapshot: Snapshot, sight: Sight, *, wild: bool) -> None:
        self.snapshot = snapshot
        self._made: dict[tuple[bytes, bytes, bool, tuple[str, ...]], Node] = {}
        self._season, self._kit = sight.season, sight.kit
        self._waiting: list[tuple[bool, float, int, partial[None]]] = []
        chosen = [each for each in unseen(snapshot, sight, ()) if each.kind != "month" and (wild or each.force == "diagnostic")]
        self._free = [each.id for each in chosen if not self._conditional(each)]
        self._bound = [each.id for each in chosen if self._conditional(each)]

    def _conditional(self, character: Character) -> bool:
        known = self.snapshot.knowledge
        return any(conditions(self.snapshot, each, self._season) for each in known.broadening(character.id))

    def root(self, rows: Places) -> Node:
        """The first couplet for the taxa at some places, with all that follows; what decides grows first, and where most plants come."""
        self._count = len(rows)
        root = self._node(Node(rows, rows[:0], ()), np.full(len(rows), 1 / len(rows)), self._free)
        for _ in range(LONGEST):
            if self._waiting:
                heapq.heappop(self._waiting)[-1]()
        for *_, grow in self._waiting:
            grow.keywords["node"].cut = True
        return root

    def _node(self, node: Node, weights: Numbers, free: list[str]) -> Node:
        """The node itself, or the same one made before; `weights` tell how often plants of each taxon come here, `free` are unconditional characters to try."""
        if len(node.rows) < 2:
            return node
        share = np.maximum(weights, LEAST) / np.maximum(weights, LEAST).sum()
        made = self._couplets(node, weights, share, free)
        if not node.typical and not made.leads.characters:
            node.typical = True
            made = self._couplets(node, weights, share, self._free)
        node.little = bool(made.parting) and not made.leads.characters
        known = (node.rows.tobytes(), node.also.tobytes(), node.typical, made.parting)
        if known not in self._made:
            self._made[known] = node
            if made.leads.characters:
                grow = partial(self._grow, node=node, made=made, weights=weights, share=share)
                heapq.heappush(self._waiting, (node.typical, -float(weights.sum()) * len(node.rows), len(self._made), grow))
        return self._made[known]

    def _couplets(self, node: Node, weights: Numbers, share: Numbers, free: list[str]) -> Couplets:
        """What each character makes of the taxa of a node."""
        asked = {each.parts[0].character for each in node.path}
        ready = [each for each in free if each not in asked]
        ready += [each for each in self._bound if each not in asked and not unmet(self.snapshot, each, node.everyone, node.path, self._season)]
        outcomes = outlook(self.snapshot).outcomes(ready, node.rows, usual=node.typical)
        return condensed(self.snapshot, outcomes, node.rows, share, USUAL if node.typical else DECIDING, self._count * float(weights.sum()))

    def _grow(self, *, node: Node, made: Couplets, weights: Numbers, share: Numbers) -> None:
        leads = made.leads
        place = self._choice(leads, share)
        node.character = leads.characters[place]
        still = [each for each in made.parting if each not in self._bound]
        for part, at in self._parts(node, made.parts[place], leads.of(place)):
            may, chance = leads.fits[at], leads.chance[at]
            seen = Observation((part,))
            there = Node(node.rows[may], self._atypical(node, seen, node.rows[may]), (*node.path, seen), node.typical)
            following = self._node(there, (weights * chance)[may], still) if len(there.everyone) else None
            node.branches.append(Branch(part, may, chance, following))

    def _atypical(self, node: Node, seen: Observation, usual: Places) -> Places:
        """The places of the taxa of a node that may show what is seen, but for the usual ones; none while all leads decide."""
        if not node.typical:
            return usual[:0]
        fits = consistent(self.snapshot, [probe(self.snapshot, seen)], wild=True)
        return np.setdiff1d(np.intersect1d(node.everyone, fits), usual)

    def _choice(self, leads: Outcomes, weights: Numbers) -> int:
        efforts = np.array([effort(self.snapshot.knowledge.characters[each], self._kit) for each in leads.characters])
        standing = np.add.reduceat(leads.fits.mean(axis=1), leads.starts[:-1])
        return next(iter(worth(leads, weights, efforts + VARIABLE * (standing - 1)).order), 0)

    def _parts(self, node: Node, leads: list[list[Shown]], rows: slice) -> Iterator[tuple[Part, int]]:
        """What is seen by each lead, and its row; a quantity from low to high, cut at round figures."""
        where = self.snapshot.layout[node.character]
        if where.atoms:
            yield from ((part_of(self.snapshot, node.character, lead), rows.start + at) for at, lead in enumerate(leads))
        else:
            for at, span in enumerate(rounded(self.snapshot, where, node.rows, leads, usual=node.typical)):
                yield part_of(self.snapshot, node.character, [span]), rows.start + at


def in_order(root: Node) -> list[Node]:
    """The nodes with couplets, each after all that lead to it, and what follows a lead as soon after it as may be."""
    done: dict[int, Node] = {}

    def visit(node: Node) -> None:
        if id(node) not in done and node.character:
            for branch in reversed(node.branches):
                if branch.node:
                    visit(branch.node)
            done[id(node)] = node

    visit(root)
    return list(done.values())[::-1]
