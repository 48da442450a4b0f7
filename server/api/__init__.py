"""The JSON door, below /api: the same stations as the pages, over the same workbench, in its own schemas.

observers, shelf, bench, bridge, stars, frames, sky, scout, logbook, share
                                          a station each: what it takes, what it answers, its routes
findings                                  what a check says, raw and in the reader's units
reading                                   bodies that hold whole documents, read strictly
errors                                    the one shape in which anything is refused
deps                                      the workbench of the observer that the path names

A number stands in the fixed unit of its field (mm, kg, um for pixels, nm, arcsec, A, V, degrees); null means
not known. Nothing is answered before it is stored.
"""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter

from server.api import bench, bridge, frames, logbook, observers, scout, share, shelf, sky, stars

ROUTERS: tuple[APIRouter, ...] = (
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

TAGS: list[dict[str, Any]] = [
    {"name": "observers", "description": "Who uses this install. A choice, not a login."},
    {
        "name": "shelf",
        "description": "The catalogue of parts, shared by all, and what one observer has of it.",
    },
    {"name": "bench", "description": "Rigs: their train, its joints, and what the checks say of it."},
    {"name": "bridge", "description": "The stacks of rings and adapters that close a gap of a rig."},
    {"name": "stars", "description": "The stars that a rig draws, in numbers."},
    {"name": "frames", "description": "What a rig's own star frames say of it, measured and kept."},
    {"name": "sky", "description": "Sites, targets, and what a target gives on rigs from a site."},
    {"name": "scout", "description": "Rigs worth considering for what one wants, and why."},
    {"name": "logbook", "description": "Rigs as they were saved: they never change."},
    {"name": "share", "description": "Links to one entry each, for whoever holds them."},
]
"""The stations, as the OpenAPI document introduces them."""
