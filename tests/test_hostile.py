"""Malformed requests: each is refused with a problem that helps, none brings the service down, none is sent back at length."""

from __future__ import annotations

import asyncio
import json
import logging
import re
import time
from collections import Counter
from collections.abc import Iterable
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from lenticel.api import MAX_BODY, create_app
from lenticel.problems import TITLES
from lenticel.refused import REASONS
from lenticel.snapshot import Snapshot
from tests.conftest import out_of_sight
from tests.hostile.case import IDENTIFY, JSON, Case
from tests.hostile.cases import CASES

LONGEST = 8192
SLOWEST = 0.05  # seconds of processor time, which a busy machine changes little; on a quiet one none takes 0.02
SOUND = {"observations": [{"character": "thread", "value": "present"}, {"character": "length", "measured": "20", "unit": "mm"}]}
INSIDE = re.compile(r"Traceback|File \"|\.py\b|line \d+, in |pydantic|starlette|fastapi|Error\b", re.IGNORECASE)
WINDOW = 100
CHUNK = 1 << 16


@pytest.fixture(scope="module")
def app(workshop: Snapshot) -> FastAPI:
    return create_app(workshop)


@pytest.fixture(scope="module")
def client(app: FastAPI) -> TestClient:
    return TestClient(app, raise_server_exceptions=False)


@pytest.fixture(scope="module")
def sound(client: TestClient) -> bytes:
    """The answer to a sound question, before any other was asked."""
    answer = client.post(IDENTIFY, json=SOUND)
    assert answer.status_code == 200
    assert len(answer.json()["consistent"]) >= 1
    return answer.content


def declared(app: FastAPI, case: Case) -> set[str] | None:
    """The statuses that the OpenAPI document gives for the operation that a case means; None where it means none."""
    for template, methods in app.openapi()["paths"].items():
        if case.method.lower() in methods and re.fullmatch(re.sub(r"\{\w+\}", "[^/]+", template), case.path.partition("?")[0]):
            return set(methods[case.method.lower()]["responses"])
    return None


def echoed(sent: str, answer: str) -> bool:
    """True if a stretch of what was sent, longer than a message may quote, stands in the answer."""
    return any(sent[place : place + WINDOW] in answer for place in range(0, max(0, len(sent) - WINDOW), WINDOW // 4))


@pytest.mark.parametrize("case", CASES, ids=lambda case: re.sub(r"[^\x20-\x5a\x5c\x5e-\x7e]", "_", case.name)[:80])
def test_a_malformed_request_gets_a_problem_that_helps_and_harms_nothing(
    case: Case, app: FastAPI, client: TestClient, sound: bytes, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.WARNING):
        answer = client.request(case.method, case.path, content=case.body or None, headers=case.headers)
    assert (answer.status_code, answer.headers["content-type"]) == (case.due, "application/problem+json"), answer.text[:500]
    found = answer.json()
    assert (found["code"], found["status"], found["type"]) == (case.code, case.due, f"/problems/{case.code}"), found
    assert found["code"] in TITLES
    assert len(found["detail"]) > 10
    assert len(found["fix"]) > 5
    assert found.get("errors") or case.code != "bad-json"
    assert all(set(each) == {"pointer", "detail"} and re.fullmatch(r"(/[^/]*)*", each["pointer"], re.DOTALL) for each in found.get("errors", ()))
    assert len(answer.content) <= LONGEST
    assert not INSIDE.search(answer.text), answer.text
    assert not echoed(case.body.decode("utf-8", "replace") or case.path, json.dumps(found, ensure_ascii=False))
    assert not caplog.records
    statuses = declared(app, case)
    assert statuses is None or str(case.due) in statuses, f"{case.due} is not among {statuses}"
    assert client.post(IDENTIFY, json=SOUND).content == sound


def test_there_are_at_least_two_hundred_different_malformed_requests() -> None:
    assert len({(case.method, case.path, case.body, tuple(case.headers.items())) for case in CASES}) == len(CASES) >= 200
    codes = Counter(case.code for case in CASES)
    others = REASONS.keys() - {"not-acceptable"}  # those of queries have a corpus of their own
    assert set(codes) == set(TITLES) - {"not-ready", "internal", "gone", "gone-release", "out-of-time", *others}
    assert min(codes.values()) >= 5


def test_the_fields_that_do_not_fit_are_pointed_to(client: TestClient) -> None:
    body = {
        "observations": [SOUND["observations"][0], {"character": "length", "measured": True}, {"character": "head", "states": ["flat", 5], "x/y~": 1}],
        "wild": 1,
    }
    found = client.post(IDENTIFY, json=body).json()
    assert {each["pointer"] for each in found["errors"]} == {"/observations/1/measured", "/observations/2/states/1", "/observations/2/x~1y~0", "/wild"}


@pytest.mark.parametrize(("query", "place"), [("seen=thread=present&seen=thraed=x", "/seen/1"), ("wild=maybe", "/wild"), ("seem=1", "/seem")])
def test_the_parameters_that_do_not_fit_are_pointed_to(client: TestClient, query: str, place: str) -> None:
    assert [each["pointer"] for each in client.get(f"{IDENTIFY}?{query}").json()["errors"]] == [place]


def test_no_more_than_twenty_places_are_listed(client: TestClient) -> None:
    found = client.post(IDENTIFY, json={"observations": [5] * 100}).json()
    assert len(found["errors"]) == 20
    assert "100" in found["detail"]


# --- what a client library would not send


def talk(
    app: FastAPI, method: str, path: bytes, headers: Iterable[tuple[bytes, bytes]], chunks: Iterable[bytes], *, leaves: bool = False
) -> tuple[int, dict[str, Any], int]:
    """Speak to the app chunk by chunk.

    Returns:
        The status (0 for no answer), the headers and body of the answer as one dict, and how many chunks the app took.
    """
    waiting = list(chunks)
    taken = 0
    said: list[dict[str, Any]] = []

    async def receive() -> dict[str, Any]:
        nonlocal taken
        if taken >= len(waiting):
            return {"type": "http.disconnect"}
        taken += 1
        return {"type": "http.request", "body": waiting[taken - 1], "more_body": leaves or taken < len(waiting)}

    async def send(message: Any) -> None:
        said.append(message)

    bare, _, query = path.partition(b"?")
    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": method, "scheme": "http", "root_path": "",
        "path": bare.decode("utf-8", "replace"), "raw_path": bare, "query_string": query, "headers": list(headers),
        "client": ("127.0.0.1", 1), "server": ("127.0.0.1", 80),
    }  # fmt: skip
    asyncio.run(app(scope, receive, send))
    if not said:
        return 0, {}, taken
    body = b"".join(each.get("body", b"") for each in said[1:])
    return said[0]["status"], {**{name.decode(): value.decode() for name, value in said[0]["headers"]}, "body": body}, taken


def cost(app: FastAPI, case: Case) -> float:
    """The seconds of processor time that the loop takes to answer a case."""
    headers = [(name.encode(), value.encode()) for name, value in case.headers.items()]
    chunks = [case.body[place : place + CHUNK] for place in range(0, len(case.body), CHUNK)] or [b""]
    start = time.thread_time()
    talk(app, case.method, case.path.encode(), headers, chunks)
    return time.thread_time() - start


def test_no_malformed_request_holds_up_the_others(app: FastAPI) -> None:
    out_of_sight()
    costs = {case.name: cost(app, case) for case in CASES}
    slow = [case for case in CASES if costs[case.name] > SLOWEST]  # once may be by chance; of three times the least counts
    costs |= {case.name: min(cost(app, case), cost(app, case)) for case in slow}
    name, longest = max(costs.items(), key=lambda each: each[1])
    print(f"{len(CASES)} malformed requests, {longest * 1000:.1f} ms of processor time at most: {name[:80]}")
    assert longest < SLOWEST, name


SENT_AS_JSON = (b"content-type", b"application/json")


def test_a_body_is_cut_off_as_soon_as_its_chunks_exceed_the_limit(app: FastAPI) -> None:
    chunk = b" " * 65_536
    status, answer, taken = talk(app, "POST", b"/v1/identify", [SENT_AS_JSON], [chunk] * 1000)
    assert (status, json.loads(answer["body"])["code"]) == (413, "too-large")
    assert taken == MAX_BODY // len(chunk) + 1
    assert answer["connection"] == "close"


def test_a_body_that_is_declared_too_large_is_not_read_at_all(app: FastAPI) -> None:
    for length in (b"1048577", b"99999999999999999999999999", b"1" * 5000):
        status, answer, taken = talk(app, "POST", b"/v1/identify", [SENT_AS_JSON, (b"content-length", length)], [b" "] * 10)
        assert (status, json.loads(answer["body"])["code"], taken) == (413, "too-large", 0)


def test_a_body_longer_than_declared_is_cut_off_all_the_same(app: FastAPI) -> None:
    status, _, taken = talk(app, "POST", b"/v1/identify", [SENT_AS_JSON, (b"content-length", b"10")], [b" " * 600_000] * 9)
    assert (status, taken) == (413, 2)


@pytest.mark.parametrize("length", [b"", b"-1", b"abc", b"1e3", b"0x10", b"+5", b"5, 5", b"\xb2", b"\xd9\xa5", b"1.0", b"None"])
def test_a_length_that_is_no_number_is_refused(app: FastAPI, length: bytes) -> None:
    status, answer, taken = talk(app, "POST", b"/v1/identify", [SENT_AS_JSON, (b"content-length", length)], [b"{}"])
    assert (status, json.loads(answer["body"])["code"], taken) == (400, "bad-request", 0)


def test_a_body_of_exactly_the_limit_is_read_whole_or_in_chunks(app: FastAPI, sound: bytes) -> None:
    body = json.dumps(SOUND).encode().ljust(MAX_BODY)
    for size in (MAX_BODY, 4096, 1000):
        chunks = [body[place : place + size] for place in range(0, MAX_BODY, size)]
        status, answer, taken = talk(app, "POST", b"/v1/identify", [SENT_AS_JSON], [*chunks, b""])
        assert (status, answer["body"], taken) == (200, sound, len(chunks) + 1)


def test_a_caller_who_leaves_in_the_middle_of_a_body_does_no_harm(app: FastAPI, client: TestClient, sound: bytes, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.WARNING):
        status, _, taken = talk(app, "POST", b"/v1/identify", [SENT_AS_JSON], [b'{"observations"', b": []}"], leaves=True)
    assert (status, taken) == (0, 2)
    assert not caplog.records
    assert client.post(IDENTIFY, json=SOUND).content == sound


@pytest.mark.parametrize("path", [b"/v1/taxa/\xff", b"/v1/taxa/\xed\xa0\x80", b"/\xc0\xae", b"/v1/characters/\xf8\x88"])
def test_a_path_that_is_not_utf_8_names_nothing(app: FastAPI, path: bytes) -> None:
    status, answer, _ = talk(app, "GET", path, [], [b""])
    assert (status, answer["content-type"]) == (404, "application/problem+json")


@pytest.mark.parametrize("query", [b"seen=\xff\xfe", b"\xff=1", b"seen=%", b"seen=%zz", b"seen=thread%3", b"&&&;;&=", b"wild=\xe2\x80"])
def test_a_query_that_is_not_sound_is_refused(app: FastAPI, query: bytes) -> None:
    status, answer, _ = talk(app, "GET", b"/v1/identify?" + query, [], [b""])
    assert (status, answer["content-type"]) == (422, "application/problem+json")


ODD_HEADERS = [
    (b"if-none-match", b"\xff" * 100),
    (b"if-none-match", b"," * 10_000),
    (b"accept-encoding", b"gzip;q=x, \xff"),
    (b"accept", b"\x00"),
    (b"origin", b"null"),
    (b"origin", b"\xff\xfe"),
    (b"host", b"example.org\r\nx: y"),
    (b"x-" + b"y" * 1000, b"z" * 60_000),
]


@pytest.mark.parametrize("header", ODD_HEADERS, ids=range(len(ODD_HEADERS)))
def test_odd_headers_change_nothing(app: FastAPI, sound: bytes, header: tuple[bytes, bytes]) -> None:
    status, answer, _ = talk(app, "POST", b"/v1/identify", [SENT_AS_JSON, header], [json.dumps(SOUND).encode()])
    assert status == 200
    assert len(sound) == len(answer["body"]) or answer["content-encoding"] == "gzip"


def test_content_type_is_read_as_the_standard_has_it(client: TestClient, sound: bytes) -> None:
    for kind in ("application/json", "Application/JSON", "application/json; charset=utf-8", 'application/json ;charset="UTF-8"'):
        assert client.post(IDENTIFY, content=json.dumps(SOUND), headers={"content-type": kind}).content == sound
    assert JSON == {"content-type": "application/json"}
