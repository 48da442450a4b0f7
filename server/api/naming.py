"""Addresses and names in the OpenAPI document that stay: programs are written against them."""

from __future__ import annotations

from fastapi.routing import APIRoute

from server.handed.routing import BEFORE, Routes


def operation_id(route: APIRoute) -> str:
    """The name of the route's function: renaming a function renames the operation for all programs."""
    return route.name


def operations(station: str, prefix: str = "") -> Routes:
    """A router for a station's operations, which stand below /api and this prefix."""
    return Routes(
        prefix=f"/api{prefix}",
        tags=[station],
        dependencies=BEFORE,
        generate_unique_id_function=operation_id,
    )
