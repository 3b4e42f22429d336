"""A share that was found in a sample, with the interval that E. B. Wilson gave it."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from statistics import NormalDist

Z = NormalDist().inv_cdf(0.975)  # 95%, both sides


@dataclass(frozen=True, slots=True)
class Proportion:
    """`count` of `of`; `share` is None if nothing was looked at.

    `low` and `high` bound the share of all from which the sample was drawn, with 95% confidence.
    """

    count: int
    of: int
    share: float | None
    low: float
    high: float


def proportion(count: int, of: int) -> Proportion:
    """The share with its interval.

    The interval is the score interval of Wilson, "Probable inference, the law of succession, and statistical inference",
    J. Am. Stat. Assoc. 22 (1927), 209-212, without correction for continuity: L. D. Brown, T. T. Cai and A. DasGupta,
    "Interval estimation for a binomial proportion", Statistical Science 16 (2001), 101-133, advise it for samples of 40
    and fewer. It holds for samples drawn at random.
    """
    if not of:
        return Proportion(0, 0, None, 0.0, 1.0)
    centre = (count + Z * Z / 2) / (of + Z * Z)
    half = Z / (of + Z * Z) * sqrt(count * (of - count) / of + Z * Z / 4)
    return Proportion(count, of, count / of, centre - half if count else 0.0, centre + half if count < of else 1.0)  # exact at the ends
