"""In which order weights lie on a bar: of every order, the one that serves best, by steps that are counted.

Weights that are alike are one group, so that no order is looked at twice. A stack is built from its inner end
outwards: where the next weight comes to lie depends on which are there already and not on their order, so
that two ways to the same weights can be compared and the worse one dropped.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

EDGE_MM = 1e-9
"""Float rounding must not push a weight off the end of its bar."""


@dataclass(frozen=True)
class Group:
    """Weights that are alike: the mass (kg) and thickness (mm) of one, how many, and what sorts they are."""

    mass_kg: float
    thickness_mm: float
    kinds: tuple[int, ...]

    @property
    def quantity(self) -> int:
        """How many there are."""
        return len(self.kinds)


class Spent(Exception):  # noqa: N818 - it ends a search and is no error
    """Every step that a search may take has been taken."""


class Steps:
    """How many steps a search may still take."""

    def __init__(self, most: int) -> None:
        self.left = most

    def take(self) -> None:
        """Take one. Raises Spent where none is left."""
        if self.left <= 0:
            raise Spent
        self.left -= 1


@dataclass(frozen=True)
class Ordered:
    """An order of a choice of weights, pushed against the inner end of the bar.

    order: indices of groups, the innermost first. moment: sum m r, kg mm; square: sum m r^2, kg mm^2.
    """

    order: tuple[int, ...]
    moment: float
    square: float


@dataclass(frozen=True)
class _Label:
    """One way to a part of the stack; `before` is the way without its last weight, `group` that weight's."""

    moment: float
    square: float
    before: _Label | None = None
    group: int = -1


def best_order(
    groups: Sequence[Group],
    chosen: Sequence[int],
    start_mm: float,
    floor: float,
    ceiling: float,
    steps: Steps,
    *,
    outermost: bool,
) -> Ordered | None:
    """Return the best order of a choice whose moment, pushed inwards, lies from floor to ceiling (kg mm).

    groups: the densest first. chosen: how many of each. outermost: the order with the largest moment is
    wanted; else the one that turns least once its stack has slid out to the ceiling: of those, the moment of
    inertia differs by sum m r^2 - (sum m r)^2 / sum m alone (parallel-axis theorem). None where no order's
    moment lies there. Raises Spent. Source: dynamic programming over the weights that are used (any text on
    algorithms); that a way to the same weights with no higher cost is as good holds by the sums alone.
    """
    whole_kg = sum(count * group.mass_kg for count, group in zip(chosen, groups, strict=True))
    level: dict[tuple[int, ...], list[_Label]] = {(0,) * len(groups): [_Label(0.0, 0.0)]}
    for _ in range(sum(chosen)):
        following: dict[tuple[int, ...], list[_Label]] = {}
        for used, labels in level.items():
            at_mm = start_mm + sum(n * group.thickness_mm for n, group in zip(used, groups, strict=True))
            for index, group in enumerate(groups):
                if used[index] == chosen[index]:
                    continue
                middle = at_mm + group.thickness_mm / 2
                moment, square = group.mass_kg * middle, group.mass_kg * middle * middle
                after = (*used[:index], used[index] + 1, *used[index + 1 :])
                kept = following.setdefault(after, [])
                for label in labels:
                    steps.take()
                    kept.append(_Label(label.moment + moment, label.square + square, label, index))
        level = {
            used: kept
            for used, labels in following.items()
            if (
                kept := _undominated(
                    labels, _rest(groups, chosen, used, start_mm), floor, ceiling, whole_kg, outermost
                )
            )
        }
    final = next(iter(level.values()), [])
    if not final:
        return None
    # Nothing is to come any more, so that only the cheapest is left.
    best = final[0]
    order: list[int] = []
    at: _Label | None = best
    while at is not None and at.before is not None:
        order.append(at.group)
        at = at.before
    return Ordered(tuple(reversed(order)), best.moment, best.square)


def _rest(
    groups: Sequence[Group], chosen: Sequence[int], used: Sequence[int], start_mm: float
) -> tuple[float, float]:
    """The least and the largest moment of what is still to come: the densest first, or last."""
    left = [n - m for n, m in zip(chosen, used, strict=True)]
    at_mm = start_mm + sum(n * group.thickness_mm for n, group in zip(used, groups, strict=True))
    return stacked(groups, left, at_mm), stacked(groups[::-1], left[::-1], at_mm)


def stacked(groups: Sequence[Group], counts: Sequence[int], at_mm: float) -> float:
    """Return the moment, kg mm, of weights that lie against each other from a place outwards, in this order.

    counts: how many of each group; at_mm: the inner end's distance from the axis. Source: sum m r.
    """
    moment = 0.0
    for count, group in zip(counts, groups, strict=True):
        moment += count * group.mass_kg * (at_mm + count * group.thickness_mm / 2)
        at_mm += count * group.thickness_mm
    return moment


def _undominated(
    labels: list[_Label],
    rest: tuple[float, float],
    floor: float,
    ceiling: float,
    whole_kg: float,
    outermost: bool,
) -> list[_Label]:
    """The ways that can still end between floor and ceiling, without those that another one always beats.

    What a way costs in the end is linear in the moment of the rest, but for what is the same for all ways to
    these weights: one that ends between floor and ceiling whatever comes, and costs no more at both ends of
    what can come, is at least as good.
    """
    low, high = rest
    ranked: list[tuple[float, float, bool, _Label]] = []
    for one in labels:
        if one.moment + high < floor or one.moment + low > ceiling:
            continue
        safe = one.moment + high <= ceiling and (outermost or one.moment + low >= floor)
        if outermost:
            cost = (-one.moment, -one.moment)
        else:
            own = one.square - one.moment**2 / whole_kg
            cost = (own - 2 * one.moment * low / whole_kg, own - 2 * one.moment * high / whole_kg)
        ranked.append((*cost, safe, one))
    # Of ways that cost the same, one that always ends well comes first.
    ranked.sort(key=lambda row: (row[0], row[1], not row[2]))
    kept: list[_Label] = []
    least_at_high = float("inf")
    seen: set[int] = set()
    for _, at_high, safe, one in ranked:
        # Of ways with one moment the first is the cheapest, whatever comes.
        same = round(one.moment / (whole_kg * EDGE_MM))
        if at_high >= least_at_high or same in seen:
            continue
        seen.add(same)
        kept.append(one)
        if safe:
            least_at_high = min(least_at_high, at_high)
    return kept
