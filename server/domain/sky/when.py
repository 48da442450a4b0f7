"""When a target can be photographed from a site: its year, and one night of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, Literal
from zoneinfo import ZoneInfo

from server.domain.sky.site import Site
from server.domain.sky.target import Target

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

Standing = Literal["never", "always", "sets"]
STANDINGS: tuple[Standing, ...] = ("never", "sets", "always")
STEP_MINUTES = 10
RIBBON_EVERY_DAYS = 5
NIGHT_SUN_DEG, SUNSET_DEG = -18.0, -0.833
"""The Sun's middle at the end of astronomical twilight, and as its upper edge sets through the air."""
FIRST_YEAR, LAST_YEAR = 1973, 2098
"""What the ephemeris is asked for."""


@dataclass(frozen=True)
class Ribbon:
    """One night as it is drawn.

    Attributes:
        evening: its date. start_h: hours from local midnight (clock) to the first step, below 0 before.
        light: at each step of STEP_MINUTES, the share of the target's light that comes through the air; 0
            where the Sun, the ground or the horizon line is in its way.
        moon: whether the Moon is up then.
        altitude_deg: the target's mean altitude while its light comes through, None where it never does.
    """

    evening: date
    start_h: float
    light: tuple[float, ...]
    moon: tuple[bool, ...]
    altitude_deg: float | None


@dataclass(frozen=True)
class Month:
    """A month's nights: hours a night, on average, in the dark, of these without the Moon, with the target
    above the line, and of these without the Moon.
    """

    first: date
    dark_h: float
    moonless_dark_h: float
    above_h: float
    moonless_h: float


@dataclass(frozen=True)
class Year:
    """A target's year at a site.

    Attributes:
        months: twelve, from January.
        best: the month of most moonless hours, None where there are none all year.
        standing: whether it never comes above the line, never goes below it, or both in turn.
        culmination_deg: its highest altitude, in that year and without air.
        grazing_h: hours of the best month's nights with the line a little higher and lower; None where that
            makes no odds.
        ribbons: every fifth night.
        no_night: months in which it never gets dark at all.
    """

    months: tuple[Month, ...]
    best: Month | None
    standing: Standing
    culmination_deg: float
    grazing_h: tuple[float, float] | None
    ribbons: tuple[Ribbon, ...]

    @property
    def usual_altitude_deg(self) -> float | None:
        """How high the target stands on average while it is photographed in its best month; None: never."""
        month = None if self.best is None else self.best.first.month
        found = [one.altitude_deg for one in self.ribbons if one.evening.month == month and one.altitude_deg]
        return sum(found) / len(found) if found else None

    @property
    def no_night(self) -> tuple[Month, ...]:
        """Months without any darkness."""
        return tuple(month for month in self.months if month.dark_h == 0.0)


@dataclass(frozen=True)
class Step:
    """A moment of a night, local time: target, line below it, Sun and Moon in degrees; light as `Ribbon`."""

    at: datetime
    altitude_deg: float
    azimuth_deg: float
    line_deg: float
    sun_deg: float
    moon_deg: float
    light: float


@dataclass(frozen=True)
class Night:
    """One night of a target at a site; times are local.

    Attributes:
        evening: the date of its evening. dusk, dawn: the ends of astronomical darkness, None where it never
            gets dark, both at noon where it is dark all day.
        dark_h, above_h, moonless_h: hours of darkness, of these with the target above the line, of these
            without the Moon.
        windows: from and to, above the line in the dark.
        highest: the moment of most altitude in these, None without any.
        moon_lit: share of the Moon's disc at the night's middle. moon_distance_deg: from the target then.
        moon_up: from and to, within the drawn hours.
        steps: from sunset to sunrise.
    """

    evening: date
    dusk: datetime | None
    dawn: datetime | None
    dark_h: float
    above_h: float
    moonless_h: float
    windows: tuple[tuple[datetime, datetime], ...]
    highest: Step | None
    moon_lit: float
    moon_distance_deg: float
    moon_up: tuple[tuple[datetime, datetime], ...]
    steps: tuple[Step, ...]


def _places(target: Target) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    import numpy as np

    return np.array([target.ra_deg]), np.array([target.dec_deg])


@lru_cache(32)
def work_year(site: Site, target: Target, year: int) -> Year:
    """The target's year. Raises OutOfRangeError beyond what the ephemeris knows."""
    from server.sky import darkness, ephemeris

    first = date(year, 1, 1)
    count = (date(year + 1, 1, 1) - first).days
    spot, line = site.spot, site.line
    nights = darkness.nights(spot, first, count)
    place = _places(target)
    above = darkness.hours_above(nights, *place, line)[0]
    moonless = darkness.moonless_hours_above(nights, *place, line)[0]
    moonless_dark = darkness.moonless_hours(nights)
    months = []
    for number in range(1, 13):
        start = (date(year, number, 1) - first).days
        end = count if number == 12 else (date(year, number + 1, 1) - first).days
        some = slice(start, end)
        months.append(
            Month(
                date(year, number, 1),
                float(nights.hours[some].mean()),
                float(moonless_dark[some].mean()),
                float(above[some].mean()),
                float(moonless[some].mean()),
            )
        )
    best = max(months, key=lambda month: (month.moonless_h, month.above_h))
    grazing = None
    if best.above_h > 0.0 or above.max() == 0.0:
        month_nights = darkness.nights(spot, best.first, 28)
        low, high = darkness.grazing_hours(month_nights, *place, line)
        ends = float(low[0].mean()), float(high[0].mean())
        # A quarter of an hour is what a plan would be changed for (a choice of ours).
        grazing = ends if ends[1] - ends[0] > 0.25 else None
    # Of date, as the hours are: in 50 years it moves by a quarter of a degree, which for what grazes decides.
    _, dec_of_date = ephemeris.apparent_place(*place, float(nights.middle_days[count // 2]))
    return Year(
        months=tuple(months),
        best=best if best.above_h > 0.0 else None,
        standing=STANDINGS[int(darkness.standing(spot, dec_of_date, line)[0])],
        culmination_deg=float(darkness.culmination_deg(spot, dec_of_date)[0]),
        grazing_h=grazing,
        ribbons=tuple(_ribbons(site, target, first, count)),
    )


def _ribbons(site: Site, target: Target, first: date, count: int) -> Iterator[Ribbon]:
    """Every fifth night, from sunset to sunrise."""
    import numpy as np

    from server.sky import darkness, ephemeris

    zone, step = ZoneInfo(site.zone), STEP_MINUTES / 1440.0
    some = darkness.nights(site.spot, first, count, SUNSET_DEG)
    at = range(0, count, RIBBON_EVERY_DAYS)
    spans = [(some.dusk_days[k], some.dawn_days[k]) for k in at]
    times = [np.arange(a, b, step) if b > a else np.array([]) for a, b in spans]
    every = np.concatenate(times) if times else np.array([])
    if not every.size:
        return
    light, moon, (altitude, _), *_ = _light(site, target, every)
    offset = 0
    for k, own in zip(at, times, strict=True):
        evening = first + timedelta(days=k)
        piece = slice(offset, offset + own.size)
        offset += own.size
        start = 0.0
        if own.size:
            # By the clock of that night, so that the summer hour shows.
            midnight = datetime.combine(evening + timedelta(days=1), datetime.min.time(), zone)
            start = 24.0 * (float(own[0]) - ephemeris.days_of(midnight))
        shone = light[piece] > 0.0
        mean = float(altitude[piece][shone].mean()) if shone.any() else None
        yield Ribbon(evening, start, tuple(light[piece].tolist()), tuple(moon[piece].tolist()), mean)


def _light(site: Site, target: Target, days):  # type: ignore[no-untyped-def]
    """Share of the light, whether the Moon is up, target, Sun, Moon, and the line below the target."""
    import numpy as np

    from server.sky import ephemeris
    from server.sky.sky_brightness import extinction_mag, extinction_per_air_mass

    spot = site.spot
    seen = ephemeris.star_seen(spot, target.ra_deg, target.dec_deg, days)
    altitude = ephemeris.bent_altitude_deg(seen.altitude_deg)
    sun, moon = ephemeris.sun_seen(spot, days), ephemeris.moon_seen(spot, days)
    line = site.line.altitude_deg(seen.azimuth_deg)
    usable = (altitude > line) & (sun.altitude_deg < NIGHT_SUN_DEG)
    dimmed = extinction_mag(np.maximum(altitude, 1.0), extinction_per_air_mass(550.0))
    light = np.where(usable, 10.0 ** (-0.4 * dimmed), 0.0)
    return light, moon.altitude_deg > 0.0, (altitude, seen.azimuth_deg), sun, moon, line


@lru_cache(32)
def work_night(site: Site, target: Target, evening: date) -> Night:
    """One night of the target. Raises OutOfRangeError beyond what the ephemeris knows."""
    import numpy as np

    from server.sky import darkness, ephemeris

    zone, spot = ZoneInfo(site.zone), site.spot
    place = _places(target)
    dark = darkness.nights(spot, evening, 1)
    sunless = darkness.nights(spot, evening, 1, SUNSET_DEG)
    middle = float(dark.middle_days[0])
    start, end = float(sunless.dusk_days[0]), float(sunless.dawn_days[0])
    if not end > start:
        start, end = middle - 0.25, middle + 0.25

    def local(days: float) -> datetime:
        seen = ephemeris.instant_of(days).astimezone(zone)
        # With a fixed offset, so that differences are true in the nights in which clocks are changed.
        return seen.replace(tzinfo=timezone(seen.utcoffset() or timedelta()))

    def looks(days: npt.NDArray[np.float64]) -> tuple[Step, ...]:
        light, _, (altitude, azimuth), sun, moon, line = _light(site, target, days)
        rows = zip(days, altitude, azimuth, line, sun.altitude_deg, moon.altitude_deg, light, strict=True)
        return tuple(Step(local(float(t)), *map(float, row)) for t, *row in rows)

    steps = looks(np.append(np.arange(start, end, STEP_MINUTES / 1440.0), end))
    hours = float(dark.hours[0])
    dusk = local(float(dark.dusk_days[0])) if hours else None
    dawn = local(float(dark.dawn_days[0])) if hours else None
    above = _runs(steps, [one.altitude_deg - one.line_deg for one in steps])
    windows = _within(above, dusk, dawn)
    usable = [one for one in steps if any(begun <= one.at <= ended for begun, ended in windows)]
    if windows and not usable:
        # The darkness of a short night may lie between two steps.
        usable = [*looks(np.array([ephemeris.days_of(a + (b - a) / 2) for a, b in windows]))]
    moon_at = ephemeris.moon_seen(spot, middle)
    return Night(
        evening=evening,
        dusk=dusk,
        dawn=dawn,
        dark_h=hours,
        above_h=float(darkness.hours_above(dark, *place, site.line)[0, 0]),
        moonless_h=float(darkness.moonless_hours_above(dark, *place, site.line)[0, 0]),
        windows=windows,
        highest=max(usable, key=lambda step: step.altitude_deg, default=None),
        moon_lit=float(moon_at.lit),
        moon_distance_deg=float(ephemeris.moon_distance_deg(spot, target.ra_deg, target.dec_deg, middle)),
        moon_up=_runs(steps, [one.moon_deg for one in steps]),
        steps=steps,
    )


def _runs(steps: tuple[Step, ...], above: list[float]) -> tuple[tuple[datetime, datetime], ...]:
    """From and to of each run in which a figure is above 0, straight between the steps."""
    ends = [steps[0].at] if above[0] > 0.0 else []
    for (one, low), (other, high) in pairwise(zip(steps, above, strict=True)):
        if (low > 0.0) != (high > 0.0):
            ends.append(one.at + (other.at - one.at) * (low / (low - high)))
    if above[-1] > 0.0:
        ends.append(steps[-1].at)
    return tuple(zip(ends[::2], ends[1::2], strict=True))


def _within(
    runs: tuple[tuple[datetime, datetime], ...], dusk: datetime | None, dawn: datetime | None
) -> tuple[tuple[datetime, datetime], ...]:
    """What of the runs lies between dusk and dawn; nothing where it does not get dark."""
    if dusk is None or dawn is None:
        return ()
    cut = ((max(begun, dusk), min(ended, dawn)) for begun, ended in runs)
    return tuple((begun, ended) for begun, ended in cut if begun < ended)


def tonight(zone: str, now: datetime | None = None) -> date:
    """The date of the evening whose night it is, or is next, by a site's clock: before noon, of the last."""
    local = (now or datetime.now(UTC)).astimezone(ZoneInfo(zone))
    return local.date() if local.hour >= 12 else local.date() - timedelta(days=1)
