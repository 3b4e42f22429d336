"""A comparison as text."""

from __future__ import annotations

from collections.abc import Iterator

from lenticel.compare import Comparison
from lenticel.model import Knowledge
from lenticel.text.parts import cited, warned


def compare_text(knowledge: Knowledge, answer: Comparison, *, because: int = 1) -> Iterator[str]:
    """A comparison, line by line."""
    yield "Compared: " + ", ".join(knowledge.taxa[each].label for each in answer.taxa) + (f", in {answer.season}" if answer.season else "")
    for force, title in (("decisive", "Decisive: no plant can be both"), ("typical", "Typical: the usual plants differ")):
        chosen = [each for each in answer.separators if each.force == force]
        if chosen:
            yield ""
            yield f"{title}"
        for each in chosen:
            character = knowledge.characters[each.character]
            yield f"  {character.label} ({each.organ}; {', '.join(each.seasons)}; {each.needs})"
            if len(answer.taxa) > 2:
                yield "    separates " + "; ".join(f"{knowledge.taxa[a].scientific_name} from {knowledge.taxa[b].scientific_name}" for a, b in each.pairs)
            for shown in each.shown:
                yield f"    {knowledge.taxa[shown.taxon].scientific_name}: {shown.shown}"
                yield from cited(answer.citations, shown.statements, because)
    for pairs, sentence in ((answer.inseparable, "Nothing here separates"), (answer.undecided, "Nothing decides between")):
        if pairs:
            yield ""
        for one, other in pairs:
            if pairs is answer.inseparable or (one, other) not in answer.inseparable:
                yield f"{sentence} {knowledge.taxa[one].scientific_name} and {knowledge.taxa[other].scientific_name}" + (
                    f" in {answer.season}." if answer.season else "."
                )
    for lookalike in answer.lookalikes:
        yield f"Look-alikes: {lookalike.reason} ({knowledge.sources[lookalike.source].citation} {lookalike.locator})"
    yield from warned(knowledge, answer.cautions)
    yield ""
    yield f"Knowledge {answer.digest[:16]}."
