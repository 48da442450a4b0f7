"""Why one rig needs longer than another under one sky, in sentences."""

from __future__ import annotations

from collections.abc import Callable

from server.domain.sky.depth import Depth
from server.flow.plan_sky import RigSky, TargetSky

ALIKE = 1.15
"""Figures closer than this are told as alike."""
_Timed = tuple[RigSky, Depth, int, float]
"""A rig with its panels and the hours that all of them take."""


def _one(_: RigSky) -> int:
    return 1


def reasons(view: TargetSky, panels: Callable[[RigSky], int] = _one) -> tuple[str, ...]:
    """A sentence for each rig but the quickest: how many times the hours, and what makes them.

    panels: in how many each rig takes the target in, where they differ.
    """
    found = [
        (one, one.depth, panels(one), hours.value)
        for one in view.rigs
        if one.depth and (hours := one.depth.hours_of(panels(one)))
    ]
    if len(found) < 2:
        return ()
    quickest = min(found, key=lambda one: one[3])
    return tuple(_reason(one, quickest) for one in found if one is not quickest)


def _reason(slow: _Timed, fast: _Timed) -> str:
    one, depth, count, hours = slow
    other, quick, others, least = fast
    times = hours / least
    against = (
        f", in {count} {'panel' if count == 1 else 'panels'} against {others}" if count != others else ""
    )
    if times < ALIKE:
        return f"{one.rig.name} takes about as long as {other.rig.name}{against}."
    said = f"{one.rig.name} takes {times:.2g} times the hours of {other.rig.name}{against}"
    why = []
    light = quick.sky_e / depth.sky_e
    if light > ALIKE:
        why.append(f"it collects {1.0 / light:.2g} times the light of a square arcsecond")
    if depth.line != quick.line:
        why.append(
            "it looks through a narrow band" if depth.line else "the other looks through a narrow band"
        )
    if one.frame and other.frame:
        finer = other.frame.scale_arcsec / one.frame.scale_arcsec
        if finer > ALIKE and depth.read_e**2 > 0.1 * depth.sky_e * one.frame.scale_arcsec**2 * depth.sub_s:
            why.append(
                f"its pixels are {finer:.2g} times finer on the sky, so that read noise and dark current "
                "count more"
            )
    return f"{said}: {' and '.join(why)}." if why else f"{said}."
