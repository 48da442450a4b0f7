"""An observer's place under the sky: where it lies, how dark it is, what stands in the way."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Literal, Self
from zoneinfo import ZoneInfo

from pydantic import Field, WithJsonSchema, field_validator, model_validator

from server.domain.measure import Frozen

if TYPE_CHECKING:
    from server.sky.darkness import HorizonLine
    from server.sky.ephemeris import Spot
    from server.sky.sky_brightness import SkyBrightness

BrightnessBy = Literal["magnitude", "naked_eye", "sky_class"]
BRIGHTNESS_RANGE: dict[BrightnessBy, tuple[float, float]] = {
    "magnitude": (15.0, 22.2),
    "naked_eye": (2.0, 7.6),
    "sky_class": (1.0, 9.0),
}
"""What can be said of a sky's brightness by each of its measures."""
METER_UNCERTAINTY_MAG = 0.1
"""How far off a brightness in magnitudes may be: the usual error of a meter (common practice, no source)."""
USUAL_LOWEST_DEG = 30.0
"""Below this most people leave a target alone: two air masses (common practice, no source)."""
MOST_POINTS = 36
HorizonPoint = Annotated[
    tuple[float, float],
    WithJsonSchema({"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2}),
]
"""Azimuth and altitude; its schema says in plain words that it is two numbers, which every reader knows."""


class Site(Frozen):
    """A site.

    Attributes:
        latitude_deg, longitude_deg: north and east positive. height_m: above the sea.
        zone: its time zone by the IANA's name, such as Europe/Berlin.
        brightness_by, brightness: how dark the sky is, in magnitudes per square arcsecond at the zenith, by
            the faintest star that the naked eye sees there, or by the sky class, 1 to 9; None while unknown.
        seeing_arcsec: usual full width at half maximum of a star through its air; None while unknown.
        horizon: lowest usable altitudes (azimuth from north through east, altitude), degrees, straight
            between; one point holds all round.
    """

    name: str = Field(min_length=1, max_length=80)
    latitude_deg: float = Field(ge=-90, le=90)
    longitude_deg: float = Field(ge=-180, le=180)
    height_m: float = Field(default=0.0, ge=-450, le=6000)
    zone: str = Field(max_length=60)
    brightness_by: BrightnessBy | None = None
    brightness: float | None = None
    seeing_arcsec: float | None = Field(default=None, ge=0.3, le=20.0)
    horizon: tuple[HorizonPoint, ...] = Field(
        default=((0.0, USUAL_LOWEST_DEG),), min_length=1, max_length=MOST_POINTS
    )

    @field_validator("zone")
    @classmethod
    def _zone_known(cls, zone: str) -> str:
        try:
            ZoneInfo(zone)
        except (KeyError, ValueError, OSError):
            raise ValueError(
                f"There is no time zone “{zone[:40]}”. Take one of the list, such as Europe/Berlin"
            ) from None
        return zone

    @field_validator("horizon")
    @classmethod
    def _around(cls, points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        for azimuth, altitude in points:
            if not 0.0 <= azimuth <= 360.0:
                raise ValueError(f"A direction of {azimuth:g}° is none: give 0 (north) to 360 degrees")
            if not -5.0 <= altitude <= 89.0:
                raise ValueError(f"A lowest altitude of {altitude:g}° leaves no sky: give -5 to 89 degrees")
        turned = [azimuth % 360.0 for azimuth, _ in points]
        if len(set(turned)) < len(turned):
            raise ValueError("One direction has two altitudes (0 and 360 degrees are the same): leave one")
        return tuple(sorted((azimuth % 360.0, altitude) for azimuth, altitude in points))

    @model_validator(mode="after")
    def _brightness_known(self) -> Self:
        if (self.brightness is None) != (self.brightness_by is None):
            raise ValueError("brightness: Say both the figure and what it is, or neither")
        if self.brightness is not None and self.brightness_by is not None:
            low, high = BRIGHTNESS_RANGE[self.brightness_by]
            if not low <= self.brightness <= high:
                raise ValueError(f"brightness: This is {self.brightness:g}; it must be {low:g} to {high:g}")
            if self.brightness_by == "sky_class" and self.brightness % 1.0:
                raise ValueError("brightness: Sky classes are whole: give the nearest one, 1 to 9")
        return self

    @property
    def spot(self) -> Spot:
        """Its place on the Earth."""
        from server.sky.ephemeris import Spot

        return Spot(self.latitude_deg, self.longitude_deg, self.height_m)

    @property
    def line(self) -> HorizonLine:
        """Its lowest usable altitudes."""
        from server.sky.darkness import HorizonLine

        return HorizonLine(self.horizon)

    @property
    def sky(self) -> SkyBrightness | None:
        """How bright its darkest sky is at the zenith, with how far off that may be; None while unknown."""
        from server.sky.sky_brightness import SkyBrightness, from_naked_eye_limit, from_sky_class

        if self.brightness is None:
            return None
        if self.brightness_by == "naked_eye":
            return from_naked_eye_limit(self.brightness)
        if self.brightness_by == "sky_class":
            return from_sky_class(int(self.brightness))
        return SkyBrightness(self.brightness, METER_UNCERTAINTY_MAG)


class StoredSite(Frozen):
    """A site as it is kept; `revision` rises with every change."""

    id: int
    observer_id: int
    revision: int
    site: Site
