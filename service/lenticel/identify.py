"""The first question: what is it, given what was seen?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from heapq import nsmallest

import numpy as np
import numpy.typing as npt

from lenticel.cite import Citation, citations
from lenticel.engine import AGREES, ATYPICAL, CONTRADICTS, SILENT
from lenticel.judging import Mark, judged
from lenticel.model import Caution
from lenticel.observation import Observation, distinct
from lenticel.prior import prior
from lenticel.snapshot import Snapshot, members_of
from lenticel.timing import due, out_of_season

LIKELIEST = 5  # how many are named


@dataclass(frozen=True, slots=True)
class Context:
    """What is known of the plant beyond the observations.

    `wild`: nobody planted it. `month`: 1 to 12, 0 if unknown. `region`: where it stands, a state of the region characters ("" if
    unknown); like the month it orders and never excludes.
    """

    wild: bool = False
    month: int = 0
    region: str = ""


@dataclass(frozen=True, slots=True)
class TaxonVerdict:
    """All marks of one taxon; `slips` counts the contradictions.

    `support` sums what speaks for it, in bits; `share` is how likely it is among the taxa that remain, if it is one of them. Both
    order; only `consistent` says what the logic says.
    """

    taxon: str
    label: str
    consistent: bool
    agrees: int
    atypical: int
    silent: int
    slips: int
    support: float
    share: float
    marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class Likely:
    """A taxon with its share among all taxa, if any observation may be a slip."""

    taxon: str
    share: float
    slips: int


@dataclass(frozen=True, slots=True)
class Answer:
    """What remains, likeliest first, and what is out, fewest contradictions first.

    `implied` pairs each observation that another one entails with that other; it changes nothing and is not counted.
    `cautions` are those of taxa that remain, or that one slip would bring back. `citations` writes out every statement
    that a ground names. If the month is known, `out_of_season` names the observations that it makes doubtful, and `due` the
    month characters (such as flowering) of each taxon that remains whose usual months hold it. `near` are the near misses: of
    the taxa that are out, those with the fewest contradictions; one slip away, wherever there are such. `likeliest` are the
    likeliest of all taxa, out or not, for whoever does not trust each observation; logic plays no part in it.
    """

    digest: str
    observations: tuple[str, ...]
    implied: tuple[tuple[str, str], ...]
    wild: bool
    consistent: tuple[TaxonVerdict, ...]
    excluded: tuple[TaxonVerdict, ...]
    cautions: tuple[Caution, ...]
    citations: dict[str, Citation]
    month: int
    region: str
    out_of_season: tuple[str, ...]
    due: dict[str, tuple[str, ...]]
    near: tuple[str, ...]
    likeliest: tuple[Likely, ...]


def identify(
    snapshot: Snapshot, observations: Iterable[Observation], context: Context | None = None, *, every_rank: bool = False, explain: int | None = None
) -> Answer:
    """Judge every taxon by every observation.

    The order of the observations never matters; a repeated one, or one that another entails, changes nothing; adding
    one never adds a taxon.

    Args:
        snapshot: the knowledge.
        observations: what was seen.
        context: what else is known of the plant.
        every_rank: also judge genera and other taxa that have taxa below them.
        explain: how many of the taxa that remain, and of those that are out, to give with their marks; None for all.

    Raises:
        UnknownTerm: the region of the context is none.
    """
    context = context or Context()
    kept, dropped = distinct(snapshot, observations)
    heard = [judged(snapshot, each, wild=context.wild) for each in kept]
    table = np.array([each.levels for each in heard], np.uint8).reshape(len(kept), snapshot.taxa_count)
    bits = np.sum([prior(snapshot, kept, month=context.month, region=context.region), *(each.bits for each in heard)], axis=0)
    rows = np.arange(snapshot.taxa_count) if every_rank else np.flatnonzero(members_of(snapshot.terminal, snapshot.taxa_count))
    tally = [(table == level).sum(axis=0).tolist() for level in range(4)]
    slips, support = tally[CONTRADICTS], np.round(bits, 2).tolist()
    ordered = sorted(rows.tolist(), key=lambda row: (slips[row], -support[row], snapshot.taxa[row]))
    remain = [row for row in ordered if not slips[row]]
    out = ordered[len(remain) :]
    shares = dict(zip(remain, _shares(bits[remain]), strict=True))
    labels = snapshot.labels

    def verdict(place: int, row: int) -> TaxonVerdict:
        marks = tuple(each.mark(row) for each in heard) if explain is None or place < explain else ()
        counts = (tally[AGREES][row], tally[ATYPICAL][row], tally[SILENT][row], slips[row])
        return TaxonVerdict(snapshot.taxa[row], labels[row], not slips[row], *counts, support[row], shares.get(row, 0.0), marks)

    consistent, excluded = (tuple(verdict(place, row) for place, row in enumerate(side)) for side in (remain, out))
    marks = (mark for each in (*consistent, *excluded) for mark in each.marks)
    return Answer(
        snapshot.digest,
        tuple(each.text for each in kept),
        tuple((weak.text, strong.text) for weak, strong in dropped),
        context.wild,
        consistent,
        excluded,
        cautions_for(snapshot, (snapshot.taxa[row] for row in ordered if slips[row] <= 1)),
        citations(snapshot.knowledge, {key for mark in marks for ground in mark.grounds for key in ground.statements}),
        context.month,
        context.region,
        out_of_season(snapshot, kept, context.month) if context.month else (),
        due(snapshot, (each.taxon for each in consistent), context.month) if context.month else {},
        tuple(snapshot.taxa[row] for row in out if slips[row] == slips[out[0]]),
        _likeliest(snapshot, bits, slips) if kept else (),
    )


def _shares(bits: npt.NDArray[np.float64]) -> list[float]:
    """How likely each of some taxa is among them, by their bits."""
    if not bits.size:
        return []
    odds = np.exp2(bits - bits.max())
    return [float(each) for each in np.round(odds / odds.sum(), 4)]


def _likeliest(snapshot: Snapshot, bits: npt.NDArray[np.float64], slips: list[int]) -> tuple[Likely, ...]:
    lowest = np.flatnonzero(members_of(snapshot.terminal, snapshot.taxa_count)).tolist()
    shares = dict(zip(lowest, _shares(bits[lowest]), strict=True))
    first = nsmallest(LIKELIEST, lowest, key=lambda row: (-shares[row], snapshot.taxa[row]))
    return tuple(Likely(snapshot.taxa[row], shares[row], slips[row]) for row in first)


def cautions_for(snapshot: Snapshot, taxa: Iterable[str]) -> tuple[Caution, ...]:
    """The cautions on the taxa or on a rank above them, by identifier."""
    known = snapshot.knowledge
    lines = {rank for taxon in taxa for rank in known.lineage(taxon)}
    return tuple(caution for _, caution in sorted(known.cautions.items()) if caution.taxon in lines)
