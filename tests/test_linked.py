"""Identifiers that can be followed: everything opens at the path of its IRI, in the form that is asked for."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator
from urllib.parse import urlsplit

import pytest
from fastapi.testclient import TestClient
from httpx import Response
from rdflib import OWL, Graph, URIRef
from rdflib.compare import isomorphic

from lenticel.api import create_app
from lenticel.api.linked import FORMS
from lenticel.context import ADDRESS, VERSIONS, context_text
from lenticel.iris import LT
from lenticel.paths import VOCABULARY, Place, address_of, places_of
from lenticel.resources import Resources
from lenticel.snapshot import Snapshot
from tests.operations import is_problem
from tests.test_resources import read_back, sample

BY_NAME = {form.name: form for form in FORMS}
RDF_FORMS = {"ttl": "turtle", "jsonld": "json-ld", "nt": "nt", "rdf": "xml", "nq": "nquads", "trig": "trig"}
BROWSER = "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"


@pytest.fixture(scope="module")
def places(snapshot: Snapshot) -> list[Place]:
    """A few of each kind; all of them if LENTICEL_CRAWL=all."""
    found = {**places_of(snapshot.knowledge, snapshot.body.cells), **Resources(snapshot).further}
    return list(found.values()) if os.environ.get("LENTICEL_CRAWL") == "all" else sample(found, 3)


def is_sealed(page: Response) -> bool:
    """Whether a page loads and sends to nothing but the service, stands in no frame, and is taken for nothing but a page."""
    policy = dict(part.strip().split(" ", 1) for part in page.headers["content-security-policy"].split(";"))
    shut = {policy.pop(each, "") for each in ("default-src", "base-uri", "frame-ancestors")}
    return shut == {"'none'"} and "form-action" in policy and set(policy.values()) == {"'self'"} and page.headers["x-content-type-options"] == "nosniff"


def address(snapshot: Snapshot, place: Place) -> str:
    return address_of(snapshot.knowledge.about.iri, place.table, place.key, place.part)


def test_every_thing_opens_in_every_form_and_says_what_the_ontology_says(snapshot: Snapshot, client: TestClient, places: list[Place]) -> None:
    resources = Resources(snapshot)
    kinds = {(each.table, each.part) for each in places}
    assert len(kinds) >= 12
    for place in places:
        graph = resources.describe(place)
        for name, parser in RDF_FORMS.items():
            answer = client.get(address(snapshot, place), headers={"accept": BY_NAME[name].media_type})
            assert answer.status_code == 200, (place, name)
            assert answer.headers["content-type"].startswith(BY_NAME[name].media_type)
            assert "accept" in answer.headers["vary"].split(", ")
            assert isomorphic(read_back(answer.content, parser), graph), (place, name)
        page = client.get(address(snapshot, place), headers={"accept": BROWSER})
        assert (page.status_code, page.headers["content-type"]) == (200, "text/html; charset=utf-8"), place
        assert "<h1>" in page.text
        assert is_sealed(page), place


def test_every_link_of_a_page_opens(snapshot: Snapshot, client: TestClient, places: list[Place]) -> None:
    seen: set[str] = set()
    for place in places[:60]:
        for link in _links(client.get(address(snapshot, place), headers={"accept": BROWSER}).text):
            if link.startswith("/") and link not in seen and len(seen) < 400:
                seen.add(link)
                assert client.get(link, headers={"accept": BROWSER}).status_code == 200, (place, link)
    assert len(seen) > 20


def _links(page: str) -> Iterator[str]:
    return (each.replace("&amp;", "&") for each in re.findall(r'href="([^"]*)"', page))


@pytest.mark.parametrize(
    ("accept", "form"),
    [
        ("", "ttl"), ("*/*", "ttl"), ("text/html", "html"), (BROWSER, "html"), ("application/json", "jsonld"), 
        ("application/ld+json;q=0.5, text/turtle;q=0.4", "jsonld"),
        ("text/turtle;q=0, */*", "jsonld"), ("text/*;q=0.3, text/html;q=0.1", "ttl"), ("application/rdf+xml", "rdf"), ("text/plain", "nt"), ("image/png", None),
        ("text/html;q=0", None),
    ],
)  # fmt: skip
def test_the_accept_header_decides(snapshot: Snapshot, client: TestClient, accept: str, form: str | None) -> None:
    answer = client.get(f"{urlsplit(snapshot.knowledge.about.iri).path}ontology", headers={"accept": accept})
    if form is None:
        told = is_problem(answer, 406, "not-acceptable")
        assert told["forms"] == [each.media_type for each in FORMS]
    else:
        assert answer.headers["content-type"].startswith(BY_NAME[form].media_type)


def test_a_parameter_and_a_suffix_choose_the_form_whatever_the_header_says(snapshot: Snapshot, client: TestClient) -> None:
    path = address(snapshot, Place("taxa", next(iter(snapshot.knowledge.taxa))))
    for form in FORMS:
        for way in (f"{path}?format={form.name}", f"{path}.{form.name}"):
            assert client.get(way, headers={"accept": "image/png"}).headers["content-type"].startswith(form.media_type), way
    is_problem(client.get(f"{path}?format=docx"), 406, "not-acceptable")
    is_problem(client.get(f"{path}.docx"), 404, "unknown-term")


def test_each_form_has_an_etag_of_its_own(snapshot: Snapshot, client: TestClient) -> None:
    path = address(snapshot, Place("taxa", next(iter(snapshot.knowledge.taxa))))
    tags = {client.get(f"{path}?format={form.name}", headers={"accept-encoding": "identity"}).headers["etag"] for form in FORMS}
    assert len(tags) == len(FORMS)
    tag = client.get(path).headers["etag"]
    assert client.get(path, headers={"if-none-match": tag}).status_code == 304


def test_every_word_of_the_vocabulary_opens(client: TestClient, snapshot: Snapshot) -> None:
    words = Resources(snapshot).words
    assert len(words) > 40
    for word in words:
        path = urlsplit(VOCABULARY + word).path
        assert (URIRef(VOCABULARY + word), None, None) in Graph().parse(data=client.get(path).text, format="turtle"), word
        assert client.get(path, headers={"accept": BROWSER}).status_code == 200
    header = Graph().parse(data=client.get(urlsplit(VOCABULARY).path.rstrip("/")).text, format="turtle")
    assert (URIRef(VOCABULARY.rstrip("/")), None, OWL.Ontology) in header
    assert str(LT) == VOCABULARY


def test_what_nobody_knows_is_not_found_as_problem_or_as_page(snapshot: Snapshot, client: TestClient) -> None:
    base = urlsplit(snapshot.knowledge.about.iri).path
    for path in (f"{base}taxon/no-such-thing", f"{base}nowhere", f"{base}taxon/%00", urlsplit(VOCABULARY).path + "nothing"):
        is_problem(client.get(path), 404, "unknown-term")
        page = client.get(path, headers={"accept": BROWSER})
        assert (page.status_code, page.headers["content-type"]) == (404, "text/html; charset=utf-8")
        assert is_sealed(page)


def test_what_was_retired_is_gone_and_names_its_successor(workshop: Snapshot) -> None:
    iri = workshop.knowledge.about.iri
    successor = f"{iri}taxon/{next(iter(workshop.knowledge.taxa))}"
    client = TestClient(create_app(workshop, retired={f"{iri}taxon/old-nail": successor}))
    path = urlsplit(iri).path + "taxon/old-nail"
    answer = client.get(path)
    assert is_problem(answer, 410, "gone")["successor"] == successor
    assert answer.headers["link"] == f'<{successor}>; rel="successor-version"'
    page = client.get(path, headers={"accept": BROWSER})
    assert page.status_code == 410
    assert f'<a href="{urlsplit(successor).path}">{successor}</a>' in page.text


def test_pages_that_say_what_went_wrong_lead_on_in_the_language_that_their_address_names(workshop: Snapshot) -> None:
    iri = workshop.knowledge.about.iri
    client = TestClient(create_app(workshop, retired={f"{iri}taxon/old-nail": f"{iri}taxon/nail"}))
    for name, status in (("no-such-thing", 404), ("old-nail", 410)):
        page = client.get(f"{urlsplit(iri).path}taxon/{name}?lang=fr", headers={"accept": BROWSER})
        links = re.findall(r'<a\b[^>]* href="(/[^"]*)"', page.text)
        assert (page.status_code, len(links) > 5) == (status, True)
        assert [each for each in links if not each.endswith("?lang=fr")] == []


def test_every_version_of_the_context_opens_at_its_own_path(client: TestClient) -> None:
    for version in VERSIONS:
        answer = client.get(urlsplit(ADDRESS.replace(VERSIONS[-1], version)).path)
        assert answer.headers["content-type"] == "application/ld+json"
        assert json.loads(answer.text) == json.loads(context_text(version))
    is_problem(client.get(urlsplit(ADDRESS.replace(VERSIONS[-1], "v0.jsonld")).path), 404, "unknown-term")


def test_what_is_said_cannot_break_out_of_a_page(client: TestClient) -> None:
    page = client.get("/identify", params={"seen": ["<script>alert(1)</script>=\"'><img src=x>"]})
    assert page.status_code == 200
    assert "<script" not in page.text
    assert "<img" not in page.text
