"""How long a night is: from the Sun's going below a height to its coming up again."""

from __future__ import annotations

import math
from datetime import date
from typing import Literal

from server.out_of_range import OutOfRangeError

Dark = Literal["sunset", "civil", "nautical", "astronomical"]
HEIGHTS_DEG: dict[Dark, float] = {"sunset": -0.833, "civil": -6.0, "nautical": -12.0, "astronomical": -18.0}
"""How high the Sun's middle stands as each begins; sunset with half its disc and the air's bending."""
_J2000 = date(2000, 1, 1)


def sun_declination_deg(on: date) -> float:
    """Return the Sun's declination, degrees, at the midnight (universal time) that ends a day.

    Good to 0.02 degrees from 1950 to 2050. Source: The Astronomical Almanac, low-precision formulas for the
    Sun (page C5, from memory).
    """
    n = (on - _J2000).days + 0.5
    mean_longitude = 280.460 + 0.9856474 * n
    anomaly = math.radians(357.528 + 0.9856003 * n)
    longitude = math.radians(mean_longitude + 1.915 * math.sin(anomaly) + 0.020 * math.sin(2.0 * anomaly))
    obliquity = math.radians(23.439 - 0.0000004 * n)
    return math.degrees(math.asin(math.sin(obliquity) * math.sin(longitude)))


def night_hours(latitude_deg: float, evening: date, until: Dark = "astronomical") -> float:
    """Return the hours from an evening's dusk to the next dawn; 0 where it does not grow so dark, 24 where
    it is never lighter.

    latitude_deg: -90 to 90, north positive. Raises ValueError outside. The Sun's declination is taken at
    Greenwich's midnight. There, within a minute up to 65 degrees; half the world away, from sunset to
    sunrise within two minutes up to 50 degrees and four up to 65, and to the end of astronomical twilight
    seven at 60, more where that twilight hardly ends (measured against astropy). Hills and the height of the
    place are not looked at. Source: the hour angle of a given altitude, cos H = (sin h - sin phi sin delta)
    / (cos phi cos delta); any text on spherical astronomy.
    """
    if not -90.0 <= latitude_deg <= 90.0:
        raise OutOfRangeError(
            f"The latitude is {latitude_deg:g}; it must be -90 to 90 degrees. Give the site's."
        )
    phi = math.radians(max(-89.999, min(89.999, latitude_deg)))
    delta = math.radians(sun_declination_deg(evening))
    height = math.radians(HEIGHTS_DEG[until])
    cosine = (math.sin(height) - math.sin(phi) * math.sin(delta)) / (math.cos(phi) * math.cos(delta))
    if cosine <= -1.0:
        return 0.0
    if cosine >= 1.0:
        return 24.0
    return 24.0 - 2.0 * math.degrees(math.acos(cosine)) / 15.0
