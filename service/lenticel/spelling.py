"""Which known word a written one surely means, where that leaves no doubt."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping

SHORTEST = 5  # a slip in a shorter word may well be another word
_BRITISH = {"gray": "grey", "color": "colour", "odor": "odour", "center": "centre", "fiber": "fibre", "sulfur": "sulphur", "mold": "mould", "plow": "plough"}
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


def _surely(word: str, known: str) -> bool:
    return min(len(word), len(known)) >= SHORTEST and word[0] == known[0] and re.findall(r"\d", word) == re.findall(r"\d", known) and one_slip(word, known)
