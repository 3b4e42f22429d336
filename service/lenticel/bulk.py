"""Many plants at once: each different observation is judged once, and the plants are answered by array operations on what was found."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lenticel.cite import taxon_named
from lenticel.errors import LenticelError
from lenticel.heard import REMEMBERED, Heard, Numbers, Table
from lenticel.identify import Context, identify
from lenticel.observation import Observation, read_observations
from lenticel.prior import prior
from lenticel.snapshot import Snapshot, bits_of

Floats = npt.NDArray[np.float64]
AT_ONCE = 8192  # plants
SCORED = 512  # plants; their scores on a hundred and fifty taxa take 600 kB, which a processor keeps at hand
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


@dataclass(frozen=True, slots=True)
class Block:
    """The answers to some plants in a row, as arrays.

    `fits` are the taxa that remain (bool (P, N)); `first` is the place of the likeliest (-1 if there is none) and `share` how likely it is; `cautions` are
    those of `Bulk.cautions` that bear on the plant (bool (P, K)). `claimed` holds the taxon, verdict and contradicting observations of each plant, if
    claims were made; `errors` tells of which plants nothing of all this is said, and why.
    """

    fits: Table
    first: Numbers
    share: Floats
    cautions: Table
    claimed: list[tuple[str, str, tuple[str, ...]]]
    errors: dict[int, LenticelError]


class Bulk:
    """Answers many plants as `identify` answers each, from one snapshot.

    Args:
        snapshot: the knowledge.
        context: what is known of all the plants. With a month each is answered by itself, which takes longer: what the month says hangs on what
            was seen.
        ranks: whether the likeliest taxon is asked for.
        remembered: how many different observations are remembered; each takes some 1.5 kB for a hundred and fifty taxa.
    """

    def __init__(self, snapshot: Snapshot, context: Context | None = None, *, ranks: bool = True, remembered: int = REMEMBERED) -> None:
        self.snapshot, self.context, self.ranks = snapshot, context or Context(), ranks
        self._heard = Heard(snapshot, wild=self.context.wild, most=remembered)
        self._prior = prior(snapshot, (), region=self.context.region)
        self._claims: dict[str, str] = {}
        known = snapshot.knowledge
        lines = [set(known.lineage(taxon)) for taxon in snapshot.taxa]
        self.cautions = sorted(known.cautions)
        bears = np.array([[known.cautions[key].taxon in line for line in lines] for key in self.cautions], np.bool_)
        self._bears = bits_of(bears.reshape(len(self.cautions), snapshot.taxa_count))

    def answer(self, asked: Asked) -> Iterator[Plant]:
        """The answers, plant by plant, in the order asked."""
        taxa = self.snapshot.taxa
        for block in self.blocks(asked):
            for place, (first, share) in enumerate(zip(block.first.tolist(), block.share.tolist(), strict=True)):
                if place in block.errors:
                    yield Plant(error=block.errors[place])
                    continue
                remain = tuple(taxa[each] for each in np.flatnonzero(block.fits[place]).tolist())
                claimed = block.claimed[place] if block.claimed else ("", "", ())
                cautions = tuple(self.cautions[each] for each in np.flatnonzero(block.cautions[place]).tolist())
                yield Plant(remain, taxa[first] if first >= 0 else "", share, *claimed, cautions)

    def blocks(self, asked: Asked) -> Iterator[Block]:
        """The same as arrays, some plants at a time."""
        for start in range(0, len(asked), AT_ONCE):
            yield from self._some(asked, start, min(start + AT_ONCE, len(asked)))

    def _some(self, asked: Asked, start: int, end: int) -> Iterator[Block]:
        """Answer the plants from `start` to `end`, in halves where they show more different things than are remembered."""
        used = np.unique(asked.codes[asked.starts[start] : asked.starts[end]])
        if len(used) > self._heard.most and end - start > 1:
            middle = (start + end) // 2
            yield from self._some(asked, start, middle)
            yield from self._some(asked, middle, end)
            return
        self._heard.room_for(len(used))
        numbers = np.full(len(asked.pairs), -1)
        for code in used.tolist():
            found = self._heard.number(asked.pairs[code])
            numbers[code] = found if isinstance(found, int) else -1
        plants = np.repeat(np.arange(end - start), np.diff(asked.starts[start : end + 1]))
        flat = numbers[asked.codes[asked.starts[start] : asked.starts[end]]]
        broken = np.bincount(plants[flat < 0], minlength=end - start) > 0
        many = np.bincount(plants, weights=np.where(flat < 0, 0, self._heard.parts[flat]), minlength=end - start) > FEW_SEEN
        together = ~broken & ~many & (self.context.month == 0)
        block = self._empty(end - start, claims=bool(asked.claims))
        self._together(asked, start, np.flatnonzero(together), numbers, block)
        for place in np.flatnonzero(~together).tolist():
            self._alone(asked, start + place, place, block)
        yield block

    def _empty(self, plants: int, *, claims: bool) -> Block:
        fits, cautions = (np.zeros((plants, width), np.bool_) for width in (self.snapshot.taxa_count, len(self.cautions)))
        return Block(fits, np.full(plants, -1), np.zeros(plants), cautions, [("", "", ())] * plants if claims else [], {})

    def _claimed(self, name: str) -> str:
        """The taxon that a name means; what is no name is not remembered."""
        if name not in self._claims:
            try:
                self._claims[name] = taxon_named(self.snapshot.knowledge, name)
            except LenticelError as error:
                raise error.at("/taxon") from None
        return self._claims[name]

    def _alone(self, asked: Asked, plant: int, place: int, block: Block) -> None:
        """Answer one plant by `identify` itself, which also says what is wrong with it."""
        claim = asked.claims[plant] if asked.claims else ""
        try:
            observations = read_observations(self._heard.reader, asked.rows(plant))
            claimed = self._claimed(claim) if claim else ""
        except LenticelError as error:
            block.errors[place] = error
            return
        answer = identify(self.snapshot, observations, self.context, explain=0)
        where = self.snapshot.place_of
        block.fits[place, [where[each.taxon] for each in answer.consistent]] = True
        block.cautions[place] = np.isin(self.cautions, [each.id for each in answer.cautions])
        if answer.consistent and self.ranks:
            block.first[place], block.share[place] = where[answer.consistent[0].taxon], answer.consistent[0].share
        if claimed:
            against = self._against(observations, claimed)
            block.claimed[place] = claimed, "contradict" if against else "agree", against

    def _against(self, observations: list[Observation], claimed: str) -> tuple[str, ...]:
        """The observations that contradict a taxon of any rank, in words."""
        answer = identify(self.snapshot, observations, self.context, every_rank=True)
        marks = next(each.marks for each in (*answer.consistent, *answer.excluded) if each.taxon == claimed)
        return tuple(mark.observation for mark in marks if mark.verdict == "contradicts")

    def _together(self, asked: Asked, start: int, places: Numbers, numbers: Numbers, block: Block) -> None:
        """Answer plants, of which all that was seen could be read, by array operations."""
        if not len(places):
            return
        seen = self._kept(self._sorted(asked, start + places, numbers))
        count = self.snapshot.taxa_count
        left = np.repeat(self.snapshot.terminal[None], len(places), axis=0)
        near = left.copy()  # what at most one observation contradicts
        for column in seen.T:
            words = self._heard.fits[column]
            near = left | near & words
            left &= words
        fits = np.unpackbits(np.ascontiguousarray(left).view(np.uint8), axis=1, count=None, bitorder="little")[:, :count].view(np.bool_)
        block.fits[places] = fits
        for place, bears in enumerate(self._bears):
            block.cautions[places, place] = (near & bears).any(axis=1)
        for low in range(0, len(places) if self.ranks else 0, SCORED):
            some = slice(low, low + SCORED)
            block.first[places[some]], block.share[places[some]] = self._first(fits[some], self._scores(seen[some]))
        if asked.claims:
            self._judge(asked, start, places, seen, block)

    def _judge(self, asked: Asked, start: int, places: Numbers, seen: Numbers, block: Block) -> None:
        """Hold what was seen of plants against what they are said to be."""
        for place, row in zip(places.tolist(), seen, strict=True):
            claim = asked.claims[start + place]
            if not claim:
                continue
            try:
                claimed = self._claimed(claim)
            except LenticelError as error:
                block.errors[place] = error
                continue
            word, bit = divmod(self.snapshot.place_of[claimed], 64)
            fits = self._heard.fits[row, word] >> np.uint64(bit) & np.uint64(1)
            texts = tuple(self._heard.text(number) for number in row[fits == 0].tolist())
            block.claimed[place] = claimed, "contradict" if texts else "agree", texts

    def _sorted(self, asked: Asked, plants: Numbers, numbers: Numbers) -> Numbers:
        """The observations of each plant, in the order in which `identify` adds up; (plants, most seen), filled up with none at all."""
        rank = self._heard.order()
        counts = asked.starts[plants + 1] - asked.starts[plants]
        found = np.full((len(plants), max(1, int(counts.max(initial=0)))), rank[0])
        for column in range(found.shape[1]):
            rows = np.flatnonzero(counts > column)
            found[rows, column] = rank[numbers[asked.codes[asked.starts[plants[rows]] + column]]]
        found.sort(axis=1)
        back = np.empty(len(rank), np.intp)
        back[rank] = np.arange(len(rank))
        return np.asarray(back[found])

    def _kept(self, seen: Numbers) -> Numbers:
        """The same without what is repeated or entailed by another of the plant, as `distinct` leaves it out."""
        result = seen.copy()
        result[:, 1:][seen[:, 1:] == seen[:, :-1]] = 0
        for weak in range(seen.shape[1]):
            for strong in range(seen.shape[1]):
                result[self._heard.drops(seen[:, strong], seen[:, weak]), weak] = 0
        return result

    def _scores(self, seen: Numbers) -> Floats:
        """How much all that was seen of each plant speaks for each taxon, in bits (P, N)."""
        scores = np.repeat(self._prior[None], len(seen), axis=0)
        said = np.empty_like(scores)
        for column in seen.T:
            scores += np.take(self._heard.bits, column, axis=0, out=said, mode="clip")
        return scores

    def _first(self, fits: Table, scores: Floats) -> tuple[Numbers, Floats]:
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


def asked_of(plants: Sequence[Sequence[tuple[str, str]]], claims: Sequence[str] = ()) -> Asked:
    """The questions about plants that are given as lists of (character, value)."""
    numbers: dict[tuple[str, str], int] = {}
    codes = [numbers.setdefault(pair, len(numbers)) for plant in plants for pair in plant]
    return Asked(list(numbers), np.array(codes, np.intp), np.cumsum([0, *map(len, plants)]), claims)
