"""Look through the catalogue for what one wants to photograph, and say when it is well placed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Literal, get_args

from pydantic import Field

from server.domain.measure import Frozen
from server.domain.sky.frame import Frame, Framed, put_on
from server.domain.sky.site import Site
from server.domain.sky.target import Target, TargetKind, target_of

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from server.sky.deep_sky import DeepSky

Order = Literal["hours", "size", "brightness", "name"]
KINDS: tuple[TargetKind, ...] = get_args(TargetKind)
GALAXIES, CLUSTERS = ("G", "GPair", "GTrpl", "GGroup"), ("OCl", "GCl", "Cl+N", "*Ass")
NEBULAE = ("HII", "EmN", "Neb", "RfN", "SNR", "DrkN", "PN", "Cl+N")
GROUPS: dict[str, tuple[str, ...]] = {"galaxies": GALAXIES, "clusters": CLUSTERS, "nebulae": NEBULAE}
"""What people look for, as kinds of the catalogue."""
WELL_PLACED_H = 1.0
"""A target with fewer hours a night is not well placed in a month (a choice of ours)."""


class TargetQuery(Frozen):
    """What to look for.

    Attributes:
        text: beginnings of words of its names. kind: a kind's code, a key of GROUPS, or empty.
        constellation: its three letters, or empty.
        least_arcmin, most_arcmin: of the long side. faintest_mag: of the whole, V or B.
        faintest_surface: B magnitudes per square arcsecond.
        month: of `year`, to be well placed in; 0 for any. order: what comes first.
        offset, limit: which lines.
    """

    text: str = Field(default="", max_length=80)
    kind: str = Field(default="", max_length=20)
    constellation: str = Field(default="", max_length=3)
    least_arcmin: float | None = Field(default=None, ge=0, le=3600)
    most_arcmin: float | None = Field(default=None, ge=0, le=3600)
    faintest_mag: float | None = Field(default=None, ge=-5, le=25)
    faintest_surface: float | None = Field(default=None, ge=10, le=32)
    month: int = Field(default=0, ge=0, le=12)
    year: int = Field(default=2027, ge=1973, le=2098)
    order: Order = "hours"
    offset: int = Field(default=0, ge=0, le=100_000)
    limit: int = Field(default=30, ge=1, le=200)


@dataclass(frozen=True)
class FoundTarget:
    """A line of what was found.

    Attributes:
        culmination_deg: None without a site, like what follows.
        above_h, moonless_h: hours a night above the line in the month, and of these without the Moon; of the
            best month where no month is asked for.
        best_month: 1 to 12, 0 where it is never up in the dark.
        framed: how it sits on the rig at hand, None without one.
    """

    target: Target
    culmination_deg: float | None
    above_h: float | None
    moonless_h: float | None
    best_month: int | None
    framed: Framed | None


@dataclass(frozen=True)
class Found:
    """A page of what was found, and how many there are in all."""

    lines: tuple[FoundTarget, ...]
    total: int


def find_targets(query: TargetQuery, site: Site | None, frame: Frame | None) -> Found:
    """Look through the catalogue. Raises OutOfRangeError for a year that the ephemeris does not know."""
    import numpy as np

    from server.sky.deep_sky import deep_sky

    sky = deep_sky()
    some = _matching(sky, query)
    hours = None
    if site is not None and query.month and some.size:
        months = _months(site, query.year, sky.ra_deg[some], sky.dec_deg[some], (query.month,))
        placed = months[:, 0, 0] >= WELL_PLACED_H
        some, hours = some[placed], months[placed, 0, 1]
    some = some[_order(sky, some, query, hours)]
    shown = some[query.offset : query.offset + query.limit]
    targets = [target_of(sky.objects[number]) for number in np.atleast_1d(shown)]
    return Found(tuple(lines_of(targets, query.month, query.year, site, frame)), int(some.size))


def lines_of(
    targets: Sequence[Target], month: int, year: int, site: Site | None, frame: Frame | None
) -> list[FoundTarget]:
    """Say of each target when it is well placed, and how it sits on a frame."""
    import numpy as np

    framed = [None if frame is None else put_on(frame, one, None) for one in targets]
    if site is None or not targets:
        return [FoundTarget(one, None, None, None, None, on) for one, on in zip(targets, framed, strict=True)]
    from server.sky.darkness import culmination_deg
    from server.sky.ephemeris import apparent_place, days_of

    ra, dec = (np.array([getattr(one, name) for one in targets]) for name in ("ra_deg", "dec_deg"))
    hours = _months(site, year, ra, dec, tuple(range(1, 13)))
    best = np.argmax(hours[:, :, 1] + 1e-3 * hours[:, :, 0], axis=1)
    # Of date, as the hours are.
    _, dec_of_date = apparent_place(ra, dec, days_of(datetime(year, 7, 1, tzinfo=UTC)))
    tops = culmination_deg(site.spot, dec_of_date)
    found = []
    for k, (one, on) in enumerate(zip(targets, framed, strict=True)):
        at = month - 1 if month else int(best[k])
        up = bool(hours[k, :, 0].max() > 0.0)
        above, moonless = (float(one) for one in hours[k, at])
        found.append(FoundTarget(one, float(tops[k]), above, moonless, int(best[k]) + 1 if up else 0, on))
    return found


def _matching(sky: DeepSky, query: TargetQuery) -> npt.NDArray[np.int64]:
    """The numbers of all objects that a query names."""
    import numpy as np

    some = sky.find(query.text) if query.text.strip() else np.arange(sky.ra_deg.size)
    keep = np.ones(some.size, dtype=bool)
    if query.least_arcmin is not None:
        keep &= sky.major_arcmin[some] >= query.least_arcmin
    if query.most_arcmin is not None:
        keep &= sky.major_arcmin[some] <= query.most_arcmin
    if query.faintest_mag is not None:
        keep &= _brightness(sky)[some] <= query.faintest_mag
    if query.faintest_surface is not None:
        keep &= sky.surface_b_mag[some] <= query.faintest_surface
    if query.kind:
        keep &= np.isin(sky.kinds[some], GROUPS.get(query.kind, (query.kind,)))
    if query.constellation:
        keep &= sky.constellations[some] == query.constellation
    return np.asarray(some[keep], dtype=np.int64)


def _brightness(sky: DeepSky) -> npt.NDArray[np.float64]:
    """V of each object, B where V is not known."""
    import numpy as np

    return np.where(np.isnan(sky.v_mag), sky.b_mag, sky.v_mag)


def _order(
    sky: DeepSky, some: npt.NDArray[np.int64], query: TargetQuery, hours: npt.NDArray[np.float64] | None
) -> npt.NDArray[np.intp]:
    """The places of `some` in the order asked for; what is not known comes last."""
    import numpy as np

    size = np.nan_to_num(sky.major_arcmin[some], nan=0.0)
    if query.text.strip() or query.order == "name":
        # The catalogue's own order, and with a text the order of its finding: the nearest names first.
        return np.arange(some.size)
    if query.order == "brightness":
        return np.argsort(np.nan_to_num(_brightness(sky)[some], nan=99.0), kind="stable")
    if query.order == "hours" and hours is not None:
        # Hours to the nearest half, so that among equals the largest comes first.
        return np.lexsort((-size, -np.round(2.0 * hours)))
    return np.argsort(-size, kind="stable")


def _months(
    site: Site,
    year: int,
    ra_deg: npt.NDArray[np.float64],
    dec_deg: npt.NDArray[np.float64],
    months: tuple[int, ...],
) -> npt.NDArray[np.float64]:
    """Mean hours a night (objects, months, above the line and of these without the Moon)."""
    import numpy as np

    from server.sky.darkness import hours_above, moonless_hours_above, nights

    line, found = site.line, np.zeros((ra_deg.size, len(months), 2))
    whole = len(months) == 12
    begin = date(year, 1, 1) if whole else date(year, months[0], 1)
    end = date(year + 1, 1, 1) if whole or months[0] == 12 else date(year, months[0] + 1, 1)
    some = nights(site.spot, begin, (end - begin).days)
    both = (
        hours_above(some, ra_deg, dec_deg, line),
        moonless_hours_above(some, ra_deg, dec_deg, line),
    )
    starts = [(date(year, month, 1) - begin).days for month in months]
    for k, hours in enumerate(both):
        for nth, start in enumerate(starts):
            stop = starts[nth + 1] if nth + 1 < len(starts) else (end - begin).days
            found[:, nth, k] = hours[:, start:stop].mean(axis=1)
    return found
