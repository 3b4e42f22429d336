"""The knowledge itself as routes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from functools import cache
from typing import Annotated, Any

from fastapi import FastAPI, Query, Request, Response

from lenticel.account import Disagreement, all_disagreements, disagreements_on
from lenticel.api.dress import Dress
from lenticel.api.listing import Lists
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

    lists = Lists(app, snapshot.digest, dress)

    @lists.at("/v1/taxa", "listTaxa", "All taxa", list[LabelledTaxon])
    async def taxa() -> list[LabelledTaxon]:
        return [labelled(each) for each in known.taxa.values()]

    @lists.at("/v1/characters", "listCharacters", "All characters", list[Character])
    async def characters() -> list[Character]:
        return list(known.characters.values())

    @app.get("/v1/characters/{key}", operation_id="character", summary="A character and its states", tags=["knowledge"], response_model=CharacterWithStates)
    async def get_character(request: Request, key: Key) -> Response:
        each = found(known.characters, key, "There is no character", "List them at /v1/characters.")
        return dress(request, CharacterWithStates(snapshot.digest, each, tuple(known.states_of(key))))

    @lists.at("/v1/sources", "listSources", "All sources", list[Source])
    async def sources() -> list[Source]:
        return list(known.sources.values())

    @app.get("/v1/sources/{key}", operation_id="source", summary="A source", tags=["knowledge"], response_model=Source)
    async def get_source(request: Request, key: Key) -> Response:
        return dress(request, found(known.sources, key, "There is no source", "List them at /v1/sources."))

    @lists.at("/v1/statements", "listStatements", "Statements, all or of one taxon, character or source", Statements)
    async def statements(taxon: OfTaxon = "", character: OfCharacter = "", source: OfSource = "") -> list[Statement]:
        return statements_of(known, taxon, character, source)

    @lists.at("/v1/lookalikes", "listLookalikes", "What sources say is mistaken for each other", Lookalikes)
    async def lookalikes() -> list[Lookalike]:
        return list(known.lookalikes.values())

    @app.get("/v1/statements/{key}", operation_id="statement", summary="A statement", tags=["knowledge"], response_model=StatementWithProvenance)
    async def get_statement(request: Request, key: Key) -> Response:
        akin = [each for each in known.statements if each.startswith(f"{key.partition('.')[0]}.")]
        each = found(known.statements, key, "There is no statement", "The account of a taxon, /v1/taxa/<taxon>, names its statements.", akin)
        disputed = tuple(dispute for dispute in disagreements_on(snapshot, each.taxon) if key in (dispute.one, dispute.other))
        said: dict[str, Any] = {name.name: getattr(each, name.name) for name in fields(each)}
        return dress(request, StatementWithProvenance(**said, digest=snapshot.digest, provenance=provenance(known, key), disagreements=disputed))

    @lists.at("/v1/disagreements", "disagreements", "Where sources have nothing in common", list[Dispute])
    async def disputed(settled: Settled = None) -> list[Dispute]:
        return [each for each in every_dispute() if settled in (None, each.resolution is not None)]

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
