"""What a service takes and tells when it is asked too much: `python -m tests.benchmarks.overload`.

In turn, calm and with all workers busy and the queue for queries full, two clients ask in JSON, and whether the service is ready: the answers may not
take much longer, and who finds the queue full must be told to come again. Then the corpus of `tests/hostile/queries.py`, and the hungriest of it
once more for longer: the memory of the service and all
its workers together, looked at ten times a second, may not exceed what the service had before and what queries may take; and the service itself may not grow.
All traffic stays on loopback and ends by itself.
"""

from __future__ import annotations

import argparse
import itertools
import sys
import threading
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager

import httpx

from tests.hostile.queries import CORPUS
from tests.load import Client, Told, asking, not_well
from tests.served import Served, served

QUESTION = {"observations": [{"character": "leaf-arrangement", "value": "opposite"}], "explain": 1}
ENDLESS = CORPUS["cross: count of a cross product"]
FILLING = 14  # clients that ask without end: more than are at work (2, a spare) and may wait (8)
PAUSE, REST = 0.04, 0.2  # seconds between two requests of a client in JSON, in SPARQL
SLOWER, READY = 1.5, 0.02
MEMORY, PLACES, GROWTH = 512, 3, 20  # MiB of a query; workers and spare; MiB that the service itself may grow
DEADLINE, LONGER = 1.0, 10.0  # seconds of a query of the corpus; of one that is asked to come to the end of its memory
HUNGRY = [CORPUS[f"cross: cross product, {how}"] for how in ("sorted", "grouped")]


def asker(service: Served, number: int) -> Client:
    """One who asks for names and taxa in turn."""
    session, turns = httpx.Client(base_url=service.url, headers={"x-forwarded-for": f"10.3.0.{number}"}, timeout=30), itertools.count()
    return Client(lambda: session.post("/v1/identify", json=QUESTION) if next(turns) % 2 else session.get("/v1/taxa/acer-rubrum"), not_well)


def watcher(service: Served) -> Client:
    """One who asks whether the service is ready."""
    session = httpx.Client(base_url=service.url, timeout=30)
    return Client(lambda: session.get("/readyz"), not_well)


def filler(service: Served, number: int) -> Client:
    """One who asks queries without end, each as another client; wrong is any answer but the deadline's, the memory's, and to come again."""
    session, turns = httpx.Client(base_url=service.url, timeout=60), itertools.count()

    def send() -> httpx.Response:
        turn = next(turns)
        address = f"10.{number}.{turn // 250}.{turn % 250 + 1}"
        return session.post("/sparql", data={"query": f"{ENDLESS} # {number} {turn}"}, headers={"x-forwarded-for": address})

    def fault(answer: httpx.Response) -> str:
        if answer.status_code == 503:
            return "" if answer.headers.get("retry-after", "").isdigit() else "503 that does not say when to come again"
        return "" if answer.status_code in (504, 507) else str(answer.status_code)

    return Client(send, fault)


def overloaded(service: Served, rounds: int, seconds: float) -> bool:
    """Print how those who ask otherwise fare while queries fill the queue; gives whether all was as it must be."""
    with asking([watcher(service)], PAUSE) as alone:
        time.sleep(seconds)
    print(f"ready?   alone      {alone}")
    kinds = {"in JSON": [asker(service, number) for number in range(2)], "ready?": [watcher(service)]}
    told = {(name, full): Told() for name in kinds for full in (False, True)}
    filled = Told()

    def ask(full: bool) -> None:
        with asking(kinds["in JSON"], PAUSE, told["in JSON", full]), asking(kinds["ready?"], PAUSE, told["ready?", full]):
            time.sleep(seconds)

    for number in range(rounds):
        ask(False)
        with asking([filler(service, 20 + FILLING * number + each) for each in range(FILLING)], REST, filled):
            time.sleep(1)
            ask(True)
    for (name, full), each in told.items():
        print(f"{name:8} {'queue full' if full else 'in calm':10} {each}")
    ratio, ready = told["in JSON", True].p99 / told["in JSON", False].p99, alone.p99
    print(f"queries: {dict(sorted(filled.statuses.items()))}, every 503 with Retry-After but for {dict(filled.wrong) or 0}")
    print(f"JSON p99 with the queue full is {ratio:.2f} times that in calm (bar {SLOWER:g})")
    print(f"readiness p99 with nobody else asking {ready * 1000:.1f} ms (bar {READY * 1000:g})")
    assert filled.statuses[503] > FILLING, "the queue was never full"
    return not any(each.wrong for each in (alone, *told.values(), filled)) and ratio <= SLOWER and ready <= READY


@contextmanager
def watched(service: Served) -> Iterator[list[int]]:
    """Looks ten times a second at the memory of the service and its workers together, in KiB."""
    seen, stop = [service.memory_of_all], threading.Event()

    def look() -> None:
        while not stop.wait(0.1):
            seen.append(service.memory_of_all)

    thread = threading.Thread(target=look)
    thread.start()
    try:
        yield seen
    finally:
        stop.set()
        thread.join()


def attacked(service: Served) -> bool:
    """Print what memory the corpus takes; gives whether it is as little as it must be."""
    httpx.get(f"{service.url}/openapi.json", timeout=60).raise_for_status()  # else it is written meanwhile, and its memory laid to the corpus
    before, told = service.memory, Counter[int]()
    asked = [(query, str(DEADLINE)) for query in CORPUS.values()] + [(query, str(LONGER)) for query in HUNGRY * PLACES]

    def one(numbered: tuple[int, tuple[str, str]]) -> None:
        number, (query, timeout) = numbered
        form, address = {"query": query.replace("{url}", "http://127.0.0.1:9/"), "timeout": timeout}, {"x-forwarded-for": f"10.2.0.{number + 1}"}
        while (status := httpx.post(f"{service.url}/sparql", data=form, headers=address, timeout=60).status_code) == 503:
            time.sleep(REST)
        told[status] += 1

    with watched(service) as seen, ThreadPoolExecutor(PLACES) as pool:
        list(pool.map(one, enumerate(asked)))
    peak, most, growth = max(seen) / 1024, before / 1024 + PLACES * MEMORY, (service.memory - before) / 1024
    print(f"hostile queries, three at a time: {dict(sorted(told.items()))}")
    assert told[507], "no query came to the end of its memory"
    print(f"memory: service and workers {peak:.0f} MiB at most in {len(seen)} looks (bar {before / 1024:.0f} + {PLACES} x {MEMORY} = {most:.0f})")
    print(f"the service itself grew by {growth:.1f} MiB (bar {GROWTH})")
    return service.process.poll() is None and peak <= most and growth < GROWTH


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=3, help="of calm and a full queue (default %(default)s)")
    parser.add_argument("--seconds", type=float, default=10, help="of each half of a round (default %(default)s)")
    options = parser.parse_args()
    with served(log_requests=False) as service:
        overloaded_well = overloaded(service, options.rounds, options.seconds)
    with served(log_requests=False, query_memory=MEMORY, client_seconds=60000) as service:
        attacked_well = attacked(service)
    sys.exit(not (overloaded_well and attacked_well))


if __name__ == "__main__":
    main()
