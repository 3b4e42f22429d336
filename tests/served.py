"""Services on loopback: `lenticel serve` in a process of its own, or an app in a thread."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx
import uvicorn
from starlette.types import ASGIApp

READY = 180.0  # seconds that a service may take to get ready


def listening(backlog: int) -> socket.socket:
    """A socket that listens on loopback, and knows that its protocol is TCP: only on such does asyncio send small packets at once.

    An answer in two of them would else wait 40 ms for the client's acknowledgement of the first (RFC 896; RFC 1122, 4.2.3.2).
    """
    return socket.socket(fileno=socket.create_server(("127.0.0.1", 0), backlog=backlog).detach())


@dataclass
class Served:
    """A service that runs."""

    process: subprocess.Popen[bytes]
    url: str

    @property
    def memory(self) -> int:
        """What the process of the API holds, in KiB."""
        status = Path(f"/proc/{self.process.pid}/status").read_text(encoding="ascii")
        return int(next(line.split()[1] for line in status.splitlines() if line.startswith("VmRSS")))

    @property
    def files(self) -> int:
        """How many files the process of the API has open."""
        return len(list(Path(f"/proc/{self.process.pid}/fd").iterdir()))

    @property
    def children(self) -> list[str]:
        """The states of its child processes, Z for one that is dead and was never seen off."""
        found = []
        for entry in Path("/proc").iterdir():
            try:
                _, _, rest = (entry / "stat").read_text(encoding="utf-8", errors="replace").rpartition(")")
            except (OSError, NotADirectoryError):
                continue
            if entry.name.isdigit() and rest.split()[1] == str(self.process.pid):
                found.append(rest.split()[0])
        return found

    def ask(self, query: str, client: str, timeout: float = 20) -> httpx.Response:
        """Ask a query in SPARQL as a client of an address."""
        return httpx.post(f"{self.url}/sparql", data={"query": query}, headers={"x-forwarded-for": client}, timeout=timeout)


@contextmanager
def served(*options: str, **settings: object) -> Iterator[Served]:
    """Serve with options of the command and settings of the environment, until the end; returns once it is ready."""
    environment: Mapping[str, str] = {**os.environ, **{f"LENTICEL_{name.upper()}": str(value) for name, value in settings.items()}}
    with socket.create_server(("127.0.0.1", 0), backlog=256) as listener:
        listener.set_inheritable(True)
        process = subprocess.Popen(
            [sys.executable, "-m", "lenticel", "serve", *options, "--fd", str(listener.fileno())],
            pass_fds=[listener.fileno()], stderr=subprocess.DEVNULL, env=environment,
        )  # fmt: skip
        found = Served(process, f"http://127.0.0.1:{listener.getsockname()[1]}")
        try:
            until_ready(found.process, found.url)
            yield found
        finally:
            process.send_signal(signal.SIGTERM)
            process.wait(30)


def until_ready(process: subprocess.Popen[bytes] | subprocess.Popen[str], url: str) -> None:
    """Wait until a service says that it is ready.

    Raises:
        AssertionError: it ended, or took too long; with what it wrote to standard error, if that is kept.
    """
    end = time.monotonic() + READY
    while time.monotonic() < end:
        try:
            if httpx.get(f"{url}/readyz", timeout=2).status_code == 200:
                return
        except httpx.TransportError:
            pass
        assert process.poll() is None, process.stderr and process.stderr.read()
        time.sleep(0.05)
    raise AssertionError("the service does not get ready")


@contextmanager
def in_thread(app: ASGIApp) -> Iterator[str]:
    """Serve an app until the end; gives its address. From the start on a visitor waits until the server is up."""
    with listening(64) as listener:
        server = uvicorn.Server(uvicorn.Config(app, log_level="error", lifespan="off"))
        thread = threading.Thread(target=lambda: server.run([listener]), daemon=True)
        thread.start()
        try:
            yield f"http://127.0.0.1:{listener.getsockname()[1]}"
        finally:
            server.should_exit = server.force_exit = True
            thread.join(10)
