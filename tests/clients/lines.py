"""How Schemathesis sends lines of JSON and queries, of which it does not know by itself: a text is sent as it is."""

from __future__ import annotations

from typing import Any

import schemathesis


@schemathesis.serializer("application/x-ndjson", "application/sparql-query")
def as_text(ctx: Any, value: Any) -> bytes:
    """The text as bytes; a half of a surrogate pair, which has no form in UTF-8, as a question mark."""
    return str(value).encode("utf-8", "replace")
