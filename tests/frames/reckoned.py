"""From pictures of the simulator to what the ground says of them, and the odds of its stated errors."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from server.frames.finding import Pixels, Stars, find_stars
from server.frames.matching import match
from server.frames.measuring import Shapes, measure, radius_for
from server.frames.surface import Light, Surface, fit_surface
from tests.frames.simulator import Field, Night, Optics, frame


def rows_of(picture: Any) -> Callable[[int, int], Pixels]:
    """Return what gives the rows of a picture in memory."""

    def rows(first: int, last: int) -> Pixels:
        return np.asarray(picture[first:last], dtype=np.float32)

    return rows


def stars_of(picture: Any) -> Stars:
    """Return the stars of a picture."""
    return find_stars(rows_of(picture), picture.shape[1], picture.shape[0])


def shapes_of(pictures: Sequence[Any]) -> list[Shapes]:
    """Return the shapes of the same stars on several pictures."""
    stars = [stars_of(one) for one in pictures]
    numbers = match(stars)
    radius = radius_for([one.width for one in stars])
    return [
        measure(one.stamps[row], one.corner[row], radius) for one, row in zip(stars, numbers, strict=True)
    ]


def light_of(optics: Optics) -> Light:
    """Return the beam as the ground asks for it."""
    return Light(optics.focal_ratio, optics.obstruction, optics.pixel_um, optics.wave_um)


def surface_of(
    pictures: Sequence[Any], focus_um: Sequence[float], optics: Optics, light: Light | None = None
) -> Surface:
    """Return the surface that pictures at positions of the focuser tell; light: where not the optics' own."""
    high, wide = pictures[0].shape
    return fit_surface(shapes_of(pictures), list(focus_um), light or light_of(optics), wide, high)


def taken(
    optics: Optics, nights: Night | Sequence[Night], there: Field, focus_um: Sequence[float]
) -> list[Any]:
    """Return frames at these positions, each of a night of its own where several are given."""
    each = [nights] * len(focus_um) if isinstance(nights, Night) else nights
    return [
        frame(optics, night, there, at, noise)
        for noise, (night, at) in enumerate(zip(each, focus_um, strict=True))
    ]
