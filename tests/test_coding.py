"""What goes out compressed: each coding gives the same content, and no large answer is compressed on the loop that serves the others."""

from __future__ import annotations

import asyncio
import gzip
import json
import threading
from collections.abc import Callable

import brotli
import pytest
import zstandard
from fastapi.testclient import TestClient

from lenticel.api import coding
from lenticel.api.coding import CODINGS, LARGE, Coded, coding_for

READ: dict[str, Callable[[bytes], bytes]] = {"zstd": zstandard.ZstdDecompressor().decompress, "br": brotli.decompress, "gzip": gzip.decompress}
# What a client takes, and what it gets.
TAKEN = {
    "": "", "identity": "", "gzip": "gzip", "br": "br", "zstd": "zstd", "GZIP": "gzip", "gzip, deflate, br, zstd": "zstd", "gzip, deflate, br": "br",
    "gzip, deflate": "gzip", "deflate": "", "*": "gzip", "*;q=0": "", "gzip;q=0": "", "gzip;q=0.000, br": "br", "zstd;q=0.5, br;q=0.8, gzip;q=0.3": "br",
    "zstd;q=0, *": "gzip", "gzip;q=0, *": "", "br;q=x": "", "gzip ; q=1": "gzip", "identity;q=0.5, gzip;q=0.1": "gzip", "br;q=0.5,gzip;q=0.5": "br",
}  # fmt: skip


@pytest.mark.parametrize(("accept", "expected"), TAKEN.items())
def test_a_client_gets_the_coding_that_it_likes_best(accept: str, expected: str) -> None:
    """RFC 9110, 12.5.3; of equal weights ours decide."""
    assert coding_for(accept) == expected


@pytest.mark.parametrize("name", CODINGS)
def test_a_long_answer_is_the_same_in_each_coding_and_has_a_tag_of_its_own(client: TestClient, name: str) -> None:
    plain = client.get("/v1/characters", headers={"accept-encoding": "identity"})
    with client.stream("GET", "/v1/characters", headers={"accept-encoding": name}) as answer:
        packed = b"".join(answer.iter_raw())
    assert "content-encoding" not in plain.headers
    assert answer.headers["content-encoding"] == name
    assert all("accept-encoding" in each.headers["vary"] for each in (plain, answer))
    assert READ[name](packed) == plain.content
    assert len(packed) == int(answer.headers["content-length"]) < len(plain.content) / 3
    assert answer.headers["etag"] == plain.headers["etag"].removesuffix('"') + f'-{name}"'
    for tag, taken, status in ((answer, name, 304), (plain, name, 200), (answer, "identity", 200)):
        again = client.get("/v1/characters", headers={"accept-encoding": taken, "if-none-match": tag.headers["etag"]})
        assert (again.status_code, "accept-encoding" in again.headers["vary"]) == (status, True)


def test_a_short_answer_is_not_compressed(client: TestClient) -> None:
    assert "content-encoding" not in client.get("/healthz", headers={"accept-encoding": "gzip, br, zstd"}).headers


@pytest.mark.parametrize("name", CODINGS)
def test_sixteen_megabytes_of_rows_come_out_below_one(name: str) -> None:
    rows = [
        {
            "a": {"type": "uri", "value": f"https://w3id.org/lenticel/trees/taxon/acer-{row % 997}"},
            "b": {"type": "literal", "value": f"leaf {row * 7919 % 100003}"},
        }
        for row in range(122_000)
    ]
    content = json.dumps({"head": {"vars": ["a", "b"]}, "results": {"bindings": rows}}).encode()
    assert len(content) > 16_000_000
    assert len(CODINGS[name](content)) < 1_000_000


@pytest.mark.parametrize(("size", "beside"), [(LARGE - 1, False), (LARGE, True)])
def test_a_large_answer_is_compressed_beside_the_loop(monkeypatch: pytest.MonkeyPatch, size: int, beside: bool) -> None:
    threads: list[threading.Thread] = []

    def packed(content: bytes) -> bytes:
        threads.append(threading.current_thread())
        return content

    async def send(message: object) -> None:
        pass

    monkeypatch.setattr(coding, "CODINGS", {"gzip": packed})
    asyncio.run(Coded(b"x" * size, "gzip")({"type": "http"}, send, send))  # type: ignore[arg-type]
    assert [thread is not threading.main_thread() for thread in threads] == [beside]
