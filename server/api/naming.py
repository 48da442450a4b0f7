"""Names in the OpenAPI document that stay: programs are written against them."""

from __future__ import annotations

from fastapi.routing import APIRoute


def operation_id(route: APIRoute) -> str:
    """The name of the route's function: renaming a function renames the operation for all programs."""
    return route.name
