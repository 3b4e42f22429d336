"""The OpenAPI document as it goes out: with an example of every answer, which the service gives itself by answering the examples of its requests."""

from __future__ import annotations

import asyncio
import hashlib
from collections.abc import Iterator
from copy import deepcopy
from typing import Any
from urllib.parse import urlencode

import orjson
from fastapi import FastAPI, Request, Response
from starlette.types import ASGIApp, Message

from lenticel.answers import as_json
from lenticel.api.dress import Dress
from lenticel.api.releases import QUERIED
from lenticel.examples import LINES_TYPE

PATH = "/openapi.json"
CALM = 5.0  # seconds after a start; what runs no longer never needs the document
MOST, LONGEST = 2, 600  # entries of a list, characters of a text: what an example shows of them
SUMMARY = "The answer to the example of the request; of lists and long texts only the beginning."


def add(app: FastAPI, dress: Dress) -> None:
    """Add the route of the document."""
    lock = asyncio.Lock()
    kept: list[bytes] = []

    async def document(request: Request) -> Response:
        async with lock:  # nobody has the examples worked out twice
            body = kept[0] if kept else await _written(app, kept)
        return dress.bytes(request, body, "application/json", tag=hashlib.blake2s(body, digest_size=16).hexdigest())

    app.add_route(PATH, document, include_in_schema=False)


async def _written(app: FastAPI, kept: list[bytes]) -> bytes:
    """The document as JSON; it is kept once there is an example of every answer, which there is not while the dataset is being made ready.

    All but the queries, which belong to the loop of the service, are answered in a loop of their own beside it: that takes seconds.
    """
    document, whole = await asyncio.to_thread(asyncio.run, _beside(app))
    whole = await _answered(app, document, queried=True) and whole
    body = as_json(document)
    if whole:
        kept.append(body)
    return body


async def _beside(app: FastAPI) -> tuple[dict[str, Any], bool]:
    """The document with examples of all answers but those to queries, and whether there is one of each."""
    document = deepcopy(app.openapi())
    return document, await _answered(app, document, queried=False)


async def _answered(app: FastAPI, document: dict[str, Any], *, queried: bool) -> bool:
    """Put an example to each answer to a query, or to anything else; tells whether there is one of each."""
    whole = True
    for path, methods in document["paths"].items():
        for method, operation in methods.items() if path.startswith(QUERIED) == queried else ():
            media_type, content = next(iter(operation["responses"]["200"]["content"].items()))
            status, answer = await ask(app, method.upper(), *_request(path, operation))
            whole = whole and status == 200
            if status == 200:
                content["examples"] = {"answer": {"summary": SUMMARY, "value": _value(media_type, answer)}}
    return whole


async def ahead(app: ASGIApp) -> None:
    """Have the document of a service written before anybody asks for it, once the service has had a moment for those who wait."""
    await asyncio.sleep(CALM)
    await ask(app, "GET", PATH, [], "", b"")


def _request(path: str, operation: dict[str, Any]) -> tuple[str, list[tuple[str, str]], str, bytes]:
    """The path, query, media type and body that ask with the examples of an operation."""
    query: list[tuple[str, str]] = []
    for each in operation.get("parameters", []):
        if each["in"] == "path":
            path = path.replace(f"{{{each['name']}}}", str(each.get("example", "")))
        else:
            query += _pairs(each["name"], each["example"])
    for media_type, content in operation.get("requestBody", {}).get("content", {}).items():
        example = content["example"]
        return path, query, media_type, example.encode() if isinstance(example, str) else orjson.dumps(example)
    return path, query, "", b""


def _pairs(name: str, example: Any) -> Iterator[tuple[str, str]]:
    """A parameter as an address has it: a list as often as it is long, a mapping by its own names."""
    if isinstance(example, dict):
        yield from example.items()
        return
    for each in example if isinstance(example, list) else [example]:
        yield name, each if isinstance(each, str) else orjson.dumps(each).decode()


async def ask(app: ASGIApp, method: str, path: str, query: list[tuple[str, str]], media_type: str, body: bytes) -> tuple[int, bytes]:
    """The status and the body with which an app answers a request that nobody sent."""
    sent: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]
    got: list[Message] = []

    async def receive() -> Message:
        return sent.pop() if sent else await asyncio.Event().wait() and {}  # nobody leaves

    async def send(message: Message) -> None:
        got.append(message)

    headers = [(b"host", b"localhost"), (b"content-type", media_type.encode()), (b"content-length", str(len(body)).encode())]
    scope = {"type": "http", "http_version": "1.1", "method": method, "scheme": "http", "path": path, "root_path": "", "client": None, "headers": headers}
    await app(scope | {"query_string": urlencode(query).encode()}, receive, send)
    return got[0]["status"], b"".join(message.get("body", b"") for message in got)


def _value(media_type: str, answer: bytes) -> Any:
    """An answer as an example of itself."""
    if media_type.endswith(("/json", "+json")):
        return shortened(orjson.loads(answer))
    if media_type == LINES_TYPE:
        return "".join(as_json(shortened(orjson.loads(line))).decode() + "\n" for line in answer.splitlines())
    return shortened(answer.decode())


def shortened(value: Any) -> Any:
    """A value with no more than the beginning of each list and of each long text."""
    if isinstance(value, dict):
        return {name: shortened(each) for name, each in value.items()}
    if isinstance(value, list):
        return [shortened(each) for each in value[:MOST]]
    return f"{value[:LONGEST]} …" if isinstance(value, str) and len(value) > LONGEST else value
