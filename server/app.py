"""The one place that wires: settings and store to the doors. Nothing is opened on import.

The first page stands before the other pages are loaded, which would be a third of a start, and operations
or the sky are not loaded where nobody asks for any: `Doors` opens them.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Mapping
from contextlib import asynccontextmanager

from fastapi import FastAPI
from fastapi.concurrency import run_in_threadpool
from fastapi.staticfiles import StaticFiles
from starlette.middleware.gzip import GZipMiddleware
from starlette.types import ASGIApp, Receive, Scope, Send

from server import paths
from server.api import document
from server.flow.protocols import Stores
from server.handed.routing import put_on
from server.handed.turns import Turns
from server.settings import Settings
from server.steady import settle
from server.web.bridge.jobs import Searches
from server.web.errors import Unexpected, install_handlers
from server.web.safety import LOOPBACK_NAMES, MEGABYTE, Safety, WholeBody
from server.web.urls import STATIC_FOLDERS
from server.web.welcome import first

BODY_LIMITS: Mapping[str, int] = {
    "/shelf/import": 5 * MEGABYTE,
    "/api/shelf/import": 5 * MEGABYTE,
    "/logbook/take-in": 2 * MEGABYTE,
    "/api/": 2 * MEGABYTE,
}
"""How much a request may send, by the beginning of its path."""
FRAMES_AT_ONCE = 4
"""So many frames of the largest size may come in one request."""


Load = Callable[[], Callable[[FastAPI], None]]
"""Loads what is behind a door, and gives what puts it on an app."""


class Doors:
    """Opens a door as soon as one of its addresses is asked for; the pages' when the first page is out.

    A middleware, and the innermost, so that what the guards refuse opens nothing.
    """

    def __init__(self, app: ASGIApp, whole: FastAPI) -> None:
        self._app, self._whole = app, whole
        self._opening: dict[Load, asyncio.Task[None]] = {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, when the door that it wants is open."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        wanted = _behind(scope["path"])
        if wanted is not None:
            # A request that is given up must not take the opening with it, for which others wait.
            await asyncio.shield(self._begun(wanted))
        await self._app(scope, receive, send)
        if scope["path"] == "/":
            self._begun(_pages)

    def _begun(self, load: Load) -> asyncio.Task[None]:
        if load not in self._opening:
            self._opening[load] = asyncio.create_task(self._open(load))
        return self._opening[load]

    async def _open(self, load: Load) -> None:
        opened = await run_in_threadpool(load)
        # Here and not in the thread: while routes are added, none is looked for.
        opened(self._whole)
        # Not before the first page: looking through all that is loaded takes a tenth of a start.
        await run_in_threadpool(settle)


def _pages() -> Callable[[FastAPI], None]:
    from server.doors import open_pages

    return open_pages


def _sky_pages() -> Callable[[FastAPI], None]:
    from server.sky_doors import open_sky_pages

    return open_sky_pages


def _operations() -> Callable[[FastAPI], None]:
    from server.api.door import open_operations

    return open_operations


def _behind(path: str) -> Load | None:
    """The door that an address is behind; None for what stands before all of them."""
    if path in ("/", document.ADDRESS) or path.startswith("/static/"):
        return None
    if path.startswith("/api/"):
        return _operations
    if path.startswith(("/sky", "/scout")) or "/frames" in path:
        return _sky_pages
    return _pages


def create_app(settings: Settings, stores: Stores | None = None, *, at_once: bool = True) -> FastAPI:
    """The whole app, for this machine. Without `stores` it opens the settings' prepared
    database. Where not `at_once`, all but the first page is loaded when it is wanted.
    """
    app = bare_app(settings, stores)
    put_on(app, (first.router, document.router))
    if at_once:
        for load in (_pages, _sky_pages, _operations):
            load()(app)
    else:
        app.add_middleware(Doors, whole=app)
    guard(app, LOOPBACK_NAMES, frame_limits(settings))
    return app


def frame_limits(settings: Settings) -> Mapping[str, int]:
    """How much may be sent where frames are handed in."""
    return dict.fromkeys(
        ("/frames/hand-in/", "/api/frames/hand-in/"), FRAMES_AT_ONCE * settings.frame_megabytes * MEGABYTE
    )


def create_share_app(settings: Settings, stores: Stores | None = None) -> FastAPI:
    """What the local network sees: shared entries, read-only, and their assets."""
    from server.doors import SHARE_PAGES

    app = bare_app(settings, stores)
    app.state.guest = True
    put_on(app, SHARE_PAGES)
    guard(app, hosts=(settings.share_address.removeprefix("http://"),))
    return app


def bare_app(settings: Settings, stores: Stores | None) -> FastAPI:
    """An app without doors: assets, settings, store, and answers in words."""
    if stores is None:
        from server.store import open_stores

        stores = open_stores(settings.database)
    opened = stores
    searches = Searches()

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        yield
        searches.stop_all()
        if app.state.at_end is not None:
            await app.state.at_end()
        opened.close()

    app = FastAPI(
        openapi_url=None,  # See server/api/document.py.
        lifespan=lifespan,
    )
    app.state.settings = settings
    app.state.stores = opened
    app.state.searches = searches
    app.state.turns = Turns(patient=True)
    app.state.elsewhere = app.state.at_end = app.state.check = None
    app.state.guest = False
    app.state.hosted = False
    for folder in STATIC_FOLDERS:
        app.mount(f"/static/{folder}", StaticFiles(directory=paths.STATIC / folder, check_dir=False))
    install_handlers(app)
    return app


def guard(
    app: FastAPI,
    hosts: tuple[str, ...],
    more: Mapping[str, int] | None = None,
    *,
    gate: Callable[[ASGIApp], ASGIApp] | None = None,
    policy: Mapping[str, str] | None = None,
) -> None:
    """Put the guards before the app; the last one added stands outermost. `gate` is one more, which asks who
    comes before a body is read; `policy` are headers beside the usual ones.
    """
    app.add_middleware(GZipMiddleware, minimum_size=1024, compresslevel=1)
    app.add_middleware(WholeBody, limits={**BODY_LIMITS, **(more or {})})
    if gate is not None:
        app.add_middleware(gate)
    app.add_middleware(Unexpected)
    app.add_middleware(Safety, hosts=hosts, policy=policy)
