"""Answers as responses."""

from __future__ import annotations

from typing import Any

from fastapi import Request, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from lenticel.answers import as_json
from lenticel.snapshot import Snapshot
from lenticel.version import __version__


class Dress:
    """Makes answers responses: JSON with an ETag, or nothing but 304 to a caller that has it already.

    The ETag is weak (RFC 9110, 8.8.1), since the same answer also goes out compressed.
    """

    def __init__(self, snapshot: Snapshot) -> None:
        self._tag = f'"{snapshot.digest[:40]}-{__version__}"'
        self._headers = {"etag": f"W/{self._tag}", "cache-control": "no-cache", "x-content-type-options": "nosniff"}

    def __call__(self, request: Request, content: Any) -> Response:
        """The response to a request, as JSON; a snapshot never changes, so one tag serves all of its answers."""
        return self.bytes(request, as_json(content), "application/json")

    def bytes(self, request: Request, content: bytes, media_type: str) -> Response:
        """The response to a request, of any media type."""
        had = [each.strip().removeprefix("W/") for each in request.headers.get("if-none-match", "").split(",")]
        if request.method == "GET" and (self._tag in had or "*" in had):
            return Response(status_code=304, headers=self._headers)
        return Response(content, headers=self._headers, media_type=media_type)


class Head:
    """Answers HEAD as GET without the body (RFC 9110, 9.3.2)."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http" or scope["method"] != "HEAD":
            await self.app(scope, receive, send)
            return

        async def bare(message: Message) -> None:
            await send({**message, "body": b""} if message["type"] == "http.response.body" else message)

        await self.app({**scope, "method": "GET"}, receive, bare)
