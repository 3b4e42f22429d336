"""Programs that people have already reach the service as they are: each asks it in the way of its own manual."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlencode, urlsplit

import httpx
import pandas as pd
import pyoxigraph as ox
import pytest
from rdflib import RDFS, Graph, Literal, URIRef
from rdflib.plugins.stores.sparqlstore import SPARQLStore
from SPARQLWrapper import CSV, JSON, JSONLD, N3, POST, POSTDIRECTLY, RDFXML, TURTLE, XML, SPARQLWrapper
from SPARQLWrapper.SPARQLExceptions import QueryBadFormed

from lenticel.paths import VOCABULARY, path_of
from lenticel.snapshot import Snapshot
from tests.endpoint import Running, running

NAMES = "SELECT ?taxon ?name { ?taxon lt:rank 'species' ; lt:scientificName ?name } ORDER BY ?taxon"
DECLARED = f"PREFIX lt: <{VOCABULARY}> {NAMES}"  # for programs that read a query before they send it


@pytest.fixture(scope="module")
def known(workshop: Snapshot, workshop_store: Path) -> Iterator[Running]:
    with running(workshop, workshop_store) as found:
        yield found


@pytest.fixture(scope="module")
def names(workshop: Snapshot) -> dict[str, str]:
    """What all of them must find: the scientific names of the species by IRI."""
    taxa = workshop.knowledge.taxa.values()
    found = {workshop.knowledge.about.iri + path_of("taxa", each.id): each.scientific_name for each in taxa if each.rank == "species"}
    assert len(found) >= 4
    return found


@pytest.mark.parametrize("method", ["GET", POST])
def test_sparqlwrapper_reads_rows_as_json(known: Running, names: dict[str, str], method: str) -> None:
    client = SPARQLWrapper(f"{known.url}/sparql")
    client.setQuery(NAMES)
    client.setMethod(method)
    client.setReturnFormat(JSON)
    rows = client.queryAndConvert()["results"]["bindings"]
    assert {row["taxon"]["value"]: row["name"]["value"] for row in rows} == names


def test_sparqlwrapper_reads_every_format_that_it_asks_for(known: Running, names: dict[str, str]) -> None:
    client = SPARQLWrapper(f"{known.url}/sparql")
    client.setRequestMethod(POSTDIRECTLY)
    client.setMethod(POST)
    client.setQuery(NAMES)
    client.setReturnFormat(CSV)
    assert len(client.queryAndConvert().decode().splitlines()) == len(names) + 1
    client.setReturnFormat(XML)
    assert len(client.queryAndConvert().getElementsByTagName("result")) == len(names)
    client.setQuery("CONSTRUCT { ?taxon rdfs:label ?name } WHERE { ?taxon lt:rank 'species' ; lt:scientificName ?name }")
    for form, read in ((TURTLE, "turtle"), (RDFXML, "xml"), (XML, "xml"), (JSONLD, "json-ld"), (N3, "n3")):
        client.setReturnFormat(form)
        graph = Graph().parse(data=client.query().response.read(), format=read)
        assert {str(taxon): str(name) for taxon, name in graph.subject_objects(RDFS.label)} == names, form


def test_sparqlwrapper_tells_of_a_query_that_cannot_be_read(known: Running) -> None:
    client = SPARQLWrapper(f"{known.url}/sparql")
    client.setQuery("SELECT * {")
    with pytest.raises(QueryBadFormed, match="line"):
        client.query()


def test_the_sparql_store_of_rdflib_is_a_graph_like_any_other(known: Running, names: dict[str, str]) -> None:
    graph = Graph(SPARQLStore(f"{known.url}/sparql", method="POST_FORM"))
    assert {str(row[0]): str(row[1]) for row in graph.query(DECLARED)} == names  # type: ignore[index]
    taxon, name = next(iter(names.items()))
    assert list(graph.objects(URIRef(taxon), URIRef(f"{VOCABULARY}scientificName"))) == [Literal(name)]
    assert (URIRef(taxon), URIRef(f"{VOCABULARY}scientificName"), Literal("nothing")) not in graph


def test_pandas_reads_a_table_from_an_address(known: Running, names: dict[str, str]) -> None:
    table = pd.read_csv(f"{known.url}/sparql?{urlencode({'query': NAMES, 'format': 'csv'})}")
    assert dict(zip(table["taxon"], table["name"], strict=True)) == names
    keys = [taxon.rpartition("/")[2] for taxon in list(names)[:2]]
    lesson = pd.read_csv(f"{known.url}/v1/table?{urlencode({'taxa': keys, 'form': 'csv'}, doseq=True)}")
    assert {"character", "needs", "telling"} <= set(lesson.columns)
    assert len(lesson) > 1


def test_curl_asks_in_each_of_the_three_ways_and_keeps_what_it_has(known: Running, names: dict[str, str], tmp_path: Path) -> None:
    if not shutil.which("curl"):
        pytest.skip("curl is not installed")

    def curl(*options: str) -> str:
        done = subprocess.run(("curl", "--silent", "--show-error", "--fail", "--compressed", *options), capture_output=True, text=True, timeout=60, check=True)
        return done.stdout

    address, csv = f"{known.url}/sparql", ("--header", "accept: text/csv")
    ways = [
        curl("--get", address, *csv, "--data-urlencode", f"query={NAMES}"),
        curl(address, *csv, "--data-urlencode", f"query={NAMES}"),
        curl(address, *csv, "--header", "content-type: application/sparql-query", "--data", NAMES),
    ]
    assert len(set(ways)) == 1
    assert len(ways[0].splitlines()) == len(names) + 1
    tag = str(tmp_path / "tag")
    again = ("--get", address, *csv, "--data-urlencode", f"query={NAMES}", "--write-out", "%{http_code}")
    assert curl(*again, "--etag-save", tag).endswith("200")
    assert curl(*again, "--etag-compare", tag) == "304"


def test_curl_is_told_to_go_on_before_it_sends_many_lines(known: Running, tmp_path: Path) -> None:
    """Else it waits for a second and then goes on untold (RFC 9110, 10.1.1)."""
    if not shutil.which("curl"):
        pytest.skip("curl is not installed")
    lines = tmp_path / "lines"
    lines.write_text('{"observations": [{"character": "drive", "value": "hex"}]}\n' * 3)
    told = ("--verbose", "--request", "POST", "--upload-file", str(lines), "--header", "content-type: application/x-ndjson", "--header", "expect: 100-continue")
    done = subprocess.run(("curl", *told, f"{known.url}/v1/identify/batch"), capture_output=True, text=True, timeout=60, check=True)
    assert re.findall(r"^< HTTP/1.1 (\d+)", done.stderr, re.MULTILINE) == ["100", "200"]
    assert len(done.stdout.splitlines()) == 4


R = {
    "curl": """
library(curl)
library(jsonlite)
told <- commandArgs(trailingOnly = TRUE)
rows <- read.csv(paste0(told[1], "/sparql?format=csv&query=", curl_escape(told[2])))
question <- list(observations = list(list(character = "drive", value = "hex")))
handle <- new_handle(postfields = toJSON(question, auto_unbox = TRUE))
handle_setheaders(handle, "content-type" = "application/json")
answer <- curl_fetch_memory(paste0(told[1], "/v1/identify"), handle)
cat(toJSON(list(names = rows$name, taxa = fromJSON(rawToChar(answer$content))$consistent$taxon)))
""",
    "httr2": """
library(httr2)
library(jsonlite)
told <- commandArgs(trailingOnly = TRUE)
asked <- request(told[1]) |> req_url_path("/sparql") |> req_headers(accept = "text/csv") |> req_body_form(query = told[2]) |> req_perform()
rows <- read.csv(text = resp_body_string(asked))
question <- list(observations = list(list(character = "drive", value = "hex")))
answer <- request(told[1]) |> req_url_path("/v1/identify") |> req_body_json(question) |> req_perform()
refused <- request(told[1]) |> req_url_path("/sparql") |> req_url_query(query = "SELECT * {") |> req_error(is_error = \\(each) FALSE) |> req_perform()
stopifnot(resp_status(refused) == 400, nchar(resp_body_json(refused, check_type = FALSE)$fix) > 5)
taxa <- vapply(resp_body_json(answer)$consistent, function(each) each$taxon, "")
cat(toJSON(list(names = rows$name, taxa = taxa)))
""",
}


@pytest.mark.parametrize("library", R)
def test_r_reads_a_table_from_an_address_and_asks_with_json(known: Running, names: dict[str, str], library: str) -> None:
    if not shutil.which("Rscript"):
        pytest.skip("R is not installed")
    done = subprocess.run(("Rscript", "-e", R[library], known.url, NAMES), capture_output=True, text=True, timeout=60, check=False)
    if "there is no package called" in done.stderr:
        pytest.skip(f"R has no {library} or jsonlite")
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert set(found["names"]) == set(names.values())
    question = {"observations": [{"character": "drive", "value": "hex"}]}
    assert found["taxa"] == [each["taxon"] for each in httpx.post(f"{known.url}/v1/identify", json=question).json()["consistent"]] != []


# What the editor of a Yasgui page sends unless it is told otherwise: packages/yasqe/src/defaults.ts and sparql.ts in github.com/TriplyDB/Yasgui.
ROWS_WANTED = "application/sparql-results+json,*/*;q=0.9"
GRAPH_WANTED = "application/n-triples,*/*;q=0.9"


@pytest.mark.parametrize("method", ["GET", "POST"])
def test_a_yasgui_page_on_another_site_asks_and_may_read_the_answer(known: Running, names: dict[str, str], method: str) -> None:
    """As a browser has it: by itself it may send a form and `accept`; for a header that the page adds it asks first, and it reads only what it is let."""
    site = {"origin": "https://yasgui.example"}

    def asked(query: str, accept: str) -> httpx.Response:
        fields = {"data": {"query": query}} if method == "POST" else {"params": {"query": query}}
        answer = httpx.request(method, f"{known.url}/sparql", headers={**site, "accept": accept}, **fields)
        assert answer.headers["access-control-allow-origin"] == "*"
        assert "access-control-allow-credentials" not in answer.headers
        return answer

    rows = asked(DECLARED, ROWS_WANTED)
    assert rows.headers["content-type"].partition(";")[0] == "application/sparql-results+json"
    assert {row["taxon"]["value"]: row["name"]["value"] for row in rows.json()["results"]["bindings"]} == names
    graph = asked(f"PREFIX lt: <{VOCABULARY}> CONSTRUCT WHERE {{ ?taxon lt:rank 'species' ; lt:scientificName ?name }}", GRAPH_WANTED)
    assert graph.headers["content-type"].partition(";")[0] == "application/n-triples"
    assert set(map(str, Graph().parse(data=graph.text, format="nt").objects(None, URIRef(f"{VOCABULARY}scientificName")))) == set(names.values())
    assert asked("ASK {}", ROWS_WANTED).json()["boolean"] is True
    refused = asked("SELECT * {", ROWS_WANTED)
    assert (refused.status_code, refused.json()["code"]) == (400, "bad-query")
    before = {**site, "access-control-request-method": method, "access-control-request-headers": "content-type,x-request-id"}
    let = httpx.options(f"{known.url}/sparql", headers=before)
    assert (let.status_code, let.headers["access-control-allow-origin"]) == (200, "*")
    assert method in let.headers["access-control-allow-methods"].split(", ")
    assert {"content-type", "x-request-id"} <= set(let.headers["access-control-allow-headers"].lower().split(", "))


def test_another_store_joins_our_answers_to_its_own_through_service(known: Running, names: dict[str, str]) -> None:
    taxon, name = next(iter(names.items()))
    store = ox.Store()
    store.add(ox.Quad(ox.NamedNode("http://example.org/tree-7"), ox.NamedNode("http://example.org/is"), ox.NamedNode(taxon)))
    query = f"SELECT ?tree ?name {{ ?tree <http://example.org/is> ?taxon . SERVICE <{known.url}/sparql> {{ ?taxon <{VOCABULARY}scientificName> ?name }} }}"
    assert [(row["tree"].value, row["name"].value) for row in store.query(query)] == [("http://example.org/tree-7", name)]  # type: ignore[union-attr]


def test_rdflib_parses_a_thing_from_its_address_alone(known: Running, names: dict[str, str]) -> None:
    taxon, name = next(iter(names.items()))
    graph = Graph().parse(known.url + urlsplit(taxon).path)
    assert Literal(name) in set(graph.objects(URIRef(taxon), URIRef(f"{VOCABULARY}scientificName")))
