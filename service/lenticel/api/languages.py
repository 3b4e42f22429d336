"""The labels of answers and pages in the language that a request asks for: an app of the same knowledge for each, made when first asked for."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection
from functools import lru_cache
from typing import Any
from urllib.parse import parse_qs

from starlette.types import ASGIApp, Receive, Scope, Send

from lenticel.api.made import Made
from lenticel.errors import LenticelError
from lenticel.model import ENGLISH
from lenticel.negotiate import language_wanted
from lenticel.notation import Misfit
from lenticel.problems import before_routes

TAG = re.compile(r"[A-Za-z]{1,8}(-[A-Za-z0-9]{1,8}){0,7}")  # the shape of a language range (RFC 4647, 2.1)
REMEMBERED = 256  # headers; browsers send few different ones
PARAMETER: dict[str, Any] = {
    "name": "lang", "in": "query", "required": False, "schema": {"type": "string", "maxLength": 71, "pattern": f"^({TAG.pattern})?$", "default": ""},
    "description": "Language of the labels of taxa, in place of Accept-Language; where there is no name in it the English label, or the scientific name. "
    "Characters, states and all other words stay English.",
    "example": ENGLISH,
}  # fmt: skip


class Languages:
    """Hands a request that asks for another language than English to the app whose labels are in it; all others go on as they are."""

    def __init__(self, app: ASGIApp, there: Collection[str], make: Callable[[str], ASGIApp]) -> None:
        """`there` are the languages that labels can be had in; `make` makes the app of one."""
        self.app = app
        self._made = Made(make, most=len(there))
        self._wanted = lru_cache(maxsize=REMEMBERED)(lambda accept: language_wanted(accept, there))

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        app = self.app
        if scope["type"] == "http":
            try:
                language: str = self._wanted(_asked(scope))
                if language not in ("", ENGLISH):
                    app = await self._made.of(language)
            except LenticelError as error:
                await before_routes(error)(scope, receive, send)
                return
        await app(scope, receive, send)


def _asked(scope: Scope) -> str:
    """The language that the address names, else the header; "" if neither does.

    Raises:
        Misfit: what the address names has not the shape of a language.
    """
    if b"lang=" in scope["query_string"]:
        named = parse_qs(str(scope["query_string"], "latin-1")).get("lang", [""])[0]
        if named and not TAG.fullmatch(named):
            raise Misfit([("/lang", "it is no language tag; write it as in `en` or `fr-CA`")])
        if named:
            return named
    return ",".join(value.decode("latin-1") for name, value in scope["headers"] if name == b"accept-language")
