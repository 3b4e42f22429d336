"""The first question: what is it, given what was seen?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from lenticel.cite import Citation, citations
from lenticel.engine import AGREES, ATYPICAL, CONTRADICTS, SILENT, VERDICTS, levels, support
from lenticel.model import Caution
from lenticel.observation import Observation, distinct, probe
from lenticel.snapshot import Snapshot, members_of
from lenticel.timing import due, out_of_season
from lenticel.why import Ground, grounds


@dataclass(frozen=True, slots=True)
class Context:
    """What is known of the plant beyond the observations: whether it grows wild (nobody planted it), and the month (1 to 12, 0 if unknown)."""

    wild: bool = False
    month: int = 0


@dataclass(frozen=True, slots=True)
class Mark:
    """The verdict of one observation on one taxon, with its grounds where it is atypical or contradicts."""

    observation: str
    verdict: str
    grounds: tuple[Ground, ...] = ()


@dataclass(frozen=True, slots=True)
class TaxonVerdict:
    """All marks of one taxon; `slips` counts the contradictions, `support` sums what the observations speak for it, in bits."""

    taxon: str
    label: str
    consistent: bool
    agrees: int
    atypical: int
    silent: int
    slips: int
    support: float
    marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """What remains, best supported first, and what is out, fewest contradictions first.

    `implied` pairs each observation that another one entails with that other; it changes nothing and is not counted.
    `cautions` are those of taxa that remain, or that one slip would bring back. `citations` writes out every statement
    that a ground names. If the month is known, `out_of_season` names the observations that it makes doubtful, and `due` the
    month characters (such as flowering) of each taxon that remains whose usual months hold it. `near` are the near misses: of
    the taxa that are out, those with the fewest contradictions; one slip away, wherever there are such.
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
    out_of_season: tuple[str, ...]
    due: dict[str, tuple[str, ...]]
    near: tuple[str, ...]


def identify(snapshot: Snapshot, observations: Iterable[Observation], context: Context | None = None, *, every_rank: bool = False) -> Answer:
    """Judge every taxon by every observation.

    The order of the observations never matters; a repeated one, or one that another entails, changes nothing; adding
    one never adds a taxon.

    Args:
        snapshot: the knowledge.
        observations: what was seen.
        context: what else is known of the plant.
        every_rank: also judge genera and other taxa that have taxa below them.
    """
    context = context or Context()
    kept, dropped = distinct(snapshot, observations)
    probes = [probe(snapshot, each) for each in kept]
    table = np.array([levels(snapshot, each, wild=context.wild) for each in probes], np.uint8).reshape(len(kept), snapshot.taxa_count)
    bits = sum((support(snapshot, each, row) for each, row in zip(probes, table, strict=True)), np.zeros(snapshot.taxa_count))
    judged = range(snapshot.taxa_count) if every_rank else np.flatnonzero(members_of(snapshot.terminal, snapshot.taxa_count))
    verdicts = [_verdict(snapshot, snapshot.taxa[row], kept, table[:, row].tolist(), round(float(bits[row]), 2)) for row in judged]
    names = {key: taxon.scientific_name for key, taxon in snapshot.knowledge.taxa.items()}
    consistent = sorted((each for each in verdicts if each.consistent), key=lambda each: (-each.support, names[each.taxon]))
    excluded = sorted((each for each in verdicts if not each.consistent), key=lambda each: (each.slips, -each.support, names[each.taxon]))
    near = [each.taxon for each in verdicts if each.slips <= 1]
    return Answer(
        snapshot.digest,
        tuple(each.text for each in kept),
        tuple((weak.text, strong.text) for weak, strong in dropped),
        context.wild,
        tuple(consistent),
        tuple(excluded),
        cautions_for(snapshot, near),
        citations(snapshot.knowledge, (key for verdict in verdicts for mark in verdict.marks for ground in mark.grounds for key in ground.statements)),
        context.month,
        out_of_season(snapshot, kept, context.month) if context.month else (),
        due(snapshot, (each.taxon for each in consistent), context.month) if context.month else {},
        tuple(each.taxon for each in excluded if each.slips == excluded[0].slips),
    )


def _verdict(snapshot: Snapshot, taxon: str, observations: list[Observation], found: list[int], bits: float) -> TaxonVerdict:
    marks = tuple(
        Mark(each.text, VERDICTS[level], tuple(grounds(snapshot, taxon, each, typical=level == ATYPICAL)) if level >= ATYPICAL else ())
        for each, level in zip(observations, found, strict=True)
    )
    slips = found.count(CONTRADICTS)
    return TaxonVerdict(
        taxon, snapshot.knowledge.taxa[taxon].label, slips == 0, found.count(AGREES), found.count(ATYPICAL), found.count(SILENT), slips, bits, marks
    )


def cautions_for(snapshot: Snapshot, taxa: Iterable[str]) -> tuple[Caution, ...]:
    """The cautions on the taxa or on a rank above them, by identifier."""
    known = snapshot.knowledge
    lines = {rank for taxon in taxa for rank in known.lineage(taxon)}
    return tuple(caution for _, caution in sorted(known.cautions.items()) if caution.taxon in lines)
