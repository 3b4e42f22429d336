"""Which release answers: the one in force, or an older one that a request names and that is kept; and the name of it on every answer."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import parse_qs

from fastapi import FastAPI, Request, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from lenticel.answers import as_json
from lenticel.api.dress import Dress
from lenticel.api.made import Made
from lenticel.errors import BadRelease, BadSnapshot, LenticelError
from lenticel.notation import Misfit
from lenticel.problems import before_routes
from lenticel.releases import Release
from lenticel.requests import GoneRelease, UnknownRelease
from lenticel.snapshot import Snapshot

HEADER = b"x-lenticel-release"
NAME = re.compile(r"[0-9a-f]{16,64}")
QUERIED = ("/sparql", "/v1/questions", "/prefixes")
PARAMETER: dict[str, Any] = {
    "name": "release", "in": "query", "required": False, "schema": {"type": "string", "maxLength": 64, "pattern": f"^({NAME.pattern})?$", "default": ""},
    "description": "Digest of the knowledge that is to answer, or its first 16 digits or more; the one in force if empty.",
    "example": "",
}  # fmt: skip


class Shelf:
    """The releases that can be asked: the one in force, and those that are kept.

    Args:
        kept: lists the releases on disk, the newest first.
        make: makes the service over one of them.
        most: how many of them are held ready at a time; 0 to answer from the one in force alone.
    """

    def __init__(self, kept: Callable[[], Sequence[Release]] = tuple, make: Callable[[Release], ASGIApp] | None = None, most: int = 0) -> None:
        self._kept = kept if make and most else tuple
        self._seen: dict[str, Release] = {}  # by the names of their folders, those that are gone too
        self._made = Made(lambda name: make(self._seen[name]), most) if make else None

    def listed(self) -> list[Release]:
        """The releases that can be asked, each digest once."""
        there = self._kept()
        self._seen.update((each.id, each) for each in there)
        return list({each.digest: each for each in there}.values())

    def named(self, name: str, current: str) -> Release:
        """The release whose digest begins so.

        Raises:
            UnknownRelease: there is none.
            GoneRelease: it was there.
        """
        there = self.listed()
        found = next((each for each in there if each.digest.startswith(name)), None)
        if found:
            return found
        fix = f"Ask one of: {', '.join(dict.fromkeys([current[:16], *(each.digest[:16] for each in there[:20])]))}."
        if any(each.digest.startswith(name) for each in self._seen.values()):
            raise GoneRelease(f"The release {name[:16]} was kept and is no more.", fix, "/release")
        raise UnknownRelease(f"There is no release {name[:16]} here.", fix, "/release")

    async def service(self, name: str, current: str) -> ASGIApp:
        """The service over the release whose digest begins so; `current` is the digest of the one in force.

        Raises:
            UnknownRelease: there is none.
            GoneRelease: it was there, or is damaged.
        """
        release = await asyncio.to_thread(self.named, name, current)
        assert self._made  # else there would be none
        try:
            return await self._made.of(release.id)
        except (BadRelease, BadSnapshot) as error:
            raise GoneRelease(
                f"The release {name[:16]} cannot be read any more: {error.message}", f"Ask {current[:16]}, which is in force.", "/release"
            ) from None


class Releases:
    """Hands a request that names an older release to the service over it, and sees that every answer names its release."""

    def __init__(self, app: ASGIApp, digest: str, shelf: Shelf) -> None:
        """`digest` is that of the release that `app` answers from."""
        self.app, self._digest, self._shelf = app, digest, shelf
        self._named = (HEADER, digest.encode())

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        app = self.app
        if scope["type"] == "http":
            send = self._naming(send)
            try:
                name = _asked(scope)
                if name and not self._digest.startswith(name):
                    app = await self._older(scope["path"], name)
            except LenticelError as error:
                await before_routes(error)(scope, receive, send)
                return
        await app(scope, receive, send)

    async def _older(self, path: str, name: str) -> ASGIApp:
        if path.startswith(QUERIED):
            raise UnknownRelease("Queries are answered from the release in force alone.", "Leave the release out.", "/release")
        return await self._shelf.service(name, self._digest)

    def _naming(self, send: Send) -> Send:
        """What sends an answer on, with the name of the release where it has none yet."""

        async def sending(message: Message) -> None:
            if message["type"] == "http.response.start" and not any(name == HEADER for name, _ in message["headers"]):
                message = {**message, "headers": [*message["headers"], self._named]}
            await send(message)

        return sending


def _asked(scope: Scope) -> str:
    """What of a digest the address names, "" for nothing.

    Raises:
        Misfit: that is no part of a digest.
    """
    if b"release=" not in scope["query_string"]:
        return ""
    named = parse_qs(str(scope["query_string"], "latin-1")).get("release", [""])[0]
    if named and not NAME.fullmatch(named):
        raise Misfit([("/release", "it is no digest; write 16 to 64 of its digits, as answers have it in `digest`")])
    return named


@dataclass(frozen=True, slots=True)
class KeptRelease:
    """A release that can be asked: the digest and version of its knowledge, the day it was issued, and the address that asks it what it is."""

    digest: str
    version: str
    issued: str
    link: str


@dataclass(frozen=True, slots=True)
class KeptReleases:
    """The releases that can be asked; `digest` is that of the one that answers when none is named."""

    digest: str
    releases: tuple[KeptRelease, ...]


def add(app: FastAPI, snapshot: Snapshot, dress: Dress, shelf: Shelf) -> None:
    """Add the routes of this group."""
    about = snapshot.knowledge.about

    @app.get("/v1/releases", operation_id="listReleases", summary="The releases that can be asked", tags=["knowledge"], response_model=KeptReleases)
    def list_releases(request: Request) -> Response:
        # Not async: the folder of releases is read, which waits for the disk.
        found = {snapshot.digest: (about.version, about.issued)} | {each.digest: (each.version, each.issued) for each in shelf.listed()}
        answer = KeptReleases(snapshot.digest, tuple(KeptRelease(digest, *more, f"/v1/stats?release={digest}") for digest, more in found.items()))
        return dress(request, answer, tag=dress.tag_of(as_json(answer)))
