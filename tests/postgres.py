"""A PostgreSQL server of the tests' own: from the system's package, in a scratch folder, on a free port, as a
user without rights. Each process of a parallel run has one.
"""

from __future__ import annotations

import os
import pwd
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, NullPool, create_engine, make_url

REQUIRE = "TRAINWRIGHT_REQUIRE_POSTGRES"
USER = "tests"
LOCKED = "locked"
SMALL_DISK_MB = 600
# What a crash would lose is nothing here, and a test waits for every commit.
QUICK = {
    "fsync": "off",
    "synchronous_commit": "off",
    "full_page_writes": "off",
    "shared_buffers": "32MB",
    "wal_level": "minimal",
    "max_wal_senders": "0",
    "autovacuum": "off",
    "max_connections": "60",
}


def is_required() -> bool:
    """Whether a run without PostgreSQL is a failure."""
    return os.environ.get(REQUIRE) == "1"


def program(name: str) -> str | None:
    """One of PostgreSQL's programs; Debian keeps them off the path."""
    newest = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), key=lambda one: one.parts[-3])
    return str(newest[-1]) if newest else shutil.which(name)


def is_there() -> bool:
    """Whether this machine has a server."""
    return program("initdb") is not None and program("postgres") is not None


class Server:
    """A server of one's own, which can be stopped and started again."""

    def __init__(self, command: list[str], log: Path, as_whom: Mapping[str, Any], port: int) -> None:
        self._command, self._log, self._as_whom = command, log, as_whom
        self._running: subprocess.Popen[bytes] | None = None
        self.address = f"postgresql+psycopg://{USER}@127.0.0.1:{port}/postgres"

    def start(self) -> None:
        """Runs it, and waits until it answers."""
        with self._log.open("w") as written:
            self._running = subprocess.Popen(
                self._command, stdout=written, stderr=written, cwd=self._log.parent, **self._as_whom
            )
        _wait_for(self._running, self._log)

    def stop(self) -> None:
        """Ends it. Cuts off whoever is still connected, where SIGTERM would wait for them."""
        if self._running is not None:
            self._running.send_signal(signal.SIGINT)
            self._running.wait(20)
            self._running = None

    def start_if_ended(self) -> bool:
        """Runs it again where it has ended by itself, as a machine's own keeper would; whether it had."""
        ended = self._running is not None and self._running.poll() is not None
        if ended:
            self.start()
        return ended


@contextmanager
def small_disk() -> Iterator[Path | None]:
    """A disk of its own for a server, which can be filled; None where nobody may make one here."""
    with tempfile.TemporaryDirectory(prefix="trainwright-disk-") as name:
        made = ["mount", "-t", "tmpfs", "-o", f"size={SMALL_DISK_MB}m,mode=755", "trainwright", name]
        if os.geteuid() != 0 or subprocess.run(made, capture_output=True, check=False).returncode:
            yield None
            return
        try:
            yield Path(name)
        finally:
            subprocess.run(["umount", "-l", name], check=False)


@contextmanager
def served() -> Iterator[str]:
    """A server that runs until the end; the address of its first database, which is empty."""
    with standing(QUICK) as server:
        yield server.address


@contextmanager
def standing(given: Mapping[str, str], within: Path | None = None) -> Iterator[Server]:
    """A server with these settings, below the folder `within`, which runs until the end unless it is stopped
    before.
    """
    folder = Path(tempfile.mkdtemp(prefix="trainwright-postgres-", dir=within))
    initdb, postgres = program("initdb"), program("postgres")
    assert initdb is not None
    assert postgres is not None
    as_whom: Mapping[str, Any] = {}
    if os.geteuid() == 0:
        # PostgreSQL refuses to run as root.
        nobody = pwd.getpwnam("nobody")
        os.chown(folder, nobody.pw_uid, nobody.pw_gid)
        as_whom = {"user": nobody.pw_uid, "group": nobody.pw_gid, "extra_groups": []}
    data = folder / "data"
    # Names are sorted by a language's rules here unless a column says otherwise, as all of ours do.
    language = ["--locale=C.UTF-8", "--locale-provider=icu", "--icu-locale=en-US"]
    making = [initdb, "--no-sync", "--auth=trust", "--encoding=UTF8", f"--username={USER}", *language]
    made = subprocess.run(
        [*making, str(data)], capture_output=True, text=True, check=False, cwd=folder, **as_whom
    )
    assert made.returncode == 0, made.stdout + made.stderr
    # One who has to say a password; everybody else is let in.
    rules = data / "pg_hba.conf"
    rules.write_text(f"host all {LOCKED} 127.0.0.1/32 scram-sha-256\n" + rules.read_text())
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    settings = [f"-c{name}={value}" for name, value in given.items()]
    command = [postgres, "-D", str(data), "-p", str(port), "-h", "127.0.0.1", "-k", str(folder), *settings]
    server = Server(command, folder / "log", as_whom, port)
    try:
        server.start()
        run(server.address, f"CREATE ROLE {LOCKED} LOGIN PASSWORD 'secret'")
        yield server
    finally:
        server.stop()
        shutil.rmtree(folder, ignore_errors=True)


def _wait_for(server: subprocess.Popen[bytes], log: Path) -> None:
    until = time.monotonic() + 30
    while "ready to accept connections" not in log.read_text():
        assert server.poll() is None, log.read_text()
        assert time.monotonic() < until, log.read_text()
        time.sleep(0.02)


def new_database(address: str, name: str, template: str = "template0") -> str:
    """Makes a database, in place of one of that name; its address."""
    run(address, f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')
    run(address, f'CREATE DATABASE "{name}" TEMPLATE "{template}" STRATEGY file_copy')
    return make_url(address).set(database=name).render_as_string(hide_password=False)


def run(address: str, *statements: str) -> None:
    """Runs statements by the server's owner, each on its own."""
    engine = create_engine(address, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        for statement in statements:
            connection.exec_driver_sql(statement)
    engine.dispose()


def emptied(address: str) -> None:
    """Takes every row out, entries as well, and begins all numbers anew."""
    with _owner(address).begin() as connection:
        connection.exec_driver_sql(_EMPTY)


@cache
def _owner(address: str) -> Engine:
    return create_engine(address, poolclass=NullPool)


# The owner's way past the triggers that refuse it, and past the keys. Deleting a few rows is far quicker than
# TRUNCATE, which makes new files; many rows would leave as many dead ones behind.
_EMPTY = """
DO $$
DECLARE name text;
BEGIN
    SET LOCAL session_replication_role = replica;
    SET LOCAL lock_timeout = 10000;
    FOR name IN
        SELECT tablename FROM pg_tables WHERE schemaname = 'public' AND tablename <> 'alembic_version'
    LOOP
        IF pg_relation_size(name::regclass) > 500000 THEN
            EXECUTE 'TRUNCATE ' || quote_ident(name) || ' CASCADE';
        ELSE
            EXECUTE 'DELETE FROM ' || quote_ident(name);
        END IF;
    END LOOP;
    FOR name IN SELECT sequencename FROM pg_sequences WHERE schemaname = 'public' LOOP
        PERFORM setval(name::regclass, 1, false);
    END LOOP;
END $$
"""
