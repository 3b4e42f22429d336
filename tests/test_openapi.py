"""The OpenAPI document: valid, complete, and true, since its own examples are asked and its schemas held against the answers."""

from __future__ import annotations

import json
import re
from typing import Any

from fastapi.testclient import TestClient
from openapi_spec_validator import validate

from lenticel.examples import examples_from
from lenticel.model import Knowledge
from lenticel.snapshot import Snapshot
from tests.operations import fits, operations


def test_the_document_is_valid_openapi_3_1(document: dict[str, Any]) -> None:
    assert document["openapi"].startswith("3.1.")
    validate(document)


def test_every_operation_is_named_summed_up_tagged_and_has_a_schema_for_its_answer(document: dict[str, Any]) -> None:
    found = list(operations(document))
    assert len(found) >= 16
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


def test_errors_are_problem_documents_and_nothing_else(document: dict[str, Any]) -> None:
    errors = [(status, answer) for each in operations(document) for status, answer in each.body["responses"].items() if status >= "400"]
    assert len(errors) >= 20
    for status, answer in errors:
        assert list(answer["content"]) == ["application/problem+json"], status
        assert answer["content"]["application/problem+json"]["schema"] == {"$ref": "#/components/schemas/Problem"}
    assert not {"HTTPValidationError", "ValidationError"} & set(document["components"]["schemas"])


def test_every_example_is_answered_with_200_and_what_its_schema_says(document: dict[str, Any], client: TestClient) -> None:
    asked = 0
    for each in operations(document):
        answer = each.ask(client)
        assert answer.status_code == 200, (each.id, answer.text)
        media_type, content = next(iter(each.body["responses"]["200"]["content"].items()))
        assert answer.headers["content-type"].startswith(media_type), each.id
        told = answer.json() if media_type.endswith(("/json", "+json")) else answer.text
        assert told, each.id
        assert fits(document, content["schema"], told) == [], each.id
        for line in told.splitlines() if "x-line" in content["schema"] else ():
            assert fits(document, content["schema"]["x-line"], json.loads(line)) == [], each.id
        asked += 1
    assert asked >= 16


def test_each_example_of_a_parameter_also_works_alone(document: dict[str, Any], client: TestClient) -> None:
    asked = 0
    for each in operations(document):
        for parameter in each.body.get("parameters", []):
            if parameter["in"] == "query" and not parameter["required"]:
                needed = {other["name"]: other["example"] for other in each.body["parameters"] if other["in"] == "query" and other["required"]}
                assert client.get(each.url, params={**needed, parameter["name"]: parameter["example"]}).status_code == 200
                asked += 1
    assert asked >= 4


def test_examples_of_knowledge_in_which_nothing_is_stated_need_no_term(workshop: Snapshot) -> None:
    examples = examples_from(Knowledge(workshop.knowledge.about))
    assert examples.bodies["IdentifyRequest"] == {"observations": [], "wild": False}
    assert not any(body.get(part) for body in examples.bodies.values() for part in ("observations", "taxa", "claims"))
    assert set(examples.keys) == {"problem", "vocabularyWord", "file", "thing", "context", "answerContext"}
