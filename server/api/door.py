"""The JSON door: what `server/app.py` opens when something below /api is asked for."""

from __future__ import annotations

from fastapi import APIRouter, FastAPI

from server.api import bench, bridge, club, frames, logbook, observers, scout, share, shelf, sky, stars
from server.handed.routing import put_on

STATIONS: tuple[APIRouter, ...] = (
    observers.router,
    shelf.router,
    bench.router,
    bridge.router,
    stars.router,
    frames.router,
    sky.router,
    scout.router,
    logbook.router,
    share.router,
)


def open_operations(app: FastAPI, *, hosted: bool = False) -> None:
    """Put all operations on the app: where it is `hosted` those of a club, and elsewhere those that show who
    else is there.
    """
    put_on(app, (club.router if hosted else observers.everyone, *STATIONS))
