"""What the framework builds of a route for an app, built once for all apps of a test run.

It does so with the first request of each app, 2 ms a route, for all routes up to the one that is asked; each
test has an app of its own, and there are two hundred routes.
"""

from __future__ import annotations

from typing import Any

from fastapi import routing
from starlette.routing import BaseRoute


def share_routes() -> None:
    """Lets apps share it where a route is put in alike. Nothing in it but the app's overrides of dependencies
    is of one app, and there are none here.
    """
    build = routing._IncludedRouter._build_effective_context
    built: dict[tuple[Any, ...], tuple[BaseRoute, Any]] = {}

    def shared(self: routing._IncludedRouter, route: BaseRoute) -> Any:
        put = self.include_context
        before = tuple(one.dependency for one in put.dependencies)
        key = (id(route), put.prefix, put.include_in_schema, before, put.max_body_size)
        if key not in built:
            # The route is kept with it, so that its id is given to no other.
            built[key] = route, build(self, route)
        return built[key][1]

    routing._IncludedRouter._build_effective_context = shared  # type: ignore[method-assign]
