"""What the OpenAPI document says beyond the code: examples that work with this very knowledge, and problem details as the only errors."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from pydantic import TypeAdapter

from lenticel.context import VERSIONS
from lenticel.errors import BadQuantity
from lenticel.lines import ClaimAnswer, Closing, PlantAnswer
from lenticel.model import SEASONS, Character, Knowledge, Statement
from lenticel.paths import path_of
from lenticel.prior import REGIONS
from lenticel.quantity import parse_printed, plain
from lenticel.refused import REASONS
from lenticel.requests import LINES, QUESTIONS, ObservationIn, Strict

REF = "#/components/schemas/{model}"
LINES_TYPE = "application/x-ndjson"
PROBLEM: dict[str, Any] = {
    "type": "object",
    "description": "Problem details (RFC 9457).",
    "required": ["type", "title", "status", "detail", "code", "fix"],
    "properties": {
        "type": {"type": "string", "format": "uri-reference", "description": "Opens: what the code means."},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "detail": {"type": "string", "description": "What is wrong this time."},
        "code": {"type": "string", "description": "Stable across releases."},
        "fix": {"type": "string", "description": "What to do."},
        "id": {"type": "string", "description": "Under which the log has it."},
        "errors": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["pointer", "detail"],
                "properties": {"pointer": {"type": "string", "description": "JSON pointer into the request."}, "detail": {"type": "string"}},
            },
        },
    },
}
PROBLEM_RESPONSE = {"description": "Problem details.", "content": {"application/problem+json": {"schema": {"$ref": REF.format(model="Problem")}}}}
QUERY_STATUSES = {"414", *(str(status) for status, *_ in REASONS.values())}
QUESTION = "question"  # the parameter of a link that holds a question
MAX_LINK = 4000  # characters, which take up to 48 KB of an address; a longer question is sent as a body
MAX_FIGURE = 8  # figures converted from other units run to 60 digits, which shows nothing
PARAMETERS: dict[str, Any] = {
    "format": "ttl",
    "wild": False,
    "every_rank": False,
    "season": SEASONS[-1],
    "month": 2,
    "explain": 3,
    "excluded": 10,
    "region": "",
} | {
    "form": "json",
    "rows": 5,
    "seed": 1,
    "count": 3,
    "level": "",
    "settled": False,
    "limit": 5,
    "cursor": "",
    **dict.fromkeys(("taxon", "character", "source"), ""),
    "question.format": "json",
    "question.values": {},
}
LINE_ANSWERS: tuple[type[Any], ...] = (PlantAnswer, ClaimAnswer, Closing)
TYPICAL = ("always", "usually", "often", "")


@dataclass(frozen=True)
class Examples:
    """Bodies by the question that they ask, lines likewise, values by parameter name (that of its operation before it, where it means something else
    there), and keys for paths by operation; each of them is answered with 200."""

    bodies: dict[str, dict[str, Any]] = field(
        default_factory=lambda: {
            "IdentifyRequest": {"observations": [], "wild": False},
            "DoubtRequest": {"observations": [], "wild": False},
            "WhyRequest": {"taxa": [], "observations": []},  # only a knowledge without taxa leaves it so
            "ClaimsRequest": {"claims": []},
            "NextRequest": {"observations": [], "season": SEASONS[1]},
            "KeyRequest": {"taxa": []},
        }
    )
    lines: dict[str, str] = field(default_factory=lambda: {"PlantLine": '{"observations":[]}\n', "ClaimLine": ""})
    parameters: dict[str, Any] = field(default_factory=lambda: dict(PARAMETERS))
    keys: dict[str, str] = field(
        default_factory=lambda: {
            "problem": "unknown-term",
            "vocabularyWord": "Statement",
            "file": "page.css",
            "thing": "ontology",
            "context": VERSIONS[-1],
            "answerContext": "Answer",
        }
    )


def body_of(model: type[Strict]) -> dict[str, Any]:
    """What the document says of an operation whose body holds a question, one of `requests.QUESTIONS`."""
    return {"requestBody": {"required": True, "content": {"application/json": {"schema": {"$ref": REF.format(model=model.__name__)}}}}}


def link_of(model: type[Strict]) -> dict[str, Any]:
    """What the document says of an operation whose question stands in a link, as the JSON that a body would hold."""
    schema = {"type": "string", "maxLength": MAX_LINK, "contentMediaType": "application/json", "contentSchema": {"$ref": REF.format(model=model.__name__)}}
    about = "The question as JSON, as the operation with a body takes it; what is said of places in it counts from its own root."
    return {"parameters": [{"name": QUESTION, "in": "query", "required": True, "description": about, "schema": schema}]}


def lines_of(question: type[Strict], answer: str) -> dict[str, Any]:
    """What the document says of an operation whose body holds many questions, each a line, one of `requests.LINES`.

    OpenAPI 3.1 has no word for what each line of a text is; `x-line` says it.
    """

    def body(lines: dict[str, Any]) -> dict[str, Any]:
        return {LINES_TYPE: {"schema": {"type": "string", "description": "A JSON text a line, each ended by a line feed.", "x-line": lines}}}

    asked = {"required": True, "content": body({"$ref": REF.format(model=question.__name__)})}
    told = body({"anyOf": [{"$ref": REF.format(model=answer)}, {"$ref": REF.format(model=Closing.__name__)}]})
    return {"openapi_extra": {"requestBody": asked}, "responses": {200: {"description": "A line an answer, in order, and a closing line.", "content": told}}}


def examples_from(known: Knowledge) -> Examples:
    """Examples made of what is stated of the lowest taxon of which most is stated: a plant of it as somebody might see it.

    Args:
        known: the knowledge that will be asked; an empty one gives the examples that need no term.
    """
    found = Examples()
    by_taxon: dict[str, list[Statement]] = {key: [] for key in known.terminal}
    for statement in known.statements.values():
        by_taxon.get(statement.taxon, []).append(statement)
    ranked = sorted((key for key in by_taxon if by_taxon[key]), key=lambda key: -len(by_taxon[key]))
    if not ranked:
        return found
    said = by_taxon[ranked[0]]
    rows = list(_observations(known, said))
    found.bodies["IdentifyRequest"]["observations"] = rows
    found.bodies["DoubtRequest"]["observations"] = rows
    found.bodies["WhyRequest"] = {"taxa": ranked[-1:], "observations": rows}
    found.bodies["NextRequest"]["observations"] = rows[:1]
    found.bodies["KeyRequest"] = {"taxa": ranked[:4], "season": SEASONS[1]}
    found.parameters.update(taxon=ranked[0], character=said[0].character, source=said[0].source)
    found.parameters["seen"] = ["{}={}".format(*ObservationIn.model_validate(row).row()) for row in rows[:2]]
    found.parameters["taxa"] = _compared(known, ranked)
    found.parameters["region"] = next((each.id for key in REGIONS if key in known.characters for each in known.states_of(key)), "")
    found.parameters["group"] = found.parameters["taxa"]
    found.bodies["ClaimsRequest"] = {"claims": [{"taxon": each.taxon, "character": each.character, "value": each.value} for each in said[:3]]}
    found.lines["PlantLine"] = _as_lines({"plant": "a", "observations": rows}, {"plant": "b", "observations": rows[:1], "taxon": ranked[0]})
    found.lines["ClaimLine"] = _as_lines(*found.bodies["ClaimsRequest"]["claims"])
    found.keys.update(account=ranked[0], character=said[0].character, source=said[0].source, statement=said[0].id, thing=path_of("taxa", ranked[0]))
    return found


def _as_lines(*rows: dict[str, Any]) -> str:
    return "".join(json.dumps(row, ensure_ascii=False) + "\n" for row in rows)


def _compared(known: Knowledge, ranked: list[str]) -> list[str]:
    """Two taxa that a source says are mistaken, if any, else the two of which most is stated."""
    pairs = [[key for key in each.taxa if key in ranked] for each in known.lookalikes.values()]
    return next((pair[:2] for pair in pairs if len(pair) > 1), ranked[:2])


def _observations(known: Knowledge, said: list[Statement]) -> Iterator[dict[str, Any]]:
    """At most one observation in each form: states, the text form, a measured value, an absence."""
    forms = {"absent": _absent, "measured": _measured, "states": _states, "value": _value}
    used: set[str] = set()
    for statement in said:
        character = known.characters[statement.character]
        if character.force != "diagnostic" or statement.frequency not in TYPICAL or character.id in used:
            continue
        for form, row in list(forms.items()):
            observation = row(character, statement)
            if observation:
                del forms[form]
                used.add(character.id)
                yield {"character": character.id, **observation}
                break


def _absent(character: Character, statement: Statement) -> dict[str, Any]:
    return {"absent": True} if character.kind == "states" and statement.states == ("absent",) else {}


def _measured(character: Character, statement: Statement) -> dict[str, Any]:
    if character.kind != "measure":
        return {}
    try:
        printed = parse_printed(statement.value, character.unit)
    except BadQuantity:
        return {}
    bound = printed.lo if printed.lo is not None else printed.hi
    if not bound or len(plain(bound)) > MAX_FIGURE:
        return {}
    return {"measured": plain(bound), "uncertainty": plain(bound / 10), "unit": character.unit}


def _states(character: Character, statement: Statement) -> dict[str, Any]:
    return {"states": [statement.states[0]]} if character.kind == "states" else {}


def _value(character: Character, statement: Statement) -> dict[str, Any]:
    return {"value": statement.value} if character.kind == "states" and len(statement.states) > 1 else {}


def describe(app: FastAPI, known: Knowledge, saved: str = "", common: Sequence[dict[str, Any]] = ()) -> None:
    """Give the app an OpenAPI document with examples, and with problem details in place of the framework's own errors.

    Args:
        app: the app, its routes all added.
        known: what it answers from, of which the examples are made.
        saved: the name of a saved question whose answer is a table; "" if there is none.
        common: parameters that every operation takes that answers with labels; they are looked at before the routes.
    """

    def document() -> dict[str, Any]:
        if app.openapi_schema:
            return app.openapi_schema
        schema = get_openapi(title=app.title, version=app.version, summary=app.summary, description=app.description, routes=app.routes)
        schemas = schema.setdefault("components", {}).setdefault("schemas", {})
        for name in ("HTTPValidationError", "ValidationError"):
            schemas.pop(name, None)
        for answer in LINE_ANSWERS:
            told = TypeAdapter(answer).json_schema(ref_template=REF, mode="serialization")
            schemas.update({**told.pop("$defs", {}), answer.__name__: told})
        for model in (*QUESTIONS, *LINES):
            question = model.model_json_schema(ref_template=REF)
            schemas.update({**question.pop("$defs", {}), model.__name__: question})
        schemas["Problem"] = PROBLEM
        examples = examples_from(known)
        examples.keys.update({"question": saved} if saved else {})
        for path, methods in schema["paths"].items():
            for method, operation in methods.items():
                if operation["operationId"] == "thing" or not {"service", "linked data"} & set(operation["tags"]):
                    operation.setdefault("parameters", []).extend(map(dict, common))
                _operation(operation, method, examples)
                if path.startswith("/v1/"):
                    _linked(operation["responses"]["200"]["content"])
        app.openapi_schema = schema
        return schema

    app.openapi = document  # type: ignore[method-assign]


def _operation(operation: dict[str, Any], method: str, examples: Examples) -> None:
    name = operation["operationId"]
    parameters = operation.get("parameters", [])
    for parameter in parameters:
        own = examples.parameters.get(parameter["name"])
        example = examples.keys.get(name) if parameter["in"] == "path" else examples.parameters.get(f"{name}.{parameter['name']}", own)
        if "contentSchema" in parameter["schema"]:
            example = json.dumps(examples.bodies[_model(parameter["schema"]["contentSchema"])], ensure_ascii=False)
        if example is not None and "example" not in parameter:
            parameter["example"] = example
    responses = operation["responses"]
    for status in _statuses(operation, method):
        responses[status] = PROBLEM_RESPONSE
    if method == "get" and name not in ("health", "ready"):
        responses["304"] = {"description": "Not changed since the ETag given."}
    content = operation.get("requestBody", {}).get("content", {}).get("application/json")
    if content:
        content["example"] = examples.bodies[_model(content["schema"])]
    content = operation.get("requestBody", {}).get("content", {}).get(LINES_TYPE)
    if content:
        content["example"] = examples.lines[_model(content["schema"]["x-line"])]


def _model(schema: dict[str, Any]) -> str:
    """The name of the question that a schema refers to."""
    return str(schema["$ref"].rpartition("/")[2])


def _linked(content: dict[str, Any]) -> None:
    """Say that an answer in JSON can be had as JSON-LD: an object as it is, with `@context` and `@id` besides; an array as the graph of one."""
    if "application/json" in content:
        schema = content["application/json"]["schema"]
        graph = {"type": "object", "required": ["@context", "@graph"], "properties": {"@context": {"type": "object"}, "@graph": schema}}
        content["application/ld+json"] = {"schema": graph if schema.get("type") == "array" else schema if "$ref" in schema else {"type": "object"}}


def _statuses(operation: dict[str, Any], method: str) -> list[str]:
    """The statuses of the problems that an operation may answer with."""
    if operation["operationId"] == "ready":
        return ["413", "503"]
    if "sparql" in operation["tags"] and "service" in operation["tags"]:
        return sorted(QUERY_STATUSES | ({"404", "422"} if operation["operationId"] == "question" else set()))
    streamed = LINES_TYPE in operation.get("requestBody", {}).get("content", {})
    found = ({"429"} if streamed else {"413"}) | ({"400", "415"} if method == "post" else set()) | ({"414"} if operation.get("parameters") else set())
    if operation.get("parameters") or method == "post" or "service" not in operation["tags"]:
        found.add("422")
    if any("contentSchema" in parameter["schema"] for parameter in operation.get("parameters", [])):
        found.add("400")
    if any(parameter["in"] == "path" for parameter in operation.get("parameters", [])):
        found.add("404")
    if any(parameter["name"] == "cursor" for parameter in operation.get("parameters", [])):
        found.add("410")
    if any(parameter["name"] == "lang" for parameter in operation.get("parameters", [])):
        found |= {"404", "410", "503"}
    if any(parameter["name"] == "format" for parameter in operation.get("parameters", [])):
        found |= {"406", "410"} if operation["operationId"] == "thing" else {"406"}
    return sorted(found)
