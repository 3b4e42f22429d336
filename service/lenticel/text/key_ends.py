"""Where the leads of a key go, in words: to a couplet, or to an end with the taxa that usually show all of it and those that may."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from lenticel.keys import Couplet, End, Key, Lead, either
from lenticel.model import Knowledge

MANY = 3  # names, beyond which it is rather said which of the others are left out
MARK = " (caution)"
CUT = "the key is cut short here"

Words = tuple[str, str]  # what to set in bold, and what follows it


def among(knowledge: Knowledge, answer: Key, couplet: Couplet) -> Iterator[str]:
    """The taxa that come to a couplet from which on only what is usual tells: the ends behind it refer to them."""
    if couplet.typical and _entry(answer, couplet) is couplet:
        yield f"By what is usual, among {', '.join(_names(knowledge, answer, _taxa(couplet)))}:"


def goes(knowledge: Knowledge, answer: Key, couplet: Couplet, lead: Lead) -> Words:
    """Where a lead goes."""
    if lead.to:
        return str(lead.to), ""
    return where_it_ends(knowledge, answer, lead.end, couplet) if lead.end else ("none of these", "")


def where_it_ends(knowledge: Knowledge, answer: Key, end: End, couplet: Couplet | None = None) -> Words:
    """The taxa in which a path ends, behind a couplet unless the key has none."""
    names = _names(knowledge, answer, (*end.taxa, *end.also))
    usual, others = names[: len(end.taxa)], names[len(end.taxa) :]
    found = either(usual) if usual else "none usually"
    if others and couplet:
        cut = f" ({CUT})" if end.cut else ""
        return found, f"; possibly {'also ' if usual else ''}{_others(knowledge, answer, end, others, _entry(answer, couplet))}{cut}"
    if len(usual) < 2:
        return found, ""
    why = CUT if end.cut else f"{'little' if end.little else 'nothing'} here tells them apart"
    other = f"; {labels(knowledge, end.elsewhere)} would, in another season or with other means" if end.elsewhere else ""
    return found, f" ({why}{other})"


def _entry(answer: Key, couplet: Couplet) -> Couplet:
    """The first couplet on a way to this one from which on only what is usual tells."""
    while couplet.back and (before := answer.couplets[couplet.back[0] - 1]).typical:
        couplet = before
    return couplet


def _taxa(couplet: Couplet) -> list[str]:
    return [each.taxon for each in couplet.shown]


def _others(knowledge: Knowledge, answer: Key, end: End, names: Sequence[str], entry: Couplet) -> str:
    """Those that fit without being usual; where they are many, by which of the taxa that came to the entry are left out."""
    left_out = [each for each in _taxa(entry) if each not in end.taxa and each not in end.also]
    if len(names) <= max(MANY, len(left_out)) or not set(end.also) <= set(_taxa(entry)):
        return either(names)
    marked = MARK if any(each.endswith(MARK) for each in names) else ""
    but = _names(knowledge, answer, (*end.taxa, *left_out), marked=False)[len(end.taxa) :]
    return f"any {'other ' if end.taxa else ''}listed at {entry.number}{marked}" + (f", except {either(but)}" if but else "")


def labels(knowledge: Knowledge, characters: Sequence[str]) -> str:
    """A few characters by their labels."""
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
