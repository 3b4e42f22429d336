"""Releases taken over and processes restarted under load: `python -m tests.benchmarks.swaps`.

First a service takes over two releases in turn (the embedded knowledge and that of `fixtures/workshop`, each with its dataset) while clients ask in JSON,
with and without keeping their connections, and in SPARQL: no request may fail, no answer may mix two releases, and beside the changes the answers may not
take much longer than in the calm before and after. Then processes follow each other on one socket while clients ask, half of them keeping their
connections: no request may fail. All traffic stays on loopback and ends by itself.
"""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Mapping
from pathlib import Path

import httpx

import lenticel
from lenticel.build import ontology_of, snapshot_of
from lenticel.dataset import write_dataset
from lenticel.derived import FILE
from lenticel.places import dataset_file
from lenticel.releases import publish
from lenticel.snapshot import Snapshot
from tests.load import Client, Told, askers_of_the_index, asking
from tests.queries import WORKSHOP
from tests.served import Releasing, releasing
from tests.test_releases import writer

PAUSE = 0.02  # seconds between two requests of a client
REST = 0.5  # seconds between two changes
CALM = 5.0  # seconds
SLOWER = 2.0
COUNT = "SELECT (COUNT(*) AS ?n) { ?statement a lt:Statement }"


def asker_of_statements(url: str, address: str, counts: Mapping[str, int]) -> Client:
    """One who asks in SPARQL how many statements there are, never the same query twice; the answer must be that of the release that it names."""
    session = httpx.Client(base_url=url, headers={"x-forwarded-for": address}, timeout=20)

    def fault(answer: httpx.Response) -> str:
        if answer.status_code != 200:
            return f"{answer.status_code} in SPARQL: {answer.json()['detail']}"
        found = int(answer.json()["results"]["bindings"][0]["n"]["value"])
        return "" if found == counts[answer.headers["x-lenticel-release"]] else "mixed in SPARQL"

    return Client(lambda: session.post("/sparql", data={"query": f"{COUNT} # {time.perf_counter()}"}), fault)


def with_dataset(snapshot: Snapshot, dataset: Path) -> Callable[[Path], dict[str, str]]:
    """What writes a release of a snapshot that can be queried too."""

    def write(out: Path) -> dict[str, str]:
        shutil.copy(dataset, out / FILE)
        return writer(snapshot)(out)

    return write


def taken_over(service: Releasing, releases: list[tuple[Snapshot, Path]], count: int) -> bool:
    """Print how so many changes of the release in force went; gives whether all was as it must be."""
    counts = {snapshot.digest: len(snapshot.knowledge.statements) for snapshot, _ in releases}
    clients = [*askers_of_the_index(service.url, 4), *(asker_of_statements(service.url, f"10.3.0.{number}", counts) for number in range(2))]
    windows: list[tuple[float, float]] = []
    with asking(clients, PAUSE) as told:
        began = time.perf_counter()
        time.sleep(CALM)
        for number in range(count):
            snapshot, dataset = releases[number % 2]
            start = time.perf_counter()
            publish(service.root, with_dataset(snapshot, dataset))
            service.take_over(snapshot.digest)
            windows.append((start, time.perf_counter()))
            time.sleep(REST)
        time.sleep(CALM)
        ended = time.perf_counter()

    def beside(start: float, end: float) -> bool:
        return all(end < first or last < start for first, last in windows)

    def in_calm(start: float, end: float) -> bool:
        return end < began + CALM or start > ended - CALM

    calm, outside, within = told.those(in_calm), told.those(lambda *at: beside(*at) and not in_calm(*at)), told.those(lambda *at: not beside(*at))
    ratio = outside.p99 / calm.p99
    for name, each in (("in calm", calm), ("between changes", outside), ("during changes", within)):
        print(f"{name:16}{Told(each.times)}".rpartition("  failures")[0])
    mean = sum(last - first for first, last in windows) / count
    print(f"{count} changes, {mean:.1f} s each: {sum(told.wrong.values())} of {len(told.times)} requests failed or were mixed (bar 0) {dict(told.wrong) or ''}")
    print(f"p99 between changes is {ratio:.2f} times that in calm (bar {SLOWER:g})")
    assert told.releases.keys() == counts.keys(), "not every release answered"
    return not told.wrong and ratio <= SLOWER


def restarted(service: Releasing, counts: Mapping[str, int], count: int, clients: int) -> bool:
    """Print how so many restarts went; gives whether all was as it must be."""
    askers = [*askers_of_the_index(service.url, clients - 2), *(asker_of_statements(service.url, f"10.4.0.{number}", counts) for number in range(2))]
    with asking(askers, PAUSE) as told:
        for _ in range(count):
            time.sleep(REST)
            service.restart()
        time.sleep(REST)
    print(f"{count} restarts, {clients} clients: {sum(told.wrong.values())} of {len(told.times)} requests failed (bar 0) {dict(told.wrong) or ''}")
    return not told.wrong


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--changes", type=int, default=20, help="of the release in force (default %(default)s)")
    parser.add_argument("--restarts", type=int, default=10, help="of the process (default %(default)s)")
    parser.add_argument("--clients", type=int, default=20, help="that ask meanwhile (default %(default)s)")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        trees, workshop = lenticel.load(), snapshot_of(WORKSHOP)
        write_dataset(workshop, folder / FILE, ontology_of(WORKSHOP)[0])
        releases = [(trees, dataset_file()), (workshop, folder / FILE)]
        for snapshot, dataset in releases:  # the one in force at the start is the last
            publish(folder / "releases", with_dataset(snapshot, dataset))
        settings = {"client_seconds": 60000, "client_errors": 10**6, "log_requests": False}
        with releasing(folder / "releases", folder / "log", **settings) as service:
            for snapshot, dataset in releases:  # a dataset that no service had before is laid out first, which takes longer
                publish(service.root, with_dataset(snapshot, dataset))
                service.take_over(snapshot.digest)
            good = taken_over(service, releases, options.changes)
            good &= restarted(service, {snapshot.digest: len(snapshot.knowledge.statements) for snapshot, _ in releases}, options.restarts, options.clients)
            service.end()
    sys.exit(not good)


if __name__ == "__main__":
    main()
