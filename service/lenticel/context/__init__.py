"""The JSON-LD contexts of the answers: each is frozen, so that an answer that was kept can be read for ever."""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files
from typing import Any

BASE = "https://w3id.org/lenticel/context/"
VERSIONS = ("v1.jsonld", "v2.jsonld")  # the last one words new answers; it has every term of those before
ADDRESS = f"{BASE}{VERSIONS[-1]}"


@cache
def context_text(version: str = VERSIONS[-1]) -> str:
    """The context in one of its versions, as a JSON-LD document."""
    return (files(__name__) / version).read_text(encoding="utf-8")


@cache
def terms(version: str = VERSIONS[-1]) -> dict[str, Any]:
    """The terms of the context."""
    found: dict[str, Any] = json.loads(context_text(version))["@context"]
    return found
