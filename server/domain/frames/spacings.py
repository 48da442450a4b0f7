"""Where the sensor belongs behind its corrector, by sets of frames at two or more spacings."""

from __future__ import annotations

import math
from collections.abc import Sequence

from server.domain.findings import Figure
from server.domain.frames.measured import Measured, Value
from server.domain.frames.plan import FramePlan
from server.domain.said import said
from server.domain.verdicts import Advice, Given, Verdict
from server.domain.workings.case import amount
from server.frames.spacing import NotInLineError, vanishes_at_mm
from server.frames.surface import Told


def judge_spacings(measured: Measured, others: Sequence[Measured], plan: FramePlan) -> list[Verdict]:
    """Where curvature and astigmatism would vanish, by this set and others; nothing by one spacing."""
    sets = [one for one in (*others, measured) if one.surface is not None and one.spacing_mm is not None]
    if measured.spacing_mm is None or len({one.spacing_mm for one in sets}) < 2:
        return []
    places = [one.spacing_mm for one in sets if one.spacing_mm is not None]
    surfaces = [one.surface for one in sets if one.surface is not None]
    try:
        curved = vanishes_at_mm(places, [_told(one.curvature) for one in surfaces])
        drawn = vanishes_at_mm(places, [_told(one.astigmatism) for one in surfaces])
    except NotInLineError:
        return [_of("mixed", spacings=tuple(amount(one, "length", 2) for one in places))]
    zeros = [one for one in (curved, drawn) if one is not None]
    if not zeros:
        return [_of("blind")]
    inputs = tuple(
        Given(
            said("frames.at_spacing", spacing=f"{place:.2f} mm"),
            amount(value / 1000.0, "small_length"),
            "worked out",
        )
        for place, surface in zip(places, surfaces, strict=True)
        for value in (surface.curvature.value, surface.astigmatism.value)
    )
    if curved and drawn and abs(curved.value - drawn.value) > 3.0 * math.hypot(curved.error, drawn.error):
        ends = {"curved": amount(curved.value, "length", 2), "drawn": amount(drawn.value, "length", 2)}
        says = (said("frames.spacing_torn", **ends),)
        return [Verdict("frames.spacing_torn", "watch", says, inputs=inputs, working="frames.spacing")]
    return [_best(measured.spacing_mm, places, zeros, plan, inputs)]


def _of(what: str, **facts: object) -> Verdict:
    """What cannot be told, and why."""
    code = f"frames.spacing_{what}"
    return Verdict(code, "unknown", (said(code, **facts),), working="frames.spacing")


def _best(
    now_mm: float, places: Sequence[float], zeros: Sequence[Told], plan: FramePlan, inputs: tuple[Given, ...]
) -> Verdict:
    weight = [one.error**-2.0 for one in zeros]
    best = sum(one.value * by for one, by in zip(zeros, weight, strict=True)) / sum(weight)
    error = sum(weight) ** -0.5
    off = best - now_mm
    right = abs(off) <= 2.0 * error
    # No line is straight for long: no further beyond what was measured than that is wide.
    span = max(places) - min(places)
    far = not min(places) - span <= best <= max(places) + span
    code = "frames.spacing_far" if far else "frames.spacing_right" if right else "frames.spacing"
    by = amount(span if far else abs(off), "length", 2)
    respace = Advice((said("frames.respace", by=by, way="in" if off > 0.0 else "out"),))
    return Verdict(
        code,
        "sound" if right and not far else "watch",
        (
            said(
                code,
                best=amount(best, "length", 2),
                error=amount(error, "length", 2),
                now=amount(now_mm, "length", 2),
                asked=None if plan.asked_mm is None else amount(plan.asked_mm, "length", 2),
            ),
        ),
        figure=Figure(label="spacing by the stars", amount=amount(best, "length", 2)),
        remedies=() if right and not far else (respace,),
        inputs=inputs,
        working="frames.spacing",
    )


def _told(one: Value) -> Told:
    return Told(one.value, one.error)
