"""What is asked of a dataset, what it may take, and what comes of it."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, replace
from typing import Any


@dataclass(frozen=True, slots=True)
class Limits:
    """What a query may take. `ceiling` is the longest deadline that a request may ask for."""

    seconds: float = 2.0
    ceiling: float = 30.0
    memory: int = 512 << 20
    rows: int = 50_000
    bytes: int = 32 << 20
    workers: int = 2
    spares: int = 1  # 0 or 1
    queue: int = 8
    kept: int = 32 << 20  # bytes of answers that are kept


@dataclass(frozen=True, slots=True)
class Query:
    """A query with all on which its answer depends.

    `solutions` and `graphs` are the formats for the two kinds of results, None where the client takes none; `default_graphs` and `named_graphs` are
    the dataset of the protocol, None where it leaves that to the query; `union` says that without any dataset all graphs are seen as one.
    """

    text: str
    solutions: str | None = "json"
    graphs: str | None = "ttl"
    default_graphs: tuple[str, ...] | None = None
    named_graphs: tuple[str, ...] | None = None
    union: bool = True


@dataclass(frozen=True, slots=True)
class Result:
    """A whole answer: its kind (`solutions` or `graph`), its format, how many rows, and our IRIs that nothing is known of."""

    body: bytes
    kind: str
    format: str
    rows: int
    unknown: tuple[dict[str, Any], ...] = ()
    kept: bool = False


@dataclass
class Spent:
    """The processor time that a query took, in seconds; of one that was not answered, how long a worker was at it."""

    seconds: float = 0.0


class Kept:
    """Answers that were given before, up to so many bytes; the one that was wanted longest ago goes first."""

    def __init__(self, most: int) -> None:
        self._most, self._size = most, 0
        self._results: OrderedDict[Query, Result] = OrderedDict()

    def get(self, query: Query) -> Result | None:
        """The answer to a query, if it is kept."""
        found = self._results.get(query)
        if found:
            self._results.move_to_end(query)
        return found

    def put(self, query: Query, result: Result) -> None:
        """Keep an answer, unless it would take too much of the room."""
        size = len(result.body) + len(query.text)
        if query in self._results or size > self._most // 8:
            return
        self._results[query] = replace(result, kept=True)
        self._size += size
        while self._size > self._most:
            old, gone = self._results.popitem(last=False)
            self._size -= len(gone.body) + len(old.text)
