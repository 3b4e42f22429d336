"""That an answer has not changed is told at once, whatever the answer took."""

from __future__ import annotations

import asyncio
import time

import httpx

from lenticel.api import create_app
from lenticel.snapshot import Snapshot
from tests.operations import operations

LIMIT = 0.002  # seconds of processor time, the client's own included
TIMES = 5


async def _told(snapshot: Snapshot) -> dict[str, float]:
    """The least processor time of a 304, by each GET whose answer has a tag."""
    found: dict[str, float] = {}
    async with httpx.AsyncClient(transport=httpx.ASGITransport(app=create_app(snapshot)), base_url="http://service") as client:
        document = (await client.get("/openapi.json")).json()
        for each in operations(document):
            request = client.build_request(each.method, each.url, params=each.examples("query"))
            tag = (await client.send(request)).headers.get("etag", "") if each.method == "GET" else ""
            if tag:
                request.headers["if-none-match"] = tag
                spent = []
                for _ in range(TIMES):
                    began = time.process_time()
                    answer = await client.send(request)
                    spent.append(time.process_time() - began)
                    assert (answer.status_code, answer.content) == (304, b""), each.id
                found[each.id] = min(spent)
    return found


def test_what_has_not_changed_is_told_within_two_milliseconds(workshop: Snapshot) -> None:
    found = asyncio.run(_told(workshop))
    slowest = max(found, key=lambda each: found[each])
    print(f"304 by {len(found)} operations; the slowest, {slowest}, in {found[slowest] * 1000:.2f} ms of processor time (limit {LIMIT * 1000:g})")
    assert len(found) > 30
    assert found[slowest] < LIMIT
