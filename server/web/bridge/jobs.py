"""Searches that go on while a page is looked at: one thread each, shown as they grow, stopped on demand.

A search is found again by all that its answer depends on, so that a page that is opened twice is worked out
once.
"""

from __future__ import annotations

import time
from collections import OrderedDict
from collections.abc import Callable, Hashable
from itertools import count
from threading import BoundedSemaphore, Event, Lock, Thread
from typing import TYPE_CHECKING, TypeVar

from server.flow.bridge_alike import Gathered, gather
from server.flow.bridge_kit import KitPosed, search_kit
from server.flow.bridge_offers import offers_of, search_front, search_pairs, search_stacks
from server.flow.bridge_pose import Posed
from server.search.pairs import PairOutcome
from server.search.problem import Front, Outcome

if TYPE_CHECKING:
    from server.search.kit_planner import KitOutcome

Answer = TypeVar("Answer")

KEPT = 16
"""How many searches are kept, running or ended."""
LONGEST_S = 60.0
"""After this a search ends with what it has found."""
AT_ONCE = 2
"""How many searches run at once; others wait for their turn, and light answers for none of them."""
UNSEEN_S = 15.0
"""A search that no page has asked after for so long ends as well."""

_turns = BoundedSemaphore(AT_ONCE)
_numbers = count(1)
_waiting: set[int] = set()


class Job:
    """Something that is looked for in a thread: whether it goes on, and since when."""

    def __init__(self) -> None:
        self.stopped = False
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
        self._seen = time.monotonic()
        ended = self._ended.wait(seconds)
        self._seen = time.monotonic()
        if self.failure is not None:
            raise self.failure
        return ended

    def stop(self) -> None:
        """Let it end with what it has."""
        self.stopped = True

    def run(self) -> None:
        """Look, to the end or until it is stopped, when its turn has come."""
        try:
            _waiting.add(self._number)
            with _turns:
                _waiting.discard(self._number)
                self.began = time.monotonic()
                self.look()
        except Exception as error:  # noqa: BLE001 - the page that waits raises it again
            self.failure = error
        finally:
            self._ended.set()

    def look(self) -> None:
        """What the thread does."""
        raise NotImplementedError

    def _goes_on(self, keep: Callable[[Answer], None]) -> Callable[[Answer], bool]:
        def progress(answer: Answer) -> bool:
            keep(answer)
            now = time.monotonic()
            if now - self.began > LONGEST_S or now - self._seen > UNSEEN_S:
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

    def _found(self, outcome: KitOutcome) -> None:
        self.outcome = outcome


AnyJob = TypeVar("AnyJob", bound=Job)


class Searches:
    """The searches of one app."""

    def __init__(self) -> None:
        self._known: OrderedDict[tuple[Hashable, Hashable], Job] = OrderedDict()
        self._lock = Lock()

    def of(self, key: Hashable, posed: Posed, who: Hashable, again: bool = False) -> Search:
        """The search for stacks with this key, as `job` gives it."""
        return self.job(Search, lambda: Search(posed), key, who, again)

    def kit(self, key: Hashable, posed: KitPosed, who: Hashable, again: bool = False) -> KitSearch:
        """The planning of a kit with this key, as `job` gives it."""
        return self.job(KitSearch, lambda: KitSearch(posed), key, who, again)

    def job(
        self, kind: type[AnyJob], make: Callable[[], AnyJob], key: Hashable, who: Hashable, again: bool
    ) -> AnyJob:
        """The job of this kind and key, begun where there is none, and `again` where it was stopped.

        Another one of the same person that still runs is stopped: nobody looks at it any more.
        """
        key = (kind, key)
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
            self._known[(who, key)] = search
            while len(self._known) > KEPT:
                self._known.popitem(last=False)[1].stop()
        Thread(target=search.run, name="bridge", daemon=True).start()
        return search

    def stop_all(self) -> None:
        """Let all of them end: the app closes."""
        with self._lock:
            for search in self._known.values():
                search.stop()
