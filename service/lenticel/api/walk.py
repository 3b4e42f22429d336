"""What to look at next, and the key for a walk, as routes."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, FastAPI, Request, Response

from lenticel.api.asking import asked, given
from lenticel.api.dress import Dress
from lenticel.cite import taxa_named
from lenticel.following import Following, following
from lenticel.identify import Context
from lenticel.keys import Key, key
from lenticel.observation import Reader, read_observations
from lenticel.requests import KeyRequest, Looking, NextRequest
from lenticel.sight import Sight
from lenticel.snapshot import Snapshot
from lenticel.text import key_html, key_markdown, key_text

PAGES = {
    "text": (key_text, "text/plain; charset=utf-8"),
    "markdown": (key_markdown, "text/markdown; charset=utf-8"),
    "html": (key_html, "text/html; charset=utf-8"),
}


def add(app: FastAPI, snapshot: Snapshot, dress: Dress) -> None:
    """Add the routes of this group."""
    reader = Reader(snapshot)

    @asked(
        app,
        "/v1/next",
        NextRequest,
        operation_id="next",
        summary="What to look at next, given what was seen and what can be seen?",
        tags=["questions"],
        response_model=Following,
    )
    async def ask_next(request: Request, question: Annotated[NextRequest, Depends(given(NextRequest))]) -> Response:
        observations = read_observations(reader, question.rows())
        group = taxa_named(snapshot.knowledge, question.taxa)
        answer = following(snapshot, observations, context(question), sight(question), group=group, most=question.most, slips=question.slips)
        return dress(request, answer)

    @asked(
        app,
        "/v1/key",
        KeyRequest,
        operation_id="key",
        summary="A key to a group, for a season and the tools at hand",
        description="With `form` other than `json` it is answered as plain text, Markdown or an HTML page.",
        tags=["questions"],
        response_model=Key,
        responses={200: {"content": {media_type.partition(";")[0]: {"schema": {"type": "string"}} for _, media_type in PAGES.values()}}},
    )
    def ask_key(request: Request, question: Annotated[KeyRequest, Depends(given(KeyRequest))]) -> Response:
        # Not async: a key takes up to seconds, and runs beside the loop so that it does not hold up the other requests.
        answer = key(snapshot, taxa_named(snapshot.knowledge, question.taxa), sight(question), context(question))
        if question.form == "json":
            return dress(request, answer)
        write, media_type = PAGES[question.form]
        return dress.bytes(request, ("\n".join(write(snapshot.knowledge, answer)) + "\n").encode(), media_type)


def context(question: Looking) -> Context:
    """What a question says of the plant beyond the observations."""
    return Context(question.wild, question.month or 0)


def sight(question: Looking) -> Sight:
    """With what one looks, as a question says it."""
    return Sight(question.season or "", tuple(question.kit), tuple(question.parts))
