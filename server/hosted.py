"""The hosted form: the same doors, with a gate before them; the observer is whoever is signed in."""

from __future__ import annotations

import os
from collections.abc import Awaitable, Callable
from datetime import timedelta
from urllib.parse import urlsplit

from fastapi import FastAPI
from fastapi.concurrency import run_in_threadpool

from server.api import document
from server.api.door import open_operations
from server.app import bare_app, frame_limits, guard
from server.domain.errors import ClockError, TrainwrightError, UnpreparedDatabaseError
from server.doors import open_pages
from server.flow.accounts import Club
from server.flow.doubles import Doubles
from server.flow.lost_passwords import LostPasswords
from server.flow.passkeys import Passkeys
from server.flow.search_board import SearchBoard
from server.handed.routing import put_on
from server.handed.turns import ElsewhereError, Turns
from server.settings import HostedSettings
from server.sky_doors import open_sky_pages
from server.steady import keep_log, settle, share_out
from server.store import Stores, open_stores
from server.store.accounts import HostedStores
from server.store.dialects import SqliteFile, database_at
from server.store.prepare import check_is_prepared
from server.store.session import utc_now
from server.web.account import doubles, lost, passkeys, watch
from server.web.account import routes as account
from server.web.account.elsewhere import Handover
from server.web.account.gate import Addressed, Gate, OnceMore, check_token
from server.web.account.post import Postman, mail_server
from server.web.club import routes as club_pages
from server.web.welcome import first

HANDED_DOWN = "TRAINWRIGHT_HOSTED"
"""The variable by which worker processes are told their settings."""

LONG_NICE = 10
OFF_AT_MOST = timedelta(minutes=5)
"""How far two clocks may differ."""
GRACE_S = 5.0
"""How long mail that waits is still sent at the end."""

POLICY = {
    # Two years (RFC 6797, section 6.1).
    "Strict-Transport-Security": "max-age=63072000; includeSubDomains",
    "Cross-Origin-Opener-Policy": "same-origin",
}


def open_hosted(place: str) -> HostedStores:
    """The database of the hosted form. Raises RefusedError where there is none, or one of another schema, and
    where this machine's clock does not go with it.
    """
    database = database_at(place)
    if isinstance(database, SqliteFile):
        if not database.path.is_file():
            raise UnpreparedDatabaseError(
                f"There is no database {database} yet. Run: trainwright migrate --database {database}"
            )
        check_is_prepared(database)
    stores = HostedStores(open_stores(place))
    try:
        _check_clock(stores)
    except TrainwrightError:
        stores.close()
        raise
    return stores


def _check_clock(stores: HostedStores) -> None:
    """What ends by the clock, such as a session or an invitation, would end at a wrong time."""
    now = utc_now()
    with stores.reading() as store:
        theirs, newest = store.moments()
    here = f"This machine's clock says {now:%Y-%m-%d %H:%M} UTC"
    if theirs is not None and abs(now - theirs) > OFF_AT_MOST:
        raise ClockError(f"{here}, the database's {theirs:%Y-%m-%d %H:%M}: set the one that is off.")
    if newest is not None and newest > now + OFF_AT_MOST:
        raise ClockError(f"{here}, and the club kept something at {newest:%Y-%m-%d %H:%M}: set the clock.")


def create_hosted_app(settings: HostedSettings, stores: HostedStores | None = None) -> FastAPI:
    """The whole app for a club. Without `stores` it opens the settings' database; raises RefusedError."""
    opened = stores or open_hosted(settings.place)
    address = urlsplit(settings.address)
    app = bare_app(settings, opened)
    app.state.check = check_token
    app.state.hosted = True
    app.state.turns = Turns(patient=False)
    app.state.searches.board = SearchBoard(opened, utc_now)
    handover = Handover(settings.sockets) if settings.sockets else None
    if handover is not None:
        app.state.elsewhere = handover
        app.add_exception_handler(ElsewhereError, handover)
    words = [word for word in (address.hostname or "").split(".") if word]
    app.state.club = club = Club(opened, words, log_kept=timedelta(days=settings.log_days))
    app.state.doubles = Doubles(opened)
    postman = Postman(mail_server(settings.mail), settings.mail_from) if settings.mail else None
    app.state.lost_passwords = LostPasswords(club, opened, postman, settings.address)
    app.state.at_end = _ends(handover, postman)
    app.state.passkeys = Passkeys(club, opened, settings.address)
    pages = (first, account, passkeys, lost, doubles, watch, club_pages)
    put_on(app, (one.router for one in (*pages, document)))
    app.state.readiness = watch.Readiness(opened.is_prepared)
    open_pages(app, hosted=True)
    open_sky_pages(app)
    open_operations(app, hosted=True)
    guard(
        app,
        (address.netloc,),
        frame_limits(settings),
        gate=lambda inner: OnceMore(Gate(inner, club)),
        policy=POLICY,
    )
    app.add_middleware(Addressed, scheme=address.scheme, trusted=settings.trust)
    return app


def _ends(handover: Handover | None, postman: Postman | None) -> Callable[[], Awaitable[None]]:
    """What is let go of at the end."""

    async def end() -> None:
        if handover is not None:
            await handover.close()
        if postman is not None:
            await run_in_threadpool(postman.close, GRACE_S)

    return end


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
    share_out()
    settle()
    return app
