"""The HTML door but for the first page and those of `sky_doors`: it is opened once the first page is out."""

from __future__ import annotations

from fastapi import APIRouter, FastAPI

from server.handed.routing import put_on
from server.web.bench import routes as bench
from server.web.bridge import kit_routes as kit
from server.web.bridge import routes as bridge
from server.web.load import routes as load
from server.web.logbook import routes as logbook
from server.web.share import routes as share
from server.web.shelf import csv, drawer
from server.web.shelf import routes as shelf
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
    load.router,
    bridge.router,
    logbook.router,
    share.router,
    share.share_router,
)
"""A router a place."""

SHARE_PAGES: tuple[APIRouter, ...] = (share.share_router,)
"""All that the network sees."""


def open_pages(app: FastAPI, *, hosted: bool = False) -> None:
    """Put these pages on the app; where it is `hosted`, nothing that shows who else is there."""
    put_on(app, (*(() if hosted else (welcome.choice,)), *PAGES))
