"""The HTML door to the sky, the Scout and one's own frames: it is opened when one of them is asked for."""

from __future__ import annotations

from fastapi import APIRouter, FastAPI

from server.handed.routing import put_on
from server.web.frames import routes as frames
from server.web.scout import routes as scout
from server.web.sky import kept_routes, list_routes, plan_routes
from server.web.sky import routes as sky

PAGES: tuple[APIRouter, ...] = (
    frames.router,
    kept_routes.router,
    list_routes.router,
    plan_routes.router,
    sky.router,
    scout.router,
)
"""A router a place."""


def open_sky_pages(app: FastAPI) -> None:
    """Put these pages on the app."""
    put_on(app, PAGES)
