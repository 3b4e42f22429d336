"""What is known, and in which words, as text."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from lenticel.coverage import THIN, Coverage
from lenticel.model import Character, Knowledge, State
from lenticel.spelling import respelt


def coverage_text(knowledge: Knowledge, answer: Coverage, season: str) -> Iterator[str]:
    """The coverage, line by line; pairs for one season."""
    seasons = list(answer.thin)
    yield f"{'taxon':44}{'sources':>8}{'all':>6}" + "".join(f"{each:>8}" for each in seasons) + "   characters known, and of those that can be seen in a season"
    for each in sorted(answer.taxa, key=lambda each: each.by_season[season]):
        yield f"{each.label[:43]:44}{each.sources:>8}{each.characters:>6}" + "".join(f"{each.by_season[name]:>8}" for name in seasons)
    organs = sorted({organ for each in answer.taxa for organ in each.by_organ})
    yield ""
    for organ in organs:
        least = sorted(answer.taxa, key=lambda each: each.by_organ.get(organ, 0))[:4]
        yield f"thinnest on {organ}: " + ", ".join(f"{knowledge.taxa[each.taxon].scientific_name} ({each.by_organ.get(organ, 0)})" for each in least)
    yield ""
    yield f"Fewer than {THIN} characters in {season}: " + (", ".join(knowledge.taxa[each].scientific_name for each in answer.thin[season]) or "none")
    yield "Known of fewer than a tenth of the taxa: " + (", ".join(answer.rare) or "none")
    pairs = len(answer.taxa) * (len(answer.taxa) - 1) // 2
    open_, same = len(answer.unseparated[season]), len(answer.inseparable[season])
    yield f"Of {pairs} pairs, {open_} are decided by no character in {season}, {same} not even told apart by what is usual:"
    for one, other in answer.inseparable[season]:
        yield f"  {knowledge.taxa[one].scientific_name} and {knowledge.taxa[other].scientific_name}"
    yield f"Knowledge {answer.digest[:16]}."


def terms_text(knowledge: Knowledge, characters: Iterable[Character], word: str = "") -> Iterator[str]:
    """Characters, each with the states or the kind of figure that it takes; a state that a word found by another name has that name beside it.

    A single character, or the one whose identifier the word is, comes with all definitions.
    """
    chosen = list(characters)
    for each in chosen:
        figure = {"count": "a number", "month": "months, such as 4-5"}.get(each.kind, f"a value in {each.unit}")
        states = knowledge.states_of(each.id)
        yield f"{each.id}  ({each.label}; {', '.join(each.seasons)}; {each.needs})"
        yield f"    {', '.join(_state(state, word) for state in states) or figure}"
        if len(chosen) == 1 or each.id == word:
            yield f"  {each.definition}"
            yield f"  What a row leaves out is {'ruled out' if each.exhaustive else 'not ruled out'}, unless it says otherwise in `exhaustive`."
            yield from (f"  {_with(state.id, state.synonyms)}: {state.definition}" for state in states)


def _state(state: State, word: str) -> str:
    also = [name for name in state.synonyms if respelt(word) in respelt(name.casefold())] if word and word not in state.id else []
    return _with(state.id, also)


def _with(key: str, words: Iterable[str]) -> str:
    told = ", ".join(words)
    return f"{key} ({told})" if told else key
