"""Which weights at which place on a counterweight bar balance a load about the polar axis."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import permutations, product

MOST_KINDS = 6
MOST_ON_BAR = 5
"""More weights than this on one bar are not tried: every order of them is looked at."""
_EDGE_MM = 1e-9
"""Float rounding must not push a weight off the end of its bar."""


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
        places: the weights, nearest the axis first; empty where they do not balance the load.
        short_kg_mm: what the most that they can do falls short of, kg mm; 0 where it does not.
        over_kg_mm: by how much the least that one of them does is too much, kg mm; 0 where it is not.
        longer_mm: by how much a longer bar would do with the weights that fit on it; None where it is not the
            bar's length, or no weight fits.
    """

    places: tuple[BarPlace, ...] = ()
    short_kg_mm: float = 0.0
    over_kg_mm: float = 0.0
    longer_mm: float | None = None


def balance_on_bar(
    moment_kg_mm: float, weights: Sequence[BarWeights], bar_start_mm: float, bar_end_mm: float
) -> BarBalance:
    """Return how weights balance a moment: the fewest, and of those the way with the least moment of inertia.

    moment_kg_mm: of all that they must balance, mass times distance from the polar axis, above 0; the bar's
    own is taken off before. The weights lie against each other on the bar between bar_start_mm and bar_end_mm
    from the axis. Of any order the moment grows steadily as its stack slides outwards, so that trying every
    order of every choice of up to MOST_ON_BAR weights leaves no answer out. Raises ValueError outside.
    Source: sum m_i r_i = 0 about the axis (statics; OpenStax, University Physics 1, section 12.1, number from
    memory).
    """
    _demand(moment_kg_mm, weights, bar_start_mm, bar_end_mm)
    room_mm = bar_end_mm - bar_start_mm
    most, most_kg, least = 0.0, 0.0, math.inf
    best: tuple[int, float, tuple[BarPlace, ...]] | None = None
    for chosen in _choices(weights, room_mm):
        if best is not None and len(chosen) > best[0]:
            break
        whole_kg = math.fsum(weights[kind].mass_kg for kind in chosen)
        free_mm = room_mm - math.fsum(weights[kind].thickness_mm for kind in chosen)
        # The densest next to the axis turns least, and farthest out most: no other order goes beyond the two.
        dense = sorted(chosen, key=lambda kind: weights[kind].thickness_mm / weights[kind].mass_kg)
        low_kg_mm = _moment_kg_mm(dense, weights, bar_start_mm)
        high_kg_mm = _moment_kg_mm(dense[::-1], weights, bar_start_mm) + whole_kg * free_mm
        if high_kg_mm > most:
            most, most_kg = high_kg_mm, whole_kg
        least = min(least, low_kg_mm)
        if not low_kg_mm - whole_kg * _EDGE_MM <= moment_kg_mm <= high_kg_mm + whole_kg * _EDGE_MM:
            continue
        for order in sorted(set(permutations(chosen))):
            inner = _stacked(order, weights, bar_start_mm)
            inner_kg_mm = _moment_kg_mm(order, weights, bar_start_mm)
            slide_mm = (moment_kg_mm - inner_kg_mm) / whole_kg
            if not -_EDGE_MM <= slide_mm <= free_mm + _EDGE_MM:
                continue
            places = tuple(BarPlace(place.kind, place.at_mm + max(slide_mm, 0.0)) for place in inner)
            inertia = math.fsum(weights[place.kind].mass_kg * place.at_mm**2 for place in places)
            if best is None or inertia < best[1]:
                best = (len(chosen), inertia, places)
    if best is not None:
        return BarBalance(best[2])
    short, over = max(moment_kg_mm - most, 0.0), max(least - moment_kg_mm, 0.0)
    return BarBalance(
        short_kg_mm=short,
        over_kg_mm=over if math.isfinite(over) else 0.0,
        longer_mm=short / most_kg if short > 0 and most_kg > 0 else None,
    )


def _choices(weights: Sequence[BarWeights], room_mm: float) -> Iterator[tuple[int, ...]]:
    """Every choice of weights that fits on the bar, fewest first."""
    counts = [range(min(weight.quantity, MOST_ON_BAR) + 1) for weight in weights]
    found = [
        tuple(kind for kind, count in enumerate(numbers) for _ in range(count))
        for numbers in product(*counts)
        if 0 < sum(numbers) <= MOST_ON_BAR
    ]
    for chosen in sorted(found, key=len):
        if math.fsum(weights[kind].thickness_mm for kind in chosen) <= room_mm + _EDGE_MM:
            yield chosen


def _moment_kg_mm(order: Sequence[int], weights: Sequence[BarWeights], bar_start_mm: float) -> float:
    stack = _stacked(order, weights, bar_start_mm)
    return math.fsum(weights[place.kind].mass_kg * place.at_mm for place in stack)


def _stacked(
    order: Sequence[int], weights: Sequence[BarWeights], bar_start_mm: float
) -> tuple[BarPlace, ...]:
    """Weights in this order, pushed against the inner end of the bar."""
    found: list[BarPlace] = []
    at_mm = bar_start_mm
    for kind in order:
        found.append(BarPlace(kind, at_mm + weights[kind].thickness_mm / 2))
        at_mm += weights[kind].thickness_mm
    return tuple(found)


def _demand(
    moment_kg_mm: float, weights: Sequence[BarWeights], bar_start_mm: float, bar_end_mm: float
) -> None:
    if not 0.0 < moment_kg_mm <= 1e8:
        raise ValueError(
            f"The moment to balance is {moment_kg_mm:g} kg mm; it must be above 0 and at most 1e8. Check the "
            "masses and the saddle's height above the axis."
        )
    if not 0.0 <= bar_start_mm < bar_end_mm <= 10_000.0:
        raise ValueError(
            f"The bar goes from {bar_start_mm:g} to {bar_end_mm:g} mm from the axis; it must begin at 0 or "
            "more, end farther out, and within 10 000 mm. Check both figures."
        )
    if len(weights) > MOST_KINDS:
        raise ValueError(
            f"{len(weights)} sorts of weights are too many to try; at most {MOST_KINDS}. Leave some out."
        )
    for weight in weights:
        if not (
            0.0 < weight.mass_kg <= 1000.0 and 0.0 < weight.thickness_mm <= 1000.0 and weight.quantity >= 1
        ):
            raise ValueError(
                f"A weight of {weight.mass_kg:g} kg, {weight.thickness_mm:g} mm thick, {weight.quantity} at "
                "hand: mass and thickness must be above 0 and at most 1000, and one or more at hand."
            )
