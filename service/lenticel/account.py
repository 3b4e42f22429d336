"""The third question: what is known of this taxon, and on whose word?"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

from lenticel.cells import Region, region_mask, regions
from lenticel.cite import Citation, Provenance, citations, provenance
from lenticel.compare import statements_behind
from lenticel.identify import cautions_for
from lenticel.languages import LabelledTaxon, labelled
from lenticel.model import Caution, Lookalike, Name, Resolution, Statement, resolution_key
from lenticel.quantity import Interval
from lenticel.snapshot import Snapshot
from lenticel.why import shown_text


@dataclass(frozen=True, slots=True)
class Trait:
    """One character of a taxon: what is usual, and every statement, own or inherited; `disputed` if sources disagree."""

    character: str
    shown: str
    statements: tuple[str, ...]
    disputed: bool


@dataclass(frozen=True, slots=True)
class Disagreement:
    """Two statements of different sources on one taxon and character that have nothing in common, and how that is understood."""

    taxon: str
    character: str
    one: str
    other: str
    resolution: Resolution | None


@dataclass(frozen=True, slots=True)
class Account:
    """Everything stated of a taxon: names, place, traits in the order of the characters, look-alikes, cautions; who says so, and who recorded and read it."""

    digest: str
    taxon: LabelledTaxon
    lineage: tuple[str, ...]
    names: tuple[Name, ...]
    traits: tuple[Trait, ...]
    disagreements: tuple[Disagreement, ...]
    lookalikes: tuple[Lookalike, ...]
    cautions: tuple[Caution, ...]
    citations: dict[str, Citation]
    provenance: dict[str, Provenance]


def account(snapshot: Snapshot, taxon: str) -> Account:
    """What is known of a taxon.

    Args:
        snapshot: the knowledge.
        taxon: its identifier.
    """
    known = snapshot.knowledge
    disagreements = tuple(disagreements_on(snapshot, taxon))
    disputed = {each.character for each in disagreements}
    traits = tuple(
        Trait(key, shown_text(snapshot, taxon, key), behind, key in disputed)
        for key in known.characters
        if key in snapshot.body.bindings[taxon] and (behind := statements_behind(snapshot, taxon, key))
    )
    lineage = tuple(known.lineage(taxon))
    cited = citations(known, (key for trait in traits for key in trait.statements))
    return Account(
        snapshot.digest,
        labelled(known.taxa[taxon]),
        lineage[1:],
        tuple(name for name in known.names if name.taxon == taxon),
        traits,
        disagreements,
        tuple(each for each in known.lookalikes.values() if taxon in each.taxa),
        cautions_for(snapshot, [taxon]),
        cited,
        {key: provenance(known, key) for key in cited},
    )


def all_disagreements(snapshot: Snapshot) -> list[Disagreement]:
    """The disagreements on every taxon, in table order."""
    return [each for taxon in snapshot.knowledge.taxa for each in disagreements_on(snapshot, taxon)]


def disagreements_on(snapshot: Snapshot, taxon: str) -> list[Disagreement]:
    """The pairs of statements made on this very taxon by different sources, of which neither allows anything that the other does."""
    known = snapshot.knowledge
    found: list[Disagreement] = []
    for character in known.characters.values():
        said = [each for each in known.statements_on(taxon, character.id) if each.frequency not in ("never", "rarely", "cultivar")]
        for one, other in combinations(said, 2):
            if one.source != other.source and have_nothing_in_common(snapshot, one, other) and not _covered_elsewhere(snapshot, said, one, other):
                key = resolution_key(taxon, character.id, one.source, other.source)
                found.append(Disagreement(taxon, character.id, one.id, other.id, known.resolutions.get(key)))
    return found


def _covered_elsewhere(snapshot: Snapshot, said: list[Statement], one: Statement, other: Statement) -> bool:
    """A source that says "usually this, sometimes that" agrees with one that says only "that"."""
    return any(each.source == one.source and not have_nothing_in_common(snapshot, each, other) for each in said) or any(
        each.source == other.source and not have_nothing_in_common(snapshot, each, one) for each in said
    )


def have_nothing_in_common(snapshot: Snapshot, one: Statement, other: Statement) -> bool:
    """Whether neither of two statements on one character usually allows anything that the other does."""
    known = snapshot.knowledge
    character = known.characters[one.character]
    mine, its = (_usual(snapshot, each) for each in (one, other))
    if mine is None or its is None:
        return False
    if isinstance(mine, Interval) and isinstance(its, Interval):
        return not mine.overlaps(its)
    partition = snapshot.body.partitions[character.id]
    return not region_mask(partition, mine) & region_mask(partition, its)


def _usual(snapshot: Snapshot, statement: Statement) -> Region | None:
    known = snapshot.knowledge
    _, typical = regions(known, known.characters[statement.character], [statement])
    return typical
