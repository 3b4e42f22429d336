"""Answers as JSON: one shape for the API, the command and programs."""

from __future__ import annotations

from typing import Any

from pydantic import TypeAdapter

_ANYTHING: TypeAdapter[Any] = TypeAdapter(Any)


def as_json(answer: Any) -> bytes:
    """The answer as UTF-8 JSON; decimals are strings, so that no digit is lost."""
    return _ANYTHING.dump_json(answer)
