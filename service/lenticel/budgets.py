"""What one client may take: one query at a time, and so many seconds and errors a minute; and how far it is trusted."""

from __future__ import annotations

import ipaddress
import math
import time
from collections import Counter, OrderedDict, deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from lenticel.refused import Refused

WINDOW = 60.0
MOST_CLIENTS = 10000  # remembered; the one that asked longest ago is forgotten first
LONG = 1.0  # seconds of processor time, half the usual deadline; who had a query take so long is not trusted until the window has passed


@dataclass(frozen=True, slots=True)
class Taken:
    """What one query took."""

    when: float
    seconds: float
    error: bool
    killed: bool = False

    @property
    def long(self) -> bool:
        """Whether it took long, or cost the worker its life."""
        return self.killed or self.seconds > LONG


@dataclass(frozen=True, slots=True)
class Standing:
    """What is known of a client: whether its queries were answered and none was long, and how many seconds they took."""

    trusted: bool = False
    seconds: float = 0.0


STRANGER = Standing()  # who asked nothing within the last minute


@dataclass
class Account:
    """What a client took within the last minute, and the sums of it."""

    running: int = 0
    seconds: float = 0.0
    errors: int = 0
    long: int = 0
    taken: deque[Taken] = field(default_factory=deque)

    def add(self, each: Taken) -> None:
        """Put on what a query took."""
        self.taken.append(each)
        self._count(each, 1)

    def forget(self, oldest: float) -> None:
        """Take off all that is older."""
        while self.taken and self.taken[0].when < oldest:
            self._count(self.taken.popleft(), -1)

    def _count(self, each: Taken, sign: int) -> None:
        self.seconds += sign * each.seconds
        self.errors += sign * each.error
        self.long += sign * each.long


class Budgets:
    """The accounts of all clients."""

    def __init__(self, seconds: float = 20.0, errors: int = 30, running: int = 1, clock: Callable[[], float] = time.monotonic) -> None:
        """`seconds` and `errors` are what a client may take in a minute, `running` how many queries at a time; `clock` tells the time."""
        self.seconds, self.errors, self.running, self._clock = seconds, errors, running, clock
        self._accounts: OrderedDict[str, Account] = OrderedDict()

    def begin(self, client: str) -> None:
        """Note that a client's query begins.

        Raises:
            Refused: `over-budget`, with the seconds after which it may ask again.
        """
        account = self._account(client)
        if account.running >= self.running:
            raise Refused("over-budget", "Another query of yours is running.", "Ask one at a time, and wait for each answer.", wait=1)
        if account.seconds >= self.seconds or account.errors >= self.errors:
            what = f"{self.seconds:g} seconds of work" if account.seconds >= self.seconds else f"{self.errors} errors"
            wait = math.ceil(account.taken[0].when + WINDOW - self._clock())
            raise Refused("over-budget", f"You have used up {what} a minute.", "Wait, and ask for less at a time.", wait=max(wait, 1))
        account.running += 1

    def end(self, client: str, seconds: float, *, error: bool, killed: bool = False) -> None:
        """Note that a client's query has ended."""
        account = self._account(client)
        account.running = max(account.running - 1, 0)
        account.add(Taken(self._clock(), seconds, error, killed))

    def standing(self, client: str) -> Standing:
        """What the client's last minute says of its next query."""
        account = self._account(client)
        return Standing(bool(account.taken) and not account.long, account.seconds)

    def _account(self, client: str) -> Account:
        account = self._accounts.setdefault(client, Account())
        self._accounts.move_to_end(client)
        while len(self._accounts) > MOST_CLIENTS:
            self._accounts.popitem(last=False)
        account.forget(self._clock() - WINDOW)
        return account


class UnderWay:
    """How many long requests each client has under way; none has more than so many."""

    def __init__(self, most: int = 2) -> None:
        """`most` is a client's."""
        self._most = most
        self._counts: Counter[str] = Counter()

    @contextmanager
    def one(self, client: str) -> Iterator[None]:
        """Count one more of a client while it lasts.

        Raises:
            Refused: `over-budget`.
        """
        if self._counts[client] >= self._most:
            raise Refused("over-budget", f"{self._most} such requests of yours are under way.", "Wait for one of them to end.", wait=1)
        self._counts[client] += 1
        try:
            yield
        finally:
            self._counts[client] -= 1
            if not self._counts[client]:
                del self._counts[client]


def client_of(host: str) -> str:
    """Whose budget an address draws on: an IPv4 address its own, an IPv6 address that of its /64, which one household or office holds."""
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        return host
    if isinstance(address, ipaddress.IPv6Address):
        return str(address.ipv4_mapped or ipaddress.ip_network((address, 64), strict=False))
    return host
