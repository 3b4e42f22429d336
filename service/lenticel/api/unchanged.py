"""Tells a caller who has an answer already that it has not changed, without working it out anew (RFC 9110, 13.1.2 and 15.4.5)."""

from __future__ import annotations

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from lenticel.told import TOLD, tell

SETTLED = "lenticel.settled"  # the key of a request's scope under which it is told that address and headers alone settle the answer
LOOKED_AT = ("accept", "accept-encoding", "accept-language")  # the headers that an answer depends on, as `vary` says
MOST = 512  # addresses that are kept, with what they were asked for in
LONGEST = 4096  # letters of one of them
OF_THE_BODY = (b"content-encoding", b"content-length", b"content-type")

Key = tuple[str, ...]


def is_had(header: str, tag: str) -> bool:
    """Whether a caller has what a tag names, by its `if-none-match`."""
    return bool({each.strip().removeprefix("W/") for each in header.split(",")} & {tag, "*"})


class Unchanged:
    """Keeps which addresses were answered, each with the headers of its answer. The knowledge of one app never changes, nor does what such an address holds."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app
        self._kept: dict[Key, tuple[str, list[tuple[bytes, bytes]], str]] = {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http" or scope["method"] != "GET":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        key = (scope["path"], scope["query_string"].decode("latin-1"), *(",".join(headers.getlist(name)) for name in LOOKED_AT))
        tag, told, operation = self._kept.get(key, ("", [], ""))
        if tag and is_had(headers.get("if-none-match", ""), tag):
            tell(scope, operation=operation)
            await send({"type": "http.response.start", "status": 304, "headers": list(told)})
            await send({"type": "http.response.body", "body": b""})
            return

        async def sending(message: Message) -> None:
            if message["type"] == "http.response.start" and message["status"] == 200 and scope.get(SETTLED):
                self._keep(key, message["headers"], str((scope.get(TOLD) or {}).get("operation", "")))
            await send(message)

        await self.app(scope, receive, sending)

    def _keep(self, key: Key, headers: list[tuple[bytes, bytes]], operation: str) -> None:
        tag = dict(headers).get(b"etag", b"").decode()
        if not tag or key in self._kept or sum(map(len, key)) > LONGEST:
            return
        while len(self._kept) >= MOST:
            del self._kept[next(iter(self._kept))]
        self._kept[key] = tag, [each for each in headers if each[0] not in OF_THE_BODY], operation
