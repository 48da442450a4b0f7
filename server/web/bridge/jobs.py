"""Searches that go on while a page is looked at: one thread each, shown as they grow, stopped on demand.

A search is found again by all that its answer depends on, so that a page that is opened twice is worked out
once. Where several processes serve, each notes on a `Board` how far its searches are, and tells of another's
by that.
"""

from __future__ import annotations

import hashlib
import logging
import time
from collections import OrderedDict
from collections.abc import Callable, Hashable
from functools import cache
from itertools import count
from threading import BoundedSemaphore, Event, Lock, Thread
from typing import TYPE_CHECKING, Any, TypeVar

from pydantic import TypeAdapter

from server.flow.bridge_alike import Gathered, gather
from server.flow.bridge_kit import KitPosed, search_kit
from server.flow.bridge_offers import offers_of, search_front, search_pairs, search_stacks
from server.flow.bridge_pose import Posed
from server.flow.search_notes import Board, Noted, Noting
from server.search.pairs import PairOutcome
from server.search.problem import Front, Outcome

if TYPE_CHECKING:
    from server.search.kit_planner import KitOutcome

Answer = TypeVar("Answer")

log = logging.getLogger(__name__)

KEPT = 16
"""How many searches are kept, beside those that go on."""
LONGEST_S = 60.0
"""After this a search ends with what it has found."""
CLOSING_S = 2.0
"""So long the app waits for its searches when it closes."""
AT_ONCE = 2
"""How many searches run at once; others wait for their turn, and light answers for none of them."""
NOTED_S = 1.0
"""How often a search notes how far it is."""
HEARD_S = 0.2
"""How often one of another process is asked after."""
UNSEEN_S = 15.0
"""A search that no page has asked after for so long ends as well."""

_turns = BoundedSemaphore(AT_ONCE)
_numbers = count(1)
_waiting: set[int] = set()


class Job:
    """Something that is looked for in a thread, here or in another process: whether it goes on, and since
    when.
    """

    def __init__(self) -> None:
        self.stopped = False
        self.closing = False
        self.noting: Noting | None = None
        self._elsewhere = False
        self.failure: BaseException | None = None
        self.began = self._seen = time.monotonic()
        self._ended = Event()
        self._number = next(_numbers)

    @property
    def ended(self) -> bool:
        """Whether nothing more will be found."""
        return self._ended.is_set()

    @property
    def seconds(self) -> float:
        """How long ago it began."""
        return time.monotonic() - self.began

    @property
    def before(self) -> int | None:
        """How many searches come before this one, None where it has begun."""
        waiting = _waiting.copy()
        return sum(one < self._number for one in waiting) if self._number in waiting else None

    def wait(self, seconds: float) -> bool:
        """Wait for its end, so long at most; whether it has ended. Raises what the search itself raised."""
        # As long as somebody waits it is seen.
        self._seen = time.monotonic() + seconds
        if self._elsewhere and self.noting is not None:
            self.noting.board.see(self.noting.who, self.noting.key)
            return self._heard(seconds)
        ended = self._ended.wait(seconds)
        self._seen = time.monotonic()
        if self.failure is not None:
            raise self.failure
        return ended

    def ends_within(self, seconds: float) -> bool:
        """Whether it ends so soon, whatever comes of it."""
        return self._ended.wait(max(0.0, seconds))

    def stop(self) -> None:
        """Let it end with what it has."""
        if self._elsewhere and self.noting is not None:
            self.noting.board.stop(self.noting.who, self.noting.key)
        self.stopped = True

    def take(self, noted: Noted) -> None:
        """Tell of a search of another process, as it was noted."""
        self._elsewhere = True
        self.hear(noted.found)
        self.began, self.stopped = time.monotonic() - noted.seconds, noted.stopped
        if noted.ended or not noted.alive:
            # What its process has not ended, it may go on with where it is asked for again.
            self.stopped = not noted.ended or noted.stopped
            self._ended.set()

    def _heard(self, seconds: float) -> bool:
        until = time.monotonic() + seconds
        while self.noting is not None:
            noted = self.noting.board.read(self.noting.who, self.noting.key)
            if noted is not None:
                self.take(noted)
            left = until - time.monotonic()
            if self._ended.wait(max(0.0, min(HEARD_S, left))) or left <= 0.0:
                break
        return self.ended

    def note(self, *, ended: bool = False) -> None:
        """Note how far it is."""
        if self.noting is None:
            return
        noted = Noted(self.told(), self.seconds, ended, self.stopped)
        try:
            known = self.noting.board.note(self.noting.who, self.noting.key, noted)
        except Exception as error:  # noqa: BLE001 - a search goes on without its note, and the next may be taken
            log.warning("A search could not be noted: %s", type(error).__name__)
            return
        if known is not None:
            if known.stopped:
                self.stopped = True
            self._seen = max(self._seen, time.monotonic() - known.seen_ago_s)

    def told(self) -> str:
        """What was found, as JSON."""
        raise NotImplementedError

    def hear(self, found: str) -> None:
        """Take what was found."""
        raise NotImplementedError

    def run(self) -> None:
        """Look, to the end or until it is stopped, when its turn has come."""
        try:
            if self._has_turn():
                try:
                    self.began = time.monotonic()
                    self.look()
                finally:
                    _turns.release()
        except Exception as error:  # noqa: BLE001 - the page that waits raises it again
            self.failure = error
        finally:
            # Where the app closes, another process begins it anew.
            if self.failure is None and not self.closing:
                self.note(ended=True)
            self._ended.set()

    def _has_turn(self) -> bool:
        """Wait for a turn; False where it was stopped before, or nobody asks after it any more."""
        _waiting.add(self._number)
        try:
            while not (self.stopped or time.monotonic() > self._seen + UNSEEN_S):
                if _turns.acquire(timeout=NOTED_S):
                    return True
                self.note()
            self.stopped = True
            return False
        finally:
            _waiting.discard(self._number)

    def look(self) -> None:
        """What the thread does."""
        raise NotImplementedError

    def _goes_on(self, keep: Callable[[Answer], None]) -> Callable[[Answer], bool]:
        noted_at = time.monotonic()

        def progress(answer: Answer) -> bool:
            nonlocal noted_at
            keep(answer)
            now = time.monotonic()
            if now - noted_at > NOTED_S:
                self.note()
                noted_at = now
            if now - self.began > LONGEST_S or now > self._seen + UNSEEN_S:
                self.stopped = True
            return not self.stopped

        return progress


class Search(Job):
    """One search for stacks: what it has found so far."""

    def __init__(self, posed: Posed) -> None:
        super().__init__()
        self.posed = posed
        self.outcome: Outcome | PairOutcome = Outcome((), proven=False, exhausted=False)
        self.front: Front | None = None
        self._gathered: tuple[Outcome | PairOutcome, Front | None, tuple[Gathered, ...]] | None = None

    def gathered(self) -> tuple[Gathered, ...]:
        """What was found so far, alike stacks together, judged once for all pages that show it."""
        outcome, front = self.outcome, self.front
        known = self._gathered
        if known is None or known[0] is not outcome or known[1] is not front:
            found = gather(self.posed, offers_of(self.posed, outcome), front)
            known = self._gathered = (outcome, front, found)
        return known[2]

    def look(self) -> None:
        """Search for the stacks, then for their front; with a guide camera for pairs of stacks alone."""
        if self.posed.side is not None:
            self.outcome = PairOutcome((), proven=False, exhausted=False)
            self.outcome = search_pairs(self.posed, self._goes_on(self._found))
            return
        self.outcome = whole = search_stacks(self.posed, self._goes_on(self._found))
        if whole.best and not self.stopped:
            self.front = search_front(self.posed, whole, self._goes_on(self._drawn))

    def told(self) -> str:
        """Both, as JSON."""
        return _json(self._kind).dump_json((self.outcome, self.front)).decode()

    def hear(self, found: str) -> None:
        """Both."""
        self.outcome, self.front = _json(self._kind).validate_json(found)

    @property
    def _kind(self) -> Any:
        pairs = self.posed.side is not None
        return tuple[PairOutcome, Front | None] if pairs else tuple[Outcome, Front | None]

    def _found(self, outcome: Outcome | PairOutcome) -> None:
        self.outcome = outcome

    def _drawn(self, front: Front) -> None:
        self.front = front


class KitSearch(Job):
    """One planning of a kit: what it has found so far, None for nothing yet."""

    def __init__(self, posed: KitPosed) -> None:
        super().__init__()
        self.posed = posed
        self.outcome: KitOutcome | None = None

    def look(self) -> None:
        """Plan the kit."""
        self.outcome = search_kit(self.posed, self._goes_on(self._found))

    def told(self) -> str:
        """It, as JSON."""
        return _json(self._kind).dump_json(self.outcome).decode()

    def hear(self, found: str) -> None:
        """It."""
        self.outcome = _json(self._kind).validate_json(found)

    @property
    def _kind(self) -> Any:
        from server.search.kit_planner import KitOutcome

        return KitOutcome | None

    def _found(self, outcome: KitOutcome) -> None:
        self.outcome = outcome


@cache
def _json(kind: Any) -> TypeAdapter[Any]:
    return TypeAdapter(kind)


AnyJob = TypeVar("AnyJob", bound=Job)


class Searches:
    """The searches of one app; with a `board`, also those that other processes note there."""

    def __init__(self, board: Board | None = None) -> None:
        self.board = board
        self._known: OrderedDict[tuple[Hashable, Hashable], Job] = OrderedDict()
        self._lock = Lock()

    def of(self, key: Hashable, posed: Posed, who: int, again: bool = False) -> Search:
        """The search for stacks with this key, as `job` gives it."""
        return self.job(Search, lambda: Search(posed), key, who, again)

    def kit(self, key: Hashable, posed: KitPosed, who: int, again: bool = False) -> KitSearch:
        """The planning of a kit with this key, as `job` gives it."""
        return self.job(KitSearch, lambda: KitSearch(posed), key, who, again)

    def job(
        self, kind: type[AnyJob], make: Callable[[], AnyJob], key: Hashable, who: int, again: bool
    ) -> AnyJob:
        """The job of this kind and key, begun where there is none, and `again` where it was stopped.

        Another one of the same person that still runs is stopped: nobody looks at it any more.
        """
        key = (kind, key)
        noting, noted = self._noted(who, key)
        with self._lock:
            known = self._known.get((who, key))
            over = known is not None and (
                known.failure is not None or (again and known.stopped and known.ended)
            )
            if isinstance(known, kind) and not over:
                self._known.move_to_end((who, key))
                return known
            for (owner, _), other in self._known.items():
                if owner == who and not other.ended:
                    other.stop()
            search = make()
            search.noting = noting
            if noted is not None and noted.alive and not (again and noted.stopped and noted.ended):
                search.take(noted)
                return search
            self._known[(who, key)] = search
            # Those that go on end by themselves: each member has one, and one that nobody looks at ends soon.
            ended = [one for one, other in self._known.items() if other.ended]
            for one in ended[: max(0, len(self._known) - KEPT)]:
                del self._known[one]
        search.note()
        Thread(target=search.run, name="bridge", daemon=True).start()
        return search

    def _noted(self, who: int, key: Hashable) -> tuple[Noting | None, Noted | None]:
        """Where a search is noted, and what; nothing is read of one that runs here."""
        if self.board is None:
            return None, None
        digest = hashlib.sha256(repr(key).encode()).hexdigest()
        with self._lock:
            is_here = (who, key) in self._known
        return Noting(self.board, who, digest), None if is_here else self.board.read(who, digest)

    def stop_all(self) -> None:
        """Let all of them end, and wait for them a little: the app closes."""
        with self._lock:
            running = [search for search in self._known.values() if not search.ended]
        for search in running:
            search.closing = True
            search.stop()
        until = time.monotonic() + CLOSING_S
        for search in running:
            search.ends_within(until - time.monotonic())
