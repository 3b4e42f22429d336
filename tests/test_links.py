"""Every question that is sent as a body can be had as a link too, with the same bytes for an answer."""

from __future__ import annotations

import json
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from fastapi.testclient import TestClient

from tests.operations import Operation, is_problem, operations

BY_HAND = {"identify"}  # its link has a parameter of its own for each thing seen, for people to write


@pytest.fixture(scope="module")
def bodies(document: dict[str, Any]) -> list[Operation]:
    """The operations that take a question as a body. Those of many lines are no questions to share, and the SPARQL protocol has a link of its own."""
    found = [each for each in operations(document) if "application/json" in each.body.get("requestBody", {}).get("content", {})]
    assert len(found) >= 6
    return found


def _example(operation: Operation) -> dict[str, Any]:
    found: dict[str, Any] = operation.body["requestBody"]["content"]["application/json"]["example"]
    return found


def test_each_has_a_link_that_gives_the_same_bytes_and_is_named_by_the_answer(bodies: list[Operation], client: TestClient) -> None:
    for each in bodies:
        answer = each.ask(client)
        if each.id in BY_HAND:
            seen = [f"{row['character']}={row['value']}" for row in _textual(_example(each)["observations"])]
            observations = [{"character": one, "value": other} for one, _, other in (text.partition("=") for text in seen)]
            assert client.get(each.path, params={"seen": seen}).content == client.post(each.path, json={"observations": observations}).content
            continue
        by_hand = client.get(each.path, params={"question": json.dumps(_example(each))})
        assert (by_hand.status_code, by_hand.content) == (200, answer.content), each.id
        link = answer.headers["content-location"]
        assert client.get(link).content == answer.content
        assert json.loads(parse_qs(urlsplit(link).query)["question"][0]) == _example(each)
        assert client.get(link, headers={"if-none-match": by_hand.headers["etag"]}).status_code == 304
        assert "content-location" not in by_hand.headers


def _textual(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [{"character": row["character"], "value": "|".join(row["states"])} for row in rows if "states" in row]


@pytest.mark.parametrize("measured", [7, 7.5, "7.50", "7 1/2", 12.25])
def test_a_number_means_the_same_in_both(client: TestClient, document: dict[str, Any], measured: object) -> None:
    doubt = next(each for each in operations(document) if each.id == "doubt")
    row = next(each for each in _example(doubt)["observations"] if "measured" in each)
    answer = client.post("/v1/doubt", json={"observations": [{"character": row["character"], "measured": measured}]})
    assert answer.status_code == 200
    assert client.get(answer.headers["content-location"]).content == answer.content


def test_a_link_is_read_as_strictly_as_a_body(client: TestClient) -> None:
    is_problem(client.get("/v1/doubt"), 422, "bad-request")
    is_problem(client.get("/v1/doubt", params={"question": "{"}), 400, "bad-json")
    is_problem(client.get("/v1/doubt", params={"question": '{"observations": [], "observations": []}'}), 400, "bad-json")
    told = is_problem(client.get("/v1/doubt", params={"question": '{"observations": [], "moth": 2}'}), 422, "bad-request")
    assert [each["pointer"] for each in told["errors"]] == ["/moth"]
    is_problem(client.get("/v1/doubt?question={}&question={}"), 422, "bad-request")
    is_problem(client.get("/v1/doubt", params={"question": '{"observations": []}', "wild": "true"}), 422, "bad-request")


def test_a_link_too_long_for_a_header_is_not_named(client: TestClient) -> None:
    word = next(iter(client.get("/v1/characters").json()))["id"]
    observations = [{"character": word, "value": "present"}] * 150
    assert "content-location" not in client.post("/v1/next", json={"observations": observations}).headers


def test_a_link_keeps_what_the_address_says_besides(client: TestClient) -> None:
    answer = client.post("/v1/doubt?lang=fr", json={"observations": []})
    link = answer.headers["content-location"]
    assert parse_qs(urlsplit(link).query)["lang"] == ["fr"]
    assert client.get(link).content == answer.content
