"""What the operator sees of each request: an id, a line of JSON in the log, and figures to scrape."""

from __future__ import annotations

import hashlib
import json
import logging
import re
import secrets
import time
import uuid
from typing import Any

from fastapi import Response
from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, Info, ProcessCollector, generate_latest
from prometheus_client.exposition import CONTENT_TYPE_PLAIN_0_0_4
from starlette.datastructures import Headers
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from lenticel.problems import CLOSE, problem
from lenticel.snapshot import Snapshot
from lenticel.told import TOLD
from lenticel.version import __version__

log = logging.getLogger("lenticel.requests")
OWN_ID = re.compile(r"[A-Za-z0-9._-]{8,64}")
SHORT = 16  # digits by which a release is called
BUCKETS = (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 30)


class Figures:
    """The figures of one service, in a registry of their own."""

    def __init__(self) -> None:
        self.registry = CollectorRegistry()
        ProcessCollector(registry=self.registry)
        of: dict[str, Any] = {"namespace": "lenticel", "registry": self.registry}
        self.requests = Counter("requests", "Requests answered.", ("operation", "status"), **of)
        self.seconds = Histogram("request_seconds", "Time to the last byte of an answer.", ("operation",), buckets=BUCKETS, **of)
        self.bytes = Counter("response_bytes", "Bytes of answers sent.", ("operation",), **of)
        self.in_flight = Gauge("requests_in_flight", "Requests being answered.", **of)
        self.problems = Counter("problems", "Problems answered, by code.", ("code",), **of)
        self.gone = Counter("clients_gone", "Requests whose client left before the answer.", **of)
        self.unlogged = Counter("log_lines_lost", "Lines of the log that nobody took in time.", **of)
        self.reloads = Counter("reloads", "Releases taken over, or refused.", ("outcome",), **of)
        self.query_seconds = Histogram("query_seconds", "Time that a worker was at a query.", buckets=BUCKETS, **of)
        self.killed = Counter("queries_killed", "Queries that cost their worker, by reason.", ("reason",), **of)
        self.waiting = Gauge("queries_waiting", "Queries that wait for a worker.", **of)
        self.draining = Gauge("draining", "1 while the service ends.", **of)
        self.release = Info("release", "The knowledge in force and the code.", **of)
        self.taxa = Gauge("taxa", "Taxa of the knowledge in force.", **of)
        self.characters = Gauge("characters", "Characters of the knowledge in force.", **of)
        self.statements = Gauge("statements", "Statements of the knowledge in force.", **of)

    def tell(self, snapshot: Snapshot) -> None:
        """Tell which knowledge is in force."""
        known = snapshot.knowledge
        self.release.info({"digest": snapshot.digest, "knowledge": known.about.version, "code": __version__})
        for gauge, held in ((self.taxa, known.taxa), (self.characters, known.characters), (self.statements, known.statements)):
            gauge.set(len(held))

    def text(self) -> bytes:
        """All figures in the Prometheus text format 0.0.4."""
        return generate_latest(self.registry)


class Watch:
    """Gives each request an id, refuses addresses that are too long, and tells log and figures how it went.

    Neither the address of a client nor what it asked is written: the client is a hash with a secret of this run, the
    question is its operation.
    """

    def __init__(self, app: ASGIApp, figures: Figures, address_limit: int, *, write: bool = True, metrics: bool = True) -> None:
        """`write` says whether to log, `metrics` whether to answer /metrics."""
        self.app, self.figures, self.address_limit, self.write, self.metrics = app, figures, address_limit, write, metrics
        self._secret = secrets.token_bytes(16)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        if self.metrics and scope["path"] == "/metrics" and scope["method"] == "GET":
            await Response(self.figures.text(), headers={"x-content-type-options": "nosniff"}, media_type=CONTENT_TYPE_PLAIN_0_0_4)(scope, receive, send)
            return
        visit = Visit(_id(Headers(scope=scope)))
        scope[TOLD] = visit.told
        self.figures.in_flight.inc()
        try:
            await self._answer(scope, receive, visit.through(send))
        finally:
            self.figures.in_flight.dec()
            self._record(scope, visit)

    async def _answer(self, scope: Scope, receive: Receive, send: Send) -> None:
        if len(scope.get("raw_path") or b"") + len(scope["query_string"]) > self.address_limit:
            detail = f"The address is longer than {self.address_limit} bytes."
            await problem(414, "too-large", detail, "Send the question as a body.", headers=CLOSE)(scope, receive, send)
            return
        await self.app(scope, receive, send)

    def _record(self, scope: Scope, visit: Visit) -> None:
        operation = str(visit.told.get("operation", "none"))
        figures = self.figures
        figures.requests.labels(operation, str(visit.status)).inc()
        figures.seconds.labels(operation).observe(visit.seconds)
        figures.bytes.labels(operation).inc(visit.bytes)
        if "problem" in visit.told:
            figures.problems.labels(visit.told["problem"]).inc()
        if "worker_ms" in visit.told:
            figures.query_seconds.observe(visit.told["worker_ms"] / 1000)
        if not visit.whole:
            figures.gone.inc()
        if self.write:
            log.info(json.dumps(visit.line(operation, self._client(scope), scope["method"])))

    def _client(self, scope: Scope) -> str:
        host = (scope.get("client") or ("",))[0]
        return hashlib.blake2s(host.encode(), key=self._secret, digest_size=6).hexdigest()


def _id(headers: Headers) -> str:
    """The id that the caller gave, if it is fit for a log, else a new one."""
    given = headers.get("x-request-id", "")
    return given if OWN_ID.fullmatch(given) else uuid.uuid4().hex


class Visit:
    """One request on its way: its id, what the app tells of it, and what went out."""

    def __init__(self, key: str) -> None:
        self.key = key
        self.told: dict[str, Any] = {"id": key}
        self.began = time.perf_counter()
        self.status, self.bytes, self.whole, self.release = 0, 0, False, ""

    @property
    def seconds(self) -> float:
        """Since it began."""
        return time.perf_counter() - self.began

    def through(self, send: Send) -> Send:
        """What sends an answer on, with its id, and keeps count."""

        async def sending(message: Message) -> None:
            if message["type"] == "http.response.start":
                self.status = message["status"]
                headers = [*message.get("headers", ()), (b"x-request-id", self.key.encode())]
                self.release = next((value.decode()[:SHORT] for name, value in headers if name == b"x-lenticel-release"), "")
                message = {**message, "headers": headers}
            elif message["type"] == "http.response.body":
                self.bytes += len(message.get("body", b""))
                self.whole = not message.get("more_body", False)
            await send(message)

        return sending

    def line(self, operation: str, client: str, method: str) -> dict[str, Any]:
        """What the log says of it."""
        more = {name: value for name, value in self.told.items() if name not in ("id", "operation")}
        return {
            "id": self.key, "client": client, "method": method, "operation": operation, "status": self.status,
            "ms": round(self.seconds * 1000, 2), "bytes": self.bytes, "whole": self.whole,
            **({"release": self.release} if self.release else {}), **more,
        }  # fmt: skip
