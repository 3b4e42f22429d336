"""Questions as routes: each as a body, and as a link that can be kept, sent on, and fetched by whatever follows links; one answer, the same bytes."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import Any, TypeVar
from urllib.parse import urlencode

from fastapi import FastAPI, Request, Response

from lenticel.api.parameters import sent
from lenticel.examples import QUESTION, body_of, link_of
from lenticel.notation import Misfit, pointer
from lenticel.requests import Question, parse_request

LOCATION = "lenticel.location"  # the key of a request's scope under which the link to its answer lies
LONGEST = 4096  # bytes of a link; what surely fits into a header wherever it passes
BY_LINK = "The same question as a link that can be kept"
Handler = TypeVar("Handler", bound=Callable[..., Response | Awaitable[Response]])


def asked(app: FastAPI, path: str, model: type[Question], *, operation_id: str, summary: str, **about: Any) -> Callable[[Handler], Handler]:
    """What adds the two routes of a question.

    Args:
        app: the app.
        path: the path of both.
        model: the question, one of `requests.QUESTIONS`.
        operation_id: the name of the operation that takes a body; that of the link has `ByLink` after it.
        summary: what is asked.
        about: what both have in common otherwise.
    """

    def add(handler: Handler) -> Handler:
        app.post(path, operation_id=operation_id, summary=summary, openapi_extra=body_of(model), **about)(handler)
        app.get(path, operation_id=f"{operation_id}ByLink", summary=BY_LINK, openapi_extra=link_of(model), **about)(handler)
        return handler

    return add


def given(model: type[Question]) -> Callable[[Request], Awaitable[Question]]:
    """What reads a question out of the body or the link of a request; it raises WrongType, BadJson or Misfit if there is none.

    The answer to a body will name the link under which it can be had again (Content-Location, RFC 9110, 8.7), unless that is too long for a header.
    """
    read = sent(model)

    async def question_given(request: Request) -> Question:
        if request.method == "GET":
            return parse_request(_of_link(request), model)
        found = await read(request)
        asked = [*request.query_params.multi_items(), (QUESTION, found.model_dump_json(exclude_unset=True))]
        link = f"{request.url.path}?{urlencode(asked)}"
        if len(link) <= LONGEST:
            request.scope[LOCATION] = link
        return found

    return question_given


def _of_link(request: Request) -> str:
    text = request.query_params.get(QUESTION)
    if text is None:
        raise Misfit([(pointer((QUESTION,)), "is missing")])
    return text
