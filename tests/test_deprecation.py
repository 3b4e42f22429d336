"""An operation that will go says so, in the document and with each answer; here in an app of the test's own, since none of the service's goes yet."""

from __future__ import annotations

from datetime import UTC, date, datetime
from email.utils import parsedate_to_datetime

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from lenticel.api.deprecation import EXTRA, Deprecation, announce
from lenticel.errors import UnknownTerm
from lenticel.problems import install

GOING = Deprecation(since=date(2027, 3, 1), until=date(2028, 3, 1), successor="/v1/new", about="/release")


@pytest.fixture(scope="module")
def client() -> TestClient:
    app = FastAPI()
    install(app)

    @app.get("/v1/old/{key}", **GOING.declared())
    async def old(key: str) -> str:
        if key == "none":
            raise UnknownTerm("There is none.", "Take another.")
        return key

    @app.get("/v1/new")
    async def new() -> str:
        return "new"

    announce(app)
    return TestClient(app)


@pytest.mark.parametrize(("key", "status"), [("a", 200), ("none", 404)])
def test_each_answer_says_when_it_was_deprecated_when_it_goes_and_what_to_use(client: TestClient, key: str, status: int) -> None:
    """RFC 9745, 2.1 and 3: a structured date and a link; RFC 8594, 3: an HTTP date; RFC 5829, 3.3: the successor."""
    answer = client.get(f"/v1/old/{key}")
    assert answer.status_code == status
    assert answer.headers["deprecation"] == f"@{int(datetime(2027, 3, 1, tzinfo=UTC).timestamp())}"
    assert parsedate_to_datetime(answer.headers["sunset"]) == datetime(2028, 3, 1, tzinfo=UTC)
    assert answer.links["deprecation"]["url"] == "/release"
    assert answer.links["successor-version"]["url"] == "/v1/new"


def test_the_document_says_it_too_and_other_operations_say_nothing(client: TestClient) -> None:
    paths = client.get("/openapi.json").json()["paths"]
    old = paths["/v1/old/{key}"]["get"]
    assert (old["deprecated"], old[EXTRA]["until"], old[EXTRA]["successor"]) == (True, "2028-03-01", "/v1/new")
    assert "deprecated" not in paths["/v1/new"]["get"]
    assert not {"deprecation", "sunset", "link"} & set(client.get("/v1/new").headers)


def test_nothing_goes_before_it_is_deprecated() -> None:
    with pytest.raises(ValueError, match="before"):
        Deprecation(since=date(2028, 3, 1), until=date(2027, 3, 1), successor="/v1/new", about="/release")
