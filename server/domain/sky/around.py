"""What the sky holds about a target: the catalogue's neighbours, and the field's brighter stars."""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.sky.target import Target, target_of

MOST_NEIGHBOURS = 12
LEAST_NEIGHBOUR_SHARE = 0.02
"""A neighbour smaller than this share of the way to the rim is not drawn."""
_ARCMIN = 3437.746770784939
"""Arcminutes in a radian."""


@dataclass(frozen=True)
class Around:
    """About a target; east and north of it, flat on the picture, in arcminutes.

    Attributes:
        stars: east, north, G magnitude, the brightest first. limit_g: none is fainter.
        neighbours: east, north, and the object; the largest first.
    """

    stars: tuple[tuple[float, float, float], ...]
    limit_g: float
    neighbours: tuple[tuple[float, float, Target], ...]


def around(target: Target, reach_arcmin: float) -> Around:
    """What lies within so many arcminutes (to 30 degrees are looked at)."""
    from server.sky.deep_sky import deep_sky
    from server.sky.field_stars import LIMIT_G, stars_around
    from server.sky.framing import to_tangent

    reach = min(30.0, reach_arcmin / 60.0)
    found = stars_around(target.ra_deg, target.dec_deg, reach)
    xi, eta = to_tangent(found.ra_deg, found.dec_deg, target.ra_deg, target.dec_deg)
    stars = tuple(
        (float(x) * _ARCMIN, float(y) * _ARCMIN, float(g))
        for x, y, g in zip(xi, eta, found.g_mag, strict=True)
    )
    sky = deep_sky()
    near = []
    for number in sky.near(target.ra_deg, target.dec_deg, reach):
        size = sky.major_arcmin[number]
        one = sky.objects[number]
        if not size > LEAST_NEIGHBOUR_SHARE * reach_arcmin or one.name == target.name:
            continue
        x, y = to_tangent(one.ra_deg, one.dec_deg, target.ra_deg, target.dec_deg)
        near.append((float(size), float(x) * _ARCMIN, float(y) * _ARCMIN, target_of(one)))
    near.sort(key=lambda one: -one[0])
    return Around(stars, LIMIT_G, tuple((x, y, one) for _, x, y, one in near[:MOST_NEIGHBOURS]))
