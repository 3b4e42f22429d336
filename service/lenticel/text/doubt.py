"""What to doubt, as text."""

from __future__ import annotations

from collections.abc import Iterator

from lenticel.doubt import Doubts, DoubtSet, NearMiss
from lenticel.model import Knowledge
from lenticel.text.parts import cited, named, warned


def doubt_text(knowledge: Knowledge, answer: Doubts, *, listed: int = 5, because: int = 1) -> Iterator[str]:
    """What to doubt and the near misses, line by line.

    Args:
        knowledge: the records.
        answer: the answer.
        listed: how many sets, and how many taxa of each and of the near misses, to give with what they would have shown.
        because: how many citations to give for each.
    """
    yield "Seen: " + "; ".join(answer.observations) if answer.observations else "Nothing was observed."
    yield ""
    if answer.consistent:
        remain = "1 remains" if len(answer.consistent) == 1 else f"{len(answer.consistent)} remain"
        yield f"{remain}, so that nothing need be doubted: {named(knowledge, answer.consistent, listed)}"
    elif not answer.fewest:
        yield "There is no taxon in this knowledge."
    elif not answer.sets:
        yield f"Nothing fits, and nothing would if any {answer.most} observations were wrong: it takes at least {answer.fewest}. Look again from the start,"
        yield "or ask whether the plant is one that this knowledge does not hold."
    else:
        yield "Nothing fits. Doubt one of these, what is got wrong most easily first:"
        for each in answer.sets[:listed]:
            yield from _set(knowledge, answer, each, listed, because)
        if len(answer.sets) > listed:
            yield f"  and {len(answer.sets) - listed} more"
        yield f"Sets of more than {answer.most} slips are not listed. Or the plant is one that this knowledge does not hold."
    for slips, words in ((1, "One slip away"), (2, "Two slips away")):
        chosen = [miss for miss in answer.near if miss.slips == slips]
        if chosen:
            yield ""
            yield f"{words} ({len(chosen)}):"
            for miss in chosen[:listed]:
                yield from _miss(knowledge, answer, miss, because)
            if len(chosen) > listed:
                yield f"  and {named(knowledge, [miss.taxon for miss in chosen[listed:]], 3 * listed)}"
    remaining = {rank for taxon in answer.consistent for rank in knowledge.lineage(taxon)}
    yield from warned(knowledge, answer.cautions, lambda taxon: taxon not in remaining, "if some of it is wrong")
    yield ""
    yield f"Knowledge {answer.digest[:16]}. What is got wrong most easily is a rule of thumb; only looking again tells."


def set_line(knowledge: Knowledge, each: DoubtSet, listed: int = 3) -> str:
    """One set of doubtful observations in a line: what to withdraw, why that is easily got wrong, and what it would leave."""
    roots = [f"{suspect.observation} ({', '.join(suspect.reasons)})" for suspect in each.withdrawn if not suspect.follows]
    follow = [suspect.observation for suspect in each.withdrawn if suspect.follows]
    with_it = f", and with it {', '.join(follow)}" if follow else ""
    return f"{' and '.join(roots)}{with_it}: leaves {named(knowledge, [miss.taxon for miss in each.left], listed)}"


def _set(knowledge: Knowledge, answer: Doubts, each: DoubtSet, listed: int, because: int) -> Iterator[str]:
    yield f"  {set_line(knowledge, each, listed)}"
    for miss in each.left[:listed]:
        yield from _miss(knowledge, answer, miss, because, "    ")


def _miss(knowledge: Knowledge, answer: Doubts, miss: NearMiss, because: int, indent: str = "  ") -> Iterator[str]:
    """A taxon, and what it would have shown in place of each observation."""
    yield f"{indent}{miss.label}"
    for mark in miss.marks:
        for ground in mark.grounds:
            seen = f"{mark.observation}, which means {ground.seen}" if ground.entailed else mark.observation
            yield f"{indent}  not {seen}, but {knowledge.characters[ground.character].label}: {ground.shown}"
            yield from cited(answer.citations, ground.statements, because, f"{indent}    ")
