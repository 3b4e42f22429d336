"""The answers are JSON-LD: the context that an answer names says what each field is, and the IRIs that come of it are the ontology's."""

from __future__ import annotations

import json
from collections.abc import Iterator
from decimal import Decimal
from typing import Any
from urllib.parse import urljoin, urlsplit

import pytest
from fastapi.testclient import TestClient
from httpx import Response
from pyld import jsonld
from rdflib import RDF, Dataset, Graph, Literal, URIRef

from lenticel import owl
from lenticel.context.kinds import ANSWER
from lenticel.paths import places_of
from lenticel.snapshot import Snapshot
from tests.operations import Operation, fits, is_problem, operations

CONTEXT = "http://www.w3.org/ns/json-ld#context"
JSON_LD = {"accept": "application/ld+json"}


@pytest.fixture(scope="module")
def asked(document: dict[str, Any]) -> list[Operation]:
    """The operations that answer in JSON-LD."""
    found = [each for each in operations(document) if each.path.startswith("/v1/") and "application/ld+json" in _contents(each)]
    assert len(found) >= 18
    assert all(
        "application/ld+json" in _contents(each) for each in operations(document) if each.path.startswith("/v1/") and "application/json" in _contents(each)
    )
    return found


@pytest.fixture(scope="module")
def linked(client: TestClient, asked: list[Operation]) -> dict[str, Any]:
    """The answers in JSON-LD."""
    return {each.id: each.ask(client, headers=JSON_LD).json() for each in asked}


@pytest.fixture(scope="module")
def triples(linked: dict[str, Any]) -> dict[str, set[tuple[Any, ...]]]:
    """What a reader of RDF takes from each answer."""
    return {key: {each[:3] for each in Dataset(default_union=True).parse(data=json.dumps(told), format="json-ld").quads()} for key, told in linked.items()}


@pytest.fixture(scope="module")
def whole(whole_graph: Graph) -> set[tuple[Any, ...]]:
    """What the ontology says."""
    return set(map(_valued, whole_graph))


def _contents(operation: Operation) -> dict[str, Any]:
    return operation.body["responses"]["200"]["content"]


def _context(client: TestClient, answer: Response) -> dict[str, Any]:
    """The context that a plain answer names."""
    link = answer.links[CONTEXT]
    assert link["type"] == "application/ld+json"
    told = client.get(urljoin(str(answer.request.url), link["url"]))
    assert (told.status_code, told.headers["content-type"]) == (200, "application/ld+json")
    return told.json()["@context"]


def _told(value: Any) -> Any:
    """A value without null and without objects that hold nothing: neither says anything in JSON-LD."""
    if isinstance(value, dict):
        return {key: _told(each) for key, each in value.items() if each not in (None, {}) and not (key.startswith(ANSWER) and each == [])}
    return [_told(each) for each in value] if isinstance(value, list) else value


def _bare(value: Any) -> Any:
    """What a plain answer has of one in JSON-LD: all but the keywords."""
    if isinstance(value, dict):
        return _bare(value["@graph"]) if "@graph" in value else {key: _bare(each) for key, each in value.items() if not key.startswith("@")}
    return [_bare(each) for each in value] if isinstance(value, list) else value


def _iris(expanded: Any) -> Iterator[str]:
    if isinstance(expanded, dict):
        yield from (value for key, value in expanded.items() if key == "@id")
        yield from (each for key, value in expanded.items() if key != "@value" for each in _iris(value))
    elif isinstance(expanded, list):
        yield from (each for value in expanded for each in _iris(value))


def _valued(triple: tuple[Any, ...]) -> tuple[Any, ...]:
    """A triple with the value of a decimal in place of the way in which it is written."""
    *about, value = triple
    return (*about, value.value.normalize() if isinstance(value, Literal) and isinstance(value.value, Decimal) else value)


def test_an_answer_in_json_ld_is_the_plain_one_with_its_context_and_the_iris_of_its_records(
    document: dict[str, Any], client: TestClient, asked: list[Operation]
) -> None:
    for each in asked:
        plain, linked = each.ask(client), each.ask(client, headers=JSON_LD)
        assert (linked.status_code, linked.headers["content-type"]) == (200, "application/ld+json"), each.id
        assert linked.json()["@context"] == _context(client, plain), each.id
        assert _bare(linked.json()) == plain.json(), each.id
        assert fits(document, _contents(each)["application/ld+json"]["schema"], linked.json()) == [], each.id


def test_an_answer_expanded_and_compacted_again_is_the_same(linked: dict[str, Any]) -> None:
    for key, told in linked.items():
        again = jsonld.compact(jsonld.expand(told), told["@context"], {"graph": "@graph" in told})
        assert _told(again) == _told(told), key


def test_a_plain_answer_read_with_the_context_that_it_names_says_the_same_but_for_the_names_of_records(client: TestClient, asked: list[Operation]) -> None:
    for each in asked:
        plain = each.ask(client)
        context, told = _context(client, plain), plain.json()
        again = jsonld.compact(jsonld.expand(told, {"expandContext": context}), context, {"graph": isinstance(told, list)})
        again.pop("@context", None)
        assert _told(again.get("@graph") if isinstance(told, list) else again) == _told(told), each.id


def test_every_iri_of_an_answer_opens_and_names_what_the_ontology_names(snapshot: Snapshot, linked: dict[str, Any]) -> None:
    iri = snapshot.knowledge.about.iri
    places = {iri + path for path in places_of(snapshot.knowledge, snapshot.body.cells)}
    seen: set[str] = set()
    for key, told in linked.items():
        found = set(_iris(jsonld.expand(told)))
        assert found <= places, (key, sorted(found - places)[:5])
        seen |= found
    assert {"taxon", "character", "statement", "source"} <= {each.removeprefix(iri).partition("/")[0] for each in seen}
    assert len(seen) > 50


def test_what_an_answer_says_of_a_record_is_what_the_ontology_says(triples: dict[str, set[tuple[Any, ...]]], whole: set[tuple[Any, ...]]) -> None:
    held = 0
    for key, found in triples.items():
        of_records = {_valued(each) for each in found if isinstance(each[0], URIRef) and not each[1].startswith(ANSWER) and each[2] != Literal("")}
        assert of_records <= whole, (key, sorted(of_records - whole)[:5])
        held += len(of_records)
    assert held > 100


def test_a_field_is_a_term_of_the_vocabulary_or_one_that_is_explained(
    client: TestClient, triples: dict[str, set[tuple[Any, ...]]], whole: set[tuple[Any, ...]]
) -> None:
    explained = {*Graph().parse(data=client.get(urlsplit(ANSWER).path).text, format="json-ld").subjects()}
    assert len(explained) > 100
    known = explained | {verb for _, verb, _ in whole} | {*(Graph() + owl.vocabulary()).subjects()} | {URIRef(f"{ANSWER}key"), RDF.first, RDF.rest}
    for key, found in triples.items():
        used = {verb for _, verb, _ in found}
        assert used, key
        assert used <= known or key == "stats", (key, sorted(used - known))  # the keys of these are what is counted


def test_both_forms_are_kept_apart(client: TestClient) -> None:
    plain, linked = client.get("/v1/stats"), client.get("/v1/stats", headers=JSON_LD)
    assert plain.headers["etag"] != linked.headers["etag"]
    assert all("accept" in each.headers["vary"].split(", ") for each in (plain, linked))
    assert client.get("/v1/stats", headers={**JSON_LD, "if-none-match": linked.headers["etag"]}).status_code == 304
    assert client.get("/v1/stats", headers={**JSON_LD, "if-none-match": plain.headers["etag"]}).status_code == 200


@pytest.mark.parametrize(
    ("accept", "form"),
    [("", "json"), ("*/*", "json"), ("application/json", "json"), ("text/html", "json"), ("application/ld+json;q=0.5, application/json", "json"),
     ("application/ld+json;q=0", "json"), ("application/ld+json, application/json;q=0.9", "ld+json"), ("application/ld+json;q=0.5, */*;q=0.1", "ld+json")],
)  # fmt: skip
def test_the_accept_header_decides_and_plain_json_is_never_refused(client: TestClient, accept: str, form: str) -> None:
    assert client.get("/v1/stats", headers={"accept": accept}).headers["content-type"] == f"application/{form}"


def test_a_kind_of_answer_that_is_not_there_is_named_with_those_that_are(snapshot: Snapshot, client: TestClient) -> None:
    path = client.get("/v1/stats").links[CONTEXT]["url"].replace("dict", "Nothing")
    assert "Answer" in json.dumps(is_problem(client.get(path), 404, "unknown-term"))
