"""What the routes take: their parameters in words, and what is refused."""

from __future__ import annotations

from collections import Counter
from collections.abc import Awaitable, Callable
from itertools import zip_longest
from typing import Annotated

from fastapi import Path, Query, Request

from lenticel.negotiate import sent_as
from lenticel.notation import Misfit, pointer
from lenticel.requests import HELPED, MAX_OBSERVATIONS, Question, WrongType, offered, parse_request
from lenticel.told import tell

Key = Annotated[str, Path(max_length=200, description="Identifier.")]
TaxonKey = Annotated[str, Path(max_length=200, description="Identifier, or scientific or common name.")]
Seen = Annotated[list[Annotated[str, Query(max_length=600)]], Query(description="`character=value`, as often as needed.", max_length=MAX_OBSERVATIONS)]
Taxa = Annotated[list[Annotated[str, Query(max_length=200)]], Query(description="Identifier or name of a taxon, twice or more.", max_length=20)]
Season = Annotated[str, Query(max_length=20, description="Only what can be seen then: spring, summer, autumn or winter; any season if left out.")]
Wild = Annotated[bool, Query(description="True if nobody planted it, so that habitat and region exclude too.")]
Month = Annotated[int | None, Query(ge=1, le=12, description="The month in which it was seen; it makes some observations doubtful and never excludes.")]
Region = Annotated[str | None, Query(max_length=80, description="Where it stands, a state of the region characters; it orders and never excludes.")]
Explain = Annotated[int | None, Query(ge=0, le=10000, description="How many of those that remain, and of those that are out, to give with their marks.")]
Excluded = Annotated[int | None, Query(ge=0, le=10000, description="How many of those that are out to list, those with the fewest contradictions first.")]
EveryRank = Annotated[bool, Query(description="Judge genera and families as well.")]


async def known_parameters(request: Request) -> None:
    """Refuse a query with a parameter that the operation does not have, or one value too many, instead of answering another question.

    Raises:
        Misfit: with every such parameter.
    """
    tell(request.scope, operation=request.scope["route"].operation_id)
    if not request.scope["query_string"]:
        return
    operation = request.app.openapi()["paths"][request.scope["route"].path_format][request.method.lower()]
    if "service" in operation["tags"]:
        return
    many = {each["name"]: each["schema"].get("type") == "array" for each in operation.get("parameters", []) if each["in"] == "query"}
    counted = Counter(name for name, _ in request.query_params.multi_items())
    strange = [name for name in counted if name not in many]
    hints = [f"; {offered(name, many)}" for name in strange[:HELPED]]
    wrong = [(pointer((name,)), f"there is no such parameter{hint}") for name, hint in zip_longest(strange, hints, fillvalue="")]
    wrong += [(pointer((name,)), "give it once") for name, count in counted.items() if count > 1 and not many.get(name, True)]
    if wrong:
        raise Misfit(wrong)


def accepted(request: Request) -> str:
    """The Accept headers of a request as one."""
    return ",".join(request.headers.getlist("accept"))


def must_be(request: Request, media_type: str, name: str) -> None:
    """Refuse a body that is sent as anything but one media type in UTF-8; `name` says what that is.

    Raises:
        WrongType: it is.
    """
    if sent_as(request.headers.get("content-type", "")) != media_type:
        raise WrongType(f"The body is not sent as {name} in UTF-8.", f"Send the header content-type: {media_type}.")


def sent(model: type[Question]) -> Callable[[Request], Awaitable[Question]]:
    """What reads a question out of the body of a request; it raises WrongType, BadJson or Misfit if the body holds none."""

    async def body_sent(request: Request) -> Question:
        must_be(request, "application/json", "JSON")
        return parse_request(await request.body(), model)

    return body_sent
