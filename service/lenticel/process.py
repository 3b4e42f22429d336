"""A worker as the service sees it: a process that is started, asked and ended."""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import sys
from asyncio.subprocess import DEVNULL, PIPE, Process
from pathlib import Path
from typing import Any

from lenticel.frames import HEAD, frame

NICE = 5  # workers give way to the service, from the moment at which they start: what starts in place of a killed one would hold up answers
START_LIMIT = 30.0  # seconds


class Ended(Exception):
    """A worker ended without an answer."""


class Worker:
    """One process that runs queries."""

    def __init__(self, process: Process, sealed: bool) -> None:
        self.process, self.sealed = process, sealed

    @classmethod
    async def start(cls, store: Path, memory: int) -> Worker:
        """Start one, and wait until it is ready.

        Raises:
            Ended: it did not get ready.
        """
        command = (sys.executable, "-m", "lenticel.worker", str(store), str(memory))
        process = await asyncio.create_subprocess_exec(*command, stdin=PIPE, stdout=PIPE, stderr=DEVNULL)
        with contextlib.suppress(OSError):  # it has ended, or had less already
            os.setpriority(os.PRIO_PROCESS, process.pid, os.getpriority(os.PRIO_PROCESS, 0) + NICE)
        worker = cls(process, sealed=False)
        try:
            head, _ = await asyncio.wait_for(worker._receive(), START_LIMIT)
        except BaseException as error:
            await worker.end()
            raise Ended if isinstance(error, TimeoutError | Ended) else error from None
        worker.sealed = bool(head["sealed"])
        return worker

    async def ask(self, head: dict[str, Any]) -> tuple[dict[str, Any], bytes]:
        """Ask it one query.

        Raises:
            Ended: the process ended.
        """
        assert self.process.stdin
        try:
            self.process.stdin.write(frame(head))
            await self.process.stdin.drain()
        except OSError:
            raise Ended from None
        return await self._receive()

    async def _receive(self) -> tuple[dict[str, Any], bytes]:
        assert self.process.stdout
        try:
            first, second = HEAD.unpack(await self.process.stdout.readexactly(HEAD.size))
            return json.loads(await self.process.stdout.readexactly(first)), await self.process.stdout.readexactly(second)
        except (asyncio.IncompleteReadError, OSError):
            raise Ended from None

    async def end(self) -> int:
        """End it at once, and see it off. Returns its exit status, negative for a signal."""
        with contextlib.suppress(ProcessLookupError):
            self.process.kill()
        return await self.process.wait()
