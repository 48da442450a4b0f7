"""The one place that wires: settings and store to the doors. Nothing is opened on import."""

from __future__ import annotations

from collections.abc import AsyncIterator, Mapping
from contextlib import asynccontextmanager

from fastapi import APIRouter, FastAPI
from fastapi.staticfiles import StaticFiles

from server import paths
from server.api import ROUTERS, TAGS
from server.flow.protocols import Stores
from server.settings import Settings
from server.web import bench, bridge, kit, load, logbook, share, shelf, stars, welcome
from server.web.bridge_jobs import Searches
from server.web.errors import Unexpected, install_handlers
from server.web.safety import LOOPBACK_NAMES, MEGABYTE, Safety, WholeBody
from server.web.urls import STATIC_FOLDERS

PAGES: tuple[APIRouter, ...] = (
    welcome.router,
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
"""The HTML door, a router a place."""

API: tuple[APIRouter, ...] = ROUTERS
"""The JSON door; each router is put below /api."""

SHARE_PAGES: tuple[APIRouter, ...] = (share.share_router,)
"""All that the network sees."""

BODY_LIMITS: Mapping[str, int] = {
    "/shelf/import": 5 * MEGABYTE,
    "/api/shelf/import": 5 * MEGABYTE,
    "/logbook/take-in": 2 * MEGABYTE,
    "/api/": 2 * MEGABYTE,
}
"""How much a request may send, by the beginning of its path."""


def create_app(settings: Settings, stores: Stores | None = None) -> FastAPI:
    """The whole app, for this machine. Without `stores` it opens the settings' prepared
    database.
    """
    app = _bare_app(settings, stores, openapi_url="/api/openapi.json")
    for router in PAGES:
        app.include_router(router, include_in_schema=False)
    for router in API:
        app.include_router(router, prefix="/api")
    _guard(app, hosts=LOOPBACK_NAMES)
    return app


def create_share_app(settings: Settings, stores: Stores | None = None) -> FastAPI:
    """What the local network sees: shared entries, read-only, and their assets."""
    app = _bare_app(settings, stores, openapi_url=None)
    app.state.guest = True
    for router in SHARE_PAGES:
        app.include_router(router, include_in_schema=False)
    _guard(app, hosts=(settings.share_address.removeprefix("http://"),))
    return app


def _bare_app(settings: Settings, stores: Stores | None, openapi_url: str | None) -> FastAPI:
    if stores is None:
        from server.store import open_stores

        stores = open_stores(settings.database)
    opened = stores
    searches = Searches()

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:  # noqa: ARG001 - the framework's signature
        yield
        searches.stop_all()
        opened.close()

    app = FastAPI(
        title="Trainwright",
        description="Shelf, bench and logbook of one install, as the pages use them.",
        version=_version(),
        docs_url=None,
        redoc_url=None,
        openapi_url=openapi_url,
        openapi_tags=TAGS,
        # A part reads and writes in one shape.
        separate_input_output_schemas=False,
        lifespan=lifespan,
    )
    app.state.settings = settings
    app.state.stores = opened
    app.state.searches = searches
    app.state.guest = False
    for folder in STATIC_FOLDERS:
        app.mount(f"/static/{folder}", StaticFiles(directory=paths.STATIC / folder, check_dir=False))
    install_handlers(app)
    return app


def _guard(app: FastAPI, hosts: tuple[str, ...]) -> None:
    """Put the guards before the app; the last one added stands outermost."""
    app.add_middleware(WholeBody, limits=BODY_LIMITS)
    app.add_middleware(Unexpected)
    app.add_middleware(Safety, hosts=hosts)


def _version() -> str:
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("trainwright")
    except PackageNotFoundError:  # Run from a checkout that was never installed.
        return "0"
