"""The service's own routes: what it is, what its problems mean, whether it is well."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import FastAPI, Request, Response
from fastapi.responses import JSONResponse

from lenticel import problems
from lenticel.answers import as_json
from lenticel.api.dress import Dress
from lenticel.api.knowledge import found
from lenticel.api.parameters import Key, accepted
from lenticel.api.sparql import Endpoint
from lenticel.cite import counts
from lenticel.engine import consistent
from lenticel.model import About
from lenticel.negotiate import Form, chosen
from lenticel.pages import Pages
from lenticel.snapshot import Snapshot
from lenticel.version import __version__

FORMS = (Form("json", "application/json"), Form("html", "text/html", ("application/xhtml+xml",), "; charset=utf-8"))
LINKS = {
    "identify": "/v1/identify",
    "compare": "/v1/compare",
    "table": "/v1/table",
    "practice": "/v1/practice",
    "taxa": "/v1/taxa",
    "characters": "/v1/characters",
    "sources": "/v1/sources",
    "statements": "/v1/statements",
    "lookalikes": "/v1/lookalikes",
    "disagreements": "/v1/disagreements",
    "coverage": "/v1/coverage",
    "coveragePicture": "/v1/coverage.svg",
    "stats": "/v1/stats",
    "releases": "/v1/releases",
    "openapi": "/openapi.json",
}
OF_NOW = {"cache-control": "no-store", "x-content-type-options": "nosniff"}
SPARQL_LINKS = {"sparql": "/sparql", "prefixes": "/prefixes", "questions": "/v1/questions"}


@dataclass(frozen=True, slots=True)
class Index:
    """What this service knows and where to ask it."""

    about: About
    digest: str
    version: str
    counts: dict[str, int]
    links: dict[str, str]


def add(app: FastAPI, snapshot: Snapshot, dress: Dress, pages: Pages, endpoint: Endpoint | None) -> None:
    """Add the routes of this group."""
    known = snapshot.knowledge

    @app.get("/", operation_id="index", summary="What this is", tags=["service"], response_model=Index)
    async def index(request: Request) -> Response:
        form = chosen(accepted(request), FORMS) or FORMS[0]
        if form.name == "html":
            return dress.bytes(request, pages.home().encode(), form.content_type, form="html")
        links = LINKS if endpoint is None else {**LINKS, **SPARQL_LINKS}
        return dress.bytes(request, as_json(Index(known.about, snapshot.digest, __version__, counts(known), links)), form.media_type, form="json")

    @app.get("/problems/{code}", operation_id="problem", summary="What a problem code means", tags=["service"], response_model=dict[str, str])
    async def get_problem(request: Request, code: Key) -> Response:
        title, meaning = found(problems.TITLES, code, "There is no problem", f"The codes are: {', '.join(problems.TITLES)}.")
        return dress(request, {"code": code, "title": title, "meaning": meaning})

    @app.get("/healthz", operation_id="health", summary="Alive?", tags=["service"], response_model=dict[str, str])
    async def healthz() -> Response:
        return JSONResponse({"status": "alive"}, headers=OF_NOW)

    @app.get("/readyz", operation_id="ready", summary="Ready to answer?", tags=["service"], response_model=dict[str, str])
    async def readyz(request: Request) -> Response:
        if request.scope.get("lenticel.draining"):
            return problems.problem(503, "not-ready", "The service is about to end.", "Ask another one.")
        if len(consistent(snapshot, [])) != len(known.terminal):
            return problems.problem(503, "not-ready", "The knowledge does not answer as it must.", "Start the service anew, or build the snapshot anew.")
        if endpoint is None:
            return JSONResponse({"status": "ready", "digest": snapshot.digest}, headers=OF_NOW)
        if endpoint.state == "starting":
            told = "The dataset for queries is being made ready; the first start with a version lays it out, which takes some seconds."
            return problems.problem(503, "not-ready", told, "Ask again in a few seconds.", headers={"retry-after": "3"}, sparql=endpoint.state)
        return JSONResponse({"status": "ready", "digest": snapshot.digest, "sparql": endpoint.state}, headers=OF_NOW)
