"""The JSON API: the questions, dressed for the web. It needs a snapshot and nothing else."""

from __future__ import annotations

from collections.abc import Mapping

from fastapi import Depends, FastAPI

from lenticel import problems
from lenticel.api import batch, deprecation, document, doubt, knowledge, languages, lessons, linked, meaning, pages, questions, releases, service, sparql, walk
from lenticel.api.bare import lay_bare
from lenticel.api.dress import Dress, Head
from lenticel.api.languages import Languages
from lenticel.api.later import Later
from lenticel.api.parameters import known_parameters
from lenticel.api.releases import Releases, Shelf
from lenticel.api.sparql import Endpoint
from lenticel.api.unchanged import Unchanged
from lenticel.examples import describe
from lenticel.languages import in_language, languages_of
from lenticel.lines import LIMITS, Limits
from lenticel.model import ENGLISH
from lenticel.pages import Pages
from lenticel.snapshot import Snapshot
from lenticel.version import __version__

__all__ = ["MAX_BODY", "create_app"]

MAX_BODY = 1 << 20


def create_app(
    snapshot: Snapshot,
    *,
    body_limit: int = MAX_BODY,
    retired: Mapping[str, str] | None = None,
    limits: Limits = LIMITS,
    endpoint: Endpoint | None = None,
    shelf: Shelf | None = None,
) -> FastAPI:
    """The service over one snapshot.

    Args:
        snapshot: what it answers from; it is never changed.
        body_limit: the largest body of a request, in bytes.
        retired: identifiers that had to go, each with its successor.
        limits: what a request of many lines may take.
        endpoint: what answers SPARQL over the same knowledge; without it there are no routes for that.
        shelf: the older releases that can be asked; none if left out.
    """
    shelf = shelf or Shelf()

    def made(language: str) -> FastAPI:
        return _app(snapshot, language, body_limit, retired or {}, limits, endpoint, shelf)

    app = made(ENGLISH)
    app.add_middleware(Languages, there=languages_of(snapshot.knowledge), make=made)
    app.add_middleware(Releases, digest=snapshot.digest, shelf=shelf)
    return app


def _app(plain: Snapshot, language: str, body_limit: int, retired: Mapping[str, str], limits: Limits, endpoint: Endpoint | None, shelf: Shelf) -> FastAPI:
    """The service with its labels in one language; graphs hold those of all languages, and are the same in each."""
    snapshot = in_language(plain, language)
    known = snapshot.knowledge
    app = FastAPI(
        title="Lenticel", version=__version__, summary=known.about.title, description=known.about.description,
        openapi_url=None, docs_url=None, redoc_url=None, redirect_slashes=False, dependencies=[Depends(known_parameters)],
    )  # fmt: skip
    app.router.route_class = Later
    problems.install(app)
    # The last one added meets a request first: CORS also dresses what the limit refuses, and HEAD comes before all that looks at the method.
    app.add_middleware(Unchanged)
    app.add_middleware(problems.BodyLimit, limit=body_limit, streamed=batch.PATHS)
    app.add_middleware(
        problems.OpenCors,
        allow_origins=["*"],
        allow_methods=["GET", "HEAD", "POST"],
        allow_headers=["content-type", "if-none-match", "x-request-id"],
        expose_headers=[
            "content-language", "content-location", "deprecation", "etag", "link", "retry-after", "sunset",
            "x-lenticel-release", "x-lenticel-rows", "x-lenticel-total", "x-lenticel-unknown", "x-request-id",
        ],
    )  # fmt: skip
    app.add_middleware(Head)
    dress = Dress(snapshot, language)
    people = Pages(snapshot)
    for group in (questions, doubt, walk, lessons, knowledge):
        group.add(app, snapshot, dress)
    batch.add(app, snapshot, limits)
    releases.add(app, snapshot, dress, shelf)
    service.add(app, snapshot, dress, people, endpoint)
    pages.add(app, dress, people)
    if endpoint is not None:
        sparql.add(app, snapshot, dress, endpoint)
    meaning.add(app, snapshot, dress)
    linked.add(app, snapshot, plain, dress, people, retired)
    describe(app, known, "" if endpoint is None else endpoint.example, (languages.PARAMETER, releases.PARAMETER))
    document.add(app, dress)
    lay_bare(app)
    deprecation.announce(app)
    return app
