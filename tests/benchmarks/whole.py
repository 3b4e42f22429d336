"""Generated queries in every form, under narrow limits: `python -m tests.benchmarks.whole`.

Whatever is answered with 200 must be whole: it must be read to its end, and hold as many rows as its header says. The dataset is that of
`fixtures/workshop`; among the queries are those of `tests/hostile/queries.py`, so that every limit is hit.
"""

from __future__ import annotations

import argparse
import csv
import io
import itertools
import json
import sys
import xml.etree.ElementTree as ET
from collections import Counter
from concurrent.futures import ThreadPoolExecutor

import httpx
import pyoxigraph as ox

from tests.hostile.queries import CORPUS
from tests.queries import WORKSHOP, queries_of, workshop_part
from tests.served import Served, served

SOLUTIONS = ("application/sparql-results+json", "application/sparql-results+xml", "text/csv", "text/tab-separated-values")
GRAPHS = {
    "text/turtle": ox.RdfFormat.TURTLE, "application/n-triples": ox.RdfFormat.N_TRIPLES, "application/rdf+xml": ox.RdfFormat.RDF_XML,
    "application/ld+json": ox.RdfFormat.JSON_LD, "application/n-quads": ox.RdfFormat.N_QUADS, "application/trig": ox.RdfFormat.TRIG,
}  # fmt: skip
FORMS = [f"{solutions}, {graph}" for solutions, graph in zip(itertools.cycle(SOLUTIONS), GRAPHS, strict=False)]
XML = "{http://www.w3.org/2005/sparql-results#}"
LIMITS = {"query_seconds": 0.5, "query_ceiling": 0.5, "query_rows": 60, "query_bytes": 6000, "query_memory": 128}


def rows_in(kind: str, body: bytes) -> int:
    """How many rows or triples a body holds, read to its end; a truth value counts as it is.

    Raises:
        Exception: it cannot be read.
    """
    if kind in GRAPHS:
        return len({each.triple for each in ox.parse(body, format=GRAPHS[kind])})
    if kind == SOLUTIONS[0]:
        data = json.loads(body)
        return int(data["boolean"]) if "boolean" in data else len(data["results"]["bindings"])
    if kind == SOLUTIONS[1]:
        root = ET.fromstring(body)
        truth = root.find(f"{XML}boolean")
        return int(truth.text == "true") if truth is not None else len(root.findall(f"{XML}results/{XML}result"))
    text = body.decode()
    if text.strip() in ("true", "false"):
        return int(text.strip() == "true")
    assert text.endswith("\n")
    lines = list(csv.reader(io.StringIO(text, newline=""))) if kind == "text/csv" else text.split("\n")[:-1]
    return len(lines) - 1


def asked(service: Served, client: str, queries: list[tuple[str, str]]) -> Counter[str]:
    """The statuses of the answers, and the faults of those that are no whole answers."""
    told: Counter[str] = Counter()
    with httpx.Client(base_url=service.url, headers={"x-forwarded-for": client}, timeout=60) as session:
        for query, form in queries:
            answer = session.post("/sparql", data={"query": query}, headers={"accept": form})
            told[str(answer.status_code)] += 1
            if answer.status_code == 200:
                try:
                    held = rows_in(answer.headers["content-type"].partition(";")[0], answer.content)
                    fault = "" if held == int(answer.headers["x-lenticel-rows"]) else f"{held} rows for {answer.headers['x-lenticel-rows']}"
                except Exception as error:
                    fault = repr(error)[:200]
                if fault:
                    told["faults"] += 1
                    print(f"{fault}\n  {form}\n  {query[:500]}")
            elif answer.headers["content-type"] != "application/problem+json":
                told["faults"] += 1
                print(f"{answer.status_code} is no problem document: {query[:500]}")
    return told


def main() -> None:
    """Print the statuses, and what was not whole."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--queries", type=int, default=10_000, help="how many (default %(default)s)")
    options = parser.parse_args()
    queries = queries_of(workshop_part(1), options.queries - 4 * len(CORPUS))
    queries += [query.replace("{url}", "http://127.0.0.1:9/") for query in CORPUS.values()] * 4
    asking = list(zip(queries, itertools.cycle(FORMS), strict=False))
    with (
        served("--knowledge", str(WORKSHOP), log_requests=False, client_seconds=60000, client_errors=10**6, **LIMITS) as service,
        ThreadPoolExecutor(3) as pool,
    ):
        parts = [pool.submit(asked, service, f"10.6.0.{number}", asking[number::3]) for number in range(3)]
        told = sum((part.result() for part in parts), Counter())
    faults = told.pop("faults", 0)
    print(f"{sum(told.values())} queries, by status {dict(sorted(told.items()))}; {faults} bodies that are not whole (bar 0)")
    sys.exit(bool(faults) or told["200"] < options.queries // 4)


if __name__ == "__main__":
    main()
