"""What the last release promised to programs: `python -m tests.clients.release` takes the present state over, if it breaks no promise.

Kept are the OpenAPI document, and the JSON-LD contexts of the answers, which are frozen: an answer that somebody kept must mean the same for ever.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from fastapi import FastAPI

import lenticel
from lenticel.api import create_app
from lenticel.api.sparql import Endpoint
from lenticel.budgets import Budgets
from lenticel.context import terms
from lenticel.context.kinds import EARLIER, context_of, kind_of
from lenticel.places import ontology_folder
from lenticel.saved import saved_in
from tests.clients.breaks import breaks

RELEASED, CONTEXTS = (Path(__file__).with_name(name) for name in ("openapi.json", "contexts.json"))


def document_of() -> dict[str, Any]:
    """The present document, of the knowledge that Lenticel comes with, as it goes over the wire."""
    found: dict[str, Any] = json.loads(json.dumps(_app().openapi()))
    return found


def _app() -> FastAPI:
    """The service with all its operations, those of queries too, though nothing here would answer them."""
    return create_app(lenticel.load(), endpoint=Endpoint(Budgets(), saved_in(ontology_folder() / "questions")))


def contexts_of() -> dict[str, Any]:
    """The present contexts by the kind of answer; "" for that of graphs."""
    app, trees = _app(), lenticel.load()
    routes = [route for route in app.routes if str(getattr(route, "path", "")).startswith("/v1/")]
    answers = (kind for route in routes if (kind := kind_of(getattr(route, "response_model", None))) is not None)
    kinds = {kind.__name__: kind for kind in (*EARLIER, *answers)}
    return {"": terms(), **{name: context_of(kind, trees.knowledge.about.iri) for name, kind in kinds.items()}}


def changed(old: Any, new: Any, where: str = "") -> list[str]:
    """The terms of old contexts that are gone, or mean something else; new ones besides are no change."""
    if isinstance(old, dict) and isinstance(new, dict):
        return [fault for name, each in old.items() for fault in changed(each, new.get(name), f"{where}/{name}")]
    return [] if old == new else [f"{where}: {json.dumps(old)} has become {json.dumps(new)}"]


def read(path: Path) -> dict[str, Any]:
    """What was kept."""
    found: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return found


def take_over() -> str:
    """Keep the present state as that of the last release; the promises that it breaks, if there are any."""
    document, contexts = document_of(), contexts_of()
    faults = [*breaks(read(RELEASED), document), *changed(read(CONTEXTS), contexts)]
    if faults:
        return "Not taken over, since clients of the last release would break:\n" + "\n".join(faults)
    for path, told in ((RELEASED, document), (CONTEXTS, contexts)):
        path.write_text(json.dumps(told, indent=1, sort_keys=True, ensure_ascii=False) + "\n", encoding="utf-8")
    return ""


if __name__ == "__main__":
    sys.exit(take_over())
