"""Doubt and justification as routes."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, FastAPI, Request, Response

from lenticel.api.asking import asked, given
from lenticel.api.dress import Dress
from lenticel.cite import taxon_named
from lenticel.doubt import Doubts, doubt
from lenticel.errors import LenticelError
from lenticel.justify import Why, why_apart, why_out
from lenticel.model import Knowledge
from lenticel.observation import Reader, read_observations
from lenticel.requests import DoubtRequest, WhyRequest
from lenticel.snapshot import Snapshot


def add(app: FastAPI, snapshot: Snapshot, dress: Dress) -> None:
    """Add the routes of this group."""
    reader = Reader(snapshot)

    @asked(
        app,
        "/v1/doubt",
        DoubtRequest,
        operation_id="doubt",
        summary="What to doubt when nothing fits, and what is a slip or two away?",
        tags=["questions"],
        response_model=Doubts,
    )
    async def ask_doubt(request: Request, question: Annotated[DoubtRequest, Depends(given(DoubtRequest))]) -> Response:
        observations = read_observations(reader, question.rows())
        return dress(request, doubt(snapshot, observations, question.context(), most=question.most))

    @asked(
        app,
        "/v1/why",
        WhyRequest,
        operation_id="why",
        summary="Why is a taxon out, or why are two apart?",
        tags=["questions"],
        response_model=Why,
    )
    async def ask_why(request: Request, question: Annotated[WhyRequest, Depends(given(WhyRequest))]) -> Response:
        taxa = _taxa(snapshot.knowledge, question.taxa)
        if question.character is None:
            return dress(request, why_out(snapshot, taxa[0], read_observations(reader, question.rows()), wild=question.wild))
        try:
            character = reader.character(question.character).id
        except LenticelError as error:
            raise error.at("/character") from None
        return dress(request, why_apart(snapshot, taxa[0], taxa[1], character))


def _taxa(known: Knowledge, words: list[str]) -> list[str]:
    found: list[str] = []
    for place, word in enumerate(words):
        try:
            found.append(taxon_named(known, word))
        except LenticelError as error:
            raise error.at(f"/taxa/{place}") from None
    return found
