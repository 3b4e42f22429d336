"""The process that serves: the release in force, taken over without a dropped request, and an orderly end."""

from __future__ import annotations

import asyncio
import contextlib
import gc
import logging
import os
import signal
import socket
import sys
from collections.abc import Callable, Coroutine, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import uvicorn
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from lenticel.api import create_app
from lenticel.api.document import ahead
from lenticel.api.made import let_go
from lenticel.api.releases import Shelf
from lenticel.api.sparql import Endpoint
from lenticel.api.watch import Figures, Watch
from lenticel.budgets import UnderWay
from lenticel.errors import BadSetting, LenticelError
from lenticel.lines import Limits
from lenticel.logs import Unhurried
from lenticel.querying import Opened, Querying
from lenticel.releases import Release, described
from lenticel.releases import opened as sound
from lenticel.retired import retired_in
from lenticel.settings import Settings
from lenticel.store import load

log = logging.getLogger("lenticel")
TICK = 0.02  # seconds between two looks at what is still in flight
USUAL = (700, 10, 10)  # how often the garbage collector runs, as Python has it
LONGEST_HEAD = 1 << 18  # bytes of a request's head; a longer one is cut off, while up to it an address that is too long is told so


class Current:
    """The app in force. A request is answered to its end by the app that began it, so that a change drops and mixes nothing.

    While `draining`, answers close their connection, and readiness says no.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app
        self.draining = False

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request by the app in force."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        scope["lenticel.draining"] = self.draining

        async def closing(message: Message) -> None:
            if self.draining and message["type"] == "http.response.start":
                message = {**message, "headers": [*message.get("headers", ()), (b"connection", b"close")]}
            await send(message)

        await self.app(scope, receive, closing)


Turn = Callable[[], Coroutine[Any, Any, None]]


@dataclass(frozen=True)
class Turns:
    """What is done beside answering: at the `begin`ning, to `renew` the release in force, and at the `end`."""

    begin: Turn
    renew: Turn
    end: Turn


class Server(uvicorn.Server):
    """A server that takes over a new release on SIGHUP, and on SIGTERM answers what is in flight before it ends.

    Connections that were accepted but not yet read would be reset by an immediate close; so the listening sockets are closed
    first, and the open connections are given time to end.
    """

    def __init__(self, config: uvicorn.Config, current: Current, turns: Turns, patience: float) -> None:
        """`patience` is how long requests in flight may take at the end, in seconds."""
        super().__init__(config)
        self.current, self._turns, self._patience = current, turns, patience
        self._renewing: asyncio.Task[None] | None = None
        self._asked = False  # whether a change is to be looked for that no renewal has begun to look for

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start to listen, and heed SIGHUP."""
        await super().startup(sockets)
        self._beginning = asyncio.get_running_loop().create_task(self._turns.begin())
        with contextlib.suppress(NotImplementedError, RuntimeError):  # not every system has SIGHUP, and only the main thread may heed it
            asyncio.get_running_loop().add_signal_handler(signal.SIGHUP, self.renew)

    def renew(self) -> None:
        """Take over the release in force, once more if that is under way already, which may have missed it; if it is no good the old one stays."""
        self._asked = True
        if self._renewing is None or self._renewing.done():
            self._renewing = asyncio.get_running_loop().create_task(self._renewed())

    async def _renewed(self) -> None:
        while self._asked:
            self._asked = False
            try:
                await self._turns.renew()
            except LenticelError as error:
                log.error("the new release is not taken: %s", error)
            except Exception:
                log.exception("the new release is not taken")

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Answer what is in flight, then end."""
        self.current.draining = True
        for each in self.servers:
            each.close()
        for _ in range(int(self._patience / TICK)):
            if not self.server_state.connections:
                break
            await asyncio.sleep(TICK)
        await super().shutdown(sockets)
        self._beginning.cancel()
        await self._turns.end()


@dataclass(frozen=True)
class Service:
    """One knowledge in service: the app that answers from it, and its endpoint, if any."""

    opened: Opened
    app: ASGIApp
    endpoint: Endpoint | None


def serve(
    knowledge: Callable[[], Opened],
    settings: Settings,
    *,
    host: str,
    port: int,
    fd: int | None = None,
    retired: Callable[[], Mapping[str, str]] = dict,
    releases: Path | None = None,
) -> None:
    """Serve until a signal ends it.

    Args:
        knowledge: opens the knowledge in force; asked once at the start, and again at each SIGHUP.
        settings: how.
        host: the address to listen at.
        port: the port.
        fd: a listening socket that is open already, in place of host and port.
        retired: gives the identifiers that had to go, each with its successor; asked whenever `knowledge` is.
        releases: the folder of releases, of which older ones can be asked by name.

    Raises:
        LenticelError: there is no sound knowledge at the start.
    """
    listening = None if fd is None else [_listening(fd)]
    figures = Figures()
    querying = Querying(settings, lambda why: figures.killed.labels(why).inc())
    limits = Limits(settings.batch_lines, settings.batch_line_bytes, settings.batch_seconds, UnderWay(settings.batch_requests))

    def older(release: Release) -> ASGIApp:
        snapshot = load(sound(release.folder).snapshot_folder)
        return create_app(snapshot, body_limit=settings.body_limit, retired=retired_in(release.folder), limits=limits, shelf=shelf)

    shelf = Shelf(partial(described, releases), older, settings.older_releases) if releases else None

    def made() -> Service:
        opened = knowledge()
        endpoint = querying.endpoint(opened)
        app = create_app(opened.snapshot, body_limit=settings.body_limit, retired=retired(), limits=limits, endpoint=endpoint, shelf=shelf)
        return Service(opened, app, endpoint)

    service = made()
    started()
    writing: asyncio.Task[None] | None = None
    figures.tell(service.opened.snapshot)
    current = Current(service.app)

    async def begin() -> None:
        if service.endpoint:
            with contextlib.suppress(LenticelError, OSError):  # the log has it, and readiness says so; the rest goes on
                await querying.warm(service.endpoint, service.opened)
        await ahead(service.app)

    async def renew() -> None:
        nonlocal service, writing
        try:
            new = await asyncio.to_thread(made)
            if new.endpoint:
                await querying.warm(new.endpoint, new.opened)
        except Exception:
            figures.reloads.labels("refused").inc()
            raise
        old, service, current.app = service, new, new.app
        figures.tell(new.opened.snapshot)
        figures.reloads.labels("taken").inc()
        if writing:
            writing.cancel()
        writing = asyncio.get_running_loop().create_task(ahead(new.app))
        log.info("knowledge %s is in force", new.opened.snapshot.digest[:16])
        if old.endpoint and old.endpoint.pool:
            await old.endpoint.pool.close(patience=settings.query_ceiling)
        del old
        settled()

    async def end() -> None:
        if writing:
            writing.cancel()
        if service.endpoint and service.endpoint.pool:
            await service.endpoint.pool.close()

    figures.waiting.set_function(lambda: service.endpoint.pool.waiting if service.endpoint and service.endpoint.pool else 0)
    _log_to_stderr(figures.unlogged.inc)
    outer = Watch(current, figures, settings.address_limit, write=settings.log_requests, metrics=settings.metrics)
    config = uvicorn.Config(
        outer, host=host, port=port, server_header=False, access_log=False, lifespan="off", backlog=settings.backlog,
        timeout_keep_alive=settings.keep_alive_seconds, timeout_graceful_shutdown=max(1, int(settings.drain_seconds)),
        h11_max_incomplete_event_size=LONGEST_HEAD,
    )  # fmt: skip
    Server(config, current, Turns(begin, renew, end), settings.drain_seconds).run(listening)


def started() -> None:
    """Leave out of collections what is there at a start, and from then on collect as usual, whatever was set for the time of the start.

    Nothing is collected here, unlike in `settled`: that takes a tenth of the time until the first answer, and finds a few hundred objects.
    """
    gc.freeze()
    gc.set_threshold(*USUAL)


def settled() -> None:
    """Collect what is not needed any more, and from then on leave out what is there: else each full collection walks the whole knowledge while all wait."""
    let_go()
    gc.unfreeze()
    gc.collect()
    gc.freeze()


def _listening(fd: int) -> socket.socket:
    """A listening socket that was opened elsewhere, of the family that it has.

    uvicorn takes each for a Unix socket, whose connections asyncio leaves with small packets held back: with that, the second
    answer on a kept connection comes 40 ms late.

    Raises:
        BadSetting: there is no such socket.
    """
    try:
        return socket.socket(fileno=os.dup(fd))
    except OSError as error:
        raise BadSetting(f"File descriptor {fd} is no socket: {error.strerror}.", "Give the number of a listening socket that this process inherits.") from None


def _log_to_stderr(lost: Callable[[], None]) -> None:
    """One line a record, nothing before it, so that the lines of requests are JSON; `lost` counts those that nobody takes."""
    handler = Unhurried(sys.stderr, lost)
    handler.setFormatter(logging.Formatter("%(message)s"))
    log.addHandler(handler)
    log.setLevel(logging.INFO)
    log.propagate = False
