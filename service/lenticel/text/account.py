"""Accounts and disagreements as text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from lenticel.account import Account, Disagreement
from lenticel.cite import citations
from lenticel.model import Knowledge
from lenticel.text.parts import cited, warned


def account_text(knowledge: Knowledge, answer: Account, *, because: int = 3) -> Iterator[str]:
    """An account, line by line."""
    yield f"{answer.taxon.label}" + (f" {answer.taxon.authorship}" if answer.taxon.authorship else "")
    if answer.lineage:
        yield f"  {answer.taxon.rank} of {', '.join(knowledge.taxa[each].label for each in answer.lineage)}"
    if answer.taxon.hybrid_parents:
        yield f"  hybrid of {' and '.join(knowledge.taxa[each].label for each in answer.taxon.hybrid_parents)}"
    if answer.names:
        yield f"  also called {', '.join(sorted({name.name for name in answer.names}))}"
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
    yield f"\nKnowledge {answer.digest[:16]}."


def disagreements_text(knowledge: Knowledge, found: Sequence[Disagreement]) -> Iterator[str]:
    """Disagreements with both citations and how each is understood, line by line."""
    for each in found:
        yield f"{knowledge.taxa[each.taxon].label}, {knowledge.characters[each.character].label}:"
        for citation in citations(knowledge, (each.one, each.other)).values():
            yield f"    {citation.short}, {citation.locator}: {citation.value}"
        if each.resolution:
            yield f"    {each.resolution.reason}: {each.resolution.text} ({each.resolution.by}, {each.resolution.date})"
    yield f"{len(found)} pairs of statements disagree."
