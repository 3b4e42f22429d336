"""The workers of one dataset: a few at work, one spare, a short queue; a worker that overruns is killed and replaced.

Those that are not trusted (strangers, clients one of whose queries was long, queries that run long or ask for long) leave one place to the others.
Some show only once they run; where they hold all places by then, the spare makes one more.

A pool belongs to the event loop that started it. It holds no query text longer than the query runs, but for the answers that it keeps.
"""

from __future__ import annotations

import asyncio
import logging
import signal
import time
from collections import Counter, deque
from collections.abc import Callable, Coroutine
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from lenticel.budgets import LONG, STRANGER, Standing
from lenticel.process import Ended, Worker
from lenticel.queries import Kept, Limits, Query, Result, Spent
from lenticel.refused import Refused
from lenticel.waiting import Line, Turn

log = logging.getLogger("lenticel")
REST = 1.0  # seconds before another try when a worker does not start
WAIT = 1.0  # seconds beyond a deadline, so that who waits for the worker at work sees it end, and the next one at hand
LATE = 1.0  # seconds in which requests that were there before a change may still ask
TICK = 0.02  # seconds between two looks at what is still at work
_SMALLER = "Ask for less: add LIMIT, or patterns that narrow it."


Told = Callable[[str], object]


def _to_nobody(why: str) -> None:
    """What is told where nobody keeps count."""


@dataclass
class Figures:
    """What became of the workers and queries."""

    killed: Counter[str] = field(default_factory=Counter)
    asked: int = 0
    started: int = 0
    peak: int = 0  # KiB, the largest that a worker told


class Gone(Exception):
    """Nobody waits for the answer any more."""


class Pool:
    """The workers of one dataset.

    Args:
        store: the folder of the store.
        prefixes: those that queries need not declare.
        base: the IRI against which relative ones are read.
        limits: what a query may take.
        union: whether a query that names no dataset sees all graphs as one.
        killed: is told why, each time that a worker is done away with: "time", "memory" or "gone".
    """

    def __init__(
        self, store: Path, prefixes: dict[str, str], base: str, limits: Limits | None = None, *, union: bool = True, killed: Told = _to_nobody
    ) -> None:
        self.store, self.prefixes, self.base, self.union = store, prefixes, base, union
        self.limits = limits or Limits()
        self.figures, self._told_of_killed = Figures(), killed
        self._idle: deque[Worker] = deque()
        self._workers: set[Worker] = set()
        self._line = Line(self.limits.queue)
        self._turns: set[Turn] = set()  # at work
        self._starting: set[asyncio.Task[None]] = set()
        self._ending: set[asyncio.Task[int]] = set()
        self._kept = Kept(self.limits.kept)
        self._begun = self._closed = False
        self._sealed: bool | None = None

    # --- its life

    async def start(self) -> None:
        """Start all workers and the spare, and wait until they are ready.

        Raises:
            Refused: none could be started.
        """
        found = await asyncio.gather(*(self._started() for _ in range(self.limits.workers + self.limits.spares)), return_exceptions=True)
        if not self._workers:
            raise Refused("query-not-ready", "No process for queries could be started.", "See the log of the service.")
        self._begun = True
        for each in found:
            if isinstance(each, BaseException):
                self._replace()

    @property
    def ready(self) -> bool:
        """Whether a query would be taken."""
        return self._begun and not self._closed

    @property
    def waiting(self) -> int:
        """How many queries wait for a worker."""
        return len(self._line)

    @property
    def sealed(self) -> bool:
        """Whether the kernel refuses sockets to the workers."""
        return bool(self._sealed)

    async def close(self, patience: float = 0.0) -> None:
        """End all workers, after what is asked already has been given `patience` seconds.

        With patience, queries are taken a moment longer: a request that came in before may not have got so far as to ask.
        """
        began = time.monotonic()
        while (passed := time.monotonic() - began) < patience and (passed < LATE or self._line or self._turns):
            await asyncio.sleep(TICK)
        self._closed = True
        self._line.dismiss(Refused("query-not-ready", "The service changes over.", "Ask again.", wait=1))
        for task in self._starting:
            task.cancel()
        await asyncio.gather(*self._starting, return_exceptions=True)
        await asyncio.gather(*self._ending, *(each.end() for each in list(self._workers)))
        self._workers.clear()

    async def _started(self) -> None:
        worker = await Worker.start(self.store, self.limits.memory)
        self.figures.started += 1
        self._sealed = worker.sealed if self._sealed is None else self._sealed and worker.sealed
        self._workers.add(worker)
        self._idle.append(worker)
        self._hand_on()

    def _replace(self) -> None:
        """Start a worker in place of one that is gone."""
        if self._closed:
            return
        task = asyncio.get_running_loop().create_task(self._start_again())
        self._starting.add(task)
        task.add_done_callback(self._starting.discard)

    async def _start_again(self) -> None:
        while not self._closed:
            try:
                await self._started()
            except (Ended, OSError):
                log.error("a process for queries did not start")
                await asyncio.sleep(REST)
            else:
                return

    # --- who is next

    @property
    def _untrusted(self) -> int:
        return sum(not each.trusted for each in self._turns)

    def _places(self) -> int:
        """How many may be at work now: as many as there are workers, and while the untrusted hold the place of the others, the spare too."""
        return self.limits.workers + min(self.limits.spares, max(self._untrusted - self.limits.workers + 1, 0))

    def _hand_on(self) -> None:
        """Give free workers to those that are next."""
        while self._idle and len(self._turns) < self._places():
            worker = self._idle[0]
            if worker.process.returncode is not None:  # it died while it had nothing to do
                self._idle.popleft()
                self._workers.discard(worker)
                self._replace()
                continue
            turn = self._line.next(untrusted=self._untrusted < max(self.limits.workers - 1, 1))
            if turn is None:
                return
            self._turns.add(turn)
            turn.handed.set_result(self._idle.popleft())

    async def _take(self, turn: Turn, patience: float) -> Worker:
        if self._closed:
            raise Refused("query-not-ready", "The service changes over.", "Ask again.", wait=1)
        self._line.join(turn)
        try:
            self._hand_on()
            if not turn.handed.done():
                self._line.make_place(turn)
            await asyncio.wait({turn.handed}, timeout=patience)
        except asyncio.CancelledError:
            if turn.handed.done() and turn.handed.exception() is None:
                self._free(turn)  # it was handed over at the very moment at which the client left
            raise
        finally:
            self._line.leave(turn)
        if not turn.handed.done():
            raise Refused("busy", "No worker was free in time.", "Ask again later.", wait=2)
        return turn.handed.result()

    def _free(self, turn: Turn) -> None:
        self._turns.discard(turn)
        self._idle.append(turn.handed.result())
        self._hand_on()

    def _grown(self, turn: Turn) -> None:
        """Trust a turn that runs long no more."""
        turn.trusted = False
        self._hand_on()

    # --- asking

    async def ask(
        self,
        query: Query,
        seconds: float | None = None,
        *,
        standing: Standing = STRANGER,
        gone: Callable[[], Coroutine[Any, Any, None]] | None = None,
        spent: Spent | None = None,
    ) -> Result:
        """Answer a query.

        Args:
            query: what is asked.
            seconds: the deadline, from the moment at which a worker takes it; the usual one if None.
            standing: what is known of the client.
            gone: ends when nobody waits for the answer any more; the query is stopped then.
            spent: is told what it took.

        Raises:
            Refused: with the reason.
            Gone: nobody waits any more.
        """
        kept = self._kept.get(query)
        if kept:
            return kept
        self.figures.asked += 1
        seconds = min(seconds or self.limits.seconds, self.limits.ceiling)
        turn = Turn(standing, standing.trusted and seconds <= self.limits.seconds)
        task = asyncio.ensure_future(self._run(query, seconds, turn, spent or Spent()))
        waits = [task] if gone is None else [task, asyncio.ensure_future(gone())]
        try:
            await asyncio.wait(waits, return_when=asyncio.FIRST_COMPLETED)
        finally:
            for each in waits:
                each.cancel()
            await asyncio.gather(*waits, return_exceptions=True)
        if task.cancelled():
            raise Gone
        result = task.result()
        self._kept.put(query, result)
        return result

    async def _run(self, query: Query, seconds: float, turn: Turn, spent: Spent) -> Result:
        worker = await self._take(turn, max(seconds, self.limits.seconds) + WAIT)
        began = time.monotonic()
        growing = asyncio.get_running_loop().call_later(LONG, self._grown, turn)
        try:
            head, body = await asyncio.wait_for(worker.ask(self._head(query, seconds)), seconds)
        except BaseException as error:
            spent.seconds = time.monotonic() - began
            reason = await self._lost(turn, error)
            if reason is None:
                raise
            raise reason from None
        finally:
            growing.cancel()
        spent.seconds = head["cpu"]
        if head["outcome"] == "memory":
            await self._lost(turn, Ended())
        else:
            self._free(turn)
        self.figures.peak = max(self.figures.peak, head.get("peak", 0))
        return _result(head, body)

    async def _lost(self, turn: Turn, error: BaseException) -> Refused | None:
        """Do away with a worker that did not answer. Returns what to tell the client, or None if nobody is left."""
        worker = turn.handed.result()
        self._turns.discard(turn)
        self._workers.discard(worker)
        self._hand_on()
        self._replace()
        ending = asyncio.get_running_loop().create_task(worker.end())
        self._ending.add(ending)
        ending.add_done_callback(self._ending.discard)
        if isinstance(error, Ended):
            status = await asyncio.shield(ending)  # it has ended already
            why = "time" if status == -signal.SIGALRM else "memory"
        else:
            why = "time" if isinstance(error, TimeoutError) else "gone"
        self.figures.killed[why] += 1
        self._told_of_killed(why)
        if why == "time":
            return Refused("query-time", "The query was stopped at its deadline.", _SMALLER)
        return Refused("query-memory", "The query took all the memory that one may, or ended the process that ran it.", _SMALLER) if why == "memory" else None

    def _head(self, query: Query, seconds: float) -> dict[str, Any]:
        return {
            "query": query.text, "solutions": query.solutions, "graphs": query.graphs, "default_graphs": query.default_graphs,
            "named_graphs": query.named_graphs, "union": query.union and self.union,
            "prefixes": self.prefixes, "base": self.base, "rows": self.limits.rows, "bytes": self.limits.bytes, "seconds": seconds,
        }  # fmt: skip


def _result(head: dict[str, Any], body: bytes) -> Result:
    """The answer that a frame holds.

    Raises:
        Refused: it holds none.
    """
    outcome = head["outcome"]
    if outcome == "done":
        return Result(body, head["kind"], head["format"], head["rows"], tuple(head["unknown"]))
    if outcome == "syntax":
        raise Refused("bad-query", head["message"], "Mend the query.")
    if outcome == "unacceptable":
        raise Refused("not-acceptable", "The result has none of the forms that the request accepts.", "Accept one of `forms`.", kind=head["kind"])
    if outcome == "too-much":
        raise Refused("result-too-large", head["message"], "Add LIMIT, and page with ORDER BY and OFFSET; the whole dataset is a file of the release.")
    if outcome == "memory":
        raise Refused("query-memory", "The query took all the memory that one may.", _SMALLER)
    raise Refused("query-failed", head["message"], "See what the query asks for, and ask otherwise.")
