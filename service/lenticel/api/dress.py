"""Answers as responses: JSON, JSON-LD or another form, with validators, compressed if the client takes that."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from email.utils import format_datetime
from functools import lru_cache
from typing import Any

import orjson
from fastapi import Request, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from lenticel.answers import as_json
from lenticel.api.asking import LOCATION
from lenticel.api.carried import carrying
from lenticel.api.coding import SMALLEST, Coded, coding_for
from lenticel.api.parameters import accepted
from lenticel.api.unchanged import SETTLED, is_had
from lenticel.context.kinds import address_of_context, context_of, kind_of, with_iris
from lenticel.model import ENGLISH
from lenticel.negotiate import Form, chosen
from lenticel.snapshot import Snapshot
from lenticel.version import __version__

VALIDATORS = ("etag", "last-modified")
KINDS = 256  # of answers, whose headers are kept
FORMS = (Form("json", "application/json"), Form("jsonld", "application/ld+json"))
SEALED = (
    "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; img-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)


@dataclass(frozen=True, slots=True)
class Kind:
    """What answers of one media type, form and coding have in common: the ETag, the headers, and these as they go out, since encoding them takes time."""

    tag: str
    headers: Mapping[str, str]
    before: list[tuple[bytes, bytes]]
    content_type: tuple[bytes, bytes]


class Dress:
    """Makes answers responses. A snapshot never changes, so that an address and a coding have one content for ever.

    That is why the ETag can be strong (RFC 9110, 8.8.1): it names the knowledge, the code, the language of labels and the coding. What is answered to a
    POST and has neither a link nor a tag of its own lies at no address, so that no validator would name it (9.3.3).
    """

    def __init__(self, snapshot: Snapshot, language: str = ENGLISH) -> None:
        self._iri = snapshot.knowledge.about.iri
        self._links: dict[Any, Mapping[str, str]] = {}
        self._tag = f"{snapshot.digest[:40]}-{__version__}{'' if language == ENGLISH else f'-{language}'}"
        self._kind = lru_cache(KINDS)(self._kind_of)
        issued = snapshot.knowledge.about.issued
        self._headers = {
            "cache-control": "no-cache", "content-language": ", ".join(dict.fromkeys((language, ENGLISH))), "x-content-type-options": "nosniff",
            "vary": "accept-encoding, accept-language", "x-lenticel-release": snapshot.digest,
        }  # fmt: skip
        if issued:
            self._headers["last-modified"] = format_datetime(datetime.fromisoformat(issued).replace(tzinfo=UTC), usegmt=True)

    def __call__(self, request: Request, content: Any, more: Mapping[str, str] | None = None, tag: str = "") -> Response:
        """The response to a request: as JSON that names its context (JSON-LD 1.1, 6.1), or as JSON-LD that holds it, if the client likes that better.

        Args:
            request: the request; the response model of its route says what kind of answer it is.
            content: the answer, or its JSON.
            more: further headers.
            tag: names the content, where knowledge, code, address and form do not settle it.
        """
        body = content if isinstance(content, bytes) else as_json(content)
        kind = kind_of(request.scope["route"].response_model)
        accept = accepted(request)
        if "ld+json" not in accept or chosen(accept, FORMS) is not FORMS[1]:
            link = self._link(kind)
            return self.bytes(request, body, FORMS[0].media_type, form="json", tag=tag, more=_joined(link, more) if more else link)
        told = with_iris(orjson.loads(body), kind, self._iri)
        told = told if isinstance(told, dict) else {"@graph": told}
        return self.bytes(request, as_json({"@context": context_of(kind, self._iri), **told}), FORMS[1].media_type, form="jsonld", tag=tag, more=more)

    def tag_of(self, content: bytes) -> str:
        """What names a content that knowledge and code do not settle."""
        return f"{self._tag}.{hashlib.blake2s(content, digest_size=8).hexdigest()}"

    def _link(self, kind: Any) -> Mapping[str, str]:
        """The header that names the context of a kind of answer."""
        if kind not in self._links:
            address = address_of_context(kind, self._iri)
            self._links[kind] = {"link": f'<{address}>; rel="http://www.w3.org/ns/json-ld#context"; type="application/ld+json"'}
        return self._links[kind]

    def bytes(self, request: Request, content: bytes, media_type: str, *, form: str = "", tag: str = "", more: Mapping[str, str] | None = None) -> Response:
        """The response to a request, of any media type; nothing but 304 to a caller that has it already (RFC 9110, 13.1.2).

        Args:
            request: the request.
            content: the answer.
            media_type: what it is.
            form: which of the forms of this address it is, where the Accept header decides between several.
            tag: names the content, where knowledge, code, address and form do not settle it.
            more: further headers.
        """
        if media_type.startswith("text/html"):
            content = carrying(content, request.query_params.get("lang", ""))
        coding = coding_for(request.headers.get("accept-encoding", "")) if len(content) >= SMALLEST else ""
        asked_by_address = request.method == "GET"
        kind = self._kind(media_type, form, coding, tag, tuple(more.items()) if more else (), asked_by_address or bool(tag) or LOCATION in request.scope)
        if asked_by_address:
            request.scope[SETTLED] = not tag
            if is_had(request.headers.get("if-none-match", ""), kind.tag):
                return Response(status_code=304, headers=kind.headers)
        response = Coded(content, coding) if coding else Response(content)
        response.raw_headers = [*kind.before, *response.raw_headers, kind.content_type]
        if LOCATION in request.scope:
            response.headers["content-location"] = request.scope[LOCATION]
        return response

    def _kind_of(self, media_type: str, form: str, coding: str, tag: str, more: tuple[tuple[str, str], ...], lasts: bool) -> Kind:
        tag = f'"{tag or self._tag}{"-" + form if form else ""}{"-" + coding if coding else ""}"'
        headers = {**self._headers, **dict(more), "etag": tag}
        if form:
            headers["vary"] = "accept, accept-encoding, accept-language"
        if media_type.startswith("text/html"):
            headers |= {"content-security-policy": SEALED, "referrer-policy": "no-referrer"}
        if not lasts:
            headers = {name: value for name, value in headers.items() if name not in VALIDATORS}
        *before, _, content_type = Response(headers=headers, media_type=media_type).raw_headers
        return Kind(tag, headers, before, content_type)

    def page(self, request: Request, page: str, status: int, headers: Mapping[str, str] | None = None) -> Response:
        """A page that says what went wrong; nobody keeps it, but its links lead on in the language that the address names."""
        content = carrying(page.encode(), request.query_params.get("lang", ""))
        own = {"cache-control": "no-store", "content-security-policy": SEALED, "x-content-type-options": "nosniff", "vary": "accept, accept-encoding"}
        return Response(content, status, {**own, **(headers or {})}, "text/html")


def _joined(link: Mapping[str, str], more: Mapping[str, str]) -> Mapping[str, str]:
    """Headers together, both links in one (RFC 8288, 3.5)."""
    return {**link, **more, "link": ", ".join(each["link"] for each in (link, more) if "link" in each)}


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
