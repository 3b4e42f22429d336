"""Who waits for a worker, and who is next: the trusted before the others, and of these the client that took least within the last minute."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, field

from lenticel.budgets import Standing
from lenticel.process import Worker
from lenticel.refused import Refused


@dataclass(eq=False, slots=True)
class Turn:
    """A query's turn at a worker: how its client stands, whether it is still trusted, and the worker once it has been handed over."""

    standing: Standing
    trusted: bool
    handed: asyncio.Future[Worker] = field(default_factory=lambda: asyncio.get_running_loop().create_future())


class Line:
    """The turns that wait, in the order in which they came; the trusted and the others each have so many places."""

    def __init__(self, most: int) -> None:
        """`most` is how many of each kind may wait."""
        self._most = most
        self._turns: list[Turn] = []

    def __len__(self) -> int:
        return len(self._turns)

    def join(self, turn: Turn) -> None:
        """Wait from now on."""
        self._turns.append(turn)

    def leave(self, turn: Turn) -> None:
        """Wait no longer."""
        if turn in self._turns:
            self._turns.remove(turn)

    def make_place(self, turn: Turn) -> None:
        """See that one who joined has a place; who has taken most goes without, be it this one or one that waits.

        Raises:
            Refused: the places are held by such as have taken no more.
        """
        alike = [each for each in self._turns if each is not turn and each.trusted == turn.trusted and not each.handed.done()]
        if len(alike) < self._most:
            return
        refused = Refused("busy", f"{self._most} queries are waiting already.", "Ask again later.", wait=2)
        most = max(alike, key=lambda each: each.standing.seconds, default=turn)
        if most.standing.seconds <= turn.standing.seconds:
            raise refused
        most.handed.set_exception(refused)

    def next(self, *, untrusted: bool) -> Turn | None:
        """The turn that is next, taken out of the line, among equals who waits longest; the trusted alone unless `untrusted`."""
        able = [each for each in self._turns if not each.handed.done() and (untrusted or each.trusted)]
        if not able:
            return None
        turn = min(able, key=lambda each: (not each.trusted, each.standing.seconds))
        self._turns.remove(turn)
        return turn

    def dismiss(self, error: Refused) -> None:
        """Tell all that wait that nothing comes of it."""
        for each in self._turns:
            if not each.handed.done():
                each.handed.set_exception(error)
