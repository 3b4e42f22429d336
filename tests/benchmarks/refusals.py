"""How long refusals take, and others meanwhile wait: `python -m tests.benchmarks.refusals`.

Every malformed request of `tests.hostile` is sent to a service in a process of its own, one after another, while a neighbour asks on another connection
whether it is alive, again and again. A case counts with the least of its turns, since on a busy machine any one may be held up by others. All traffic
stays on loopback and ends by itself.
"""

from __future__ import annotations

import argparse
import sys
import threading
import time
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from types import TracebackType

import httpx

from tests.hostile.case import Case
from tests.hostile.cases import CASES
from tests.served import served

SLOWEST, STALL = 0.05, 0.02  # seconds: of a refusal, and of a neighbour's wait
CALM = 2.0  # seconds for which the neighbour is watched by itself


@dataclass
class Neighbour(AbstractContextManager["Neighbour"]):
    """Asks whether a service is alive, again and again, and keeps the longest wait since it was last looked at."""

    url: str
    waits: list[float] = field(default_factory=list)

    def __enter__(self) -> Neighbour:
        self._end = threading.Event()
        self._thread = threading.Thread(target=self._ask)
        self._thread.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self._end.set()
        self._thread.join()

    def _ask(self) -> None:
        with httpx.Client() as session:
            while not self._end.wait(0.0005):
                start = time.perf_counter()
                session.get(f"{self.url}/healthz").raise_for_status()
                self.waits.append(time.perf_counter() - start)

    def longest(self) -> float:
        """The longest wait since this was last asked, in seconds; of what was under way too."""
        count = len(self.waits)
        while len(self.waits) < count + 2:
            time.sleep(0.0005)
        found = max(self.waits)
        self.waits.clear()
        return found


@dataclass
class Turns:
    """The least that a case took, and that the neighbour waited, in seconds."""

    took: float = 1e9
    waited: float = 1e9

    def turn(self, session: httpx.Client, url: str, case: Case, neighbour: Neighbour) -> None:
        """Send the case once more."""
        start = time.perf_counter()
        answer = session.request(case.method, url + case.path, content=case.body or None, headers=case.headers)
        took = time.perf_counter() - start
        assert 400 <= answer.status_code < 500, (case.name, answer.text)
        self.took, self.waited = min(self.took, took), min(self.waited, neighbour.longest())

    @property
    def kept(self) -> bool:
        """Whether both limits were."""
        return self.took <= SLOWEST and self.waited <= STALL


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--turns", type=int, default=5, help="how often a case is sent at most, if it is over a limit")
    options = parser.parse_args()
    workshop = served("--knowledge", "fixtures/workshop", queries=0, address_limit=65_000)
    with workshop as service, httpx.Client(timeout=20) as session, Neighbour(service.url) as neighbour:
        time.sleep(CALM)
        calm = neighbour.longest()
        found = {case.name: Turns() for case in CASES}
        for case in CASES:
            for _ in range(options.turns):
                found[case.name].turn(session, service.url, case, neighbour)
                if found[case.name].kept:
                    break
    slowest = max(found, key=lambda name: found[name].took)
    stall = max(found, key=lambda name: found[name].waited)
    print(f"{len(found)} refusals; the neighbour by itself waited {calm * 1000:.1f} ms at most")
    print(f"slowest refusal: {found[slowest].took * 1000:.1f} ms ({slowest[:60]})")
    print(f"longest wait of the neighbour: {found[stall].waited * 1000:.1f} ms ({stall[:60]})")
    sys.exit(not all(each.kept for each in found.values()))


if __name__ == "__main__":
    main()
