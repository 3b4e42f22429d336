"""A key as plain text and as Markdown: numbered couplets, back-numbers in brackets, leads with letters."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from string import ascii_lowercase

from lenticel.keys import Couplet, End, Key, Lead, either
from lenticel.model import Caution, Knowledge
from lenticel.text.following import means
from lenticel.text.parts import LEAVE_BE, named, warned

SOURCES = 4  # named at a couplet
MANY = 5  # names, beyond which it is rather said which are left out
MARK = " (caution)"
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
            yield f"  {letter}  {lead_words(lead)} — {goes(knowledge, answer, lead)}"
        yield f"     ({sources(answer, couplet)})"
    if answer.end:
        yield ""
        yield ends(knowledge, answer, answer.end)
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
        yield f"**{couplet.number}**{_back(couplet)}"
        yield ""
        for letter, lead in zip(ascii_lowercase, couplet.leads, strict=False):
            there = goes(knowledge, answer, lead)
            yield f"- {letter}. {_marked(lead_words(lead))} → **{_marked(there)}**"
        yield ""
        yield f"  <small>{_marked(sources(answer, couplet))}</small>"
    if answer.end:
        yield ""
        yield _marked(ends(knowledge, answer, answer.end))
    yield ""
    for line in notes(knowledge, answer):
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
        yield f"More would be told apart by {_labels(knowledge, elsewhere)}, in another season or with other means."


def lead_words(lead: Lead) -> str:
    """What is seen, as a sentence begins."""
    return lead.words[:1].upper() + lead.words[1:]


def goes(knowledge: Knowledge, answer: Key, lead: Lead) -> str:
    """Where a lead goes."""
    if lead.to:
        return str(lead.to)
    return ends(knowledge, answer, lead.end) if lead.end else "none of these"


def ends(knowledge: Knowledge, answer: Key, end: End) -> str:
    """The taxa in which a path ends, in words."""
    names = _names(knowledge, answer, (*end.taxa, *end.also))
    usual, others = names[: len(end.taxa)], names[len(end.taxa) :]
    found = either(usual) if usual else "usual of none"
    if others:
        return f"{found}; may {'also ' if usual else ''}be {_others(knowledge, answer, end, others)}" + (" (the key is cut short here)" if end.cut else "")
    if len(usual) < 2:
        return found
    why = "the key is cut short here" if end.cut else f"{'little' if end.little else 'nothing'} here tells them apart"
    other = f"; {_labels(knowledge, end.elsewhere)} would, in another season or with other means" if end.elsewhere else ""
    return f"{found} ({why}{other})"


def _others(knowledge: Knowledge, answer: Key, end: End, names: Sequence[str]) -> str:
    """Those that fit without being usual; where they are many, by what is left of the key's taxa."""
    left_out = [each for each in answer.taxa if each not in end.taxa and each not in end.also]
    if len(names) <= max(MANY, len(left_out)):
        return either(names)
    marked = MARK if any(each.endswith(MARK) for each in names) else ""
    but = _names(knowledge, answer, (*end.taxa, *left_out), marked=False)[len(end.taxa) :]
    return f"any of the others{marked}" + (f" but {either(but)}" if but else "")


def _labels(knowledge: Knowledge, characters: Sequence[str]) -> str:
    return either([knowledge.characters[key].label for key in characters[:4]])


def _names(knowledge: Knowledge, answer: Key, taxa: Iterable[str], *, marked: bool = True) -> list[str]:
    """The names as print puts them, a genus in full where it comes first; each with a mark if cautions stand below, on it or on a rank above it."""
    warn = {caution.taxon for caution in answer.cautions} if marked else set()
    names: list[str] = []
    before = ""
    for each in taxa:
        genus, _, rest = knowledge.taxa[each].scientific_name.partition(" ")
        name = f"{genus[0]}. {rest}" if rest and genus == before else f"{genus} {rest}".strip()
        names.append(name + (MARK if warn.intersection(knowledge.lineage(each)) else ""))
        before = genus
    return names


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
