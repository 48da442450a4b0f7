"""What a kit is planned with: the rigs, the kit itself, and each rig's own search with a kit bought."""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import islice, pairwise, permutations, product
from time import monotonic

from server.search.index import Index
from server.search.problem import Piece, Problem, Stack
from server.search.stacks import search

MOST_ORDERS = 24  # Orders of the rigs that are tried for the upper bound: all of them up to four rigs.
MOST_KITS = 12  # Kits of the same money that are compared for their joints.
CANDIDATES = 24  # Stacks of each rig that are combined for a first answer in joints.
FREE = ("money", "joints", "error")


@dataclass(frozen=True, slots=True)
class Rig:
    """A rig to be built from the kit: its problem, and the numbers of what stands in front of the stack and
    behind it where other rigs share these (None: it is this rig's own).
    """

    problem: Problem
    front: int | None = None
    back: int | None = None


@dataclass(frozen=True, slots=True)
class Kit:
    """What to buy, ``(number, copies)`` by number, what it costs, and a stack for each rig built with it.

    ``undone[a][b]`` are the joints undone to change from rig a to rig b, ``joints_undone`` their sum. The
    stacks' own money and bills take the kit as owned.
    """

    buy: tuple[tuple[int, int], ...]
    money: int
    stacks: tuple[Stack, ...]
    undone: tuple[tuple[int, ...], ...]
    joints_undone: int


@dataclass(frozen=True, slots=True)
class KitOutcome:
    """The answer: ``kit`` is None where some rigs have no stack whatever is bought (``impossible``, by their
    places), or where the search was stopped before there was one.

    ``money_bound`` and ``joints_bound`` are what no kit can come below; ``money_proven`` and
    ``joints_proven`` say that they are reached (the joints among kits of this money).
    """

    kit: Kit | None
    money_proven: bool = False
    money_bound: int = 0
    joints_proven: bool = False
    joints_bound: int = 0
    impossible: tuple[int, ...] = ()


Progress = Callable[[KitOutcome], bool]
Buy = dict[int, int]


def joints(rig: Rig, place: int, stack: Stack) -> Counter[tuple[tuple[int, ...], tuple[int, ...]]]:
    """The joints of a stack: pairs of (number, way). An end of the rig's own is told by the rig's place."""
    ends = [(-2, place) if number is None else (-1, number) for number in (rig.front, rig.back)]
    row: list[tuple[int, ...]] = [(0, *ends[0])]
    row += [(1 + use.required, use.number, use.arc) for use in stack.uses]
    row.append((3, *ends[1]))
    return Counter(pairwise(row))


def undone(rigs: Sequence[Rig], stacks: Sequence[Stack]) -> tuple[tuple[int, ...], ...]:
    """For each ordered pair of rigs the joints of the first's stack that the second's does not have."""
    sets = [joints(rig, at, stack) for at, (rig, stack) in enumerate(zip(rigs, stacks, strict=True))]
    return tuple(tuple((one - other).total() for other in sets) for one in sets)


def owning(pieces: Sequence[Piece], buy: Buy, *, only: bool = False) -> tuple[Piece, ...]:
    """The pieces with a kit bought; with ``only`` nothing else can be bought."""
    found = []
    for piece in pieces:
        extra = buy.get(piece.number, 0)
        if extra or only:
            rest = 0 if only else piece.for_sale - extra
            piece = replace(piece, owned=piece.owned + extra, for_sale=rest)
        if piece.copies:
            found.append(piece)
    return tuple(found)


def bought(stack: Stack) -> Buy:
    """What a stack buys."""
    return {line.number: line.bought for line in stack.bill if line.bought}


def cheapest(problem: Problem, buy: Buy, *, only: bool = False, want: int = 1) -> tuple[Stack, ...]:
    """The best stacks of a rig once a kit is bought; the fewest joints first where nothing more is bought."""
    pieces = owning(problem.pieces, buy, only=only)
    return search(replace(problem, pieces=pieces, lead=FREE, want=want)).best


class Planner:
    """One planning of a kit."""

    def __init__(self, rigs: Sequence[Rig], seconds: float, progress: Progress | None) -> None:
        self.rigs = tuple(replace(rig, problem=_given(rig.problem)) for rig in rigs)
        self.ends_at = monotonic() + seconds
        self.progress = progress
        self.pieces = self._drawer()
        self.indexes: dict[int, Index] = {}

    def _drawer(self) -> dict[int, Piece]:
        """All pieces by number; a piece must be the same in every rig that may use it."""
        found: dict[int, Piece] = {}
        for rig in self.rigs:
            for piece in rig.problem.pieces:
                if found.setdefault(piece.number, piece) != piece:
                    raise ValueError(
                        f"Piece {piece.number} differs between two rigs; give it the same length, price and "
                        "copies in all of them."
                    )
        return found

    def left(self) -> float:
        """The seconds left, at least a little."""
        return max(0.1, self.ends_at - monotonic())

    def money(self, buy: Buy) -> int:
        """What a kit costs."""
        return sum((self.pieces[number].price or 0) * copies for number, copies in buy.items())

    def alone(self) -> list[Stack | None]:
        """Each rig's own optimum."""
        found: list[Stack | None] = []
        for at, rig in enumerate(self.rigs):
            self.indexes[at] = Index(rig.problem.pieces)
            best = search(replace(rig.problem, lead=FREE, want=1), index=self.indexes[at]).best
            found.append(best[0] if best else None)
        return found

    def greedy(self, alone: Sequence[Stack]) -> Buy:
        """The cheapest kit of the rigs solved one after another, over the orders of the rigs."""
        best: Buy | None = None
        known: dict[tuple[int, ...], Buy] = {(at,): bought(stack) for at, stack in enumerate(alone)}
        orders = permutations(range(len(self.rigs)))
        for order in islice(orders, MOST_ORDERS):
            for length in range(2, len(order) + 1):
                done = order[:length]
                if done not in known:
                    buy = known[done[:-1]]
                    more = cheapest(self.rigs[done[-1]].problem, buy)[0]
                    known[done] = _add(buy, bought(more))
            buy = known[order]
            if best is None or (self.money(buy), sorted(buy.items())) < (
                self.money(best),
                sorted(best.items()),
            ):
                best = buy
        return self.pruned(best or {})

    def pruned(self, buy: Buy) -> Buy:
        """A kit without what no rig needs."""
        for number in sorted(buy, key=lambda one: -(self.pieces[one].price or 0)):
            while buy.get(number):
                less = {one: copies - (one == number) for one, copies in buy.items()}
                less = {one: copies for one, copies in less.items() if copies}
                if not all(cheapest(rig.problem, less, only=True) for rig in self.rigs):
                    break
                buy = less
        return buy

    def kit(self, buy: Buy, stacks: Sequence[Stack]) -> Kit:
        """A kit as it is shown."""
        table = undone(self.rigs, stacks)
        total = sum(sum(row) for row in table)
        return Kit(tuple(sorted(buy.items())), self.money(buy), tuple(stacks), table, total)

    def combine(self, buy: Buy) -> Kit:
        """A kit with the best combination of the stacks of each rig that have the fewest joints."""
        choices = [cheapest(rig.problem, buy, only=True, want=CANDIDATES) for rig in self.rigs]
        sets = [
            [joints(rig, at, stack) for stack in stacks]
            for at, (rig, stacks) in enumerate(zip(self.rigs, choices, strict=True))
        ]
        count = len(self.rigs)
        cost = {
            (a, i, b, j): (one - other).total() + (other - one).total()
            for a in range(count)
            for b in range(a + 1, count)
            for i, one in enumerate(sets[a])
            for j, other in enumerate(sets[b])
        }

        def total(chosen: tuple[int, ...]) -> int:
            return sum(cost[a, chosen[a], b, chosen[b]] for a in range(count) for b in range(a + 1, count))

        if count <= 3:
            best = min(product(*(range(len(one)) for one in choices)), key=total)
        else:
            best = (0,) * count
            better = True
            while better:
                better = False
                for at in range(count):
                    for i in range(len(choices[at])):
                        other = (*best[:at], i, *best[at + 1 :])
                        if total(other) < total(best):
                            best, better = other, True
        return self.kit(buy, [stacks[i] for stacks, i in zip(choices, best, strict=True)])

    def show(self, outcome: KitOutcome) -> bool:
        """Show what there is; False asks to stop."""
        return self.progress is None or self.progress(outcome)


def _given(problem: Problem) -> Problem:
    """The problem with what costs nothing counted as owned."""
    pieces = tuple(
        replace(piece, owned=piece.copies, for_sale=0) if piece.price == 0 and piece.for_sale else piece
        for piece in problem.pieces
    )
    return replace(problem, pieces=pieces)


def _add(one: Buy, other: Buy) -> Buy:
    """Two purchases together."""
    return dict(Counter(one) + Counter(other))
