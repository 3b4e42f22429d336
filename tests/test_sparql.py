"""The endpoint: the protocol, the forms of answers, what is refused and with which words."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

import httpx
import pytest
from rdflib import Dataset, Graph, URIRef

from lenticel.budgets import Budgets
from lenticel.queries import Limits
from lenticel.refused import REASONS
from lenticel.snapshot import Snapshot
from lenticel.sparql import GRAPHS
from tests.endpoint import GENEROUS, Running, ask, running, store_from
from tests.operations import fits, operations

DATA = "http://kasei.us/2009/09/sparql/data/data{}.rdf"
KIND = "http://www.w3.org/1999/02/22-rdf-syntax-ns#type"
SD = "http://www.w3.org/ns/sparql-service-description#"


@pytest.fixture(scope="module")
def service(workshop: Snapshot, workshop_store: Path) -> Iterator[Running]:
    with running(workshop, workshop_store, Limits(rows=400, bytes=100_000, seconds=1), address="https://plants.example") as found:
        yield found


@pytest.fixture(scope="module")
def three_graphs(workshop: Snapshot, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """Three graphs of one triple each, as the W3C protocol suite has them."""
    quads = "".join(f"<{DATA.format(each)}> <{KIND}> <http://xmlns.com/foaf/0.1/Document> <{DATA.format(each)}> .\n" for each in (1, 2, 3))
    store = store_from(quads, tmp_path_factory.mktemp("three"))
    with running(workshop, store) as found:
        found.open(store, union=False)
        yield found


def problem(answer: httpx.Response, status: int, code: str) -> dict[str, object]:
    assert (answer.status_code, answer.headers["content-type"]) == (status, "application/problem+json"), answer.text
    told = answer.json()
    assert (told["status"], told["code"]) == (status, code)
    assert all(told[each] for each in ("title", "detail", "fix"))
    return told


# --- the W3C protocol suite: w3c/rdf-tests, sparql/sparql11/protocol/manifest.ttl, approved by the SPARQL Working Group on 2012-11-20


@dataclass(frozen=True)
class Case:
    """A request of the suite; `expected` is True or False for a truth value, a kind of format, or the first digit of the status."""

    name: str
    expected: bool | str
    address: dict[str, list[str]]
    body: str = ""
    content_type: str = ""
    method: str = "POST"


FORM, DIRECT, UPDATE = "application/x-www-form-urlencoded", "application/sparql-query", "application/sparql-update"
NONE = "http://kasei.us/2009/09/sparql/data/data0.rdf"
ONE, TWO, THREE = (DATA.format(each) for each in (1, 2, 3))
BOTH = f"ASK {{ <{ONE}> a ?type . <{TWO}> a ?type . }}"
NAMED = f"ASK {{ GRAPH ?g1 {{ <{ONE}> a ?type }} GRAPH ?g2 {{ <{TWO}> a ?type }} }}"
FULL = f"{{ <{THREE}> a ?type GRAPH ?g1 {{ <{ONE}> a ?type }} GRAPH ?g2 {{ <{TWO}> a ?type }} }}"
DEFAULTS, NAMES = {"default-graph-uri": [ONE, TWO]}, {"named-graph-uri": [ONE, TWO]}
QUERIES = [
    Case("query_post_form", True, {"default-graph-uri": [NONE]}, "query=ASK%20%7B%7D", FORM),
    Case("query_dataset_default_graphs_get", True, {"query": [BOTH], **DEFAULTS}, method="GET"),
    Case("query_dataset_default_graphs_post", True, DEFAULTS, BOTH, DIRECT),
    Case("query_dataset_named_graphs_post", True, NAMES, NAMED, DIRECT),
    Case("query_dataset_named_graphs_get", True, {"query": [NAMED], **NAMES}, method="GET"),
    Case("query_dataset_full", True, {"default-graph-uri": [THREE], **NAMES}, f"ASK {FULL}", DIRECT),
    Case("query_multiple_dataset", True, NAMES, f"ASK FROM <{THREE}> {{ GRAPH ?g1 {{ <{ONE}> a ?type }} GRAPH ?g2 {{ <{TWO}> a ?type }} }}", DIRECT),
    Case("query_get", True, {"query": ["ASK {}"], "default-graph-uri": [NONE]}, method="GET"),
    Case("query_content_type_select", "tabular", {"default-graph-uri": [NONE]}, "SELECT (1 AS ?value) {}", DIRECT),
    Case("query_content_type_ask", "boolean", {"default-graph-uri": [NONE]}, "ASK {}", DIRECT),
    Case("query_content_type_describe", "RDF", {"default-graph-uri": [NONE]}, "DESCRIBE <http://example.org/>", DIRECT),
    Case("query_content_type_construct", "RDF", {"default-graph-uri": [NONE]}, "CONSTRUCT { <s> <p> 1 } WHERE {}", DIRECT),
    Case("query_post_direct", True, {}, "ASK {}", DIRECT),
    Case("bad_query_method", "4", {"query": ["ASK {}"], "default-graph-uri": [NONE]}, "", FORM, "PUT"),
    Case("bad_multiple_queries", "4", {"query": ["ASK {}", "SELECT * {}"]}, method="GET"),
    Case("bad_query_wrong_media_type", "4", {}, "ASK {}", "text/plain"),
    Case("bad_query_missing_form_type", "4", {}, "query=ASK%20%7B%7D"),
    Case("bad_query_missing_direct_type", "4", {}, "ASK {}"),
    Case("bad_query_non_utf8", "4", {}, "ASK {}", f"{DIRECT}; charset=UTF-16"),
    Case("bad_query_syntax", "4", {"query": ["ASK {"]}, method="GET"),
]
INSERT = "PREFIX dc: <http://purl.org/dc/terms/> DROP ALL ; INSERT { GRAPH <http://example.org/g> { ?s a dc:BibliographicResource } } WHERE { ?s a ?t }"
USING = {"using-graph-uri": [ONE]}
UPDATES = [
    Case("update_dataset_default_graph", "4", USING, INSERT, UPDATE),
    Case("update_dataset_default_graphs", "4", {"using-graph-uri": [ONE, TWO]}, INSERT, UPDATE),
    Case("update_dataset_named_graphs", "4", {"using-named-graph-uri": [ONE, TWO]}, INSERT, UPDATE),
    Case("update_dataset_full", "4", {**USING, "using-named-graph-uri": [TWO]}, INSERT, UPDATE),
    Case("update_post_form", "4", {}, "update=CLEAR+ALL", FORM),
    Case("update_post_direct", "4", {}, "CLEAR ALL", UPDATE),
    Case("update_base_uri", "4", {}, "INSERT DATA { GRAPH <http://example.org/g> { <http://example.org/s> <http://example.org/p> <test> } }", UPDATE),
    Case("bad_update_get", "4", {"update": ["CLEAR ALL"]}, method="GET"),
    Case("bad_multiple_updates", "4", {}, "update=CLEAR%20NAMED&update=CLEAR%20DEFAULT", FORM),
    Case("bad_update_wrong_media_type", "4", {}, "CLEAR NAMED", "text/plain"),
    Case("bad_update_missing_form_type", "4", {}, "update=CLEAR%20NAMED"),
    Case("bad_update_non_utf8", "4", {}, "CLEAR NAMED", f"{UPDATE}; charset=UTF-16"),
    Case("bad_update_syntax", "4", {}, "update=CLEAR%20XYZ", FORM),
    Case("bad_update_dataset_conflict", "4", {"using-named-graph-uri": ["http://example/people"]}, "DELETE { ?s ?p ?o } USING <x> WHERE { ?s ?p ?o }", UPDATE),
]
TABULAR = {"application/sparql-results+json", "application/sparql-results+xml", "text/csv", "text/tab-separated-values"}
RDF = {"text/turtle", "application/n-triples", "application/rdf+xml"}


def sent(service: Running, case: Case) -> httpx.Response:
    address = "&".join(f"{name}={quote(value, safe='')}" for name, values in case.address.items() for value in values)
    headers = {"content-type": case.content_type} if case.content_type else {}
    body = case.body.encode("utf-16" if "UTF-16" in case.content_type else "utf-8")
    return httpx.request(case.method, f"{service.url}/sparql?{address}", content=body, headers=headers)


@pytest.mark.parametrize("case", QUERIES, ids=lambda case: case.name)
def test_each_query_case_of_the_protocol_suite_passes(three_graphs: Running, case: Case) -> None:
    answer = sent(three_graphs, case)
    if case.expected == "4":
        assert 400 <= answer.status_code < 500
        return
    assert answer.status_code == 200, answer.text
    kind = answer.headers["content-type"].partition(";")[0]
    if isinstance(case.expected, bool):
        assert answer.json()["boolean"] is case.expected
    else:
        assert kind in {"tabular": TABULAR, "boolean": TABULAR, "RDF": RDF}[case.expected]


def test_the_suite_is_whole() -> None:
    assert (len({each.name for each in QUERIES}), len({each.name for each in UPDATES})) == (20, 14)


@pytest.mark.parametrize("case", UPDATES, ids=lambda case: case.name)
def test_each_update_case_of_the_suite_is_refused_and_changes_nothing(three_graphs: Running, case: Case) -> None:
    assert 400 <= sent(three_graphs, case).status_code < 500
    assert ask(three_graphs, "SELECT ?g ?s { GRAPH ?g { ?s ?p ?o } }").headers["x-lenticel-rows"] == "3"


def test_a_dataset_of_the_protocol_is_the_whole_dataset(three_graphs: Running) -> None:
    """The suite asks only for truth; these are the same questions with something left out, which must be false."""
    for fields in ({"default-graph-uri": ONE}, {"named-graph-uri": ONE}, {}):
        assert ask(three_graphs, BOTH, **fields).json()["boolean"] is False
    assert ask(three_graphs, NAMED, **{"named-graph-uri": ONE}).json()["boolean"] is False


# --- service description: sparql/sparql11/service-description/manifest.ttl, three tests


@pytest.mark.parametrize("accept", ["text/turtle", "application/rdf+xml", "application/n-triples", "application/ld+json", "*/*"])
def test_the_endpoint_describes_itself_with_its_true_address(service: Running, accept: str) -> None:
    """`returns-rdf`, `has-endpoint-triple` and `conforms-to-schema`, in each form."""
    answer = httpx.get(f"{service.url}/sparql", headers={"accept": accept})
    assert answer.status_code == 200
    graph = Graph().parse(data=answer.text, format=answer.headers["content-type"].partition(";")[0])
    (described,) = graph.subjects(URIRef(f"{SD}endpoint"), URIRef("https://plants.example/sparql"))
    kinds = {str(each) for each in graph.objects(described, URIRef(KIND))}
    assert f"{SD}Service" in kinds
    for word in ("supportedLanguage", "feature", "resultFormat", "defaultDataset"):
        assert list(graph.objects(described, URIRef(SD + word))), word
    words = {str(each) for each in graph.predicates() if str(each).startswith(SD)}
    assert {each.removeprefix(SD) for each in words} <= {
        "endpoint", "supportedLanguage", "feature", "resultFormat", "defaultDataset", "availableGraphs", "defaultGraph", "namedGraph", "name", "graph"
    }  # fmt: skip


def test_without_a_set_address_the_description_has_that_of_the_request(three_graphs: Running, workshop_store: Path) -> None:
    three_graphs.open(workshop_store)
    try:
        assert f"<{three_graphs.url}/sparql>" in httpx.get(f"{three_graphs.url}/sparql", headers={"accept": "application/n-triples"}).text
    finally:
        three_graphs.open(three_graphs.pool.store)


def test_the_description_counts_what_is_there(service: Running) -> None:
    told = ask(service, "SELECT ?graph ?triples { ?graph a sd:Graph ; void:triples ?triples }").json()["results"]["bindings"]
    assert len(told) == 6
    total = 0
    for row in told:
        found = ask(service, f"SELECT (COUNT(*) AS ?n) {{ GRAPH <{row['graph']['value']}> {{ ?s ?p ?o }} }}").json()["results"]["bindings"]
        assert found[0]["n"]["value"] == row["triples"]["value"]
        total += int(row["triples"]["value"])
    dataset = ask(service, "SELECT ?n { ?d a void:Dataset, sd:Dataset ; void:triples ?n }").json()["results"]["bindings"]
    assert [int(row["n"]["value"]) for row in dataset] == [total]


# --- forms

ROWS_BY_TYPE = {
    "application/sparql-results+json": "json", "application/json": "json", "application/sparql-results+xml": "xml", "application/xml": "xml", "text/xml": "xml",
    "text/csv": "csv", "text/tab-separated-values": "tsv",
    "*/*": "json", "": "json", "text/*": "csv", "application/*": "json", "text/csv;q=0.5, */*;q=0.1": "csv", "text/csv;q=0, text/*": "tsv",
    "text/html, application/xhtml+xml, application/xml;q=0.9, */*;q=0.8": "xml", "text/csv; charset=utf-8": "csv",
    "application/sparql-results+json;q=0.1, application/sparql-results+xml;q=0.2": "xml", "TEXT/CSV": "csv", "image/png, text/csv;q=0.001": "csv",
}  # fmt: skip
TYPES = {"json": "application/sparql-results+json", "xml": "application/sparql-results+xml", "csv": "text/csv", "tsv": "text/tab-separated-values"}


@pytest.mark.parametrize(("accept", "form"), ROWS_BY_TYPE.items())
def test_rows_come_in_the_form_that_the_client_likes_best(service: Running, accept: str, form: str) -> None:
    answer = ask(service, "SELECT (1 AS ?x) {}", accept)
    assert answer.status_code == 200
    assert answer.headers["content-type"].partition(";")[0] == TYPES[form]
    assert "accept" in answer.headers["vary"]


@pytest.mark.parametrize("form", [form.name for form in GRAPHS])
def test_a_graph_is_the_same_graph_in_each_form(service: Running, form: str) -> None:
    query = "CONSTRUCT { ?s ?p ?o } WHERE { GRAPH graph:hierarchy { ?s ?p ?o } }"
    answer = ask(service, query, "image/png", format=form)
    plain = ask(service, query, "application/n-triples")
    graphs = [set(Dataset().parse(data=each.text, format=each.headers["content-type"].partition(";")[0])) for each in (answer, plain)]
    assert graphs[0] == graphs[1]
    assert len(graphs[0]) == int(answer.headers["x-lenticel-rows"]) > 3


@pytest.mark.parametrize("accept", ["image/png", "text/html", "text/turtle;q=0", "nonsense", "text/*;q=0, */*;q=0"])
def test_what_cannot_be_given_is_refused_with_what_can(service: Running, accept: str) -> None:
    told = problem(ask(service, "SELECT (1 AS ?x) {}", accept), 406, "not-acceptable")
    assert set(TYPES.values()) <= set(told["forms"])  # type: ignore[call-overload]


def test_a_form_for_graphs_does_not_serve_rows_nor_the_other_way(service: Running) -> None:
    told = problem(ask(service, "SELECT (1 AS ?x) {}", "text/turtle"), 406, "not-acceptable")
    assert set(told["forms"]) == set(TYPES.values())  # type: ignore[call-overload]
    told = problem(ask(service, "DESCRIBE <x>", "text/tab-separated-values"), 406, "not-acceptable")
    assert "text/turtle" in told["forms"]  # type: ignore[operator]


AWKWARD = """SELECT ?a ?b ?c ?d ?e { VALUES (?a ?b ?c ?d ?e) {
  ("plain" "two\\nlines, \\"quoted\\"" "tab\\t<&>" "grün"@de UNDEF) ("=1+1" "" "a  b" 5 <http://e/x?y=1&z=2>) } }"""


def test_awkward_values_survive_every_form(service: Running) -> None:
    import pyoxigraph as ox

    def read(form: str) -> list[list[str]]:
        formats = {"json": ox.QueryResultsFormat.JSON, "xml": ox.QueryResultsFormat.XML, "tsv": ox.QueryResultsFormat.TSV}
        rows = ox.parse_query_results(ask(service, AWKWARD, "*/*", format=form).content, format=formats[form])
        return [[str(row[name]) for name in "abcde"] for row in rows]  # type: ignore[union-attr, index]

    assert read("json") == read("xml") == read("tsv")
    assert len(read("json")) == 2
    table = list(csv.reader(io.StringIO(ask(service, AWKWARD, "text/csv").text, newline="")))
    assert table == [
        list("abcde"), ["plain", 'two\nlines, "quoted"', "tab\t<&>", "grün", ""], ["=1+1", "", "a  b", "5", "http://e/x?y=1&z=2"]
    ]  # fmt: skip


def test_answers_carry_validators_and_the_release(service: Running, workshop: Snapshot) -> None:
    first = ask(service, "SELECT ?t { ?t lt:rank ?r } ORDER BY ?t")
    url = f"{service.url}/sparql?query={quote('SELECT ?t { ?t lt:rank ?r } ORDER BY ?t')}"
    assert first.headers["x-lenticel-release"] == workshop.digest
    again = httpx.get(url, headers={"if-none-match": first.headers["etag"], "accept": TYPES["json"]})
    assert (again.status_code, again.content) == (304, b"")
    assert httpx.get(url, headers={"if-none-match": first.headers["etag"], "accept": "text/csv"}).status_code == 200
    assert httpx.get(url, headers={"accept": TYPES["json"]}).content == first.content


# --- what is refused


@pytest.mark.parametrize(
    "update", ["INSERT DATA { <a> <b> <c> }", "DELETE WHERE { ?s ?p ?o }", "LOAD <http://127.0.0.1/>", "CLEAR ALL", "PREFIX a: <b> DROP ALL"]
)
def test_an_update_in_place_of_a_query_is_refused_by_name(service: Running, update: str) -> None:
    problem(ask(service, update), 403, "read-only")
    problem(httpx.get(f"{service.url}/sparql", params={"query": update}), 403, "read-only")
    problem(httpx.post(f"{service.url}/sparql", content=update, headers={"content-type": DIRECT}), 403, "read-only")


CALLS = [
    "SELECT * { SERVICE <{url}> { ?s ?p ?o } }", "SELECT * { SERVICE SILENT <{url}> { ?s ?p ?o } }", "SELECT * { BIND(<{url}> AS ?x) SERVICE ?x { ?s ?p ?o } }",
    "SELECT * { sErViCe<{url}>{ ?s ?p ?o } }", "ASK { OPTIONAL { SERVICE <{url}> { ?s ?p ?o } } }", "SELECT * { # a comment\nSERVICE\n<{url}> { ?s ?p ?o } }",
    "SELECT * { \\u0053ERVICE <{url}> { ?s ?p ?o } }", 'SELECT * { ?s ?p "a\\u0022b" . SERVICE <{url}> { ?s ?p "c" } }',
    "SELECT (EXISTS { SERVICE <{url}> { ?s ?p ?o } } AS ?x) {}",
]  # fmt: skip


@pytest.mark.parametrize("query", CALLS)
def test_a_call_to_another_service_is_refused(service: Running, query: str) -> None:
    problem(ask(service, query.replace("{url}", "http://127.0.0.1:1/")), 400, "no-federation")


def test_escapes_of_code_points_are_read_in_names_too(service: Running) -> None:
    """SPARQL 1.1, 19.2; in a string they are characters of it, and what names no character of a name is refused."""
    found = ask(service, 'PREFIX e: <http://e/> SELECT ?\\u0078 (e:\\U00000071 AS ?y) { BIND("\\u0022\\\\u0041" AS ?x) }', accept="text/csv").text
    assert found.splitlines() == ["x,y", '"""\\u0041",http://e/q']
    problem(ask(service, "SELECT ?x\\u0020?y {}"), 400, "bad-query")


def test_the_word_service_elsewhere_is_no_call(service: Running) -> None:
    for query in (
        'SELECT ("SERVICE" AS ?x) {}',
        "SELECT ?SERVICE { BIND(1 AS ?SERVICE) }",
        "PREFIX SERVICE: <http://e/> ASK { SERVICE:a SERVICE:b <SERVICE> } # SERVICE",
    ):
        assert ask(service, query).status_code == 200, query


def test_too_many_rows_are_refused_and_never_cut(service: Running) -> None:
    told = problem(ask(service, "SELECT * { ?s ?p ?o }"), 413, "result-too-large")
    assert "400 rows" in str(told["detail"])
    assert "OFFSET" in str(told["fix"])
    assert ask(service, "SELECT * { ?s ?p ?o } LIMIT 400").headers["x-lenticel-rows"] == "400"
    problem(ask(service, "CONSTRUCT { ?s ?p ?o } WHERE { ?s ?p ?o }", "*/*"), 413, "result-too-large")


def test_too_many_bytes_are_refused(service: Running) -> None:
    query = 'SELECT (CONCAT(?a, ?a, ?a, ?a, ?a, ?a, ?a, ?a) AS ?x) { VALUES ?a { "%s" } ?s a owl:Class } LIMIT 20' % ("x" * 1000)
    told = problem(ask(service, query), 413, "result-too-large")
    assert "100000 bytes" in str(told["detail"])


def test_a_long_query_is_refused(service: Running) -> None:
    problem(ask(service, "ASK {} #" + "x" * 65536), 413, "query-too-large")


def test_a_query_that_takes_too_long_is_stopped(service: Running) -> None:
    answer = ask(service, "SELECT (COUNT(*) AS ?n) { ?a ?b ?c . ?d ?e ?f . ?g ?h ?i }", timeout="0.3")
    problem(answer, 504, "query-time")
    assert answer.elapsed.total_seconds() < 0.3 + 0.25


@pytest.mark.parametrize("timeout", ["0", "-1", "31", "nan", "inf", "1e400", "soon", "", "1_0x"])
def test_a_deadline_that_does_not_fit_is_refused(service: Running, timeout: str) -> None:
    problem(ask(service, "ASK {}", timeout=timeout), 400, "bad-query-request")


@pytest.mark.parametrize("address", ["query=%ff", "query=ASK%20%7B%7D&default-graph-uri=%ff", "default-graph-uri=x", "&".join("a=b" for _ in range(1001))])
def test_a_request_that_cannot_be_read_is_refused(service: Running, address: str) -> None:
    problem(httpx.get(f"{service.url}/sparql?{address}"), 400, "bad-query-request")


def test_names_of_graphs_that_are_no_iris_are_refused(service: Running) -> None:
    problem(ask(service, "ASK {}", **{"default-graph-uri": "not an iri"}), 400, "query-failed")


# --- words for mistakes: each query with what the fix must say

MISTAKES = json.loads((Path(__file__).parent / "mistakes.json").read_text(encoding="utf-8"))


def test_mistakes_are_told_where_and_why(service: Running) -> None:
    """Of fifty seeded mistakes at least nine in ten get the right hint, and all of them their place."""
    wrong = []
    for query, hint in MISTAKES:
        told = problem(ask(service, query), 400, "bad-query")
        assert told["line"], query
        assert told["column"], query
        if not re.search(hint, str(told["fix"])):
            wrong.append((query, told["fix"]))
    assert len(MISTAKES) >= 50
    assert len(wrong) <= len(MISTAKES) // 10, wrong


def test_the_place_is_where_reading_stopped(service: Running) -> None:
    told = problem(ask(service, "SELECT * {\n  ?s ?p }"), 400, "bad-query")
    assert (told["line"], told["near"]) == (2, "?s ?p }")


def test_an_empty_answer_names_our_iris_that_are_not_there(service: Running, workshop: Snapshot) -> None:
    taxon = next(iter(workshop.knowledge.taxa))
    answer = ask(service, f"SELECT * {{ <taxon/{taxon}x> ?p ?o }}")
    assert answer.status_code == 200
    assert f"{taxon}x (near: {workshop.knowledge.about.iri}taxon/{taxon}" in answer.headers["x-lenticel-unknown"]
    assert "x-lenticel-unknown" not in ask(service, f"SELECT * {{ <taxon/{taxon}> ?p ?o }}").headers
    assert "x-lenticel-unknown" not in ask(service, f"SELECT * {{ <taxon/{taxon}> lt:hazard 5 }}").headers


# --- prefixes, budgets, documents


def test_every_listed_prefix_works_undeclared_and_can_be_overridden(service: Running) -> None:
    listed = httpx.get(f"{service.url}/prefixes").json()
    assert len(listed) >= 20
    for prefix, iri in listed.items():
        assert ask(service, f"SELECT ({prefix}:x AS ?x) {{}}").json()["results"]["bindings"][0]["x"]["value"] == f"{iri}x"
    assert ask(service, "PREFIX lt: <http://e/> SELECT (lt:x AS ?x) {}").json()["results"]["bindings"][0]["x"]["value"] == "http://e/x"


def test_each_client_has_a_budget_of_its_own(workshop: Snapshot, workshop_store: Path) -> None:
    with running(workshop, workshop_store, Limits(seconds=0.3), budgets=Budgets(seconds=0.5, errors=3)) as service:
        slow = "SELECT (COUNT(*) AS ?n) { ?a ?b ?c . ?d ?e ?f . ?g ?h ?i }"
        assert [ask(service, slow, client="10.0.0.1").status_code for _ in range(3)] == [504, 504, 429]
        assert ask(service, "ASK {}", client="10.0.0.2").status_code == 200
        assert [ask(service, "ASK {", client="10.0.0.3").status_code for _ in range(4)] == [400, 400, 400, 429]
        refused = ask(service, "ASK {}", client="10.0.0.3")
        problem(refused, 429, "over-budget")
        assert 1 <= int(refused.headers["retry-after"]) <= 60


def test_readiness_tells_of_the_endpoint(service: Running) -> None:
    told = httpx.get(f"{service.url}/readyz").json()
    assert told["sparql"] == "sealed"
    pool, service.endpoint.pool = service.endpoint.pool, None
    try:
        starting = httpx.get(f"{service.url}/readyz")
        assert (starting.status_code, starting.json()["sparql"], starting.headers["retry-after"]) == (503, "starting", "3")
        problem(ask(service, "ASK {}"), 503, "query-not-ready")
        service.endpoint.failed = True
        assert httpx.get(f"{service.url}/readyz").json()["sparql"] == "failed"
    finally:
        service.endpoint.pool, service.endpoint.failed = pool, False


def test_every_reason_has_its_page(service: Running) -> None:
    for code in REASONS:
        assert httpx.get(f"{service.url}/problems/{code}").json()["code"] == code


def test_the_document_tells_of_the_endpoint_and_its_examples_work(service: Running) -> None:
    document = httpx.get(f"{service.url}/openapi.json").json()
    found = {each.id: each for each in operations(document)}
    assert {"sparql", "sparqlByPost", "prefixes", "listQuestions", "question"} <= set(found)
    for media_type, content in found["sparqlByPost"].body["requestBody"]["content"].items():
        sent = {"data": content["example"]} if media_type == FORM else {"content": content["example"], "headers": {"content-type": media_type}}
        assert httpx.post(f"{service.url}/sparql", **sent).status_code == 200  # type: ignore[arg-type]
    get = found["sparql"]
    query = {each["name"]: each["example"] for each in get.body["parameters"]}
    assert httpx.get(f"{service.url}/sparql", params=query).status_code == 200
    for parameter in get.body["parameters"]:
        assert not fits(document, parameter["schema"], parameter["example"])


def test_a_generous_budget_is_only_for_tests() -> None:
    assert Budgets().seconds < GENEROUS["seconds"]
