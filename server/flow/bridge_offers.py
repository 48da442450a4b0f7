"""The search's answer as trains: each stack put into its rig and judged, with what is bought, and the way
there.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

from server.domain.checks.tolerances import band_of
from server.domain.measure import Money, nominal
from server.domain.parts import CataloguedPart, PathPart
from server.domain.rig import Rig
from server.domain.train import Place
from server.domain.verdicts import Verdict
from server.domain.workings.case import Case
from server.flow.assemble_train import ReplaceStack, StackUse
from server.flow.bridge_branch import GuideStack, guide_stack
from server.flow.bridge_pose import Posed
from server.flow.run_checks import run_checks
from server.search.pairs import Pair, PairOutcome
from server.search.problem import Front, Outcome, Stack

JUDGED = ("joints", "seating", "spacing", "tolerances", "beam", "reach", "guide_branch")
"""The checks that a stack can turn."""


@dataclass(frozen=True)
class Offer:
    """One stack as a person weighs it.

    Attributes:
        stack: as the search found it.
        places: the parts between the two ends, sky first; a part that stays keeps its key.
        change: what puts it in.
        rig: the rig with it in.
        bought: what must be bought, with how many of each; `bought_keys` are their places.
        error_mm: how far the sensor then sits from its place, positive too far: by the spacing check where a
            corrector
            asks, else against the gap's distance.
        mass_kg: of the whole stack; `unweighed` how many of its parts have no known mass.
        narrowest: the part with the smallest clear aperture, and that, in mm; None where none is known.
        pair, guide: the guide chain that goes with it, None where none was asked for.
    """

    posed: Posed
    stack: Stack
    places: tuple[Place, ...]
    change: ReplaceStack
    rig: Rig
    bought: tuple[tuple[CataloguedPart, int], ...]
    bought_keys: frozenset[int]
    error_mm: float
    mass_kg: float
    unweighed: int
    narrowest: tuple[CataloguedPart, float] | None
    pair: Pair | None = None
    guide: GuideStack | None = None

    @property
    def hundredths(self) -> int:
        """What it costs, the guide chain with it, hundredths of the currency."""
        return self.stack.money if self.pair is None else self.pair.money

    @property
    def joints(self) -> int:
        """How many joints it has, those of the guide chain with them."""
        return self.stack.joints if self.pair is None else self.pair.joints

    @property
    def money(self) -> Money | None:
        """What it costs; None where nothing is priced at all and nothing is bought."""
        currency = self.posed.pieces.currency
        return None if currency is None else Money(hundredths=self.hundredths, currency=currency)

    @property
    def length_mm(self) -> float:
        """From end to end."""
        return sum(nominal(place.length) or 0.0 for place in self.places)

    @cached_property
    def findings(self) -> tuple[Verdict, ...]:
        """What the checks say of the rig with it in."""
        return run_checks(self.rig)

    @cached_property
    def chance(self) -> float | None:
        """How likely the finished train falls inside the corrector's window, 0 to 1; None where no tolerance
        or no window is known.
        """
        band = band_of(Case(self.rig))
        return None if band is None else band.odds.chance

    @cached_property
    def judged(self) -> tuple[Verdict, ...]:
        """Those of the findings that a stack can turn, if they are more than sound; no other check is run."""
        return tuple(
            finding
            for finding in run_checks(self.rig, only=JUDGED)
            if finding.code.partition(".")[0] in JUDGED
            and finding.weight != "sound"
            # An empty branch before the guide camera is no stack's doing.
            and finding.code != "guide_branch.open"
        )

    @property
    def same_as_now(self) -> bool:
        """Whether this is what stands in the gap already."""
        gap = self.posed.gap
        now, then = gap.between, self.places
        if self.guide is not None:
            now, then = (*now, *gap.rig.branch), (*then, *self.guide.places)
        return [(p.key, p.flipped) for p in then] == [(p.key, p.flipped) for p in now]


def offer_of(posed: Posed, stack: Stack) -> Offer:
    """Put a stack into its rig."""
    gap = posed.gap
    standing: dict[int, list[Place]] = {}
    for place in gap.freed:
        standing.setdefault(place.item.id, []).append(place)
    next_key = max((place.key for place in gap.rig.train), default=0) + 1
    places: list[Place] = []
    uses: list[StackUse] = []
    for number, way in _members(posed, stack):
        ways = posed.ways.get(number, ())
        flipped = ways[way].flipped if ways else False
        kept = posed.required.get(number)
        if kept is None:
            here = standing.get(number)
            kept = here.pop(0) if here else None
        if kept is not None:
            place = Place(kept.key, kept.item, flipped, kept.inside, kept.set_length_mm)
            uses.append(StackUse(part_id=kept.item.id, flipped=flipped, place=kept.key))
        else:
            place = Place(next_key, posed.pieces.items[number], flipped)
            uses.append(StackUse(part_id=number, flipped=flipped))
            next_key += 1
        places.append(place)
    rig = gap.with_places(tuple(places))
    bill = {line.number: line.bought for line in stack.bill if line.bought}
    left = Counter(bill)
    bought_keys = set()
    for place in reversed(places):
        if left[place.item.id] and place.key not in {p.key for p in gap.kept}:
            left[place.item.id] -= 1
            bought_keys.add(place.key)
    masses = [nominal(place.part.mass_kg) for place in places]
    clears = [
        (place.item, place.part.clear_aperture_mm.nominal)
        for place in places
        if isinstance(place.part, PathPart) and place.part.clear_aperture_mm is not None
    ]
    return Offer(
        posed,
        stack,
        tuple(places),
        ReplaceStack(sky=gap.sky.key, camera=gap.camera.key, uses=tuple(uses)),
        rig,
        tuple((posed.pieces.items[number], count) for number, count in bill.items()),
        frozenset(bought_keys),
        _error_mm(posed, rig, places),
        sum(mass for mass in masses if mass is not None),
        masses.count(None),
        min(clears, key=lambda pair: pair[1], default=None),
    )


def _members(posed: Posed, stack: Stack) -> list[tuple[int, int]]:
    """(number, index of its way) of every part in order, glued pairs taken apart."""
    found: list[tuple[int, int]] = []
    for use in stack.uses:
        composite = posed.composites.get(use.number)
        found += [(use.number, use.arc)] if composite is None else list(composite.members[use.arc])
    return found


def _error_mm(posed: Posed, rig: Rig, places: list[Place]) -> float:
    gap = posed.gap
    if gap.whose in ("corrector", "rules"):
        spacing = Case(rig).spacing
        if spacing is not None and spacing.error_mm is not None:
            return spacing.error_mm
    return sum(nominal(place.length) or 0.0 for place in places) - gap.distance_mm


def pair_offer(posed: Posed, pair: Pair) -> Offer:
    """Put a main stack and its guide stack into their rig."""
    offer = offer_of(posed, pair.main)
    guide = guide_stack(posed, pair, offer.places)
    masses = [nominal(place.part.mass_kg) for place in guide.places]
    bill = {line.number: line.bought for line in pair.bill if line.bought}
    return replace(
        offer,
        pair=pair,
        guide=guide,
        change=offer.change.model_copy(update={"branch": guide.uses}),
        rig=replace(offer.rig, branch=guide.places),
        bought=tuple((posed.pieces.items[number], count) for number, count in bill.items()),
        mass_kg=offer.mass_kg + sum(mass for mass in masses if mass is not None),
        unweighed=offer.unweighed + masses.count(None),
    )


def offers_of(posed: Posed, outcome: Outcome | PairOutcome) -> tuple[Offer, ...]:
    """All stacks of an answer, best first."""
    if isinstance(outcome, PairOutcome):
        return tuple(pair_offer(posed, pair) for pair in outcome.best)
    return tuple(offer_of(posed, stack) for stack in outcome.best)


Progress = Callable[[Outcome], bool]


def search_pairs(posed: Posed, progress: Callable[[PairOutcome], bool] | None = None) -> PairOutcome:
    """Look for main stacks with their guide stacks; otherwise as `search_stacks`."""
    from server.search.branches import search_pairs as search

    assert posed.side is not None
    return search(posed.problem, posed.side.branch, index=posed.side.drawer.index, progress=progress)


def search_stacks(posed: Posed, progress: Progress | None = None) -> Outcome:
    """Look for the stacks. `progress` is called now and then with what has been found; False stops the
    search.
    """
    # The search brings numpy, which nothing else here needs: a start without it is quicker.
    from server.search.stacks import search

    pieces = posed.pieces
    index = pieces.index if posed.problem.pieces is pieces.pieces else None
    return search(posed.problem, index=index, progress=progress)


WHOLE_FRONT = 600
"""With more pieces than this the front is budgeted: mass as a fourth measure makes it grow too large."""
ABOVE_BEST = 2000
"""How far above the best stack's price a budgeted front reaches, hundredths of the currency."""


def search_front(posed: Posed, best: Outcome, progress: Callable[[Front], bool] | None = None) -> Front:
    """The stacks of which none is beaten in money, joints, error and mass at once.

    `best` is the answer that was found before. Among many pieces only stacks up to ABOVE_BEST dearer than the
    cheapest of it count, which the front's `budget` says.
    """
    from server.search.fronts import front

    pieces = posed.pieces
    own = posed.problem.pieces is pieces.pieces
    budget = None
    if len(posed.problem.pieces) > WHOLE_FRONT:
        budget = min((stack.money for stack in best.best), default=0) + ABOVE_BEST
    return front(
        posed.problem,
        measures=("money", "joints", "error", "mass"),
        budget=budget,
        progress=progress,
        index=pieces.index if own else None,
    )
