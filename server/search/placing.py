"""The pieces of a chain put in an order in which every joint closes.

Rings and shims of a connection commute as far as lengths go. Their order decides which threads meet, and in
which joint a shim lies.
"""

from collections.abc import Iterator, Sequence

from server.search.problem import Piece, Problem, Required, Threads, Use

Walk = Sequence[tuple[Piece | Required, int, int]]


def placed(problem: Problem, walk: Walk, loops: Sequence[Piece]) -> tuple[Use, ...] | None:
    """The uses in order, or None where no order closes: a joint takes one shim, and no thread bottoms.

    ``walk`` are the ways and required items in their order, with the nodes that they join; ``loops`` the
    rings and shims, each put in as early as it can be.
    """
    uses = _Placing(problem, walk, loops).behind(0, tuple(range(len(loops))), _of(problem)[0], None)
    return None if uses is None else tuple(reversed(uses))


def can_bottom(problem: Problem, pieces: Sequence[Piece]) -> bool:
    """Whether any thread of a problem is longer than any other is deep."""
    if problem.threads is None:
        return False
    arcs = [whole.arcs for whole in pieces] + [whole.arcs for whole in problem.required]
    sides = [problem.threads, *(arc.threads for some in arcs for arc in some)]
    known = [one for threads in sides for one in threads if one is not None]
    longest = max((one for one in known if one > 0), default=0)
    return any(one <= 0 < longest + one for one in known)


def _of(problem: Problem) -> Threads:
    return problem.threads or (None, None)


class _Placing:
    """The search for such an order; what led nowhere is not tried again."""

    def __init__(self, problem: Problem, walk: Walk, loops: Sequence[Piece]) -> None:
        self.walk, self.loops = walk, loops
        self.seated, self.last = problem.threads is not None, _of(problem)[1]
        self.end = problem.end
        self.nowhere: set[tuple[int, tuple[int, ...], int | None, int | None]] = set()

    def behind(
        self, at: int, loops: tuple[int, ...], thread: int | None, shim: int | None
    ) -> list[Use] | None:
        """The uses that are left, last first, behind a thread and the length of a shim; None for none."""
        if at == len(self.walk) and not loops:
            return [] if self._closes(thread, shim, self.last) else None
        state = (at, loops, thread, shim)
        if state in self.nowhere:
            return None
        for whole, start, end, after, left in self._next(at, loops):
            lies = isinstance(whole, Piece) and whole.shim
            for number, arc in enumerate(whole.arcs):
                if (arc.start, arc.end) != (start, end):
                    continue
                found = None
                if lies and shim is None:
                    found = self.behind(after, left, thread, whole.length)
                elif not lies and self._closes(thread, shim, arc.threads[0]):
                    found = self.behind(after, left, arc.threads[1], None)
                if found is not None:
                    required = isinstance(whole, Required)
                    found.append(Use(whole.number, number, start, end, whole.length, lies, required))
                    return found
        self.nowhere.add(state)
        return None

    def _next(
        self, at: int, loops: tuple[int, ...]
    ) -> Iterator[tuple[Piece | Required, int, int, int, tuple[int, ...]]]:
        """What may come next, with its nodes and what is then left: a loop, or the next of the walk."""
        here = self.walk[at][1] if at < len(self.walk) else self.end
        for place, one in enumerate(loops):
            yield self.loops[one], here, here, at, loops[:place] + loops[place + 1 :]
        if at < len(self.walk):
            yield *self.walk[at], at + 1, loops

    def _closes(self, upper: int | None, shim: int | None, lower: int | None) -> bool:
        """Whether the shoulders of a joint meet, or its shim."""
        return not self.seated or upper is None or lower is None or upper + lower <= (shim or 0)
