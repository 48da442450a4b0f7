"""The lists of the three segments joined to pairs, best first; why that is exact is told in ``branches``."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from heapq import heappop, heappush
from itertools import product
from typing import Any

from server.search.pairs import NOTHING, Pair
from server.search.problem import Line, Stack, Use
from server.search.segments import BEFORE, BEHIND, GUIDE, Chains, Joint, Made, Sharing
from server.search.tables import MOST_CELLS
from server.search.walks import SHIMS

PATIENCE = 300  # Refused triples before the piece that is refused most is split.
MOST_SPLIT = 3  # Pieces split; each makes three times as many sharings.
STEPS = 1_500  # Steps inside a segment before its overdrawn resource is made exact.


@dataclass(slots=True)
class Root:
    """Three exact lengths that meet both equations, with the errors they leave."""

    sharing: Sharing
    lists: tuple[Chains, Chains, Chains]
    main_error: int
    guide_error: int
    extra: int  # The code of the errors.


class Pass:
    """One pass over the pairs within a budget."""

    def __init__(self, joint: Joint, budget: int | None) -> None:
        self.joint = joint
        self.sharings: list[Sharing] = []
        made: Made = {}
        pieces = joint.split_pieces
        for split in range(len(joint.splits)):
            for owners in product(range(3), repeat=len(pieces)):
                sharing = joint.sharing(split, budget, tuple(zip(pieces, owners, strict=True)), made)
                if sharing is not None:
                    self.sharings.append(sharing)
        self.cells = max((got[1].size for got in made.values()), default=0)
        self.lists: list[tuple[int, Chains]] = []
        self.refused: Counter[int] = Counter()
        self.triples = 0

    @property
    def steps(self) -> int:
        """Steps of the enumerations and triples so far."""
        return self.triples + sum(one.walk.steps for _, one in self.lists)

    def _chains(self, sharing: Sharing, place: int, free: int, parts: range) -> Chains:
        """The list of one segment, length and number of parts."""
        found = sharing.chains.get((place, free, parts))
        if found is None:
            one = sharing.segments[place].problem
            found = Chains(one, sharing.indexes[place], sharing.tables[place], free, parts, self.joint.code)
            found.bound = int(sharing.codes[place][parts[-1], free])
            sharing.chains[place, free, parts] = found
            self.lists.append((place, found))
        return found

    def run(self) -> Iterator[tuple[int, Pair | None]]:
        """Yield (code, pair) best first, each bill of materials once; now and then (code, None)."""
        heap: list[tuple[Any, ...]] = []
        number = 0
        for sharing in self.sharings:
            if sharing.roots:
                heappush(heap, (sharing.keys[0], 3, number, sharing, 0))
                number += 1
        seen: set[tuple[Line, ...]] = set()
        ticks = 0
        while heap:
            code, kind, _, what, at = heappop(heap)
            ticks += 1
            if not ticks & 63:
                yield code, None
            if kind == 0:
                if what.bill not in seen:
                    seen.add(what.bill)
                    yield code, what
            elif kind == 3:
                if at + 1 < len(what.roots):
                    heappush(heap, (what.keys[at + 1], 3, number, what, at + 1))
                    number += 1
                for total, root in self._open(what, *what.roots[at]):
                    heappush(heap, (total, 2, number, root, (0, 0, 0)))
                    number += 1
            else:
                ready, bound = self._ready(what, at)
                if ready is None:
                    continue
                if not ready or bound > code:
                    heappush(heap, (max(bound, code), kind, number, what, at))
                    number += 1
                    continue
                for after in _following(at):
                    heappush(heap, (code, 2, number, what, after))
                    number += 1
                self.triples += 1
                pair = self._join(what, at)
                if pair is not None:
                    true = self.joint.code(pair.money, pair.joints, pair.error)
                    heappush(heap, (true, 0, number, pair, 0))
                    number += 1

    def _open(self, sharing: Sharing, parts: int, behind: int) -> Iterator[tuple[int, Root]]:
        """The exact triples of lengths with so many parts and one length behind the guider."""
        error = self.joint.code.weight["error"]
        rest = range(self.joint.problem.most_parts - parts)
        every = range(self.joint.branch.most_parts + 1)
        before_codes, side_codes = sharing.codes[BEFORE][rest[-1]], sharing.codes[GUIDE][-1]
        base = int(sharing.codes[BEHIND][parts, behind])
        for total, main_error in sharing.main:
            before = total - behind
            if not 0 <= before < len(before_codes) or before_codes[before] >= NOTHING:
                continue
            for difference, guide_error in sharing.guide:
                side = behind + difference
                if not 0 <= side < len(side_codes) or side_codes[side] >= NOTHING:
                    continue
                extra = (abs(main_error) + abs(guide_error)) * error
                lists = (
                    self._chains(sharing, BEFORE, before, rest),
                    self._chains(sharing, BEHIND, behind, range(parts, parts + 1)),
                    self._chains(sharing, GUIDE, side, every),
                )
                sums = base + int(before_codes[before]) + int(side_codes[side])
                yield sums + extra, Root(sharing, lists, main_error, guide_error, extra)

    def _ready(self, root: Root, at: tuple[int, int, int]) -> tuple[bool | None, int]:
        """Whether the three chains are there, with the code of the triple or a bound of it; None: never."""
        bound, missing = root.extra, 0
        for chains, place in zip(root.lists, at, strict=True):
            if place >= len(chains.found) and not chains.done and not missing:
                chains.advance()  # One list at a time, so that no work is done ahead of its turn.
            if place < len(chains.found):
                bound += chains.found[place][0]
            elif chains.done:
                return None, 0
            else:
                missing += 1
                bound += chains.bound
        return not missing, bound

    def _join(self, root: Root, at: tuple[int, int, int]) -> Pair | None:
        """The pair of three chains, or None where quantities, parts, shims or mass forbid it."""
        problem, branch, index = self.joint.problem, self.joint.branch, self.joint.index
        chains = [one.found[place][1] for one, place in zip(root.lists, at, strict=True)]
        before, behind, guide = chains
        if len(before.uses) + 1 + len(behind.uses) > problem.most_parts:
            return None
        if sum(use.shim for one in (before, behind) for use in one.uses) > problem.most_shims:
            return None
        guider = self.joint.guider
        mass = before.mass + behind.mass + guide.mass + guider.mass
        if problem.greatest_mass is not None and mass > problem.greatest_mass:
            return None
        counts = [Counter({line.number: line.bought + line.owned for line in one.bill}) for one in chains]
        main_count = counts[0] + counts[1]
        total = main_count + counts[2]
        wholes = {number: index.pieces[self._position(number)] for number in total}
        clash = False
        for number, times in total.items():
            whole = wholes[number]
            free = sum(min(one[number], whole.owned) for one in counts)
            if free > whole.owned or times > whole.copies:
                self.refused[self._position(number)] += 1  # The lists counted copies twice.
            clash = clash or times > whole.copies
        if clash:
            return None
        middle = Use(guider.number, 0, self.joint.enter, self.joint.leave, guider.length, required=True)
        length = problem.target + root.main_error
        main_bill = tuple(
            _line(wholes[n].number, times, wholes[n].owned) for n, times in sorted(main_count.items())
        )
        whole_bill = tuple(_line(n, times, wholes[n].owned) for n, times in sorted(total.items()))
        guide_bill = tuple(
            _line(n, times, max(0, wholes[n].owned - main_count[n])) for n, times in sorted(counts[2].items())
        )
        price = {number: whole.price or 0 for number, whole in wholes.items()}
        main_money = sum(line.bought * price[line.number] for line in main_bill)
        guide_money = sum(line.bought * price[line.number] for line in guide_bill)
        main = Stack(
            (*before.uses, middle, *behind.uses), length, root.main_error, main_money,
            before.joints + behind.joints, before.mass + behind.mass + guider.mass, main_bill,
        )  # fmt: skip
        after = sum(use.length for use in behind.uses)
        asked = branch.offset + after
        side = Stack(
            guide.uses, asked + root.guide_error, root.guide_error, guide_money, guide.joints, guide.mass,
            guide_bill,
        )  # fmt: skip
        return Pair(
            main, side, abs(root.main_error) + abs(root.guide_error), main_money + guide_money,
            main.joints + side.joints, mass, whole_bill,
        )  # fmt: skip

    def _position(self, number: int) -> int:
        """Where a piece is in the index."""
        return self.joint.positions[number]

    def overdrawn(self) -> bool:
        """Make exact what the work goes into, where that is worth a new pass: split a piece, or
        count a piece inside a segment (as ``stacks`` does).
        """
        joint = self.joint
        if self.refused and len(joint.split_pieces) < MOST_SPLIT:
            for piece, times in self.refused.most_common():
                if times < PATIENCE * (1 + len(joint.split_pieces)):
                    break
                whole = joint.index.pieces[piece]
                if piece not in joint.split_pieces and (whole.owned == 1 or whole.copies == 1):
                    joint.split_pieces.append(piece)
                    return True
        for place in (BEFORE, BEHIND, GUIDE):
            taken = joint.resources[place]
            walks = [one.walk for at, one in self.lists if at == place]
            steps = sum(walk.steps for walk in walks)
            if steps < STEPS * (1 + len(taken)):
                continue
            refused = sum((walk.refused for walk in walks), Counter[int]())
            for piece, times in refused.most_common(3):
                if times * 20 < steps or piece < SHIMS or piece in {one for one, _ in taken}:
                    continue
                room = joint.problem.most_shims if piece == SHIMS else joint.index.pieces[piece].copies
                if self.cells * (room + 1) <= MOST_CELLS:
                    taken.append((piece, room))
                    return True
        return False


def _line(number: int, times: int, owned: int) -> Line:
    """A line of a bill with the owned copies used first."""
    return Line(number, max(0, times - owned), min(times, owned))


def _following(at: tuple[int, int, int]) -> Iterator[tuple[int, int, int]]:
    """The triples that come after one; each triple comes after exactly one other."""
    a, b, c = at
    yield a, b, c + 1
    if c == 0:
        yield a, b + 1, 0
        if b == 0:
            yield a + 1, 0, 0
