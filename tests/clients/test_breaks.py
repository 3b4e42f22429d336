"""No release breaks a client of the last one: the last released OpenAPI document is kept, and the present one held against it."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import pytest

from tests.clients.breaks import breaks
from tests.clients.release import CONTEXTS, RELEASED, changed, contexts_of, document_of, read
from tests.operations import operations

Document = dict[str, Any]


@pytest.fixture(scope="module")
def released() -> Document:
    return read(RELEASED)


def _post(document: Document) -> Document:
    return document["paths"]["/v1/identify"]["post"]


def _get(document: Document) -> Document:
    return document["paths"]["/v1/identify"]["get"]


def _parameter(document: Document, name: str) -> Document:
    return next(each for each in _get(document)["parameters"] if each["name"] == name)


def _schema(document: Document, name: str) -> Document:
    return document["components"]["schemas"][name]


FAULTS: dict[str, tuple[Callable[[Document], object], str]] = {
    "a path is removed": (lambda d: d["paths"].pop("/v1/compare"), "GET /v1/compare: is gone"),
    "a method is removed": (lambda d: d["paths"]["/v1/identify"].pop("get"), "GET /v1/identify: is gone"),
    "an operation is renamed": (lambda d: _post(d).update(operationId="judge"), "POST /v1/identify: is now called judge, not identify"),
    "a parameter is removed": (lambda d: _get(d)["parameters"].remove(_parameter(d, "wild")), "GET /v1/identify query parameter wild: is gone"),
    "a parameter moves": (lambda d: _parameter(d, "wild").update({"in": "header"}), "GET /v1/identify query parameter wild: is gone"),
    "a parameter becomes required": (lambda d: _parameter(d, "wild").update(required=True), "GET /v1/identify query parameter wild: has become required"),
    "a new parameter is required": (
        lambda d: _get(d)["parameters"].append({"in": "query", "name": "key", "required": True, "schema": {"type": "string"}}),
        "GET /v1/identify query parameter key: is new and required",
    ),
    "a default changes": (lambda d: _parameter(d, "wild")["schema"].update(default=True), "query parameter wild: means something else when left out"),
    "a parameter's type narrows": (lambda d: _parameter(d, "month")["schema"]["anyOf"].pop(), "query parameter month: null is not among"),
    "a limit is tightened": (lambda d: _parameter(d, "month")["schema"]["anyOf"][0].update(maximum=11), "maximum 12 does not keep to 11"),
    "a least value is raised": (lambda d: _parameter(d, "month")["schema"]["anyOf"][0].update(minimum=2), "minimum 1 does not keep to 2"),
    "a pattern is demanded": (lambda d: _parameter(d, "seen")["schema"]["items"].update(pattern="="), "parameter seen/*: pattern none does not keep to ="),
    "a body's form is removed": (
        lambda d: _post(d)["requestBody"]["content"].update(text=_post(d)["requestBody"]["content"].pop("application/json")),
        "POST /v1/identify body: application/json is gone",
    ),
    "a field that may be sent is removed": (lambda d: _schema(d, "ObservationIn")["properties"].pop("unit"), "/unit: is gone"),
    "a field that may be sent becomes required": (
        lambda d: _schema(d, "ObservationIn").update(required=[*_schema(d, "ObservationIn").get("required", []), "unit"]),
        "/unit: has become required",
    ),
    "a new field must be sent": (
        lambda d: (_schema(d, "IdentifyRequest")["properties"].update(key={"type": "string"}), _schema(d, "IdentifyRequest").update(required=["key"])),
        "POST /v1/identify body/key: has become required",
    ),
    "a value that may be sent is removed": (lambda d: _values(_schema(d, "KeyRequest")).pop(), "is not among the values"),
    "a field of an answer is removed": (lambda d: _schema(d, "Answer")["properties"].pop("near"), "200/near: is gone"),
    "a field of an answer may be left out": (lambda d: _schema(d, "Answer")["required"].remove("near"), "200/near: may be left out"),
    "a field deep in an answer changes its type": (
        lambda d: _schema(d, "Caution")["properties"].update(advice={"type": "integer"}), "200/cautions/*/advice: integer is not among Advice",
    ),
    "a field of an answer may be null": (
        lambda d: _schema(d, "Answer")["properties"].update(month={"anyOf": [{"type": "integer"}, {"type": "null"}]}), "200/month: null is not among Month",
    ),
    "a pair becomes longer": (lambda d: _schema(d, "Answer")["properties"]["implied"]["items"].update(maxItems=3), "200/implied/*: maxItems 3"),
    "a form of an answer is removed": (
        lambda d: d["paths"]["/v1/table"]["get"]["responses"]["200"]["content"].pop("text/csv"), "GET /v1/table 200: text/csv is gone",
    ),
    "a problem loses its code": (lambda d: _schema(d, "Problem")["properties"].pop("code"), "/code: is gone"),
    "a success is removed": (lambda d: _post(d)["responses"].update({"201": _post(d)["responses"].pop("200")}), "POST /v1/identify 200: is gone"),
}  # fmt: skip

ADDITIONS: dict[str, Callable[[Document], object]] = {
    "an operation": lambda d: d["paths"].update({"/v1/more": {"get": {**_get(d), "operationId": "more"}}}),
    "a parameter": lambda d: _get(d)["parameters"].append({"in": "query", "name": "key", "required": False, "schema": {"type": "string"}}),
    "a field of an answer": lambda d: (_schema(d, "Answer")["properties"].update(more={"type": "string"}), _schema(d, "Answer")["required"].append("more")),
    "a field that may be sent": lambda d: _schema(d, "ObservationIn")["properties"].update(more={"type": "string"}),
    "a wider limit": lambda d: _parameter(d, "seen")["schema"].update(maxItems=1000),
    "a wider type": lambda d: _schema(d, "ObservationIn")["properties"].update(unit={"anyOf": [{"type": ["string", "null"]}, {"type": "integer"}]}),
    "a form of an answer": lambda d: _post(d)["responses"]["200"]["content"].update({"application/cbor": {"schema": {"type": "string"}}}),
    "a problem": lambda d: _post(d)["responses"].update({"429": _post(d)["responses"]["422"]}),
    "other words": lambda d: _post(d).update(summary="Said in another way.", description="At length."),
}


def _values(schema: Any) -> list[Any]:
    """The first list of values anywhere in a schema."""
    parts = schema.values() if isinstance(schema, dict) else schema if isinstance(schema, list) else ()
    if isinstance(schema, dict) and len(schema.get("enum", ())) > 1:
        return schema["enum"]
    return next((found for each in parts if (found := _values(each))), [])


def test_the_present_document_breaks_no_client_of_the_last_release(released: Document) -> None:
    assert len(list(operations(released))) >= 30
    assert breaks(released, document_of()) == []


def test_a_document_breaks_no_client_of_its_own(released: Document) -> None:
    assert breaks(released, released) == []


@pytest.mark.parametrize("name", FAULTS)
def test_each_break_that_is_planted_is_found_and_named(released: Document, name: str) -> None:
    plant, told = FAULTS[name]
    new = copy.deepcopy(released)
    plant(new)
    found = breaks(released, new)
    assert any(told in each for each in found), found


@pytest.mark.parametrize("name", ADDITIONS)
def test_more_of_anything_is_no_break(released: Document, name: str) -> None:
    new = copy.deepcopy(released)
    ADDITIONS[name](new)
    assert new != released
    assert breaks(released, new) == []


def test_the_contexts_are_frozen() -> None:
    kept = read(CONTEXTS)
    assert len(kept) >= 15
    assert changed(kept, contexts_of()) == []


def test_a_term_that_goes_or_changes_is_found_wherever_it_stands_and_a_new_one_is_no_change() -> None:
    kept, new = read(CONTEXTS), read(CONTEXTS)
    new["Answer"]["more"] = {"@id": "https://example.org/more"}
    assert changed(kept, new) == []
    new["Answer"]["consistent"]["@context"]["taxon"]["@context"]["@base"] = "https://example.org/"
    del new["Account"]["traits"]
    assert [each.partition(":")[0] for each in changed(kept, new)] == ["/Account/traits", "/Answer/consistent/@context/taxon/@context/@base"]
