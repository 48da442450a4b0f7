"""Why one rig needs longer than another under one sky, in sentences."""

from __future__ import annotations

from server.domain.sky.depth import Depth
from server.flow.plan_sky import RigSky, TargetSky

ALIKE = 1.15
"""Figures closer than this are told as alike."""


def reasons(view: TargetSky) -> tuple[str, ...]:
    """A sentence for each rig but the quickest: how many times the hours, and what makes them."""
    found = [(one, one.depth, one.depth.hours.value) for one in view.rigs if one.depth and one.depth.hours]
    if len(found) < 2:
        return ()
    quickest = min(found, key=lambda one: one[2])
    return tuple(
        _reason(one, depth, hours, quickest[0], quickest[1], quickest[2])
        for one, depth, hours in found
        if one is not quickest[0]
    )


def _reason(one: RigSky, depth: Depth, hours: float, other: RigSky, quick: Depth, least: float) -> str:
    times = hours / least
    if times < ALIKE:
        return f"{one.rig.name} takes about as long as {other.rig.name}."
    said = f"{one.rig.name} takes {times:.2g} times the hours of {other.rig.name}"
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
