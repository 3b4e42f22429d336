"""The JSON API: the same answers as the functions, a document that tells the truth, caching, and problems that help."""

from __future__ import annotations

import json
import logging
import re
import time
from dataclasses import replace
from datetime import UTC, datetime
from email.utils import format_datetime
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient

from lenticel import api
from lenticel.account import account, all_disagreements
from lenticel.answers import as_json
from lenticel.api import create_app
from lenticel.cite import counts, provenance, taxon_named
from lenticel.compare import compare
from lenticel.disputes import disputes
from lenticel.examples import examples_from
from lenticel.identify import Context, identify
from lenticel.notation import Misfit
from lenticel.observation import Reader, read_observations
from lenticel.problems import TITLES
from lenticel.requests import IdentifyRequest, parse_request
from lenticel.snapshot import Snapshot
from tests.operations import is_problem, operations

QUESTIONS = {"identify", "identifyByLink", "compare", "account"}
PRE = {"origin": "https://example.org", "access-control-request-method": "POST", "access-control-request-headers": "content-type"}


# --- the same answers as the functions


def test_the_same_question_asked_again_has_the_same_answer_and_names_no_validator(client: TestClient) -> None:
    """Kept or not; what is answered to a POST lies at no address that could be asked whether it changed (RFC 9110, 9.3.3)."""
    for body in ({"observations": []}, {"observations": [], "explain": 1}, {"observations": [], "explain": -1}):
        first, again = (client.post("/v1/identify", json=body) for _ in range(2))
        long = client.post("/v1/identify", content=as_json(body) + b" " * 5000, headers={"content-type": "application/json"})
        told = [(each.status_code, {**each.json(), "id": ""}) for each in (first, again, long)]
        assert told == [told[0]] * 3
        assert not {"etag", "last-modified"} & first.headers.keys()


def test_identify_answers_as_the_function_does(client: TestClient, snapshot: Snapshot) -> None:
    body = examples_from(snapshot.knowledge).bodies["IdentifyRequest"]
    observations = read_observations(Reader(snapshot), IdentifyRequest.model_validate(body).rows())
    assert len(observations) >= 2
    for wild in (False, True):
        for every_rank in (False, True):
            answer = client.post("/v1/identify", json={**body, "wild": wild, "every_rank": every_rank})
            assert answer.content == as_json(identify(snapshot, observations, Context(wild), every_rank=every_rank))


def test_a_link_asks_the_same_as_a_body(client: TestClient, snapshot: Snapshot) -> None:
    body = examples_from(snapshot.knowledge).bodies["IdentifyRequest"]
    rows = IdentifyRequest.model_validate(body).rows()
    for flags in ({}, {"wild": True}, {"every_rank": True}):
        link = client.get("/v1/identify", params={"seen": [f"{character}={value}" for character, value in rows], **flags})
        assert link.content == client.post("/v1/identify", json={**body, **flags}).content


def test_the_example_is_a_plant_that_its_own_taxon_explains(client: TestClient, snapshot: Snapshot) -> None:
    examples = examples_from(snapshot.knowledge)
    answer = client.post("/v1/identify", json=examples.bodies["IdentifyRequest"]).json()
    assert examples.keys["account"] in [each["taxon"] for each in answer["consistent"]]
    assert answer["excluded"]


def test_compare_answers_as_the_function_does(client: TestClient, snapshot: Snapshot) -> None:
    taxa = examples_from(snapshot.knowledge).parameters["taxa"]
    for season in ("", "winter"):
        answer = client.get("/v1/compare", params={"taxa": taxa, "season": season})
        assert answer.content == as_json(compare(snapshot, taxa, season=season))


def test_an_account_answers_as_the_function_does_under_every_name(client: TestClient, snapshot: Snapshot) -> None:
    for key, taxon in snapshot.knowledge.taxa.items():
        for name in (key, taxon.scientific_name):
            assert client.get(f"/v1/taxa/{name}").content == as_json(account(snapshot, key)), name


def test_lists_hold_every_record_and_each_opens_alone(client: TestClient, snapshot: Snapshot) -> None:
    known = snapshot.knowledge
    for path, table in (("taxa", known.taxa), ("characters", known.characters), ("sources", known.sources)):
        listed = client.get(f"/v1/{path}").json()
        assert [each["id"] for each in listed] == list(table)
        for key in list(table)[:5]:
            alone = client.get(f"/v1/{path}/{key}").json()
            held = {"characters": alone.get("character"), "taxa": alone.get("taxon")}.get(path, alone)
            assert held.items() >= json.loads(as_json(table[key])).items()
            assert held == next(each for each in listed if each["id"] == key)
    for key in list(known.statements)[:5]:
        told = client.get(f"/v1/statements/{key}").json()
        assert [told.pop("provenance"), told.pop("disagreements")] == json.loads(
            as_json((provenance(known, key), [each for each in all_disagreements(snapshot) if key in (each.one, each.other)]))
        )
        assert told == {**json.loads(as_json(known.statements[key])), "digest": snapshot.digest}


def test_a_character_comes_with_the_states_of_its_broadest_one(client: TestClient, snapshot: Snapshot) -> None:
    known = snapshot.knowledge
    narrower = next(key for key, each in known.characters.items() if each.broader and each.kind == "states")
    states = client.get(f"/v1/characters/{narrower}").json()["states"]
    assert [each["id"] for each in states] == [each.id for each in known.states_of(narrower)] != []


def test_disagreements_and_stats_answer_as_the_functions_do(client: TestClient, snapshot: Snapshot) -> None:
    known = snapshot.knowledge
    assert client.get("/v1/disagreements").content == as_json(disputes(snapshot, all_disagreements(snapshot)))
    for settled in (True, False):
        told = client.get("/v1/disagreements", params={"settled": settled}).json()
        assert len(told) == sum((each.resolution is not None) == settled for each in all_disagreements(snapshot))
    assert client.get("/v1/stats").json() == counts(known)


def test_every_way_of_saying_what_was_seen_means_its_text_form(workshop: Snapshot) -> None:
    client = TestClient(create_app(workshop))
    same = [
        ({"character": "head", "states": ["flat", "pan"]}, ("head", "flat|pan")),
        ({"character": "head", "not_states": ["flat"]}, ("head", "not flat")),
        ({"character": "thread", "absent": True}, ("thread", "absent")),
        ({"character": "length", "measured": 12}, ("length", "12")),
        ({"character": "length", "measured": 7.5}, ("length", "7.5")),
        ({"character": "length", "measured": "7.50", "unit": "mm"}, ("length", "7.50 mm")),
        ({"character": "length", "measured": "7 1/2", "unit": "in"}, ("length", "7 1/2 in")),
        ({"character": "length", "measured": "7½", "unit": "in"}, ("length", "7 1/2 in")),
        ({"character": "length", "measured": 20, "uncertainty": 0.5}, ("length", "20±0.5")),
        ({"character": "length", "low": 5, "high": 8.25, "unit": "mm"}, ("length", "5-8.25 mm")),
        ({"character": "length", "low": 5}, ("length", ">=5")),
        ({"character": "length", "high": "8", "unit": "mm"}, ("length", "<=8 mm")),
        ({"character": "turns", "measured": 12, "unit": "1"}, ("turns", "12")),
    ]
    for row, text in same:
        expected = identify(workshop, read_observations(Reader(workshop), [text]))
        assert client.post("/v1/identify", json={"observations": [row]}).content == as_json(expected), row


# --- digests and caching


def test_every_answer_to_a_question_names_the_knowledge_it_came_from(document: dict[str, Any], client: TestClient, snapshot: Snapshot) -> None:
    asked = [each.ask(client).json()["digest"] for each in operations(document) if each.id in QUESTIONS]
    assert asked == [snapshot.digest] * len(QUESTIONS)
    assert client.get("/").json()["digest"] == client.get("/readyz").json()["digest"] == snapshot.digest


def test_an_answer_that_the_caller_has_is_not_sent_again(document: dict[str, Any], client: TestClient) -> None:
    cached = [each for each in operations(document) if each.method == "GET" and each.id not in ("health", "ready")]
    assert len(cached) >= 13
    for each in cached:
        first = each.ask(client)
        tag = first.headers["etag"]
        assert "304" in each.body["responses"], each.id
        assert re.fullmatch(r'"[0-9a-f]{40}-[\w.]+(-[a-z]+)*"', tag)
        assert first.headers["cache-control"] == "no-cache"
        for had in (tag, f"W/{tag}", f'"other", {tag}', "*"):
            again = each.ask(client, headers={"if-none-match": had})
            assert (again.status_code, again.content, again.headers["etag"]) == (304, b"", tag), (each.id, had)
        assert each.ask(client, headers={"if-none-match": '"other"'}).content == first.content


def test_what_has_not_changed_is_not_worked_out_again(trees: Snapshot, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nor is an address that was never answered taken for one that was: the tag is the same for all of them."""
    client = TestClient(create_app(trees))
    link = "/v1/compare?taxa=acer-rubrum&taxa=acer-saccharum"
    first = client.get(link)
    monkeypatch.setattr("lenticel.api.questions.compare", None)
    had = {"if-none-match": first.headers["etag"]}
    again = client.get(link, headers=had)
    assert (again.status_code, again.content) == (304, b"")
    told = {name: value for name, value in first.headers.items() if name not in ("content-encoding", "content-length", "content-type")}
    assert again.headers == told
    assert told["last-modified"] == format_datetime(datetime.fromisoformat(trees.knowledge.about.issued).replace(tzinfo=UTC), usegmt=True)
    assert client.get("/v1/taxa/none", headers=had).status_code == 404
    with pytest.raises(TypeError, match="not callable"):
        client.get(f"{link}&season=winter", headers=had)


def test_other_knowledge_has_another_tag(trees: Snapshot, workshop: Snapshot) -> None:
    tags = [TestClient(create_app(each)).get("/v1/stats").headers["etag"] for each in (trees, workshop)]
    assert tags[0] != tags[1]


def test_a_post_is_always_answered_in_full(client: TestClient) -> None:
    answer = client.post("/v1/identify", json={"observations": []}, headers={"if-none-match": "*"})
    assert (answer.status_code, bool(answer.content)) == (200, True)


@pytest.mark.parametrize("name", ["Acer x freemanii", "ACER X FREEMANII", "Acer × freemanii A.E. Murray"])
def test_a_hybrid_is_found_with_a_letter_for_its_sign_and_any_taxon_with_its_author(trees: Snapshot, name: str) -> None:
    assert taxon_named(trees.knowledge, name) == "acer-x-freemanii"
    assert taxon_named(trees.knowledge, "Acer rubrum L.") == "acer-rubrum"


def test_no_operation_takes_a_parameter_that_it_does_not_have(document: dict[str, Any], client: TestClient) -> None:
    """Whether the framework looks for its parameters or it is called at once."""
    asked = [each for each in operations(document) if "service" not in each.body["tags"]]
    for each in asked:
        found = is_problem(each.ask(client, params={**each.examples("query"), "nonsense": "1"}), 422, "bad-request")
        (wrong,) = found["errors"]
        assert wrong["pointer"] == "/nonsense"
        assert re.fullmatch(r"there is no such parameter; (use one of: \w.*|leave it out)", wrong["detail"]), (each.path, wrong["detail"])
    assert len(asked) > 20


def test_head_answers_as_get_does_without_the_body(document: dict[str, Any], client: TestClient) -> None:
    for each in operations(document):
        if each.method == "GET":
            got = client.get(each.url, params=each.examples("query"))
            head = client.head(each.url, params=each.examples("query"))
            assert (head.status_code, head.content) == (200, b""), each.id
            assert dict(head.headers) == dict(got.headers), each.id
    assert client.head("/v1/stats", headers={"if-none-match": "*"}).status_code == 304
    assert (client.head("/v1/nothing").status_code, client.head("/v1/nothing").content) == (404, b"")


# --- health


def test_alive_and_ready(client: TestClient) -> None:
    assert client.get("/healthz").json() == {"status": "alive"}
    assert client.get("/readyz").json()["status"] == "ready"


def test_readiness_is_told_within_twenty_milliseconds(client: TestClient) -> None:
    """Of processor time, the client's own included, the least of five: who watches a service asks often."""
    spent = []
    for _ in range(5):
        began = time.process_time()
        assert client.get("/readyz").status_code == 200
        spent.append(time.process_time() - began)
    assert min(spent) < 0.02


def test_knowledge_that_does_not_answer_as_it_must_is_not_ready(workshop: Snapshot) -> None:
    damaged = replace(workshop, terminal=np.zeros_like(workshop.terminal))
    client = TestClient(create_app(damaged))
    is_problem(client.get("/readyz"), 503, "not-ready")
    assert client.get("/healthz").status_code == 200


# --- problems that help


@pytest.mark.parametrize(
    ("row", "hint"),
    [
        ({"character": "thraed", "states": ["present"]}, "thread"),
        ({"character": "pitch of thread", "low": 1}, "pitch of the thread"),
        ({"character": "head", "states": ["mushrom"]}, "mushroom"),
        ({"character": "head", "states": ["zzz"]}, "flat, round, mushroom, pan, none"),
        ({"character": "head|drvie", "states": ["none"]}, "drive"),
        ({"character": "length", "measured": 5, "unit": "parsec"}, "mm, cm, m"),
        ({"character": "head", "absent": True}, "thread"),
    ],
)
def test_a_misspelt_term_comes_back_with_what_is_near(workshop: Snapshot, row: dict[str, Any], hint: str) -> None:
    answer = TestClient(create_app(workshop)).post("/v1/identify", json={"observations": [{"character": "head", "states": ["flat"]}, row]})
    found = answer.json()
    assert answer.status_code == 422
    assert hint in found["fix"]
    assert found["errors"][0]["pointer"] == "/observations/1"


def test_a_misspelt_key_in_the_path_comes_back_with_what_is_near(client: TestClient, document: dict[str, Any]) -> None:
    keyed = [each for each in operations(document) if "{" in each.path]
    assert len(keyed) >= 5
    for each in keyed:
        key = each.url.rpartition("/")[2]
        found = is_problem(client.get(each.url[:-1]), 404, "unknown-term")
        assert f"{key}'" in found["fix"], found


def test_a_key_like_no_other_is_not_found_and_says_where_to_look(client: TestClient, document: dict[str, Any]) -> None:
    keyed = [each for each in operations(document) if "{" in each.path]
    for each in keyed:
        is_problem(client.get(each.path.replace(each.path[each.path.index("{") :], "0")), 404, "unknown-term")
    assert "/v1/sources" in client.get("/v1/sources/0").json()["fix"]


def test_a_name_that_compare_does_not_know_does_not_fit(client: TestClient) -> None:
    is_problem(client.get("/v1/compare", params={"taxa": ["nothing-at-all", "nothing-either"]}), 422, "unknown-term")


def test_a_method_that_is_not_taken_is_told_which_are(client: TestClient) -> None:
    for path, methods in (("/v1/identify", "GET, HEAD, POST"), ("/v1/taxa/nothing", "GET, HEAD"), ("/openapi.json", "GET, HEAD")):
        answer = client.put(path)
        is_problem(answer, 405, "not-allowed")
        assert answer.headers["allow"] == methods


def test_every_type_of_problem_opens_and_says_what_it_means(client: TestClient) -> None:
    assert len(TITLES) >= 12
    for code, (title, meaning) in TITLES.items():
        assert client.get(f"/problems/{code}").json() == {"code": code, "title": title, "meaning": meaning}
        assert len(meaning) > 20


def test_the_links_of_the_index_lead_to_resources(client: TestClient) -> None:
    links = client.get("/").json()["links"]
    assert len(links) >= 8
    for name, path in links.items():
        assert client.get(path).status_code == (422 if name in ("compare", "table") else 200), name


def test_a_fault_inside_is_logged_under_its_id_and_tells_nothing_else(
    workshop: Snapshot, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("the inside of the service")

    monkeypatch.setattr(api.questions, "identified", broken)
    client = TestClient(create_app(workshop), raise_server_exceptions=False)
    with caplog.at_level(logging.ERROR, "lenticel"):
        answer = client.post("/v1/identify", json={"observations": []}, headers={"origin": "https://example.org"})
    found = is_problem(answer, 500, "internal")
    assert found["id"] in caplog.text
    assert "the inside of the service" in caplog.text
    assert not re.search(r"inside of the service|Traceback|RuntimeError", answer.text)
    assert answer.headers["access-control-allow-origin"] == "*"
    assert client.get("/v1/stats").status_code == 200


# --- other sites, compression


def test_any_site_may_read_answers_and_problems_without_credentials(client: TestClient) -> None:
    site = {"origin": "https://example.org"}
    for answer in (
        client.get("/v1/stats", headers=site),
        client.get("/v1/taxa/0", headers=site),
        client.post("/v1/identify", content=b"{}" + b" " * (1 << 20), headers=site),
    ):
        assert answer.headers["access-control-allow-origin"] == "*", answer.status_code
        assert "access-control-allow-credentials" not in answer.headers
        assert "etag" in answer.headers["access-control-expose-headers"].lower()


def test_a_preflight_allows_what_the_service_takes_and_says_why_it_refuses_the_rest(client: TestClient) -> None:
    allowed = client.options("/v1/identify", headers=PRE)
    assert allowed.status_code == 200
    assert {"GET", "HEAD", "POST"} == set(allowed.headers["access-control-allow-methods"].split(", "))
    for refused in ({"access-control-request-method": "DELETE"}, {"access-control-request-headers": "x-secret"}):
        found = is_problem(client.options("/v1/identify", headers={**PRE, **refused}), 400, "not-allowed")
        assert "POST" in found["fix"]


@pytest.mark.parametrize(
    ("sent", "pointer", "told"),
    [
        ('{"observations": {"leaf-arrangement": "opposite"}}', "/observations", "it must be a list, in square brackets"),
        ('{"observations": ["leaf-arrangement=opposite"]}', "/observations/0", "it must be a JSON object"),
        ('{"observations": [{"character": "petiole-length", "value": 12}]}', "/observations/0/value", "it must be a text, in quotes"),
        ('{"observations": [], "mont": 3}', "/mont", "there is no such name here; did you mean 'month'?"),
        (
            '{"observations": [{"character": "petiole-sap", "not": ["milky"]}]}',
            "/observations/0/not",
            "there is no such name here; use one of: character, value, states, not_states, measured, uncertainty, low, high, unit, absent",
        ),
        ('{"observations": [], "month": "March"}', "/month", "it must be a whole number, without quotes"),
        ('{"observations": [], "month": 13}', "/month", "it must be less than or equal to 12"),
        ('{"observations": [], "wild": "yes"}', "/wild", "it must be true or false, without quotes"),
        ("{}", "/observations", "it is missing"),
        ('{"observations": [{"character": "leaf-margin", "states": []}]}', "/observations/0/states", "it must hold something"),
        ('{"observations": ' + str([{}] * 201) + "}", "/observations", "it must hold at most 200 items, not 201"),
        (r'{"observations": [{"character": "\ud800", "value": "x"}]}', "/observations/0/character", "it holds half of a character"),
    ],
)
def test_json_that_does_not_fit_is_refused_in_words_of_json(sent: str, pointer: str, told: str) -> None:
    with pytest.raises(Misfit) as error:
        parse_request(sent, IdentifyRequest)
    assert error.value.places == [(pointer, told)]


def test_a_month_by_name_in_a_link_is_refused_in_plain_words(client: TestClient) -> None:
    assert is_problem(client.get("/v1/identify?month=May"), 422, "bad-request")["detail"] == "It must be a whole number."
