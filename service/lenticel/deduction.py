"""A small proof procedure over single axioms: whether some of them entail that plants of a taxon cannot show what was seen.

It decides the fragment (DEVELOPERS.md) axiom by axiom, where the engine works on what the compiler made of all of them at
once. What follows from a set of axioms is searched in three steps: the cells that the classes of the taxa fall under; what
is seen, and everything that it brings with it (for a broader character, by a sub-property; of a condition, by a domain);
and for each of these whether a single value can be all that is said of it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import reduce

from lenticel.cells import Cell, StateRegion, region_mask
from lenticel.observation import Part, condition_of
from lenticel.partition import ROOT
from lenticel.quantity import ANY, Interval
from lenticel.snapshot import Body

TAXON, BINDING, CELL, BROADER, CONDITION, RANGE, STATE, DISJOINT, COVER = (
    "taxon below", "bound by cell", "cell", "character below", "character condition", "character range", "state below", "states disjoint", "states cover",
)  # fmt: skip
Literal = tuple[str, bool]
Clause = frozenset[Literal]


@dataclass(frozen=True, slots=True, order=True)
class Axiom:
    """One axiom of the ontology.

    By kind, `subject` and `objects` are: a class of plants and the class above it; a class of plants and a cell; a cell;
    a character and the broader one; a character, the one it depends on and the states of that; a character; a state and
    the one above it; a state and all below it (twice). Classes of plants are taxa, with `/wild` or `/typical` for a part of
    them; states are named with their character, and a character stands for all values of it.
    """

    kind: str
    subject: str
    objects: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Claim:
    """That nothing is in all of some classes of plants and shows what was seen: one of `parts`, or any value of `shown`."""

    classes: tuple[str, ...]
    parts: tuple[Part, ...] = ()
    shown: str = ""


class Deduction:
    """Decides claims from sets of axioms about one body of knowledge."""

    def __init__(self, body: Body) -> None:
        self.body = body

    def holds(self, claim: Claim, axioms: Iterable[Axiom]) -> bool:
        """Whether the axioms entail the claim."""
        known: dict[str, list[Axiom]] = {}
        for axiom in axioms:
            known.setdefault(axiom.kind, []).append(axiom)
        cells = self._cells(claim.classes, known)
        if claim.shown:
            return self._impossible(claim.shown, None, cells, known)
        return all(self._impossible(part.character, part, cells, known) for part in claim.parts)

    def _cells(self, classes: Sequence[str], known: dict[str, list[Axiom]]) -> list[Cell]:
        """The cells that the classes fall under and that say something."""
        under = _above(classes, known.get(TAXON, ()))
        bound = {axiom.objects[0] for axiom in known.get(BINDING, ()) if axiom.subject in under}
        return [self.body.cells[axiom.subject] for axiom in known.get(CELL, ()) if axiom.subject in bound]

    def _impossible(self, character: str, part: Part | None, cells: list[Cell], known: dict[str, list[Axiom]]) -> bool:
        """Whether showing this of the character (anything at all, if None) cannot be: itself, or a condition that it brings with it."""
        characters = _above([character], known.get(BROADER, ()))
        held = [cell for cell in cells if cell.character in characters]
        if not self._a_value_is_left(character, part, held, characters, known):
            return True
        conditions = (
            condition_of(self.body.knowledge, self.body.partitions, axiom.subject) for axiom in known.get(CONDITION, ()) if axiom.subject in characters
        )
        return any(self._impossible(each.character, each, cells, known) for each in conditions if each is not None)

    def _a_value_is_left(self, character: str, part: Part | None, held: list[Cell], characters: set[str], known: dict[str, list[Axiom]]) -> bool:
        kind = self.body.knowledge.characters[character].kind
        if kind == "states":
            return satisfiable(self._clauses(character, part, held, characters, known))
        if kind == "month":
            partition = self.body.partitions[character]
            return bool(reduce(lambda mask, cell: mask & region_mask(partition, cell.region), held, part.mask if part else partition.full))
        allowed = reduce(Interval.meet, (cell.region for cell in held if isinstance(cell.region, Interval)), ANY)
        return not allowed.empty and (part is None or any(allowed.overlaps(span) for span in part.spans))

    def _clauses(self, character: str, part: Part | None, held: list[Cell], characters: set[str], known: dict[str, list[Axiom]]) -> list[Clause]:
        """What is said of the one value, in clauses over the states that it may be."""
        root = self.body.knowledge.broadest(character)
        clauses = [] if part is None else _within(StateRegion((), part.chosen) if part.denied else StateRegion(part.chosen))
        for cell in held:
            if isinstance(cell.region, StateRegion):
                clauses += _within(cell.region)
        if any(axiom.subject in characters for axiom in known.get(RANGE, ())):
            clauses.append(frozenset({(ROOT, True)}))
        for kind in (STATE, DISJOINT, COVER):
            for axiom in known.get(kind, ()):
                if axiom.subject.partition(".")[0] == root:
                    clauses += _of_states(axiom)
        return clauses


def _above(start: Iterable[str], links: Iterable[Axiom]) -> set[str]:
    """Everything that the links lead up to, the start included."""
    upward: dict[str, list[str]] = {}
    for axiom in links:
        upward.setdefault(axiom.subject, []).append(axiom.objects[0])
    found, waiting = set(start), list(start)
    while waiting:
        for above in upward.get(waiting.pop(), ()):
            if above not in found:
                found.add(above)
                waiting.append(above)
    return found


def _within(region: StateRegion) -> list[Clause]:
    allowed = frozenset((state, True) for state in region.allowed)
    return [allowed] if region.denied is None else [allowed | {(state, False)} for state in region.denied]


def _of_states(axiom: Axiom) -> list[Clause]:
    name, others = _state(axiom.subject), [_state(each) for each in axiom.objects]
    if axiom.kind == STATE:
        return [frozenset({(name, False), (others[0], True)})]
    if axiom.kind == DISJOINT:
        return [frozenset({(one, False), (other, False)}) for place, one in enumerate(others) for other in others[:place]]
    return [frozenset({(name, False), *((other, True) for other in others)}), *(frozenset({(other, False), (name, True)}) for other in others)]


def _state(key: str) -> str:
    """A state without its character; the root for all values of a character."""
    return key.partition(".")[2]


def satisfiable(clauses: Sequence[Clause], held: frozenset[Literal] = frozenset()) -> bool:
    """Whether the clauses can all be true: the Davis-Putnam-Logemann-Loveland procedure (Commun. ACM 5, 1962, p. 394), shortest clause first."""
    left = [[(name, value) for name, value in clause if (name, not value) not in held] for clause in clauses if clause.isdisjoint(held)]
    if not left:
        return True
    tried = held
    for literal in min(left, key=len):
        if satisfiable(clauses, tried | {literal}):
            return True
        tried = tried | {(literal[0], not literal[1])}
    return False


def contract(axioms: Sequence[Axiom], holds: Callable[[Sequence[Axiom]], bool], given: Sequence[Axiom] = ()) -> list[Axiom]:
    """The axioms of a least set that still makes `holds` true: none of them can go; earlier ones are preferred.

    Divide and conquer (Junker 2004, QuickXplain, AAAI, p. 169): for k needed of n it asks about k log(n / k) times, not n times.

    Args:
        axioms: enough of them, with `given`; in order of preference.
        holds: whether what is to be shown holds; it must stay true as axioms are added.
        given: taken as granted.
    """
    return [] if holds(given) else _contract(axioms, holds, list(given))


def _contract(axioms: Sequence[Axiom], holds: Callable[[Sequence[Axiom]], bool], given: list[Axiom]) -> list[Axiom]:
    if len(axioms) <= 1:
        return list(axioms)
    middle = len(axioms) // 2
    first, second = list(axioms[:middle]), axioms[middle:]
    needed = [] if holds([*given, *first]) else _contract(second, holds, [*given, *first])
    return ([] if holds([*given, *needed]) else _contract(first, holds, [*given, *needed])) + needed
