"""How likely the plants of a taxon show what was seen. It orders what remains and never excludes.

A taxon and a character have a distribution over the atoms (or over sizes), made of the statements of the nearest rank that
makes any, each weighed by its word of frequency. Part of it goes to the states one step along a graded character
and to those that observers take them for; part of every observation is taken for a slip. A size is spread evenly over
its usual range, with normal tails on a scale of ratios, since sizes vary in proportion. Where nothing is said the
relatives speak, and the flora; and silence costs a little, the more the seldomer the character is mentioned at all.

The constants were fitted by taking each source of the tables in turn for an observer and asking the others
(`tests/calibration/likelihood.py`), all but one: writers' figures are wrong in 3 of 100, but whoever measures in the field slips
more often, and the descriptions that may be looked at have the better scores with 8. That the characters of a plant hang together asks
for no correction: on one half of the descriptions kept apart the log score is best if all bits count (`tests/calibration/reliability.py`).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from lenticel.model import Character, Knowledge, State, Statement
from lenticel.observation import Observation, Part
from lenticel.partition import Partition
from lenticel.quantity import Interval, arc, parse_printed
from lenticel.snapshot import Snapshot, members_of

Numbers = npt.NDArray[np.float64]
Range = tuple[float, float, float]  # lower and upper end on a scale of logarithms, and the weight of the statement

OFTEN = {"": 1.0, "always": 1.0, "usually": 1.5, "often": 0.4, "sometimes": 0.15, "rarely": 0.08, "cultivar": 0.05, "never": 0.0}


@dataclass(frozen=True, slots=True)
class Constants:
    """What was fitted.

    `beside` goes to states one step off, `month` to the months before and after; `slip` and `figure_slip` are how often an
    observed state or figure says nothing about the plant; `tail` and `count_tail` are the standard deviations of the tails of
    sizes and counts, in natural logarithms; `kin` is how much of what silence leaves open the relatives decide, `unsaid` how much silence itself costs.
    """

    often: tuple[tuple[str, float], ...] = tuple(OFTEN.items())
    beside: float = 0.12
    month: float = 0.4
    slip: float = 0.20
    figure_slip: float = 0.08
    tail: float = 0.12
    count_tail: float = 0.15
    kin: float = 0.8
    unsaid: float = 0.5


FITTED = Constants()
SMALLEST = 0.05  # in any unit; a size below it is taken for it
BLUR = 0.06  # how much wider a figure is taken than it was read, in natural logarithms
LEAST = 1e-6
POINT = 1e-6  # a range narrower than that is one figure


class Likelihood:
    """The distributions of one snapshot; each character's are made when it is first asked for.

    By character: `rows`, the distribution over the atoms of each taxon (float64 (N, atoms)), or `ranges_of`, its usual ranges (all of them in one array (R, 3)
    with the taxon of each (R,): `flat`); and `known`, of which taxa anything is said (bool (N,)).
    """

    def __init__(self, snapshot: Snapshot, constants: Constants = FITTED) -> None:
        self.snapshot, self.constants = snapshot, constants
        self.knowledge = snapshot.knowledge
        self.lowest = members_of(snapshot.terminal, snapshot.taxa_count)
        self.often = dict(constants.often)
        self.rows: dict[str, Numbers] = {}
        self.ranges_of: dict[str, list[list[Range]]] = {}
        self.flat: dict[str, tuple[npt.NDArray[np.intp], Numbers]] = {}
        self.known: dict[str, npt.NDArray[np.bool_]] = {}
        parents = [each.parent for each in self.knowledge.taxa.values()]
        self._families = np.unique(parents, return_inverse=True)[1]  # by number, for each taxon: those under one rank are kin

    def bits(self, observation: Observation) -> Numbers:
        """How much an observation speaks for each taxon, in bits against the mean of the lowest taxa; float64 (N,)."""
        shown = self.shown(observation)
        return np.asarray(np.log2(shown / shown[self.lowest].mean()))

    def shown(self, observation: Observation) -> Numbers:
        """How likely a plant of each taxon shows one of the parts of an observation; float64 (N,), above 0."""
        missed = np.prod([1 - self._part(part) for part in observation.parts], axis=0)
        return np.asarray(np.maximum(1 - missed, LEAST))

    def _part(self, part: Part) -> Numbers:
        character = self.knowledge.characters[part.character]
        known = self.of(character)
        if part.spans:
            slip = self.constants.figure_slip
            shown = np.max([self._masses(character, span) for span in part.spans], axis=0)
        else:
            slip = self.constants.slip
            atoms = [bit for bit in range(self.rows[character.id].shape[1]) if part.mask >> bit & 1]
            shown = self.rows[character.id][:, atoms].sum(axis=1)
        told = known & self.lowest
        usual = float(shown[told].mean()) if told.any() else 1.0
        shown = (1 - slip) * shown + slip * max(usual, 1e-3)
        return np.where(known, shown, self._unsaid(shown, known, usual))

    def _unsaid(self, shown: Numbers, known: npt.NDArray[np.bool_], usual: float) -> Numbers:
        """What silence comes to: what the relatives and the flora show, less the seldomer the character is mentioned."""
        told = known & self.lowest
        kin = [np.bincount(self._families, weights=each, minlength=len(shown))[self._families] for each in (told, np.where(told, shown, 0))]
        found = np.where(kin[0] > 0, usual + self.constants.kin * (kin[1] / np.maximum(kin[0], 1) - usual), usual)
        return np.asarray(found * (told.sum() / max(1, self.lowest.sum())) ** self.constants.unsaid if told.any() else found)

    def of(self, character: Character) -> npt.NDArray[np.bool_]:
        """Make a character's distributions; bool (N,): of which taxa anything is said."""
        if character.id not in self.known:
            said = [nearest(self.knowledge, taxon, character.id) for taxon in self.knowledge.taxa]
            if character.kind in ("measure", "count"):
                self.ranges_of[character.id] = [self.ranges(character, each) for each in said]
                self.known[character.id] = np.array([bool(each) for each in self.ranges_of[character.id]])
                owners = np.repeat(np.arange(len(said)), [len(each) for each in self.ranges_of[character.id]])
                usual = np.array([each for ranges in self.ranges_of[character.id] for each in ranges], float).reshape(-1, 3)
                self.flat[character.id] = owners, usual
            else:
                spread = neighbours(self.knowledge, character, self.snapshot.body.partitions[character.id])
                self.rows[character.id] = np.stack([self.row(character, each, spread) for each in said])
                self.known[character.id] = np.array([bool(each) for each in said])
        return self.known[character.id]

    def row(self, character: Character, said: Sequence[Statement], spread: Numbers) -> Numbers:
        """The distribution over the atoms of a character that some statements make; float64 (atoms,), sums to 1."""
        partition = self.snapshot.body.partitions[character.id]
        found, denied = np.zeros(len(partition.atoms)), np.zeros(len(partition.atoms))
        for each in said:
            bits = _bits(character, partition, each)
            denied = np.maximum(denied, bits) if each.frequency == "never" else denied
            found += self.often[each.frequency] * bits / bits.sum()
        if not found.any():
            found = 1 - denied if denied.any() and not denied.all() else np.ones(len(denied))
        found /= found.sum()
        share = self.constants.month if character.kind == "month" else self.constants.beside
        beside = found * spread.any(axis=1)
        return np.asarray(found - share * beside + share * (beside @ spread))

    def ranges(self, character: Character, said: Iterable[Statement]) -> list[Range]:
        """The usual ranges that some statements give; an open end is taken at 0.4 of the other or at twice it."""
        found = []
        for each in said:
            printed = parse_printed(each.value, character.unit)
            low, high = (float(end) if end is not None else None for end in (printed.lo or printed.extreme_lo, printed.hi or printed.extreme_hi))
            low = 0.4 * high if low is None and high is not None else low
            high = 2 * low if high is None and low is not None else high
            if each.frequency != "never" and low is not None and high is not None:
                found.append((_log(low), _log(high), self.often[each.frequency]))
        return found

    def _masses(self, character: Character, seen: Interval) -> Numbers:
        """How likely a plant of each taxon has a size in an interval, 0 where no range is usual; float64 (N,)."""
        tail = self.constants.count_tail if character.kind == "count" else self.constants.tail
        start = -9.0 if seen.lo is None else _log(float(seen.lo)) - BLUR
        end = 9.0 if seen.hi is None else _log(float(seen.hi)) + BLUR
        owners, usual = self.flat[character.id]
        weights = usual[:, 2]
        inside = weights * (_below(end, usual, tail) - _below(start, usual, tail))
        whole, found = (np.bincount(owners, weights=each, minlength=self.snapshot.taxa_count) for each in (weights, inside))
        return np.divide(found, whole, out=np.zeros(len(whole)), where=whole > 0)


def nearest(knowledge: Knowledge, taxon: str, character: str, without: str = "") -> list[Statement]:
    """The statements of the nearest rank that makes any on a character or a special case of it; those of one source on the taxon itself may be left out.

    Who saw warty bark and does not say of what age has seen the bark of one age or another, so what is said of either tells what to expect.
    """
    for rank in knowledge.lineage(taxon):
        said = [each for case in knowledge.cases_of(character) for each in knowledge.statements_on(rank, case) if rank != taxon or each.source != without]
        if said:
            return said
    return []


def _bits(character: Character, partition: Partition, statement: Statement) -> Numbers:
    if character.kind == "month":
        printed = parse_printed(statement.value, character.unit)
        mask = partition.union(str(month) for month in arc(printed.lo or printed.extreme_lo or 1, printed.hi or printed.extreme_hi or 12))
    else:
        mask = partition.union(statement.states)
    return np.array([mask >> bit & 1 for bit in range(len(partition.atoms))], float)


def neighbours(knowledge: Knowledge, character: Character, partition: Partition) -> Numbers:
    """Where part of each atom's probability goes: float64 (atoms, atoms), rows that sum to 1, or to 0 where nothing is beside."""
    size = len(partition.atoms)
    beside = np.zeros((size, size))
    if character.kind == "month":
        for atom in range(size):
            beside[atom, [(atom - 1) % size, (atom + 1) % size]] = 1
    for one, other in _beside(character, knowledge.states_of(character.id)):
        mine, its = ([bit for bit in range(size) if partition.masks[each] >> bit & 1] for each in (one, other))
        beside[np.ix_(mine, its)] = beside[np.ix_(its, mine)] = 1
    return np.asarray(beside / np.maximum(beside.sum(axis=1, keepdims=True), 1))


def _beside(character: Character, states: list[State]) -> Iterable[tuple[str, str]]:
    for state in states:
        yield from ((state.id, other) for other in state.confusable_with)
    ladders: dict[str, list[str]] = {}
    for state in states if character.graded else ():
        ladders.setdefault(state.parent, []).append(state.id)
    for ladder in ladders.values():
        yield from pairwise(ladder)


def _log(value: float) -> float:
    return math.log(max(value, SMALLEST))


def _below(point: float, usual: Numbers, tail: float) -> Numbers:
    """The share of plants below a point, for each of some ranges (R, 3): those of a range spread evenly, with normal tails."""
    low, high = usual[:, 0], usual[:, 1]
    width = high - low
    even = (_ramp(point - low, tail) - _ramp(point - high, tail)) / np.where(width < POINT, 1, width)
    return np.where(width < POINT, _normal((point - low) / tail), even)


def _ramp(distance: Numbers, tail: float) -> Numbers:
    """The integral of the normal distribution's cumulative function."""
    at = distance / tail
    return distance * _normal(at) + tail * np.exp(-at * at / 2) / math.sqrt(2 * math.pi)


def _normal(at: Numbers) -> Numbers:
    return np.asarray(0.5 * (1 + np.array([math.erf(each) for each in (at / math.sqrt(2)).tolist()])))


def likelihood(snapshot: Snapshot) -> Likelihood:
    """The distributions of a snapshot, made once."""
    return snapshot.remembered("likelihood", Likelihood)
