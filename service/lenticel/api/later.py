"""Routes whose answers pydantic looks at only once somebody asks for the OpenAPI document: a tenth of the time until a service answers went into that."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import is_dataclass
from typing import Any

from fastapi.routing import APIRoute
from pydantic import ConfigDict


class Later(APIRoute):
    """A route whose handler makes its answer itself, so that the model of that is for the document alone."""

    def __init__(self, path: str, endpoint: Callable[..., Any], *, response_model: Any = None, **about: Any) -> None:
        """As any other route."""
        if is_dataclass(response_model):
            setattr(response_model, "__pydantic_config__", ConfigDict(defer_build=True))  # noqa: B010
        super().__init__(path, endpoint, response_model=response_model, **about)
