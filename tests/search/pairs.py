"""Independent answers to the problem of two branches: plain enumeration, and small rigs with a guider."""

import random
from collections import Counter
from collections.abc import Sequence

from server.search.branches import Branch, Pair
from server.search.problem import Arc, Piece, Problem, Required
from tests.search.drawers import ERROR, drawer, node
from tests.search.oracles import Bill, faults


def guided(
    seed: int, parts: int, owned: int, threads: int = 3, *, longest: int = 12, most: int = 5, want: int = 20
) -> tuple[Problem, Branch]:
    """A rig with a guider, sometimes a wheel, whose targets are those of random chains of its drawer, so
    that most rigs have a pair.
    """
    rng = random.Random(f"guided {seed}")
    pieces = drawer(seed, parts, owned, threads, longest, ways=0.3)
    here = [node(rng.randrange(threads), rng.random() < 0.5) for _ in range(4)]
    before, first = _walk(rng, here[0], pieces, rng.randint(0, 2))
    guider = Required(1, _one(before, here[1]), 200, 300)
    behind, second = _walk(rng, here[1], pieces, rng.randint(0, 2))
    end, target = behind, first + second + 200
    required = [guider]
    if rng.random() < 0.5:
        there = here[2] if rng.random() < 0.5 else end
        required.append(Required(2, _one(end, there), 150, 200))
        end, target = there, target + 150
        second += 150
    orders = ((0, 1),) if len(required) == 2 and rng.random() < 0.4 else ()
    last, side = _walk(rng, here[3], pieces, rng.randint(0, 3))
    offset = side - second + rng.randint(-ERROR, ERROR)
    problem = Problem(
        2 * threads, here[0], end, target + rng.randint(-ERROR, ERROR), (ERROR, ERROR), pieces,
        tuple(required), orders, most, rng.choice((1, 2)), None, rng.choice(LEADS), want,
    )  # fmt: skip
    rest = max(0, offset) + 500
    branch = Branch(0, here[3], last, rest, 1000, rest + 1000 - offset - 100, 100, (ERROR, 5), (), 4, 1)
    return problem, branch


LEADS = (("money", "joints", "error"),) * 3 + (("joints", "money", "error"), ("error", "money", "joints"))


def _one(start: int, end: int) -> tuple[Arc, ...]:
    return (Arc(start, end),)


def _walk(rng: random.Random, at: int, pieces: Sequence[Piece], steps: int) -> tuple[int, int]:
    """Where a random chain ends, and how long it is."""
    length = 0
    for _ in range(steps):
        options = [(piece, arc.end) for piece in pieces for arc in piece.arcs if arc.start == at]
        if options:
            chosen, at = rng.choice(options)
            length += chosen.length
    return at, length


def chains(
    problem: Problem, start: int, end: int, most: int, shims: int, longest: int, required: bool, guider: int
) -> set[tuple[Bill, int, int]]:
    """Every (bill, length, length behind the guider) of a chain, by screwing piece onto piece."""
    found: set[tuple[Bill, int, int]] = set()
    used: Counter[int] = Counter()
    orders = problem.allowed_orders() if required else ((),)

    def go(
        at: int, length: int, behind: int, parts: int, done: tuple[int, ...], left: int, shim: bool
    ) -> None:
        if at == end and done in orders:
            found.add((tuple(sorted((n, t) for n, t in used.items() if t)), length, behind))
        if parts == most:
            return
        past = guider in done
        if required:
            for item, whole in enumerate(problem.required):
                if any(order[: len(done) + 1] == (*done, item) for order in orders):
                    for arc in whole.arcs:
                        if arc.start == at and length + whole.length <= longest:
                            go(
                                arc.end, length + whole.length, behind + past * whole.length, parts + 1,
                                (*done, item), left, False,
                            )  # fmt: skip
        for piece in problem.pieces:
            if used[piece.number] >= piece.copies or length + piece.length > longest:
                continue
            if piece.shim and (shim or not left):
                continue
            for to in {arc.end for arc in piece.arcs if arc.start == at}:
                used[piece.number] += 1
                go(
                    to, length + piece.length, behind + past * piece.length, parts + 1, done,
                    left - piece.shim, piece.shim,
                )  # fmt: skip
                used[piece.number] -= 1

    go(start, 0, 0, 0, (), shims, False)
    return found


def every_pair(problem: Problem, branch: Branch) -> dict[Bill, tuple[int, ...]]:
    """Each bill of both branches together with its best key."""
    short, long = problem.tolerance
    main = [
        one
        for one in chains(
            problem, problem.start, problem.end, problem.most_parts, problem.most_shims,
            problem.target + long, True, branch.guider,
        )
        if one[1] >= problem.target - short
    ]  # fmt: skip
    asked = branch.rest + branch.main_flange - branch.port - branch.guide_flange
    longest = max((asked + behind for _, _, behind in main), default=-1) + branch.tolerance[1]
    side = chains(problem, branch.start, branch.end, branch.most_parts, branch.most_shims, longest, False, -1)
    pieces = {piece.number: piece for piece in problem.pieces}
    best: dict[Bill, tuple[int, ...]] = {}
    for bill, length, behind in main:
        for other, reach, _ in side:
            off = reach - asked - behind
            if not -branch.tolerance[0] <= off <= branch.tolerance[1]:
                continue
            total = Counter(dict(bill)) + Counter(dict(other))
            if any(times > pieces[number].copies for number, times in total.items()):
                continue
            key = _key(problem, total, abs(length - problem.target) + abs(off))
            whole = tuple(sorted(total.items()))
            if key is not None and (whole not in best or key < best[whole]):
                best[whole] = key
    return best


def _key(problem: Problem, total: Counter[int], error: int) -> tuple[int, ...] | None:
    """The key of a pair; None where it is too heavy."""
    pieces = {piece.number: piece for piece in problem.pieces}
    money = sum(max(0, t - pieces[n].owned) * (pieces[n].price or 0) for n, t in total.items())
    mass = sum(pieces[n].mass * t for n, t in total.items()) + sum(item.mass for item in problem.required)
    if problem.greatest_mass is not None and mass > problem.greatest_mass:
        return None
    values = {
        "money": money, "joints": sum(total.values()) + len(problem.required) + 2,
        "error": error, "mass": mass,
    }  # fmt: skip
    return tuple(values[name] for name in problem.lead)


def pair_faults(problem: Problem, branch: Branch, pair: Pair) -> list[str]:
    """What is wrong with a pair, screwed together afresh; empty where nothing is."""
    found = [fault for fault in faults(problem, pair.main) if not fault.startswith("counted")]
    at = next(
        at
        for at, use in enumerate(pair.main.uses)
        if use.required and use.number == problem.required[branch.guider].number
    )
    behind = sum(use.length for use in pair.main.uses[at + 1 :])
    main_path = branch.rest + behind + branch.main_flange
    guide_path = branch.port + sum(use.length for use in pair.guide.uses) + branch.guide_flange
    if guide_path - main_path != pair.guide.error:
        found.append(f"main path {main_path}, guide path {guide_path}, said {pair.guide.error}")
    if not -branch.tolerance[0] <= pair.guide.error <= branch.tolerance[1]:
        found.append(f"the guide chain misses by {pair.guide.error}")
    if not -problem.tolerance[0] <= pair.main.error <= problem.tolerance[1]:
        found.append(f"the main chain misses by {pair.main.error}")
    pieces = {piece.number: piece for piece in problem.pieces}
    at_node, before = branch.start, False
    for use in pair.guide.uses:
        arc = pieces[use.number].arcs[use.arc]
        if arc.start != at_node or (before and use.shim):
            found.append(f"{use} does not go onto {at_node}")
        at_node, before = arc.end, use.shim
    if at_node != branch.end or len(pair.guide.uses) > branch.most_parts:
        found.append(f"the guide chain ends at {at_node} with {len(pair.guide.uses)} parts")
    total = Counter(use.number for use in (*pair.main.uses, *pair.guide.uses) if not use.required)
    if {line.number: line.bought + line.owned for line in pair.bill} != dict(total):
        found.append("the bill is not what is used")
    found.extend(
        f"too many copies: {line}"
        for line in pair.bill
        if line.owned > pieces[line.number].owned or line.bought > pieces[line.number].buyable
    )
    if pair.key(problem.lead) != _key(problem, total, abs(pair.main.error) + abs(pair.guide.error)):
        found.append("the key is not what is counted")
    if pair.money != pair.main.money + pair.guide.money:
        found.append("the money of both branches is not the pair's")
    return found
