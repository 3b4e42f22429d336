"""SPARQL and the saved questions as routes."""

from __future__ import annotations

import asyncio
import hashlib
import time
from dataclasses import dataclass, field, replace
from typing import Annotated, Any

from fastapi import FastAPI, Query, Request, Response

from lenticel import sparql
from lenticel.api.dress import Dress
from lenticel.api.listing import Lists
from lenticel.api.parameters import Key, accepted
from lenticel.budgets import Budgets, client_of
from lenticel.offered import description
from lenticel.pool import Gone, Pool
from lenticel.prefixes import prefixes_of
from lenticel.queries import Limits, Result, Spent
from lenticel.queries import Query as Asked
from lenticel.refused import Refused
from lenticel.saved import MOST, Binder, Saved, question_named
from lenticel.snapshot import Snapshot
from lenticel.tokens import keywords
from lenticel.told import tell

CLIENTS_FAULTS = (400, 403, 406, 413, 504, 507)
KILLED = (504, 507)
TICK = 0.02  # seconds between two looks at whether workers are there
SCHEMAS: dict[str, dict[str, Any]] = {  # of the forms that are no text to a program
    "application/sparql-results+json": {"type": "object"}, "application/ld+json": {"type": "array", "items": {"type": "object"}}
}  # fmt: skip
CONTENT: dict[str, Any] = {
    "description": "The answer, in the form asked for; `x-lenticel-rows` has the number of its rows or triples.",
    "content": {each.media_type: {"schema": SCHEMAS.get(each.media_type, {"type": "string"})} for each in (*sparql.SOLUTIONS, *sparql.GRAPHS)},
}
IRI = {"type": "string", "maxLength": 400}
IN_ADDRESS = {"query": {"type": "string", "maxLength": 4000, "description": "The query; a longer one goes by POST."}}
FIELDS: dict[str, dict[str, Any]] = {
    "query": {"type": "string", "maxLength": sparql.MOST_TEXT, "description": "The query."},
    "default-graph-uri": {"type": "array", "items": IRI, "maxItems": 20, "description": "Graphs that make up the default graph."},
    "named-graph-uri": {"type": "array", "items": IRI, "maxItems": 20, "description": "Graphs that GRAPH can name."},
    "timeout": {"type": "number", "minimum": sparql.SHORTEST, "description": "The deadline in seconds."},
    "format": {"type": "string", "maxLength": 80, "description": "Short name or media type of the form wanted, in place of the Accept header."},
}
EXAMPLES: dict[str, Any] = {
    "query": "SELECT ?taxon ?name { ?taxon lt:rank 'genus' ; lt:scientificName ?name } ORDER BY ?name LIMIT 10",
    "default-graph-uri": [], "named-graph-uri": [], "timeout": 2, "format": "json",
}  # fmt: skip
VALUES: dict[str, Any] = {
    "name": "values", "in": "query", "required": False, "style": "form", "explode": True,
    "description": "The question's own parameters by name, each once, as /v1/questions lists them; those left out have their defaults.",
    "schema": {"type": "object", "additionalProperties": {"type": "string", "maxLength": MOST}},
}  # fmt: skip
Format = Annotated[str, Query(max_length=80, description="Short name or media type of the form wanted, in place of the Accept header: json, xml, csv or tsv.")]


@dataclass
class Endpoint:
    """What answers queries over one dataset: its workers (None until they are ready), the budgets of clients, and the saved questions.

    `address` is where the endpoint is reached from outside, without a slash at the end; "" to take it from each request. `patience` is how many seconds
    a query waits for workers that are being started, so that a process that follows another on the same socket refuses nobody.
    """

    budgets: Budgets
    questions: dict[str, Saved] = field(default_factory=dict)
    limits: Limits = field(default_factory=Limits)
    address: str = ""
    pool: Pool | None = None
    failed: bool = False
    patience: float = 0.0

    @property
    def state(self) -> str:
        """For readiness: starting, failed, sealed, or unsealed where the kernel does not refuse sockets to the workers."""
        if self.pool is None or not self.pool.ready:
            return "failed" if self.failed else "starting"
        return "sealed" if self.pool.sealed else "unsealed"

    @property
    def example(self) -> str:
        """The name of a saved question whose answer is a table; "" if there is none."""
        return next((name for name, each in self.questions.items() if keywords(each.query).isdisjoint({"CONSTRUCT", "DESCRIBE"})), "")

    async def ask(self, request: Request, query: Asked, seconds: float | None = None) -> Result:
        """Answer a query of a client, within its budget.

        Raises:
            Refused: with the reason.
        """
        end = time.monotonic() + self.patience
        while self.state == "starting" and time.monotonic() < end:
            await asyncio.sleep(TICK)
        if self.pool is None or not self.pool.ready:
            if self.failed:
                raise Refused("query-not-ready", "The dataset could not be made ready.", "The log of the service says why; all else is answered.")
            raise Refused("query-not-ready", "The dataset is being made ready, which takes some seconds.", "Ask again when /readyz says `ready`.", wait=3)
        client = client_of((request.scope.get("client") or ("",))[0])
        self.budgets.begin(client)
        spent, fault, killed = Spent(), False, False
        try:
            result = await self.pool.ask(query, seconds, standing=self.budgets.standing(client), gone=lambda: _gone(request), spent=spent)
        except Refused as error:
            fault, killed = error.status in CLIENTS_FAULTS, error.status in KILLED
            raise sparql.explained(error, query.text, self.pool.prefixes) from None
        finally:
            self.budgets.end(client, spent.seconds, error=fault, killed=killed)
            tell(request.scope, query=_hash(query.text.encode()), worker_ms=round(spent.seconds * 1000, 1))
        tell(request.scope, rows=result.rows, kept=result.kept)
        return result


async def _gone(request: Request) -> None:
    """Return when the client has left; the request's body must have been read before."""
    while (await request.receive())["type"] != "http.disconnect":
        pass


def _hash(content: bytes) -> str:
    return hashlib.blake2s(content, digest_size=16).hexdigest()


@dataclass(frozen=True, slots=True)
class Listed:
    """A saved question, its query with the defaults put in, and where it is answered."""

    question: Saved
    link: str


def add(app: FastAPI, snapshot: Snapshot, dress: Dress, endpoint: Endpoint) -> None:
    """Add the routes of this group."""
    binder = Binder(snapshot)
    prefixes = prefixes_of(snapshot.knowledge.about)

    async def asked(request: Request, query: Asked, seconds: float | None = None) -> Response:
        try:
            result = await endpoint.ask(request, query, seconds)
        except Gone:
            return Response(status_code=499)  # nobody reads it
        more = {"x-lenticel-rows": str(result.rows), **_unknown(result)}
        return dress.bytes(request, result.body, sparql.content_type(result.kind, result.format), form=result.format, tag=_hash(result.body), more=more)

    def described_in(request: Request, word: str) -> Asked:
        _, graphs = sparql.forms_for(word, accepted(request))
        if graphs is None:
            raise sparql.not_acceptable("graph")
        address = endpoint.address or str(request.base_url).rstrip("/")  # the one under which the client sees the service
        questions = (replace(each, query=binder.text(each, {})) for each in endpoint.questions.values())
        return Asked(description(address, questions, prefixes), None, graphs.name, union=False)

    async def answer(request: Request) -> Response:
        ceiling = endpoint.limits.ceiling
        read = sparql.read_request(request.method, request.scope["query_string"], request.headers.get("content-type", ""), await request.body(), ceiling)
        described = read.query is None
        query = described_in(request, read.format) if described else sparql.query_of(read, accepted(request), snapshot.knowledge.about.iri)
        return await asked(request, query, read.seconds)

    about: dict[str, Any] = {"tags": ["service", "sparql"], "response_class": Response}
    app.get("/sparql", operation_id="sparql", summary="A query, or without one what this endpoint is", **_documented("get"), **about)(answer)
    app.post("/sparql", operation_id="sparqlByPost", summary="A query in the body", **_documented("post"), **about)(answer)

    @app.get("/prefixes", operation_id="prefixes", summary="The prefixes that queries need not declare", tags=["sparql"], response_model=dict[str, str])
    async def get_prefixes(request: Request) -> Response:
        return dress(request, prefixes)

    @Lists(app, snapshot.digest, dress).at("/v1/questions", "listQuestions", "All saved questions", list[Listed], tag="sparql")
    async def questions() -> list[Listed]:
        return [Listed(replace(each, query=binder.text(each, {})), f"/v1/questions/{each.name}") for each in endpoint.questions.values()]

    @app.get(
        "/v1/questions/{key}", operation_id="question", summary="The answer to a saved question", tags=["service", "sparql"], response_class=Response,
        responses={200: CONTENT}, openapi_extra={"parameters": [VALUES]},
    )  # fmt: skip
    async def get_question(request: Request, key: Key, format: Format = "") -> Response:
        given = {name: value for name, value in request.query_params.multi_items() if name != "format"}
        solutions, graphs = sparql.forms_for(format, accepted(request))
        await request.body()
        text = binder.text(question_named(endpoint.questions, key), given)
        return await asked(request, Asked(text, solutions.name if solutions else None, graphs.name if graphs else None))


def _unknown(result: Result) -> dict[str, str]:
    """A header that names our IRIs of which nothing is known, where a query found nothing."""
    told = "; ".join(f"{each['iri']} (near: {', '.join(each['nearest']) or 'nothing'})" for each in result.unknown)
    return {"x-lenticel-unknown": told.encode("ascii", "backslashreplace").decode()[:2000]} if told else {}


def _documented(method: str) -> dict[str, Any]:
    """What the OpenAPI document says of the endpoint, whose requests the protocol defines and not this service."""
    if method == "get":
        parameters = [
            {"name": name, "in": "query", "required": False, "description": schema["description"], "schema": schema, "example": EXAMPLES[name]}
            for name, schema in {**FIELDS, **IN_ADDRESS}.items()
        ]
        return {"openapi_extra": {"parameters": parameters}, "responses": {200: CONTENT}}
    query = EXAMPLES["query"]
    forms = {
        sparql.DIRECT: {"schema": {"type": "string"}, "example": query},
        sparql.FORM: {"schema": {"type": "object", "properties": FIELDS, "required": ["query"]}, "example": {"query": query}},
    }
    return {"openapi_extra": {"requestBody": {"required": True, "content": forms}}, "responses": {200: CONTENT}}
