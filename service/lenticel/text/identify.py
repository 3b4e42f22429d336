"""An identify answer as text."""

from __future__ import annotations

from collections.abc import Iterator

from lenticel.doubt import Doubts
from lenticel.identify import Answer, TaxonVerdict
from lenticel.judging import Mark
from lenticel.model import Knowledge
from lenticel.text.doubt import set_line
from lenticel.text.parts import cited, named, warned
from lenticel.timing import season_of

LISTED = 20
NEAR = 8
DOUBTED = 3


def identify_text(knowledge: Knowledge, answer: Answer, *, out: int = 5, because: int = 2, doubts: Doubts | None = None) -> Iterator[str]:
    """An identify answer, line by line.

    Args:
        knowledge: the records.
        answer: the answer.
        out: how many of the taxa that remain, and how many of the excluded, to give with their reasons.
        because: how many citations to give for each reason.
        doubts: where nothing remains, what to doubt.
    """
    yield "Seen: " + "; ".join(answer.observations) if answer.observations else "Nothing was observed."
    for weak, strong in answer.implied:
        yield f"  ({weak} says nothing beyond {strong})"
    for each in answer.out_of_season:
        yield f"  (in {season_of(answer.month)} {each} can hardly be seen: is it old, or a slip?)"
    yield ""
    total = len(answer.consistent) + len(answer.excluded)
    yield f"{len(answer.consistent)} of {total} remain{', taken as wild' if answer.wild else ''}:"
    for place, verdict in enumerate(answer.consistent[:LISTED]):
        now = f"; due now: {', '.join(knowledge.characters[key].label for key in answer.due[verdict.taxon])}" if verdict.taxon in answer.due else ""
        share = f"{verdict.share:.0%}; " if answer.observations else ""
        yield f"  {verdict.label}: {share}{verdict.agrees} agree, {verdict.atypical} atypical, {verdict.silent} unknown{now}"
        for mark in verdict.marks:
            if mark.verdict == "atypical" and place < out:
                yield from _mark(knowledge, answer, mark, because)
    if len(answer.consistent) > LISTED:
        yield f"  and {len(answer.consistent) - LISTED} more, less likely"
    if not answer.consistent:
        yield "  none. At least one observation may be wrong, or the plant is not in this knowledge."
        yield from _to_doubt(knowledge, doubts)
    slipped = [each for each in answer.likeliest if each.slips]
    if slipped and answer.consistent and answer.likeliest[0].slips:
        best = slipped[0]
        yield f"  If one may be a slip, {knowledge.taxa[best.taxon].label} is likelier than each of these ({best.share:.0%} of all)."
    if answer.near:
        slips = answer.excluded[0].slips
        yield ""
        yield f"Nearest of what is out ({'one slip' if slips == 1 else f'{slips} slips'} away): {named(knowledge, answer.near, NEAR)}"
    if answer.excluded and out:
        yield ""
        yield "Out, nearest first:"
        for verdict in answer.excluded[:out]:
            yield from _excluded(knowledge, answer, verdict, because)
        if len(answer.excluded) > out:
            yield f"  and {len(answer.excluded) - out} more"
    remaining = {rank for verdict in answer.consistent for rank in knowledge.lineage(verdict.taxon)}
    yield from warned(knowledge, answer.cautions, lambda taxon: taxon not in remaining)
    yield ""
    yield f"Knowledge {answer.digest[:16]}. What remains is what the sources do not rule out; it is no promise that the plant is among them."


def _to_doubt(knowledge: Knowledge, doubts: Doubts | None) -> Iterator[str]:
    """The observations to doubt first, a line a set."""
    if doubts and doubts.sets:
        yield ""
        yield "Doubt first (`lenticel doubt` says more):"
        yield from (f"  {set_line(knowledge, each)}" for each in doubts.sets[:DOUBTED])
    elif doubts:
        yield f"  At least {doubts.fewest} observations would have to be wrong."


def _excluded(knowledge: Knowledge, answer: Answer, verdict: TaxonVerdict, because: int) -> Iterator[str]:
    yield f"  {verdict.label}: {verdict.slips} contradiction{'s' if verdict.slips > 1 else ''}"
    for mark in verdict.marks:
        if mark.verdict == "contradicts":
            yield from _mark(knowledge, answer, mark, because)


def _mark(knowledge: Knowledge, answer: Answer, mark: Mark, because: int) -> Iterator[str]:
    for ground in mark.grounds:
        label = knowledge.characters[ground.character].label
        seen = f"{mark.observation}, which means {label}: {ground.seen}" if ground.entailed else f"{label}: {ground.seen}"
        yield f"    {mark.verdict}: {seen}; it shows {ground.shown}"
        yield from cited(answer.citations, ground.statements, because)
