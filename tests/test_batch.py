"""Many questions in one request: each line is answered as it would be alone, as it comes, and nothing that a client does harms the others."""

from __future__ import annotations

import asyncio
import json
import logging
from collections.abc import Iterator
from typing import Any

import pytest
from fastapi.testclient import TestClient
from hypothesis import given, settings
from hypothesis import strategies as st

from lenticel.api import create_app
from lenticel.api.batch import CLAIMS, PLANTS
from lenticel.budgets import UnderWay
from lenticel.lines import Limits, Line, Lines, PlantLines, TooLarge
from lenticel.snapshot import Snapshot

NDJSON = {"content-type": "application/x-ndjson"}
MAPLE = {"observations": [{"character": "leaf-arrangement", "value": "opposite"}, {"character": "petiole-sap", "value": "milky"}]}
ELM = {"observations": [{"character": "leaf-arrangement", "value": "alternate"}], "month": 5, "region": "ont"}
ODD = {"observations": [{"character": "leaf-arrangement", "value": "sideways"}]}


def lines(*rows: Any) -> bytes:
    return b"".join((row if isinstance(row, bytes) else json.dumps(row).encode()) + b"\n" for row in rows)


def told(content: bytes) -> list[dict[str, Any]]:
    return [json.loads(line) for line in content.splitlines()]


@pytest.fixture(scope="module")
def client(trees: Snapshot) -> TestClient:
    return TestClient(create_app(trees), raise_server_exceptions=False)


@pytest.mark.parametrize("question", [MAPLE, ELM, {**MAPLE, "wild": True}, {"observations": []}])
def test_a_line_is_answered_as_the_plant_is_alone(client: TestClient, question: dict[str, Any]) -> None:
    answer, closing = told(client.post(PLANTS, content=lines({"plant": "p", **question}), headers=NDJSON).content)
    alone = client.post("/v1/identify", json=question).json()
    assert (answer["line"], answer["plant"], answer["problem"]) == (1, "p", None)
    assert sorted(answer["consistent"]) == sorted(each["taxon"] for each in alone["consistent"])
    assert (answer["count"], answer["first"]) == (len(alone["consistent"]), alone["consistent"][0]["taxon"])
    assert answer["share"] == pytest.approx(alone["consistent"][0]["share"], abs=1.5e-4)
    assert answer["cautions"] == [each["id"] for each in alone["cautions"]]
    assert closing == {"answered": 1, "problems": 0, "digest": alone["digest"], "cautions": alone["cautions"], "stopped": None}


def test_what_a_plant_is_said_to_be_is_held_against_what_was_seen(client: TestClient) -> None:
    sent = lines({**MAPLE, "taxon": "Norway maple"}, {**MAPLE, "taxon": "sugar maple"}, {**MAPLE, "taxon": "no such tree"})
    norway, sugar, unknown, _ = told(client.post(PLANTS, content=sent, headers=NDJSON).content)
    assert (norway["taxon"], norway["verdict"], norway["contradicting"]) == ("acer-platanoides", "agree", [])
    assert (sugar["verdict"], sugar["contradicting"]) == ("contradict", ["petiole-sap: milky"])
    assert (unknown["problem"]["code"], unknown["problem"]["errors"][0]["pointer"]) == ("unknown-term", "/taxon")


def test_a_line_that_cannot_be_answered_is_a_problem_with_its_number_and_spoils_no_other(client: TestClient) -> None:
    sent = lines(MAPLE, b"{", b"", {"plant": "x", **ODD}, {**MAPLE, "region": "nowhere"}, {"seen": 1}, MAPLE)
    first, broken, odd, region, misfit, last, closing = told(client.post(PLANTS, content=sent, headers=NDJSON).content)
    assert [each["line"] for each in (first, broken, odd, region, misfit, last)] == [1, 2, 4, 5, 6, 7]
    assert {**first, "line": 7} == last
    assert [(each["problem"]["code"], each["problem"]["status"]) for each in (broken, odd, region, misfit)] == [
        ("bad-json", 400), ("unknown-term", 422), ("unknown-term", 422), ("bad-request", 422),
    ]  # fmt: skip
    assert (odd["plant"], odd["problem"]["errors"][0]["pointer"]) == ("x", "/observations/0")
    assert all(each["problem"]["fix"] and each["problem"]["type"] == f"/problems/{each['problem']['code']}" for each in (broken, odd, region, misfit))
    assert (closing["answered"], closing["problems"]) == (6, 4)


def test_a_claim_on_a_line_is_judged_as_it_is_alone(client: TestClient) -> None:
    claim = {"taxon": "Norway maple", "character": "petiole-sap", "value": "milky"}
    sent = lines({"claim": "c", **claim}, {**claim, "value": "sideways"}, {**claim, "value": "not milky"})
    right, odd, wrong, closing = told(client.post(CLAIMS, content=sent, headers=NDJSON).content)
    alone = client.post("/v1/claims", json={"claims": [claim, {**claim, "value": "not milky"}]}).json()
    assert (right["claim"], right["judged"]) == ("c", alone["judged"][0])
    assert wrong["judged"] == {**alone["judged"][1], "row": 3}
    assert odd["problem"]["errors"][0]["pointer"] == "/value"
    assert closing["cautions"] == alone["cautions"]


def test_the_status_is_settled_before_the_first_line(client: TestClient) -> None:
    assert client.post(PLANTS, content=lines(MAPLE), headers={"content-type": "application/json"}).json()["code"] == "wrong-type"
    assert client.post(f"{PLANTS}?wild=true", content=lines(MAPLE), headers=NDJSON).status_code == 422
    assert told(client.post(PLANTS, content=b"", headers=NDJSON).content)[-1]["answered"] == 0


def test_a_body_far_beyond_the_limit_of_others_is_answered_line_by_line(client: TestClient) -> None:
    answers = told(client.post(PLANTS, content=lines(*[MAPLE] * 12_000), headers=NDJSON).content)
    assert len(lines(MAPLE)) * 12_000 > 1 << 20
    assert [each["line"] for each in answers[:-1]] == list(range(1, 12_001))
    assert len({json.dumps({**each, "line": 0}) for each in answers[:-1]}) == 1


def test_lines_beyond_the_limits_are_refused(trees: Snapshot) -> None:
    client = TestClient(create_app(trees, limits=Limits(lines=3, line_bytes=300)))
    answers = told(client.post(PLANTS, content=lines(MAPLE, b" " * 400, MAPLE, MAPLE, MAPLE), headers=NDJSON).content)
    assert [each.get("line") for each in answers] == [1, 2, 3, None]
    assert answers[1]["problem"]["code"] == "too-large"
    assert (answers[-1]["answered"], answers[-1]["stopped"]["code"], answers[-1]["stopped"]["status"]) == (3, "too-large", 413)


@given(st.lists(st.binary(max_size=12).map(lambda each: each.replace(b"\n", b"")), max_size=12), st.data())
@settings(deadline=None)
def test_lines_are_the_same_however_the_body_is_cut(content: list[bytes], data: st.DataObject) -> None:
    body = b"\n".join(content)
    cuts = sorted(data.draw(st.lists(st.integers(0, len(body)), max_size=8)))
    found: list[Line] = []
    splitter = Lines(8)
    for start, end in zip([0, *cuts], [*cuts, len(body)], strict=True):
        found += splitter.take(body[start:end])
    found += splitter.end()
    due = [(number, line) for number, line in enumerate(content, 1) if len(line) > 8 or line.strip(b" \t\r")]
    assert [each.number for each in found] == [number for number, _ in due]
    for each, (_, line) in zip(found, due, strict=True):
        assert isinstance(each.content, TooLarge) if len(line) > 8 else each.content == line.strip(b" \t\r")


class Talk:
    """A client by hand: what it sends piece by piece, and what it was sent; it takes answers only while `taking`."""

    def __init__(self, snapshot: Snapshot, path: str = PLANTS, **limits: Any) -> None:
        self.app = create_app(snapshot, limits=Limits(**limits))
        self.path, self.address = path, "127.0.0.1"
        self.pieces: asyncio.Queue[dict[str, Any]] = asyncio.Queue()
        self.taking = asyncio.Event()
        self.taking.set()
        self.said: list[dict[str, Any]] = []
        self.taken = 0

    def send(self, piece: bytes, *, more: bool = True) -> None:
        self.pieces.put_nowait({"type": "http.request", "body": piece, "more_body": more})

    def leave(self) -> None:
        self.pieces.put_nowait({"type": "http.disconnect"})

    def run(self) -> asyncio.Task[None]:
        headers = [(b"content-type", b"application/x-ndjson")]
        scope = {
            "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "POST", "scheme": "http", "root_path": "", "path": self.path,
            "raw_path": self.path.encode(), "query_string": b"", "headers": headers, "client": (self.address, 1), "server": ("127.0.0.1", 80),
        }  # fmt: skip
        return asyncio.create_task(self.app(scope, self._receive, self._send))  # type: ignore[arg-type]

    async def _receive(self) -> dict[str, Any]:
        self.taken += 1
        return await self.pieces.get()

    async def _send(self, message: Any) -> None:
        await self.taking.wait()
        self.said.append(message)

    async def answers(self, count: int) -> list[dict[str, Any]]:
        """The lines that were sent, once there are so many."""
        for _ in range(500):
            found = told(b"".join(each.get("body", b"") for each in self.said))
            if len(found) >= count:
                return found
            await asyncio.sleep(0.01)
        raise AssertionError("no answer came")


def test_a_line_is_answered_before_the_next_is_sent(trees: Snapshot) -> None:
    async def talk() -> None:
        client = Talk(trees)
        running = client.run()
        for number in range(1, 4):
            client.send(lines(MAPLE)[:50])
            client.send(lines(MAPLE)[50:])
            assert [each["line"] for each in await client.answers(number)] == list(range(1, number + 1))
        client.send(b"", more=False)
        await running
        assert (await client.answers(4))[-1]["answered"] == 3

    asyncio.run(talk())


def test_from_a_client_that_takes_no_answers_nothing_more_is_read(trees: Snapshot) -> None:
    async def talk() -> None:
        client = Talk(trees)
        for _ in range(50):
            client.send(lines(MAPLE))
        running = client.run()
        await client.answers(1)
        client.taking.clear()
        await asyncio.sleep(0.2)
        before = client.taken
        await asyncio.sleep(0.3)
        assert client.taken == before < 50
        client.taking.set()
        client.send(b"", more=False)
        await running
        assert (await client.answers(51))[-1]["answered"] == 50

    asyncio.run(talk())


def test_a_client_has_few_such_requests_under_way(trees: Snapshot) -> None:
    """Whoever has as many as it may is told to wait, nobody else is; the place is free once one ends or is left."""

    async def status(talk: Talk) -> int:
        running = talk.run()
        talk.send(b"", more=False)
        await running
        return int(talk.said[0]["status"])

    async def talk() -> None:
        limits = Limits(under_way=UnderWay(2))
        app = create_app(trees, limits=limits)
        first, second, third, other, later = (Talk(trees) for _ in range(5))
        for each in (first, second, third, other, later):
            each.app = app
        other.address = "127.0.0.2"
        ends = []
        for each in (first, second):
            each.send(lines(MAPLE))
            ends.append(each.run())
            await each.answers(1)
        assert await status(third) == 429
        assert json.loads(third.said[1]["body"])["code"] == "over-budget"
        assert dict(third.said[0]["headers"])[b"retry-after"] == b"1"
        assert await status(other) == 200
        first.leave()
        await ends[0]
        assert await status(later) == 200
        second.send(b"", more=False)
        await ends[1]

    asyncio.run(talk())


def test_the_work_ends_when_the_client_leaves(trees: Snapshot, monkeypatch: pytest.MonkeyPatch) -> None:
    answered: list[int] = []
    kept = PlantLines.answer
    monkeypatch.setattr(PlantLines, "answer", lambda self, some: answered.extend(each.number for each in some) or kept(self, some))

    async def talk() -> None:
        client = Talk(trees)
        client.send(lines(MAPLE, MAPLE))
        client.leave()
        client.send(lines(MAPLE))
        await asyncio.wait_for(client.run(), 10)
        assert client.pieces.qsize() == 1
        assert all(each.get("more_body", True) for each in client.said), "an answer that was cut off must not look whole"

    asyncio.run(talk())
    assert answered == [1, 2]


@pytest.mark.parametrize("silent", [False, True])
def test_a_request_that_takes_too_long_is_ended_and_says_so_to_a_client_that_listens(trees: Snapshot, monkeypatch: pytest.MonkeyPatch, silent: bool) -> None:
    monkeypatch.setattr("lenticel.api.batch.LINGER", 0.1)

    async def talk() -> None:
        client = Talk(trees, seconds=1.5)
        client.send(lines(MAPLE))
        if silent:
            running = client.run()
            await client.answers(1)
            client.taking.clear()
            client.send(lines(MAPLE))
            await asyncio.wait_for(running, 10)
            client.taking.set()
        else:
            await asyncio.wait_for(client.run(), 10)
        found = await client.answers(1)
        if silent:
            assert [each["line"] for each in found] == [1]
        else:
            assert (found[-1]["answered"], found[-1]["stopped"]["code"]) == (1, "out-of-time")

    asyncio.run(talk())


def test_a_client_that_sends_without_pause_gets_no_more_than_its_time(trees: Snapshot) -> None:
    async def talk() -> None:
        client = Talk(trees, seconds=0.0)
        for _ in range(50):
            client.send(lines(MAPLE))
        client.send(b"", more=False)
        await asyncio.wait_for(client.run(), 10)
        assert (await client.answers(1))[-1]["stopped"]["code"] == "out-of-time"
        assert len(await client.answers(1)) < 50

    asyncio.run(talk())


def test_a_fault_inside_is_logged_under_its_id_and_told_at_the_end(client: TestClient, monkeypatch: pytest.MonkeyPatch, caplog: Any) -> None:
    def fail(*_: Any) -> Iterator[Any]:
        raise RuntimeError("secret")

    monkeypatch.setattr("lenticel.lines.asked_of", fail)
    monkeypatch.setattr("lenticel.api.batch.LINGER", 0.1)
    with caplog.at_level(logging.ERROR):
        answer = client.post(PLANTS, content=lines(MAPLE), headers=NDJSON)
    stopped = told(answer.content)[-1]["stopped"]
    assert (stopped["code"], stopped["status"]) == ("internal", 500)
    assert stopped["id"] in caplog.text
    assert "secret" not in answer.text
