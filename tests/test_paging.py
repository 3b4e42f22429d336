"""Lists a page at a time: the pages one after another are the whole list, whatever their size, and across a reload."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from itertools import chain, repeat
from pathlib import Path
from typing import Any
from urllib.parse import urljoin

import orjson
import pytest
from fastapi.testclient import TestClient
from httpx import Response

from lenticel.answers import as_json
from lenticel.api import create_app
from lenticel.api.sparql import Endpoint
from lenticel.budgets import Budgets
from lenticel.saved import saved_in
from lenticel.snapshot import Snapshot
from tests.operations import is_problem, operations

LISTS = ("/v1/questions", "/v1/taxa", "/v1/characters", "/v1/sources", "/v1/disagreements?settled=true", "/v1/disagreements")
SIZES = (1, 7, 1000)


@pytest.fixture(scope="module")
def client(trees: Snapshot, tables: Path) -> TestClient:
    return client_of(trees, tables)


def client_of(snapshot: Snapshot, tables: Path) -> TestClient:
    """A client of a service that has saved questions, though nobody answers them."""
    return TestClient(create_app(snapshot, endpoint=Endpoint(Budgets(1, 1), saved_in(tables / "questions"))))


def rows_of(answer: Response) -> list[Any]:
    """The rows of a page, whether they are the whole body or a field of it."""
    assert answer.status_code == 200, answer.text
    told = answer.json()
    if isinstance(told, list):
        return told
    assert told["total"] == int(answer.headers["x-lenticel-total"])
    assert told["digest"] == answer.headers["x-lenticel-release"]
    return next(value for value in told.values() if isinstance(value, list))


def walk(clients: Iterator[TestClient], path: str, size: int, most: int = 100) -> Iterator[list[Any]]:
    """The pages as their links lead on, each asked of the next client."""
    address = f"{path}{'&' if '?' in path else '?'}limit={size}"
    for _ in range(most):
        answer = next(clients).get(address)
        yield rows_of(answer)
        if "next" not in answer.links:
            return
        address = urljoin(address, answer.links["next"]["url"])


@pytest.mark.parametrize("path", LISTS)
@pytest.mark.parametrize("size", SIZES)
def test_the_pages_of_a_list_are_the_whole_list_in_its_order_also_across_a_reload(
    client: TestClient, trees: Snapshot, tables: Path, path: str, size: int
) -> None:
    answer = client.get(path)
    whole = rows_of(answer)
    assert int(answer.headers["x-lenticel-total"]) == len(whole) > 0
    assert "next" not in answer.links
    again = client_of(trees, tables)  # the same release taken over anew
    pages = list(walk((each for _ in range(100) for each in (client, again)), path, size, most=100))
    assert list(chain.from_iterable(pages)) == whole[: 100 * size]
    assert all(len(page) == size for page in pages[:-1])


@pytest.mark.parametrize(("path", "size"), [("/v1/statements", 900), ("/v1/statements?taxon=red+maple", 20), ("/v1/lookalikes", 7)])
def test_a_list_that_is_never_given_whole_is_walked_without_gap_or_double(client: TestClient, trees: Snapshot, path: str, size: int) -> None:
    known = trees.knowledge
    records = (
        known.lookalikes if "lookalikes" in path else {key: each for key, each in known.statements.items() if "?" not in path or each.taxon == "acer-rubrum"}
    )
    wanted = orjson.loads(as_json(list(records.values())))
    assert list(chain.from_iterable(walk(repeat(client), path, size, most=1000))) == wanted
    assert len(wanted) > size
    assert len(rows_of(client.get(path))) == min(100, len(wanted))


def test_every_operation_that_answers_with_a_list_under_v1_can_be_walked(client: TestClient) -> None:
    found = {}
    for each in operations(client.get("/openapi.json").json()):
        schema = each.body["responses"]["200"]["content"].get("application/json", {}).get("schema", {})
        if each.path.startswith("/v1/") and schema.get("type") == "array":
            found[each.path] = {parameter["name"] for parameter in each.body["parameters"]}
    assert set(found) == {path.partition("?")[0] for path in LISTS}
    assert all(names >= {"limit", "cursor"} for names in found.values()), found


def test_a_filter_of_statements_that_names_nothing_is_pointed_to(client: TestClient) -> None:
    for name in ("taxon", "character", "source"):
        found = is_problem(client.get("/v1/statements", params={name: "nothing at all"}), 422, "unknown-term")
        assert found["errors"][0]["pointer"] == f"/{name}"


def test_a_cursor_of_another_release_is_gone_and_says_what_to_do(client: TestClient, workshop: Snapshot) -> None:
    cursor = client.get("/v1/taxa?limit=3").links["next"]["url"]
    found = is_problem(TestClient(create_app(workshop)).get(cursor), 410, "stale-cursor")
    assert "Begin anew" in found["fix"]


def test_a_cursor_that_is_none_or_of_another_list_or_beyond_it_is_refused(client: TestClient, trees: Snapshot) -> None:
    address = client.get("/v1/disagreements?limit=3&settled=true").links["next"]["url"]
    cursor = address.rpartition("=")[2]
    whole = base64.urlsafe_b64decode(cursor + "=" * (-len(cursor) % 4)).decode()
    beyond = base64.urlsafe_b64encode(f"{whole.rpartition('.')[0]}.99999".encode()).decode().rstrip("=")
    padded = base64.urlsafe_b64encode(f"{whole.rpartition('.')[0]}.03".encode()).decode().rstrip("=")
    assert client.get(address).status_code == 200
    for bad in ("x", "%%%", "é", "YS5iLmM", beyond, padded, cursor + "A"):
        found = is_problem(client.get("/v1/disagreements", params={"settled": True, "cursor": bad}), 422, "bad-request")
        assert found["errors"][0]["pointer"] == "/cursor"
    for path in ("/v1/disagreements", "/v1/disagreements?settled=false", "/v1/taxa"):
        is_problem(client.get(path, params={"cursor": cursor}), 422, "bad-request")


@pytest.mark.parametrize("limit", ["0", "-1", "1001", "x"])
def test_a_limit_out_of_bounds_is_refused(client: TestClient, limit: str) -> None:
    is_problem(client.get(f"/v1/taxa?limit={limit}"), 422, "bad-request")


def test_the_link_to_the_next_page_stands_beside_that_to_the_context_and_with_json_ld_alone(client: TestClient) -> None:
    assert set(client.get("/v1/taxa?limit=3").links) == {"http://www.w3.org/ns/json-ld#context", "next"}
    answer = client.get("/v1/taxa?limit=3", headers={"accept": "application/ld+json"})
    assert (set(answer.links), len(answer.json()["@graph"])) == ({"next"}, 3)
