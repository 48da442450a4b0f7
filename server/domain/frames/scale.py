"""What the scale of a solved picture says of the focal length, the corrector's factor, and where the sensor
stands.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from server.domain.findings import Figure
from server.domain.frames.measured import Measured
from server.domain.said import Said, percent_of, said
from server.domain.verdicts import Verdict
from server.domain.workings.case import Case, amount, worked_input
from server.optics.thin_lens import thin_lens
from server.out_of_range import OutOfRangeError

TUBE_SHARE = 0.01
"""How far a tube's own focal length may be off where its maker names no tolerance (common practice, no
source).
"""
LEAST_CORNER = 1e-4
"""A smaller change of scale into the corner is not told."""
FACTOR_STEP = 0.003
"""How far a maker's factor is rounded, one sigma (common practice, no source)."""
SCALE_SHARE = 3e-5
"""How far off a solved picture's scale is, as a share of itself (common practice, no source)."""


def judge_plate(measured: Measured, case: Case, others: Sequence[Measured]) -> Verdict | None:
    """What the world coordinates of a set say; None without any."""
    plate = measured.plate
    if plate is None:
        return None
    optics = case.optics
    says = [
        said(
            "frames.plate",
            scale=amount(plate.scale_arcsec, "arcsec", 3),
            focal=amount(plate.focal_mm, "length", 1),
            promised=None if optics.focal_length_mm is None else amount(optics.focal_length_mm, "length", 1),
            mirrored=plate.mirrored,
            corner=None if abs(plate.corner) < LEAST_CORNER else percent_of(plate.corner, 2),
        )
    ]
    inputs = [
        worked_input("arc seconds for each pixel", plate.scale_arcsec, "arcsec", 4),
        worked_input("pixel size", 0.0 if measured.light is None else measured.light.pixel_um, "pixel"),
    ]
    if optics.tube_focal_mm and len(optics.correctors) == 1:
        factor = plate.focal_mm / optics.tube_focal_mm
        says.append(
            said(
                "frames.factor",
                corrector=optics.correctors[0],
                factor=amount(factor, "times", 4),
                tube=amount(optics.tube_focal_mm, "length", 1),
            )
        )
        inputs.append(worked_input("the tube's own focal length", optics.tube_focal_mm, "length", 1))
        says += _distance(measured, case, factor, others)
    off = 0.0 if not optics.focal_length_mm else abs(plate.focal_mm / optics.focal_length_mm - 1.0)
    return Verdict(
        "frames.plate",
        "watch" if off > 2.0 * TUBE_SHARE else "sound",
        tuple(says),
        figure=Figure(label="focal length by the stars", amount=amount(plate.focal_mm, "length", 1)),
        inputs=tuple(inputs),
        working="frames.plate",
    )


def _distance(measured: Measured, case: Case, factor: float, others: Sequence[Measured]) -> list[Said]:
    """Where the sensor stands behind the corrector as a thin lens: by this scale alone, and by two
    spacings.
    """
    spacing = case.spacing
    stated = case.optics.stated_factor
    if spacing is None or stated is None or spacing.asked_air_mm is None:
        return []
    plane = sum(spacing.plane_mm) / 2.0
    try:
        lens = thin_lens(stated, spacing.asked_air_mm + plane).focal_mm
    except OutOfRangeError:
        return []
    alone = (1.0 - factor) * lens - plane
    error = abs(lens) * factor * TUBE_SHARE
    says = [
        said("frames.distance_alone", distance=amount(alone, "length", 1), error=amount(error, "length", 1))
    ]
    best: tuple[float, float] | None = None
    for other in others:
        if (
            other.plate is None
            or measured.plate is None
            or other.spacing_mm is None
            or measured.spacing_mm is None
        ):
            continue
        between = other.spacing_mm - measured.spacing_mm
        ratio = measured.plate.focal_mm / other.plate.focal_mm
        if not between or abs(ratio - 1.0) < 5.0 * SCALE_SHARE:
            continue
        # Both focal lengths have the tube's own in them, which drops out of their ratio.
        left = ratio * between / (ratio - 1.0)
        off = abs(left * SCALE_SHARE * math.sqrt(2.0) / (ratio - 1.0))
        if best is None or off < best[1]:
            # The lens's own focal length hangs on its factor, which makers round.
            best = (lens - left - plane, math.hypot(off, abs(lens / (1.0 - stated)) * FACTOR_STEP))
    if best is not None:
        says.append(
            said(
                "frames.distance_two",
                distance=amount(best[0], "length", 1),
                error=amount(best[1], "length", 1),
            )
        )
    return says
