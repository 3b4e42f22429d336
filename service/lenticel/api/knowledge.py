"""The knowledge itself as routes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from functools import cache
from typing import Annotated, Any

from fastapi import FastAPI, Query, Request, Response

from lenticel.account import Disagreement, all_disagreements, disagreements_on
from lenticel.api.dress import Dress
from lenticel.api.paging import LISTED, MOST, Cursor, Limit, paged
from lenticel.api.parameters import Key
from lenticel.cite import Provenance, counts, provenance, taxon_named
from lenticel.coverage import Coverage, coverage
from lenticel.disputes import Dispute, disputes
from lenticel.errors import LenticelError, UnknownTerm, suggest
from lenticel.languages import LabelledTaxon, labelled
from lenticel.model import Character, Knowledge, Lookalike, Source, State, Statement
from lenticel.picture import coverage_picture
from lenticel.review import Reviews, reviews
from lenticel.snapshot import Snapshot

PAGE = 100  # rows of a list that is too long to be given whole
PageSize = Annotated[int, Query(ge=1, le=MOST, description="How many to give at most.")]
OfTaxon = Annotated[str, Query(max_length=200, description="Only those on this taxon: identifier or name; on all if empty.")]
OfCharacter = Annotated[str, Query(max_length=200, description="Only those on this character: its identifier; on all if empty.")]
OfSource = Annotated[str, Query(max_length=200, description="Only those of this source: its identifier; of all if empty.")]
Settled = Annotated[bool | None, Query(description="Only those of which somebody has said how they are understood, or only the others.")]


@dataclass(frozen=True, slots=True)
class CharacterWithStates:
    """A character and the states that it takes, in their order."""

    digest: str
    character: Character
    states: tuple[State, ...]


@dataclass(frozen=True, slots=True)
class StatementWithProvenance(Statement):
    """A statement, who recorded it and read it back, and with which statements of other sources it has nothing in common, settled or not."""

    digest: str
    provenance: Provenance
    disagreements: tuple[Disagreement, ...]


@dataclass(frozen=True, slots=True)
class Statements:
    """A page of the statements, and how many there are on all pages."""

    digest: str
    total: int
    statements: tuple[Statement, ...]


@dataclass(frozen=True, slots=True)
class Lookalikes:
    """A page of what sources say is mistaken for each other, and how much there is on all pages."""

    digest: str
    total: int
    lookalikes: tuple[Lookalike, ...]


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

    @app.get(
        "/v1/taxa", operation_id="listTaxa", summary="All taxa", tags=["knowledge"], response_model=list[LabelledTaxon], responses=LISTED,
    )  # fmt: skip
    async def list_taxa(request: Request, limit: Limit = None, cursor: Cursor = "") -> Response:
        page = paged(request, snapshot.digest, [labelled(each) for each in known.taxa.values()], limit, cursor)
        return dress(request, page.rows, page.headers)

    @app.get(
        "/v1/characters", operation_id="listCharacters", summary="All characters", tags=["knowledge"], response_model=list[Character], responses=LISTED,
    )  # fmt: skip
    async def list_characters(request: Request, limit: Limit = None, cursor: Cursor = "") -> Response:
        page = paged(request, snapshot.digest, list(known.characters.values()), limit, cursor)
        return dress(request, page.rows, page.headers)

    @app.get("/v1/characters/{key}", operation_id="character", summary="A character and its states", tags=["knowledge"], response_model=CharacterWithStates)
    async def get_character(request: Request, key: Key) -> Response:
        each = found(known.characters, key, "There is no character", "List them at /v1/characters.")
        return dress(request, CharacterWithStates(snapshot.digest, each, tuple(known.states_of(key))))

    @app.get(
        "/v1/sources", operation_id="listSources", summary="All sources", tags=["knowledge"], response_model=list[Source], responses=LISTED,
    )  # fmt: skip
    async def list_sources(request: Request, limit: Limit = None, cursor: Cursor = "") -> Response:
        page = paged(request, snapshot.digest, list(known.sources.values()), limit, cursor)
        return dress(request, page.rows, page.headers)

    @app.get("/v1/sources/{key}", operation_id="source", summary="A source", tags=["knowledge"], response_model=Source)
    async def get_source(request: Request, key: Key) -> Response:
        return dress(request, found(known.sources, key, "There is no source", "List them at /v1/sources."))

    @app.get(
        "/v1/statements", operation_id="listStatements", summary="Statements, all or of one taxon, character or source", tags=["knowledge"],
        response_model=Statements, responses=LISTED,
    )  # fmt: skip
    async def list_statements(
        request: Request, taxon: OfTaxon = "", character: OfCharacter = "", source: OfSource = "", limit: PageSize = PAGE, cursor: Cursor = ""
    ) -> Response:
        page = paged(request, snapshot.digest, statements_of(known, taxon, character, source), limit, cursor)
        return dress(request, Statements(snapshot.digest, page.total, tuple(page.rows)), page.headers)

    @app.get(
        "/v1/lookalikes", operation_id="listLookalikes", summary="What sources say is mistaken for each other", tags=["knowledge"],
        response_model=Lookalikes, responses=LISTED,
    )  # fmt: skip
    async def list_lookalikes(request: Request, limit: PageSize = PAGE, cursor: Cursor = "") -> Response:
        page = paged(request, snapshot.digest, list(known.lookalikes.values()), limit, cursor)
        return dress(request, Lookalikes(snapshot.digest, page.total, tuple(page.rows)), page.headers)

    @app.get("/v1/statements/{key}", operation_id="statement", summary="A statement", tags=["knowledge"], response_model=StatementWithProvenance)
    async def get_statement(request: Request, key: Key) -> Response:
        akin = [each for each in known.statements if each.startswith(f"{key.partition('.')[0]}.")]
        each = found(known.statements, key, "There is no statement", "The account of a taxon, /v1/taxa/<taxon>, names its statements.", akin)
        disputed = tuple(dispute for dispute in disagreements_on(snapshot, each.taxon) if key in (dispute.one, dispute.other))
        said: dict[str, Any] = {name.name: getattr(each, name.name) for name in fields(each)}
        return dress(request, StatementWithProvenance(**said, digest=snapshot.digest, provenance=provenance(known, key), disagreements=disputed))

    @app.get(
        "/v1/disagreements", operation_id="disagreements", summary="Where sources have nothing in common", tags=["knowledge"],
        response_model=list[Dispute], responses=LISTED,
    )  # fmt: skip
    async def list_disagreements(request: Request, settled: Settled = None, limit: Limit = None, cursor: Cursor = "") -> Response:
        found = [each for each in every_dispute() if settled in (None, each.resolution is not None)]
        page = paged(request, snapshot.digest, found, limit, cursor)
        return dress(request, page.rows, page.headers)

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


def statements_of(known: Knowledge, taxon: str, character: str, source: str) -> list[Statement]:
    """The statements on a taxon, on a character and of a source, each "" for any, in the order of the tables.

    Raises:
        UnknownTerm: one of the words means nothing here.
    """
    wanted: dict[str, str] = {}
    try:
        where = "/taxon"
        wanted |= {"taxon": taxon_named(known, taxon)} if taxon else {}
        for name, word, table in (("character", character, known.characters), ("source", source, known.sources)):
            where = f"/{name}"
            if word:
                found(table, word, f"There is no {name}", f"List them at /v1/{name}s.")
                wanted[name] = word
    except LenticelError as error:
        raise error.at(where) from None
    return [each for each in known.statements.values() if all(getattr(each, name) == key for name, key in wanted.items())]
