"""The first question: what is it, given what was seen?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import chain, islice, repeat

from lenticel.cite import Citation, citations
from lenticel.judging import Mark
from lenticel.model import Caution
from lenticel.observation import Observation
from lenticel.sight import out_of_season
from lenticel.snapshot import Snapshot
from lenticel.timing import due
from lenticel.weighing import Context, weigh

__all__ = ["Answer", "Context", "Likely", "TaxonVerdict", "cautions_for", "cautions_on", "identify"]


@dataclass(frozen=True, slots=True)
class TaxonVerdict:
    """All marks of one taxon; `slips` counts the contradictions.

    `support` sums what speaks for it, in bits; `share` is how likely it is among the taxa that remain, if it is one of them. Both
    order; only `consistent` says what the logic says.
    """

    taxon: str
    label: str
    label_language: str
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
    snapshot: Snapshot,
    observations: Iterable[Observation],
    context: Context | None = None,
    *,
    every_rank: bool = False,
    explain: int | None = None,
    excluded: int | None = None,
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
        excluded: how many of the taxa that are out to list, those with the fewest contradictions first; None for all.

    Raises:
        UnknownTerm: the region of the context is none.
    """
    context = context or Context()
    weighed = weigh(snapshot, observations, context, every_rank=every_rank)
    taxa, labels, languages = snapshot.taxa, snapshot.labels, snapshot.label_languages
    shares = chain(weighed.shares.tolist(), repeat(0.0))
    rows = zip(weighed.ordered, weighed.counts, weighed.support.tolist(), shares, strict=False)

    def verdict(place: int, row: int, counts: list[int], support: float, share: float) -> TaxonVerdict:
        marks = tuple(each.mark(row) for each in weighed.heard) if explain is None or place < explain else ()
        silent, agrees, atypical, slips = counts
        return TaxonVerdict(taxa[row], labels[row], languages[row], not slips, agrees, atypical, silent, slips, support, share, marks)

    consistent = tuple(verdict(place, *each) for place, each in enumerate(islice(rows, weighed.remaining)))
    out = tuple(verdict(place, *each) for place, each in enumerate(islice(rows, excluded)))
    marks = (mark for each in (*consistent, *out) for mark in each.marks)
    return Answer(
        snapshot.digest,
        tuple(each.text for each in weighed.kept),
        tuple((weak.text, strong.text) for weak, strong in weighed.dropped),
        context.wild,
        consistent,
        out,
        cautions_for(snapshot, (taxa[row] for row in weighed.close)),
        citations(snapshot.knowledge, {key for mark in marks for ground in mark.grounds for key in ground.statements}),
        context.month,
        context.region,
        out_of_season(snapshot, weighed.kept, context.month) if context.month else (),
        due(snapshot, (each.taxon for each in consistent), context.month) if context.month else {},
        tuple(taxa[row] for row in weighed.near),
        tuple(Likely(taxa[row], share, slips) for row, share, slips in weighed.likeliest),
    )


def cautions_for(snapshot: Snapshot, taxa: Iterable[str]) -> tuple[Caution, ...]:
    """The cautions on the taxa or on a rank above them, by identifier."""
    known = snapshot.knowledge
    return tuple(known.cautions[key] for key in cautions_on(snapshot, taxa))


def cautions_on(snapshot: Snapshot, taxa: Iterable[str]) -> list[str]:
    """The identifiers of the cautions on the taxa or on a rank above them."""
    held = snapshot.remembered("cautions", _cautions)
    return sorted(set[str]().union(*map(held.__getitem__, taxa)))


def _cautions(snapshot: Snapshot) -> dict[str, frozenset[str]]:
    """The cautions that bear on each taxon."""
    known = snapshot.knowledge
    own: dict[str, list[str]] = {}
    for key, caution in known.cautions.items():
        own.setdefault(caution.taxon, []).append(key)
    return {taxon: frozenset(key for rank in known.lineage(taxon) for key in own.get(rank, ())) for taxon in known.taxa}
