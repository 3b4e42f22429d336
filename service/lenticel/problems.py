"""Errors on the wire: problem details (RFC 9457), each with a stable code and a fix, and never an echo of the input."""

from __future__ import annotations

import json
import logging
import math
import uuid
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.middleware.cors import CORSMiddleware
from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from lenticel.errors import BadObservation, BadQuantity, BadQuestion, LenticelError, UnknownTerm
from lenticel.notation import LISTED, BadJson, Misfit
from lenticel.refused import REASONS, Refused
from lenticel.requests import GoneRelease, StaleCursor, UnknownRelease, WrongType, places
from lenticel.told import request_id, tell

log = logging.getLogger("lenticel")
MAX_PROBLEM = 8192

TITLES: dict[str, tuple[str, str]] = {
    "unknown-term": ("A word is not known here", str(UnknownTerm.__doc__)),
    "bad-quantity": ("A quantity cannot be read", str(BadQuantity.__doc__)),
    "bad-observation": ("An observation says nothing that can be tested", str(BadObservation.__doc__)),
    "bad-question": ("The question cannot be asked in this form", str(BadQuestion.__doc__)),
    "bad-json": ("The question is not JSON", str(BadJson.__doc__)),
    "bad-request": (
        "The request does not fit its schema",
        "A part of the request is missing, of another type or size, or not known; `errors` points to each.",
    ),
    "wrong-type": ("The body is of a type that is not read here", str(WrongType.__doc__)),
    "too-large": ("The request is too large", "The body, a line of it, or the number of its lines exceeds the limit."),
    "out-of-time": ("The time is up", "A request of many lines has a time limit; the lines before were answered."),
    "not-found": ("There is nothing at this address", "The path names nothing that this service has."),
    "gone": ("This was retired", "The identifier was released once and had to go; `successor` took its place."),
    "stale-cursor": ("The cursor is of another release", str(StaleCursor.__doc__)),
    "unknown-release": ("There is no such release", str(UnknownRelease.__doc__)),
    "gone-release": ("The release is gone", str(GoneRelease.__doc__)),
    "not-allowed": ("This is not allowed here", "The resource does not take this method, or not from another site."),
    "not-ready": ("The service is not ready", "The knowledge is not loaded, or does not answer as it must."),
    **{code: (title, meaning) for code, (_, title, meaning) in REASONS.items()},
    "internal": ("Something failed inside", "A fault of the service, not of the request; it is in the log under the id given."),
}
CLOSE = {"connection": "close"}
STATUSES = {
    "bad-json": 400,
    "wrong-type": 415,
    "stale-cursor": 410,
    "unknown-release": 404,
    "gone-release": 410,
    "not-ready": 503,
    "too-large": 413,
    "out-of-time": 408,
    **{code: status for code, (status, *_) in REASONS.items()},
}


def problem(
    status: int, code: str, detail: str, fix: str, errors: Sequence[tuple[str, str]] = (), headers: Mapping[str, str] | None = None, **more: Any
) -> Response:
    """A problem document of at most 8 KiB.

    Args:
        status: the HTTP status.
        code: the stable code; `/problems/<code>` explains it.
        detail: what is wrong this time.
        fix: what to do.
        errors: the places in the request, each a JSON pointer and what is wrong there; the last ones go if they are too many.
        headers: further headers.
        more: extension members.
    """
    body = {**members(status, code, detail, fix), **more}
    listed = [{"pointer": where, "detail": what} for where, what in errors[:LISTED]]
    text = _encoded(body, listed)
    while listed and len(text) > MAX_PROBLEM:
        listed.pop()
        text = _encoded(body, listed)
    return Response(text, status, {"cache-control": "no-store", "x-content-type-options": "nosniff", **(headers or {})}, "application/problem+json")


def members(status: int, code: str, detail: str, fix: str) -> dict[str, Any]:
    """The members that every problem document has."""
    return {"type": f"/problems/{code}", "title": TITLES[code][0], "status": status, "detail": detail, "code": code, "fix": fix}


def of_line(error: LenticelError) -> dict[str, Any]:
    """The problem document of an error in one line of many."""
    status, errors = _told(error)
    listed = [{"pointer": where, "detail": what} for where, what in errors[:LISTED]]
    return members(status, error.code, error.message, error.fix) | ({"errors": listed} if listed else {})


def _told(error: LenticelError) -> tuple[int, list[tuple[str, str]]]:
    """The status of an error, and the places in the request that it points to."""
    errors = error.places if isinstance(error, Misfit) else [(error.where, error.message)] if error.where or isinstance(error, BadJson) else []
    return STATUSES.get(error.code, 422), errors


def _encoded(body: dict[str, Any], errors: list[dict[str, str]]) -> bytes:
    """ASCII, since what was sent may hold characters that UTF-8 has no form for."""
    return json.dumps({**body, "errors": errors} if errors else body, ensure_ascii=True).encode()


def of_error(error: LenticelError, *, named_in_path: bool = False) -> Response:
    """The problem document of one of Lenticel's own errors; a term that the path names and nobody knows is not found."""
    status, errors = _told(error)
    if named_in_path and isinstance(error, UnknownTerm):
        status = 404
    wait, more = (error.wait, error.more) if isinstance(error, Refused) else (None, {})
    headers = {"retry-after": str(math.ceil(wait))} if wait else None
    return problem(status, error.code, error.message, error.fix, errors, headers, **more)


def before_routes(error: LenticelError) -> Response:
    """The problem document of an error that is found before the routes, and so before what opens answers to other sites."""
    answer = of_error(error)
    answer.headers["access-control-allow-origin"] = "*"
    return answer


def written(scope: Scope, error: Exception) -> str:
    """Write a fault inside to the log; returns the id under which it is there."""
    key = request_id(scope) or uuid.uuid4().hex
    log.error("fault %s", key, exc_info=error)
    return key


def install(app: FastAPI) -> None:
    """Make every error of the app a problem document."""

    @app.exception_handler(LenticelError)
    async def lenticel_error(request: Request, error: LenticelError) -> Response:
        tell(request.scope, problem=error.code)
        return of_error(error, named_in_path=bool(request.path_params))

    @app.exception_handler(RequestValidationError)
    async def validation_error(request: Request, error: RequestValidationError) -> Response:
        tell(request.scope, problem=Misfit.code)
        wrong = error.errors()
        return of_error(Misfit(places(wrong[:LISTED], skip=1), len(wrong)))

    @app.exception_handler(HTTPException)
    async def http_error(request: Request, error: HTTPException) -> Response:
        if error.status_code == 405:
            allow = ", ".join(sorted(_methods(app, request.url.path)))
            return problem(405, "not-allowed", "The resource does not take this method.", f"Use one of: {allow}.", headers={"allow": allow})
        if error.status_code == 404:
            return problem(404, "not-found", "There is nothing at this address.", "See / for what there is.")
        return problem(error.status_code, "bad-request", "The request cannot be read.", "Write it as /openapi.json has it.")

    @app.exception_handler(Exception)
    async def unexpected(request: Request, error: Exception) -> Response:
        key = written(request.scope, error)
        tell(request.scope, problem="internal")
        headers = {"access-control-allow-origin": "*"}  # this answer is made outside the middleware that would add it
        return problem(500, "internal", "Something failed inside.", "Try again later; report the id if it stays.", headers=headers, id=key)


def _methods(app: FastAPI, path: str) -> set[str]:
    """The methods that the resource at a path takes: those of all routes that match it, and HEAD wherever there is GET."""
    routes = [route for route in app.routes if (pattern := getattr(route, "path_regex", None)) and pattern.match(path)]
    found = {method for route in routes for method in getattr(route, "methods", None) or ()}
    return found | ({"HEAD"} if "GET" in found else set())


class OpenCors(CORSMiddleware):
    """Cross-origin access for every site, without credentials; a preflight that is refused says why as a problem."""

    def preflight_response(self, request_headers: Headers) -> Response:
        """Answer a preflight request."""
        answer = super().preflight_response(request_headers)
        if answer.status_code < 400:
            return answer
        fix = f"Use {' or '.join(self.allow_methods)}, with no other headers than {', '.join(self.allow_headers)}."
        return problem(400, "not-allowed", "This cannot be asked from another site.", fix, headers=self.preflight_headers)


class BodyLimit:
    """Refuses a body above a limit, by its declared length or while it comes in, but for the paths that read theirs line by line."""

    def __init__(self, app: ASGIApp, limit: int, streamed: Collection[str] = ()) -> None:
        self.app, self.limit, self.streamed = app, limit, streamed

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        declared = Headers(scope=scope).get("content-length", "0")
        if not (declared.isascii() and declared.isdigit()):
            await problem(400, "bad-request", "The content-length is no number.", "Send the length of the body in bytes.", headers=CLOSE)(scope, receive, send)
            return
        if scope["path"] in self.streamed:
            await self.app(scope, receive, send)
            return
        body = bytearray()
        more = True
        refused = len(declared) > 18 or int(declared) > self.limit
        while more and not refused:
            message = await receive()
            if message["type"] == "http.disconnect":
                return  # nobody is left to answer
            body += message.get("body", b"")
            more = message.get("more_body", False)
            refused = len(body) > self.limit
        if refused:
            detail = f"The body exceeds {self.limit} bytes."
            await problem(413, "too-large", detail, "Ask about one plant at a time.", headers=CLOSE)(scope, receive, send)
            return
        read: list[Message] = [{"type": "http.request", "body": bytes(body), "more_body": False}]

        async def replay() -> Message:
            return read.pop() if read else await receive()

        await self.app(scope, replay, send)
