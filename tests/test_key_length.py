"""How long a key is, against the exact optimum."""

from __future__ import annotations

import random
from dataclasses import replace
from statistics import mean

import numpy as np
import pytest

from lenticel import growth
from lenticel.keys import key
from lenticel.looking import Worth, worth
from lenticel.outcomes import Outcomes
from tests.optimal import SIZES, Exact, group, outcomes_of

EACH = 6
ROUNDING = 1e-3  # a key's steps are given to three places


def ratios(size: tuple[int, int, int, int], each: int) -> list[float]:
    """The mean path of the key to each of some random groups, in mean paths of the best key that there can be."""
    found = []
    for seed in range(each):
        snapshot = group(random.Random(seed), *size)
        best = Exact(outcomes_of(snapshot), parting=True).values[0]
        if best:
            found.append(key(snapshot, list(snapshot.knowledge.taxa)).steps / best)
    return found


def test_the_mean_path_of_a_key_is_within_10_percent_of_the_optimum() -> None:
    """Random groups of up to 16 taxa, with cells of several states and unknown ones; by kind of group, and over all."""
    found = {size: ratios(size, EACH) for size in SIZES}
    for size, each in found.items():
        print(f"{size}: {len(each)} keys, {mean(each):.4f} of the optimum on average, {max(each):.4f} at worst")
    everything = [ratio for each in found.values() for ratio in each]
    print(f"all: {len(everything)} keys, {mean(everything):.4f} on average, {max(everything):.4f} at worst")
    assert len(everything) >= 25
    assert min(everything) >= 1 - ROUNDING
    assert all(mean(each) <= 1.10 for each in found.values())


def test_a_key_that_asks_the_worst_character_first_is_seen_to_be_far_from_the_optimum(monkeypatch: pytest.MonkeyPatch) -> None:
    def worst(outcomes: Outcomes, weights: np.ndarray, efforts: np.ndarray) -> Worth:
        rated = worth(outcomes, weights, efforts)
        return replace(rated, order=rated.order[::-1])

    monkeypatch.setattr(growth, "worth", worst)
    assert mean(ratios((10, 8, 3, 0), EACH)) > 1.2
