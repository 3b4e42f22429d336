"""Long lists a page at a time: `limit` and `cursor` in, and the address of the next page in the `link` header (RFC 8288)."""

from __future__ import annotations

import base64
import binascii
import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Generic, TypeVar
from urllib.parse import urlencode

from fastapi import Query, Request

from lenticel.notation import Misfit
from lenticel.requests import StaleCursor

MOST = 1000  # rows of a page
TOTAL = "x-lenticel-total"
Row = TypeVar("Row")
Limit = Annotated[int | None, Query(ge=1, le=MOST, description="How many to give at most; all if left out.")]
Cursor = Annotated[str, Query(max_length=200, description="Where to go on, as the `next` link of the page before has it; from the start if empty.")]
HEADERS: dict[str, Any] = {
    "Link": {"description": 'The address of the next page, if there is one, as `rel="next"`.', "schema": {"type": "string"}},
    "X-Lenticel-Total": {"description": "How many there are on all pages.", "schema": {"type": "integer"}},
}
LISTED: dict[int | str, dict[str, Any]] = {200: {"headers": HEADERS}}


@dataclass(frozen=True, slots=True)
class Page(Generic[Row]):
    """Some rows of a list, how many the whole list has, and the address of the next page, "" if this is the last."""

    rows: Sequence[Row]
    total: int
    next: str

    @property
    def headers(self) -> Mapping[str, str]:
        """What the response says of it."""
        return {TOTAL: str(self.total)} | ({"link": f'<{self.next}>; rel="next"'} if self.next else {})


def paged(request: Request, release: str, rows: Sequence[Row], limit: int | None, cursor: str) -> Page[Row]:
    """The page of a list that a request asks for.

    Args:
        request: its path and its other parameters say which list it is.
        release: the digest of the knowledge; a list never changes within a release, so that a place in it is where to go on.
        rows: the whole list, in its order.
        limit: how many rows to give; None for all that are left.
        cursor: where to go on; "" for the start.

    Raises:
        StaleCursor: the cursor is of another release.
        Misfit: the cursor is none, or of another list.
    """
    others = [(name, value) for name, value in request.query_params.multi_items() if name not in ("limit", "cursor")]
    which = _list(request.scope["path"], [each for each in others if each[0] not in ("lang", "release")])
    start = _place(cursor, release, which, len(rows)) if cursor else 0
    end = len(rows) if limit is None else start + limit
    more = urlencode([*others, ("limit", limit), ("cursor", _cursor(release, which, end))]) if end < len(rows) else ""
    return Page(rows[start:end], len(rows), f"{request.url.path}?{more}" if more else "")


def _list(path: str, parameters: Sequence[tuple[str, str]]) -> str:
    """A short mark of a list."""
    return hashlib.blake2s(urlencode([("", path), *sorted(parameters)]).encode(), digest_size=4).hexdigest()


def _cursor(release: str, which: str, place: int) -> str:
    return base64.urlsafe_b64encode(f"{release[:16]}.{which}.{place}".encode()).decode().rstrip("=")


def _place(cursor: str, release: str, which: str, count: int) -> int:
    """The place that a cursor names."""
    try:
        of, list_, place = base64.b64decode(cursor + "=" * (-len(cursor) % 4), altchars=b"-_", validate=True).decode("ascii").split(".")
        found = int(place)
    except (binascii.Error, ValueError):
        raise Misfit([("/cursor", "it is none; take it from the link to the next page, or leave it out")]) from None
    if of != release[:16]:
        raise StaleCursor("The cursor is of another release.", "Begin anew without a cursor.", "/cursor")
    if list_ != which or not 0 < found < count or _cursor(release, which, found) != cursor:
        raise Misfit([("/cursor", "it is of another list; keep the other parameters as they were, or leave it out")])
    return found
