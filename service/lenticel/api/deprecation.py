"""Operations that will go: declared once, said in the document and in the headers of each of their answers.

app.get("/v1/old", ..., **Deprecation(since=date(2027, 3, 1), until=date(2028, 3, 1), successor="/v1/new", about="/release").declared())
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from email.utils import format_datetime
from typing import Any

from fastapi import FastAPI
from fastapi.routing import APIRoute
from starlette.types import ASGIApp, Message, Receive, Scope, Send

EXTRA = "x-deprecation"


@dataclass(frozen=True, slots=True)
class Deprecation:
    """Since when an operation should not be used any more, until when it is there, what takes its place, and where that is explained."""

    since: date
    until: date
    successor: str
    about: str

    def __post_init__(self) -> None:
        if self.until < self.since:
            raise ValueError("an operation cannot go before it is deprecated")

    def declared(self) -> dict[str, Any]:
        """What the route is told of it."""
        told = {"since": self.since.isoformat(), "until": self.until.isoformat(), "successor": self.successor, "about": self.about}
        return {"deprecated": True, "openapi_extra": {EXTRA: told}}

    def headers(self) -> list[tuple[bytes, bytes]]:
        """The headers: Deprecation (RFC 9745), Sunset (RFC 8594), and both links."""
        since, until = (datetime.combine(day, time(), UTC) for day in (self.since, self.until))
        links = f'<{self.about}>; rel="deprecation"; type="text/html", <{self.successor}>; rel="successor-version"'
        told = {"deprecation": f"@{int(since.timestamp())}", "sunset": format_datetime(until, usegmt=True), "link": links}
        return [(name.encode(), value.encode()) for name, value in told.items()]


def announce(app: FastAPI) -> None:
    """Let each deprecated route of an app say so in its answers, those that tell of an error too; routes must all have been added."""
    for route in app.routes:
        if isinstance(route, APIRoute) and EXTRA in (route.openapi_extra or {}):
            told: Mapping[str, str] = (route.openapi_extra or {})[EXTRA]
            found = Deprecation(date.fromisoformat(told["since"]), date.fromisoformat(told["until"]), told["successor"], told["about"])
            route.app = _announcing(route.app, found.headers())


def _announcing(app: ASGIApp, headers: list[tuple[bytes, bytes]]) -> ASGIApp:
    async def announced(scope: Scope, receive: Receive, send: Send) -> None:
        async def sending(message: Message) -> None:
            await send({**message, "headers": [*message["headers"], *headers]} if message["type"] == "http.response.start" else message)

        await app(scope, receive, sending)

    return announced
