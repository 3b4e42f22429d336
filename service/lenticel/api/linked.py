"""Everything that has an IRI, at the path of that IRI: a page for people, a graph for programs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cached_property
from typing import TYPE_CHECKING, Annotated, Any
from urllib.parse import quote, urlsplit

from fastapi import FastAPI, Path, Query, Request, Response

from lenticel import context, problems
from lenticel.api.dress import Dress
from lenticel.api.parameters import Key, accepted
from lenticel.errors import UnknownTerm, suggest
from lenticel.negotiate import Form, chosen, named
from lenticel.pages import Pages
from lenticel.paths import VOCABULARY, Place, derived, places_of
from lenticel.snapshot import Snapshot

if TYPE_CHECKING:
    from rdflib import Graph

    from lenticel.resources import Resources

FORMS = (
    Form("ttl", "text/turtle", ("application/x-turtle", "application/turtle"), "; charset=utf-8"),
    Form("jsonld", "application/ld+json", ("application/json",)),
    Form("nt", "application/n-triples", ("text/plain",)),
    Form("rdf", "application/rdf+xml", ("application/xml", "text/xml")),
    Form("html", "text/html", ("application/xhtml+xml",), "; charset=utf-8"),
    Form("nq", "application/n-quads"),
    Form("trig", "application/trig", (), "; charset=utf-8"),
)
RDFLIB = {"ttl": "turtle", "nt": "nt", "rdf": "xml", "nq": "nt", "trig": "turtle"}  # one graph in N-Quads is N-Triples, and in TriG it is Turtle
DOCUMENTED: dict[int | str, dict[str, Any]] = {
    200: {
        "description": "What it is, in the form asked for.",
        "content": {form.media_type: {"schema": {"type": "object" if form.name == "jsonld" else "string"}} for form in FORMS},
    }
}
FormName = Annotated[
    str,
    Query(
        max_length=100, alias="format", description="The form, whatever is accepted: ttl, jsonld, nt, rdf, nq, trig or html; a suffix such as .ttl does too."
    ),
]
ThingPath = Annotated[str, Path(max_length=400, description="What stands in the IRI after the knowledge's own.")]
Word = Annotated[str, Path(max_length=200, description="A word of the vocabulary.")]


class Linked:
    """Finds what a path names, and writes it in the form that a request wants."""

    def __init__(self, snapshot: Snapshot, plain: Snapshot, dress: Dress, pages: Pages, retired: Mapping[str, str]) -> None:
        """`plain` is the snapshot of which graphs are written, whatever the language of pages."""
        self.plain = plain
        self.snapshot, self.dress, self.pages = snapshot, dress, pages
        self.iri = snapshot.knowledge.about.iri
        self.retired = retired

    @cached_property
    def places(self) -> dict[str, Place]:
        """What each path below the knowledge's IRI names."""
        return places_of(self.snapshot.knowledge, self.snapshot.body.cells)

    @cached_property
    def resources(self) -> Resources:
        """The writer of graphs; it brings RDF with it, which nothing else that serves needs."""
        from lenticel.resources import Resources

        return Resources(self.plain)

    def thing(self, request: Request, path: str, form_name: str) -> Response:
        """Answer for a path below the knowledge's IRI."""
        path, form = self._form(request, quote(path, safe="/-."), form_name, lambda each: each in self.places or self.iri + each in self.retired)
        if form is None:
            return _not_acceptable()
        if self.iri + path in self.retired:
            return self._retired(request, self.retired[self.iri + path], form)
        place = self.places.get(path) or (self.resources.further.get(path) if derived(path) else None)
        if place is None:
            return self._missing(request, form, f"There is nothing named {path[:80]!r}.", suggest(path, self.places))
        if form.name == "html":
            return self._page(request, self.pages.of(place, lambda: self._triples(self.resources.describe(place))), form)
        return self._graph(request, self.resources.describe(place), form)

    def word(self, request: Request, word: str, form_name: str) -> Response:
        """Answer for a word of the vocabulary; for the vocabulary itself if there is none."""
        word, form = self._form(request, word, form_name, lambda each: each in self.resources.words)
        if form is None:
            return _not_acceptable()
        graph = self.resources.describe_term(word)
        if not len(graph):
            return self._missing(request, form, f"The vocabulary has no word {word[:80]!r}.", suggest(word, self.resources.words))
        if form.name == "html":
            return self._page(request, self.pages.term(f"vocabulary {word}".strip(), self._triples(graph)), form)
        return self._graph(request, graph, form)

    def _form(self, request: Request, path: str, form_name: str, known: Callable[[str], bool]) -> tuple[str, Form | None]:
        """The path without its suffix, and the form: by `format`, by suffix, or by the Accept header; None if there is no such form."""
        stem, _, suffix = path.rpartition(".")
        by_suffix = None if known(path) else next((form for form in FORMS if form.name == suffix), None)
        path = stem if by_suffix else path
        if form_name:
            return path, named(form_name, FORMS)
        return path, by_suffix or chosen(accepted(request), FORMS)

    def _graph(self, request: Request, graph: Graph, form: Form) -> Response:
        from lenticel.serialise import as_json_ld, serialised

        body = as_json_ld(graph, context.terms(), context.ADDRESS) if form.name == "jsonld" else serialised(graph, RDFLIB[form.name])
        return self.dress.bytes(request, body, form.content_type, form=form.name)

    def _page(self, request: Request, page: str, form: Form) -> Response:
        return self.dress.bytes(request, page.encode(), form.content_type, form=form.name)

    def _triples(self, graph: Graph) -> list[tuple[str, str, str]]:
        """The triples of a graph about one thing as text, without its blank nodes."""
        from rdflib import BNode

        rows = sorted(
            (str(subject), str(verb), str(value)) for subject, verb, value in graph if not isinstance(subject, BNode) and not isinstance(value, BNode)
        )
        return sorted(rows, key=lambda row: not row[1].endswith("#label"))

    def _missing(self, request: Request, form: Form, detail: str, fix: str) -> Response:
        fix = fix or "Start at / for what there is."
        if form.name != "html":
            raise UnknownTerm(detail, fix)
        return self.dress.page(request, self.pages.missing(detail, fix), 404)

    def _retired(self, request: Request, successor: str, form: Form) -> Response:
        detail, fix = "This identifier was retired.", f"Use {successor} in its place."
        headers = {"link": f'<{successor}>; rel="successor-version"', "vary": "accept, accept-encoding"}
        if form.name == "html":
            return self.dress.page(request, self.pages.retired(detail, successor), 410, headers)
        return problems.problem(410, "gone", detail, fix, headers=headers, successor=successor)


def _rest(request: Request, base: str) -> str:
    """The path below a base as it was sent; the router's own pattern leaves out a line end."""
    return str(request.scope["path"]).removeprefix(base)


def _not_acceptable() -> Response:
    forms = [form.media_type for form in FORMS]
    return problems.problem(406, "not-acceptable", "There is no such form.", "Accept one of `forms`.", headers={"vary": "accept"}, forms=forms)


def add(app: FastAPI, snapshot: Snapshot, plain: Snapshot, dress: Dress, pages: Pages, retired: Mapping[str, str]) -> None:
    """Add the routes of this group. They come last: what stands below the knowledge's IRI is its own affair, and other routes go before."""
    linked = Linked(snapshot, plain, dress, pages, retired)
    base = urlsplit(linked.iri).path
    vocabulary = urlsplit(VOCABULARY).path

    @app.get(
        vocabulary + "{word:path}", operation_id="vocabularyWord", summary="A word of the vocabulary", tags=["linked data"],
        response_class=Response, responses=DOCUMENTED,
    )  # fmt: skip
    async def vocabulary_word(request: Request, word: Word, form: FormName = "") -> Response:
        return linked.word(request, _rest(request, vocabulary), form)

    @app.get(
        vocabulary.rstrip("/"), operation_id="vocabulary", summary="The vocabulary itself", tags=["linked data"],
        response_class=Response, responses=DOCUMENTED,
    )  # fmt: skip
    async def vocabulary_itself(request: Request, form: FormName = "") -> Response:
        return linked.word(request, "", form)

    @app.get(
        urlsplit(context.BASE).path + "{version}", operation_id="context", summary="The JSON-LD context in one of its versions, each frozen",
        tags=["linked data"], response_class=Response, responses={200: {"content": {"application/ld+json": {"schema": {"type": "object"}}}}},
    )  # fmt: skip
    async def get_context(request: Request, version: Key) -> Response:
        if version not in context.VERSIONS:
            raise UnknownTerm(f"There is no context {version[:60]!r}.", suggest(version, context.VERSIONS) or f"Use one of: {', '.join(context.VERSIONS)}.")
        return dress.bytes(request, context.context_text(version).encode(), "application/ld+json")

    @app.get(
        base + "{path:path}", operation_id="thing", summary="Anything that has an IRI, at the path of that IRI", tags=["linked data"],
        response_class=Response, responses=DOCUMENTED,
    )  # fmt: skip
    async def thing(request: Request, path: ThingPath, form: FormName = "") -> Response:
        return linked.thing(request, _rest(request, base), form)
