"""What in a new OpenAPI document would break a client that was written for an older one.

A client relies on: each operation under its id, method and path; each parameter and field that it may send, with every value that was
taken, and nothing further demanded; each field that it may read, with no value that it was not told of. More of everything is no break.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tests.clients.schemas import Fitting

Document = Mapping[str, Any]


def breaks(old: Document, new: Document) -> list[str]:
    """What would break a client of the old document, each with its place."""
    return [fault for path, methods in old["paths"].items() for method in methods for fault in _operation(old, new, path, method)]


def _operation(old: Document, new: Document, path: str, method: str) -> Iterator[str]:
    was, now = old["paths"][path][method], new["paths"].get(path, {}).get(method)
    where = f"{method.upper()} {path}"
    if now is None:
        yield f"{where}: is gone"
        return
    if was["operationId"] != now["operationId"]:
        yield f"{where}: is now called {now['operationId']}, not {was['operationId']}"
    sent, read = Fitting(old, new, inner_is_old=True), Fitting(new, old, inner_is_old=False)
    yield from _parameters(sent, was, now, where)
    yield from _body(sent, was, now, where)
    yield from _answers(read, was, now, where)


def _parameters(sent: Fitting, was: Document, now: Document, where: str) -> Iterator[str]:
    before, after = ({(each["in"], each["name"]): each for each in operation.get("parameters", ())} for operation in (was, now))
    for key, parameter in before.items():
        place = f"{where} {key[0]} parameter {key[1]}"
        if key not in after:
            yield f"{place}: is gone"
            continue
        if after[key].get("required") and not parameter.get("required"):
            yield f"{place}: has become required"
        if parameter["schema"].get("default") != after[key]["schema"].get("default"):
            yield f"{place}: means something else when left out"
        yield from sent.faults(parameter["schema"], after[key]["schema"], place)
    yield from (
        f"{where} {place} parameter {name}: is new and required"
        for (place, name), each in after.items()
        if (place, name) not in before and each.get("required")
    )


def _body(sent: Fitting, was: Document, now: Document, where: str) -> Iterator[str]:
    before, after = was.get("requestBody", {}), now.get("requestBody", {})
    if after.get("required") and not before.get("required"):
        yield f"{where} body: has become required"
    yield from _contents(sent, before, after, f"{where} body", inner_is_old=True)


def _answers(read: Fitting, was: Document, now: Document, where: str) -> Iterator[str]:
    for status, before in was["responses"].items():
        if status not in now["responses"] and status < "300":
            yield f"{where} {status}: is gone"
        yield from _contents(read, before, now["responses"].get(status, before), f"{where} {status}", inner_is_old=False)


def _contents(fitting: Fitting, before: Document, after: Document, where: str, *, inner_is_old: bool) -> Iterator[str]:
    """What breaks between two bodies: media types that are gone, and what their schemas say."""
    for media_type, content in before.get("content", {}).items():
        other = after.get("content", {}).get(media_type)
        if other is None:
            yield f"{where}: {media_type} is gone"
            continue
        schemas = (content.get("schema", {}), other.get("schema", {}))
        yield from fitting.faults(*(schemas if inner_is_old else reversed(schemas)), where)
