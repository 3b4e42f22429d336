"""A key as plain text and as Markdown: numbered couplets, back-numbers in brackets, leads with letters."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from string import ascii_lowercase

from lenticel.keys import Couplet, End, Key, Lead
from lenticel.model import Caution, Knowledge
from lenticel.text.following import means
from lenticel.text.parts import LEAVE_BE, named, warned

SOURCES = 4  # named at a couplet
TYPICAL = "What follows a lead with “usually” rests on what is usual: the ends behind it name also the taxa that fit without being usual."
LOGIC = "A plant that fits a taxon, as far as the sources go, is never sent away from it; one that is of no taxon of this key may still end in one."


def title(knowledge: Knowledge, answer: Key) -> str:
    """What the key is to, and for when."""
    return f"Key to {named(knowledge, answer.group, 5)}" + (f" in {answer.season}" if answer.season else "")


def key_text(knowledge: Knowledge, answer: Key) -> Iterator[str]:
    """A key, line by line, as plain text."""
    yield title(knowledge, answer)
    yield from means("", answer.kit, answer.parts)
    yield summary(answer)
    for couplet in answer.couplets:
        yield ""
        yield f"{couplet.number}{_back(couplet)}"
        for letter, lead in zip(ascii_lowercase, couplet.leads, strict=False):
            yield f"  {letter}  {lead_words(couplet, lead)} — {goes(knowledge, answer, lead)}"
        yield f"     ({sources(answer, couplet)})"
    if answer.end:
        yield ""
        yield ends(knowledge, answer, answer.end)
    yield ""
    yield from notes(answer)
    yield from warned(knowledge, answer.cautions)
    yield ""
    yield f"Knowledge {answer.digest[:16]}."


def key_markdown(knowledge: Knowledge, answer: Key) -> Iterator[str]:
    """A key as a page of Markdown (CommonMark)."""
    yield f"# {_marked(title(knowledge, answer))}"
    yield ""
    yield " ".join((*means("", answer.kit, answer.parts), summary(answer)))
    for couplet in answer.couplets:
        yield ""
        yield f"**{couplet.number}**{_back(couplet)}"
        yield ""
        for letter, lead in zip(ascii_lowercase, couplet.leads, strict=False):
            there = goes(knowledge, answer, lead)
            yield f"- {letter}. {_marked(lead_words(couplet, lead))} → **{_marked(there)}**"
        yield ""
        yield f"  <small>{_marked(sources(answer, couplet))}</small>"
    if answer.end:
        yield ""
        yield _marked(ends(knowledge, answer, answer.end))
    yield ""
    for line in notes(answer):
        yield f"{_marked(line)}  "
    if answer.cautions:
        yield ""
        yield "## Caution"
        yield ""
        for each in answer.cautions:
            yield f"- {_marked(caution_words(knowledge, each))}"
        yield ""
        yield f"**{LEAVE_BE}**"
    yield ""
    yield "## Sources"
    yield ""
    for line in references(answer):
        yield f"- {_marked(line)}"
    yield ""
    yield f"Knowledge {answer.digest[:16]}."


def summary(answer: Key) -> str:
    """How long the key is."""
    decided = sum(not each.typical for each in answer.couplets)
    usual = len(answer.couplets) - decided
    more = f", and {usual} by what is usual" if usual else ""
    return f"{len(answer.taxa)} taxa; {decided} couplet{'s' if decided != 1 else ''} that decide{more}; at most {answer.longest} on any way."


def notes(answer: Key) -> Iterator[str]:
    """What the reader must know of any key, and of this one."""
    yield LOGIC
    if any(each.typical for each in answer.couplets):
        yield TYPICAL
    every = [*(lead.end for each in answer.couplets for lead in each.leads if lead.end), *([answer.end] if answer.end else [])]
    if any(each.cut for each in every):
        yield "Where it says so, the key was cut short for its length; ask for fewer taxa to go on."


def lead_words(couplet: Couplet, lead: Lead) -> str:
    """What is seen, with what tells that it is only usual."""
    return f"usually {lead.words}" if couplet.typical else lead.words[:1].upper() + lead.words[1:]


def goes(knowledge: Knowledge, answer: Key, lead: Lead) -> str:
    """Where a lead goes."""
    if lead.to:
        return str(lead.to)
    return ends(knowledge, answer, lead.end) if lead.end else "none of these"


def ends(knowledge: Knowledge, answer: Key, end: End) -> str:
    """The taxa in which a path ends, in words."""
    warn = {caution.taxon for caution in answer.cautions}
    also = _names(knowledge, end.also, warn)
    found = " or ".join(_each(knowledge, end.taxa, warn))
    if not end.taxa:
        found = f"usual of none; may be {also}"
    elif also:
        found += f"; may also be {also}"
    several = len(end.taxa) > 1 or not end.taxa
    why = "the key is cut short here" if end.cut else "nothing here tells them apart" if several and not also else ""
    other = (
        f"{', '.join(knowledge.characters[key].label for key in end.elsewhere[:4])} would, in another season or with other means"
        if end.elsewhere and several
        else ""
    )
    return found + (f" ({'; '.join(filter(None, (why, other)))})" if why or other else "")


def _each(knowledge: Knowledge, taxa: Iterable[str], warn: set[str]) -> list[str]:
    """The names, each with a mark if cautions stand below, on it or on a rank above it."""
    return [knowledge.taxa[each].scientific_name + (" (caution)" if warn.intersection(knowledge.lineage(each)) else "") for each in taxa]


def _names(knowledge: Knowledge, taxa: Iterable[str], warn: set[str]) -> str:
    return ", ".join(_each(knowledge, taxa, warn))


def sources(answer: Key, couplet: Couplet) -> str:
    """On whose word a couplet rests, briefly."""
    short = list(dict.fromkeys(answer.citations[key].short for each in couplet.shown for key in each.statements))
    more = f" and {len(short) - SOURCES} more" if len(short) > SOURCES else ""
    unsaid = sum(not each.statements for each in couplet.shown)
    silent = f"; nothing is stated of {unsaid} of the {len(couplet.shown)}" if unsaid else ""
    return f"{', '.join(short[:SOURCES])}{more}{silent}"


def references(answer: Key) -> list[str]:
    """Every source in full, in order of their names."""
    return sorted({each.citation for each in answer.citations.values()})


def caution_words(knowledge: Knowledge, caution: Caution) -> str:
    """A caution in a line."""
    source = f"{knowledge.sources[caution.source].short}, {caution.locator}"
    return f"{knowledge.taxa[caution.taxon].label}, {caution.kind}: {caution.harm} {caution.advice} ({source})"


def _back(couplet: Couplet) -> str:
    return f" ({', '.join(str(number) for number in couplet.back)})" if couplet.back else ""


def _marked(text: str) -> str:
    """Text whose marks mean nothing to Markdown."""
    return "".join(f"\\{sign}" if sign in "\\`*_[]<>#" else sign for sign in text)
