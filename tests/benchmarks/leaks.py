"""What a service loses over a long run: `python -m tests.benchmarks.leaks`.

Mixed requests (a few usual and malformed ones, and among them every operation by its own example), and beside them queries that run into their deadline
so that a worker is killed each time. Before and after, the open files, the children that nobody saw off, and the memory of the process of the API. All
traffic stays on loopback and ends by itself.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor

import httpx

from tests.benchmarks.same import by_example
from tests.hostile.queries import CORPUS
from tests.served import Served, served

ENDLESS = CORPUS["cross: count of a cross product"]
USUAL = (
    ("GET", "/v1/characters/leaf-arrangement", None),
    ("POST", "/v1/identify", {"observations": [{"character": "leaf-arrangement", "value": "opposite"}], "explain": 1}),
    ("POST", "/v1/identify", {"observations": [{"character": "no-such", "value": "opposite"}]}),
    ("GET", "/sparql?query=ASK%20%7B%7D", None),
    ("GET", "/v1/taxa/nothing", None),
    ("GET", "/sparql?query=SELECT", None),
)
TURNS = 5  # of the usual requests before each example; these take several times as long
CLIENTS, KILLERS, PARTS = 4, 2, 20
OVERRUN = ("busy", "query-time")  # on a busy machine a query may find no worker in time, or not end in time
GROWTH = 1.05


def mixed(service: Served) -> list[httpx.Request]:
    """What is asked in turn: the usual requests several times over before each that is an example of an operation."""
    usual = [httpx.Request(method, f"{service.url}{path}", json=body) for method, path, body in USUAL]
    return [each for example in by_example(service) for each in (*usual * TURNS, example)]


def ask(service: Served, requests: list[httpx.Request], count: int) -> Counter[int]:
    """Send so many requests over a few connections; gives the statuses."""

    def part(first: int) -> Counter[int]:
        told: Counter[int] = Counter()
        with httpx.Client(timeout=60, headers={"x-forwarded-for": f"10.6.0.{first}"}) as session:
            for number in range(first, count, CLIENTS):
                request = requests[number % len(requests)]
                answer = session.request(request.method, request.url, content=request.content, headers=request.headers)
                assert answer.status_code < 500 or answer.json()["code"] in OVERRUN, answer.text
                told[answer.status_code] += 1
        return told

    with ThreadPoolExecutor(CLIENTS) as pool:
        return sum(pool.map(part, range(CLIENTS)), Counter())


def kill(service: Served, workers: int) -> int:
    """Have so many workers killed, each as soon as one is free; gives how many were."""

    def one(number: int) -> bool:
        while (status := service.ask(ENDLESS, f"10.7.{number // 250}.{number % 250}", 60).status_code) != 504:
            assert status == 503, status
        return True

    with ThreadPoolExecutor(KILLERS) as pool:
        return sum(pool.map(one, range(workers)))


def settled(service: Served) -> tuple[int, int, int]:
    """Open files, children that are dead and not seen off, and memory in KiB, once nothing is at work."""
    time.sleep(3)
    return service.files, service.children.count("Z"), service.memory


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--requests", type=int, default=20_000, help="mixed requests (default %(default)s)")
    parser.add_argument("--workers", type=int, default=200, help="workers killed (default %(default)s)")
    options = parser.parse_args()
    told, killed = Counter[int](), 0
    with served(log_requests=False, query_seconds=0.2, client_seconds=60000, client_errors=10**6) as service, ThreadPoolExecutor(1) as beside:
        requests = mixed(service)
        ask(service, requests, len(requests))  # what is made once and kept
        kill(service, 8)
        before = settled(service)
        for part in range(PARTS):
            killing = beside.submit(kill, service, options.workers // PARTS)
            told += ask(service, requests, options.requests // PARTS)
            killed += killing.result()
            files, dead, memory = service.files, service.children.count("Z"), service.memory
            print(f"{part + 1}/{PARTS}: {files} files, {dead} not seen off, {memory} KiB, {killed} workers killed", file=sys.stderr, flush=True)
        after = settled(service)
        children = len(service.children)
    print(f"{sum(told.values())} requests, by status {dict(sorted(told.items()))}; {killed} workers killed")
    for what, first, last in zip(("open files", "children not seen off", "memory, KiB"), before, after, strict=True):
        print(f"{what:24} {first:8} -> {last}")
    print(f"children {children}")
    sys.exit(after[0] > before[0] or after[1] > 0 or after[2] > GROWTH * before[2])


if __name__ == "__main__":
    main()
