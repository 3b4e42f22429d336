"""What the answers mean to programs that read them as linked data: their contexts and the terms of their own."""

from __future__ import annotations

from typing import Annotated, Any
from urllib.parse import urlsplit

from fastapi import FastAPI, Path, Request, Response

from lenticel.answers import as_json
from lenticel.api.dress import Dress
from lenticel.api.knowledge import found
from lenticel.context.kinds import ANSWER, EARLIER, FOLDER, context_of, kind_of, vocabulary_of
from lenticel.snapshot import Snapshot

MEDIA_TYPE = "application/ld+json"
DOCUMENTED: dict[int | str, dict[str, Any]] = {200: {"content": {MEDIA_TYPE: {"schema": {"type": "object"}}}}}
Kind = Annotated[str, Path(max_length=200, description="A kind of answer, as the `link` header of an answer names it.")]


def add(app: FastAPI, snapshot: Snapshot, dress: Dress) -> None:
    """Add the routes of this group, for the answers of all routes that are there already."""
    iri = snapshot.knowledge.about.iri
    models = [model for route in app.routes if getattr(route, "path", "").startswith("/v1/") and (model := getattr(route, "response_model", None))]
    kinds = {kind.__name__: kind for kind in (*EARLIER, *map(kind_of, models))}

    @app.get(
        f"{urlsplit(iri).path}{FOLDER}{{name}}", operation_id="answerContext", summary="What the fields of a kind of answer are, as a JSON-LD context",
        tags=["linked data"], response_class=Response, responses=DOCUMENTED,
    )  # fmt: skip
    async def answer_context(request: Request, name: Kind) -> Response:
        kind = found(kinds, name, "There is no kind of answer", f"The kinds are: {', '.join(sorted(kinds))}.")
        return dress.bytes(request, as_json({"@context": context_of(kind, iri)}), MEDIA_TYPE)

    @app.get(
        urlsplit(ANSWER).path, operation_id="answerTerms", summary="The terms that answers have of their own", tags=["linked data"],
        response_class=Response, responses=DOCUMENTED,
    )  # fmt: skip
    async def answer_terms(request: Request) -> Response:
        return dress.bytes(request, as_json(vocabulary_of(kinds.values())), MEDIA_TYPE)
