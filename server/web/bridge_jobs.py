"""Searches that go on while a page is looked at: one thread each, shown as they grow, stopped on demand.

A search is found again by all that its answer depends on, so that a page that is opened twice is worked out
once.
"""

from __future__ import annotations

import time
from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Event, Lock, Thread
from typing import TypeVar

from server.flow.bridge_offers import search_front, search_stacks
from server.flow.bridge_pose import Posed
from server.search.problem import Front, Outcome

Answer = TypeVar("Answer")

KEPT = 16
"""How many searches are kept, running or ended."""
LONGEST_S = 60.0
"""After this a search ends with what it has found."""
UNSEEN_S = 15.0
"""A search that no page has asked after for so long ends as well."""


class Search:
    """One search: what it has found so far, and whether it goes on."""

    def __init__(self, posed: Posed) -> None:
        self.posed = posed
        self.outcome = Outcome((), proven=False, exhausted=False)
        self.front: Front | None = None
        self.stopped = False
        self.failure: BaseException | None = None
        self.began = self._seen = time.monotonic()
        self._ended = Event()

    @property
    def ended(self) -> bool:
        """Whether nothing more will be found."""
        return self._ended.is_set()

    @property
    def seconds(self) -> float:
        """How long ago it began."""
        return time.monotonic() - self.began

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
        """Search for the stacks, then for their front."""
        try:
            self.outcome = search_stacks(self.posed, self._goes_on(self._found))
            if self.outcome.best and not self.stopped:
                self.front = search_front(self.posed, self.outcome, self._goes_on(self._drawn))
        except Exception as error:  # noqa: BLE001 - the page that waits raises it again
            self.failure = error
        finally:
            self._ended.set()

    def _found(self, outcome: Outcome) -> None:
        self.outcome = outcome

    def _drawn(self, front: Front) -> None:
        self.front = front

    def _goes_on(self, keep: Callable[[Answer], None]) -> Callable[[Answer], bool]:
        def progress(answer: Answer) -> bool:
            keep(answer)
            now = time.monotonic()
            if now - self.began > LONGEST_S or now - self._seen > UNSEEN_S:
                self.stopped = True
            return not self.stopped

        return progress


class Searches:
    """The searches of one app."""

    def __init__(self) -> None:
        self._known: OrderedDict[tuple[Hashable, Hashable], Search] = OrderedDict()
        self._lock = Lock()

    def of(self, key: Hashable, posed: Posed, who: Hashable, again: bool = False) -> Search:
        """The search with this key, begun where there is none, and `again` where it was stopped.

        Another one of the same person that still runs is stopped: nobody looks at it any more.
        """
        with self._lock:
            known = self._known.get((who, key))
            over = known is not None and (
                known.failure is not None or (again and known.stopped and known.ended)
            )
            if known is not None and not over:
                self._known.move_to_end((who, key))
                return known
            for (owner, _), other in self._known.items():
                if owner == who and not other.ended:
                    other.stop()
            search = self._known[(who, key)] = Search(posed)
            while len(self._known) > KEPT:
                self._known.popitem(last=False)[1].stop()
        Thread(target=search.run, name="bridge", daemon=True).start()
        return search

    def stop_all(self) -> None:
        """Let all of them end: the app closes."""
        with self._lock:
            for search in self._known.values():
                search.stop()
