"""The workers of one dataset: a few at work, one spare, a short queue; a worker that overruns is killed and replaced.

A pool belongs to the event loop that started it. It holds no query text longer than the query runs, but for the answers that it keeps.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import signal
import time
from collections import Counter, deque
from collections.abc import Callable, Coroutine
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from lenticel.budgets import STRANGER, Standing
from lenticel.process import Ended, Worker
from lenticel.queries import Kept, Limits, Query, Result, Spent
from lenticel.refused import Refused

log = logging.getLogger("lenticel")
REST = 1.0  # seconds before another try when a worker does not start
WAIT = 1.0  # seconds beyond a deadline, so that who waits for the worker at work sees it end, and the next one at hand
LATE = 1.0  # seconds in which requests that were there before a change may still ask
TICK = 0.02  # seconds between two looks at what is still at work
_SMALLER = "Ask for less: add LIMIT, or patterns that narrow it."


@dataclass
class Figures:
    """What became of the workers and queries."""

    killed: Counter[str] = field(default_factory=Counter)
    asked: int = 0
    started: int = 0
    peak: int = 0  # KiB, the largest that a worker told


@dataclass(frozen=True)
class Waiting:
    """Who waits for a worker."""

    handed: asyncio.Future[Worker]
    standing: Standing


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
    """

    def __init__(self, store: Path, prefixes: dict[str, str], base: str, limits: Limits | None = None, *, union: bool = True) -> None:
        self.store, self.prefixes, self.base, self.union = store, prefixes, base, union
        self.limits = limits or Limits()
        self.figures = Figures()
        self._idle: deque[Worker] = deque()
        self._spare: Worker | None = None
        self._workers: set[Worker] = set()
        self._waiting: list[Waiting] = []
        self._untrusted = 0  # at work
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
        return len(self._waiting)

    @property
    def sealed(self) -> bool:
        """Whether the kernel refuses sockets to the workers."""
        return bool(self._sealed)

    async def close(self, patience: float = 0.0) -> None:
        """End all workers, after what is asked already has been given `patience` seconds.

        With patience, queries are taken a moment longer: a request that came in before may not have got so far as to ask.
        """
        began = time.monotonic()
        while (passed := time.monotonic() - began) < patience and (passed < LATE or self._waiting or self._busy):
            await asyncio.sleep(TICK)
        self._closed = True
        for each in self._waiting:
            if not each.handed.done():
                each.handed.set_exception(Refused("query-not-ready", "The service changes over.", "Ask again.", wait=1))
        for task in self._starting:
            task.cancel()
        await asyncio.gather(*self._starting, return_exceptions=True)
        await asyncio.gather(*self._ending, *(each.end() for each in list(self._workers)))
        self._workers.clear()

    @property
    def _busy(self) -> bool:
        return len(self._idle) + (self._spare is not None) < len(self._workers)

    async def _started(self) -> None:
        worker = await Worker.start(self.store, self.limits.memory)
        self.figures.started += 1
        self._sealed = worker.sealed if self._sealed is None else self._sealed and worker.sealed
        self._workers.add(worker)
        if len(self._workers) > self.limits.workers and self._spare is None:
            self._spare = worker
        else:
            self._hand_on(worker)

    def _replace(self) -> None:
        """Put the spare to work in place of a worker that is gone, and start another."""
        if self._closed:
            return
        if self._spare is not None:
            spare, self._spare = self._spare, None
            self._hand_on(spare)
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

    def _hand_on(self, worker: Worker) -> None:
        """Give a free worker to the one that has taken least of late, among equals to who waits longest."""
        able = [each for each in self._waiting if not each.handed.done() and self._has_room(each.standing)]
        if not able:
            self._idle.append(worker)
            return
        chosen = min(able, key=lambda each: (not each.standing.trusted, each.standing.seconds))
        self._waiting.remove(chosen)
        self._untrusted += not chosen.standing.trusted
        chosen.handed.set_result(worker)

    def _has_room(self, standing: Standing) -> bool:
        """Whether such a client may have a worker: those that are not trusted leave one to the others."""
        return standing.trusted or self._untrusted < max(self.limits.workers - 1, 1)

    async def _take(self, standing: Standing, patience: float) -> Worker:
        if self._closed:
            raise Refused("query-not-ready", "The service changes over.", "Ask again.", wait=1)
        while self._idle and self._has_room(standing):
            worker = self._idle.popleft()
            if worker.process.returncode is None:
                self._untrusted += not standing.trusted
                return worker
            self._workers.discard(worker)  # it died while it had nothing to do
            self._replace()
        self._make_place(standing)
        handed: asyncio.Future[Worker] = asyncio.get_running_loop().create_future()
        entry = Waiting(handed, standing)
        self._waiting.append(entry)
        try:
            await asyncio.wait({handed}, timeout=patience)
        except asyncio.CancelledError:
            if handed.done() and handed.exception() is None:
                self._free(handed.result(), standing)  # it was handed over at the very moment at which the client left
            raise
        finally:
            with contextlib.suppress(ValueError):
                self._waiting.remove(entry)
        if not handed.done():
            raise Refused("busy", "No worker was free in time.", "Ask again later.", wait=2)
        return handed.result()

    def _make_place(self, standing: Standing) -> None:
        """See that the queue has a place; who has taken most goes without, be it the one that asks or one that waits.

        Raises:
            Refused: the queue is full of such as have taken no more.
        """
        alike = [each for each in self._waiting if each.standing.trusted == standing.trusted and not each.handed.done()]
        if len(alike) < self.limits.queue:
            return
        refused = Refused("busy", f"{self.limits.queue} queries are waiting already.", "Ask again later.", wait=2)
        most = max(alike, key=lambda each: each.standing.seconds)
        if most.standing.seconds <= standing.seconds:
            raise refused
        most.handed.set_exception(refused)

    def _free(self, worker: Worker, standing: Standing) -> None:
        self._untrusted -= not standing.trusted
        self._hand_on(worker)

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
        task = asyncio.ensure_future(self._run(query, min(seconds or self.limits.seconds, self.limits.ceiling), standing, spent or Spent()))
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

    async def _run(self, query: Query, seconds: float, standing: Standing, spent: Spent) -> Result:
        worker = await self._take(standing, max(seconds, self.limits.seconds) + WAIT)
        began = time.monotonic()
        try:
            head, body = await asyncio.wait_for(worker.ask(self._head(query, seconds)), seconds)
        except BaseException as error:
            spent.seconds = time.monotonic() - began
            reason = await self._lost(worker, error, standing)
            if reason is None:
                raise
            raise reason from None
        spent.seconds = head["cpu"]
        if head["outcome"] == "memory":
            await self._lost(worker, Ended(), standing)
        else:
            self._free(worker, standing)
        self.figures.peak = max(self.figures.peak, head.get("peak", 0))
        return _result(head, body)

    async def _lost(self, worker: Worker, error: BaseException, standing: Standing) -> Refused | None:
        """Do away with a worker that did not answer. Returns what to tell the client, or None if nobody is left."""
        self._workers.discard(worker)
        self._untrusted -= not standing.trusted
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
