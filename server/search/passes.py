"""One search's ground, its passes over the budgets, and what they count: steps 2 to 5 of ``stacks``."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from server.search.bounds import FAR, Bounds, Modes, Orders, bounds
from server.search.deepening import budgets_of, settled
from server.search.index import Bools, Index, Ints
from server.search.problem import Outcome, Problem, Stack, Work
from server.search.tables import MOST_CELLS, Gap, Tables, gap
from server.search.walks import MASS, SHIMS, Enumeration

PATIENCE = 1_500  # Steps before the resource that is overdrawn most is made exact.
MOST_STEPS = 400_000
MOST_MASS_TIES = 20_000  # The same where mass decides among them.
MOST_TIES = 400  # Steps spent on the bills that tie with the last one.

Progress = Callable[[Outcome], bool]


@dataclass(slots=True)
class Tally:
    """What a search has cost so far."""

    passes: int = 0
    steps: int = 0
    cells: int = 0
    resources: int = 0

    def work(self) -> Work:
        """The same, frozen."""
        return Work(self.passes, self.steps, self.cells, self.resources)


class Ground:
    """All that the passes of one search share: bounds without lengths, and which entries can count at all."""

    def __init__(self, problem: Problem, index: Index, short: int, long: int) -> None:
        self.problem, self.index = problem, index
        self.orders = Orders(problem)
        self.axis: Gap = gap(problem, index, short, long)
        nothing = [0] * len(problem.required)
        self.money = bounds(problem, index, self.orders, index.price, nothing)
        lengths = bounds(problem, index, self.orders, index.length, nothing)
        through = self.money.through(problem.most_parts)
        self.critical: Ints = through[index.start, index.end] + index.price
        short_way = lengths.through(problem.most_parts)
        possible = self.critical < FAR
        possible &= short_way[index.start, index.end] + index.length <= self.axis.top * self.axis.step
        self.masses: Bounds | None = None
        self.own_mass = sum(item.mass for item in problem.required)
        if problem.greatest_mass is not None:
            self.masses = bounds(problem, index, self.orders, index.mass, nothing)
            light = self.masses.through(problem.most_parts)
            possible &= light[index.start, index.end] + index.mass <= problem.greatest_mass - self.own_mass
        self.possible: Bools = possible
        self.least_parts = next(
            (k for k in range(problem.most_parts + 1) if self.money.behind[k, problem.start, 0] < FAR), None
        )

    def budgets(self) -> list[int | None]:
        """The budgets to try, in money, each letting in more entries; None at the end lets everything in."""
        return budgets_of(self.critical[self.possible])

    def tables(self, budget: int | None, resources: list[tuple[int, int]]) -> Tables:
        """The backward tables of money for a budget."""
        index, problem = self.index, self.problem
        live = self.possible if budget is None else self.possible & (self.critical <= budget)
        ceiling = problem.most_parts * int(index.price[self.possible].max(initial=0))
        modes = Modes(self.orders, resources, index)
        most = ceiling if budget is None else budget
        return Tables(problem, index, modes, self.money, self.axis, live, index.price, most, ceiling)

    def other_tables(self, like: Tables, measure: Ints) -> Tables:
        """Tables of another measure over the entries that ``like`` holds, without a budget."""
        live = np.zeros(len(measure), dtype=np.bool_)
        live[like.entries] = True
        nothing = [0] * len(self.problem.required)
        limits = bounds(self.problem, self.index, self.orders, measure, nothing)
        most = self.problem.most_parts * int(measure[like.entries].max(initial=0))
        return Tables(self.problem, self.index, like.modes, limits, self.axis, live, measure, most, most)

    def mass_tables(self, resources: list[tuple[int, int]]) -> Tables | None:
        """The backward tables of mass for everything that can count."""
        if self.masses is None or self.problem.greatest_mass is None:
            return None
        modes = Modes(self.orders, resources, self.index)
        most = max(0, self.problem.greatest_mass - self.own_mass)
        return Tables(
            self.problem,
            self.index,
            modes,
            self.masses,
            self.axis,
            self.possible,
            self.index.mass,
            most,
            most,
        )


def capacity(problem: Problem, index: Index, resource: int) -> int:
    """How much of a resource there is."""
    return problem.most_shims if resource == SHIMS else index.pieces[resource].copies


class Passes:
    """The passes of one search: budgets deepened by work, resources made exact where quantities mislead."""

    def __init__(self, ground: Ground, tally: Tally, progress: Progress | None) -> None:
        self.ground, self.tally, self.progress = ground, tally, progress
        self.resources: list[tuple[int, int]] = []
        self.stopped = False
        self.best: list[Stack] = []
        self.weigh = False

    def run(self, budgets: list[int | None] | None = None) -> tuple[list[Stack], bool, bool]:
        """The best stacks, whether they are proven the best, and whether they are all there are."""
        waiting = list(budgets or self.ground.budgets())
        while waiting:
            budget = waiting.pop(0)
            done = settled(self._budget, budget)
            if done is None or self.stopped:
                return self.best, False, False
            if done:
                return self.best, True, False
            if self._fewer_parts():
                waiting = [None]
        return self.best, True, len(self.best) < self.ground.problem.want

    def _fewer_parts(self) -> bool:
        """Where joints lead and enough stacks are known, none with more joints than these can be among the
        best: everything is then searched with that many parts only.
        """
        ground = self.ground
        problem = ground.problem
        if problem.lead[0] != "joints" or len(self.best) < problem.want:
            return False
        parts = self.best[-1].joints - 1
        if parts == problem.most_parts:
            return False
        axis = ground.axis
        self.ground = Ground(replace(problem, most_parts=parts), ground.index, *problem.tolerance)
        self.ground.axis = axis
        return True

    def _report(self, found: list[Stack]) -> bool:
        """Show the best so far; False asks to stop."""
        if self.progress is None:
            return True
        if len(found) < len(self.best):
            found = self.best
        return self.progress(Outcome(tuple(found), proven=False, exhausted=False, work=self.tally.work()))

    def _budget(self, budget: int | None) -> bool | None:
        """One pass: True when everything wanted is found and proven, None when it must be run again with
        one more resource made exact.
        """
        ground, tally = self.ground, self.tally
        problem, index = ground.problem, ground.index
        tables = ground.tables(budget, self.resources)
        tally.passes += 1
        tally.cells = max(tally.cells, tables.size)
        walk = Enumeration(problem, index, tables, ground.masses)
        if self.weigh:
            walk.mass_tables = ground.mass_tables(self.resources)
        found: list[tuple[tuple[int, int, int], Stack]] = []
        ties_until: int | None = None
        floor = tuple(self._least(name) for name in problem.lead[: problem.lead.index("money")])
        proven, untied, by_mass = True, False, "mass" in problem.lead
        for key, stack in walk.run():
            if budget is not None and key[: len(floor)] > floor:
                proven = False  # A dearer stack may come before the next one: a greater budget must tell.
            if ties_until is not None and key > found[problem.want - 1][0]:
                break
            if ties_until is not None and walk.steps > ties_until:
                untied = by_mass
                break
            if stack is not None:
                found.append((key, stack))
                if len(found) == problem.want:
                    ties_until = walk.steps + (MOST_MASS_TIES if by_mass else MOST_TIES)
                continue
            if not self._report([one for _, one in found]) or tally.steps + walk.steps > MOST_STEPS:
                self.stopped = True
                break
            if ties_until is None and self._escalate(walk, tables):
                tally.steps += walk.steps
                return None
        tally.steps += walk.steps
        found.sort(key=lambda pair: (pair[1].key(problem.lead), pair[1].bill))
        self.best = [stack for _, stack in found[: problem.want]]
        if untied:
            self.stopped = True
        return proven and len(found) >= problem.want

    def _least(self, name: str) -> int:
        """A lower limit of a measure that every stack keeps."""
        return (self.ground.least_parts or 0) + 1 if name == "joints" else 0

    def _escalate(self, walk: Enumeration, tables: Tables) -> bool:
        """Make the resource that is overdrawn most exact, where that is what the steps go into.

        Decremental state-space relaxation (Righini, Salani, Networks 51 (2008), 155-170).
        """
        if walk.steps < PATIENCE * (1 + len(self.resources)):
            return False
        taken = {piece for piece, _ in self.resources}
        for resource, times in walk.refused.most_common():
            if times * 20 < walk.steps:
                return False
            if resource == MASS:
                if walk.mass_tables is None:
                    self.weigh = True
                    return True
                continue
            room = capacity(self.ground.problem, self.ground.index, resource)
            if resource in taken or room >= self.ground.problem.most_parts:
                continue
            if tables.size * (room + 1) > MOST_CELLS:
                continue
            self.resources.append((resource, room))
            self.tally.resources = len(self.resources)
            return True
        return False
