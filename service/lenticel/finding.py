"""Finding terms by the words that people use: part of a name, another word for it, another spelling, and where nothing holds the word, what is nearest."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches

from lenticel.errors import UnknownTerm
from lenticel.model import Knowledge
from lenticel.spelling import respelt

NEAREST = 3


@dataclass(frozen=True, slots=True)
class Found:
    """The terms found, best first; `by` is the word that found them, and `note` says so where it is not the word that was asked for."""

    keys: tuple[str, ...]
    by: str
    note: str = ""


def characters_found(knowledge: Knowledge, word: str) -> Found:
    """The characters that a word means or that take a state which it means; those that are so called themselves come first.

    Raises:
        UnknownTerm: nothing holds the word or is near it.
    """
    own = {key: (key, each.label, each.organ, *each.synonyms) for key, each in knowledge.characters.items()}
    states = {key: tuple(name for each in knowledge.states_of(key) for name in (each.id, each.label, *each.synonyms)) for key in own}
    return _found(word, own, states)


def taxa_found(knowledge: Knowledge, word: str) -> Found:
    """The taxa that a word is part of a name of, accepted names first.

    Raises:
        UnknownTerm: nothing holds the word or is near it.
    """
    own = {key: (key, each.scientific_name, each.common_name) for key, each in knowledge.taxa.items()}
    others: dict[str, tuple[str, ...]] = {}
    for name in knowledge.names:
        others[name.taxon] = (*others.get(name.taxon, ()), name.name)
    return _found(word, own, {key: others.get(key, ()) for key in own})


def _found(word: str, *groups: Mapping[str, tuple[str, ...]]) -> Found:
    wanted = " ".join(word.split()).casefold()
    as_written = _holding(wanted, groups, str.casefold)
    if as_written:
        return Found(as_written, wanted)
    plain = respelt(wanted)
    respelled = _holding(plain, groups, _plain)
    if respelled:
        return Found(respelled, plain, f"{word!r} is found in another spelling.")
    near = get_close_matches(plain[:80], list(dict.fromkeys(_single(groups))), n=NEAREST)
    if not near:
        raise UnknownTerm(f"No term holds {word[:60]!r} or anything near it.", "Try a part of the word, or leave it out to list every term.")
    keys = dict.fromkeys(key for each in near for key in _holding(each, groups, _plain))
    return Found(tuple(keys), near[0], f"No term holds {word[:60]!r}; the nearest are {', '.join(map(repr, near))}.")


def _holding(wanted: str, groups: Iterable[Mapping[str, tuple[str, ...]]], fold: Callable[[str], str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(key for group in groups for key, names in group.items() if wanted in fold(" ".join(names))))


def _single(groups: Iterable[Mapping[str, tuple[str, ...]]]) -> Iterator[str]:
    """Every name whole, and every word of it."""
    for group in groups:
        for names in group.values():
            for name in names:
                yield _plain(name)
                yield from _plain(name).replace("-", " ").split()


def _plain(text: str) -> str:
    return respelt(text.casefold())
