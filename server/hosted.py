"""The hosted form: the same doors, with a gate before them; the observer is whoever is signed in."""

from __future__ import annotations

import os
from urllib.parse import urlsplit

from fastapi import Depends, FastAPI

from server.api import club as club_api
from server.app import bare_app, frame_limits, guard
from server.domain.errors import RefusedError
from server.doors import open_doors
from server.flow.accounts import Club
from server.handed.turns import ElsewhereError, Turns
from server.settings import HostedSettings
from server.steady import keep_log, settle
from server.store import Stores, open_stores
from server.store.accounts import HostedStores
from server.store.dialects import SqliteFile, database_at
from server.web.account import routes as account
from server.web.account import watch
from server.web.account.elsewhere import Handover
from server.web.account.gate import Addressed, Gate, OnceMore, check_token
from server.web.club import routes as club_pages
from server.web.welcome import routes as welcome

HANDED_DOWN = "TRAINWRIGHT_HOSTED"
"""The variable by which worker processes are told their settings."""

LONG_NICE = 10

POLICY = {
    # Two years (RFC 6797, section 6.1); of its own name alone, since others may live below it.
    "Strict-Transport-Security": "max-age=63072000",
    "Cross-Origin-Opener-Policy": "same-origin",
}


def open_hosted(place: str) -> HostedStores:
    """The database of the hosted form. Raises RefusedError where there is none, or one of another schema."""
    database = database_at(place)
    migrate = f"Run: trainwright migrate --database {database}"
    if isinstance(database, SqliteFile) and not database.path.is_file():
        raise RefusedError(f"There is no database {database} yet. {migrate}")
    stores = HostedStores(open_stores(place))
    # Of a PostgreSQL database that was asked when it was opened.
    if isinstance(database, SqliteFile) and not stores.is_prepared():
        stores.close()
        raise RefusedError(f"The database {database} is not of this Trainwright's schema. {migrate}")
    return stores


def create_hosted_app(settings: HostedSettings, stores: HostedStores | None = None) -> FastAPI:
    """The whole app for a club. Without `stores` it opens the settings' database; raises RefusedError."""
    opened = stores or open_hosted(settings.place)
    address = urlsplit(settings.address)
    app = bare_app(settings, opened, openapi_url="/api/openapi.json", dependencies=[Depends(check_token)])
    app.state.hosted = True
    app.state.turns = Turns(patient=False)
    if settings.sockets:
        app.state.elsewhere = handover = Handover(settings.sockets)
        app.add_exception_handler(ElsewhereError, handover)
        app.state.at_end = handover.close
    app.state.club = club = Club(opened, [word for word in (address.hostname or "").split(".") if word])
    app.include_router(welcome.router, include_in_schema=False)
    app.include_router(account.router, include_in_schema=False)
    app.state.readiness = watch.Readiness(opened.is_prepared)
    app.include_router(watch.router, include_in_schema=False)
    app.include_router(club_pages.router, include_in_schema=False)
    app.include_router(club_api.router, prefix="/api")
    open_doors(app, hosted=True)
    guard(
        app,
        (address.netloc,),
        frame_limits(settings),
        gate=lambda inner: OnceMore(Gate(inner, club)),
        policy=POLICY,
    )
    app.add_middleware(Addressed, scheme=address.scheme, trusted=settings.trust)
    return app


def long_app() -> FastAPI:
    """The app of a process that works out what takes long: the same, asked by the workers of this machine
    alone, and after them at the processor.
    """
    os.nice(LONG_NICE)
    told = HostedSettings.model_validate_json(os.environ[HANDED_DOWN])
    # Who asks by the socket says for whom.
    return _served(told.model_copy(update={"sockets": (), "trust": ("*",)}), beside=True)


def worker_app() -> FastAPI:
    """The app of a worker process, by the settings that its parent has handed down. The parent has looked at
    the database; a worker that takes another's place while it is away begins, and serves when it is back.
    """
    return _served(HostedSettings.model_validate_json(os.environ[HANDED_DOWN]))


def _served(settings: HostedSettings, *, beside: bool = False) -> FastAPI:
    keep_log(settings.log)
    app = create_hosted_app(settings, HostedStores(Stores(settings.place)))
    if settings.metrics is not None:
        from server.web.account.metrics import Counted

        app.add_middleware(Counted, turns=app.state.turns, beside=beside)
    settle()
    return app
