"""What was measured, put into the stars that the rig draws; and which assumption of the rig the frames
contradict.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass

from server.domain.findings import Figure
from server.domain.frames.findings import drift_px
from server.domain.frames.measured import Measured
from server.domain.rig import Rules
from server.domain.said import said
from server.domain.stars.telescope import Telescope
from server.domain.stars.wishes import StarWishes
from server.domain.verdicts import Verdict
from server.domain.workings.case import amount
from server.optics.seeing import expected_fwhm_arcsec

HALF_FLUX_BY_WIDTH = 1.15
"""Half-flux diameter within three widths over full width at half maximum, of a star through Kolmogorov's air
on pixels: of the stars that the rig draws itself, as a test repeats."""
KIND, UNKIND = 0.8, 1.25
"""A star narrower or wider than the rig's rules promise by more is told."""
CONTRADICTS_UM = 5.0
_ARCMIN = math.radians(1.0 / 60.0)
_WIDEST_SEEING = 20.0


@dataclass(frozen=True)
class Air:
    """The air behind the stars' width in focus.

    Attributes:
        seen_arcsec: full width at half maximum in focus, all in. promised_arcsec: by the rig's rules.
        seeing_arcsec: what the air must be for it.
    """

    seen_arcsec: float
    promised_arcsec: float
    seeing_arcsec: float

    @property
    def contradicts(self) -> bool:
        """Whether the rig's rules promise clearly another width."""
        return not KIND <= self.seen_arcsec / self.promised_arcsec <= UNKIND


def air_of(measured: Measured, telescope: Telescope, rules: Rules) -> Air | None:
    """The air of a set; None where the width in focus is not told."""
    surface, light = measured.surface, measured.light
    if surface is None or light is None or surface.in_focus_px is None:
        return None
    scale = light.pixel_um / telescope.um_per_arcsec
    seen = surface.in_focus_px / HALF_FLUX_BY_WIDTH * scale
    middle_nm = sum(nm for nm, _ in telescope.band) / len(telescope.band)

    def width(seeing: float) -> float:
        return expected_fwhm_arcsec(
            seeing, telescope.aperture_mm, middle_nm, scale, telescope.obstruction, rules.guiding_arcsec
        )

    low, high = 0.3, _WIDEST_SEEING
    if seen <= width(low):
        return Air(seen, width(rules.seeing_arcsec), low)
    for _ in range(24):
        middle = (low + high) / 2.0
        low, high = (middle, high) if width(middle) < seen else (low, middle)
    return Air(seen, width(rules.seeing_arcsec), low)


def wishes_of(measured: Measured, number: int, telescope: Telescope, air: Air | None) -> StarWishes | None:
    """What to ask of the rig's stars so that they are drawn as on a frame; None without a surface.

    number: of the frame. Where nothing tells best focus, it is taken as the middle of the positions.
    """
    surface, half = measured.surface, measured.half_diagonal_mm
    if surface is None or half is None or measured.light is None:
        return None
    positions = [frame.focus_um for frame in measured.frames if frame.focus_um is not None]
    best = sum(positions) / len(positions) if surface.focus is None else surface.focus.value
    place = measured.frames[number].focus_um
    # The sensor stands back where best focus lies further in.
    back = -measured.shown(surface.tilt)
    tilt = abs(back) / 1000.0 / half / _ARCMIN
    drift = 0j if measured.drift is None else measured.shown(measured.drift.whole)
    line = (drift_px(measured) or 0.0) * measured.light.pixel_um / telescope.um_per_arcsec
    values = {
        "focus_um": 0.0 if place is None else place - best,
        "tilt_arcmin": tilt,
        "tilt_deg": math.degrees(cmath.phase(back)) % 360.0,
        "curvature_um": surface.curvature.value,
        "astigmatism_um": surface.astigmatism.value,
        "drift_arcsec": line,
        "drift_deg": math.degrees(cmath.phase(drift)) / 2.0 % 180.0,
        "seeing_arcsec": None if air is None else air.seeing_arcsec,
    }
    rounded = {name: None if value is None else round(value, 2) for name, value in values.items()}
    limits = {"focus_um": 2000.0, "curvature_um": 2000.0, "astigmatism_um": 2000.0, "tilt_arcmin": 120.0}
    if any(abs(rounded[name] or 0.0) > most for name, most in limits.items()):
        return None
    return StarWishes.model_validate(rounded)


def judge_assumptions(
    measured: Measured, telescope: Telescope, rules: Rules, air: Air | None
) -> list[Verdict]:
    """Which of the rig's assumptions the frames contradict."""
    found = []
    if air is not None:
        more = air.seen_arcsec > air.promised_arcsec
        code = "frames.seeing" if air.contradicts else "frames.seeing_as_taken"
        found.append(
            Verdict(
                code,
                "watch" if air.contradicts and more else "sound",
                (
                    said(
                        code,
                        seen=amount(air.seen_arcsec, "arcsec", 1),
                        promised=amount(air.promised_arcsec, "arcsec", 1),
                        seeing=amount(air.seeing_arcsec, "arcsec", 1),
                        taken=amount(rules.seeing_arcsec, "arcsec", 1),
                        more=more,
                    ),
                ),
                figure=Figure(label="width in focus", amount=amount(air.seen_arcsec, "arcsec", 1)),
                working="frames.seeing",
            )
        )
    surface = measured.surface
    if surface is not None and telescope.perfect:
        shown = [
            one
            for one in (surface.curvature, surface.astigmatism)
            if one.known and abs(one.value) > CONTRADICTS_UM
        ]
        if shown:
            found.append(
                Verdict(
                    "frames.not_perfect",
                    "sound",
                    (said("frames.not_perfect", parts=telescope.perfect),),
                    working="frames.surface",
                )
            )
    return found
