"""Many questions in one request, as routes: lines of JSON come in and go out, neither side ever held whole."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Sequence
from typing import Any

from fastapi import FastAPI, Request, Response
from starlette.types import Message, Receive, Scope, Send

from lenticel.api.parameters import must_be
from lenticel.budgets import client_of
from lenticel.examples import LINES_TYPE, lines_of
from lenticel.lines import Answering, ClaimLines, Limits, Line, Lines, OutOfTime, PlantLines, TooLarge, as_lines
from lenticel.problems import CLOSE, members, of_error, of_line, written
from lenticel.refused import Refused
from lenticel.requests import ClaimLine, PlantLine
from lenticel.snapshot import Snapshot
from lenticel.told import tell

PLANTS, CLAIMS = PATHS = ("/v1/identify/batch", "/v1/claims/batch")
AT_ONCE = 256  # lines; answering them takes some milliseconds, beside the loop
LINGER = 2.0  # seconds; a connection that is closed while the client sends is reset, and the last line would be lost with it
FLOW = "A line is answered as soon as it has come in; a client that sends very much must read while it sends."


class Gone(Exception):
    """The client has left, or takes nothing any more."""


class Answered(Response):
    """Answers a request line by line while it comes in.

    From a client that takes no answers nothing more is read; what is held of one request is what came in one piece. When the client leaves, the
    work ends with the lines in hand.
    """

    def __init__(self, answering: Answering, limits: Limits) -> None:
        headers = {**CLOSE, "cache-control": "no-store", "x-content-type-options": "nosniff", "x-lenticel-release": answering.snapshot.digest}
        super().__init__(headers=headers, media_type=LINES_TYPE)
        del self.headers["content-length"]
        self.answering, self.limits, self._headed = answering, limits, False

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request, unless its client has too many under way."""
        try:
            with self.limits.under_way.one(client_of((scope.get("client") or ("",))[0])):
                await self._serve(scope, receive, send)
        except Refused as error:
            tell(scope, problem=error.code)
            refused = of_error(error)
            refused.headers.update(CLOSE)  # nobody reads its body
            await refused(scope, receive, send)

    async def _serve(self, scope: Scope, receive: Receive, send: Send) -> None:
        self._until = asyncio.get_running_loop().time() + self.limits.seconds
        try:
            stopped = await self._begun(scope, receive, send)
            closing = self.answering.closing(stopped)
            tell(scope, lines=closing.answered, refused=closing.problems, **({"problem": stopped["code"]} if stopped else {}))
            await self._sent(send, as_lines([closing]), more=False)
        except Gone:
            tell(scope, left=True)

    async def _begun(self, scope: Scope, receive: Receive, send: Send) -> dict[str, Any] | None:
        """Answer the lines; returns the problem for which the rest was not answered, once the client had time to end what it sends."""
        try:
            await self._all(receive, send)
            return None
        except Gone:
            raise
        except (TooLarge, OutOfTime) as error:
            stopped = of_line(error)
        except Exception as error:
            stopped = members(500, "internal", "Something failed inside.", "Report the id.") | {"id": written(scope, error)}
        await self._linger(receive)
        return stopped

    async def _all(self, receive: Receive, send: Send) -> None:
        left = self.limits.lines
        async for lines in self._lines(receive):
            for start in range(0, min(len(lines), left), AT_ONCE):
                told = await asyncio.to_thread(self._told, lines[start : min(start + AT_ONCE, left)])
                await self._sent(send, told)
            left -= len(lines)
            if left < 0:
                raise TooLarge(f"A request takes at most {self.limits.lines} lines.", "Send the rest in another.")

    def _told(self, lines: Sequence[Line]) -> bytes:
        return as_lines(self.answering.answer(lines))

    async def _sent(self, send: Send, told: bytes, *, more: bool = True) -> None:
        """Send lines, and wait until the client has room for more.

        The head goes before the first of them and no sooner: a client that waits to be told to go on (RFC 9110, 10.1.1), as curl does, is told so when its
        body is looked at, and would not be told any more once the answer has begun.
        """
        try:
            async with asyncio.timeout_at(max(self._until, asyncio.get_running_loop().time() + LINGER)):
                if not self._headed:
                    self._headed = True
                    await send({"type": "http.response.start", "status": 200, "headers": self.raw_headers})
                await send({"type": "http.response.body", "body": told, "more_body": more})
        except TimeoutError:
            raise Gone from None

    async def _lines(self, receive: Receive) -> AsyncIterator[list[Line]]:
        """The lines as they become whole."""
        lines, more = Lines(self.limits.line_bytes), True
        while more:
            message = await self._received(receive)
            if message["type"] == "http.disconnect":
                raise Gone
            more = message.get("more_body", False)
            found = list(lines.take(message.get("body", b"")))
            yield found if more else [*found, *lines.end()]

    async def _received(self, receive: Receive) -> Message:
        try:
            async with asyncio.timeout_at(self._until):
                await asyncio.sleep(0)  # so that the time is looked at even if the next piece is there already
                return await receive()
        except TimeoutError:
            raise OutOfTime(f"The {self.limits.seconds:g} seconds for one request are up.", "Send the rest in another.") from None

    async def _linger(self, receive: Receive) -> None:
        """Let the client end what it sends, unread, so that it then reads why no more is answered."""
        try:
            async with asyncio.timeout(LINGER):
                while (message := await receive())["type"] == "http.request" and message.get("more_body", False):
                    pass
        except TimeoutError:
            pass


def add(app: FastAPI, snapshot: Snapshot, limits: Limits) -> None:
    """Add the routes of this group."""

    @app.post(
        PLANTS, operation_id="identifyMany", summary="What are these, given what was seen of each?", tags=["questions"],
        description=FLOW,
        response_class=Response, **lines_of(PlantLine, "PlantAnswer"),
    )  # fmt: skip
    async def identify_many(request: Request) -> Response:
        must_be(request, LINES_TYPE, "lines of JSON")
        return Answered(PlantLines(snapshot), limits)

    @app.post(
        CLAIMS, operation_id="judgeManyClaims", summary="Are these claims right?", tags=["questions"],
        description=FLOW,
        response_class=Response, **lines_of(ClaimLine, "ClaimAnswer"),
    )  # fmt: skip
    async def judge_many(request: Request) -> Response:
        must_be(request, LINES_TYPE, "lines of JSON")
        return Answered(ClaimLines(snapshot), limits)
