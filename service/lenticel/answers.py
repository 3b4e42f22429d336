"""Answers as JSON: one shape for the API, the command and programs."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import orjson


def as_json(answer: Any) -> bytes:
    """The answer as UTF-8 JSON; decimals are strings, so that no digit is lost."""
    return orjson.dumps(answer, default=_plain, option=orjson.OPT_NON_STR_KEYS)


def _plain(value: Any) -> Any:
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, frozenset | set):
        return sorted(value)
    raise TypeError(f"{type(value).__name__} has no form in JSON")
