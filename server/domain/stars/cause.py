"""What makes a star as large as it is: each cause by itself, largest first."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from server.domain.said import Said, said
from server.domain.stars.telescope import Telescope
from server.optics.field import Standing, aberrations_at, rms_spot_um
from server.optics.wavefront import FieldTerms


@dataclass(frozen=True)
class Cause:
    """One cause: its name, and the RMS radius that it draws alone, um."""

    name: str
    rms_um: float

    @property
    def says(self) -> Said:
        """What draws the star out."""
        return said(f"stars.by.{self.name}")


def causes_at(
    terms: FieldTerms,
    standing: Standing,
    x_mm: float,
    y_mm: float,
    telescope: Telescope,
    blur_um: float = 0.0,
) -> tuple[Cause, ...]:
    """The causes of the star at a place, largest first; those that draw nothing are left out but one."""
    own = telescope.terms
    by_spacing = FieldTerms(
        0.0,
        terms.coma_um_per_mm - own.coma_um_per_mm,
        terms.astig_um_per_mm2 - own.astig_um_per_mm2,
        terms.curve_um_per_mm2 - own.curve_um_per_mm2,
    )
    axis = replace(Standing(), axis_x_mm=standing.axis_x_mm, axis_y_mm=standing.axis_y_mm)
    uniform = replace(axis, coma_x_um=standing.coma_x_um, coma_y_um=standing.coma_y_um)
    tilted = Standing(tilt_x_arcmin=standing.tilt_x_arcmin, tilt_y_arcmin=standing.tilt_y_arcmin)
    parts = {
        "coma": (FieldTerms(coma_um_per_mm=own.coma_um_per_mm), uniform),
        "astigmatism": (FieldTerms(astig_um_per_mm2=own.astig_um_per_mm2), axis),
        "curvature": (FieldTerms(curve_um_per_mm2=own.curve_um_per_mm2), axis),
        "spherical": (FieldTerms(spherical_um=own.spherical_um), Standing()),
        "spacing": (by_spacing, axis),
        "tilt": (FieldTerms(), tilted),
        "focus": (FieldTerms(), Standing(focus_mm=standing.focus_mm)),
    }
    found = [
        Cause(
            name,
            rms_spot_um(
                aberrations_at(part, x_mm, y_mm, telescope.ratio, at), telescope.ratio, telescope.obstruction
            ),
        )
        for name, (part, at) in parts.items()
    ]
    found.append(Cause("spots", blur_um))
    found.sort(key=lambda cause: -cause.rms_um)
    kept = [cause for cause in found if cause.rms_um > 0.01 and math.isfinite(cause.rms_um)]
    return tuple(kept or found[:1])
