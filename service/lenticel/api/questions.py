"""The questions as routes."""

from __future__ import annotations

from functools import lru_cache

from fastapi import FastAPI, Request, Response

from lenticel.account import Account, account
from lenticel.api.dress import Dress
from lenticel.api.parameters import EveryRank, Excluded, Explain, Month, Region, Season, Seen, Taxa, TaxonKey, Wild, must_be
from lenticel.cite import taxon_named
from lenticel.compare import Comparison, compare
from lenticel.errors import LenticelError
from lenticel.examples import body_of
from lenticel.identify import Answer, Context
from lenticel.observation import Reader, read_observations
from lenticel.plain import plain_question
from lenticel.requests import IdentifyRequest, parse_request
from lenticel.snapshot import Snapshot
from lenticel.written import identified

ANSWERS = 64  # that are kept in case the same is asked again, as by a class before one tree; the longest have half a megabyte
SHORT = 4096  # bytes of a question whose answer is kept


def add(app: FastAPI, snapshot: Snapshot, dress: Dress) -> None:
    """Add the routes of this group."""
    known = snapshot.knowledge
    reader = Reader(snapshot)

    @lru_cache(maxsize=ANSWERS)
    def answered(body: bytes) -> bytes:
        question = plain_question(body) or parse_request(body, IdentifyRequest)
        observations = read_observations(reader, question.rows())
        return identified(snapshot, observations, question.context(), every_rank=question.every_rank, explain=question.explain, excluded=question.excluded)

    @app.post(
        "/v1/identify",
        operation_id="identify",
        summary="What is it, given what was seen?",
        tags=["questions"],
        response_model=Answer,
        openapi_extra=body_of(IdentifyRequest),
    )
    async def post_identify(request: Request) -> Response:
        must_be(request, "application/json", "JSON")
        body = await request.body()
        return dress(request, answered(body) if len(body) <= SHORT else answered.__wrapped__(body))

    @app.get("/v1/identify", operation_id="identifyByLink", summary="The same question as a link that can be kept", tags=["questions"], response_model=Answer)
    async def get_identify(
        request: Request,
        seen: Seen = [],  # noqa: B006
        wild: Wild = False,
        every_rank: EveryRank = False,
        month: Month = None,
        region: Region = None,
        explain: Explain = None,
        excluded: Excluded = None,
    ) -> Response:
        try:
            observations = read_observations(reader, [(each.partition("=")[0], each.partition("=")[2]) for each in seen])
        except LenticelError as error:
            error.where = error.where.replace("/observations", "/seen", 1)
            raise
        answer = identified(snapshot, observations, Context(wild, month or 0, region or ""), every_rank=every_rank, explain=explain, excluded=excluded)
        return dress(request, answer)

    @app.get("/v1/compare", operation_id="compare", summary="What separates these?", tags=["questions"], response_model=Comparison)
    async def get_compare(request: Request, taxa: Taxa, season: Season = "") -> Response:
        return dress(request, compare(snapshot, [taxon_named(known, word) for word in taxa], season=season))

    @app.get("/v1/taxa/{key}", operation_id="account", summary="What is known of a taxon, and on whose word?", tags=["questions"], response_model=Account)
    async def get_taxon(request: Request, key: TaxonKey) -> Response:
        return dress(request, account(snapshot, taxon_named(known, key)))
