"""The pages that are no thing's own: the form and its answer, lists, the query page, and the files that pages refer to."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import FastAPI, Path, Query, Request, Response
from pydantic import Field

from lenticel.api.dress import Dress
from lenticel.api.knowledge import found
from lenticel.api.parameters import Wild
from lenticel.pages import STATIC, Pages, static
from lenticel.requests import MAX_OBSERVATIONS

HTML = "text/html; charset=utf-8"
DOCUMENTED: dict[int | str, dict[str, Any]] = {200: {"content": {"text/html": {"schema": {"type": "string"}}}}}
Lines = Annotated[
    list[Annotated[str, Query(max_length=600)]],
    Query(description="`character = value` by label or identifier; empty ones are left out.", max_length=MAX_OBSERVATIONS),
]
FormMonth = Annotated[Annotated[int, Field(ge=1, le=12)] | Literal[""], Query(description="The month in which it was seen; empty if not known.")]
FileName = Annotated[str, Path(max_length=40, description="A file that pages refer to.")]


def add(app: FastAPI, dress: Dress, pages: Pages) -> None:
    """Add the routes of this group."""

    @app.get("/identify", operation_id="identifyPage", summary="The form's answer, as a page", tags=["pages"], response_class=Response, responses=DOCUMENTED)
    async def identify_page(request: Request, seen: Lines = [], wild: Wild = False, month: FormMonth = "") -> Response:  # noqa: B006
        return dress.bytes(request, pages.answer(seen, wild=wild, month=int(month or 0)).encode(), HTML)

    @app.get("/taxa", operation_id="taxaPage", summary="All taxa, as a page", tags=["pages"], response_class=Response, responses=DOCUMENTED)
    async def taxa_page(request: Request) -> Response:
        return dress.bytes(request, pages.listed("taxa").encode(), HTML)

    @app.get("/characters", operation_id="charactersPage", summary="All characters, as a page", tags=["pages"], response_class=Response, responses=DOCUMENTED)
    async def characters_page(request: Request) -> Response:
        return dress.bytes(request, pages.listed("characters").encode(), HTML)

    @app.get("/sources", operation_id="sourcesPage", summary="All sources, as a page", tags=["pages"], response_class=Response, responses=DOCUMENTED)
    async def sources_page(request: Request) -> Response:
        return dress.bytes(request, pages.listed("sources").encode(), HTML)

    @app.get("/release", operation_id="releasePage", summary="What is in force, as a page", tags=["pages"], response_class=Response, responses=DOCUMENTED)
    async def release_page(request: Request) -> Response:
        return dress.bytes(request, pages.release().encode(), HTML)

    @app.get("/query", operation_id="queryPage", summary="A page to write queries on", tags=["pages"], response_class=Response, responses=DOCUMENTED)
    async def query_page(request: Request) -> Response:
        return dress.bytes(request, pages.query().encode(), HTML)

    @app.get("/terms.json", operation_id="terms", summary="Every term by label, with its IRI", tags=["pages"], response_model=list[dict[str, str]])
    async def terms(request: Request) -> Response:
        return dress(request, pages.words())

    @app.get(
        "/static/{name}", operation_id="file", summary="A file that pages refer to", tags=["pages"],
        response_class=Response, responses={200: {"content": {"text/css": {"schema": {"type": "string"}}}}},
    )  # fmt: skip
    async def file(request: Request, name: FileName) -> Response:
        kind = found(STATIC, name, "There is no file", "Pages name those that there are.")
        return dress.bytes(request, static(name), f"{kind}; charset=utf-8")
