"""In which language a taxon is called: its label, made with a name of the language asked for, with one in English, or without any."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, fields, replace
from typing import Any

from lenticel.model import ENGLISH, Knowledge, Taxon
from lenticel.snapshot import Body, Snapshot
from lenticel.spelling import respelt

LATIN = "la"


@dataclass(frozen=True, slots=True)
class LabelledTaxon(Taxon):
    """A taxon with the label by which people know it.

    `label` is the scientific name, which is always there, with `vernacular` beside it: the name in the language asked for, else that in
    English, else none. `label_language` says which it is; `la` if the scientific name stands alone.
    """

    vernacular: str = field()  # else the property that each of these takes the place of would count as its default
    label: str = field()
    label_language: str = field()


def labelled(taxon: Taxon) -> LabelledTaxon:
    """A taxon with its label, in the language that it has it in."""
    if isinstance(taxon, LabelledTaxon):
        return taxon
    return LabelledTaxon(**_columns(taxon), vernacular=taxon.vernacular, label=taxon.label, label_language=taxon.label_language)


def languages_of(knowledge: Knowledge) -> tuple[str, ...]:
    """The languages that labels can be had in, as tags in small letters (RFC 5646), in the order of the alphabet."""
    return tuple(sorted({ENGLISH, LATIN, *(each.language.lower() for each in knowledge.names if each.kind == "common")}))


def in_language(snapshot: Snapshot, language: str) -> Snapshot:
    """The same knowledge with the labels of taxa in a language: the same arrays, records and digest.

    Args:
        snapshot: the knowledge.
        language: one of `languages_of`; of the names that a taxon has in it the one stands in the label that most sources use, of several such the first
            by the alphabet.
    """
    if language == ENGLISH:
        return snapshot

    def body() -> Body:
        known = snapshot.knowledge
        names = _most_used(known, language)
        taxa = {key: _called(each, language, names.get(key, "")) for key, each in known.taxa.items()}
        return replace(snapshot.body, knowledge=replace(known, taxa=taxa))

    return replace(snapshot, load_body=body, memo={})


def _most_used(knowledge: Knowledge, language: str) -> dict[str, str]:
    """The name of each taxon that most sources use, of the taxa that have any in the language."""
    uses = Counter((each.taxon, each.name) for each in knowledge.names if each.kind == "common" and each.language.lower() == language)
    found: dict[str, str] = {}
    for taxon, name in sorted(uses, key=lambda each: (-uses[each], respelt(each[1].casefold()))):
        found.setdefault(taxon, name)
    return found


def _called(taxon: Taxon, language: str, name: str) -> Taxon:
    if language == LATIN:
        return LabelledTaxon(**_columns(taxon), vernacular="", label=taxon.scientific_name, label_language=LATIN)
    if not name:
        return taxon
    return LabelledTaxon(**_columns(taxon), vernacular=name, label=f"{taxon.scientific_name} ({name})", label_language=language)


def _columns(taxon: Taxon) -> dict[str, Any]:
    return {each.name: getattr(taxon, each.name) for each in fields(Taxon)}
