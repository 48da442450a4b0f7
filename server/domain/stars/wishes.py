"""What somebody asks the stars for: how the sensor stands, what the air does, how bright the star is."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from server.domain.measure import Frozen


class StarWishes(Frozen):
    """One question to the stars. What is None is as the rig has it.

    Attributes:
        focus_um: how far the sensor stands behind the chosen focus, away from the sky.
        focus_at: the focus itself: that of the axis, or the compromise that serves the whole sensor best.
        cooled_k: how far the air has cooled since the focus was set; the tube's drift moves the focus.
        spacing_mm: how much too far the sensor stands behind the corrector; None as the train adds up.
        tilt_arcmin: of the sensor, and tilt_deg which side of it stands away from the sky, from the right
            anticlockwise.
        collimation_mm: how far off the axis is out: of a Newtonian at the focus, of two mirrors at the
            secondary.
        curvature_um: how much further out the corners' best focus lies than the middle's; astigmatism_um:
            half
            the gap of their line foci, above 0 where lines are radial too far out; None as the parts draw it.
        drift_arcsec: length of the line that all stars are drawn out to, along drift_deg, as tilt_deg.
        seeing_arcsec, guiding_arcsec: None as the rig's rules have them. magnitude, exposure_s:
        of the bright star.
    """

    focus_um: float = Field(default=0.0, ge=-2000.0, le=2000.0)
    focus_at: Literal["axis", "compromise"] = "axis"
    cooled_k: float = Field(default=0.0, ge=-40.0, le=40.0)
    spacing_mm: float | None = Field(default=None, ge=-20.0, le=20.0)
    tilt_arcmin: float = Field(default=0.0, ge=0.0, le=120.0)
    tilt_deg: float = Field(default=0.0, ge=0.0, le=360.0)
    collimation_mm: float = Field(default=0.0, ge=0.0, le=20.0)
    curvature_um: float | None = Field(default=None, ge=-2000.0, le=2000.0)
    astigmatism_um: float | None = Field(default=None, ge=-2000.0, le=2000.0)
    drift_arcsec: float = Field(default=0.0, ge=0.0, le=60.0)
    drift_deg: float = Field(default=0.0, ge=0.0, le=360.0)
    seeing_arcsec: float | None = Field(default=None, ge=0.3, le=20.0)
    guiding_arcsec: float | None = Field(default=None, ge=0.0, le=20.0)
    magnitude: float = Field(default=6.0, ge=-2.0, le=20.0)
    exposure_s: float = Field(default=120.0, gt=0.0, le=7200.0)
