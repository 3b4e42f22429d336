"""A comparison as text."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from lenticel.compare import FIRST, Comparison, Gap, Separator
from lenticel.model import COMMON_PRACTICE, SEASONS, Knowledge
from lenticel.text.parts import cited, warned

LISTED = 8
SURE = {
    "decisive": "no plant can be both",
    "typical": "the usual plants differ",
    "tendency": "they tend to differ",
    "one-sided": "said of one, of the other nothing is known",
}


def compare_text(knowledge: Knowledge, answer: Comparison, *, because: int = 1) -> Iterator[str]:
    """A comparison, line by line: where to look first, every separator with its sources, what is idle to look at, and what is wanting."""
    yield "Compared: " + ", ".join(knowledge.taxa[each].label for each in answer.taxa) + (f", in {answer.season}" if answer.season else "")
    if answer.separators:
        yield ""
        yield "Look first at:"
        for place, each in enumerate(answer.separators[:FIRST], 1):
            yield f"  {place}. {knowledge.characters[each.character].label} ({reasons(knowledge, each)})"
    for force, title in (("decisive", "Decisive: no plant can be both"), ("typical", "Typical: the usual plants differ")):
        chosen = [each for each in answer.separators if each.force == force]
        if chosen:
            yield ""
            yield f"{title}"
        for each in chosen:
            yield from _separator(knowledge, answer, each, because)
    for force, title in (("tendency", "By tendency: what is usual overlaps"), ("one-sided", "Said of one only: the other may show it too")):
        yield from _brief(knowledge, title, [each for each in answer.separators if each.force == force])
    if answer.shared:
        yield ""
        yield "Alike, so do not look there: " + "; ".join(knowledge.characters[each.character].label for each in answer.shared)
    yield from _wanting(knowledge, answer)
    for lookalike in answer.lookalikes:
        yield f"Look-alikes: {lookalike.reason} ({knowledge.sources[lookalike.source].citation} {lookalike.locator})"
    yield from warned(knowledge, answer.cautions)
    yield ""
    yield f"Knowledge {answer.digest[:16]}."


def reasons(knowledge: Knowledge, each: Separator) -> str:
    """What speaks for looking at a character: how surely it separates, how many sources set the taxa apart by it."""
    found = [SURE[each.force]]
    if each.named:
        found.append(f"named as what tells them apart{_by(knowledge, each.named)}")
    if each.contrasted:
        found.append(f"differing so in {', '.join(knowledge.sources[key].short for key in each.contrasted[:2])}")
    return "; ".join(found)


def _by(knowledge: Knowledge, records: Iterable[str]) -> str:
    """Who names a character, if no publication does: common practice or memory."""
    sources = [knowledge.sources[knowledge.lookalikes[each].source] for each in records]
    if any(each.published for each in sources):
        return ""
    return " by common practice" if any(each.kind == COMMON_PRACTICE for each in sources) else " from memory"


def _separator(knowledge: Knowledge, answer: Comparison, each: Separator, because: int) -> Iterator[str]:
    character = knowledge.characters[each.character]
    yield f"  {character.label} ({each.organ}; {', '.join(each.seasons)}; {each.needs})"
    if len(answer.taxa) > 2:
        yield "    separates " + "; ".join(f"{knowledge.taxa[a].scientific_name} from {knowledge.taxa[b].scientific_name}" for a, b in each.pairs)
    for shown in each.shown:
        yield f"    {knowledge.taxa[shown.taxon].scientific_name}: {shown.shown}"
        yield from cited(answer.citations, shown.statements, because)


def _brief(knowledge: Knowledge, title: str, chosen: Sequence[Separator]) -> Iterator[str]:
    """Separators, a line each."""
    if chosen:
        yield ""
        yield title
    for each in chosen[:LISTED]:
        shown = "; ".join(f"{knowledge.taxa[one.taxon].scientific_name} {one.shown}" for one in each.shown)
        yield f"  {knowledge.characters[each.character].label}: {shown}"
    if len(chosen) > LISTED:
        yield f"  and {len(chosen) - LISTED} more"


def _wanting(knowledge: Knowledge, answer: Comparison) -> Iterator[str]:
    """What nothing separates, and without what or when nothing does."""
    for pairs, sentence in ((answer.inseparable, "Nothing here separates"), (answer.undecided, "Nothing decides between")):
        if pairs:
            yield ""
        for one, other in pairs:
            if pairs is answer.inseparable or (one, other) not in answer.inseparable:
                yield f"{sentence} {knowledge.taxa[one].scientific_name} and {knowledge.taxa[other].scientific_name}" + (
                    f" in {answer.season}." if answer.season else "."
                )
    for gap in answer.gaps:
        yield from gap_text(knowledge, gap, answer.season)


def gap_text(knowledge: Knowledge, gap: Gap, season: str) -> Iterator[str]:
    """In which other seasons, and without which organs, a pair cannot be told apart."""
    one, other = (knowledge.taxa[each].scientific_name for each in gap.pair)
    if gap.organs:
        yield f"Without the {' and the '.join(gap.organs)} nothing here separates {one} and {other}{f' in {season}' if season else ''}."
    blind = [each for each in gap.seasons if each != season]
    if blind:
        yield f"Nothing here separates {one} and {other} in {' or '.join(blind)}."
    elif gap.undecided and set(gap.undecided) != set(SEASONS) and not season:
        yield f"Nothing decides between {one} and {other} in {' or '.join(gap.undecided)}."
