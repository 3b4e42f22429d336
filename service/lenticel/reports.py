"""What observers report of plants, slips counted: the outcomes of looks among taxa of which no observation excludes any.

Logic takes every observation at its word, so that one slip puts the true taxon out, and what is looked at next parts the wrong ones. Here every
observation only makes taxa likelier, by the same distributions as the order of an answer (`likelihood`), slips and silence included.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import numpy.typing as npt

from lenticel.judging import judged
from lenticel.likelihood import likelihood
from lenticel.observation import Observation
from lenticel.outcomes import Outcomes, Shown, outlook, part_of
from lenticel.prior import prior
from lenticel.snapshot import Snapshot, indices_of

SURE = 0.99  # the share of all that is likely which the likely taxa together hold

Numbers = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]


class Reports:
    """How likely each outcome of each character is reported of a plant of each taxon; a character's table is made when it is first asked for."""

    def __init__(self, snapshot: Snapshot) -> None:
        self.snapshot = snapshot
        self._lowest = indices_of(snapshot.terminal)
        self._made: dict[str, tuple[tuple[Shown, ...], Numbers]] = {}

    def outcomes(self, characters: Iterable[str], rows: Places) -> Outcomes:
        """The outcomes of characters among the taxa at some places; every taxon fits every outcome, since any report may be a slip."""
        made = {key: found for key in characters if len((found := self._of(key))[0])}
        shown = tuple(each for values, _ in made.values() for each in values)
        chance = np.concatenate([np.zeros((0, len(rows))), *(table[:, rows] for _, table in made.values())])
        starts = np.cumsum([0, *(len(values) for values, _ in made.values())])
        return Outcomes(tuple(made), starts, shown, np.ones(chance.shape, np.bool_), chance)

    def _of(self, key: str) -> tuple[tuple[Shown, ...], Numbers]:
        if key not in self._made:
            shown = outlook(self.snapshot).outcomes([key], self._lowest).shown
            like = likelihood(self.snapshot)
            table = np.array([like.shown(Observation((part_of(self.snapshot, key, [each]),))) for each in shown])
            self._made[key] = shown, table / table.sum(axis=0)  # so that silence, which lowers all outcomes alike, tells nothing
        return self._made[key]


def reports(snapshot: Snapshot) -> Reports:
    """The reports of a snapshot, made once."""
    return snapshot.remembered("reports", Reports)


def shares(snapshot: Snapshot, seen: Sequence[Observation], rows: Places, *, month: int = 0, region: str = "") -> Numbers:
    """How likely a plant is of each of the taxa at some places, whatever the logic says; float64 (n,), adds up to 1.

    Args:
        snapshot: the knowledge.
        seen: distinct observations.
        rows: the places of n taxa.
        month: 1 to 12, 0 if unknown.
        region: as `prior.prior` takes it.
    """
    heard = [judged(snapshot, each, wild=False).bits for each in seen]
    bits = np.sum([prior(snapshot, seen, month=month, region=region), *heard], axis=0)[rows]
    odds = np.exp2(bits - bits.max())
    return np.asarray(odds / odds.sum())


def likeliest(weights: Numbers) -> Places:
    """The places of the fewest weights that hold SURE of all, greatest first."""
    order = np.argsort(-weights, kind="stable")
    held = np.cumsum(weights[order]) / weights.sum()
    return order[: int(np.searchsorted(held, SURE - 1e-9)) + 1]
