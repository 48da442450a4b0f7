"""The off-axis guider's side branch: the main chain and the guide chain, solved together from one drawer.

**The problem.** The guide camera is in focus when prism to guide sensor equals prism to main sensor. The
length asked of the guide chain therefore depends on where the guider stands in the main chain: on what
follows it. Rings before and behind the guider no longer commute, and a part that one owns once serves one
branch only.

**The method.** The guider cuts the main chain in two; with the guide chain that makes three segments:
before, behind, guide. Each is a resource-constrained shortest-path problem of its own, and they meet in two
length equations, in the quantities and in the limits of parts, shims and mass:

    before + guider + behind = target + error,    guide = offset + behind + error of the guide chain.

1. For each segment a backward table (``tables``) gives the least money and joints for *every* exact length,
   quantities relaxed. For each length and number of parts of the segment behind the guider, two windowed
   minima add the cheapest partner on either side: one vector of lower bounds, the roots.
2. Roots (length and number of parts behind the guider) are opened best first. An opened root asks three
   lists, one a segment, exact length and number of parts, for their next chain; a list is the enumeration
   of ``walks`` (A*, so in the order of the key), kept and shared by all roots that ask for the same length.
   The three sorted lists are joined by a heap of index triples (the k smallest sums of sorted lists).
3. A joined triple is priced afresh with the copies counted across the segments (an owned copy saves money
   once) and goes back onto the heap with its true key, or is refused. Where refusals for one piece take up
   the work, the problem is split, one sharing a segment: "its owned copy, if used, is used here"
   (branching on the relaxed resource), which raises the bounds of all sharings.
4. All of it runs within a budget, deepened by work as in ``stacks``: entries of the catalogue that cannot
   lie on a pair within the budget are left out (reduced-cost fixing).

**Why the result is optimal.** Relaxing the quantities and the joint limits only lowers a bound, so whatever
leaves the heap has a key no greater than that of anything not yet found; a pair is final when it leaves
with its true key. Every pair within the budget decomposes into three chains of the lists, and the sharings
cover every pair. The search ends when as many pairs as were wanted have left within the budget, or
everything has been let in.

**Complexity.** O(P * G * R) for the three tables (P parts, G live groups of arcs, R lengths) and O(R * w)
for the roots (w lengths within the tolerances); then O(log heap) for a triple and the steps of the
enumerations. The number of triples is exponential at worst, as the problem (knapsack with a path) is
NP-hard.
"""

from dataclasses import replace

from server.search.deepening import settled
from server.search.index import Index
from server.search.joins import Pass
from server.search.pairs import Branch, NoPair, Pair, PairOutcome, Progress
from server.search.problem import Problem, Work
from server.search.segments import Joint
from server.search.stacks import search

__all__ = ["Branch", "NoPair", "Pair", "PairOutcome", "search_pairs"]

MOST_STEPS = 400_000  # Steps of the enumerations and joined triples together, before the search gives up.
MOST_TIES = 400  # Triples looked at beyond the last one wanted, for those that tie with it.


class Passes:
    """The passes of one search: budgets deepened by work, what is overdrawn made exact."""

    def __init__(self, joint: Joint, progress: Progress | None) -> None:
        self.joint, self.progress = joint, progress
        self.best: list[Pair] = []
        self.passes = self.steps = self.cells = 0
        self.stopped = False

    def work(self) -> Work:
        """What the search has cost."""
        joint = self.joint
        made = len(joint.split_pieces) + sum(len(one) for one in joint.resources)
        return Work(self.passes, self.steps, self.cells, made)

    def run(self) -> tuple[bool, bool]:
        """Whether the best are proven, and whether they are all there are."""
        for budget in self.joint.budgets():
            done = settled(self._budget, budget)
            if done is None or self.stopped:
                return False, False
            if done:
                return True, False
        return True, len(self.best) < self.joint.problem.want

    def _budget(self, budget: int | None) -> bool | None:
        """One pass: True when everything wanted is found and proven, None when it must be run again."""
        joint, lead, want = self.joint, self.joint.problem.lead, self.joint.problem.want
        one = Pass(joint, budget)
        self.passes += 1
        self.cells = max(self.cells, one.cells)
        found: list[tuple[int, Pair]] = []
        ties_until: int | None = None
        certain = True
        limit = None if budget is None else self._certain(budget)
        for code, pair in one.run():
            if limit is not None and code > limit:
                certain = False
                break
            if ties_until is not None and (code > found[want - 1][0] or one.triples > ties_until):
                break
            if pair is not None:
                found.append((code, pair))
                if len(found) == want:
                    ties_until = one.triples + MOST_TIES
                continue
            if not self._report(found) or self.steps + one.steps > MOST_STEPS:
                self.stopped = True
                break
            if ties_until is None and one.overdrawn():
                self.steps += one.steps
                return None
        self.steps += one.steps
        found.sort(key=lambda pair: (pair[1].key(lead), pair[1].bill))
        if not self.stopped or len(found) >= len(self.best):
            self.best = [pair for _, pair in found[:want]]
        return certain and len(found) >= want

    def _certain(self, budget: int) -> int:
        """The greatest code up to which a pass within a budget has left nothing out.

        A pair that was left out costs more than the budget; with another lead than money its code may still
        be small, but not below that of the least that it can have in what comes before money.
        """
        joint = self.joint
        code = joint.code
        ahead = code.order[: code.order.index("money")]
        floor = joint.least_joints if "joints" in ahead else 0
        return code(budget + 1, floor, 0) - 1

    def _report(self, found: list[tuple[int, Pair]]) -> bool:
        """Show the best so far; False asks to stop."""
        if self.progress is None:
            return True
        best = [pair for _, pair in found] if len(found) >= len(self.best) else self.best
        return self.progress(PairOutcome(tuple(best), proven=False, exhausted=False, work=self.work()))


def search_pairs(
    problem: Problem, branch: Branch, *, index: Index | None = None, progress: Progress | None = None
) -> PairOutcome:
    """The best pairs of a main stack and a guide stack, proven, or why there is none.

    Both are built from ``problem.pieces``; ``problem.required`` holds the guider. ``index`` may be one
    built before from these pieces. ``progress`` is called now and then with the best so far; when it
    returns False the search stops and gives those, not proven. Raises ValueError where the guider can be
    put in in more ways than one.
    """
    index = index or Index(problem.pieces)
    joint = Joint(problem, branch, index)
    passes = Passes(joint, progress)
    proven = exhausted = True
    if joint.splits:
        proven, exhausted = passes.run()
    outcome = PairOutcome(tuple(passes.best), proven, exhausted, work=passes.work())
    if outcome.best or not exhausted:
        return outcome
    return replace(outcome, nearest=no_pair(problem, branch, index))


def no_pair(problem: Problem, branch: Branch, index: Index) -> NoPair:
    """Why there is no pair: the main chain, the guide chain, or both together."""
    alone = search(replace(problem, want=1), index=index)
    if not alone.best:
        return NoPair(main=alone.nearest)
    stack = alone.best[0]
    numbers = [use.number if use.required else None for use in stack.uses]
    at = numbers.index(problem.required[branch.guider].number)
    asked = branch.offset + sum(use.length for use in stack.uses[at + 1 :])
    guide = Problem(
        problem.nodes, branch.start, branch.end, asked, branch.tolerance, problem.pieces, branch.required,
        (), branch.most_parts, branch.most_shims, None, problem.lead, 1, branch.threads,
    )  # fmt: skip
    return NoPair(stack=stack, asked=asked, guide=search(guide, index=index).nearest)
