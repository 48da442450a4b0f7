"""The HTML door but for the first page: what `server/app.py` opens once that one is out."""

from __future__ import annotations

from fastapi import APIRouter, FastAPI

from server.handed.routing import put_on
from server.web.bench import routes as bench
from server.web.bridge import kit_routes as kit
from server.web.bridge import routes as bridge
from server.web.frames import routes as frames
from server.web.load import routes as load
from server.web.logbook import routes as logbook
from server.web.scout import routes as scout
from server.web.share import routes as share
from server.web.shelf import csv, drawer
from server.web.shelf import routes as shelf
from server.web.sky import kept_routes, list_routes, plan_routes
from server.web.sky import routes as sky
from server.web.stars import routes as stars
from server.web.welcome import routes as welcome

PAGES: tuple[APIRouter, ...] = (
    welcome.router,
    # Before the pages of single parts, whose addresses would otherwise take these in.
    csv.router,
    drawer.router,
    shelf.router,
    # Before the bench, whose rigs are numbers: "kit" and "stars" are none.
    kit.router,
    stars.router,
    bench.router,
    frames.router,
    load.router,
    bridge.router,
    kept_routes.router,
    list_routes.router,
    plan_routes.router,
    sky.router,
    scout.router,
    logbook.router,
    share.router,
    share.share_router,
)
"""A router a place."""

SHARE_PAGES: tuple[APIRouter, ...] = (share.share_router,)
"""All that the network sees."""


def open_pages(app: FastAPI, *, hosted: bool = False) -> None:
    """Put every page on the app; where it is `hosted`, nothing that shows who else is there."""
    put_on(app, (*(() if hosted else (welcome.choice,)), *PAGES))
