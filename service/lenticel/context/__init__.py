"""The JSON-LD context of the answers: frozen, so that an answer that was kept can be read for ever."""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files
from typing import Any

ADDRESS = "https://w3id.org/lenticel/context/v1.jsonld"


@cache
def context_text() -> str:
    """The context in its first version, as a JSON-LD document."""
    return (files(__name__) / "v1.jsonld").read_text(encoding="utf-8")


@cache
def terms() -> dict[str, Any]:
    """The terms of the context."""
    found: dict[str, Any] = json.loads(context_text())["@context"]
    return found
