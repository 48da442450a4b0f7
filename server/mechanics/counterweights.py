"""Which weights at which place on a counterweight bar balance a load about the polar axis."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from server.mechanics.bar_orders import EDGE_MM, Group, Ordered, Spent, Steps, best_order, stacked
from server.out_of_range import OutOfRangeError

MOST_STEPS = 100_000
"""Choices and places that are looked at before a search is given up and says so: a part of a second."""
FARTHEST_MM = 10_000.0
"""No bar ends farther from the axis."""


@dataclass(frozen=True)
class BarWeights:
    """Weights of one sort: mass (kg, above 0), thickness along the bar (mm, above 0), how many at hand."""

    mass_kg: float
    thickness_mm: float
    quantity: int = 1


@dataclass(frozen=True)
class BarPlace:
    """One weight on the bar: `kind` indexes the sorts that were given; its middle from the polar axis, mm."""

    kind: int
    at_mm: float


@dataclass(frozen=True)
class BarBalance:
    """What the weights at hand can do.

    Attributes:
        places: the weights, nearest the axis first; empty where none is found that balances the load.
        short_kg_mm: what the most that they can do falls short of, kg mm; 0 where it does not.
        over_kg_mm: by how much the least that one of them does is too much, kg mm; 0 where it is not.
        longer_mm: the least by which a longer bar would do with the weights at hand, its own mass not
            counted; None where none within 10 m would.
        complete: False where `MOST_STEPS` ended the search: fewer weights, or some at all, may do, and a bar
            not so much longer, unless `short_kg_mm` or `over_kg_mm` shows that none can.
    """

    places: tuple[BarPlace, ...] = ()
    short_kg_mm: float = 0.0
    over_kg_mm: float = 0.0
    longer_mm: float | None = None
    complete: bool = True


@dataclass(frozen=True)
class _Choice:
    """How many of each group; the moments packed inwards and outwards, kg mm; mass, kg; thickness, mm."""

    counts: tuple[int, ...]
    low: float
    high: float
    whole_kg: float
    thick_mm: float


def balance_on_bar(
    moment_kg_mm: float, weights: Sequence[BarWeights], bar_start_mm: float, bar_end_mm: float
) -> BarBalance:
    """Return how weights balance a moment: the fewest, and of those the way with the least moment of inertia.

    moment_kg_mm: of all that they must balance, mass times distance from the polar axis, above 0; the bar's
    own is taken off before. The weights lie against each other on the bar between bar_start_mm and bar_end_mm
    from the axis: with gaps they reach no other moment (of any order it grows steadily from pushed inwards
    to pushed outwards) and turn more (at one moment, the inertia is the stack's spread about its own centre).
    Every choice and every order is looked at, or shown to be no better, unless `complete` is False. The
    moment of inertia is that of points at the weights' middles. Raises ValueError outside.
    Source: sum m_i r_i = 0 about the axis (statics; OpenStax, University Physics 1, section 12.1, number from
    memory).
    """
    _demand(moment_kg_mm, weights, bar_start_mm, bar_end_mm)
    groups = _grouped(weights)
    bar = _Bar(groups, moment_kg_mm, bar_start_mm, bar_end_mm)
    fitting = [group for group in groups if group.thickness_mm <= bar.room_mm + EDGE_MM]
    rounding = EDGE_MM * sum(group.mass_kg * group.quantity for group in groups)
    least = min((stacked([group], [1], bar_start_mm) for group in fitting), default=0.0)
    short, over, complete = 0.0, max(least - moment_kg_mm, 0.0), True
    try:
        short = max(moment_kg_mm - bar.most(), 0.0)
        if max(short, over) <= rounding:
            short = over = 0.0
            bar.fewest()
    except Spent:
        complete = False
    if not bar.found:
        bar.steps = Steps(MOST_STEPS)
        try:
            bar.shortest_end()
        except Spent:
            complete = False
    if bar.found:
        return BarBalance(bar.found, complete=complete)
    if bar.least_end_mm <= bar_end_mm:
        # The first search was given up, and the second came upon a way.
        return BarBalance(bar.ending, complete=False)
    longer = bar.least_end_mm - bar_end_mm
    return BarBalance((), short, over, longer if bar.least_end_mm <= FARTHEST_MM else None, complete)


def single_weight_kg(
    moment_kg_mm: float, thickness_mm: float, bar_start_mm: float, bar_end_mm: float
) -> tuple[float, float] | None:
    """Return the least and the most mass of one weight that balances a moment by itself, kg; None where it is
    thicker than the bar is long.

    moment_kg_mm: as of `balance_on_bar`; thickness_mm: 0 or more. The least sits at the bar's end, the most
    next to the axis; one between them at moment / mass. Raises ValueError outside. Source: as
    `balance_on_bar`.
    """
    _demand(moment_kg_mm, (), bar_start_mm, bar_end_mm)
    if not thickness_mm >= 0.0:
        raise OutOfRangeError(
            f"The thickness is {thickness_mm:g} mm; it must be 0 or more. Enter the weight's."
        )
    inner, outer = bar_start_mm + thickness_mm / 2, bar_end_mm - thickness_mm / 2
    if outer < inner or inner <= 0.0:
        return None
    return moment_kg_mm / outer, moment_kg_mm / inner


def rod_length_mm(
    moment_kg_mm: float, rod_kg: float, rod_length_mm: float, bar_start_mm: float
) -> float | None:
    """Return how long a bar of the same rod has the moment that is given about the axis, mm; None for a
    massless one.

    moment_kg_mm: 0 or more; rod_kg: of the whole rod, 0 or more; rod_length_mm: above 0; bar_start_mm: 0 or
    more, where the rod begins. Raises ValueError outside. Source: an even rod balances at its middle, M = q x
    (start + x / 2) with q its mass for each mm, solved for x.
    """
    if not (moment_kg_mm >= 0.0 and rod_kg >= 0.0 and rod_length_mm > 0.0 and bar_start_mm >= 0.0):
        raise OutOfRangeError(
            "A bar has a length above 0; its mass, its beginning and the moment are 0 or more. Check them."
        )
    if rod_kg == 0.0:
        return None
    dense = rod_kg / rod_length_mm
    return math.sqrt(bar_start_mm**2 + 2.0 * moment_kg_mm / dense) - bar_start_mm


class _Bar:
    """One search; every step of it is counted."""

    def __init__(
        self, groups: tuple[Group, ...], moment_kg_mm: float, start_mm: float, end_mm: float
    ) -> None:
        self.groups, self.moment = groups, moment_kg_mm
        self.start_mm, self.end_mm, self.room_mm = start_mm, end_mm, end_mm - start_mm
        self.steps = Steps(MOST_STEPS)
        self.found: tuple[BarPlace, ...] = ()
        self.ending: tuple[BarPlace, ...] = ()
        self.least_end_mm = math.inf
        self._most = 0.0
        # What the weights of a group and of those behind it can add at the least and at the most: sums of the
        # thinnest, lightest and heaviest.
        self.thin, self.light, self.heavy = (
            [_sums(groups[at:], key, reverse) for at in range(len(groups) + 1)]
            for key, reverse in (("thickness_mm", False), ("mass_kg", False), ("mass_kg", True))
        )

    def most(self) -> float:
        """The largest moment that any choice of weights has on this bar, kg mm, or one that is enough. Raises
        Spent.
        """
        self._outwards(0, 0.0, 0.0)
        return self._most

    def _outwards(self, at: int, used_mm: float, moment: float) -> None:
        """Hang groups from the bar's outer end inwards, the densest outermost: nothing reaches further."""
        self.steps.take()
        self._most = max(self._most, moment)
        if at == len(self.groups) or self._most >= min(self._bound(at, used_mm, moment), self.moment):
            return
        group = self.groups[at]
        fits = int((self.room_mm - used_mm + EDGE_MM) / group.thickness_mm)
        for count in range(min(group.quantity, fits), -1, -1):
            thick = count * group.thickness_mm
            middle = self.end_mm - used_mm - thick / 2
            self._outwards(at + 1, used_mm + thick, moment + count * group.mass_kg * middle)

    def _bound(self, at: int, used_mm: float, moment: float) -> float:
        """What a bar filled with weights that could be cut to its last millimetre would reach."""
        for group in self.groups[at:]:
            thick = min(group.quantity * group.thickness_mm, self.room_mm - used_mm)
            if thick <= 0.0:
                break
            moment += group.mass_kg / group.thickness_mm * thick * (self.end_mm - used_mm - thick / 2)
            used_mm += thick
        return moment

    def fewest(self) -> None:
        """Set `found` to the fewest weights that balance, nearest the axis first; left empty where none do.

        Raises Spent; `found` then holds the best so far.
        """
        for number in range(1, sum(group.quantity for group in self.groups) + 1):
            if self.thin[0][number] > self.room_mm + EDGE_MM:
                break
            least = math.inf
            ranked = [(self._least_inertia(one), one.counts, one) for one in self._choices(number)]
            for bound, _, one in sorted(ranked):
                if bound >= least:
                    break
                free_mm = self.room_mm - one.thick_mm
                ordered = best_order(
                    self.groups,
                    one.counts,
                    self.start_mm,
                    self.moment - one.whole_kg * (free_mm + EDGE_MM),
                    self.moment + one.whole_kg * EDGE_MM,
                    self.steps,
                    outermost=False,
                )
                if ordered is None:
                    continue
                inertia = ordered.square + (self.moment**2 - ordered.moment**2) / one.whole_kg
                if inertia < least:
                    least = inertia
                    slide_mm = (self.moment - ordered.moment) / one.whole_kg
                    self.found = self._placed(ordered.order, min(max(slide_mm, 0.0), max(free_mm, 0.0)))
            if self.found:
                break

    def _least_inertia(self, one: _Choice) -> float:
        """What a choice turns at the least: all at one place, and each pair no nearer than half of both."""
        pairs = 0.0
        for index, (count, group) in enumerate(zip(one.counts, self.groups, strict=True)):
            pairs += count * (count - 1) / 2 * (group.mass_kg * group.thickness_mm) ** 2
            for other, more in zip(one.counts[index + 1 :], self.groups[index + 1 :], strict=True):
                apart = (group.thickness_mm + more.thickness_mm) / 2
                pairs += count * other * group.mass_kg * more.mass_kg * apart**2
        # Float rounding must not let the bound of a choice lie above its own worth.
        return (self.moment**2 + pairs) / one.whole_kg * (1.0 - 1e-12)

    def _choices(
        self, left: int, at: int = 0, one: _Choice = _Choice((), 0.0, 0.0, 0.0, 0.0)
    ) -> Iterator[_Choice]:
        """Every choice of so many weights more that fits and whose moments reach from below to above."""
        self.steps.take()
        rounding = (one.whole_kg + self.heavy[at][left]) * EDGE_MM
        if (
            one.thick_mm + self.thin[at][left] > self.room_mm + EDGE_MM
            or one.low + self.light[at][left] * (self.start_mm + one.thick_mm) > self.moment + rounding
            or one.high + self.heavy[at][left] * (self.end_mm - one.thick_mm) < self.moment - rounding
        ):
            return
        if at == len(self.groups):
            yield one
            return
        group = self.groups[at]
        for count in range(min(left, group.quantity), max(left - len(self.thin[at + 1]), -1), -1):
            mass, thick = count * group.mass_kg, count * group.thickness_mm
            # The densest next to the axis turns least, and farthest out most: no order goes beyond the two.
            yield from self._choices(
                left - count,
                at + 1,
                _Choice(
                    (*one.counts, count),
                    one.low + mass * (self.start_mm + one.thick_mm + thick / 2),
                    one.high + mass * (self.end_mm - one.thick_mm - thick / 2),
                    one.whole_kg + mass,
                    one.thick_mm + thick,
                ),
            )

    def _placed(self, order: Sequence[int], slide_mm: float) -> tuple[BarPlace, ...]:
        """The weights of an order on the bar; of weights that are alike the first sort is used up first."""
        left = [list(group.kinds) for group in self.groups]
        found: list[BarPlace] = []
        at_mm = self.start_mm + slide_mm
        for index in order:
            thickness_mm = self.groups[index].thickness_mm
            found.append(BarPlace(left[index].pop(0), at_mm + thickness_mm / 2))
            at_mm += thickness_mm
        return tuple(found)

    def shortest_end(self) -> None:
        """Set `least_end_mm`, where the shortest bar that would do ends, and `ending`, the weights on it;
        infinite and empty where none would. Raises Spent; both are then those of the best so far.
        """
        # First with the densest outermost alone: that soon leaves little for the other orders to be better.
        for every_order in (False, True):
            self._ending(0, (), 0.0, 0.0, 0.0, every_order)

    def _ending(
        self,
        at: int,
        counts: tuple[int, ...],
        mass: float,
        thick_mm: float,
        back: float,
        every_order: bool,
    ) -> None:
        """Hang groups from the outer end inwards; `back` is the sum of mass times distance from that end."""
        self.steps.take()
        if self._least_end_mm(at, mass, thick_mm, back) >= self.least_end_mm:
            return
        if at < len(self.groups):
            group = self.groups[at]
            for count in range(group.quantity, -1, -1):
                more, thick = count * group.mass_kg, count * group.thickness_mm
                self._ending(
                    at + 1,
                    (*counts, count),
                    mass + more,
                    thick_mm + thick,
                    back + more * (thick_mm + thick / 2),
                    every_order,
                )
            return
        if mass == 0.0:
            return
        inner_mm = self.start_mm + thick_mm
        end_mm = (self.moment + back) / mass
        order = tuple(index for index, count in enumerate(counts) for _ in range(count))[::-1]
        if end_mm < inner_mm:
            # The order that reaches furthest does too much even pushed inwards; another may do just enough.
            ordered = self._largest_below(counts, mass, inner_mm) if every_order else None
            if ordered is None:
                return
            end_mm, order = inner_mm + max(self.moment - ordered.moment, 0.0) / mass, ordered.order
        if end_mm < self.least_end_mm:
            self.least_end_mm, self.ending = end_mm, self._placed(order, end_mm - inner_mm)

    def _largest_below(self, counts: Sequence[int], mass: float, inner_mm: float) -> Ordered | None:
        """Of the orders of a choice that do not do too much pushed inwards the one that does most."""
        return best_order(
            self.groups,
            counts,
            self.start_mm,
            self.moment - mass * (min(self.least_end_mm, FARTHEST_MM) - inner_mm),
            self.moment + mass * EDGE_MM,
            self.steps,
            outermost=True,
        )

    def _least_end_mm(self, at: int, mass: float, thick_mm: float, back: float) -> float:
        """Where the bar would have to end with weights that could be cut: none of these does with less."""
        if mass > 0.0 and (self.moment + back) / mass < self.start_mm + thick_mm:
            return self.start_mm + thick_mm
        for group in self.groups[at:]:
            dense = group.mass_kg / group.thickness_mm
            thick = group.quantity * group.thickness_mm
            after = mass + dense * thick
            back_after = back + dense * thick * (thick_mm + thick / 2)
            if (self.moment + back_after) / after < self.start_mm + thick_mm + thick:
                # So much of this group, x mm: (M + back) / mass = start + thickness, a quadratic in x.
                linear = dense * self.start_mm + mass
                lacking = self.moment + back - (self.start_mm + thick_mm) * mass
                x = (math.sqrt(linear**2 + 2 * dense * lacking) - linear) / dense
                return self.start_mm + thick_mm + max(x - EDGE_MM, 0.0)
            mass, back, thick_mm = after, back_after, thick_mm + thick
        return (self.moment + back) / mass * (1.0 - 1e-12) if mass > 0.0 else math.inf


def _grouped(weights: Sequence[BarWeights]) -> tuple[Group, ...]:
    """Alike weights together, the densest first."""
    kinds: dict[tuple[float, float], list[int]] = {}
    for index, weight in enumerate(weights):
        kinds.setdefault((weight.mass_kg, weight.thickness_mm), []).extend([index] * weight.quantity)
    groups = (Group(mass, thick, tuple(of)) for (mass, thick), of in kinds.items())
    return tuple(sorted(groups, key=lambda one: (one.thickness_mm / one.mass_kg, one.thickness_mm)))


def _sums(groups: Sequence[Group], name: str, reverse: bool) -> list[float]:
    """Of 0, 1, 2 ... of these weights the least (reverse: the largest) sum of a figure."""
    figures = sorted((getattr(group, name) for group in groups for _ in group.kinds), reverse=reverse)
    sums = [0.0]
    for figure in figures:
        sums.append(sums[-1] + figure)
    return sums


def _demand(
    moment_kg_mm: float, weights: Sequence[BarWeights], bar_start_mm: float, bar_end_mm: float
) -> None:
    if not 0.0 < moment_kg_mm <= 1e8:
        raise OutOfRangeError(
            f"The moment to balance is {moment_kg_mm:g} kg mm; it must be above 0 and at most 1e8. Check the "
            "masses and the saddle's height above the axis."
        )
    if not 0.0 <= bar_start_mm < bar_end_mm <= FARTHEST_MM:
        raise OutOfRangeError(
            f"The bar goes from {bar_start_mm:g} to {bar_end_mm:g} mm from the axis; it must begin at 0 or "
            "more, end farther out, and within 10 000 mm. Check both figures."
        )
    for weight in weights:
        if not (
            0.0 < weight.mass_kg <= 1000.0 and 0.0 < weight.thickness_mm <= 1000.0 and weight.quantity >= 1
        ):
            raise OutOfRangeError(
                f"A weight of {weight.mass_kg:g} kg, {weight.thickness_mm:g} mm thick, {weight.quantity} at "
                "hand: mass and thickness must be above 0 and at most 1000, and one or more at hand."
            )
