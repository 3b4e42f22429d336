"""Which known word a written one surely means, where that leaves no doubt."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping

SHORTEST = 5  # a slip in a shorter word may well be another word
_BRITISH = {"gray": "grey", "color": "colour", "odor": "odour", "center": "centre", "fiber": "fibre", "sulfur": "sulphur", "mold": "mould", "plow": "plough"}
_DENIES = frozenset({"not", "no", "never", "neither", "nor", "without", "except", "nearly", "almost", "hardly", "scarcely", "non", "un"})
_AMERICAN = re.compile("|".join(_BRITISH))


def folded(word: str) -> str:
    """The word without what is mere style: case, blanks or underscores in place of hyphens, hyphens at its ends."""
    return re.sub(r"[\s_‐‑–-]+", "-", word.casefold()).strip("-")


def respelt(word: str) -> str:
    """The word, in small letters, without accents and with American spellings made British, so that either finds the other."""
    return _AMERICAN.sub(lambda found: _BRITISH[found[0]], word if word.isascii() else _unaccented(word))


def _unaccented(word: str) -> str:
    """The word without the marks on its letters, and with the apostrophe that keyboards have."""
    return "".join(each for each in unicodedata.normalize("NFD", word) if not unicodedata.combining(each)).replace("’", "'")


def one_slip(one: str, other: str) -> bool:
    """Whether one letter left out, put in, mistaken or swapped with the next makes one word of the other.

    The four slips are those of F. J. Damerau, "A technique for computer detection and correction of spelling errors",
    Communications of the ACM 7 (1964), p. 171.
    """
    same = next((place for place, (a, b) in enumerate(zip(one, other, strict=False)) if a != b), min(len(one), len(other)))
    a, b = one[same:], other[same:]
    return one != other and (a[1:] == b or a == b[1:] or a[1:] == b[1:] or (a[:2] == b[1::-1] and a[2:] == b[2:]))


class Words:
    """The words by which terms are known: identifiers, labels, synonyms."""

    def __init__(self, terms: Mapping[str, Iterable[str]]) -> None:
        self.ids = set(terms)
        self.spelled: dict[str, set[str]] = {}
        for key, words in terms.items():
            for word in (key, *words):
                self.spelled.setdefault(respelt(folded(word)), set()).add(key)

    def meant(self, word: str) -> str:
        """The identifier that a word means: its own, that of the one term so called in either spelling, that of the only one a slip away; else the word.

        A slip in the first letter or a figure is not taken for one: `asymmetrical` is not `symmetrical`, 1913 not 1918.
        """
        if word in self.ids:
            return word
        plain = respelt(folded(word))
        found = self.spelled.get(plain) or {key for known, keys in self.spelled.items() if _surely(plain, known) for key in keys}
        return next(iter(found)) if len(found) == 1 else word

    def held(self, text: str) -> list[str]:
        """The terms that single words of a text mean, in their order, each once; "reddish" means what "red" does. None of a text that denies or doubts."""
        words = re.findall(r"[^\W\d_]+", text.casefold())
        if _DENIES.intersection(words):
            return []
        meant = (self.meant(stem) for word in words for stem in _stems(word))
        return list(dict.fromkeys(each for each in meant if each in self.ids))

    def called(self, word: str) -> bool:
        """Whether a term is so called by a word other than its identifier, in either spelling; a slip is no other word."""
        plain = respelt(folded(word))
        return plain in self.spelled and plain not in {respelt(key) for key in self.spelled[plain]}


def _stems(word: str) -> Iterator[str]:
    """The word, and if it ends in -ish what that may have been made of: grayish of gray, reddish of red, whitish of white."""
    yield word
    if word.endswith("ish"):
        stem = word.removesuffix("ish")
        yield from (stem, f"{stem}e", stem[:-1] if stem[-2:-1] == stem[-1:] else stem)


def _surely(word: str, known: str) -> bool:
    return min(len(word), len(known)) >= SHORTEST and word[0] == known[0] and re.findall(r"\d", word) == re.findall(r"\d", known) and one_slip(word, known)
