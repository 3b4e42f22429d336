"""The same request, the same bytes: `python -m tests.benchmarks.same`.

Requests of every operation by its own example go to the knowledge that Lenticel comes with, and generated queries to that of `fixtures/workshop`; each to
a service with one worker for queries, to one with four, and to that one again after it has taken over its knowledge anew. Status, body and ETag must be
the same each time.
"""

from __future__ import annotations

import argparse
import re
import signal
import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial

import httpx

from tests.operations import operations
from tests.queries import WORKSHOP, queries_of, workshop_part
from tests.served import Served, served

VARY = ("metrics",)  # operations that tell of the process, and not of the knowledge
FORMS = ("application/sparql-results+json, text/turtle", "text/csv, application/ld+json")
Answer = tuple[int, bytes, str]


def by_example(service: Served) -> list[httpx.Request]:
    """Requests of all operations by the examples of the document, in JSON and in whatever each takes besides."""
    found: list[httpx.Request] = []
    with httpx.Client(base_url=service.url, event_hooks={"request": [found.append]}, timeout=60) as client:
        listed = list(operations(client.get("/openapi.json").json()))
        for operation in listed:
            if operation.id not in VARY:
                for accept in ("*/*", *FORMS, "text/html", "application/ld+json"):
                    list(operation.asked(client, headers={"accept": accept}))
    return found


def generated(service: Served, count: int) -> list[httpx.Request]:
    """So many generated queries."""
    queries = queries_of(workshop_part(1), count)
    return [
        httpx.Request("POST", f"{service.url}/sparql", data={"query": query}, headers={"accept": FORMS[number % 2]}) for number, query in enumerate(queries)
    ]


def asked(service: Served, requests: list[httpx.Request]) -> list[Answer]:
    """The answers, several requests under way at a time."""

    def one(client: httpx.Client, at: tuple[int, httpx.Request]) -> Answer:
        number, request = at
        headers = {**request.headers, "x-forwarded-for": f"10.5.{number // 250}.{number % 250}"}
        address = f"{service.url}{request.url.raw_path.decode()}"
        answer = client.request(request.method, address, content=request.content, headers={key: value for key, value in headers.items() if key != "host"})
        return answer.status_code, answer.content.replace(service.url.encode(), b"http://service"), answer.headers.get("etag", "")

    with httpx.Client(timeout=60) as client, ThreadPoolExecutor(4) as pool:
        return list(pool.map(partial(one, client), enumerate(requests)))


def renewed(service: Served) -> None:
    """Have a service take over its knowledge anew, and wait until it has."""
    service.process.send_signal(signal.SIGHUP)
    for _ in range(600):
        if re.search(r'reloads_total\{[^}]*"taken"\} 1', httpx.get(f"{service.url}/metrics").text):
            return
        time.sleep(0.1)
    raise AssertionError("the knowledge was not taken over")


def differing(name: str, requests: list[httpx.Request], first: list[Answer], other: list[Answer]) -> int:
    """How many answers differ; the first few are printed."""
    found = [(request, one, two) for request, one, two in zip(requests, first, other, strict=True) if one != two]
    for request, one, two in found[:5]:
        print(f"{request.method} {request.url.path} {request.content[:300]!r}\n  {one[0]} {one[2]} {one[1][:200]!r}\n  {two[0]} {two[2]} {two[1][:200]!r}")
    print(f"{name}: {len(requests) - len(found)} of {len(requests)} the same")
    return len(found)


def compared(recorded: Callable[[Served], list[httpx.Request]], *options: str) -> tuple[int, int]:
    """How many requests were recorded, and how many answers differ."""
    settings = {"log_requests": False, "client_seconds": 60000, "client_errors": 10**6, "query_seconds": 20, "query_queue": 100}
    with served(*options, query_workers=1, **settings) as service:
        requests = recorded(service)
        first = asked(service, requests)
    with served(*options, query_workers=4, **settings) as service:
        four = asked(service, requests)
        renewed(service)
        again = asked(service, requests)
    print(f"answered with 200: {sum(each[0] == 200 for each in first)}")
    return len(requests), differing("4 workers instead of 1", requests, first, four) + differing("after a reload", requests, first, again)


def main() -> None:
    """Print how many answers were the same."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--requests", type=int, default=1000, help="how many at least (default %(default)s)")
    options = parser.parse_args()
    count, faults = compared(by_example)
    more, others = compared(partial(generated, count=max(options.requests - count, 1)), "--knowledge", str(WORKSHOP))
    print(f"{count + more} requests; {faults + others} answers that differ (bar 0)")
    sys.exit(bool(faults + others))


if __name__ == "__main__":
    main()
