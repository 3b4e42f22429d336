"""Routes whose handler takes nothing but the request, called at once: what the framework does to find parameters costs as much as reading a question."""

from __future__ import annotations

import inspect

from fastapi import FastAPI, Request, Response
from fastapi.routing import APIRoute
from starlette.types import ASGIApp, Receive, Scope, Send

from lenticel.api.parameters import known_parameters


def lay_bare(app: FastAPI) -> None:
    """Call each such handler of an app at once, after the same look at its address; errors it raises are answered as ever. Routes must all have been added."""
    for route in app.routes:
        if isinstance(route, APIRoute) and _takes_the_request_alone(route):
            route.app = _called(route)


def _takes_the_request_alone(route: APIRoute) -> bool:
    told = inspect.signature(route.endpoint)
    looks = [each.call for each in route.dependant.dependencies]
    named = (each.annotation for each in told.parameters.values())
    return inspect.iscoroutinefunction(route.endpoint) and [*named, told.return_annotation] == ["Request", "Response"] and looks == [known_parameters]


def _called(route: APIRoute) -> ASGIApp:
    handler = route.endpoint

    async def called(scope: Scope, receive: Receive, send: Send) -> None:
        request = Request(scope, receive, send)
        await known_parameters(request)
        response: Response = await handler(request)
        await response(scope, receive, send)

    return called
