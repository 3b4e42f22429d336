"""The operations of an OpenAPI document, to be asked with its own examples and held against its schemas."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from httpx import Client, Response
from jsonschema import Draft202012Validator

FORM = "application/x-www-form-urlencoded"


@dataclass(frozen=True)
class Operation:
    method: str
    path: str
    body: dict[str, Any]

    @property
    def id(self) -> str:
        return self.body["operationId"]

    @property
    def url(self) -> str:
        """The path with its parameters filled in by their examples."""
        return re.sub(r"\{(\w+)\}", lambda found: self.examples("path")[found[1]], self.path)

    def examples(self, place: str) -> dict[str, Any]:
        found = {each["name"]: each for each in self.body.get("parameters", []) if each["in"] == place}
        free = {key: value for each in found.values() if each.get("style") == "form" for key, value in each["example"].items()}
        return {name: each["example"] for name, each in found.items() if each.get("style") != "form"} | free

    def asked(self, client: Client, **more: Any) -> Iterator[Response]:
        """The answers to the examples of the document and nothing else, one for each form in which a body can be sent."""
        for media_type, content in self.body.get("requestBody", {}).get("content", {"": {"example": ""}}).items():
            example = content["example"]
            if media_type == FORM:
                example = urlencode(example, doseq=True)
            body = {"content": example if isinstance(example, str) else json.dumps(example)} if media_type else {}
            headers = {**({"content-type": media_type} if media_type else {}), **more.get("headers", {})}
            yield client.request(self.method, self.url, **{"params": self.examples("query"), **body, **more, "headers": headers})

    def ask(self, client: Client, **more: Any) -> Response:
        """The first of these answers."""
        return next(self.asked(client, **more))


def operations(document: dict[str, Any]) -> Iterator[Operation]:
    for path, methods in document["paths"].items():
        for method, body in methods.items():
            yield Operation(method.upper(), path, body)


def fits(document: dict[str, Any], schema: dict[str, Any], value: Any) -> list[str]:
    """What in a value does not fit a schema of the document."""
    return [error.message[:200] for error in Draft202012Validator({**schema, "components": document["components"]}).iter_errors(value)]


def is_problem(answer: Response, status: int, code: str) -> dict[str, Any]:
    assert (answer.status_code, answer.headers["content-type"]) == (status, "application/problem+json"), answer.text
    assert answer.headers["x-content-type-options"] == "nosniff"
    found = answer.json()
    assert (found["status"], found["code"], found["type"]) == (status, code, f"/problems/{code}")
    assert all(found[each] for each in ("detail", "fix", "title"))
    return found
