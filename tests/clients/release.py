"""The OpenAPI document of the last release: `python -m tests.clients.release` takes the present one over, if it breaks no client."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import lenticel
from lenticel.api import create_app
from tests.clients.breaks import breaks

RELEASED = Path(__file__).with_name("openapi.json")


def document_of() -> dict[str, Any]:
    """The present document, of the knowledge that Lenticel comes with, as it goes over the wire."""
    found: dict[str, Any] = json.loads(json.dumps(create_app(lenticel.load()).openapi()))
    return found


def take_over() -> str:
    """Keep the present document as that of the last release; what would break a client, if anything does."""
    new = document_of()
    if RELEASED.exists() and (faults := breaks(json.loads(RELEASED.read_text(encoding="utf-8")), new)):
        return "Not taken over, since clients of the last release would break:\n" + "\n".join(faults)
    RELEASED.write_text(json.dumps(new, indent=1, sort_keys=True, ensure_ascii=False) + "\n", encoding="utf-8")
    return ""


if __name__ == "__main__":
    sys.exit(take_over())
