"""One kit for several rigs: their gaps made problems over one drawer, and the answer as trains.

The rigs are not used at the same time, so each may use every owned copy; what a rig needs outside its gap is
not free for its stack. Where the rigs differ in that, the copies that the neediest of them leaves are counted
for all: a kit is then never too small, and at most a ring too many.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from server.domain.errors import RefusedError
from server.domain.measure import Money
from server.domain.observer import Holding
from server.domain.parts import CataloguedPart
from server.domain.rig import Rig
from server.flow.bridge_gap import find_gap
from server.flow.bridge_offers import Offer, offer_of
from server.flow.bridge_pose import Posed, elsewhere_of, pose_over, sides_of
from server.flow.bridge_stock import Demands, LeftOut, Pieces, make_pieces, misfits
from server.flow.bridge_wishes import Gap, Wishes
from server.flow.protocols import Stock
from server.search.problem import Line, Stack

if TYPE_CHECKING:
    from server.search.kit_planner import KitOutcome

LONGEST_S = 20.0
"""How long the solver may work, s."""
LEAST_RIGS, MOST_RIGS = 2, 5


@dataclass(frozen=True, eq=False)
class KitPosed:
    """Several gaps as problems over one drawer, in the order of the rigs."""

    posed: tuple[Posed, ...]
    pieces: Pieces
    left_out: tuple[LeftOut, ...]


@dataclass(frozen=True)
class KitOffer:
    """A kit as a person weighs it: what to buy with how many of each, its price, and each rig's stack.

    `bought_keys` of an offer are the places whose parts are of the kit.
    """

    bought: tuple[tuple[CataloguedPart, int], ...]
    money: Money | None
    offers: tuple[Offer, ...]
    undone: tuple[tuple[int, ...], ...]
    joints_undone: int


def gaps_of(rigs: Sequence[Rig], wishes: Wishes) -> list[Gap | RefusedError]:
    """Each rig's gap, or why it has none."""
    found: list[Gap | RefusedError] = []
    for rig in rigs:
        try:
            found.append(find_gap(rig, wishes))
        except RefusedError as error:
            found.append(error)
    return found


def pose_kit(gaps: Sequence[Gap], wishes: Wishes, stock: Stock, shelf: Mapping[int, Holding]) -> KitPosed:
    """Make several gaps problems over one drawer. Raises RefusedError, in words."""
    elsewhere: Counter[int] = Counter()
    for gap in gaps:
        elsewhere |= elsewhere_of(gap)
    demands = Demands(
        wishes.source, 0.0, False, any(gap.push_fit for gap in gaps), frozenset(wishes.without),
        wishes.most_joints - 1,
    )  # fmt: skip
    freed = tuple(place for gap in gaps for place in gap.freed)
    sides = tuple(side for gap in gaps for side in sides_of(gap))
    pieces = make_pieces(stock, shelf, elsewhere, freed, sides, demands)
    posed = []
    for gap in gaps:
        one = pose_over(gap, wishes, pieces, by_part=True)
        unfit, _ = misfits(pieces, stock, gap.clear_mm, gap.push_fit, clear_asked=gap.clear_asked)
        fitting = tuple(piece for piece in one.problem.pieces if piece.number not in unfit)
        # A kit's models put no rings in order, so that threads are left to the checks of each train.
        posed.append(replace(one, problem=replace(one.problem, pieces=fitting, threads=None)))
    return KitPosed(tuple(posed), pieces, pieces.left_out)


def search_kit(kit: KitPosed, progress: Callable[[KitOutcome], bool] | None = None) -> KitOutcome:
    """Plan the kit. `progress` is called now and then with what has been found; False stops the planning."""
    # The search brings numpy and a solver, which nothing else here needs: a start without it is quicker.
    from server.search.kit_planner import Rig as KitRig
    from server.search.kits import plan_kit

    rigs = [
        KitRig(posed.problem, front=posed.gap.sky.item.id, back=posed.gap.camera.item.id)
        for posed in kit.posed
    ]
    return plan_kit(rigs, seconds=LONGEST_S, progress=progress)


def kit_offer(kit: KitPosed, outcome: KitOutcome) -> KitOffer | None:
    """Put each rig's stack into its rig; None where there is no kit yet."""
    found = outcome.kit
    if found is None:
        return None
    owned = {piece.number: piece.owned for piece in kit.pieces.pieces}
    currency = kit.pieces.currency
    return KitOffer(
        tuple((kit.pieces.items[number], count) for number, count in found.buy),
        None if currency is None else Money(hundredths=found.money, currency=currency),
        tuple(
            offer_of(posed, _with_bill(stack, owned))
            for posed, stack in zip(kit.posed, found.stacks, strict=True)
        ),
        found.undone,
        found.joints_undone,
    )


def _with_bill(stack: Stack, owned: Mapping[int, int]) -> Stack:
    """The stack with a bill that tells the kit's copies from those that were owned before."""
    lines = []
    for line in stack.bill:
        used = line.bought + line.owned
        own = min(used, owned.get(line.number, 0))
        lines.append(Line(line.number, used - own, own))
    return replace(stack, bill=tuple(lines))
