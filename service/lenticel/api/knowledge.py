"""The knowledge itself as routes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from functools import cache
from typing import Annotated, Any

from fastapi import FastAPI, Query, Request, Response

from lenticel.account import Disagreement, all_disagreements, disagreements_on
from lenticel.api.dress import Dress
from lenticel.api.parameters import Key
from lenticel.cite import Provenance, counts, provenance
from lenticel.coverage import Coverage, coverage
from lenticel.disputes import Dispute, disputes
from lenticel.errors import UnknownTerm, suggest
from lenticel.model import Character, Source, State, Statement, Taxon
from lenticel.picture import coverage_picture
from lenticel.review import Reviews, reviews
from lenticel.snapshot import Snapshot

Settled = Annotated[bool | None, Query(description="Only those of which somebody has said how they are understood, or only the others.")]


@dataclass(frozen=True, slots=True)
class CharacterWithStates:
    """A character and the states that it takes, in their order."""

    character: Character
    states: tuple[State, ...]


@dataclass(frozen=True, slots=True)
class StatementWithProvenance(Statement):
    """A statement, who recorded it and read it back, and with which statements of other sources it has nothing in common, settled or not."""

    provenance: Provenance
    disagreements: tuple[Disagreement, ...]


def add(app: FastAPI, snapshot: Snapshot, dress: Dress) -> None:
    """Add the routes of this group."""
    known = snapshot.knowledge

    @cache
    def every_dispute() -> list[Dispute]:
        return disputes(snapshot, all_disagreements(snapshot))

    @cache
    def all_coverage() -> Coverage:
        return coverage(snapshot)

    @cache
    def all_reviews() -> Reviews:
        return reviews(snapshot)

    @cache
    def picture() -> str:
        return coverage_picture(snapshot)

    @app.get("/v1/taxa", operation_id="listTaxa", summary="All taxa", tags=["knowledge"], response_model=list[Taxon])
    async def list_taxa(request: Request) -> Response:
        return dress(request, list(known.taxa.values()))

    @app.get("/v1/characters", operation_id="listCharacters", summary="All characters", tags=["knowledge"], response_model=list[Character])
    async def list_characters(request: Request) -> Response:
        return dress(request, list(known.characters.values()))

    @app.get("/v1/characters/{key}", operation_id="character", summary="A character and its states", tags=["knowledge"], response_model=CharacterWithStates)
    async def get_character(request: Request, key: Key) -> Response:
        each = found(known.characters, key, "There is no character", "List them at /v1/characters.")
        return dress(request, CharacterWithStates(each, tuple(known.states_of(key))))

    @app.get("/v1/sources", operation_id="listSources", summary="All sources", tags=["knowledge"], response_model=list[Source])
    async def list_sources(request: Request) -> Response:
        return dress(request, list(known.sources.values()))

    @app.get("/v1/sources/{key}", operation_id="source", summary="A source", tags=["knowledge"], response_model=Source)
    async def get_source(request: Request, key: Key) -> Response:
        return dress(request, found(known.sources, key, "There is no source", "List them at /v1/sources."))

    @app.get("/v1/statements/{key}", operation_id="statement", summary="A statement", tags=["knowledge"], response_model=StatementWithProvenance)
    async def get_statement(request: Request, key: Key) -> Response:
        akin = [each for each in known.statements if each.startswith(f"{key.partition('.')[0]}.")]
        each = found(known.statements, key, "There is no statement", "The account of a taxon, /v1/taxa/<taxon>, names its statements.", akin)
        disputed = tuple(dispute for dispute in disagreements_on(snapshot, each.taxon) if key in (dispute.one, dispute.other))
        said: dict[str, Any] = {name.name: getattr(each, name.name) for name in fields(each)}
        return dress(request, StatementWithProvenance(**said, provenance=provenance(known, key), disagreements=disputed))

    @app.get(
        "/v1/disagreements", operation_id="disagreements", summary="Where sources have nothing in common", tags=["knowledge"], response_model=list[Dispute]
    )
    async def list_disagreements(request: Request, settled: Settled = None) -> Response:
        return dress(request, [each for each in every_dispute() if settled in (None, each.resolution is not None)])

    @app.get(
        "/v1/reviews", operation_id="reviews", summary="How many statements were read back and found wrong, by genus and by source", tags=["knowledge"],
        response_model=Reviews,
    )  # fmt: skip
    async def get_reviews(request: Request) -> Response:
        return dress(request, all_reviews())

    @app.get("/v1/coverage", operation_id="coverage", summary="How much is known, and where it is thin", tags=["knowledge"], response_model=Coverage)
    async def get_coverage(request: Request) -> Response:
        return dress(request, all_coverage())

    @app.get(
        "/v1/coverage.svg", operation_id="coveragePicture", summary="Taxa against characters, as a picture", tags=["knowledge"],
        response_class=Response, responses={200: {"content": {"image/svg+xml": {"schema": {"type": "string"}}}}},
    )  # fmt: skip
    async def get_picture(request: Request) -> Response:
        return dress.bytes(request, picture().encode(), "image/svg+xml")

    @app.get("/v1/stats", operation_id="stats", summary="How much the knowledge holds", tags=["knowledge"], response_model=dict[str, int])
    async def stats(request: Request) -> Response:
        return dress(request, counts(known))


def found(table: Mapping[str, Any], key: str, missing: str, otherwise: str, akin: Iterable[str] | None = None) -> Any:
    """What a table holds under a key.

    Raises:
        UnknownTerm: nothing; the fix names the nearest of `akin`, or says `otherwise`.
    """
    if key not in table:
        raise UnknownTerm(f"{missing} {key[:60]!r}.", suggest(key, table if akin is None else akin) or otherwise)
    return table[key]
