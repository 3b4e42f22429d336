"""Clients that ask a service until they are told to stop, and what they were told."""

from __future__ import annotations

import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field

import httpx


@dataclass
class Told:
    """When each request was sent and how long its answer took, in seconds; by how many answers which status and release; and what went wrong."""

    times: list[tuple[float, float]] = field(default_factory=list)
    statuses: Counter[int] = field(default_factory=Counter)
    releases: Counter[str] = field(default_factory=Counter)
    wrong: Counter[str] = field(default_factory=Counter)

    def __str__(self) -> str:
        parts = " ".join(f"{name} {self.within(share) * 1000:6.1f} ms" for name, share in (("median", 0.5), ("p95", 0.95), ("p99", 0.99)))
        return f"{len(self.times):5} answers  {parts}  failures {dict(self.wrong) or 0}"

    def within(self, share: float) -> float:
        """What such a share of the answers did not exceed, in seconds."""
        times = sorted(took for _, took in self.times)
        return times[int(share * (len(times) - 1))]

    @property
    def p99(self) -> float:
        """What 99 of 100 answers did not exceed, in seconds."""
        return self.within(0.99)

    def those(self, wanted: Callable[[float, float], bool]) -> Told:
        """The times alone of those requests of which it holds, by the moments at which each began and ended."""
        return Told([(began, took) for began, took in self.times if wanted(began, began + took)])


@dataclass(frozen=True)
class Client:
    """One who asks: what sends its next request, and what is wrong with an answer, "" if nothing is."""

    send: Callable[[], httpx.Response]
    fault: Callable[[httpx.Response], str]

    def ask(self, told: Told) -> None:
        """Ask once."""
        began = time.perf_counter()
        try:
            answer = self.send()
            fault = self.fault(answer)
            told.statuses[answer.status_code] += 1
            told.releases[answer.headers.get("x-lenticel-release", "")] += 1
        except (httpx.HTTPError, KeyError, ValueError) as error:
            fault = repr(error)[:200]
        told.times.append((began, time.perf_counter() - began))
        if fault:
            told.wrong[fault] += 1


@contextmanager
def asking(clients: Sequence[Client], pause: float = 0.0, told: Told | None = None) -> Iterator[Told]:
    """Have clients ask, each one request after another with a pause between, until the end; what they are told, added to what is `told` already."""
    told, stop = told or Told(), threading.Event()

    def loop(client: Client) -> None:
        while not stop.wait(pause):
            client.ask(told)

    threads = [threading.Thread(target=loop, args=(client,)) for client in clients]
    for each in threads:
        each.start()
    try:
        yield told
    finally:
        stop.set()
        for each in threads:
            each.join()


def not_well(answer: httpx.Response) -> str:
    """What is wrong with an answer that ought to be one of JSON."""
    return "" if answer.status_code == 200 and answer.json() else str(answer.status_code)


def askers_of_the_index(url: str, count: int) -> list[Client]:
    """Clients that ask what the service is, every other one over a new connection each time; wrong is an answer of two releases, too."""

    def fault(answer: httpx.Response) -> str:
        mixed = answer.status_code == 200 and answer.json()["digest"] != answer.headers["x-lenticel-release"]
        return "mixed" if mixed else not_well(answer)

    def one(keep: bool) -> Client:
        session = httpx.Client(timeout=20, headers={} if keep else {"connection": "close"})
        return Client(lambda: session.get(f"{url}/"), fault)

    return [one(number % 2 == 0) for number in range(count)]
