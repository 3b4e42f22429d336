"""The rule that ranks characters, against the exact optimum; and what it must never do."""

from __future__ import annotations

import random
from statistics import mean

import numpy as np
import pytest

from lenticel.looking import news, worth
from tests.optimal import SIZES, Exact, group, narrowed, outcomes_of

EACH = 8


def by_worth(exact: Exact, unseen: list[int], weights: np.ndarray, left: np.ndarray) -> int:
    rated = worth(narrowed(exact.outcomes, unseen, left), weights[left], np.ones(len(unseen)))
    return unseen[rated.order[0]]


def test_the_expected_number_of_looks_is_within_3_percent_of_the_optimum_and_12_at_worst() -> None:
    """Random groups of up to 16 taxa, with cells of several states and unknown ones."""
    found: dict[tuple[int, ...], list[float]] = {}
    for size in SIZES:
        for seed in range(EACH):
            exact = Exact(outcomes_of(group(random.Random(seed), *size)))
            if exact.values[0]:
                found.setdefault(size, []).append(exact.cost(lambda *state, exact=exact: by_worth(exact, *state)) / exact.values[0])
    for size, ratios in found.items():
        print(f"{size}: {len(ratios)} groups, {mean(ratios):.4f} of the optimum on average, {max(ratios):.4f} at worst")
    ratios = [each for size in found.values() for each in size]
    print(f"all: {len(ratios)} groups, {mean(ratios):.4f} on average, {max(ratios):.4f} at worst")
    assert len(ratios) >= 35
    assert min(ratios) >= 1 - 1e-9
    assert mean(ratios) <= 1.03
    assert max(ratios) <= 1.12
    assert all(mean(each) <= 1.03 for each in found.values())


def test_random_looks_are_seen_to_be_far_from_the_optimum() -> None:
    rnd, exact = random.Random(1), Exact(outcomes_of(group(random.Random(1), 10, 8, 3, 0)))
    assert exact.cost(lambda unseen, weights, left: rnd.choice(unseen)) > 1.15 * exact.values[0]


def test_the_optimum_of_a_case_to_be_worked_out_by_hand() -> None:
    """Of four taxa two characters of two states each leave one: two looks, and no rule does better."""
    exact = Exact(outcomes_of(group(random.Random(3), 2, 1, 3, 0)))
    assert exact.values[0] in (0.0, 1.0)


@pytest.mark.parametrize("seed", range(6))
def test_what_tells_nothing_is_not_in_the_order_and_effort_comes_before_a_little_more_telling(seed: int) -> None:
    outcomes = outcomes_of(group(random.Random(seed), 8, 6, 3, 1))
    weights = np.ones(8)
    plain = worth(outcomes, weights, np.ones(len(outcomes.characters)))
    assert sorted(plain.order) == [place for place in range(len(outcomes.characters)) if not np.ptp(outcomes.chance[outcomes.of(place)], axis=1).max() < 1e-9]
    efforts = np.ones(len(outcomes.characters))
    efforts[plain.order[0]] = 4
    assert worth(outcomes, weights, efforts).order[0] != plain.order[0]
    assert worth(outcomes, 7 * weights, np.ones(len(outcomes.characters))).order == plain.order


@pytest.mark.parametrize("seed", range(6))
def test_what_tells_most_for_its_effort_comes_first_where_nothing_excludes(seed: int) -> None:
    """Against Shannon's information written out: what is unsure of the taxon before, less what is unsure of it after each outcome."""
    outcomes = outcomes_of(group(random.Random(seed), 8, 6, 3, 1))
    rnd = np.random.default_rng(seed)
    weights, efforts = rnd.dirichlet(np.ones(8)), rnd.uniform(1, 3, len(outcomes.characters))

    def unsure(odds: np.ndarray) -> float:
        shares = odds[odds > 0] / odds.sum()
        return float(-(shares * np.log2(shares)).sum())

    told = [
        unsure(weights) - sum((each * weights).sum() * unsure(each * weights) for each in outcomes.chance[outcomes.of(place)] if (each * weights).any())
        for place in range(len(efforts))
    ]
    looks, order = news(outcomes, 3 * weights, efforts)
    assert list(order) == sorted((place for place in range(len(told)) if told[place] > 1e-9), key=lambda place: -told[place] / efforts[place])
    assert all(looks[place] == pytest.approx(efforts[place] * unsure(weights) / told[place]) for place in order)
