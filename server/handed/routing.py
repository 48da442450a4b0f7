"""How the routes of both doors get onto an app: as their routers made them.

FastAPI's `include_router` makes each route a second time, with the validators of all its parameters, for each
app, when a request first comes near it: 750 of them here. So what stands before a route and whether
programs are told of it is said where its router is made, by `pages` and by server/api/naming.py.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import ExitStack
from functools import wraps
from inspect import iscoroutinefunction
from typing import Any

from fastapi import APIRouter, Depends, FastAPI, Request

from server.handed import Unopened


async def _checked(request: Request) -> None:
    """Let the app look at the request first, which may refuse it: the hosted form's `check_token`."""
    if request.app.state.check is not None:
        await request.app.state.check(request)


BEFORE = (Depends(_checked),)
"""What stands before every route."""


def _with_its_units(route: Callable[..., Any]) -> Callable[..., Any]:
    @wraps(route)
    def opened(**given: Any) -> Any:
        with ExitStack() as units:
            for name, value in given.items():
                if isinstance(value, Unopened):
                    given[name] = units.enter_context(value.opened())
            return route(**given)

    return opened


class Routes(APIRouter):
    """A router whose routes are handed their units of work open."""

    def add_api_route(self, path: str, endpoint: Callable[..., Any], **more: Any) -> None:
        """Add a route."""
        if not iscoroutinefunction(endpoint):
            endpoint = _with_its_units(endpoint)
        super().add_api_route(path, endpoint, **more)


def pages(prefix: str = "") -> Routes:
    """A router for pages and what is on them."""
    return Routes(prefix=prefix, include_in_schema=False, dependencies=BEFORE)


def put_on(app: FastAPI, routers: Iterable[APIRouter]) -> None:
    """Put the routers' routes on the app, in this order."""
    for router in routers:
        app.router.routes.extend(router.routes)
