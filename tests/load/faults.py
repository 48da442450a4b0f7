"""What goes wrong while a club is at work."""

from __future__ import annotations

import asyncio
import contextlib
import socket
import time
from collections.abc import Awaitable, Callable
from pathlib import Path

import psutil

from server.web.account.gate import SESSION_COOKIE
from tests import postgres
from tests.load.crowd import HEAVY, READS, Crowd
from tests.running import Running

STOPPED_S = 5.0
SLOW_S = 25.0
"""How long slow clients hang on; the server lets go of them after 20 s."""
SMALL_BUFFER = 4096
FILLED_AT_ONCE = 1 << 20


def processes_of(host: Running, what: str) -> set[int]:
    """The numbers of the processes whose environment and order hold `what`."""
    children = psutil.Process(host.process.pid).children()
    alive = [one for one in children if one.status() != psutil.STATUS_ZOMBIE]
    return {one.pid for one in alive if any(what in word for word in one.cmdline())}


class Faults:
    """One after the other, while all go on. `disk` is the database's own, None where it has none."""

    def __init__(
        self, crowd: Crowd, server: postgres.Server, host: Running, port: int, disk: Path | None
    ) -> None:
        self._crowd, self._server, self._host, self._port, self._disk = crowd, server, host, port, disk

    async def strike_all(self, seconds: float) -> None:
        """All of them within so many seconds."""
        blows: list[tuple[str, Callable[[], Awaitable[None]]]] = [
            ("a process killed and replaced", self._kill),
            ("connections cut", self._cut),
            ("the database stopped", self._restart),
        ]
        if self._disk is not None:
            blows.append(("the database's disk full", self._fill))
        pause = seconds / (len(blows) + 2)
        for what, blow in blows:
            await asyncio.sleep(pause)
            await self._strike(what, blow)
        await asyncio.sleep(pause)
        # Nobody else notices anything of these: what fails meanwhile is an error.
        held = await self._hang_on(min(SLOW_S, pause))
        self._crowd.ledger.recovered.append(f"{held} slow clients, unnoticed")

    async def _strike(self, what: str, blow: Callable[[], Awaitable[None]]) -> None:
        since = time.monotonic()
        faults = self._crowd.ledger.faults
        faults.append((since, since + 60.0))
        await blow()
        ended = time.monotonic()
        while not all([await self._crowd.is_ready() for _ in range(8)]):
            await asyncio.sleep(0.1)
        faults[-1] = (since, ended)
        self._crowd.ledger.recovered.append(f"{what}, ready after {time.monotonic() - ended:.1f} s")

    async def _kill(self) -> None:
        """A worker, and the process beside that works out what takes long."""
        before = processes_of(self._host, "spawn_main")
        for one in (min(before), max(before)):
            psutil.Process(one).kill()
        while len(processes_of(self._host, "spawn_main") - {min(before), max(before)}) < len(before):
            await asyncio.sleep(0.1)

    async def _cut(self) -> None:
        await asyncio.to_thread(
            postgres.run,
            self._server.address,
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE pid <> pg_backend_pid() "
            "AND usename IS NOT NULL",
        )

    async def _restart(self) -> None:
        await asyncio.to_thread(self._server.stop)
        await asyncio.sleep(STOPPED_S)
        await asyncio.to_thread(self._server.start)

    async def _fill(self) -> None:
        assert self._disk is not None
        filler = self._disk / "filler"
        with contextlib.suppress(OSError), filler.open("wb", buffering=0) as file:
            while file.write(bytes(FILLED_AT_ONCE)):
                pass
        await asyncio.sleep(STOPPED_S)
        filler.unlink()
        await asyncio.to_thread(self._server.start_if_ended)

    async def _hang_on(self, seconds: float) -> int:
        """Who asks drop by drop, who sends a body drop by drop, who takes nothing of an answer: how many."""
        member = self._crowd.members[-1]
        hosted = "Host: rigs.example\r\nOrigin: https://rigs.example\r\n"
        whole = f"{hosted}Cookie: {SESSION_COOKIE}={member.token}\r\n"
        heads = [f"GET {member.filled(path)} HTTP/1.1\r\n{whole}\r\n" for path in {*READS, *HEAVY}]
        heads += [head.removesuffix("\r\n") for head in heads]
        form = "Content-Type: application/x-www-form-urlencoded\r\nContent-Length: 2000\r\n"
        bodies = ("/sign-in", f"/bench/{member.rig}/change", "/shelf/import", "/scout/take")
        heads += [f"POST {path} HTTP/1.1\r\n{whole}{form}\r\na=" for path in bodies]
        await asyncio.gather(*(self._drip(head.encode(), seconds) for head in heads))
        return len(heads)

    async def _drip(self, head: bytes, seconds: float) -> None:
        loop = asyncio.get_running_loop()
        with socket.socket() as one:
            one.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, SMALL_BUFFER)
            one.setblocking(False)
            await loop.sock_connect(one, ("127.0.0.1", self._port))
            until = time.monotonic() + seconds
            with contextlib.suppress(OSError):
                await loop.sock_sendall(one, head)
                while time.monotonic() < until:
                    await asyncio.sleep(1.0)
                    if not head.endswith(b"\r\n\r\n"):
                        await loop.sock_sendall(one, b"a")
