"""How much a look is worth: the rule by which characters are put in order.

The worth of a character is what it costs together with all looks that are likely to follow, so less is better. One look halves
what remains at best, so that the looks still due are taken as the logarithm to base 2 of how many taxa an outcome leaves,
weighed by how likely the outcome is; for the most promising characters the best next look is worked out first, and the logarithm
is taken behind that. A small share (UNSURE) goes to how uncertain the weights of those left are (Shannon's entropy, in bits): it decides
between characters that exclude alike, and puts in order those that exclude nothing. More of it would spend looks on taxa that no outcome
excludes (compare Garey & Graham 1974, Acta Informatica 3, 347-355, on how far the plain gain of information can go wrong).
`tests/test_looking.py` holds the rule against the exact optimum.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lenticel.outcomes import Outcomes

PROMISING = 8  # characters for which the look behind is worked out too
CROWD = 256  # taxa; with more, one look ahead is enough, and two are slow
UNSURE = 0.25
LEAST = 1e-9  # bits; what tells fewer tells nothing

Numbers = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Worth:
    """Of K characters: `expected`, how many taxa each is expected to leave; `looks`, what it costs with all that is likely to follow.

    `order` puts the best first; those that would neither exclude a taxon nor change how likely any is are not in it.
    """

    expected: Numbers
    looks: Numbers
    order: tuple[int, ...]


def worth(outcomes: Outcomes, weights: Numbers, efforts: Numbers) -> Worth:
    """Weigh characters.

    Args:
        outcomes: of K characters among n taxa.
        weights: float64 (n,), above zero: how likely the plant is of each taxon; any scale.
        efforts: float64 (K,): what looking at each costs, in plain looks.
    """
    if not outcomes.characters:
        return Worth(np.zeros(0), np.zeros(0), ())
    weights = weights / weights.sum()
    left = outcomes.fits.sum(axis=1)
    chance = outcomes.chance @ weights
    expected = _by_character(outcomes, chance * left)
    due = _by_character(outcomes, _due(outcomes, weights[:, None], left[:, None])[:, 0])
    nothing_told = (1 - UNSURE) * np.log2(len(weights)) + UNSURE * -(weights * np.log2(weights)).sum()
    telling = np.flatnonzero(due < nothing_told - 1e-9)
    looks = efforts + due
    order = sorted(telling.tolist(), key=lambda place: (looks[place], place))
    if len(weights) <= CROWD:
        ahead = {place: float(efforts[place]) + _behind(outcomes, weights, place, efforts) for place in order[:PROMISING]}
        for place, value in ahead.items():
            looks[place] = value
        order = sorted(ahead, key=lambda place: (round(ahead[place], 9), place)) + order[PROMISING:]
    return Worth(expected, looks, tuple(order))


def news(outcomes: Outcomes, weights: Numbers, efforts: Numbers) -> tuple[Numbers, tuple[int, ...]]:
    """Weigh characters where no outcome excludes a taxon, and each only tells which are likelier: by information for the effort.

    Args:
        outcomes: of K characters among n taxa.
        weights: float64 (n,), not below zero: how likely the plant is of each taxon; any scale.
        efforts: float64 (K,): what looking at each costs, in plain looks.

    Returns:
        float64 (K,): what it would cost to be sure if all looks told as many bits (Shannon's) for their effort as this one. And
        those that tell anything, best first.
    """
    if not outcomes.characters:
        return np.zeros(0), ()
    weights = weights / weights.sum()
    told = _by_character(outcomes, _times_log(outcomes.chance) @ weights - _times_log(outcomes.chance @ weights))
    looks = efforts * -_times_log(weights).sum() / np.maximum(told, LEAST)
    telling = np.flatnonzero(told > LEAST).tolist()
    return looks, tuple(sorted(telling, key=lambda place: (round(looks[place], 9), place)))


def _by_character(outcomes: Outcomes, values: npt.NDArray[np.generic]) -> Numbers:
    return np.asarray(np.add.reduceat(values.astype(np.float64), outcomes.starts[:-1], axis=0))


def _due(outcomes: Outcomes, weights: Numbers, left: npt.NDArray[np.generic]) -> Numbers:
    """The looks due after each outcome, times its chance; float64 (M, b), for b sets of weights (n, b) and what is left (M, b).

    With s = sum of c·w, the entropy times s is s·log s less the sum of c·w·log(c·w), and that falls into products of matrices.
    """
    chance = outcomes.chance @ weights
    by_log = _times_log(outcomes.chance) @ weights + outcomes.chance @ _times_log(weights)
    return np.asarray((1 - UNSURE) * chance * np.log2(np.maximum(left, 1)) + UNSURE * (_times_log(chance) - by_log))


def _times_log(values: Numbers) -> Numbers:
    return np.asarray(values * np.log2(np.where(values > 0, values, 1)))


def _behind(outcomes: Outcomes, weights: Numbers, place: int, efforts: Numbers) -> float:
    """The looks due after a character was looked at, if the best of the others is looked at next."""
    rows = outcomes.of(place)
    fits, likely = outcomes.fits[rows], outcomes.chance[rows] * weights
    mass = likely.sum(axis=1)
    open_still = (fits.sum(axis=1) > 1) & (mass > 0)
    if not open_still.any():
        return 0.0
    fits, likely, mass = fits[open_still].astype(np.float64), likely[open_still], mass[open_still]
    behind = efforts[:, None] + _by_character(outcomes, _due(outcomes, likely.T, outcomes.fits @ fits.T)) / mass
    behind[place] = 1 + np.log2(fits.sum(axis=1))  # to look at the same again tells nothing
    return float((behind.min(axis=0) * mass).sum())
