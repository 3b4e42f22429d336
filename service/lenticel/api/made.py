"""What is costly to make: made beside the loop when it is first asked for, and kept, up to a number."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Generic, TypeVar

from fastapi.dependencies import models

from lenticel.errors import LenticelError

QUEUE = 64  # requests that may wait for something to be made
Thing = TypeVar("Thing")


def let_go() -> None:
    """Let go of the apps that are not in use any more.

    FastAPI remembers of thousands of functions what kind they are, those of the routes of such apps too, and with each the knowledge that it answers from.
    """
    for each in vars(models).values():
        if hasattr(each, "cache_clear"):
            each.cache_clear()


class Busy(LenticelError):
    """Too many wait already for something that is made when it is asked for."""

    code = "not-ready"


class Made(Generic[Thing]):
    """Things by their keys; beyond `most`, the one that was made first goes.

    One is made at a time, in a thread of its own, so that whoever asks for many different ones holds up nobody but those who ask for such.
    """

    def __init__(self, make: Callable[[str], Thing], most: int) -> None:
        self._make, self._most = make, most
        self._kept: dict[str, Thing] = {}
        self._thread = ThreadPoolExecutor(1)
        self._waiting = 0

    async def of(self, key: str) -> Thing:
        """The thing of a key.

        Raises:
            LenticelError: it cannot be made.
            Busy: too many wait.
        """
        found = self._kept.get(key)
        if found is not None:
            return found
        if self._waiting >= QUEUE:
            raise Busy("Too many ask for what must be made ready first.", "Ask again in a few seconds.")
        self._waiting += 1
        try:
            return await asyncio.get_running_loop().run_in_executor(self._thread, self._now, key)
        finally:
            self._waiting -= 1

    def _now(self, key: str) -> Thing:
        if key not in self._kept:
            made = self._make(key)
            while len(self._kept) >= self._most:
                del self._kept[next(iter(self._kept))]
                let_go()
            self._kept[key] = made
        return self._kept[key]
