"""From statements to cells: what a taxon is allowed to show for a character, and what is typical of it.

Everything said of one taxon and one character makes one cell. Several statements widen it. Two tiers come out:
the *hard* region, outside which a plant of the taxon cannot lie, and the *typical* one, which only orders.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from functools import reduce
from itertools import pairwise

from lenticel.model import RARE, Character, Knowledge, Slack, State, Statement
from lenticel.partition import Partition
from lenticel.quantity import Interval, PrintedRange, arc, parse_printed, widen_months


@dataclass(frozen=True, slots=True)
class StateRegion:
    """The union of `allowed`; and, if `denied` is not None, also everything outside the union of `denied`."""

    allowed: tuple[str, ...]
    denied: tuple[str, ...] | None = None


Region = StateRegion | Interval | frozenset[int]


@dataclass(frozen=True, slots=True)
class Cell:
    """One tier of what is said of a taxon and a character: the region, and the statements that it rests on."""

    taxon: str
    character: str
    tier: str
    region: Region
    statements: tuple[str, ...]

    @property
    def id(self) -> str:
        """Taxon and character, with the tier if it is the typical one."""
        return f"{self.taxon}/{self.character}" + ("" if self.tier == "hard" else "/typical")


def region_mask(partition: Partition, region: Region) -> int:
    """The atoms of a region of states or months.

    Raises:
        TypeError: the region is an interval, which has no atoms.
    """
    if isinstance(region, StateRegion):
        return partition.region(region.allowed, region.denied)
    if isinstance(region, frozenset):
        return partition.union(str(month) for month in region)
    raise TypeError("an interval has no atoms")


def cells_of(knowledge: Knowledge) -> list[Cell]:
    """Every cell that the statements make, by taxon and character in table order."""
    pairs = dict.fromkeys((each.taxon, each.character) for each in knowledge.statements.values())
    taxon_order = {key: place for place, key in enumerate(knowledge.taxa)}
    character_order = {key: place for place, key in enumerate(knowledge.characters)}
    found: list[Cell] = []
    for taxon, character in sorted(pairs, key=lambda pair: (taxon_order[pair[0]], character_order[pair[1]])):
        statements = sorted(knowledge.statements_on(taxon, character), key=lambda each: each.id)
        hard, typical = regions(knowledge, knowledge.characters[character], statements)
        ids = tuple(each.id for each in statements)
        found += [Cell(taxon, character, tier, region, ids) for tier, region in (("hard", hard), ("typical", typical)) if region is not None]
    return found


def regions(knowledge: Knowledge, character: Character, statements: list[Statement]) -> tuple[Region | None, Region | None]:
    """The hard and the typical region of one cell; None where the statements draw no line."""
    closed = any(tells_all(character, each) for each in statements if each.frequency != "never")
    if character.kind == "states":
        return _state_regions(knowledge, character, statements, closed)
    printed = [(each, parse_printed(each.value, character.unit)) for each in statements]
    usual = [pair for pair in printed if pair[0].frequency not in RARE]
    if character.kind == "month":
        hard = frozenset().union(*(_months(each, character) for _, each in printed)) if closed else None
        typical = frozenset().union(*(arc(each.lo or 1, each.hi or 12) for _, each in usual)) if usual else None
        return hard, typical
    outer = reduce(Interval.hull, (_outer(each, character) for _, each in printed)) if closed else None
    inner = reduce(Interval.hull, (_inner(each, character) for _, each in usual)) if usual else None
    return outer, inner


def tells_all(character: Character, statement: Statement) -> bool:
    """Whether a statement is taken to tell all that plants of its taxon show."""
    return character.exhaustive if statement.exhaustive is None else statement.exhaustive


def _state_regions(knowledge: Knowledge, character: Character, statements: list[Statement], closed: bool) -> tuple[StateRegion | None, StateRegion | None]:
    states = knowledge.states_of(character.id)
    said = {word for each in statements if each.frequency != "never" for word in each.states}
    usual = {word for each in statements if each.frequency not in RARE | {"never"} for word in each.states}
    never = {word for each in statements if each.frequency == "never" for word in each.states} - said
    hard: StateRegion | None = None
    if closed:
        hard = StateRegion(_in_order(states, widened(states, said, character)))
    elif never:
        hard = StateRegion(_in_order(states, said), _in_order(states, never))
    typical: StateRegion | None = None
    if usual:
        typical = StateRegion(_in_order(states, usual))
    elif said | never:
        typical = StateRegion((), _in_order(states, said | never))
    return hard, typical


def _in_order(states: list[State], chosen: Iterable[str]) -> tuple[str, ...]:
    wanted = set(chosen)
    return tuple(state.id for state in states if state.id in wanted)


def widened(states: list[State], chosen: set[str], character: Character) -> set[str]:
    """The chosen states, with those that observers take them for and, for a graded character, those one step off.

    A state brings in what its own kinds and what the states above it are taken for.
    """
    by_id = {state.id: state for state in states}
    confused: dict[str, set[str]] = {state.id: set(state.confusable_with) for state in states}
    for state in states:
        for other in state.confusable_with:
            confused[other].add(state.id)
    if character.graded:
        ladders: dict[str, list[str]] = {}
        for state in states:
            ladders.setdefault(state.parent, []).append(state.id)
        for ladder in ladders.values():
            for lower, upper in pairwise(ladder):
                confused[lower].add(upper)
                confused[upper].add(lower)

    def above(state: str) -> list[str]:
        return [state, *above(by_id[state].parent)] if state else []

    related = {state.id for state in states if set(above(state.id)) & chosen} | {up for state in chosen for up in above(state)}
    return chosen | {other for state in related for other in confused[state]}


def bounds(character: Character, statement: Statement, *, typical: bool = False) -> Interval:
    """The bounds that one statement alone gives a measured or counted character: the hard ones with their slack, or the typical ones."""
    printed = parse_printed(statement.value, character.unit)
    return _inner(printed, character) if typical else _outer(printed, character)


def _months(printed: PrintedRange, character: Character) -> frozenset[int]:
    first = printed.lo if printed.extreme_lo is None else printed.extreme_lo
    last = printed.hi if printed.extreme_hi is None else printed.extreme_hi
    before = character.slack_low if printed.extreme_lo is None else character.slack_extreme
    after = character.slack_high if printed.extreme_hi is None else character.slack_extreme
    return widen_months(arc(first or 1, last or 12), int(before.amount), int(after.amount))


def _outer(printed: PrintedRange, character: Character) -> Interval:
    """The hard bounds: the printed extreme with its slack, else the usual bound with the ordinary slack."""

    def bound(extreme: Decimal | None, usual: Decimal | None, slack: Slack, low: bool) -> Decimal | None:
        if extreme is None and usual is None:
            return None
        value, give = (usual, slack) if extreme is None else (extreme, character.slack_extreme)
        assert value is not None
        return _fit(give.below(value) if low else give.above(value), character, low=low)

    return Interval(bound(printed.extreme_lo, printed.lo, character.slack_low, True), bound(printed.extreme_hi, printed.hi, character.slack_high, False))


def _inner(printed: PrintedRange, character: Character) -> Interval:
    """The usual bounds; a lone figure stands for "about", which is half the slack to either side."""
    low, high = printed.lo, printed.hi
    if printed.lone and low is not None:
        below, above = (Slack(each.amount / 2, each.relative) for each in (character.slack_low, character.slack_high))
        low, high = below.below(low), above.above(low)
    return Interval(_fit(low, character, low=True), _fit(high, character, low=False))


def _fit(value: Decimal | None, character: Character, low: bool) -> Decimal | None:
    """The bound on the grid of its character, rounded outward: whole numbers for counts, else a ten-thousandth of the unit."""
    if value is None:
        return None
    grid = Decimal(1) if character.kind == "count" else Decimal("0.0001")
    return value.quantize(grid, ROUND_FLOOR if low else ROUND_CEILING).normalize()
