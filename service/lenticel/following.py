"""The next question: what to look at now, given what was seen and what can be seen?"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from lenticel.engine import consistent
from lenticel.errors import BadQuestion
from lenticel.identify import Context, cautions_for
from lenticel.looking import Worth, news, worth
from lenticel.model import Caution, Character
from lenticel.observation import Observation, distinct, probe
from lenticel.outcomes import Outcomes, distinct_rows, outlook, part_of
from lenticel.reports import likeliest, reports, shares
from lenticel.sight import Sight, checked, effort, there, unmet, unseen
from lenticel.snapshot import Snapshot, indices_of
from lenticel.sweep import CROWDED, sweep
from lenticel.timing import season_of
from lenticel.weighing import weigh

MOST = 10  # looks given, unless the asker wants more
MANY = 8192  # taxa in all; with more, to doubt every observation takes too long, and to put all that remains in order
SLIP = 0.02  # how much is left of the likelihood of a taxon that hardly ever shows what was seen, since observers slip; by rule of thumb

Places = npt.NDArray[np.intp]
Numbers = npt.NDArray[np.float64]
Costs = Mapping[str, float]  # the characters that can be looked at, in table order, and what looking at each costs


@dataclass(frozen=True, slots=True)
class Leaves:
    """An outcome of a look: what would be seen, how likely that is, how many taxa it would leave, and which (unnamed where more than a thousand remain)."""

    seen: str
    chance: float
    count: int
    taxa: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Look:
    """A character to look at; `decides` is False if none of its outcomes excludes a taxon, so that it only changes how likely each is.

    `expected` is how many taxa looking at it is expected to leave; `effort` what it costs, in looks with the bare eye, and `looks` what it
    costs with all the looks that are likely to follow, by which the looks are put in order. `outcomes` are likeliest first; what
    leaves the same taxa is one outcome. If any observation may be a slip, no outcome excludes a taxon, and what one leaves are the likely ones.
    """

    character: str
    label: str
    organ: str
    needs: str
    decides: bool
    effort: float
    expected: float
    looks: float
    outcomes: tuple[Leaves, ...]


@dataclass(frozen=True, slots=True)
class Following:
    """What remains, likeliest first as in the answer to the same observations, and what to look at next, most telling first.

    `group` are the taxa that alone were taken to be possible (empty: all). `looks` holds the best characters, `more` how many others
    would tell something too. `ordering` are circumstantial characters still unseen: they put what remains in order and decide
    nothing. `waiting` are characters that not every taxon that remains can show; each with the one that must be looked at first.
    `slips` says that any observation was taken for a possible slip: then the looks part `likely`, the taxa that are likely whether or not they
    remain, likeliest first, which together hold 99% of what is likely; else that is empty.
    """

    digest: str
    observations: tuple[str, ...]
    wild: bool
    season: str
    kit: tuple[str, ...]
    parts: tuple[str, ...]
    group: tuple[str, ...]
    remaining: tuple[str, ...]
    looks: tuple[Look, ...]
    more: int
    ordering: tuple[str, ...]
    waiting: tuple[tuple[str, str], ...]
    cautions: tuple[Caution, ...]
    slips: bool
    likely: tuple[str, ...]


def following(
    snapshot: Snapshot,
    observations: Iterable[Observation],
    context: Context | None = None,
    sight: Sight | None = None,
    *,
    group: Sequence[str] = (),
    weights: Numbers | None = None,
    most: int = MOST,
    slips: bool = False,
) -> Following:
    """Rank the characters that no observation bears on yet.

    Args:
        snapshot: the knowledge.
        observations: what was seen.
        context: what else is known of the plant; its month gives the season, if `sight` names none.
        sight: what can be looked at.
        group: the plant is one of these taxa, or of those below them (empty: of any).
        weights: float64 (N,), above zero for each taxon that remains: how likely the plant is of each taxon of the snapshot. By default
            every taxon that remains counts by how often its plants show what was seen.
        most: how many looks to give in full.
        slips: any observation may be a slip: choose looks that tell most of all taxa, those that are out too, by how likely each is.

    Raises:
        BadQuestion, UnknownTerm: as `sight.checked`; the group holds no lowest taxon; there are too many taxa to doubt every observation.
    """
    context = context or Context()
    sight = checked(snapshot, sight or Sight())
    sight = replace(sight, season=season_of(context.month)) if context.month and not sight.season else sight
    kept, _ = distinct(snapshot, observations)
    rows = remaining(snapshot, kept, context, group)
    taxa = tuple(snapshot.taxa[row] for row in _by_chance(snapshot, kept, context, rows))
    doubted = _doubted(snapshot, kept, context, group) if slips else None
    among = rows if doubted is None else doubted.likely
    candidates = unseen(snapshot, sight, kept) if len(among) > 1 or slips else []
    ordering = tuple(each.id for each in candidates if each.force != "diagnostic" and not context.wild)
    deciding = [each for each in candidates if each.kind != "month" and each.id not in ordering]
    ready, waiting = _ready(snapshot, deciding, among, kept, sight.season)
    costs = {each.id: effort(each, sight.kit) for each in ready}
    if doubted is None:
        weighed = weights[rows] if weights is not None else _likely(snapshot, kept, rows) if 1 < len(rows) <= CROWDED else None
        looks, more = _looks(snapshot, costs, rows, weighed, most)
    else:
        looks, more = _telling(snapshot, costs, doubted, most)
    likely = () if doubted is None else tuple(snapshot.taxa[row] for row in doubted.likely)
    return Following(
        snapshot.digest,
        tuple(each.text for each in kept),
        context.wild,
        sight.season,
        sight.kit,
        sight.parts,
        tuple(group),
        taxa,
        looks,
        more,
        ordering,
        waiting,
        cautions_for(snapshot, (*taxa, *likely)),
        slips,
        likely,
    )


def remaining(snapshot: Snapshot, observations: Iterable[Observation], context: Context, group: Sequence[str]) -> Places:
    """The places of the lowest taxa that remain, of a group and what lies below it if one is given.

    Raises:
        BadQuestion: no lowest taxon lies in the group.
    """
    rows = consistent(snapshot, [probe(snapshot, each) for each in observations], wild=context.wild)
    if not group:
        return rows
    chosen = members(snapshot, group)
    return rows[np.isin(rows, chosen)]


def _by_chance(snapshot: Snapshot, seen: Sequence[Observation], context: Context, rows: Places) -> list[int]:
    """The places of what remains, likeliest first as in the answer to the same observations; of very many taxa as they stand in the tables."""
    if snapshot.taxa_count > MANY:
        return list(map(int, rows))
    among: set[int] = set(rows.tolist())
    return [row for row in weigh(snapshot, seen, context).remain if row in among]


@dataclass(frozen=True)
class _Doubted:
    """The taxa in question if any observation may be a slip: their places, how likely each is (they add up to 1), and the places of the likely ones."""

    rows: Places
    weights: Numbers
    likely: Places


def _doubted(snapshot: Snapshot, seen: Sequence[Observation], context: Context, group: Sequence[str]) -> _Doubted:
    if snapshot.taxa_count > MANY:
        raise BadQuestion(f"With more than {MANY:,} taxa not every observation can be doubted.", "Ask without `slips`.", "/slips")
    rows = members(snapshot, group) if group else indices_of(snapshot.terminal)
    weights = shares(snapshot, seen, rows, month=context.month, region=context.region)
    return _Doubted(rows, weights, rows[likeliest(weights)])


def members(snapshot: Snapshot, group: Sequence[str]) -> Places:
    """The places of the lowest taxa that lie in a group of taxa, ascending.

    Raises:
        BadQuestion: there are none.
    """
    wanted = set(group)
    found = [snapshot.place_of[taxon] for taxon in snapshot.knowledge.terminal if wanted.intersection(snapshot.knowledge.lineage(taxon))]
    if not found:
        raise BadQuestion("The group holds no taxon at which naming ends.", "Name species, or a genus or family that holds some.", "/taxa")
    return np.array(sorted(found), np.intp)


def _ready(
    snapshot: Snapshot, candidates: Iterable[Character], rows: Places, seen: Sequence[Observation], season: str
) -> tuple[list[Character], tuple[tuple[str, str], ...]]:
    """The characters that every plant in question can show; and the others, each with the character on which it hangs."""
    ready: list[Character] = []
    waiting: list[tuple[str, str]] = []
    settled = {part.character for each in seen for part in each.parts}
    for each in candidates:
        condition = unmet(snapshot, each.id, rows, seen, season)
        if condition is None:
            ready.append(each)
        elif condition.character not in settled and (not season or there(snapshot, each.id, rows, season).any()):
            waiting.append((each.id, condition.character))  # were it settled, the plant could not show this, or need not
    return ready, tuple(waiting)


def _likely(snapshot: Snapshot, seen: Sequence[Observation], rows: Places) -> Numbers:
    """How often plants of each taxon show all that was seen, as if characters were independent; never zero, since observers slip."""
    likely = np.ones(len(rows))
    for each in seen:
        missed = np.prod([1 - np.minimum(outlook(snapshot).likely(part, rows), 1) for part in each.parts], axis=0)
        shown = 1 - np.asarray(missed)
        likely *= np.maximum(shown, SLIP * shown.max(initial=0.0)) if shown.any() else 1.0
    return likely


def _looks(snapshot: Snapshot, costs: Costs, rows: Places, weights: Numbers | None, most: int) -> tuple[tuple[Look, ...], int]:
    """The best looks, and how many more characters would tell something."""
    if len(rows) > CROWDED:
        return _counted(snapshot, costs, rows, most)
    outcomes = outlook(snapshot).outcomes(list(costs), rows)
    efforts = np.array([costs[key] for key in outcomes.characters])
    likely = np.ones(len(rows)) if weights is None else weights / weights.sum()
    rated = worth(outcomes, likely, efforts)
    found = tuple(_look(snapshot, outcomes, place, rows, likely, rated, costs) for place in rated.order[:most])
    return found, max(0, len(rated.order) - most)


def _look(snapshot: Snapshot, outcomes: Outcomes, place: int, rows: Places, weights: Numbers, rated: Worth, costs: Costs) -> Look:
    at = outcomes.of(place)
    key, fits, chance = outcomes.characters[place], outcomes.fits[at], outcomes.chance[at] @ weights / weights.sum()
    leaves = []
    decides = not fits.all()
    for alike in distinct_rows(fits) if decides else [[row] for row in range(len(fits))]:
        seen = part_of(snapshot, key, [outcomes.shown[at.start + row] for row in alike])
        taxa = tuple(snapshot.taxa[row] for row in rows[fits[alike[0]]])
        leaves.append(Leaves(seen.text, round(float(chance[alike].sum()), 4), len(taxa), taxa))
    return _worded(snapshot, key, costs[key], float(rated.expected[place]), float(rated.looks[place]), leaves, decides)


def _telling(snapshot: Snapshot, costs: Costs, doubted: _Doubted, most: int) -> tuple[tuple[Look, ...], int]:
    """The looks that tell most for their effort if any observation may be a slip, and how many more would tell something."""
    outcomes = reports(snapshot).outcomes(costs, doubted.rows)
    due, order = news(outcomes, doubted.weights, np.array([costs[key] for key in outcomes.characters]))
    found = []
    for place in order[:most]:
        at = outcomes.of(place)
        shown = outcomes.chance[at] * doubted.weights
        leaves = []
        for value, each in zip(outcomes.shown[at], shown, strict=True):
            left = doubted.rows[likeliest(each)]
            seen = part_of(snapshot, outcomes.characters[place], [value])
            leaves.append(Leaves(seen.text, round(float(each.sum()), 4), len(left), tuple(snapshot.taxa[row] for row in left)))
        expected = sum(each.chance * each.count for each in leaves)
        key = outcomes.characters[place]
        found.append(_worded(snapshot, key, costs[key], expected, float(due[place]), leaves, decides=False))
    return tuple(found), max(0, len(order) - most)


def _worded(snapshot: Snapshot, key: str, cost: float, expected: float, looks: float, leaves: Iterable[Leaves], decides: bool = True) -> Look:
    character = snapshot.knowledge.characters[key]
    ordered = tuple(sorted(leaves, key=lambda each: (-each.chance, each.seen)))
    return Look(key, character.label, character.organ, character.needs, decides, cost, round(expected, 2), round(looks, 3), ordered)


def _counted(snapshot: Snapshot, costs: Costs, rows: Places, most: int) -> tuple[tuple[Look, ...], int]:
    """The same where a crowd remains: by counts alone, and without naming the taxa that an outcome leaves."""
    made = sweep(snapshot)
    counted = made.count(rows)
    expected = {key: float(counted.expected[snapshot.layout[key].place]) for key in costs}
    looks = {key: cost + float(np.log2(max(expected[key], 1.0))) for key, cost in costs.items()}
    telling = [key for key in costs if expected[key] < len(rows) and counted.left[made.rows_of[key]].min() < len(rows)]
    telling.sort(key=lambda key: (looks[key], snapshot.layout[key].place))
    found = []
    for key in telling[:most]:
        left = counted.left[made.rows_of[key]]
        leaves = [
            Leaves(part_of(snapshot, key, [shown]).text, round(float(count / left.sum()), 4), int(count), ())
            for shown, count in zip(made.shown[key], left, strict=True)
            if count
        ]
        found.append(_worded(snapshot, key, costs[key], expected[key], looks[key], leaves))
    return tuple(found), max(0, len(telling) - most)
