"""Plan under the sky: what a target gives on one rig or several, from a site, in a year and in a night."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date

from pydantic import Field

from server.domain.guarded import Failed, worked
from server.domain.measure import Frozen
from server.domain.rig import Rig, RigPlan
from server.domain.said import Missing, Quantity, Said, said
from server.domain.sky.depth import Depth, work_depth
from server.domain.sky.frame import MOST_PANELS, USUAL_OVERLAP, Frame, Framed, frame_of, put_on
from server.domain.sky.panels import Panels, work_panels
from server.domain.sky.reckoning import DepthWishes
from server.domain.sky.site import Site, StoredSite
from server.domain.sky.target import Target
from server.domain.sky.when import FIRST_YEAR, LAST_YEAR, Night, Year, work_night, work_year
from server.domain.stars.field import StarField, work_stars
from server.domain.stars.telescope import Telescope, lacking_for_stars, telescope_of
from server.domain.stars.wishes import StarWishes
from server.domain.workings.case import Case
from server.flow.protocols import StoredRig

MOST_RIGS = 4
UNBUILT = StoredRig(0, 0, "", 0, RigPlan())
"""What stands for a rig that is not stored."""
LEAST_ALTITUDE_DEG = 10.0
"""No depth is reckoned for a target that never stands higher: the air there is not known."""


class FramingWishes(Frozen):
    """What is asked of the night and the frame.

    Attributes:
        evening: the night's date, None for the one that is or is next.
        angle_deg: of the sensor's upper side, from north through east; None: as it fits best.
        rows, columns, overlap: of a mosaic; fixed: the camera keeps its angle from panel to panel.
    """

    evening: date | None = Field(default=None, ge=date(FIRST_YEAR, 1, 2), le=date(LAST_YEAR, 12, 30))
    angle_deg: float | None = Field(default=None, ge=0.0, le=360.0)
    rows: int = Field(default=1, ge=1, le=MOST_PANELS)
    columns: int = Field(default=1, ge=1, le=MOST_PANELS)
    overlap: float = Field(default=USUAL_OVERLAP, ge=0.0, le=0.6)
    fixed: bool = False

    @property
    def panels(self) -> int:
        """How many panels, 1 without a mosaic."""
        return self.rows * self.columns


class SkyWishes(FramingWishes):
    """What is asked of the sky for a target; depth: of the exposures."""

    depth: DepthWishes = DepthWishes()


@dataclass(frozen=True)
class RigSky:
    """One rig under one target.

    Attributes:
        framed: the target on its sensor.
        telescope, stars: as its stars are drawn in the site's seeing; None while something is missing.
        depth: None without a site, and while something is missing.
        missing: what to enter for the depth. trouble: why figures that are there cannot be worked with.
    """

    stored: StoredRig
    rig: Rig
    framed: Framed
    telescope: Telescope | None = None
    stars: StarField | None = None
    depth: Depth | None = None
    missing: tuple[Missing, ...] = ()
    trouble: Said | None = None

    @property
    def frame(self) -> Frame | None:
        """Its frame on the sky."""
        return self.framed.frame

    @property
    def panels(self) -> int | None:
        """How many panels take the whole target in; None for more than anybody takes."""
        if self.framed.panels is not None:
            return math.prod(self.framed.panels)
        return None if (self.framed.best_fill or 0.0) > 1.0 else 1

    @property
    def star_arcsec(self) -> float | None:
        """A star's full width in the middle of the picture, all in."""
        if self.stars is None or self.telescope is None:
            return None
        return float(self.stars.centre.seen_numbers.fwhm_um) / self.telescope.um_per_arcsec


@dataclass(frozen=True)
class TargetSky:
    """A target under the sky.

    Attributes:
        site: None while none is chosen; then there is no year, no night and no depth.
        trouble: why year and night could not be worked out.
    """

    target: Target
    site: StoredSite | None
    year: Year | None
    night: Night | None
    rigs: tuple[RigSky, ...]
    trouble: Said | None = None


def plan_target(
    target: Target,
    site: StoredSite | None,
    rigs: tuple[tuple[StoredRig, Rig], ...],
    wishes: SkyWishes,
    evening: date,
) -> TargetSky:
    """Work out what the sky gives. Raises nothing for a rig or a site that says too little."""
    year: Year | Failed | None = None
    night: Night | Failed | None = None
    place = None if site is None else site.site
    if place is not None:
        year = worked(said("work.year"), lambda: work_year(place, target, evening.year))
        night = worked(said("work.night"), lambda: work_night(place, target, evening))
    altitude = altitude_of(wishes, year)
    failed = next((one for one in (year, night) if isinstance(one, Failed)), None)
    return TargetSky(
        target,
        site,
        None if isinstance(year, Failed) else year,
        None if isinstance(night, Failed) else night,
        tuple(_of_rig(stored, rig, target, place, wishes, altitude) for stored, rig in rigs),
        None if failed is None else failed.why,
    )


def panels_on(one: RigSky, target: Target, wishes: FramingWishes) -> Panels | Failed | None:
    """The panels of a rig's mosaic: None without a frame or a mosaic, Failed for one that reaches too far."""
    frame = one.frame
    if frame is None or wishes.panels == 1:
        return None
    shape = wishes.rows, wishes.columns, wishes.overlap, wishes.fixed
    return worked(said("work.panels"), lambda: work_panels(target, frame, one.framed.angle_deg, *shape))


def altitude_of(wishes: SkyWishes, year: Year | Failed | None) -> float | Said:
    """The altitude reckoned with: asked for, else as the target usually stands, else its highest; or why
    there is none.
    """
    if wishes.depth.altitude_deg is not None:
        return wishes.depth.altitude_deg
    if not isinstance(year, Year):
        return said("depth.no_altitude")
    stands = year.usual_altitude_deg or year.culmination_deg
    if stands < LEAST_ALTITUDE_DEG:
        return said("depth.too_low", least=Quantity(LEAST_ALTITUDE_DEG, "°"))
    return stands


def look_from(rig: Rig, target: Target, site: Site, altitude_deg: float) -> RigSky:
    """A rig that nobody has built yet under a target of so much altitude."""
    return _of_rig(UNBUILT, rig, target, site, SkyWishes(), altitude_deg)


def _of_rig(
    stored: StoredRig,
    rig: Rig,
    target: Target,
    site: Site | None,
    wishes: SkyWishes,
    altitude: float | Said,
) -> RigSky:
    case = Case(rig)
    frame = frame_of(case)
    if not isinstance(frame, Frame):
        return RigSky(stored, rig, Framed(None, frame), missing=frame)
    framed = put_on(frame, target, wishes.angle_deg)
    missing = lacking_for_stars(case)
    if missing:
        return RigSky(stored, rig, framed, missing=missing)

    def seen() -> RigSky:
        telescope = telescope_of(case)
        if telescope is None:
            return RigSky(stored, rig, framed)
        seeing = site.seeing_arcsec if site is not None else None
        stars = work_stars(case, telescope, StarWishes(seeing_arcsec=seeing))
        found = RigSky(stored, rig, framed, telescope, stars)
        if site is None or found.star_arcsec is None:
            return found
        if isinstance(altitude, Said):
            return replace(found, trouble=altitude)
        depth = work_depth(telescope, site, target, wishes.depth, found.star_arcsec, altitude)
        if isinstance(depth, Depth):
            return RigSky(stored, rig, framed, telescope, stars, depth, depth.missing)
        return RigSky(stored, rig, framed, telescope, stars, None, depth)

    view = worked(said("work.depth"), seen)
    return RigSky(stored, rig, framed, trouble=view.why) if isinstance(view, Failed) else view
