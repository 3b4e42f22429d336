"""The OpenAPI document: valid, complete, and true, since its own examples are asked and its schemas held against the answers."""

from __future__ import annotations

import asyncio
import json
import re
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi.testclient import TestClient
from openapi_spec_validator import validate
from starlette.types import ASGIApp

import lenticel
from lenticel.api import create_app
from lenticel.api import document as document_module
from lenticel.api.deprecation import EXTRA
from lenticel.api.document import shortened
from lenticel.api.releases import QUERIED
from lenticel.api.sparql import Endpoint
from lenticel.budgets import Budgets
from lenticel.derived import store_of
from lenticel.examples import examples_from
from lenticel.model import Knowledge
from lenticel.places import ontology_folder
from lenticel.quadstore import default_cache
from lenticel.queries import Limits
from lenticel.saved import Saved, read, saved_in
from lenticel.snapshot import Snapshot
from tests.endpoint import GENEROUS, Running, running
from tests.operations import fits, operations

KINDS = "# Which kinds are there?\n# All of them.\n# expect rows: at least 1\nSELECT DISTINCT ?kind { ?thing a ?kind }\n"


@pytest.fixture(scope="module", params=["trees", "workshop"])
def whole(request: pytest.FixtureRequest) -> tuple[Snapshot, Path, dict[str, Saved]]:
    """A knowledge, its store, and its saved questions."""
    if request.param == "trees":
        trees = lenticel.load()
        return trees, store_of(trees, None, default_cache()), saved_in(ontology_folder() / "questions")
    return request.getfixturevalue("workshop"), request.getfixturevalue("workshop_store"), {"kinds": read("kinds", KINDS)}


@pytest.fixture(scope="module")
def client(whole: tuple[Snapshot, Path, dict[str, Saved]]) -> Iterator[httpx.Client]:
    """The service with all its operations, those that need a dataset too."""
    snapshot, store, questions = whole
    with running(snapshot, store, Limits(seconds=30), questions=questions) as service, httpx.Client(base_url=service.url, timeout=60) as found:
        yield found


@pytest.fixture(scope="module")
def document(client: httpx.Client) -> dict[str, Any]:
    return client.get("/openapi.json").json()


def test_the_document_is_valid_openapi_3_1(document: dict[str, Any]) -> None:
    assert document["openapi"].startswith("3.1.")
    validate(document)


def test_every_operation_is_named_summed_up_tagged_and_has_a_schema_for_its_answer(document: dict[str, Any]) -> None:
    found = list(operations(document))
    assert len(found) >= 46
    assert {"sparql", "sparqlByPost", "prefixes", "listQuestions", "question"} <= {each.id for each in found}
    assert len({each.id for each in found}) == len(found)
    for each in found:
        assert re.fullmatch(r"[a-z]+([A-Z][a-z]+)*", each.id)
        assert all(each.body[part] for part in ("summary", "tags")), each.id
        assert all(content["schema"] for content in each.body["responses"]["200"]["content"].values()), each.id


def test_every_parameter_and_body_is_described_and_has_an_example(document: dict[str, Any]) -> None:
    parameters = [(each.id, parameter) for each in operations(document) for parameter in each.body.get("parameters", [])]
    assert len(parameters) >= 10
    for name, parameter in parameters:
        assert parameter["description"], name
        assert parameter["example"] is not None, name
        assert not fits(document, parameter["schema"], parameter["example"]), name
    bodies = [body for each in operations(document) if "requestBody" in each.body for body in each.body["requestBody"]["content"].values()]
    assert len(bodies) >= 8
    for body in bodies:
        assert not fits(document, body["schema"], body["example"])
        for line in body["example"].splitlines() if "x-line" in body["schema"] else ():
            assert not fits(document, body["schema"]["x-line"], json.loads(line))
    fields = document["components"]["schemas"]["ObservationIn"]["properties"]
    assert len(fields) >= 10
    assert all(each["description"] for each in fields.values())


def test_what_is_deprecated_says_since_when_until_when_and_in_favour_of_what(document: dict[str, Any]) -> None:
    ids = {each.id for each in operations(document) if each.body.get("deprecated")}
    assert ids == {each.id for each in operations(document) if EXTRA in each.body}


def test_errors_are_problem_documents_and_nothing_else(document: dict[str, Any]) -> None:
    errors = [(status, answer) for each in operations(document) for status, answer in each.body["responses"].items() if status >= "400"]
    assert len(errors) >= 20
    for status, answer in errors:
        assert list(answer["content"]) == ["application/problem+json"], status
        assert answer["content"]["application/problem+json"]["schema"] == {"$ref": "#/components/schemas/Problem"}
    assert not {"HTTPValidationError", "ValidationError"} & set(document["components"]["schemas"])


def test_every_example_is_answered_with_200_what_its_schema_says_and_what_the_example_of_the_answer_begins(
    document: dict[str, Any], client: httpx.Client
) -> None:
    asked = 0
    for each in operations(document):
        for answer in each.asked(client):
            assert answer.status_code == 200, (each.id, answer.text)
            media_type, content = next(iter(each.body["responses"]["200"]["content"].items()))
            assert answer.headers["content-type"].startswith(media_type), each.id
            assert answer.headers["x-content-type-options"] == "nosniff", each.id
            told = answer.json() if media_type.endswith(("/json", "+json")) else answer.text
            assert told, each.id
            assert fits(document, content["schema"], told) == [], each.id
            lines = [json.loads(line) for line in told.splitlines()] if "x-line" in content["schema"] else []
            assert all(fits(document, content["schema"]["x-line"], line) == [] for line in lines), each.id
            example = content["examples"]["answer"]["value"]
            assert fits(document, content["schema"], example) == [], each.id
            assert ([json.loads(line) for line in example.splitlines()] if lines else example) == ([*map(shortened, lines)] or shortened(told)), each.id
            asked += 1
    assert asked >= 54


def test_what_is_shortened_keeps_its_form() -> None:
    assert shortened({"a": [1, [2, 3, 4], 5], "b": "x" * 700, "c": None}) == {"a": [1, [2, 3]], "b": "x" * 600 + " …", "c": None}


def test_the_document_is_sent_with_a_tag_and_only_once_to_who_keeps_it(client: httpx.Client) -> None:
    first = client.get("/openapi.json")
    assert client.get("/openapi.json").content == first.content
    assert client.get("/openapi.json", headers={"if-none-match": first.headers["etag"]}).status_code == 304


def test_while_queries_cannot_be_answered_the_document_lacks_their_examples_and_later_has_them(workshop: Snapshot, workshop_store: Path) -> None:
    def exemplified(service: Running) -> bool:
        get = httpx.get(f"{service.url}/openapi.json").json()["paths"]["/sparql"]["get"]
        return "examples" in next(iter(get["responses"]["200"]["content"].values()))

    with running(workshop, workshop_store) as service:
        pool, service.endpoint.pool = service.endpoint.pool, None
        early = exemplified(service)
        service.endpoint.pool = pool
        assert (early, exemplified(service)) == (False, True)


def test_each_example_of_a_parameter_also_works_alone(document: dict[str, Any], client: httpx.Client) -> None:
    asked = 0
    for each in operations(document):
        for parameter in each.body.get("parameters", []):
            if parameter["in"] == "query" and not parameter["required"]:
                needed = {other["name"]: other["example"] for other in each.body["parameters"] if other["in"] == "query" and other["required"]}
                given = parameter["example"] if parameter.get("style") == "form" else {parameter["name"]: parameter["example"]}
                if each.id == "sparql" and "query" not in given:
                    given |= {"query": each.examples("query")["query"]}
                assert each.ask(client, params={**needed, **given}).status_code == 200, (each.id, given)
                asked += 1
    assert asked >= 4


def test_examples_of_knowledge_in_which_nothing_is_stated_need_no_term(workshop: Snapshot) -> None:
    examples = examples_from(Knowledge(workshop.knowledge.about))
    assert examples.bodies["IdentifyRequest"] == {"observations": [], "wild": False}
    assert not any(body.get(part) for body in examples.bodies.values() for part in ("observations", "taxa", "claims"))
    assert set(examples.keys) == {"problem", "vocabularyWord", "file", "thing", "context", "answerContext"}


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, bool]]:
    """The paths that the service asks itself from now on, and whether each was on the loop of this thread."""
    found: list[tuple[str, bool]] = []
    ask, here = document_module.ask, threading.get_ident()

    async def noted(app: ASGIApp, method: str, path: str, *more: Any) -> tuple[int, bytes]:
        found.append((path, threading.get_ident() == here))
        return await ask(app, method, path, *more)

    monkeypatch.setattr(document_module, "ask", noted)
    monkeypatch.setattr(document_module, "CALM", 0)
    return found


def test_examples_are_worked_out_beside_the_loop_of_the_service_but_those_of_queries(workshop: Snapshot, asked: list[tuple[str, bool]]) -> None:
    app = create_app(workshop, endpoint=Endpoint(Budgets(**GENEROUS), {}, Limits(), ""))
    asyncio.run(document_module.ahead(app))
    assert asked.pop(0) == ("/openapi.json", True)
    assert len(asked) > 40
    assert {path for path, here in asked if here} == {path for path, _ in asked if path.startswith(QUERIED)} >= {"/sparql", "/prefixes"}


def test_whoever_asks_for_the_document_finds_it_written(workshop: Snapshot, asked: list[tuple[str, bool]]) -> None:
    app = create_app(workshop)
    asyncio.run(document_module.ahead(app))
    assert len(asked) > 40
    asked.clear()
    assert TestClient(app).get("/openapi.json").json()["paths"]
    assert asked == []
