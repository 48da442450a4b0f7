"""The exact search for the best stacks between two connections.

In standard terms: the K best bills of materials of a resource-constrained path with an exact length, in a
directed multigraph whose nodes are exposed connections. A path has at most N arcs (8), every required item
once in an allowed order, no piece more often than there are copies, no more than S shims and one shim a
joint, and no joint in which a thread bottoms. Because loops of a node (rings, shims) commute and their order
changes no measure, answers are multisets of pieces, not sequences, each with an order in which it closes.

1. Bounds without lengths (bounds.py). Min-plus products give F and G, the least money from the start to a
   node and from there to the end with at most k parts, for each state of the required items. F + price + G
   is the critical budget of an entry (a copy used by one of its arcs): no stack that costs less contains it
   (reduced-cost fixing).
2. Budgets deepened by work. The budget B is raised so that the numbers of live entries grow geometrically
   (600, 1,320, ...), and at last everything is live; the passes together cost about twice the last one
   (iterative deepening: Korf, Artificial Intelligence 27 (1985), 97-109).
3. Backward tables (tables.py). A dynamic programme over parts left, node, state and length left, with an
   exact end: least money with exactly k parts and nothing of the length left. Owned loops are a 0/1
   knapsack in a fixed order with every intermediate row kept; bought loops may repeat, since they are paid
   each time. It ignores that a copy may be used at two visits or two nodes, so every cell is a lower bound
   of the true money.
4. Best-first enumeration (walks.py). The end being exact, number of parts and error of a chain are known at
   its root, so the bound of a partial chain is a full key (money, joints, error) in any order of these. A*
   takes chains from a heap, checks quantities as pieces are taken, shims and threads at the end, and gives
   each bill once. Of equivalent sequences one is made: loops in the order of columns, at the first node
   passed where they fit.
5. Where quantities mislead the bound (a free ring that would be used twice), the piece that is refused most
   becomes a counter of the state and the pass is run again: decremental state-space relaxation (Righini,
   Salani, Networks 51 (2008), 155-170). This only sharpens bounds.

Why the result is the best. The tables bound from below every completion that contains live entries only, so
A* gives the stacks of money <= B in the order of their keys (Hart, Nilsson, Raphael 1968). With money
leading, a stack that needs an entry that is not live costs more than B, so K stacks found with money <= B
are the K best. With another lead a pass is final only as long as what leads before money is at its least
possible value (no error, the fewest parts); otherwise everything is made live. When everything is live and
the heap is empty, there are no more stacks. Searches that stop early (asked to, steps, memory) say that
nothing is proven. Stacks that tie with the last one wanted are collected for a while, so that ties are
broken by mass where it is asked for, then by the bill; if the ties are more than that while mass decides
among them, the answer is not called proven.

Complexity. With L the free length in steps of the lengths' common divisor, M the states of required items
(times counters), E(B) the live groups of equal arc and length: O(N M E(B) L) additions and minima, in
vectors along the length, and O(N V M L) cells, V the nodes passed by live entries: pseudo-polynomial in the
length. The enumeration takes O(out-degree) for each step; the steps are N K or so where the bounds are
tight, and exponential in N at worst (the problem contains subset sum, so it is NP-hard).
"""

from dataclasses import replace

from server.search.index import Index
from server.search.misses import nearest
from server.search.passes import Ground, Passes, Progress, Tally
from server.search.problem import Outcome, Problem


def search(problem: Problem, *, index: Index | None = None, progress: Progress | None = None) -> Outcome:
    """The best stacks of a problem, proven, or the nearest miss where there is none.

    ``index`` may be one built before from ``problem.pieces``; without it one is built. ``progress`` is
    called now and then with the best stacks so far; when it returns False the search stops and gives those,
    not proven.
    """
    index = index or Index(problem.pieces)
    tally = Tally()
    ground = Ground(problem, index, *problem.tolerance)
    passes = Passes(ground, tally, progress)
    if ground.axis.top < 0 or ground.least_parts is None or not ground.axis.roots:
        proven, exhausted = True, True
    else:
        _, proven, exhausted = passes.run()
    outcome = Outcome(tuple(passes.best), proven, exhausted, work=tally.work())
    if outcome.best or not exhausted:
        return outcome
    return replace(outcome, nearest=nearest(problem, index, tally, progress), work=tally.work())
