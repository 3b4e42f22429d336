"""Accounts and disagreements as text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from lenticel.account import Account
from lenticel.disputes import Dispute
from lenticel.languages import LATIN
from lenticel.model import ENGLISH, Knowledge, Name
from lenticel.text.parts import cited, warned


def account_text(knowledge: Knowledge, answer: Account, *, because: int = 3) -> Iterator[str]:
    """An account, line by line."""
    yield f"{answer.taxon.label}" + (f" {answer.taxon.authorship}" if answer.taxon.authorship else "")
    if answer.lineage:
        yield f"  {answer.taxon.rank} of {', '.join(knowledge.taxa[each].label for each in answer.lineage)}"
    if answer.taxon.hybrid_parents:
        yield f"  hybrid of {' and '.join(knowledge.taxa[each].label for each in answer.taxon.hybrid_parents)}"
    if answer.names:
        yield f"  also called {', '.join(sorted({_name(name) for name in answer.names}))}"
    organ = ""
    for trait in answer.traits:
        character = knowledge.characters[trait.character]
        if character.organ != organ:
            organ = character.organ
            yield f"\n{organ.capitalize()}"
        yield f"  {character.label}: {trait.shown}{' (sources disagree)' if trait.disputed else ''}"
        yield from cited(answer.citations, trait.statements, because)
    for lookalike in answer.lookalikes:
        others = ", ".join(knowledge.taxa[each].label for each in lookalike.taxa if each != answer.taxon.id)
        yield f"\nTaken for {others}: {lookalike.reason} ({knowledge.sources[lookalike.source].citation} {lookalike.locator})"
    yield from warned(knowledge, answer.cautions)
    yield ""
    yield from _provenance(answer)
    yield f"Knowledge {answer.digest[:16]}."


def _name(name: Name) -> str:
    return name.name if name.language in (ENGLISH, LATIN) else f"{name.name} ({name.language})"


def _provenance(answer: Account) -> Iterator[str]:
    """Who recorded the statements, how many were read back, and which of them were not found right."""
    told = answer.provenance.values()
    days = {by: sorted(each.recorded for each in told if each.recorded_by == by) for by in sorted({each.recorded_by for each in told if each.recorded_by})}
    for by, found in days.items():
        yield f"{len(found)} of {len(told)} statements recorded by {by}, {found[0]}{f' to {found[-1]}' if found[-1] != found[0] else ''}."
    read = [each for each in told if each.verdict]
    right = ", all right" if read and all(each.verdict == "right" for each in read) else ""
    yield f"{len(read)} of {len(told)} statements read back against their sources{right}."
    for key, each in answer.provenance.items():
        if each.verdict not in ("", "right"):
            yield f"  {key}: {each.verdict} ({each.read_by}, {each.read})"


def disagreements_text(knowledge: Knowledge, found: Sequence[Dispute]) -> Iterator[str]:
    """Disagreements with both citations, what each side alone would exclude, and how each is understood, line by line."""
    for each in found:
        yield f"{knowledge.taxa[each.taxon].label}, {knowledge.characters[each.character].label}:"
        for side in each.sides:
            often = f"{side.citation.frequency} " if side.citation.frequency else ""
            yield f"    {side.citation.short}, {side.citation.locator}: {often}{side.citation.value}"
            yield (
                f"        alone, it would rule out a plant that shows {side.excludes}"
                if side.excludes
                else "        alone, it would rule out nothing that the other says"
            )
        if each.resolution:
            yield f"    {each.resolution.reason}: {each.resolution.text} ({each.resolution.by}, {each.resolution.date})"
    yield f"{len(found)} pairs of statements disagree."
