"""Many questions as lines of JSON (a JSON text a line, RFC 8259, each ended by a line feed), and their answers line by line."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any

from lenticel.answers import as_json
from lenticel.budgets import UnderWay
from lenticel.bulk import Bulk, Plant, asked_of
from lenticel.claims import JudgedClaim, Judging
from lenticel.errors import LenticelError
from lenticel.heard import REMEMBERED
from lenticel.identify import Context
from lenticel.model import Caution
from lenticel.problems import of_line
from lenticel.requests import ClaimLine, PlantLine, Question, parse_request
from lenticel.snapshot import Snapshot

CONTEXTS = 16  # different ones of which what was worked out is kept


class TooLarge(LenticelError):
    """A line that is too long, or one too many."""

    code = "too-large"


class OutOfTime(LenticelError):
    """The time for a request of many lines is up."""

    code = "out-of-time"


@dataclass(frozen=True, slots=True)
class Limits:
    """What a request of many lines may take: so many lines, bytes a line, and seconds; and those that are under way now."""

    lines: int = 100_000
    line_bytes: int = 1 << 16
    seconds: float = 300.0
    under_way: UnderWay = field(default_factory=UnderWay)


LIMITS = Limits()


@dataclass(frozen=True, slots=True)
class Line:
    """One line: its number, counted from 1, and what it holds, or why that was not kept."""

    number: int
    content: bytes | TooLarge


class Lines:
    """Splits what comes in pieces into lines; of a line that is too long no more than the limit is ever held. Empty lines count, and are left out."""

    def __init__(self, longest: int) -> None:
        """`longest` is in bytes."""
        self._longest = longest
        self._held, self._number, self._over = bytearray(), 1, False

    def take(self, piece: bytes) -> Iterator[Line]:
        """The lines that a further piece completes."""
        *whole, rest = piece.split(b"\n")
        for part in whole:
            self._hold(part)
            yield from self.end()
        self._hold(rest)

    def end(self) -> Iterator[Line]:
        """The line that is held, now that nothing more of it comes; nothing if it is empty."""
        held, over, number = bytes(self._held).strip(b" \t\r"), self._over, self._number
        self._held, self._over, self._number = bytearray(), False, number + 1
        if over:
            yield Line(number, TooLarge(f"The line is longer than {self._longest} bytes.", "Ask about one plant a line."))
        elif held:
            yield Line(number, held)

    def _hold(self, part: bytes) -> None:
        self._over = self._over or len(self._held) + len(part) > self._longest
        if self._over:
            self._held.clear()
        else:
            self._held += part


@dataclass(frozen=True, slots=True)
class PlantAnswer:
    """The answer to one line that asks what a plant is; either `problem` or the rest.

    `plant` is what the line calls it. `consistent` are the `count` taxa that remain, in the order of the knowledge; `first` is the likeliest and `share`
    how likely it is among them. `taxon` is what the plant is said to be, `verdict` whether what was seen allows that (agree or contradict), and
    `contradicting` what speaks against it. `cautions` are identifiers; the closing line spells them out.
    """

    line: int
    plant: str | None = None
    count: int | None = None
    consistent: tuple[str, ...] = ()
    first: str | None = None
    share: float | None = None
    taxon: str | None = None
    verdict: str | None = None
    contradicting: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    problem: dict[str, Any] | None = None


@dataclass(frozen=True, slots=True)
class ClaimAnswer:
    """The answer to one line that holds a claim; either `problem` or `judged` and the `cautions` on its taxon. `claim` is what the line calls it."""

    line: int
    claim: str | None = None
    judged: JudgedClaim | None = None
    cautions: tuple[str, ...] = ()
    problem: dict[str, Any] | None = None


@dataclass(frozen=True, slots=True)
class Closing:
    """The last line: how many lines were answered, how many of them with a problem, from which knowledge, all cautions that they name, and, if not all
    that was sent was answered, why. Where this line is missing, the answer was cut off."""

    answered: int
    problems: int
    digest: str
    cautions: tuple[Caution, ...]
    stopped: dict[str, Any] | None = None


LineAnswer = PlantAnswer | ClaimAnswer


class Answering(ABC):
    """Answers lines, and at the end says what there is to say of all of them."""

    def __init__(self, snapshot: Snapshot) -> None:
        self.snapshot = snapshot
        self._count, self._problems, self._cautions = 0, 0, set[str]()

    def answer(self, lines: Sequence[Line]) -> list[LineAnswer]:
        """The answers, in the order of the lines."""
        answers = self._answers(lines)
        self._count += len(answers)
        self._problems += sum(each.problem is not None for each in answers)
        self._cautions.update(*(each.cautions for each in answers))
        return answers

    @abstractmethod
    def _answers(self, lines: Sequence[Line]) -> list[LineAnswer]: ...

    def closing(self, stopped: dict[str, Any] | None = None) -> Closing:
        """The last line; `stopped` is the problem for which it is the last."""
        cautions = tuple(self.snapshot.knowledge.cautions[key] for key in sorted(self._cautions))
        return Closing(self._count, self._problems, self.snapshot.digest, cautions, stopped)


class PlantLines(Answering):
    """Answers lines that ask what plants are, each as `identify` answers it."""

    def __init__(self, snapshot: Snapshot, *, remembered: int = REMEMBERED) -> None:
        """`remembered` is how many different observations are, in each context."""
        super().__init__(snapshot)
        self._bulk = lru_cache(CONTEXTS)(lambda context: Bulk(snapshot, context, remembered=remembered))

    def _answers(self, lines: Sequence[Line]) -> list[LineAnswer]:
        answers: dict[int, LineAnswer] = {}
        asked: dict[Context, list[tuple[Line, PlantLine]]] = {}
        for line in lines:
            try:
                question = _parsed(line, PlantLine)
            except LenticelError as error:
                answers[line.number] = PlantAnswer(line.number, problem=of_line(error))
            else:
                asked.setdefault(question.context(), []).append((line, question))
        for context, group in asked.items():
            answers.update((each.line, each) for each in self._of(context, group))
        return [answers[line.number] for line in lines]

    def _of(self, context: Context, group: Sequence[tuple[Line, PlantLine]]) -> Iterator[PlantAnswer]:
        """The answers to lines in one context."""
        plants = asked_of([question.rows() for _, question in group], [question.taxon or "" for _, question in group])
        found: Iterable[Plant]
        try:
            found = self._bulk(context).answer(plants)
        except LenticelError as error:
            found = [Plant(error=error)] * len(group)
        for (line, question), plant in zip(group, found, strict=True):
            yield _worded(line, question, plant)


def _worded(line: Line, question: PlantLine, plant: Plant) -> PlantAnswer:
    if plant.error:
        return PlantAnswer(line.number, question.plant, problem=of_line(plant.error))
    share = plant.share if plant.first else None
    claimed = (plant.claimed or None, plant.verdict or None, plant.contradicting)
    return PlantAnswer(line.number, question.plant, len(plant.consistent), plant.consistent, plant.first or None, share, *claimed, plant.cautions)


class ClaimLines(Answering):
    """Answers lines that hold claims, each as `claims` judges it."""

    def __init__(self, snapshot: Snapshot) -> None:
        super().__init__(snapshot)
        self._judging = Judging(snapshot)

    def _answers(self, lines: Sequence[Line]) -> list[LineAnswer]:
        return [self._answer(line) for line in lines]

    def _answer(self, line: Line) -> ClaimAnswer:
        name = None
        try:
            asked = _parsed(line, ClaimLine)
            name = asked.claim
            found, cautions = self._judging.judge(asked.taxon, asked.character, asked.value)
        except LenticelError as error:
            return ClaimAnswer(line.number, name, problem=of_line(error))
        return ClaimAnswer(line.number, name, replace(found, row=line.number), cautions)


def _parsed(line: Line, model: type[Question]) -> Question:
    if isinstance(line.content, TooLarge):
        raise line.content
    return parse_request(line.content, model)


def as_lines(answers: Iterable[LineAnswer | Closing]) -> bytes:
    """Answers as lines of JSON."""
    return b"".join(as_json(each) + b"\n" for each in answers)
