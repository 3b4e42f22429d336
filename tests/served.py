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
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
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


def memory_of(pid: int) -> int:
    """What a process holds, in KiB."""
    status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    return int(next(line.split()[1] for line in status.splitlines() if line.startswith("VmRSS")))


@dataclass
class Served:
    """A service that runs."""

    process: subprocess.Popen[bytes]
    url: str

    @property
    def memory(self) -> int:
        """What the process of the API holds, in KiB."""
        return memory_of(self.process.pid)

    @property
    def memory_of_all(self) -> int:
        """What that process and its children hold together, in KiB; what they share counts for each."""
        found = self.memory
        for child in self._children():
            with suppress(OSError, StopIteration):  # it has ended since
                found += memory_of(child)
        return found

    @property
    def files(self) -> int:
        """How many files the process of the API has open."""
        return len(list(Path(f"/proc/{self.process.pid}/fd").iterdir()))

    @property
    def children(self) -> list[str]:
        """The states of its child processes, Z for one that is dead and was never seen off."""
        return list(self._children().values())

    def _children(self) -> dict[int, str]:
        found = {}
        for entry in Path("/proc").iterdir():
            try:
                _, _, rest = (entry / "stat").read_text(encoding="utf-8", errors="replace").rpartition(")")
            except (OSError, NotADirectoryError):
                continue
            if entry.name.isdigit() and rest.split()[1] == str(self.process.pid):
                found[int(entry.name)] = rest.split()[0]
        return found

    def ask(self, query: str, client: str, timeout: float = 20) -> httpx.Response:
        """Ask a query in SPARQL as a client of an address."""
        return httpx.post(f"{self.url}/sparql", data={"query": query}, headers={"x-forwarded-for": client}, timeout=timeout)


@contextmanager
def served(*options: str, **settings: object) -> Iterator[Served]:
    """Serve with options of the command and settings of the environment, until the end; returns once it is ready."""
    environment: Mapping[str, str] = {**os.environ, **environment_of(settings)}
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


@dataclass
class Releasing:
    """A service of published releases on a socket that this process holds open, so that it can be started anew; its log goes to a file."""

    root: Path
    log: Path
    listener: socket.socket
    environment: Mapping[str, str] = field(default_factory=dict)
    process: subprocess.Popen[bytes] = field(init=False)

    @property
    def url(self) -> str:
        """Where it is reached."""
        return f"http://127.0.0.1:{self.listener.getsockname()[1]}"

    def start(self) -> None:
        """Start a process, and wait until some process on the socket is ready."""
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "lenticel", "serve", "--releases", str(self.root), "--fd", str(self.listener.fileno())],
                pass_fds=[self.listener.fileno()], stderr=log, env={**os.environ, **self.environment},
            )  # fmt: skip
        until_ready(self.process, self.url)

    def end(self, how: int = signal.SIGTERM) -> str:
        """Send a signal and wait; returns what was logged."""
        self.process.send_signal(how)
        self.process.wait(30)
        return self.log.read_text(encoding="utf-8")

    def restart(self) -> None:
        """Put a new process in place of the old one, which listens on the same socket until the new one does."""
        old = self.process
        self.start()
        old.send_signal(signal.SIGTERM)
        assert old.wait(30) in (0, -signal.SIGTERM)

    def take_over(self, digest: str) -> None:
        """Have the release in force taken over, and wait until its knowledge answers."""
        self.process.send_signal(signal.SIGHUP)
        end = time.monotonic() + READY
        while httpx.get(f"{self.url}/readyz", timeout=20).json().get("digest") != digest:
            assert time.monotonic() < end, f"the new release was not taken over: {self.log.read_text(encoding='utf-8')[-500:]}"
            time.sleep(0.05)


@contextmanager
def releasing(root: Path, log: Path, **settings: object) -> Iterator[Releasing]:
    """Serve what is published, with settings of the environment, until the end."""
    with socket.create_server(("127.0.0.1", 0), backlog=512) as listener:
        listener.set_inheritable(True)
        found = Releasing(root, log, listener, environment_of(settings))
        try:
            found.start()
            yield found
        finally:
            if found.process.poll() is None:
                found.end(signal.SIGKILL)


def environment_of(settings: Mapping[str, object]) -> dict[str, str]:
    """The environment variables of settings."""
    return {f"LENTICEL_{name.upper()}": str(value) for name, value in settings.items()}


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
