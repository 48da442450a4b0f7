"""Which focal lengths frame a list of targets on a sensor, and which targets cannot be had with one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from server.domain.sky.target import Target

LEAST_FILL, MOST_FILL = 0.25, 0.85
"""A target that fills less of the frame is lost in it, one that fills more has no sky about it (choices of
ours, no source)."""


@dataclass(frozen=True)
class FocalBar:
    """The focal lengths that frame a target, mm."""

    target: Target
    shortest_mm: float
    longest_mm: float

    def frames(self, focal_mm: float) -> bool:
        """Whether a focal length frames it."""
        return self.shortest_mm <= focal_mm <= self.longest_mm


@dataclass(frozen=True)
class FocalChoice:
    """The answer for a list.

    Attributes:
        bars: of each target of known size, the one that wants the shortest first. sizeless: the others.
        shared_mm: what frames them all, None where two of them disagree: `disagree`.
    """

    bars: tuple[FocalBar, ...]
    sizeless: tuple[Target, ...]
    shared_mm: tuple[float, float] | None
    disagree: tuple[Target, Target] | None


def choose_focal(
    targets: Sequence[Target], sensor_mm: tuple[float, float], least_fill: float, most_fill: float
) -> FocalChoice:
    """Work out the focal lengths, each target at its best angle. Raises OutOfRangeError for shares that are
    none.
    """
    from server.sky.framing import agree, focal_range_mm

    bars = []
    for one in targets:
        if one.ellipse_arcmin is not None:
            found = focal_range_mm(*sensor_mm, *one.ellipse_arcmin, least_fill, most_fill)
            bars.append((found, FocalBar(one, found.shortest_mm, found.longest_mm)))
    bars.sort(key=lambda one: one[1].shortest_mm)
    sizeless = tuple(one for one in targets if one.ellipse_arcmin is None)
    told = tuple(bar for _, bar in bars)
    if not bars:
        return FocalChoice((), sizeless, None, None)
    found_together = agree([one for one, _ in bars])
    shared, apart = found_together.shared, found_together.disagree
    return FocalChoice(
        told,
        sizeless,
        None if shared is None else (shared.shortest_mm, shared.longest_mm),
        None if apart is None else (told[apart[0]].target, told[apart[1]].target),
    )
