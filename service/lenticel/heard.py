"""Many different observations by number, and what each says of every taxon, in arrays that grow as new ones are heard."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
import numpy.typing as npt

from lenticel.engine import CONTRADICTS
from lenticel.errors import LenticelError
from lenticel.judging import judged
from lenticel.observation import Observation, Reader, closure, entails
from lenticel.snapshot import Snapshot, bits_of

Numbers = npt.NDArray[np.intp]
Table = npt.NDArray[np.bool_]
Kind = TypeVar("Kind", bound=np.generic)
REMEMBERED = 4096  # different observations; on a hundred and fifty taxa they take 6 MB
MANY_PAIRS = 1 << 20  # of observations of which is known whether one entails the other


class Heard:
    """The observations that were heard, each under a number from 1; 0 stands for none at all.

    `fits` are the taxa that each leaves (bits, (U + 1, W)), `bits` how much it speaks for each taxon (float64 (U + 1, N)); rows beyond `count` say nothing.
    """

    def __init__(self, snapshot: Snapshot, *, wild: bool, most: int = REMEMBERED) -> None:
        """`wild` says whether circumstance contradicts too; of more than `most` observations the old are forgotten."""
        self.snapshot, self.wild, self.most = snapshot, wild, most
        self.reader = Reader(snapshot)
        self._place = {key: place for place, key in enumerate(snapshot.knowledge.characters)}
        self._forget()

    def _forget(self) -> None:
        self._read: dict[tuple[str, str], int | LenticelError] = {}
        self._number: dict[str, int] = {}  # by text
        self.seen: list[Observation | None] = [None]
        none = np.ones((1, self.snapshot.taxa_count), np.bool_)
        self.fits, self.bits = bits_of(none), np.zeros(none.shape)
        self.parts = np.zeros(1, np.intp)
        self._kinds: dict[tuple[frozenset[int], frozenset[int]], int] = {}
        self._kind_of = np.zeros(1, np.intp)
        self._touching: Table | None = None
        self._order: Numbers | None = None
        self._drops: dict[int, bool] = {}

    @property
    def count(self) -> int:
        """How many were heard."""
        return len(self.seen) - 1

    def text(self, number: int) -> str:
        """An observation in words."""
        found = self.seen[number]
        return found.text if found else ""

    def room_for(self, pairs: int) -> None:
        """Make room for so many new ones."""
        if len(self._read) + pairs > self.most:
            self._forget()

    def number(self, pair: tuple[str, str]) -> int | LenticelError:
        """The number of a character and value, or why they cannot be read; those that mean the same have the same number."""
        found = self._read.get(pair)
        if found is None:
            try:
                observation = self.reader.observation(*pair)
                found = self._number.get(observation.text) or self._hear(observation)
            except LenticelError as error:
                found = error
            self._read[pair] = found
        return found

    def _hear(self, observation: Observation) -> int:
        number = len(self.seen)
        if number == len(self.bits):
            self.fits, self.bits = _doubled(self.fits), _doubled(self.bits)
            self.parts, self._kind_of = _doubled(self.parts), _doubled(self._kind_of)
        said = judged(self.snapshot, observation, wild=self.wild)
        self.fits[number], self.bits[number], self.parts[number] = bits_of(said.levels != CONTRADICTS), said.bits, len(observation.parts)
        known, partitions = self.snapshot.knowledge, self.snapshot.body.partitions
        about = frozenset(self._place[part.character] for part in observation.parts)
        reached = frozenset(self._place[each.character] for part in observation.parts for each in closure(known, partitions, part))
        kinds = len(self._kinds)
        self._kind_of[number] = self._kinds.setdefault((about, reached), kinds)
        self._touching = self._touching if len(self._kinds) == kinds else None
        self._order = None
        self.seen.append(observation)
        self._number[observation.text] = number
        return number

    def order(self) -> Numbers:
        """The place of each number among all in the order of their texts, which is that in which `identify` adds up; none at all comes last."""
        if self._order is None:
            texts = np.array([self.text(number) for number in range(1, len(self.seen))], object)
            self._order = np.full(len(self.seen), self.count)
            self._order[1 + np.argsort(texts, kind="stable")] = np.arange(self.count)
        return self._order

    def drops(self, strong: Numbers, weak: Numbers) -> Table:
        """Whether the first of each two entails the second, and is the one to keep if they entail each other."""
        result = np.zeros(len(strong), np.bool_)
        rows = np.flatnonzero((strong != weak) & (strong > 0) & (weak > 0))
        rows = rows[self._touches()[self._kind_of[strong[rows]], self._kind_of[weak[rows]]]]
        different, inverse = np.unique(strong[rows] * len(self.seen) + weak[rows], return_inverse=True)
        if len(self._drops) > MANY_PAIRS:
            self._drops.clear()
        result[rows] = np.array([self._dropped(*divmod(code, len(self.seen))) for code in different.tolist()], np.bool_)[inverse]
        return result

    def _touches(self) -> Table:
        """Which kinds of observations may entail which, by the characters that they reach."""
        if self._touching is None:
            about, reached = (np.zeros((len(self._kinds), len(self._place)), np.float32) for _ in range(2))
            for row, (of, to) in enumerate(self._kinds):
                about[row, list(of)], reached[row, list(to)] = 1, 1
            self._touching = reached @ about.T > 0
        return self._touching

    def _dropped(self, strong: int, weak: int) -> bool:
        key = strong << 32 | weak
        if key not in self._drops:
            one, other = self.seen[strong], self.seen[weak]
            assert one is not None
            assert other is not None
            self._drops[key] = entails(self.snapshot, one, other) and (one.text < other.text or not entails(self.snapshot, other, one))
        return self._drops[key]


def _doubled(rows: npt.NDArray[Kind]) -> npt.NDArray[Kind]:
    """Twice as many rows, the new ones as the first."""
    return np.concatenate([rows, np.repeat(rows[:1], len(rows), axis=0)])
