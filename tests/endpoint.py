"""A service with its endpoint on loopback, in a thread with an event loop of its own."""

from __future__ import annotations

import asyncio
import gzip
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import uvicorn

from lenticel.api import create_app
from lenticel.api.sparql import Endpoint
from lenticel.budgets import Budgets
from lenticel.pool import Pool
from lenticel.prefixes import prefixes_of
from lenticel.quadstore import make
from lenticel.queries import Limits
from lenticel.saved import Saved
from lenticel.snapshot import Snapshot
from tests.served import listening

GENEROUS = {"seconds": 1e9, "errors": 10**9, "running": 1000}


class Running:
    """The service; `pool` can be changed while it runs."""

    def __init__(
        self, snapshot: Snapshot, limits: Limits, budgets: Budgets | None = None, questions: dict[str, Saved] | None = None, address: str = ""
    ) -> None:
        self.snapshot, self.limits = snapshot, limits
        self.endpoint = Endpoint(budgets or Budgets(**GENEROUS), questions or {}, limits, address)
        self.listener = listening(512)
        app = create_app(snapshot, endpoint=self.endpoint)
        self.server = uvicorn.Server(uvicorn.Config(app, log_level="critical", lifespan="off", timeout_graceful_shutdown=2, server_header=False))
        self.loop = asyncio.new_event_loop()
        self.thread = threading.Thread(target=self._run, daemon=True)
        self.thread.start()

    def _run(self) -> None:
        asyncio.set_event_loop(self.loop)
        self.loop.run_until_complete(self.server.serve(sockets=[self.listener]))
        if self.endpoint.pool:
            self.loop.run_until_complete(self.endpoint.pool.close())
        self.loop.close()

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.listener.getsockname()[1]}"

    @property
    def pool(self) -> Pool:
        assert self.endpoint.pool
        return self.endpoint.pool

    def open(self, store: Path, *, union: bool = True, base: str = "", prefixes: dict[str, str] | None = None) -> None:
        """Answer from a store, in place of the one before."""
        about = self.snapshot.knowledge.about
        pool = Pool(store, prefixes_of(about) if prefixes is None else prefixes, base or about.iri, self.limits, union=union)
        old, self.endpoint.pool = self.endpoint.pool, None
        self.within(pool.start())
        self.endpoint.pool = pool
        if old:
            self.within(old.close())

    def within(self, task: object) -> object:
        """Run a coroutine in the loop of the service."""
        return asyncio.run_coroutine_threadsafe(task, self.loop).result(60)  # type: ignore[arg-type]

    def end(self) -> None:
        self.server.should_exit = True
        self.thread.join(30)
        self.listener.close()


@contextmanager
def running(snapshot: Snapshot, store: Path, limits: Limits | None = None, **more: object) -> Iterator[Running]:
    service = Running(snapshot, limits or Limits(), **more)  # type: ignore[arg-type]
    try:
        for _ in range(200):
            if service.server.started:
                break
            time.sleep(0.02)
        service.open(store)
        yield service
    finally:
        service.end()


def store_from(quads: str, folder: Path) -> Path:
    """A store of N-Quads."""
    file = folder / "quads.nq.gz"
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(gzip.compress(quads.encode()))
    make(file, folder / "store")
    return folder / "store"


def ask(service: Running, query: str, accept: str = "application/sparql-results+json", client: str = "", **fields: str) -> httpx.Response:
    headers = {"accept": accept, **({"x-forwarded-for": client} if client else {})}
    return httpx.post(f"{service.url}/sparql", data={"query": query, **fields}, headers=headers, timeout=40)
