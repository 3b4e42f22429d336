"""The couplets that a character makes among some taxa: its outcomes put together into a few leads.

Leads cover whatever the character may show and do not overlap. Outcomes that send on the same taxa are one lead, and the two whose
joining costs least are joined while they are too many, or while joining costs next to nothing; the leads of a quantity are stretches that lie side by
side, cut at round figures where the bounds of the taxa leave room. A character that would strike off next to nothing makes no
couplet: where little is stated, a reader would be sent on and on and hardly get nearer.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from lenticel.outcomes import Flags, Numbers, Outcomes, Places, Shown, joined
from lenticel.snapshot import OPEN_HIGH, OPEN_LOW, Layout, Snapshot

MOST_LEADS = 6  # of a character with states
MOST_STRETCHES = 4  # of a quantity
CHEAP = 0.02  # looks

Rows = list[int]  # outcomes that make one lead


@dataclass(frozen=True)
class Thrift:
    """What couplets must be worth, by rule of thumb, so that a key can be printed.

    `share` is the least share of the names before it that a couplet must strike off in the mean. `strikes` bounds how many names it must strike off in the mean
    over the plants of all N taxa of a key, in units of 1/N: where a key parts its taxa evenly and none stands in two leads, the last couplets are
    reached by two plants in N and strike off one name each, which makes 2. `twice` is how many looks are spent to spare a couplet one taxon in two of
    its leads, with all that follows it there.
    """

    share: float
    strikes: float
    twice: float


DECIDING = Thrift(0.2, 0.0, 0.0)
USUAL = Thrift(0.0, 1.0, 2.0)  # what is usual excludes no plant, so that it must tell more


@dataclass(frozen=True)
class Couplets:
    """The couplets that may be made among some taxa.

    `leads` are outcomes whose rows are leads (one with no taxa may be among them), `parts` for each character the outcomes that make up each lead;
    `parting` are all characters that part two taxa, with those that make no couplet since they strike off too little.
    """

    leads: Outcomes
    parts: list[list[list[Shown]]]
    parting: tuple[str, ...]


def condensed(snapshot: Snapshot, outcomes: Outcomes, rows: Places, weights: Numbers, thrift: Thrift, reach: float) -> Couplets:
    """Put the outcomes of the characters that part at least two taxa together into leads.

    Args:
        snapshot: the knowledge.
        outcomes: among n taxa.
        rows: the places of these.
        weights: float64 (n,): how likely the plant is of each, adding up to 1.
        thrift: what a couplet must be worth.
        reach: how many plants come here, of as many as the key has taxa, one of each.
    """
    kept: list[str] = []
    made: list[list[list[Shown]]] = []
    parting: list[str] = []
    fits, chance, starts = [np.zeros((0, len(rows)), np.bool_)], [np.zeros((0, len(rows)))], [0]
    for place, key in enumerate(outcomes.characters):
        at = outcomes.of(place)
        if not parts_any(outcomes.fits[at]):
            continue
        parting.append(key)
        leads = _leads(outcomes.fits[at], outcomes.chance[at], weights, thrift.twice, side_by_side=not snapshot.layout[key].atoms)
        may = np.stack([outcomes.fits[at][lead].any(axis=0) for lead in leads])
        often = np.stack([outcomes.chance[at][lead].sum(axis=0) for lead in leads])
        struck = len(rows) - float(may.sum(axis=1) @ (often @ weights))
        if not parts_any(may) or struck < thrift.share * len(rows) or reach * struck < thrift.strikes:
            continue
        kept.append(key)
        made.append([[outcomes.shown[at.start + row] for row in lead] for lead in leads])
        fits.append(may)
        chance.append(often)
        starts.append(starts[-1] + len(leads))
    return Couplets(Outcomes(tuple(kept), np.array(starts), (0,) * starts[-1], np.concatenate(fits), np.concatenate(chance)), made, tuple(parting))


def parts_any(fits: Flags) -> bool:
    """Whether two taxa have none of the outcomes (M, n) in common, so that they never go on together."""
    together = fits.T.astype(np.int32) @ fits.astype(np.int32)
    return bool((together == 0).any())


def _leads(fits: Flags, chance: Numbers, weights: Numbers, twice: float, *, side_by_side: bool) -> list[Rows]:
    leads = _stretches(fits) if side_by_side else _alike(fits)
    most = MOST_STRETCHES if side_by_side else MOST_LEADS
    may = np.stack([fits[lead].any(axis=0) for lead in leads])
    mass = np.array([float((chance[lead] @ weights).sum()) for lead in leads])
    while len(leads) > 2:
        prices = _prices(may, mass, twice)
        if side_by_side:
            prices[~np.eye(len(leads), k=1, dtype=np.bool_)] = np.inf
        one, other = divmod(int(prices.argmin()), len(leads))
        if (prices[one, other] > CHEAP and may.any(axis=1).sum() <= most) or np.isinf(prices[one, other]):
            break
        leads[one] = sorted(leads[one] + leads.pop(other))
        may[one] |= may[other]
        mass[one] += mass[other]
        may, mass = np.delete(may, other, axis=0), np.delete(mass, other)
    return leads


def _prices(may: Flags, mass: Numbers, twice: float) -> Numbers:
    """The looks that joining any two of L leads costs, as the logarithm of what they leave tells them: float64 (L, L), infinite but above the diagonal.

    From that goes what is spared for the taxa that stood in both. A lead that leaves nothing stays apart.
    """
    neither = (~may).astype(np.int32) @ (~may).T.astype(np.int32)
    joint = np.log2(np.maximum(may.shape[1] - neither, 1))
    due = mass * np.log2(np.maximum(may.sum(axis=1), 1))
    both = may.astype(np.int32) @ may.T.astype(np.int32)
    prices = (mass[:, None] + mass) * joint - due[:, None] - due - twice * both / may.shape[1]
    prices[~may.any(axis=1)] = np.inf
    prices[:, ~may.any(axis=1)] = np.inf
    prices[np.tril_indices(len(mass))] = np.inf
    return np.asarray(prices)


def _alike(fits: Flags) -> list[Rows]:
    """Outcomes that leave the same taxa together; those that leave none among them."""
    found: dict[bytes, Rows] = {}
    for row in range(len(fits)):
        found.setdefault(fits[row].tobytes(), []).append(row)
    return list(found.values())


def _stretches(fits: Flags) -> list[Rows]:
    """Intervals side by side that leave the same taxa together; one that leaves none goes with the one before it, since no plant is sent there."""
    found: list[Rows] = []
    for row in range(len(fits)):
        if found and (not fits[row].any() or not fits[found[-1]].any() or np.array_equal(fits[row], fits[found[-1]].any(axis=0))):
            found[-1].append(row)
        else:
            found.append([row])
    return found


def rounded(snapshot: Snapshot, where: Layout, rows: Places, leads: Sequence[Iterable[Shown]], *, usual: bool) -> list[tuple[int, int]]:
    """The leads of a quantity as intervals, from low to high, each cut moved to the roundest figure that sends the same taxa on."""
    low, high = snapshot.ranges[2 if usual else 0 :][:2, where.slot].take(rows, axis=1).astype(np.int64)
    firsts = [first for first, _ in sorted(joined(each for each in lead if not isinstance(each, int))[0] for lead in leads)[1:]]
    cuts: list[int] = []
    for first, following in zip(firsts, [*firsts[1:], OPEN_HIGH], strict=True):
        floor, ceiling = _room(low, high, first)  # where no bound lies between two cuts they have the same room, and must not meet in it
        cuts.append(_round_figure(max([floor, *(cut + 1 for cut in cuts[-1:])]), min(ceiling, following - 1)))
    return list(zip([OPEN_LOW, *cuts], [*(cut - 1 for cut in cuts), OPEN_HIGH], strict=True))


def _room(low: Places, high: Places, cut: int) -> tuple[int, int]:
    """Between which figures a cut may lie: below it go the taxa that may be lower, at it and above those that may reach it."""
    floor = max([cut - cut // 2, *(int(each) + 1 for ends in (low, high) for each in ends[ends < cut])])
    ceiling = min([cut + cut // 2, *(int(each) for ends in (low, high) for each in ends[ends >= cut])])
    return min(floor, cut), max(ceiling, cut)


def _round_figure(floor: int, ceiling: int) -> int:
    """The figure from `floor` to `ceiling` with the fewest digits before its zeros; fives before other figures."""
    step: int = 10 ** len(str(ceiling))
    while step:
        for unit in (step, step // 2, step // 5):
            if unit and (first := -(-floor // unit) * unit) <= ceiling:
                return first
        step //= 10
    return ceiling
