"""One malformed request, and the problem that it must be answered with."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import Any

JSON = {"content-type": "application/json"}
IDENTIFY = "/v1/identify"
STATUS = {
    "bad-json": 400,
    "wrong-type": 415,
    "too-large": 413,
    "not-allowed": 405,
    "not-found": 404,
    "not-acceptable": 406,
    "stale-cursor": 410,
    "unknown-release": 404,
}


@dataclass(frozen=True)
class Case:
    """One request, and the code and status it must get; `name` says what is wrong with it."""

    name: str
    code: str
    method: str = "GET"
    path: str = IDENTIFY
    body: bytes = b""
    headers: dict[str, str] = field(default_factory=dict)
    status: int = 0

    @property
    def due(self) -> int:
        """The status that the code stands for, unless another is given."""
        return self.status or STATUS.get(self.code, 422)


def post(name: str, code: str, body: bytes, headers: dict[str, str] | None = None) -> Case:
    return Case(name, code, "POST", IDENTIFY, body, JSON if headers is None else headers)


def asking(name: str, code: str, *rows: Any, **more: Any) -> Case:
    return post(name, code, json.dumps({"observations": list(rows), **more}, ensure_ascii=False).encode())


def link(name: str, code: str, query: str, path: str = IDENTIFY, status: int = 0) -> Case:
    return Case(name, code, path=f"{path}?{query}", status=status)
