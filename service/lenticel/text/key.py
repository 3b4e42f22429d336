"""A key as plain text and as Markdown: numbered couplets, back-numbers in brackets, leads with letters."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from string import ascii_lowercase

from lenticel.keys import Couplet, Key, Lead
from lenticel.model import Caution, Knowledge
from lenticel.text.following import means
from lenticel.text.key_ends import among, goes, labels, where_it_ends
from lenticel.text.parts import LEAVE_BE, by_touch, named, warned

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
        yield from (f"     {line}" for line in among(knowledge, answer, couplet))
        for letter, lead in zip(ascii_lowercase, couplet.leads, strict=False):
            yield f"  {letter}  {lead_words(lead)} — {''.join(goes(knowledge, answer, couplet, lead))}"
        yield f"     ({sources(answer, couplet)})"
    if answer.end:
        yield ""
        yield "".join(where_it_ends(knowledge, answer, answer.end))
    yield ""
    yield from notes(knowledge, answer)
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
        yield " ".join((f"**{couplet.number}**{_back(couplet)}", *(_marked(line) for line in among(knowledge, answer, couplet))))
        yield ""
        for letter, lead in zip(ascii_lowercase, couplet.leads, strict=False):
            there, more = goes(knowledge, answer, couplet, lead)
            yield f"- {letter}. {_marked(lead_words(lead))} → **{_marked(there)}**{_marked(more)}"
        yield ""
        yield f"  <small>{_marked(sources(answer, couplet))}</small>"
    if answer.end:
        yield ""
        yield _marked("".join(where_it_ends(knowledge, answer, answer.end)))
    yield ""
    for line in notes(knowledge, answer):
        yield f"{_marked(line)}  "
    if answer.cautions:
        yield ""
        yield "## Caution"
        yield ""
        for each in by_touch(answer.cautions):
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
    couplets = "1 couplet that decides" if decided == 1 else f"{decided} couplets that decide"
    return f"{len(answer.taxa)} taxa; {couplets}{more}; at most {answer.longest} on any way."


def notes(knowledge: Knowledge, answer: Key) -> Iterator[str]:
    """What the reader must know of any key, and of this one."""
    yield LOGIC
    if any(each.typical for each in answer.couplets):
        yield TYPICAL
    every = [*(lead.end for each in answer.couplets for lead in each.leads if lead.end), *([answer.end] if answer.end else [])]
    if any(each.cut for each in every):
        yield "Where it says so, the key was cut short for its length; ask for fewer taxa to go on."
    if any(each.little for each in every):
        yield "What would strike off too few names is not asked; ask for a key to the taxa of such an end alone to go on."
    if elsewhere := [key for key, _ in Counter(key for each in every if each.also for key in each.elsewhere).most_common()]:
        yield f"More would be told apart by {labels(knowledge, elsewhere)}, in another season or with other means."


def lead_words(lead: Lead) -> str:
    """What is seen, as a sentence begins."""
    return lead.words[:1].upper() + lead.words[1:]


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
