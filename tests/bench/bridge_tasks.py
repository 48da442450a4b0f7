"""What one process of the Bridge's benchmark measures: `python -m tests.bench.bridge_tasks TASK`.

It reads what is asked as JSON and writes what it gives as JSON. Every task runs in a process of its own, so
that its peak of memory is its own. Times are processor times of this process (`time.process_time`), of the
search as of its rivals, since other jobs of a busy machine lengthen the clock's time; that stands beside
them. Before a stack is timed it has been searched once, and the catalogue's index is kept, as the app keeps
it.

Every answer is looked at: stacks are screwed together afresh, keys compared with those of a rival that solved
the same problem. What is wrong is an error here, not a line in a table.
"""

from __future__ import annotations

import json
import random
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from statistics import median
from typing import Any

from server.search.branches import Branch, search_pairs
from server.search.fronts import front
from server.search.index import Index
from server.search.kit_planner import Rig
from server.search.kits import plan_kit
from server.search.problem import Arc, Front, Piece, Problem, Required
from server.search.stacks import search
from tests.bench import rivals
from tests.search.drawers import drawer, node, rig
from tests.search.oracles import faults, keys
from tests.search.pairs import pair_faults

THREE = ("error", "money", "joints")
FOUR = (*THREE, "mass")


@dataclass(frozen=True)
class Asked:
    """What a task is asked: catalogues of `parts` parts with `owned` of them owned; `drawers` seeds of
    catalogues with `rigs` rigs each; every rig `rounds` times; `seconds` for one answer of a rival, a front
    or a kit; `above` the money over the best that a front's budget allows, in hundredths, None for no budget.
    """

    parts: int
    owned: int = 30
    drawers: int = 5
    rigs: int = 24
    rounds: int = 3
    seconds: float = 60.0
    above: int | None = None
    measures: Sequence[str] = THREE


@dataclass
class Given:
    """What a task gives: lists of seconds by name, numbers by name, the peak of memory in MB."""

    times: dict[str, list[float]] = field(default_factory=dict)
    numbers: dict[str, float] = field(default_factory=dict)
    peak_mb: float = 0.0

    def took(self, name: str, seconds: float) -> None:
        """Adds a time."""
        self.times.setdefault(name, []).append(seconds)

    def count(self, name: str, times: float = 1) -> None:
        """Adds to a number."""
        self.numbers[name] = self.numbers.get(name, 0) + times


def timed(run: Callable[[], Any], rounds: int) -> tuple[float, float, Any]:
    """The median processor time and clock time of so many rounds, and the last answer."""
    used, clock, answer = [], [], None
    for _ in range(rounds):
        begun, started = time.process_time(), time.perf_counter()
        answer = run()
        used.append(time.process_time() - begun)
        clock.append(time.perf_counter() - started)
    return median(used), median(clock), answer


def refuse(where: str, wrong: object) -> None:
    """Ends the task where an answer is wrong."""
    if wrong:
        raise RuntimeError(f"{where}: {wrong}")


def each(asked: Asked) -> list[tuple[str, Index, Problem]]:
    """Every drawer's rigs in turn, with their index; the name says the seeds."""
    found = []
    for seed in range(asked.drawers):
        pieces = drawer(seed, asked.parts, asked.owned)
        index = Index(pieces)
        for number in range(asked.rigs):
            at = 1000 * seed + number
            found.append((f"drawer {seed}, rig {at}", index, rig(at, pieces)))
    return found


def best(asked: Asked) -> Given:
    """The best stack and 20 in all, proven, with what the index costs."""
    given = Given()
    for seed in range(asked.drawers):
        pieces = drawer(seed, asked.parts, asked.owned)
        given.took("index", timed(lambda: Index(pieces), 1)[0])  # noqa: B023  (It is called at once.)
    for name, index, problem in each(asked):
        search(problem, index=index)
        used, clock, outcome = timed(lambda: search(problem, index=index), asked.rounds)  # noqa: B023
        given.took("own", used)
        given.took("clock", clock)
        given.count("proven", outcome.proven)
        given.count("all wanted", len(outcome.best) == problem.want)
        given.count("none", not outcome.best)
        refuse(name, [fault for stack in outcome.best for fault in faults(problem, stack)])
        bills = {tuple((line.number, line.bought + line.owned) for line in one.bill) for one in outcome.best}
        refuse(name, len(bills) != len(outcome.best) and "an alternative comes twice")
    return given


def compared(asked: Asked) -> Given:
    """All 20 in turn with CP-SAT's and HiGHS's single best, and with CP-SAT's 20 from the search's own bound.

    The first rig of each drawer with 20 stacks is taken, in every second drawer with nothing owned.
    """
    given = Given()
    for seed in range(asked.drawers):
        pieces = drawer(seed, asked.parts, 0 if seed % 2 else asked.owned)
        index = Index(pieces)
        outcome, at = None, 1000 * seed - 1
        while outcome is None or len(outcome.best) < 20:
            at += 1
            problem = rig(at, pieces)
            outcome = search(problem, index=index)
        used, clock, outcome = timed(lambda: search(problem, index=index), asked.rounds)  # noqa: B023
        known = keys(outcome, problem)
        ways = rivals.everything(problem)
        bound = known[-1][0]
        # The solvers' limits are by the clock: a busy machine must not shorten what they get of a processor.
        limit = asked.seconds * max(1.0, clock / used)
        answers = {
            "cp-sat": rivals.CpSat(problem, ways).best(1, limit),
            "cp-sat 20": rivals.CpSat(problem, rivals.fixed(problem, bound), bound, many=True).best(
                len(known), limit
            ),
            "highs": rivals.highs(problem, ways, limit),
        }
        given.took("own", used)
        for name, answer in answers.items():
            given.took(name, answer.seconds)
            given.took(f"{name} ratio", answer.seconds / used)
            given.count(f"{name} solved", answer.proven)
            same = list(answer.keys) == known[: len(answer.keys)]
            enough = not answer.proven or len(answer.keys) == (20 if name == "cp-sat 20" else 1)
            refuse(
                f"rig {at}, {name}", not (same and enough) and f"it found {answer.keys}, the search {known}"
            )
            print(
                f"    rig {at}: {used * 1000:.1f} ms, {name} {answer.seconds:.1f} s",
                file=sys.stderr,
                flush=True,
            )
    return given


def fronts(asked: Asked) -> Given:
    """Fronts of the measures, beside the best 20 of the same rigs."""
    given = Given()
    for name, index, problem in each(asked):
        own, _, outcome = timed(lambda: search(problem, index=index), asked.rounds)  # noqa: B023
        budget = None
        if asked.above is not None and outcome.best:
            budget = outcome.best[0].money + asked.above
        ends = time.process_time() + asked.seconds

        def going(_: Front, ends: float = ends) -> bool:
            return time.process_time() < ends

        used, _, found = timed(
            lambda: front(problem, measures=asked.measures, budget=budget, progress=going, index=index),  # noqa: B023
            1 if "mass" in asked.measures else asked.rounds,
        )
        given.took("own", own)
        given.took("front", used)
        given.took("points", len(found.points))
        given.count("complete", found.complete)
        refuse(name, [fault for stack in found.points for fault in faults(problem, stack)])
        if found.complete and outcome.best:
            least = min((stack.money, stack.joints, abs(stack.error)) for stack in found.points)
            refuse(name, least != outcome.best[0].key(problem.lead) and "the best is not on the front")
    return given


def guided(seed: int, pieces: tuple[Piece, ...]) -> tuple[Problem, Branch]:
    """A rig with a guider, in half of them a wheel behind it too, and the guider's side branch; the threads
    are of the popular four. Prism to the guider's shoulder 8.5 mm, camera flange 17.5 mm, prism to the side
    port 18 mm, guide camera 8 mm: plausible lengths, no source.
    """
    dice = random.Random(f"guided {seed}")
    start, behind, end, port, last = (node(dice.randrange(4), dice.random() < 0.5) for _ in range(5))
    required = [Required(1, (Arc(start, behind),), 1650, 300)]
    if dice.random() < 0.5:
        required.append(Required(2, (Arc(behind, behind),), 2000, 500))
    target = dice.choice((5533, 5567, 5600)) + dice.choice((0, 0, 0, 5000))
    orders = ((0, 1),) if len(required) == 2 else ()
    problem = Problem(50, start, end, target, (10, 10), pieces, tuple(required), orders)
    return problem, Branch(0, port, last, 850, 1750, 1800, 800, (10, 10))


def branch(asked: Asked) -> Given:
    """The guider's branch: pairs from one drawer, beside the main chain alone."""
    given = Given()
    for seed in range(asked.drawers):
        pieces = drawer(seed, asked.parts, asked.owned)
        index = Index(pieces)
        for number in range(asked.rigs):
            problem, side = guided(1000 * seed + number, pieces)
            search(problem, index=index)
            alone, _, _ = timed(lambda: search(problem, index=index), asked.rounds)  # noqa: B023
            both, _, outcome = timed(lambda: search_pairs(problem, side, index=index), asked.rounds)  # noqa: B023
            given.took("own", alone)
            given.took("branch", both)
            given.count("proven", outcome.proven)
            given.count("all wanted", len(outcome.best) == problem.want)
            wrong = [fault for pair in outcome.best for fault in pair_faults(problem, side, pair)]
            refuse(f"drawer {seed}, guided rig {1000 * seed + number}", wrong)
    return given


def kits(asked: Asked) -> Given:
    """One kit for three rigs of one drawer."""
    given = Given()
    for seed in range(asked.drawers):
        pieces = drawer(seed, asked.parts, asked.owned)
        index = Index(pieces)
        for number in range(asked.rigs):
            chosen: list[Rig] = []
            at = 1000 * seed + 100 * number
            while len(chosen) < 3:
                problem = rig(at, pieces)
                if search(replace(problem, want=1), index=index).best:
                    chosen.append(Rig(problem, back=9 if at % 2 else None))
                at += 1
            used, _, outcome = timed(lambda: plan_kit(chosen, seconds=asked.seconds), 1)  # noqa: B023
            kit = outcome.kit
            assert kit is not None
            given.took("kit", used)
            given.count("money proven", outcome.money_proven)
            given.count("joints proven", outcome.joints_proven)
            if not outcome.money_proven:
                given.took("gap", 1 - outcome.money_bound / kit.money)
            bought = dict(kit.buy)
            for one, stack in zip(chosen, kit.stacks, strict=True):
                have = tuple(
                    replace(piece, owned=piece.owned + bought.get(piece.number, 0), for_sale=0)
                    for piece in one.problem.pieces
                )
                refuse(f"kit {seed}", faults(replace(one.problem, pieces=have), stack))
    return given


TASKS: dict[str, Callable[[Asked], Given]] = {
    "best": best,
    "compared": compared,
    "fronts": fronts,
    "branch": branch,
    "kits": kits,
}


def peak_mb() -> float:
    """The most memory that this process has held, MB."""
    status = Path("/proc/self/status")
    if status.exists():
        line = next(line for line in status.read_text().splitlines() if line.startswith("VmHWM"))
        return int(line.split()[1]) / 1024
    if sys.platform == "win32":
        import psutil

        return float(psutil.Process().memory_info().peak_wset / 2**20)
    import resource

    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most / (2**20 if sys.platform == "darwin" else 1024)


def main(task: str) -> None:
    """Reads what is asked, runs the task, writes what it gives."""
    given = TASKS[task](Asked(**json.loads(sys.stdin.read())))
    given.peak_mb = peak_mb()
    # A solver's greeting may have come before it.
    print(f"\n{json.dumps(asdict(given))}")


if __name__ == "__main__":
    main(sys.argv[1])
