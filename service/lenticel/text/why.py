"""Justifications as text."""

from __future__ import annotations

from collections.abc import Iterator

from lenticel.justify import ALL, BOUND, Justification, Line, Why
from lenticel.model import Knowledge
from lenticel.text.parts import cited, warned

HOW = {"decisive": "no plant can be so", "wild": "no wild plant can be so; planted ones can", "typical": "only the usual plants; others can be so"}


def why_text(knowledge: Knowledge, answer: Why, *, because: int = 5, axioms: bool = False) -> Iterator[str]:
    """The justifications, line by line.

    Args:
        knowledge: the records.
        answer: the answer.
        because: how many citations to give for each line that statements draw.
        axioms: whether to list the axioms too.
    """
    yield ", ".join(knowledge.taxa[each].label for each in answer.taxa)
    if not answer.justifications:
        yield ""
        yield "It is not out: nothing that was seen contradicts it."
    for each in answer.justifications:
        yield ""
        yield each.words
        for line in each.lines:
            yield from _line(knowledge, answer, line, because)
        if axioms:
            yield from _axioms(each)
    yield from warned(knowledge, answer.cautions)
    yield ""
    yield f"Knowledge {answer.digest[:16]}."


def _line(knowledge: Knowledge, answer: Why, line: Line, because: int) -> Iterator[str]:
    taxon, character = knowledge.taxa[line.taxon], knowledge.characters[line.character]
    count = len(line.statements)
    how = "one statement draws this line"
    if line.drawn_by == ALL:
        how = f"these {count} statements draw this line together; each one more could only widen it"
    elif line.drawn_by == BOUND:
        how = f"of {line.of} statements, {'this one reaches' if count == 1 else f'these {count} reach'} furthest"
    wider = "; it goes beyond what they print, by the slack or by states that are taken for theirs" if line.widened else ""
    yield f"  {taxon.scientific_name}, {character.label}: {line.shown}"
    yield f"    ({how}{wider})"
    yield from cited(answer.citations, line.statements, because, "    ")


def _axioms(each: Justification) -> Iterator[str]:
    yield f"  Axioms, just enough for: {each.entailment} ({HOW[each.force]})"
    for step in each.steps:
        yield f"    {step.owl}"
        yield f"      {step.words}"
