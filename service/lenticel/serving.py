"""The process that serves: the release in force, taken over without a dropped request, and an orderly end."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import signal
import socket
from collections.abc import Awaitable, Callable, Mapping

import uvicorn
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from lenticel.api import create_app
from lenticel.api.watch import Figures, Watch
from lenticel.errors import LenticelError
from lenticel.lines import Limits
from lenticel.settings import Settings
from lenticel.snapshot import Snapshot

log = logging.getLogger("lenticel")
TICK = 0.02  # seconds between two looks at what is still in flight


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


class Server(uvicorn.Server):
    """A server that takes over a new release on SIGHUP, and on SIGTERM answers what is in flight before it ends.

    Connections that were accepted but not yet read would be reset by an immediate close; so the listening sockets are closed
    first, and the open connections are given time to end.
    """

    def __init__(self, config: uvicorn.Config, current: Current, renew: Callable[[], Awaitable[None]], patience: float) -> None:
        """`renew` takes over the release in force; `patience` is how long requests in flight may take at the end, in seconds."""
        super().__init__(config)
        self.current, self._renew, self._patience = current, renew, patience
        self._renewing: asyncio.Task[None] | None = None

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start to listen, and heed SIGHUP."""
        await super().startup(sockets)
        with contextlib.suppress(NotImplementedError, RuntimeError):  # not every system has SIGHUP, and only the main thread may heed it
            asyncio.get_running_loop().add_signal_handler(signal.SIGHUP, self.renew)

    def renew(self) -> None:
        """Take over the release in force, unless that is under way already; if it is no good the old one stays."""
        if self._renewing is None or self._renewing.done():
            self._renewing = asyncio.get_running_loop().create_task(self._renewed())

    async def _renewed(self) -> None:
        try:
            await self._renew()
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


def serve(
    knowledge: Callable[[], Snapshot],
    settings: Settings,
    *,
    host: str,
    port: int,
    fd: int | None = None,
    retired: Callable[[], Mapping[str, str]] = dict,
) -> None:
    """Serve until a signal ends it.

    Args:
        knowledge: opens the knowledge in force; asked once at the start, and again at each SIGHUP.
        settings: how.
        host: the address to listen at.
        port: the port.
        fd: a listening socket that is open already, in place of host and port.

        retired: gives the identifiers that had to go, each with its successor; asked whenever `knowledge` is.

    Raises:
        LenticelError: there is no sound knowledge at the start.
    """
    figures = Figures()
    limits = Limits(settings.batch_lines, settings.batch_line_bytes, settings.batch_seconds)

    def made() -> tuple[ASGIApp, Snapshot]:
        snapshot = knowledge()
        return create_app(snapshot, body_limit=settings.body_limit, retired=retired(), limits=limits), snapshot

    app, snapshot = made()
    figures.tell(snapshot)
    current = Current(app)

    async def renew() -> None:
        try:
            app, snapshot = await asyncio.to_thread(made)
        except Exception:
            figures.reloads.labels("refused").inc()
            raise
        current.app = app
        figures.tell(snapshot)
        figures.reloads.labels("taken").inc()
        log.info("knowledge %s is in force", snapshot.digest[:16])

    _log_to_stderr()
    outer = Watch(current, figures, settings.address_limit, write=settings.log_requests, metrics=settings.metrics)
    config = uvicorn.Config(
        outer, host=host, port=port, fd=fd, server_header=False, access_log=False, lifespan="off", backlog=settings.backlog,
        timeout_keep_alive=settings.keep_alive_seconds, timeout_graceful_shutdown=max(1, int(settings.drain_seconds)),
    )  # fmt: skip
    Server(config, current, renew, settings.drain_seconds).run()


def _log_to_stderr() -> None:
    """One line a record, nothing before it, so that the lines of requests are JSON."""
    handler = logging.StreamHandler()
    handler.setFormatter(logging.Formatter("%(message)s"))
    log.addHandler(handler)
    log.setLevel(logging.INFO)
    log.propagate = False
