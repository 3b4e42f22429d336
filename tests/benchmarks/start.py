"""How soon a service answers after it was killed: `python -m tests.benchmarks.start`.

`lenticel serve` is started and ended by SIGKILL, several times over; from each start on a client asks until it has the answer to a first question, and
then until readiness says yes. What counts is the least, since on a busy machine a start waits for others; the processor time that it took is printed too.
Each start is a command's, with the bytecode that an installation keeps: of a folder where Python may write none it takes a fifth longer.
"""

from __future__ import annotations

import argparse
import os
import socket
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import httpx

SOON = 1.0  # seconds until the first answer
PATIENCE = 60.0
QUESTION = {"observations": [{"character": "leaf-arrangement", "value": "opposite"}], "explain": 1}


@dataclass(frozen=True)
class Start:
    """One start: seconds until the first answer and until it was ready, and seconds of processor time until the first answer."""

    first: float
    ready: float
    processor: float


def until(answers: Callable[[], httpx.Response]) -> None:
    """Ask until it is answered well."""
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        try:
            if answers().status_code == 200:
                return
        except httpx.TransportError:
            pass
        time.sleep(0.003)
    raise AssertionError("the service does not answer")


def started() -> Start:
    """Start a service, ask it, and kill it."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    url, start = f"http://127.0.0.1:{port}", time.perf_counter()
    with httpx.Client(timeout=PATIENCE) as session:
        process = subprocess.Popen([sys.executable, "-m", "lenticel", "serve", "--port", str(port)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        try:
            until(lambda: session.post(f"{url}/v1/identify", json=QUESTION))
            first, processor = time.perf_counter() - start, taken(process.pid)
            until(lambda: session.get(f"{url}/readyz"))
            return Start(first, time.perf_counter() - start, processor)
        finally:
            process.kill()
            process.wait()


def taken(process: int) -> float:
    """The seconds of processor time that a process took (proc(5), fields 14 and 15 of stat)."""
    fields = Path(f"/proc/{process}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--turns", type=int, default=8)
    turns = [started() for _ in range(parser.parse_args().turns)]
    for name, told in (("first answer", "first"), ("ready", "ready"), ("processor time until the first answer", "processor")):
        every = [getattr(each, told) for each in turns]
        print(f"{name}: {min(every):.2f} s at least, {statistics.median(every):.2f} s in the middle")
    sys.exit(min(each.first for each in turns) > SOON)


if __name__ == "__main__":
    main()
