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


R = """
library(curl)
library(jsonlite)
told <- commandArgs(trailingOnly = TRUE)
rows <- read.csv(paste0(told[1], "/sparql?format=csv&query=", curl_escape(told[2])))
question <- list(observations = list(list(character = "drive", value = "hex")))
handle <- new_handle(postfields = toJSON(question, auto_unbox = TRUE))
handle_setheaders(handle, "content-type" = "application/json")
answer <- curl_fetch_memory(paste0(told[1], "/v1/identify"), handle)
cat(toJSON(list(names = rows$name, taxa = fromJSON(rawToChar(answer$content))$consistent$taxon)))
"""


def test_r_reads_a_table_from_an_address_and_asks_with_json(known: Running, names: dict[str, str]) -> None:
    if not shutil.which("Rscript"):
        pytest.skip("R is not installed")
    done = subprocess.run(("Rscript", "-e", R, known.url, NAMES), capture_output=True, text=True, timeout=60, check=False)
    if "there is no package called" in done.stderr:
        pytest.skip("R has no curl or jsonlite")
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert set(found["names"]) == set(names.values())
    question = {"observations": [{"character": "drive", "value": "hex"}]}
    assert found["taxa"] == [each["taxon"] for each in httpx.post(f"{known.url}/v1/identify", json=question).json()["consistent"]] != []


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
