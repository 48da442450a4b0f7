"""The real command line with two tiny apps and a one-table database behind it, for the tests of serving.

The apps say which of them answered, and keep one connection to the database open, as the real ones do.
"""

from __future__ import annotations

import asyncio
import sqlite3
import sys
from contextlib import closing
from pathlib import Path
from types import ModuleType, SimpleNamespace

from server.settings import Settings

APPLICATION_ID = 0x5472776B
"""As in server.store.backup, which loads more than these tests wait for."""


def create_app(settings: Settings, *, at_once: bool):
    return tiny_app("app", settings)


def create_share_app(settings: Settings):
    return tiny_app("share", settings)


def tiny_app(name: str, settings: Settings):
    database = sqlite3.connect(settings.database, check_same_thread=False, isolation_level=None)

    async def app(scope, receive, send):
        if scope["type"] == "lifespan":
            await receive()
            await send({"type": "lifespan.startup.complete"})
            await receive()
            database.close()
            await send({"type": "lifespan.shutdown.complete"})
            return
        await send({"type": "http.response.start", "status": 200, "headers": []})
        text = name
        if scope["path"] == "/notes":
            text = ",".join(row[0] for row in database.execute("SELECT text FROM note"))
        elif scope["path"] == "/links":
            text = settings.share_address
        elif scope["path"].startswith("/note/"):
            database.execute("INSERT INTO note VALUES (?)", (scope["path"].removeprefix("/note/"),))
        elif scope["path"] == "/slow":
            await send({"type": "http.response.body", "body": b"begun ", "more_body": True})
            await asyncio.sleep(0.5)
            text = "done"
        await send({"type": "http.response.body", "body": text.encode()})

    return app


def prepare_database(path: Path) -> SimpleNamespace:
    """Stands for the migrations, with the fields of a PreparedDatabase."""
    created = not path.exists()
    with closing(sqlite3.connect(path)) as opened:
        opened.execute("PRAGMA journal_mode=WAL")
        opened.execute(f"PRAGMA application_id={APPLICATION_ID}")
        opened.execute("CREATE TABLE IF NOT EXISTS note (text TEXT)")
        opened.commit()
    return SimpleNamespace(created=created, migrated_from=None, copied_to=None)


def install() -> None:
    """Puts the tiny apps and the tiny migrations where `serve` looks for the real ones."""
    app = ModuleType("server.app")
    app.__dict__.update(create_app=create_app, create_share_app=create_share_app)
    store = ModuleType("server.store")
    store.__dict__["prepare_database"] = prepare_database
    sys.modules.update({"server.app": app, "server.store": store})


if __name__ == "__main__":
    install()
    from server.cli import main

    main(sys.argv[1:])
