"""The fourth question: why a taxon is out, or why two taxa are apart, down to the axioms, and no more of them than it takes.

A justification is a least set of the ontology's axioms that entails what it justifies: together they are enough, and none can
go. It is found from the snapshot's records with `deduction`; `confirm` puts it to HermiT. Where several sets would do, the
one that rests on what is said of the taxon itself, rather than of ranks above it, is preferred.

An axiom about a cell rests on statements. Each of these widens what the taxon may show. So it is all of them together that
draw the line, and with one more statement it might lie elsewhere; only for sizes and counts is it one or a few that reach
furthest and set the bound.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from lenticel.cells import Cell, StateRegion, bounds
from lenticel.cite import Citation, citations
from lenticel.deduction import BINDING, BROADER, CELL, CONDITION, COVER, DISJOINT, RANGE, STATE, TAXON, Axiom, Claim, Deduction, contract
from lenticel.engine import CONTRADICTS, levels
from lenticel.errors import BadQuestion
from lenticel.identify import cautions_for
from lenticel.model import Caution, Knowledge
from lenticel.observation import Observation, closure, probe
from lenticel.phrases import because, claimed, in_owl, in_words, separated
from lenticel.quantity import Interval
from lenticel.snapshot import Snapshot
from lenticel.why import region_text

ALL, BOUND, ONE = "all together", "those that reach furthest", "the one"


@dataclass(frozen=True, slots=True)
class Line:
    """A line that statements draw: what the taxon (or every taxon below it) shows for the character.

    `statements` are those that draw it, out of `of` on record for it. `drawn_by` says how: all of them "all together", as each one
    more widens it; for a size or count "those that reach furthest"; or "the one" that there is. `widened` is true if what is shown
    goes beyond what they print: by the slack of the character, or by states that observers take for those printed.
    """

    cell: str
    taxon: str
    character: str
    shown: str
    statements: tuple[str, ...]
    of: int
    drawn_by: str
    widened: bool


@dataclass(frozen=True, slots=True)
class Step:
    """An axiom of a justification: as data, in OWL (Manchester syntax, with local names), and in words."""

    axiom: Axiom
    owl: str
    words: str


@dataclass(frozen=True, slots=True)
class Justification:
    """Why something is out.

    `about` is the observation, or the character that separates; `classes` are the classes of plants of which none can be so.
    `force` is "decisive" if no plant can, "wild" if no wild plant, "typical" if no usual one. `entailment` is exactly what the
    axioms of `steps` entail, and what none of them can be spared for. `words` says it in a sentence.
    """

    about: str
    classes: tuple[str, ...]
    force: str
    entailment: str
    words: str
    lines: tuple[Line, ...]
    steps: tuple[Step, ...]

    @property
    def axioms(self) -> tuple[Axiom, ...]:
        """The axioms alone."""
        return tuple(step.axiom for step in self.steps)

    def claim(self, observations: Iterable[Observation] = ()) -> Claim:
        """What is justified, to be decided again; needs the observation that it is about, if it is about one."""
        if len(self.classes) > 1:
            return Claim(self.classes, shown=self.about)
        return Claim(self.classes, next(each.parts for each in observations if each.text == self.about))


@dataclass(frozen=True, slots=True)
class Why:
    """The justifications: one for each observation that contradicts the taxon, or one for the character that separates two."""

    digest: str
    taxa: tuple[str, ...]
    justifications: tuple[Justification, ...]
    cautions: tuple[Caution, ...]
    citations: dict[str, Citation]


def why_out(snapshot: Snapshot, taxon: str, observations: Iterable[Observation], *, wild: bool = False) -> Why:
    """Justify that a taxon is out: once for each observation that contradicts it, as each of them is enough. None if it remains.

    Of observations that mean the same, the first is taken.
    """
    seen: dict[str, Observation] = {}
    for each in observations:
        seen.setdefault(each.text, each)
    place = snapshot.place_of[taxon]
    found = [_exclusion(snapshot, taxon, each) for each in seen.values() if levels(snapshot, probe(snapshot, each), wild=wild)[place] == CONTRADICTS]
    return _why(snapshot, (taxon,), found)


def why_apart(snapshot: Snapshot, one: str, other: str, character: str) -> Why:
    """Justify that a character separates two taxa: decisively if it does, else in what is usual.

    Raises:
        BadQuestion: it separates them in no way, or one taxon is or holds the other.
    """
    if one in snapshot.knowledge.lineage(other) or other in snapshot.knowledge.lineage(one):
        raise BadQuestion(f"{one!r} and {other!r} are not apart: one is or holds the other.", "Name two taxa of which none lies within the other.", "/taxa")
    for force, tier in (("decisive", ""), ("wild", "/wild"), ("typical", "/typical")):
        claim = Claim((one + tier, other + tier), shown=character)
        axioms = _least(snapshot, claim)
        if axioms:
            return _why(snapshot, (one, other), [_justification(snapshot, claim, character, force, axioms)])
    label = snapshot.knowledge.characters[character].label
    raise BadQuestion(
        f"Nothing in the {label} separates {one!r} and {other!r}.", "`lenticel compare`, or /v1/compare, lists the characters that do.", "/character"
    )


def _why(snapshot: Snapshot, taxa: tuple[str, ...], found: list[Justification]) -> Why:
    statements = (key for each in found for line in each.lines for key in line.statements)
    return Why(snapshot.digest, taxa, tuple(found), cautions_for(snapshot, taxa), citations(snapshot.knowledge, statements))


def _exclusion(snapshot: Snapshot, taxon: str, observation: Observation) -> Justification:
    for force, tier in (("decisive", ""), ("wild", "/wild")):  # what excludes every plant is not told of wild ones only
        claim = Claim((taxon + tier,), observation.parts)
        axioms = _least(snapshot, claim)
        if axioms:
            return _justification(snapshot, claim, observation.text, force, axioms)
    raise AssertionError(f"the engine excludes {taxon} for {observation.text}, but no axioms do")


def _least(snapshot: Snapshot, claim: Claim) -> list[Axiom]:
    """A least set of axioms that entails the claim; empty if not even all together do."""
    deduction = Deduction(snapshot.body)
    every = list(dict.fromkeys(axioms_about(snapshot, claim)))
    if not deduction.holds(claim, every):
        return []
    return contract(every, lambda chosen: deduction.holds(claim, chosen))


def axioms_about(snapshot: Snapshot, claim: Claim) -> Iterator[Axiom]:
    """Every axiom that can bear on a claim, those preferred first."""
    known = snapshot.knowledge
    concerned: dict[str, None] = dict.fromkeys(known.broadening(claim.shown))
    for part in claim.parts:
        concerned |= dict.fromkeys(each.character for each in closure(known, snapshot.body.partitions, part))
    if claim.shown:
        _add_conditions(known, concerned)
    for cls in claim.classes:
        yield from _of_plants(snapshot, cls, set(concerned))
    roots = dict.fromkeys(map(known.broadest, concerned))
    for key in concerned:
        character = known.characters[key]
        if character.broader:
            yield Axiom(BROADER, key, (character.broader,))
        if character.applies_if:
            yield Axiom(CONDITION, key, (character.applies_if[0], *character.applies_if[1]))
    for root in roots:
        yield from _of_values(known, root)
    for key in concerned:
        if known.characters[key].kind == "states":
            yield Axiom(RANGE, key)


def _add_conditions(known: Knowledge, concerned: dict[str, None]) -> None:
    waiting = list(concerned)
    while waiting:
        condition = known.characters[waiting.pop()].applies_if
        for each in known.broadening(condition[0]) if condition else ():
            if each not in concerned:
                concerned[each] = None
                waiting.append(each)


def _of_plants(snapshot: Snapshot, cls: str, concerned: set[str]) -> Iterator[Axiom]:
    """What a class of plants lies under, nearest first: the cells on the characters concerned, and the classes above."""
    known, body = snapshot.knowledge, snapshot.body
    taxon, _, tier = cls.partition("/")
    if tier == "typical":
        for key in sorted(concerned & body.bindings[taxon].keys()):
            for cell in body.bindings[taxon][key][1]:
                if body.cells[cell].tier == "typical":
                    yield from (Axiom(BINDING, cls, (cell,)), Axiom(CELL, cell))
        yield Axiom(TAXON, cls, (f"{taxon}/wild",))
        cls, tier = f"{taxon}/wild", "wild"
    for rank in known.lineage(taxon):
        parent = known.taxa[rank].parent
        for part in ("/wild", "") if tier else ("",):
            for key in sorted(concerned):
                cell = f"{rank}/{key}"
                if cell in body.cells and (known.characters[key].force == "circumstantial") == bool(part):
                    yield from (Axiom(BINDING, rank + part, (cell,)), Axiom(CELL, cell))
            if parent:
                yield Axiom(TAXON, rank + part, (parent + part,))
        if tier:
            yield Axiom(TAXON, f"{rank}/wild", (rank,))


def _of_values(known: Knowledge, root: str) -> Iterator[Axiom]:
    """The tree of a character's states: what excludes what, what lies under what, what is covered."""
    states = known.states_of(root)
    below: dict[str, list[str]] = {}
    for state in states:
        below.setdefault(f"{root}.{state.parent}" if state.parent else root, []).append(state.key)
    yield from (Axiom(DISJOINT, parent, tuple(keys)) for parent, keys in below.items() if len(keys) > 1)
    yield from (Axiom(STATE, state.key, (f"{root}.{state.parent}" if state.parent else root,)) for state in states)
    complete = {state.key for state in states if state.complete} | ({root} if known.characters[root].complete else set())
    yield from (Axiom(COVER, parent, tuple(keys)) for parent, keys in below.items() if parent in complete)


def _justification(snapshot: Snapshot, claim: Claim, about: str, force: str, axioms: Sequence[Axiom]) -> Justification:
    held = [snapshot.body.cells[axiom.subject] for axiom in axioms if axiom.kind == CELL]
    lines = tuple(_line(snapshot, cell, held, claim) for cell in held)
    known = snapshot.knowledge
    told = citations(known, (key for line in lines for key in line.statements))
    drawn = [(line.taxon, line.character, line.shown + (", slack included" if line.widened else ""), [told[key] for key in line.statements]) for line in lines]
    words = because(snapshot, claim, force, drawn) if claim.parts else separated(known, claim, force, drawn)
    steps = tuple(Step(axiom, in_owl(snapshot, axiom), in_words(snapshot, axiom)) for axiom in sorted(axioms, key=_told_first))
    return Justification(about, claim.classes, force, claimed(snapshot, claim), words, lines, steps)


def _told_first(axiom: Axiom) -> tuple[int, Axiom]:
    """From the taxon up to its cells, and then on to characters and states."""
    return (TAXON, BINDING, CELL, BROADER, CONDITION, RANGE, STATE, DISJOINT, COVER).index(axiom.kind), axiom


def _line(snapshot: Snapshot, cell: Cell, held: Sequence[Cell], claim: Claim) -> Line:
    known = snapshot.knowledge
    statements = cell.statements
    drawn_by = ALL
    if isinstance(cell.region, Interval):
        against = [each.region for each in held if each is not cell and isinstance(each.region, Interval)] + [
            span for part in claim.parts for span in part.spans
        ]
        statements = _furthest(known, cell, cell.region, against)
        drawn_by = BOUND
    if len(cell.statements) == 1:
        drawn_by = ONE
    shown = region_text(snapshot.body, known.characters[cell.character], [cell])
    return Line(cell.id, cell.taxon, cell.character, shown, statements, len(cell.statements), drawn_by, _is_widened(known, cell))


def _is_widened(known: Knowledge, cell: Cell) -> bool:
    if cell.tier == "typical":
        return False
    if isinstance(cell.region, StateRegion):
        said = {word for key in cell.statements for word in known.statements[key].states}
        return not set(cell.region.allowed) <= said
    character = known.characters[cell.character]
    return any(each.amount for each in (character.slack_low, character.slack_high, character.slack_extreme))


def _furthest(known: Knowledge, cell: Cell, region: Interval, against: Sequence[Interval]) -> tuple[str, ...]:
    """Of a cell's statements those that set the bound on the side where what it is held against lies; on both sides if on neither."""
    over = any(each.lo is not None and region.hi is not None and each.lo > region.hi for each in against)
    under = any(each.hi is not None and region.lo is not None and each.hi < region.lo for each in against)
    character = known.characters[cell.character]
    found: list[str] = []
    for key in cell.statements:
        each = known.statements[key]
        if cell.tier == "typical" and each.frequency in ("rarely", "cultivar"):
            continue
        own = bounds(character, each, typical=cell.tier == "typical")
        if ((over or not under) and own.hi == region.hi) or ((under or not over) and own.lo == region.lo):
            found.append(key)
    return tuple(found)
