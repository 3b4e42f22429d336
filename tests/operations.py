"""The operations of an OpenAPI document, to be asked with its own examples and held against its schemas."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from fastapi.testclient import TestClient
from httpx import Response
from jsonschema import Draft202012Validator


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
        return {each["name"]: each["example"] for each in self.body.get("parameters", []) if each["in"] == place}

    def ask(self, client: TestClient, **more: Any) -> Response:
        """Ask with the examples of the document, and nothing else."""
        for media_type, content in self.body.get("requestBody", {}).get("content", {}).items():
            example = content["example"] if isinstance(content["example"], str) else json.dumps(content["example"])
            more = {"content": example, **more, "headers": {"content-type": media_type, **more.get("headers", {})}}
        return client.request(self.method, self.url, params=self.examples("query"), **more)


def operations(document: dict[str, Any]) -> Iterator[Operation]:
    for path, methods in document["paths"].items():
        for method, body in methods.items():
            yield Operation(method.upper(), path, body)


def fits(document: dict[str, Any], schema: dict[str, Any], value: Any) -> list[str]:
    """What in a value does not fit a schema of the document."""
    return [error.message[:200] for error in Draft202012Validator({**schema, "components": document["components"]}).iter_errors(value)]


def is_problem(answer: Response, status: int, code: str) -> dict[str, Any]:
    assert (answer.status_code, answer.headers["content-type"]) == (status, "application/problem+json"), answer.text
    found = answer.json()
    assert (found["status"], found["code"], found["type"]) == (status, code, f"/problems/{code}")
    assert all(found[each] for each in ("detail", "fix", "title"))
    return found
