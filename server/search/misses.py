"""Why no stack lies within the tolerance, how near the nearest one comes, and which single length would
close it.
"""

from dataclasses import replace

import numpy as np

from server.search.bounds import FAR, Orders, bounds
from server.search.index import Index
from server.search.passes import Ground, Passes, Progress, Tally
from server.search.problem import Closing, Nearest, Outcome, Problem, Stack

WINDOWS = (200, 1_000, 5_000)  # How far off a miss is looked for, in hundredths, before every length is.
SHORTEST_RING = (
    300  # 3 mm: about the shortest ring that a thread leaves room for (common practice, no source).
)
MOST_NEEDED = 24  # Chains of more parts are not worth naming.


def nearest(problem: Problem, index: Index, tally: Tally, progress: Progress | None = None) -> Nearest:
    """The nearest miss of a problem that has no stack, and the lengths that would close it.

    ``tally`` is added to. ``progress`` is asked now and then whether to go on, with nothing to show yet.
    """

    def go_on(outcome: Outcome) -> bool:
        return progress is None or progress(replace(outcome, best=()))

    def look(asked: Problem, low: int, high: int, *, everything: bool = False) -> tuple[Stack | None, bool]:
        """The best stack with an error from ``low`` to ``high``, and whether that is proven."""
        short = min(max(0, -low), max(0, asked.target))
        ground = Ground(asked, index, short, high)
        roots = tuple(root for root in ground.axis.roots if low <= root[1] <= high)
        ground.axis = replace(ground.axis, roots=roots)
        if not roots or ground.least_parts is None:
            return None, True
        passes = Passes(ground, tally, go_on)
        best, proven, _ = passes.run([None] if everything else None)
        return (best[0] if best else None), proven

    first = bounds(problem, index, Orders(problem), index.price, [0] * len(problem.required))
    if first.behind[problem.most_parts, problem.start, 0] >= FAR:
        return _unreachable(problem, index)
    if problem.greatest_mass is not None:
        free = replace(problem, greatest_mass=None, want=1)
        heavy, _ = look(free, -problem.tolerance[0], problem.tolerance[1])
        if heavy is not None:
            return Nearest("mass", heavy)
    longest = int(index.length.max(initial=0)) * problem.most_parts
    longest += sum(item.length for item in problem.required) + problem.target
    near = replace(problem, lead=("error", "money", "joints"), want=1)
    stack, proven = None, True
    for window in (*WINDOWS, longest):
        stack, proven = look(near, -window, window, everything=True)
        if stack is not None or not proven or window >= longest:
            break
    closings = _closings(problem, look, stack) if proven and problem.most_parts else ()
    if stack is None and proven:
        return Nearest("quantity")
    return Nearest("length", stack, closings, proven=proven)


def _closings(problem: Problem, look, nearest_miss: Stack | None) -> tuple[Closing, ...]:  # type: ignore[no-untyped-def]
    """The shortest length that closes the gap, and one that can be made that goes with the cheapest stack."""
    asked = replace(problem, most_parts=problem.most_parts - 1, want=1)
    near = replace(asked, lead=("error", "money", "joints"))
    found: list[Stack] = []
    if nearest_miss is not None and nearest_miss.error < 0 and len(nearest_miss.uses) < problem.most_parts:
        found.append(nearest_miss)
    else:
        for window in (*WINDOWS, problem.target):
            stack, proven = look(near, -window, -problem.tolerance[0] - 1, everything=True)
            if stack is not None:
                found.append(stack)
            if stack is not None or not proven or window >= problem.target:
                break
    if not found or -found[0].error < SHORTEST_RING:
        stack, _ = look(asked, -problem.target, -max(SHORTEST_RING, problem.tolerance[0] + 1))
        if stack is not None:
            found.append(stack)
    return tuple(Closing(-stack.error, _passed(problem, stack), stack) for stack in found)


def _passed(problem: Problem, stack: Stack) -> tuple[int, ...]:
    """The nodes that a stack passes, in order."""
    return tuple(dict.fromkeys([problem.start, *(use.end for use in stack.uses)]))


def _unreachable(problem: Problem, index: Index) -> Nearest:
    """Which connections can be reached from each side."""
    pairs = set(zip(index.start.tolist(), index.end.tolist(), strict=True))
    pairs |= {(arc.start, arc.end) for item in problem.required for arc in item.arcs}
    step = np.eye(problem.nodes, dtype=np.int64)
    for start, end in pairs:
        step[start, end] = 1
    ahead = np.zeros(problem.nodes, dtype=np.int64)
    behind = ahead.copy()
    ahead[problem.start] = behind[problem.end] = 1
    for _ in range(problem.most_parts):
        ahead = np.minimum(ahead @ step, 1)
        behind = np.minimum(step @ behind, 1)
    longer = replace(problem, most_parts=max(MOST_NEEDED, problem.most_parts))
    lifted = bounds(longer, index, Orders(longer), index.price, [0] * len(problem.required))
    needed = next((k for k in range(longer.most_parts + 1) if lifted.behind[k, problem.start, 0] < FAR), None)
    return Nearest(
        "unreachable",
        forward=tuple(np.nonzero(ahead)[0].tolist()),
        backward=tuple(np.nonzero(behind)[0].tolist()),
        parts_needed=needed,
    )
