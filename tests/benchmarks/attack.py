"""Honest clients beside attackers: `python -m tests.benchmarks.attack`.

Two honest clients ask the queries of the saved questions, one after another with a pause between, each a little different so that no answer is one
that was kept: first in calm, then while three attackers send the corpus of `tests/hostile/queries.py` as fast as they are answered, all by the
settings that the service comes with, unless `--slow` says otherwise. Each client has an address of its own.
All traffic stays on loopback and ends by itself.
"""

from __future__ import annotations

import argparse
import itertools
import sys
import threading
import time
from collections import Counter

import httpx

from tests.hostile.queries import CORPUS
from tests.load import Client, Told, asking
from tests.served import Served, served

PAUSE = 0.5  # seconds between two questions of an honest client, which so stays within its budget
BAR = 5.0


def honest(service: Served, client: str, questions: list[str]) -> Client:
    """One who asks one question after another."""
    headers = {"x-forwarded-for": client, "accept": "application/sparql-results+json, application/n-triples"}
    session, queries = httpx.Client(base_url=service.url, headers=headers, timeout=30), itertools.cycle(questions)

    def send() -> httpx.Response:
        return session.post("/sparql", data={"query": f"{next(queries)}\n# {client} {time.perf_counter()}"})

    return Client(send, lambda answer: "" if answer.status_code == 200 and answer.content else str(answer.status_code))


def attacker(service: Served, client: str, stop: threading.Event, statuses: Counter[int]) -> None:
    """Send the corpus over and over."""
    with httpx.Client(base_url=service.url, headers={"x-forwarded-for": client}, timeout=60) as session:
        for query in itertools.cycle(CORPUS.values()):
            if stop.is_set():
                return
            try:
                statuses[session.post("/sparql", data={"query": query.replace("{url}", "http://127.0.0.1:9/")}).status_code] += 1
            except httpx.HTTPError:
                statuses[0] += 1


def measured(service: Served, questions: list[str], seconds: float, attackers: int) -> tuple[Told, Counter[int]]:
    """What two honest clients are told beside so many attackers, and what those got."""
    stop, statuses = threading.Event(), Counter[int]()
    threads = [threading.Thread(target=attacker, args=(service, f"10.9.0.{number}", stop, statuses)) for number in range(attackers)]
    for thread in threads:
        thread.start()
    with asking([honest(service, f"10.8.0.{number}", questions[number::2]) for number in range(2)], PAUSE) as told:
        time.sleep(seconds)
        stop.set()
    for thread in threads:
        thread.join()
    return told, statuses


def main() -> None:
    """Print both side by side."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=int, default=90, help="of each half (default 90; the budget of a client is by the minute)")
    parser.add_argument("--slow", type=int, default=1, help="on a busy machine: deadlines and budgets are so many times the usual ones (default 1)")
    options = parser.parse_args()
    settings = {"query_seconds": 2 * options.slow, "client_seconds": 20 * options.slow}
    with served(log_requests=False, **settings) as service:
        questions = [each["question"]["query"] for each in httpx.get(f"{service.url}/v1/questions").json()]
        measured(service, questions, len(questions) * PAUSE, 0)  # the first time is not like the others
        calm, _ = measured(service, questions, options.seconds, 0)
        print(f"in calm       {calm}")
        under, statuses = measured(service, questions, options.seconds, 3)
        print(f"under attack  {under}")
        print(f"the attackers were told {dict(sorted(statuses.items()))}")
        ratio = under.p99 / calm.p99
        print(f"p99 under attack is {ratio:.1f} times that in calm (bar {BAR:g}); {sum(under.wrong.values())} honest failures (bar 0)")
        assert service.process.poll() is None
    sys.exit(bool(under.wrong) or ratio > BAR)


if __name__ == "__main__":
    main()
