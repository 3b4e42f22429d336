"""Judged claims as text."""

from __future__ import annotations

from collections.abc import Iterator

from lenticel.claims import SUPPORTED, Claims, JudgedClaim
from lenticel.model import Knowledge
from lenticel.text.parts import cited, warned


def claims_text(knowledge: Knowledge, answer: Claims, *, because: int = 2) -> Iterator[str]:
    """Claims with their verdicts, the sources on either side, and what a careful writer would say, line by line."""
    for each in answer.judged:
        yield from _claim(knowledge, answer, each, because)
    for bad in answer.bad:
        yield f"{bad.row}. cannot be judged ({bad.code}, {bad.field}): {bad.message} {bad.fix}"
    counts = ", ".join(f"{count} {verdict}" for verdict, count in answer.counts.items() if count)
    yield f"\n{len(answer.judged)} claims judged: {counts or 'none'}" + (f"; {len(answer.bad)} cannot be judged." if answer.bad else ".")
    yield from warned(knowledge, answer.cautions)
    yield ""
    yield f"Knowledge {answer.digest[:16]}. Supported means that sources say so, not that it must be right."


def _claim(knowledge: Knowledge, answer: Claims, each: JudgedClaim, because: int) -> Iterator[str]:
    yield f"{each.row}. {each.label}, {knowledge.characters[each.character].label}: {each.claimed}: {each.verdict}"
    if len(each.parts) > 1:
        yield "    " + "; ".join(f"{part.claimed}: {part.verdict}" for part in each.parts)
    if any(part.partly_outside for part in each.parts):
        yield "    part of it lies beyond all that the sources allow, their slack included"
    sides = (("say so", each.supporting), ("leave no room for it" if not each.disputed else "but these leave no room for it", each.against))
    for words, statements in (*sides, ("say otherwise", each.other if each.verdict != SUPPORTED else ())):
        if statements:
            yield f"    {words}:"
            yield from cited(answer.citations, statements, because)
    yield f"    write: {each.instead}"
