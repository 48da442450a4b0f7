"""Turns among the answers that are worked out for long, so that they keep neither each other nor light ones.

One is worked out at a time in a process: a second one would only share its turn at Python. In the hosted
form a process of its own does it (`app.state.elsewhere` hands over what the others are asked), and who waits
is told how many stand before them. What is known here of who waits may be lost with the process: they ask
again.
"""

from __future__ import annotations

import asyncio
import time
from collections import Counter
from collections.abc import AsyncIterator, Hashable
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from typing import Annotated, cast

from fastapi import Depends, Request

from server.domain.errors import TooSoonError, YourTurnComesError

AT_ONCE = 1
PAGE_WAITS_S = 2.0
"""After so long a page says how many stand before it, and asks again by itself."""
PIECE_WAITS_S = 25.0
"""So long a piece of a page, a picture or a program is let wait."""
KEPT_S = 10.0
"""A place is kept for so long after a page was told of it."""
MOST_OF_ONE = 8
"""How many long answers of one member wait or are worked out: a page may show four pictures."""


class ElsewhereError(Exception):
    """This is not worked out in this process."""


@dataclass(eq=False)
class _Waiting:
    who: Hashable
    what: str
    called: asyncio.Event = field(default_factory=asyncio.Event)
    left_at: float | None = None
    """When the page that waits was last told of its place, None while it is asked for."""


class Turns:
    """Who works, and who waits: of several people's each in turn, of one person's in their order.

    `patient` lets everybody wait without end, as on a machine of one's own.
    """

    def __init__(self, *, patient: bool, most_of_one: int = MOST_OF_ONE) -> None:
        self._patient, self._most = patient, most_of_one
        self._waiting: list[_Waiting] = []
        self._working: Counter[Hashable] = Counter()
        self._last: dict[Hashable, int] = {}
        """Which turn was the last that who waits has had, of all that were had."""
        self._had = 0

    @property
    def waiting(self) -> int:
        """How many wait."""
        return len(self._waiting)

    @asynccontextmanager
    async def turn(self, who: Hashable, what: str, longest_s: float, *, returns: bool) -> AsyncIterator[None]:
        """Wait for one's turn, `longest_s` at most, and have it. `what` is asked for; who `returns` for it
        keeps their place meanwhile.

        Raises YourTurnComesError, and TooSoonError where too much is asked by one.
        """
        own = self._taken(who, what)
        self._call()
        try:
            async with asyncio.timeout(None if self._patient else longest_s):
                await own.called.wait()
        except TimeoutError:
            if not own.called.is_set():
                before = self._working.total() + self._ordered().index(own)
                if returns:
                    own.left_at = time.monotonic()
                else:
                    self._waiting.remove(own)
                raise YourTurnComesError(before) from None
        except asyncio.CancelledError:
            self._leave(own)
            raise
        try:
            yield
        finally:
            self._leave(own)

    def _taken(self, who: Hashable, what: str) -> _Waiting:
        now = time.monotonic()
        self._waiting = [one for one in self._waiting if one.left_at is None or now < one.left_at + KEPT_S]
        for one in self._waiting:
            if one.left_at is not None and (one.who, one.what) == (who, what):
                one.left_at, one.called = None, asyncio.Event()
                return one
        if not self._patient:
            of_theirs = self._working[who] + sum(one.who == who for one in self._waiting)
            if of_theirs >= self._most:
                raise TooSoonError(
                    f"{of_theirs} long answers of yours are on their way already. Wait for one of them.", 5
                )
        own = _Waiting(who, what)
        self._waiting.append(own)
        return own

    def _ordered(self) -> list[_Waiting]:
        """Those who wait, the next first."""
        of_theirs = Counter(self._working)
        ranks: dict[_Waiting, tuple[int, int]] = {}
        for one in self._waiting:
            ranks[one] = (of_theirs[one.who], self._last.get(one.who, 0))
            of_theirs[one.who] += 1
        return sorted(self._waiting, key=ranks.__getitem__)

    def _call(self) -> None:
        """Call who is next, and there."""
        for one in self._ordered():
            if self._working.total() >= AT_ONCE:
                return
            if one.left_at is None:
                self._waiting.remove(one)
                self._working[one.who] += 1
                self._had += 1
                there = {other.who for other in self._waiting}
                self._last = {who: at for who, at in self._last.items() if who in there}
                self._last[one.who] = self._had
                one.called.set()

    def _leave(self, own: _Waiting) -> None:
        if own.called.is_set():
            self._working[own.who] -= 1
            self._working += Counter()
        else:
            self._waiting.remove(own)
        self._call()


def elsewhere(request: Request) -> None:
    """Before what another process works out. Raises ElsewhereError in this one."""
    if request.app.state.elsewhere is not None:
        raise ElsewhereError


async def turn(request: Request) -> AsyncIterator[None]:
    """A turn for this request, until its route has returned."""
    elsewhere(request)
    turns = cast(Turns, request.app.state.turns)
    signed_in = getattr(request.state, "signed_in", None)
    who = None if signed_in is None else signed_in.account.observer_id
    is_page = "text/html" in request.headers.get("accept", "") and "hx-request" not in request.headers
    returns = is_page and request.method == "GET"
    longest = PAGE_WAITS_S if returns else PIECE_WAITS_S
    async with turns.turn(who, f"{request.method} {request.url}", longest, returns=returns):
        yield


IN_TURN = Depends(turn, scope="function")
"""For a route that is worked out for long and takes no workbench."""
LongTurn = Annotated[None, IN_TURN]
Elsewhere = Annotated[None, Depends(elsewhere)]
