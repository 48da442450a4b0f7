"""`python -m tests.load [--members 200] [--minutes 2] [--workers 4] [--pause 10] [--faults]`: a whole club.

A PostgreSQL server in a scratch folder, the hosted form by several processes, and invented members who sign
in and work, all on this machine: 70 of 100 requests read, 25 change a rig, 5 ask for stars, a search or a
Bridge.
Each change sets a length that its rig never had, so that what was kept can be counted: every change that
was acknowledged must be there once, in its order, and nothing that nobody asked for.

With `--faults`, while it runs, a worker and the process beside are killed, all connections to the database
are cut, the database is stopped and started, its disk is filled (as root: on a small disk of its own), and
slow clients hang on. But for these, a request may be answered 503 in words then, or its connection end with
the worker.
"""

from __future__ import annotations

import argparse
import asyncio
import re
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Coroutine, Iterator
from contextlib import contextmanager
from statistics import median

import httpx

from tests import postgres
from tests.bench.measure import Line, Times, machine, table
from tests.load.club import Member, made_club, what_was_kept
from tests.load.crowd import PUBLIC, Crowd
from tests.load.faults import Faults
from tests.loop import run_to_its_end
from tests.running import THE_SERVER, Running

HOSTED_AT = re.compile(r"listening on 127.0.0.1, port (\d+)")
ALONE = 40
"""Changes that are made, and pages read, while nobody else is there, and then beside what takes long."""
LIGHT = "/bench/{rig}"
LONG = ("/bench/{rig}/stars?seeing_arcsec=2.", "/sky/plan?moon=", "/bench/{rig}/bridge?without=9")
BESIDE = 2.0
"""How many times its time alone a light answer may take beside long ones, by their medians."""
AIM = 6.0
"""How many times its median alone a change may take at its 95th percentile."""


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
        await crowd.ask(crowd.members[0], "read alone", crowd.members[0].filled(LIGHT))
    await beside_long_ones(crowd)
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


async def beside_long_ones(crowd: Crowd) -> None:
    """One changes and reads while three others ask for what takes long, again and again."""
    going = True

    async def ask_on(member: Member) -> None:
        at = 0
        while going:
            # Never the same twice, which would be known.
            path = f"{member.filled(LONG[at % len(LONG)])}{at // len(LONG) + 1}"
            await crowd.ask(member, "long", path)
            at += 1

    others = [asyncio.create_task(ask_on(member)) for member in crowd.members[1:4]]
    for _ in range(ALONE):
        await asyncio.sleep(0.1)
        await crowd.change(crowd.members[0], "beside long ones")
        await crowd.ask(crowd.members[0], "read beside long ones", crowd.members[0].filled(LIGHT))
    going = False
    await asyncio.gather(*others)


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
    taken = ledger.taken
    beside = {
        "change beside long ones": median(taken["beside long ones"]) / alone,
        "read beside long ones": median(taken["read beside long ones"]) / median(taken["read alone"]),
    }
    lines = [Line("a change alone, ms (median / p95)", ALONE, Times(tuple(ledger.taken["alone"])).text)]
    lines += [
        Line(f"{kind}, all at once, ms", len(ledger.taken[kind]), Times(tuple(ledger.taken[kind])).text)
        for kind in ("change", "change in a fault", "read", "read in a fault", "heavy", "long", "sign in")
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
        *(
            Line(
                f"  a {kind}, times its median alone",
                ALONE,
                f"{times:.2f}",
                f"within {BESIDE:g}",
                times <= BESIDE,
            )
            for kind, times in beside.items()
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
    with postgres.small_disk() as disk, postgres.standing({"max_connections": "100"}, disk) as server:
        if disk is None:
            print("Nobody may make a disk here, so none is filled.")
        members = made_club(server.address, asked.members)
        with opened(server.address, asked.workers) as (host, port):
            crowd = Crowd(port, members, asked.pause)
            more = Faults(crowd, server, host, port, disk).strike_all if asked.faults else None
            alone = run_to_its_end(hours(crowd, min(asked.minutes, 30.0), more))
        return 0 if report(crowd, alone, what_was_kept(server.address, members)) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
