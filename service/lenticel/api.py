"""The JSON API: the questions, dressed for the web. It needs a snapshot and nothing else."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Annotated, Any

from fastapi import Depends, FastAPI, Path, Query, Request, Response
from fastapi.middleware.gzip import GZipMiddleware
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from lenticel import problems
from lenticel.account import Account, Disagreement, account, all_disagreements
from lenticel.answers import as_json
from lenticel.cite import counts, taxon_named
from lenticel.compare import Comparison, compare
from lenticel.coverage import Coverage, coverage
from lenticel.engine import consistent
from lenticel.errors import LenticelError, UnknownTerm, suggest
from lenticel.examples import BODY, describe
from lenticel.identify import Answer, Context, identify
from lenticel.model import About, Character, Source, State, Statement, Taxon
from lenticel.observation import Reader, read_observations
from lenticel.picture import coverage_picture
from lenticel.requests import MAX_OBSERVATIONS, IdentifyRequest, Misfit, WrongType, parse_request, pointer
from lenticel.snapshot import Snapshot
from lenticel.version import __version__

MAX_BODY = 1 << 20
LINKS = {
    "identify": "/v1/identify",
    "compare": "/v1/compare",
    "taxa": "/v1/taxa",
    "characters": "/v1/characters",
    "sources": "/v1/sources",
    "disagreements": "/v1/disagreements",
    "coverage": "/v1/coverage",
    "coveragePicture": "/v1/coverage.svg",
    "stats": "/v1/stats",
    "openapi": "/openapi.json",
}
Key = Annotated[str, Path(max_length=200, description="Identifier.")]
TaxonKey = Annotated[str, Path(max_length=200, description="Identifier, or scientific or common name.")]
Seen = Annotated[list[Annotated[str, Query(max_length=600)]], Query(description="`character=value`, as often as needed.", max_length=MAX_OBSERVATIONS)]
Taxa = Annotated[list[Annotated[str, Query(max_length=200)]], Query(description="Identifier or name of a taxon, twice or more.", max_length=20)]
Season = Annotated[str, Query(max_length=20, description="Only what can be seen then: spring, summer, autumn or winter; any season if left out.")]
Wild = Annotated[bool, Query(description="True if nobody planted it, so that habitat and region exclude too.")]
Month = Annotated[int | None, Query(ge=1, le=12, description="The month in which it was seen; it makes some observations doubtful and never excludes.")]
EveryRank = Annotated[bool, Query(description="Judge genera and families as well.")]


@dataclass(frozen=True, slots=True)
class Index:
    """What this service knows and where to ask it."""

    about: About
    digest: str
    version: str
    counts: dict[str, int]
    links: dict[str, str]


@dataclass(frozen=True, slots=True)
class CharacterWithStates:
    """A character and the states that it takes, in their order."""

    character: Character
    states: tuple[State, ...]


def create_app(snapshot: Snapshot) -> FastAPI:
    """The service over one snapshot.

    Args:
        snapshot: what it answers from; it is never changed.
    """
    known = snapshot.knowledge
    app = FastAPI(
        title="Lenticel", version=__version__, summary=known.about.title, description=known.about.description,
        docs_url=None, redoc_url=None, redirect_slashes=False, dependencies=[Depends(known_parameters)],
    )  # fmt: skip
    problems.install(app)
    # The last one added meets a request first: CORS also dresses what the limit refuses, and HEAD comes before all that looks at the method.
    app.add_middleware(GZipMiddleware, minimum_size=1024, compresslevel=5)
    app.add_middleware(problems.BodyLimit, limit=MAX_BODY)
    app.add_middleware(
        problems.OpenCors,
        allow_origins=["*"],
        allow_methods=["GET", "HEAD", "POST"],
        allow_headers=["content-type", "if-none-match"],
        expose_headers=["etag"],
    )
    app.add_middleware(Head)
    dress = Dress(snapshot)
    _questions(app, snapshot, dress)
    _knowledge(app, snapshot, dress)
    _service(app, snapshot, dress)
    describe(app, known)
    return app


class Dress:
    """Makes answers responses: JSON with an ETag, or nothing but 304 to a caller that has it already.

    The ETag is weak (RFC 9110, 8.8.1), since the same answer also goes out compressed.
    """

    def __init__(self, snapshot: Snapshot) -> None:
        self._tag = f'"{snapshot.digest[:40]}-{__version__}"'
        self._headers = {"etag": f"W/{self._tag}", "cache-control": "no-cache", "x-content-type-options": "nosniff"}

    def __call__(self, request: Request, content: Any) -> Response:
        """The response to a request, as JSON; a snapshot never changes, so one tag serves all of its answers."""
        return self.bytes(request, as_json(content), "application/json")

    def bytes(self, request: Request, content: bytes, media_type: str) -> Response:
        """The response to a request, of any media type."""
        had = [each.strip().removeprefix("W/") for each in request.headers.get("if-none-match", "").split(",")]
        if request.method == "GET" and (self._tag in had or "*" in had):
            return Response(status_code=304, headers=self._headers)
        return Response(content, headers=self._headers, media_type=media_type)


class Head:
    """Answers HEAD as GET without the body (RFC 9110, 9.3.2)."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http" or scope["method"] != "HEAD":
            await self.app(scope, receive, send)
            return

        async def bare(message: Message) -> None:
            await send({**message, "body": b""} if message["type"] == "http.response.body" else message)

        await self.app({**scope, "method": "GET"}, receive, bare)


async def known_parameters(request: Request) -> None:
    """Refuse a query with a parameter that the operation does not have, or one value too many, instead of answering another question.

    Raises:
        Misfit: with every such parameter.
    """
    operation = request.app.openapi()["paths"][request.scope["route"].path][request.method.lower()]
    if "service" in operation["tags"]:
        return
    many = {each["name"]: each["schema"].get("type") == "array" for each in operation.get("parameters", []) if each["in"] == "query"}
    counted = Counter(name for name, _ in request.query_params.multi_items())
    wrong = [(pointer((name,)), "there is no such parameter") for name in counted if name not in many]
    wrong += [(pointer((name,)), "give it once") for name, count in counted.items() if count > 1 and not many.get(name, True)]
    if wrong:
        raise Misfit(wrong)


async def body_sent(request: Request) -> IdentifyRequest:
    """The question that the body holds.

    Raises:
        WrongType, BadJson, Misfit: it holds none.
    """
    kind, _, charset = request.headers.get("content-type", "").lower().partition(";")
    if kind.strip() != "application/json" or charset.replace(" ", "").replace('"', "") not in ("", "charset=utf-8"):
        raise WrongType("The body is not sent as JSON in UTF-8.", "Send the header content-type: application/json.")
    return parse_request(await request.body())


def _questions(app: FastAPI, snapshot: Snapshot, dress: Dress) -> None:
    known = snapshot.knowledge
    reader = Reader(snapshot)

    @app.post(
        "/v1/identify", operation_id="identify", summary="What is it, given what was seen?", tags=["questions"], response_model=Answer, openapi_extra=BODY
    )
    async def post_identify(request: Request, question: Annotated[IdentifyRequest, Depends(body_sent)]) -> Response:
        observations = read_observations(reader, question.rows())
        return dress(request, identify(snapshot, observations, Context(question.wild, question.month or 0), every_rank=question.every_rank))

    @app.get("/v1/identify", operation_id="identifyByLink", summary="The same question as a link that can be kept", tags=["questions"], response_model=Answer)
    async def get_identify(request: Request, seen: Seen = [], wild: Wild = False, every_rank: EveryRank = False, month: Month = None) -> Response:  # noqa: B006
        try:
            observations = read_observations(reader, [(each.partition("=")[0], each.partition("=")[2]) for each in seen])
        except LenticelError as error:
            error.where = error.where.replace("/observations", "/seen", 1)
            raise
        return dress(request, identify(snapshot, observations, Context(wild, month or 0), every_rank=every_rank))

    @app.get("/v1/compare", operation_id="compare", summary="What separates these?", tags=["questions"], response_model=Comparison)
    async def get_compare(request: Request, taxa: Taxa, season: Season = "") -> Response:
        return dress(request, compare(snapshot, [taxon_named(known, word) for word in taxa], season=season))

    @app.get("/v1/taxa/{key}", operation_id="account", summary="What is known of a taxon, and on whose word?", tags=["questions"], response_model=Account)
    async def get_taxon(request: Request, key: TaxonKey) -> Response:
        return dress(request, account(snapshot, taxon_named(known, key)))


def _knowledge(app: FastAPI, snapshot: Snapshot, dress: Dress) -> None:
    known = snapshot.knowledge

    @cache
    def every_disagreement() -> list[Disagreement]:
        return all_disagreements(snapshot)

    @cache
    def all_coverage() -> Coverage:
        return coverage(snapshot)

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
        each = _found(known.characters, key, "There is no character", "List them at /v1/characters.")
        return dress(request, CharacterWithStates(each, tuple(known.states_of(key))))

    @app.get("/v1/sources", operation_id="listSources", summary="All sources", tags=["knowledge"], response_model=list[Source])
    async def list_sources(request: Request) -> Response:
        return dress(request, list(known.sources.values()))

    @app.get("/v1/sources/{key}", operation_id="source", summary="A source", tags=["knowledge"], response_model=Source)
    async def get_source(request: Request, key: Key) -> Response:
        return dress(request, _found(known.sources, key, "There is no source", "List them at /v1/sources."))

    @app.get("/v1/statements/{key}", operation_id="statement", summary="A statement", tags=["knowledge"], response_model=Statement)
    async def get_statement(request: Request, key: Key) -> Response:
        akin = [each for each in known.statements if each.startswith(f"{key.partition('.')[0]}.")]
        return dress(request, _found(known.statements, key, "There is no statement", "The account of a taxon, /v1/taxa/<taxon>, names its statements.", akin))

    @app.get(
        "/v1/disagreements", operation_id="disagreements", summary="Where sources have nothing in common", tags=["knowledge"], response_model=list[Disagreement]
    )
    async def list_disagreements(request: Request) -> Response:
        return dress(request, every_disagreement())

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


def _found(table: Mapping[str, Any], key: str, missing: str, otherwise: str, akin: Iterable[str] | None = None) -> Any:
    if key not in table:
        raise UnknownTerm(f"{missing} {key[:60]!r}.", suggest(key, table if akin is None else akin) or otherwise)
    return table[key]


def _service(app: FastAPI, snapshot: Snapshot, dress: Dress) -> None:
    known = snapshot.knowledge

    @app.get("/", operation_id="index", summary="What this is", tags=["service"], response_model=Index)
    async def index(request: Request) -> Response:
        return dress(request, Index(known.about, snapshot.digest, __version__, counts(known), LINKS))

    @app.get("/problems/{code}", operation_id="problem", summary="What a problem code means", tags=["service"], response_model=dict[str, str])
    async def get_problem(request: Request, code: Key) -> Response:
        title, meaning = _found(problems.TITLES, code, "There is no problem", f"The codes are: {', '.join(problems.TITLES)}.")
        return dress(request, {"code": code, "title": title, "meaning": meaning})

    @app.get("/healthz", operation_id="health", summary="Alive?", tags=["service"], response_model=dict[str, str])
    async def healthz() -> dict[str, str]:
        return {"status": "alive"}

    @app.get("/readyz", operation_id="ready", summary="Ready to answer?", tags=["service"], response_model=dict[str, str])
    async def readyz() -> Any:
        if len(consistent(snapshot, [])) != len(known.terminal):
            return problems.problem(503, "not-ready", "The knowledge does not answer as it must.", "Start the service anew, or build the snapshot anew.")
        return {"status": "ready", "digest": snapshot.digest}
