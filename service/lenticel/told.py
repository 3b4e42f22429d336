"""What the app tells of a request, for whoever watches it from outside."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

TOLD = "lenticel.told"  # the key of a request's scope under which a watch lays out a dict


def tell(scope: Mapping[str, Any], **what: Any) -> None:
    """Tell something of a request that only the app knows; nothing happens if nobody watches."""
    told = scope.get(TOLD)
    if told is not None:
        told.update(what)


def request_id(scope: Mapping[str, Any]) -> str:
    """The id that the watch gave to a request, or "" if nobody watches."""
    return str((scope.get(TOLD) or {}).get("id", ""))
