"""The best that can be done: the least expected number of looks until nothing more can be told apart, by exact dynamic programming.

A history says what each character showed, or that it was not looked at; the weights of the taxa behind a history are the products of their
chances. The value of a history is 0 if one taxon is left or no look can exclude any; else it is one look and the mean value of what the best
character leads to. (`parting`: the value is 0 as soon as no character parts two of the taxa that are left, which is where keys end.) All
histories are laid out in one array, so that this is feasible for up to 16 taxa and some 8 characters only. It shares nothing with `lenticel.looking`
but the outcomes.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from functools import cached_property

import numpy as np

from lenticel.direct import snapshot_from
from lenticel.model import NO_SLACK, Character, Knowledge, Source, State, Statement, Taxon
from lenticel.outcomes import Outcomes, outlook
from lenticel.snapshot import Snapshot, indices_of
from tests.generators import ABOUT

SIZES = ((6, 8, 3, 0), (10, 8, 3, 0), (16, 8, 3, 0), (16, 6, 5, 0), (12, 5, 3, 1))  # taxa, characters with states, their states, measured characters


def group(rnd: random.Random, taxa: int, characters: int, states: int, measured: int) -> Snapshot:
    """An invented group: each taxon shows 1 or 2 of 3 states (of more up to 3), or a range; a quarter of the cells is unknown."""
    known = Knowledge(ABOUT, sources={"one": Source("one", "invented", "", "", "one", "", "", "")})
    for number in range(taxa):
        known.taxa[f"t{number}"] = Taxon(f"t{number}", "species", "", f"Taxon {number}", "", "", (), "", "")
    for number in range(characters + measured):
        kind = "measure" if number >= characters else "states"
        known.characters[f"c{number}"] = Character(
            f"c{number}", f"character {number}", kind, "", "leaf", "", "", ("summer",), "eye", "diagnostic", None, None,
            "cm" if kind == "measure" else "", None, None, False, True, True, NO_SLACK, NO_SLACK, NO_SLACK, "", (), f"Invented {number}.",
        )  # fmt: skip
        if kind == "states":
            for state in range(states):
                known.states[f"c{number}.s{state}"] = State(f"c{number}", f"s{state}", f"state {state}", "", False, (), (), f"Invented {state}.")
        for taxon in known.taxa:
            if rnd.random() >= 0.25:
                low = rnd.randint(1, 8)
                shown = "|".join(sorted(rnd.sample([f"s{state}" for state in range(states)], rnd.randint(1, 2 if states == 3 else 3))))
                value = shown if kind == "states" else f"{low}-{low + rnd.randint(1, 4)}"
                statement = Statement(taxon, f"c{number}", value, "", None, "one", "p. 1", "", "")
                known.statements[statement.id] = statement
    return snapshot_from(known)


class Exact:
    """All histories of one group."""

    def __init__(self, outcomes: Outcomes, *, parting: bool = False) -> None:
        self.outcomes, self.parting = outcomes, parting
        self.sizes = [int(end - start) for start, end in zip(outcomes.starts, outcomes.starts[1:], strict=False)]
        taxa = outcomes.fits.shape[1]
        self.weights, self.left, self.steps = np.full((1, taxa), 1 / taxa), np.ones((1, taxa), np.bool_), []
        for place, size in enumerate(self.sizes):
            self.steps.append(len(self.weights))
            rows = outcomes.of(place)
            chance = np.concatenate((np.ones((1, taxa)), outcomes.chance[rows]))
            fits = np.concatenate((np.ones((1, taxa), np.bool_), outcomes.fits[rows]))
            self.weights = (chance[:, None] * self.weights[None]).reshape((size + 1) * self.steps[-1], taxa)
            self.left = (fits[:, None] & self.left[None]).reshape((size + 1) * self.steps[-1], taxa)
        self.mass, self.count = self.weights.sum(axis=1), self.left.sum(axis=1)

    def seen(self, history: int) -> list[int]:
        """What each character showed, counted from 1; 0 if it was not looked at."""
        return [history // step % (size + 1) for step, size in zip(self.steps, self.sizes, strict=True)]

    def _parts(self, place: int, sets: np.ndarray) -> np.ndarray:
        """Whether a character parts two taxa of each of some sets, numbers with a bit a taxon."""
        fits = self.outcomes.fits[self.outcomes.of(place)].astype(int)
        apart = np.argwhere(np.triu(fits.T @ fits == 0, 1))
        return np.any([(sets >> one & 1) & (sets >> other & 1) == 1 for one, other in apart] or [np.zeros(len(sets), np.bool_)], axis=0)

    @cached_property
    def values(self) -> np.ndarray:
        """The value of every history."""
        every = np.arange(len(self.mass))
        digits = np.stack([every // step % (size + 1) for step, size in zip(self.steps, self.sizes, strict=True)])
        looked, values = (digits > 0).sum(axis=0), np.zeros(len(every))
        sets = self.left @ (1 << np.arange(self.left.shape[1]))
        for number in range(len(self.sizes) - 1, -1, -1):
            here = every[(looked == number) & (self.mass > 0) & (self.count > 1)]
            best, tells = np.full(len(here), np.inf), np.zeros(len(here), np.bool_)
            for place, (step, size) in enumerate(zip(self.steps, self.sizes, strict=True)):
                free = digits[place, here] == 0
                cost, excludes = np.zeros(free.sum()), np.zeros(free.sum(), np.bool_)
                for outcome in range(1, size + 1):
                    there = here[free] + outcome * step
                    cost += self.mass[there] * values[there]
                    excludes |= (self.mass[there] > 0) & (self.count[there] < self.count[here[free]])
                best[free] = np.minimum(best[free], 1 + cost / self.mass[here[free]])
                tells[free] |= self._parts(place, sets[here[free]]) if self.parting else excludes
            values[here] = np.where(tells, best, 0)
        return values

    def cost(self, choose: Callable[[list[int], np.ndarray, np.ndarray], int]) -> float:
        """The expected number of looks of whoever chooses by a rule: from the places of the unseen characters, the weights and what is left."""
        total, waiting = 0.0, [0]
        while waiting:
            history = waiting.pop()
            if self.values[history] == 0:
                continue
            unseen = [place for place, digit in enumerate(self.seen(history)) if digit == 0]
            place = choose(unseen, self.weights[history], self.left[history])
            total += self.mass[history]
            reached = (history + outcome * self.steps[place] for outcome in range(1, self.sizes[place] + 1))
            waiting += [there for there in reached if self.mass[there] > 0]
        return total


def narrowed(outcomes: Outcomes, characters: list[int], left: np.ndarray) -> Outcomes:
    """The outcomes of some of the characters among what is left."""
    rows = [outcomes.of(place) for place in characters]
    starts = np.cumsum([0, *(each.stop - each.start for each in rows)])
    chosen = np.concatenate([np.arange(each.start, each.stop) for each in rows])
    return Outcomes(
        tuple(outcomes.characters[place] for place in characters), starts, tuple(outcomes.shown[row] for row in chosen),
        outcomes.fits[chosen][:, left], outcomes.chance[chosen][:, left],
    )  # fmt: skip


def outcomes_of(snapshot: Snapshot) -> Outcomes:
    """All outcomes of all characters among all taxa of a snapshot."""
    return outlook(snapshot).outcomes(list(snapshot.knowledge.characters), indices_of(snapshot.terminal))
