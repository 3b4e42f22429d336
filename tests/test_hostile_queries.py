"""Strangers' queries that mean harm: whatever they do, they do it to a worker, and for no longer than the deadline."""

from __future__ import annotations

import hashlib
import re
import socket
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx
import pytest

from lenticel.quadstore import FORMAT
from tests.hostile.queries import CORPUS
from tests.served import Served, served

DEADLINE = 1.0  # seconds
GRACE = 0.25
PARALLEL = 2
LATE = 10.0  # seconds beyond the deadline that no answer may take, however busy the machine; how many keep to GRACE is printed
STATUSES = {200, 400, 403, 413, 503, 504, 507}


@pytest.fixture(scope="module")
def service(trees_folder: Path, trees_dataset: Path, trees_store: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    root = tmp_path_factory.mktemp("served")
    (root / "release").mkdir()
    for each in trees_folder.iterdir():
        (root / "release" / each.name).symlink_to(each)
    (root / "release" / "dataset.nq.gz").symlink_to(trees_dataset)
    (root / "cache").mkdir()
    (root / "cache" / f"{hashlib.sha256(trees_dataset.read_bytes()).hexdigest()[:32]}-{FORMAT}").symlink_to(trees_store)
    settings = {"cache": root / "cache", "query_seconds": DEADLINE, "query_workers": 3, "client_seconds": 60000, "client_errors": 100000}
    with served("--knowledge", str(root / "release"), **settings) as found:
        yield found


@pytest.fixture
def nobody() -> Iterator[tuple[str, list[object]]]:
    """A listener on loopback, and everyone who ever came."""
    came: list[object] = []
    with socket.create_server(("127.0.0.1", 0)) as listener:
        listener.settimeout(0.1)
        stop = threading.Event()

        def listen() -> None:
            while not stop.is_set():
                try:
                    connection, address = listener.accept()
                except TimeoutError:
                    continue
                came.append(address)
                connection.close()

        thread = threading.Thread(target=listen)
        thread.start()
        yield f"http://127.0.0.1:{listener.getsockname()[1]}/", came
        stop.set()
        thread.join()


def test_the_listener_hears_who_comes(nobody: tuple[str, list[object]]) -> None:
    """Else that nobody came would mean nothing."""
    url, came = nobody
    with pytest.raises(httpx.TransportError):
        httpx.get(url)
    assert len(came) == 1


def test_the_corpus_harms_nothing_but_workers(service: Served, nobody: tuple[str, list[object]]) -> None:
    url, came = nobody
    assert len(CORPUS) >= 60
    assert len(set(CORPUS.values())) == len(CORPUS)
    assert httpx.get(f"{service.url}/openapi.json", timeout=60).status_code == 200  # else it is written meanwhile, and its memory laid to the corpus
    pid, memory, began = service.process.pid, service.memory, time.perf_counter()
    slow: list[str] = []
    odd: list[str] = []
    statuses, in_time = Counter[int](), Counter[bool]()

    def attack(numbered: tuple[int, str]) -> None:
        number, name = numbered
        asked = time.perf_counter()
        answer = service.ask(CORPUS[name].replace("{url}", url), f"10.1.{number // 250}.{number % 250}")
        took = time.perf_counter() - asked
        statuses[answer.status_code] += 1
        in_time[took <= DEADLINE + GRACE] += 1
        if took > DEADLINE + LATE:
            slow.append(f"{name}: {took:.2f} s, {answer.status_code}")
        if answer.status_code not in STATUSES:
            odd.append(f"{name}: {answer.status_code} {answer.text[:200]}")
        answer.json()  # whole
        if service.process.poll() is not None or httpx.get(f"{service.url}/healthz").status_code != 200:
            odd.append(f"{name}: the service is gone")

    with ThreadPoolExecutor(PARALLEL) as pool:
        list(pool.map(attack, enumerate(CORPUS)))
    took = time.perf_counter() - began
    print(f"{len(CORPUS)} hostile queries in {took:.0f} s, {in_time[True]} within {GRACE} s of the deadline: {dict(statuses)}")
    print(f"memory of the service {memory} -> {service.memory} KiB")
    assert (slow, odd, came) == ([], [], [])
    assert service.process.pid == pid
    assert service.memory - memory < 20 * 1024
    assert min(statuses[504], statuses[400], statuses[403]) >= 3
    told = re.findall(r'^lenticel_queries_killed_total\{reason="(\w+)"\} (\d+)', httpx.get(f"{service.url}/metrics").text, re.MULTILINE)
    killed = Counter({why: int(count) for why, count in told})
    assert killed["time"] >= statuses[504]
    assert killed["memory"] >= statuses[507]
    assert service.ask("ASK { ?s ?p ?o }", "10.2.0.1").json()["boolean"] is True


def test_the_kernel_refuses_sockets_to_workers() -> None:
    code = (
        "import socket, threading; from lenticel.sealing import deny_sockets; socket.socket().close(); assert deny_sockets()\n"
        "def attempt():\n"
        "    for family in (socket.AF_INET, socket.AF_INET6, socket.AF_UNIX, socket.AF_NETLINK):\n"
        "        try: socket.socket(family)\n"
        "        except OSError as error: print(error.errno)\n"
        "thread = threading.Thread(target=attempt); thread.start(); thread.join(); attempt()"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert found.stdout.split() == ["1"] * 8, found.stderr  # EPERM
