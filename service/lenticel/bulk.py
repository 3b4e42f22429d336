"""Many plants at once: each different observation is judged once, and the plants are answered by array operations on what was found."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lenticel.cite import taxon_named
from lenticel.engine import CONTRADICTS
from lenticel.errors import LenticelError
from lenticel.identify import Context, identify
from lenticel.judging import judged
from lenticel.observation import Observation, Reader, closure, entails, read_observations
from lenticel.prior import prior
from lenticel.snapshot import Snapshot, bits_of

Numbers = npt.NDArray[np.intp]
Table = npt.NDArray[np.bool_]
AT_ONCE = 8192  # plants; their scores on a hundred and fifty taxa take 10 MB
REMEMBERED = 4096  # different observations
FEW_SEEN = 64  # a plant with more observations is answered by itself, since what entails what takes their number squared
TIE = 0.011  # bits; scores nearer than that may round alike, and are ordered as `identify` orders them


@dataclass(frozen=True, slots=True)
class Plant:
    """The answer for one plant; either `error`, or the rest.

    `consistent` are the taxa that remain, in the order of the snapshot; `first` is the likeliest of them and `share` how likely it is among them
    ("" and 0 if none remains, or ranks were not asked for). If a taxon was claimed, `verdict` is agree or contradict, and
    `contradicting` the observations that contradict it, in words. `cautions` are those that `identify` gives: on what remains, and on what one
    observation alone rules out.
    """

    consistent: tuple[str, ...] = ()
    first: str = ""
    share: float = 0.0
    claimed: str = ""
    verdict: str = ""
    contradicting: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    error: LenticelError | None = None


@dataclass(frozen=True, slots=True)
class Asked:
    """The questions about some plants.

    `pairs` are different pairs (character, value) as text; `codes` (int) names one a row, plant after plant; those of plant `i` lie from
    `starts[i]` to `starts[i + 1]`. `claims` are the taxa they are said to be, "" where nothing is said.
    """

    pairs: Sequence[tuple[str, str]]
    codes: Numbers
    starts: Numbers
    claims: Sequence[str] = ()

    def __len__(self) -> int:
        return len(self.starts) - 1

    def rows(self, plant: int) -> list[tuple[str, str]]:
        """What was seen of one plant."""
        return [self.pairs[code] for code in self.codes[self.starts[plant] : self.starts[plant + 1]]]


class Cautioned:
    """Which cautions bear on sets of taxa."""

    def __init__(self, snapshot: Snapshot) -> None:
        known = snapshot.knowledge
        self._ids = sorted(known.cautions)
        lines = [set(known.lineage(taxon)) for taxon in snapshot.taxa]
        bears = np.array([[known.cautions[key].taxon in line for line in lines] for key in self._ids], np.bool_)
        self._words = bits_of(bears.reshape(len(self._ids), snapshot.taxa_count))

    def of(self, taxa: npt.NDArray[np.uint64]) -> list[tuple[str, ...]]:
        """The cautions on each of many sets of taxa, which are given as bits, a set a row."""
        found = (taxa[:, None, :] & self._words[None]).any(axis=2)
        patterns, inverse = np.unique(found, axis=0, return_inverse=True)
        named = [tuple(key for key, bears in zip(self._ids, row, strict=True) if bears) for row in patterns.tolist()]
        return [named[each] for each in inverse.reshape(-1).tolist()]


class Bulk:
    """Answers many plants as `identify` answers each, from one snapshot.

    Args:
        snapshot: the knowledge.
        context: what is known of all the plants. With a month each is answered by itself, which takes longer: what the month says hangs on what
            was seen.
        ranks: whether the likeliest taxon is asked for.
    """

    def __init__(self, snapshot: Snapshot, context: Context | None = None, *, ranks: bool = True) -> None:
        self.snapshot, self.context, self.ranks = snapshot, context or Context(), ranks
        self._reader = Reader(snapshot)
        self._prior = prior(snapshot, (), region=self.context.region)
        self._place = {key: place for place, key in enumerate(snapshot.knowledge.characters)}
        self._claims: dict[str, str] = {}
        self._cautioned = Cautioned(snapshot)
        self._forget()

    def _forget(self) -> None:
        self._number: dict[str, int] = {}  # by text
        self._read: dict[tuple[str, str], int | LenticelError] = {}
        self._seen: list[Observation] = []
        self._drops: dict[tuple[int, int], bool] = {}
        self._tables: tuple[Table, npt.NDArray[np.float64], Table] | None = None

    def answer(self, asked: Asked) -> Iterator[Plant]:
        """The answers, plant by plant, in the order asked."""
        for start in range(0, len(asked), AT_ONCE):
            yield from self._some(asked, start, min(start + AT_ONCE, len(asked)))

    def _some(self, asked: Asked, start: int, end: int) -> Iterator[Plant]:
        """Answer the plants from `start` to `end`, in halves where they show more different things than are remembered."""
        used = np.unique(asked.codes[asked.starts[start] : asked.starts[end]])
        if len(used) > REMEMBERED and end - start > 1:
            middle = (start + end) // 2
            yield from self._some(asked, start, middle)
            yield from self._some(asked, middle, end)
            return
        if len(self._read) + len(used) > REMEMBERED:
            self._forget()
        numbers = np.full(len(asked.pairs), -1)
        for code in used.tolist():
            found = self._numbered(asked.pairs[code])
            numbers[code] = found if isinstance(found, int) else -1
        counts = np.diff(asked.starts[start : end + 1])
        flat = numbers[asked.codes[asked.starts[start] : asked.starts[end]]]
        broken = np.bincount(np.repeat(np.arange(end - start), counts)[flat < 0], minlength=end - start) > 0
        parts = np.array([len(each.parts) for each in self._seen] or [0])
        many = np.bincount(np.repeat(np.arange(end - start), counts), weights=np.where(flat < 0, 0, parts[flat]), minlength=end - start) > FEW_SEEN
        together = np.flatnonzero(~broken & ~many & (self.context.month == 0))
        answers = dict(zip(together.tolist(), self._together(asked, start, together, numbers), strict=True))
        for place in range(end - start):
            yield answers[place] if place in answers else self._alone(asked, start + place)

    def _numbered(self, pair: tuple[str, str]) -> int | LenticelError:
        """The number of an observation, or why it cannot be read; those that mean the same have the same number."""
        if pair not in self._read:
            try:
                found = self._reader.observation(*pair)
            except LenticelError as error:
                self._read[pair] = error
                return error
            if found.text not in self._number:
                self._number[found.text] = len(self._seen)
                self._seen.append(found)
                self._tables = None
            self._read[pair] = self._number[found.text]
        return self._read[pair]

    def _claimed(self, name: str) -> str:
        """The taxon that a name means; what is no name is not remembered."""
        if name not in self._claims:
            try:
                self._claims[name] = taxon_named(self.snapshot.knowledge, name)
            except LenticelError as error:
                raise error.at("/taxon") from None
        return self._claims[name]

    def _alone(self, asked: Asked, plant: int) -> Plant:
        """One plant by `identify` itself, which also says what is wrong with it."""
        claim = asked.claims[plant] if asked.claims else ""
        try:
            observations = read_observations(self._reader, asked.rows(plant))
            claimed = self._claimed(claim) if claim else ""
        except LenticelError as error:
            return Plant(error=error)
        answer = identify(self.snapshot, observations, self.context, explain=0)
        left = answer.consistent
        against = self._against(observations, claimed) if claimed else ()
        names = sorted((each.taxon for each in left), key=self.snapshot.place_of.__getitem__)
        first, share = (left[0].taxon, left[0].share) if left and self.ranks else ("", 0.0)
        cautions = tuple(each.id for each in answer.cautions)
        return Plant(tuple(names), first, share, claimed, ("contradict" if against else "agree") if claimed else "", against, cautions)

    def _against(self, observations: list[Observation], claimed: str) -> tuple[str, ...]:
        """The observations that contradict a taxon of any rank, in words."""
        answer = identify(self.snapshot, observations, self.context, every_rank=True)
        marks = next(each.marks for each in (*answer.consistent, *answer.excluded) if each.taxon == claimed)
        return tuple(mark.observation for mark in marks if mark.verdict == "contradicts")

    def _made(self) -> tuple[Table, npt.NDArray[np.float64], Table]:
        """Of each observation, and of none at all in the last row: which taxa it contradicts (U + 1, N); how much it speaks for each, in bits
        (U + 1, N); and which others it may entail, by the characters that it reaches (U + 1, U + 1)."""
        if self._tables is None:
            known = self.snapshot.knowledge
            heard = [judged(self.snapshot, each, wild=self.context.wild) for each in self._seen]
            against = np.zeros((len(heard) + 1, self.snapshot.taxa_count), np.bool_)
            bits = np.zeros(against.shape)
            reached, about = (np.zeros((len(heard) + 1, len(self._place)), np.float32) for _ in range(2))
            for row, each in enumerate(heard):
                against[row], bits[row] = each.levels == CONTRADICTS, each.bits
                for part in each.observation.parts:
                    about[row, self._place[part.character]] = 1
                    for entailed in closure(known, self.snapshot.body.partitions, part):
                        reached[row, self._place[entailed.character]] = 1
            self._tables = against, bits, reached @ about.T > 0
        return self._tables

    def _together(self, asked: Asked, start: int, plants: Numbers, numbers: Numbers) -> Iterator[Plant]:
        if not len(plants):
            return
        against, bits, touches = self._made()
        seen = self._kept(self._sorted(asked, start + plants, numbers), touches)
        count = self.snapshot.taxa_count
        words = bits_of(~against)
        left = np.repeat(self.snapshot.terminal[None], len(plants), axis=0)
        near = left.copy()  # what at most one observation contradicts
        scores = np.repeat(self._prior[None], len(plants), axis=0) if self.ranks else np.zeros((0, 0))
        for column in seen.T:
            near = left | near & words[column]
            left &= words[column]
            if self.ranks:
                scores += bits[column]
        fits = np.unpackbits(np.ascontiguousarray(left).view(np.uint8), axis=1, count=None, bitorder="little")[:, :count].view(np.bool_)
        first, share = self._first(fits, scores) if self.ranks else (np.full(len(plants), -1), np.zeros(len(plants)))
        yield from self._worded(asked, start + plants, seen, fits, first, share, self._cautioned.of(near))

    def _sorted(self, asked: Asked, plants: Numbers, numbers: Numbers) -> Numbers:
        """The observations of each plant, in the order of their texts, which is that in which `identify` adds up; (plants, most seen), filled up with U."""
        nothing = len(self._seen)
        order = np.argsort(np.array([each.text for each in self._seen] or [""], dtype=object), kind="stable")
        rank = np.empty(nothing + 1, np.intp)
        rank[order[:nothing]] = np.arange(nothing)
        rank[nothing] = nothing
        counts = asked.starts[plants + 1] - asked.starts[plants]
        found = np.full((len(plants), max(1, int(counts.max(initial=0)))), nothing)
        for column in range(found.shape[1]):
            rows = np.flatnonzero(counts > column)
            found[rows, column] = rank[numbers[asked.codes[asked.starts[plants[rows]] + column]]]
        found.sort(axis=1)
        return np.asarray(np.append(order[:nothing], nothing)[found])

    def _kept(self, seen: Numbers, touches: Table) -> Numbers:
        """The same without what is repeated or entailed by another of the plant, as `distinct` leaves it out."""
        nothing = len(self._seen)
        result = seen.copy()
        result[:, 1:][seen[:, 1:] == seen[:, :-1]] = nothing
        for weak in range(seen.shape[1]):
            for strong in range(seen.shape[1]):
                rows = np.flatnonzero(touches[seen[:, strong], seen[:, weak]] & (seen[:, strong] != seen[:, weak]))
                if not len(rows):
                    continue
                codes, inverse = np.unique(seen[rows, strong] * (nothing + 1) + seen[rows, weak], return_inverse=True)
                drops = np.array([self._dropped(*divmod(code, nothing + 1)) for code in codes.tolist()])
                result[rows[drops[inverse]], weak] = nothing
        return result

    def _dropped(self, strong: int, weak: int) -> bool:
        """Whether the first entails the second, and is the one to keep if they entail each other."""
        if (strong, weak) not in self._drops:
            one, other = self._seen[strong], self._seen[weak]
            self._drops[strong, weak] = entails(self.snapshot, one, other) and (one.text < other.text or not entails(self.snapshot, other, one))
        return self._drops[strong, weak]

    def _first(self, fits: Table, scores: npt.NDArray[np.float64]) -> tuple[Numbers, npt.NDArray[np.float64]]:
        """The likeliest taxon that remains (-1 if none) and its share of those that remain."""
        scores[~fits] = -np.inf
        first = scores.argmax(axis=1)
        best = scores[np.arange(len(first)), first]
        some = fits.any(axis=1)
        near = scores >= np.where(some, best - TIE, np.inf)[:, None]
        for row in np.flatnonzero(near.sum(axis=1) > 1).tolist():
            tied = np.flatnonzero(near[row]).tolist()
            first[row] = min(tied, key=lambda taxon: (-round(float(scores[row, taxon]), 2), self.snapshot.taxa[taxon]))
        best = np.where(some, best, 0)
        total = np.exp2(scores - best[:, None]).sum(axis=1)
        share = np.exp2(scores[np.arange(len(first)), first] - best) / np.where(some, total, 1)
        return np.where(some, first, -1), np.where(some, share, 0).round(4)

    def _worded(
        self, asked: Asked, plants: Numbers, seen: Numbers, fits: Table, first: Numbers, share: npt.NDArray[np.float64], cautions: list[tuple[str, ...]]
    ) -> Iterator[Plant]:
        taxa, against = self.snapshot.taxa, self._made()[0]
        rows, columns = fits.nonzero()
        names = [taxa[column] for column in columns.tolist()]
        ends = np.searchsorted(rows, np.arange(len(plants) + 1)).tolist()
        for place, (plant, best, part) in enumerate(zip(plants.tolist(), first.tolist(), share.tolist(), strict=True)):
            remain, name = tuple(names[ends[place] : ends[place + 1]]), taxa[best] if best >= 0 else ""
            claim = asked.claims[plant] if asked.claims else ""
            if not claim:
                yield Plant(remain, name, part, cautions=cautions[place])
                continue
            try:
                claimed = self._claimed(claim)
            except LenticelError as error:
                yield Plant(error=error)
                continue
            wrong = seen[place][against[seen[place], self.snapshot.place_of[claimed]]]
            texts = tuple(self._seen[each].text for each in wrong.tolist())
            yield Plant(remain, name, part, claimed, "contradict" if texts else "agree", texts, cautions[place])


def asked_of(plants: Sequence[Sequence[tuple[str, str]]], claims: Sequence[str] = ()) -> Asked:
    """The questions about plants that are given as lists of (character, value)."""
    numbers: dict[tuple[str, str], int] = {}
    codes = [numbers.setdefault(pair, len(numbers)) for plant in plants for pair in plant]
    return Asked(list(numbers), np.array(codes, np.intp), np.cumsum([0, *map(len, plants)]), claims)
