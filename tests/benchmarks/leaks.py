"""What a service loses over a long run: `python -m tests.benchmarks.leaks`.

Mixed requests (identify, pages, queries, malformed ones), and queries that run into their deadline so that a worker is killed each time; before and after, the
open files, the children that nobody saw off, and the memory of the process of the API. All traffic stays on loopback and ends by itself.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor

import httpx

from tests.hostile.queries import CORPUS
from tests.served import Served, served

ENDLESS = CORPUS["cross: count of a cross product"]
MIXED = (
    ("GET", "/v1/taxa/acer-rubrum", None),
    ("POST", "/v1/identify", {"observations": [{"character": "leaf-arrangement", "value": "opposite"}], "explain": 1}),
    ("POST", "/v1/identify", {"observations": [{"character": "no-such", "value": "opposite"}]}),
    ("GET", "/sparql?query=ASK%20%7B%7D", None),
    ("GET", "/v1/taxa/nothing", None),
    ("GET", "/sparql?query=SELECT", None),
)
GROWTH = 1.05


def ask(service: Served, requests: int) -> Counter[int]:
    """Send so many mixed requests over a few connections; gives the statuses. On a busy machine a query may find no worker in time."""

    def part(first: int) -> Counter[int]:
        told: Counter[int] = Counter()
        with httpx.Client(base_url=service.url, timeout=60) as session:
            for number in range(first, requests, 4):
                method, path, body = MIXED[number % len(MIXED)]
                answer = session.request(method, path, json=body, headers={"x-forwarded-for": f"10.6.0.{first}"})
                assert answer.status_code < 500 or (path.startswith("/sparql") and answer.status_code in (503, 504)), answer.text
                told[answer.status_code] += 1
        return told

    with ThreadPoolExecutor(4) as pool:
        return sum(pool.map(part, range(4)), Counter())


def kill(service: Served, workers: int) -> Counter[int]:
    """Have so many workers killed; gives the statuses."""
    told: Counter[int] = Counter()

    def one(number: int) -> int:
        return service.ask(ENDLESS, f"10.7.{number // 250}.{number % 250}", 60).status_code

    with ThreadPoolExecutor(2) as pool:
        while told[504] < workers:
            told.update(pool.map(one, range(workers - told[504])))
    assert set(told) <= {504, 503}, told
    return told


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
    with served(log_requests=False, query_seconds=0.3, client_seconds=60000, client_errors=10**6) as service:
        ask(service, 3000)  # what is made once and kept
        kill(service, 4)
        before = settled(service)
        statuses, killed = ask(service, options.requests), kill(service, options.workers)
        after = settled(service)
        children = len(service.children)
    print(f"{sum(statuses.values())} requests, by status {dict(sorted(statuses.items()))}; {killed[504]} workers killed")
    for what, first, last in zip(("open files", "children not seen off", "memory, KiB"), before, after, strict=True):
        print(f"{what:24} {first:8} -> {last}")
    print(f"children {children}")
    sys.exit(after[0] > before[0] or after[1] > 0 or after[2] > GROWTH * before[2])


if __name__ == "__main__":
    main()
