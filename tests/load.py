"""`python -m tests.load [--members 200] [--minutes 2] [--workers 4] [--pause 10] [--faults]`: a whole club.

A PostgreSQL server in a scratch folder, the hosted form by several processes, and invented members who sign
in and work, all on this machine: 70 of 100 requests read, 25 change a rig, 5 ask for stars, a search or a
Bridge.
Each change sets a length that its rig never had, so that what was kept can be counted: every change that
was acknowledged must be there once, in its order, and nothing that nobody asked for.

With `--faults` a worker is killed, all connections to the database are cut, and the database is stopped and
started, while it runs. Then a request may be answered 503 in words, or its connection end with the worker.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import random
import re
import sys
import tempfile
import time
from collections import Counter, defaultdict
from collections.abc import Awaitable, Callable, Coroutine, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from statistics import median

import httpx
import psutil
from sqlalchemy import create_engine

from server.domain.measure import Measure
from server.domain.observer import Holding
from server.domain.rig import PlacePlan, RigPlan
from server.flow.accounts import form_token
from server.flow.passwords import hashed
from server.store import open_stores, prepare_database
from server.store.accounts import HostedStores
from server.web.account.gate import SESSION_COOKIE
from tests import postgres
from tests.bench.data import some_part, train_parts
from tests.bench.measure import Line, Times, machine, table
from tests.bench.serving import HTMX
from tests.loop import run_to_its_end
from tests.running import THE_SERVER, Running

PUBLIC = "https://rigs.example"
PASSWORD = "lantern orchid gravel teapot"
HOSTED_AT = re.compile(r"listening on 127.0.0.1, port (\d+)")
IN_WORDS = re.compile(r"(The club's database|Too many are|Another change)[^<\"]*")
RING = 4
"""The key of the ring whose length is set."""
FIRST_MM, STEP_MM = 11.0, 0.01
PARTS = 2000
ALONE = 40
"""Changes that are made while nobody else is there."""
AIM = 6.0
"""How many times its median alone a change may take at its 95th percentile."""
AFTERWARDS_S = 10.0
"""How long after a fault has ended an answer may still be a 503."""
STOPPED_S = 5.0
PATIENCE_S = 40.0

READS = (
    *["/bench/{rig}"] * 3,
    *["/api/observers/{observer}/rigs/{rig}"] * 2,
    "/",
    "/bench",
    "/shelf",
    "/logbook",
    "/sky",
    "/words",
)
HEAVY = ("/bench/{rig}/stars", "/shelf?q=ring+54", "/bench/{rig}/bridge")


@dataclass
class Member:
    """One of the club, what they have changed, and what the answers said of it."""

    number: int
    observer: int
    rig: int
    version: int
    token: str = ""
    tried: int = 0
    acknowledged: list[float] = field(default_factory=list)
    unsure: set[float] = field(default_factory=set)
    sure: bool = True

    def filled(self, path: str) -> str:
        return path.format(rig=self.rig, observer=self.observer)


@dataclass
class Ledger:
    """What happened."""

    taken: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    errors: list[str] = field(default_factory=list)
    in_words: Counter[str] = field(default_factory=Counter)
    cut: int = 0
    faults: list[tuple[float, float]] = field(default_factory=list)
    recovered: list[str] = field(default_factory=list)

    def excused(self, begun: float) -> bool:
        """Whether a request that began then may fail: a fault was going on, or had just ended."""
        now = time.monotonic()
        return any(begun <= end + AFTERWARDS_S and since <= now for since, end in self.faults)


class Crowd:
    """The members, at work."""

    def __init__(self, port: int, members: list[Member], pause: float) -> None:
        self.members, self.ledger, self._pause = members, Ledger(), pause
        # Shorter than the server keeps a silent connection, so that none is closed while it is asked.
        limits = httpx.Limits(max_connections=None, keepalive_expiry=3.0)
        self._client = httpx.AsyncClient(
            base_url=f"http://127.0.0.1:{port}", limits=limits, timeout=PATIENCE_S, trust_env=False
        )
        self._dice = random.Random(20261130)

    async def ask(self, member: Member, kind: str, path: str, form: dict[str, str] | None = None):
        """An answer, or None where the request failed; what went wrong is noted."""
        headers = {
            "Host": "rigs.example",
            "Cookie": f"{SESSION_COOKIE}={member.token}",
            # As behind a proxy: each comes from a place of their own.
            "X-Forwarded-For": f"10.0.{member.number // 250}.{member.number % 250 + 1}",
        }
        if form is not None:
            headers |= {"Origin": PUBLIC, **(HTMX if member.token else {})}
            form = form | ({"form_token": form_token(member.token)} if member.token else {})
        begun = time.monotonic()
        try:
            answer = await self._client.request(
                "GET" if form is None else "POST", path, data=form, headers=headers
            )
        except httpx.HTTPError as error:
            self.ledger.cut += 1
            if not self.ledger.excused(begun):
                self.ledger.errors.append(f"{kind} {path}: {type(error).__name__} {error}")
            return None
        if answer.status_code in (200, 303):
            meanwhile = f"{kind} in a fault" if self.ledger.excused(begun) else kind
            self.ledger.taken[meanwhile].append(time.monotonic() - begun)
            return answer
        said = IN_WORDS.search(answer.text.replace("&#39;", "'"))
        if answer.status_code == 503 and said and self.ledger.excused(begun):
            self.ledger.in_words[said[0]] += 1
        else:
            words = said[0] if said else " ".join(re.sub(r"<[^>]*>", " ", answer.text).split())[-200:]
            self.ledger.errors.append(f"{kind} {path}: {answer.status_code} {words}")
        return None

    async def sign_in(self, member: Member) -> None:
        answer = await self.ask(
            member, "sign in", "/sign-in", {"login": f"Member {member.number}", "password": PASSWORD}
        )
        assert answer is not None, self.ledger.errors
        member.token = answer.headers["set-cookie"].partition("=")[2].partition(";")[0]

    async def change(self, member: Member, kind: str = "change") -> None:
        """Sets a length that this rig never had."""
        if not member.sure:
            await self.look(member)
            if not member.sure:
                return
        member.tried += 1
        length = round(FIRST_MM + STEP_MM * member.tried, 2)
        said = {"verb": "set_length", "place": str(RING), "length": f"{length} mm"}
        form = {"version": str(member.version), **said}
        member.sure = False
        answer = await self.ask(member, kind, f"/bench/{member.rig}/change", form)
        if answer is None:
            member.unsure.add(length)
            return
        member.version += 1
        member.acknowledged.append(length)
        member.sure = True
        if f'data-version="{member.version}"' not in answer.text:
            self.ledger.errors.append(f"{kind}: the answer is not of version {member.version}")

    async def look(self, member: Member) -> None:
        """Reads the own rig, as after an answer that did not come, and checks what was acknowledged."""
        answer = await self.ask(member, "read", member.filled("/api/observers/{observer}/rigs/{rig}"))
        if answer is None:
            return
        body = answer.json()
        length = next(one["set_length_mm"] for one in body["train"] if one["key"] == RING)
        last = member.acknowledged[-1] if member.acknowledged else None
        if body["version"] == member.version and length == last:
            member.sure = True
        elif not member.sure and body["version"] == member.version + 1 and length in member.unsure:
            # It was kept, though nobody could say so.
            member.version += 1
            member.unsure.remove(length)
            member.acknowledged.append(length)
            member.sure = True
        else:
            self.ledger.errors.append(
                f"read: version {body['version']} at {length} mm, where {member.version} at {last} mm was "
                "acknowledged"
            )

    async def work(self, member: Member, until: float) -> None:
        """Reads, changes and asks, with pauses, until then."""
        await asyncio.sleep(self._dice.uniform(0, self._pause))
        while time.monotonic() < until:
            cast = self._dice.random()
            if cast < 0.70:
                path = self._dice.choice(READS)
                if path.startswith("/api/"):
                    await self.look(member)
                else:
                    await self.ask(member, "read", member.filled(path))
            elif cast < 0.95:
                await self.change(member)
            else:
                await self.ask(member, "heavy", member.filled(self._dice.choice(HEAVY)))
            await asyncio.sleep(self._dice.uniform(0.5, 1.5) * self._pause)

    async def is_ready(self) -> bool:
        try:
            return (await self._client.get("/ready", headers={"Host": "rigs.example"})).status_code == 200
        except httpx.HTTPError:
            return False

    async def close(self) -> None:
        await self._client.aclose()


def made_club(address: str, count: int) -> list[Member]:
    """Members with a rig each, over a catalogue that they share."""
    prepare_database(address)
    stores = HostedStores(open_stores(address))
    dice, kept, now = random.Random(20261130), hashed(PASSWORD), datetime.now(UTC)
    train = train_parts()
    ring = train[RING - 1]
    # A ring that can be set to any length, so that no two changes are alike.
    train[RING - 1] = ring.model_copy(update={"longest_mm": Measure(nominal=400.0)})
    members = []
    with stores.writing() as store:
        steward = store.add_observer("Steward", "metric")
        own = store.add_parts(train, steward.id)
        store.add_parts([some_part(dice) for _ in range(PARTS - len(own))], steward.id)
        plan = RigPlan(places=tuple(PlacePlan(key=at, part_id=one) for at, one in enumerate(own, start=1)))
        for number in range(count):
            name = f"Member {number}"
            observer = store.add_observer(name, "metric")
            store.add_account(observer.id, name, "member", kept, now)
            for part in own:
                store.set_holding(observer.id, part, Holding(owned=1))
            rig = store.add_rig(observer.id, f"Rig {number}", plan)
            members.append(Member(number, observer.id, rig.id, rig.version))
    stores.close()
    return members


def what_was_kept(address: str, members: list[Member]) -> list[str]:
    """What does not agree with what was acknowledged, by the database's own rows."""
    engine = create_engine(address)
    wrong = []
    with engine.connect() as connection:
        for member in members:
            rows = connection.exec_driver_sql(
                "SELECT number, plan FROM rig_state WHERE rig_id = %s ORDER BY number", (member.rig,)
            ).all()
            lengths = [
                next(one.get("set_length_mm") for one in json.loads(plan)["places"] if one["key"] == RING)
                for number, plan in rows
                if number > 1
            ]
            version = connection.exec_driver_sql(
                "SELECT version FROM rig WHERE id = %s", (member.rig,)
            ).scalar_one()
            sure = [one for one in lengths if one not in member.unsure]
            if sure != member.acknowledged:
                wrong.append(f"member {member.number}: {member.acknowledged} acknowledged, {lengths} kept")
            if len(set(lengths)) != len(lengths) or version != 1 + len(lengths):
                wrong.append(f"member {member.number}: {len(lengths)} changes kept, version {version}")
    engine.dispose()
    return wrong


def workers_of(host: Running) -> set[int]:
    """The numbers of the processes that answer."""
    children = psutil.Process(host.process.pid).children()
    alive = [one for one in children if one.status() != psutil.STATUS_ZOMBIE]
    return {one.pid for one in alive if any("spawn_main" in word for word in one.cmdline())}


async def faults(crowd: Crowd, server: postgres.Server, host: Running, seconds: float) -> None:
    """A worker is killed, connections are cut, the database is stopped and started, while all go on."""

    async def strike(what: str, blow: Callable[[], Awaitable[None]]) -> None:
        since = time.monotonic()
        crowd.ledger.faults.append((since, since + 60.0))
        await blow()
        ended = time.monotonic()
        while not all([await crowd.is_ready() for _ in range(8)]):
            await asyncio.sleep(0.1)
        crowd.ledger.faults[-1] = (since, ended)
        crowd.ledger.recovered.append(f"{what}, ready after {time.monotonic() - ended:.1f} s")

    async def kill() -> None:
        before = workers_of(host)
        psutil.Process(min(before)).kill()
        while len(workers_of(host) - {min(before)}) < len(before):
            await asyncio.sleep(0.1)

    async def cut() -> None:
        await asyncio.to_thread(
            postgres.run,
            server.address,
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE pid <> pg_backend_pid() "
            "AND usename IS NOT NULL",
        )

    async def restart() -> None:
        await asyncio.to_thread(server.stop)
        await asyncio.sleep(STOPPED_S)
        await asyncio.to_thread(server.start)

    for what, blow in (
        ("a worker killed and replaced", kill),
        ("connections cut", cut),
        ("the database stopped", restart),
    ):
        await asyncio.sleep(seconds * 0.2)
        await strike(what, blow)


async def hours(
    crowd: Crowd, minutes: float, more: Callable[[float], Coroutine[object, object, None]] | None
) -> float:
    """Everybody signs in; one works alone, then all. The median of a change alone, in seconds."""
    few = asyncio.Semaphore(8)

    async def come(member: Member) -> None:
        async with few:
            await crowd.sign_in(member)

    await asyncio.gather(*(come(member) for member in crowd.members))
    for _ in range(ALONE):
        await crowd.change(crowd.members[0], "alone")
    seconds = minutes * 60
    until = time.monotonic() + seconds
    working = [asyncio.create_task(crowd.work(member, until)) for member in crowd.members]
    if more is not None:
        working.append(asyncio.create_task(more(seconds)))
    await asyncio.gather(*working)
    for member in crowd.members:
        await crowd.look(member)
    await crowd.close()
    return median(crowd.ledger.taken["alone"])


@contextmanager
def opened(address: str, workers: int) -> Iterator[tuple[Running, int]]:
    """The hosted form, by so many processes; the port it listens on."""
    with tempfile.TemporaryDirectory() as folder:
        hosting = ("host", "--database", address, "--address", PUBLIC, "--port", "0", "--data", folder)
        more = ("--workers", str(workers), "--trust", "127.0.0.1")
        with Running(*hosting, *more, program=THE_SERVER) as running:
            port = int(running.wait_for(HOSTED_AT)[1])
            until = time.monotonic() + 60
            while True:
                try:
                    asked = f"http://127.0.0.1:{port}/ready"
                    if httpx.get(asked, headers={"Host": "rigs.example"}).is_success:
                        break
                except httpx.HTTPError:
                    pass
                assert time.monotonic() < until, "the workers do not answer"
                time.sleep(0.2)
            yield running, port
            running.stop()
            for line, count in Counter(line.strip()[:100] for line in running.lines).most_common(12):
                print(f"  the server said {count} times: {line}")


def report(crowd: Crowd, alone: float, wrong: list[str]) -> bool:
    """Prints what was measured; whether all of it is as it should be."""
    ledger = crowd.ledger
    change = Times(tuple(ledger.taken["change"]))
    ratio = change.p95 / alone
    lines = [Line("a change alone, ms (median / p95)", ALONE, Times(tuple(ledger.taken["alone"])).text)]
    lines += [
        Line(f"{kind}, all at once, ms", len(ledger.taken[kind]), Times(tuple(ledger.taken[kind])).text)
        for kind in ("change", "change in a fault", "read", "read in a fault", "heavy", "sign in")
        if ledger.taken[kind]
    ]
    acknowledged = sum(len(member.acknowledged) for member in crowd.members)
    lines += [
        Line(
            "  p95 of a change, times its median alone",
            len(change.seconds),
            f"{ratio:.1f}",
            f"within {AIM:g}",
            ratio <= AIM,
        ),
        Line("errors", 1, str(len(ledger.errors)), "none", not ledger.errors),
        Line("changes acknowledged; lost or doubled", acknowledged, str(len(wrong)), "none", not wrong),
    ]
    print(machine())
    print(table(lines))
    for what in ledger.recovered:
        print(f"Fault: {what}.")
    print(f"Answered 503 in words: {sum(ledger.in_words.values())}; connections that ended: {ledger.cut}.")
    for words, count in ledger.in_words.most_common():
        print(f"  {count} x {words}")
    for problem in [*wrong, *ledger.errors][:20]:
        print(f"  {problem}")
    return not wrong and not ledger.errors and ratio <= AIM


def main(arguments: list[str]) -> int:
    """Runs it all. Gives the exit status: 0 where nothing failed, was lost or took too long."""
    parser = argparse.ArgumentParser(prog="python -m tests.load", description=__doc__)
    parser.add_argument("--members", type=int, default=200, choices=range(1, 1001), metavar="1..1000")
    parser.add_argument("--minutes", type=float, default=2.0)
    parser.add_argument("--workers", type=int, default=4, choices=range(1, 17), metavar="1..16")
    parser.add_argument("--pause", type=float, default=10.0, help="mean seconds between a member's requests")
    parser.add_argument("--faults", action="store_true")
    asked = parser.parse_args(arguments)
    if not postgres.is_there():
        print("There is no PostgreSQL on this machine.")
        return 2
    with postgres.standing({"max_connections": "100"}) as server:
        members = made_club(server.address, asked.members)
        with opened(server.address, asked.workers) as (host, port):
            crowd = Crowd(port, members, asked.pause)
            more = (lambda seconds: faults(crowd, server, host, seconds)) if asked.faults else None
            alone = run_to_its_end(hours(crowd, min(asked.minutes, 30.0), more))
        return 0 if report(crowd, alone, what_was_kept(server.address, members)) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
