"""A sketch of a target on a rig's sensor: from the catalogue's figures, in this rig's own stars and noise."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from server.domain.sky.around import Around
from server.domain.sky.depth import Depth
from server.domain.sky.frame import Frame
from server.domain.sky.reckoning import surface_of
from server.domain.sky.target import Target
from server.domain.stars.field import StarField

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from server.sky.sketch import Patch

USUAL_WELL_E = 50_000.0
"""A full well where the camera has none listed: it only sets where stars are cut off."""
WIDTH_PX = 560
"""Of a sketch."""
SEED = 7
_ARCSEC2 = 3600.0


def height_px(frame: Frame, width_px: int = WIDTH_PX) -> int:
    """The height of a sketch."""
    return max(1, round(width_px * frame.sensor_mm[1] / frame.sensor_mm[0]))


def sky_noise_share(depth: Depth, frame: Frame, total_s: float, width_px: int = WIDTH_PX) -> float:
    """The noise of an empty pixel of a sketch, as a share of its sky: what several are stretched alike by."""
    pixels, sky = (frame.width_px / width_px) ** 2, _sky_of(depth, frame, total_s, width_px)
    read2 = depth.read_e**2 * pixels * total_s / depth.sub_s
    return math.sqrt(sky + depth.dark_e * pixels * total_s + read2) / sky


def sky_slope(altitude_deg: float, high_deg: float) -> float:
    """By how much of itself the sky is brighter at a frame's lower edge than at its upper.

    altitude_deg: of its middle. high_deg: its height. As though the zenith lay above the sensor's upper side:
    which way it lies turns through the night, while a camera keeps its angle. A town's own light, often more
    than this, is not in it.
    """
    from server.sky.sky_brightness import DARKEST, sky_at

    ends = altitude_deg - high_deg / 2.0, altitude_deg, altitude_deg + high_deg / 2.0
    # Beyond the zenith it goes down again on the other side. How dark the zenith is makes no odds to a ratio.
    over = [max(0.0, min(one, 180.0 - one)) for one in ends]
    lower, middle, upper = 10.0 ** (-0.4 * sky_at(over, DARKEST))
    return float((lower - upper) / middle)


def _sky_of(depth: Depth, frame: Frame, total_s: float, width_px: int) -> float:
    """Electrons of the sky in a pixel of a sketch."""
    return depth.sky_e * (frame.width_px / width_px * frame.scale_arcsec) ** 2 * total_s


def work_sketch(
    frame: Frame,
    stars: StarField,
    depth: Depth,
    target: Target,
    around: Around,
    angle_deg: float,
    total_s: float,
    noise_share: float,
    width_px: int = WIDTH_PX,
) -> npt.NDArray[np.uint8]:
    """Return the sketch, grey from 0 to 255, row 0 at the top.

    angle_deg: of the sensor's upper side. noise_share: `sky_noise_share` of the sketch that all are compared
    by. Raises ValueError for figures that no frame has.
    """
    import numpy as np

    from server.sky.framing import on_sensor
    from server.sky.sketch import Star, draw_sketch, stretch

    per_px = frame.sides_arcmin[0] / width_px
    found = np.array(around.stars).reshape(-1, 3)
    x, y = on_sensor(found[:, 0], found[:, 1], angle_deg)
    sketch = draw_sketch(
        width_px,
        height_px(frame, width_px),
        per_px,
        frame.scale_arcsec,
        list(_patches(depth, target, around, angle_deg)),
        # The catalogue's G is taken as V: for most stars that is within a few tenths.
        Star(x, y, depth.zero_e * 10.0 ** (-0.4 * found[:, 2])),
        sky_e_s_arcsec2=depth.sky_e,
        sky_gradient_share=sky_slope(depth.altitude_deg, frame.height_deg),
        dark_e_s_px=depth.dark_e,
        read_noise_e=depth.read_e,
        sub_s=depth.sub_s,
        total_s=total_s,
        full_well_e=depth.full_well_e or USUAL_WELL_E,
        seed=SEED,
        star_picture=_star_picture(stars, frame, width_px),
    )
    # In shares of each one's own sky, so that what shines as bright is drawn as bright on every rig. What the
    # dark current adds is taken off, as its frames do.
    sky = _sky_of(depth, frame, total_s, width_px)
    return stretch((sketch.counts_e - np.float32(sketch.sky_e - sky)) / np.float32(sky), 1.0, noise_share)


def _patches(depth: Depth, target: Target, around: Around, angle_deg: float) -> Iterator[Patch]:
    from server.sky.framing import on_sensor
    from server.sky.sketch import Patch

    for east, north, one in ((0.0, 0.0, target), *around.neighbours):
        ellipse, surface = one.ellipse_arcmin, surface_of(one)
        rate = None if surface is None else depth.zero_e * 10.0 ** (-0.4 * surface.value)
        if one is target:
            rate = depth.target_e
        if ellipse is None or rate is None:
            continue
        x, y = on_sensor(east, north, angle_deg)
        area = math.pi / 4.0 * ellipse[0] * ellipse[1] * _ARCSEC2
        # Position angles run to the east, which lies to the left of north: anticlockwise as seen.
        direction = (one.angle_deg or 0.0) - angle_deg
        yield Patch(float(x), float(y), *ellipse, direction, one.kind, one.hubble, rate * area)


def _star_picture(stars: StarField, frame: Frame, width_px: int) -> npt.NDArray[np.float64]:
    """The rig's own star in the pixels of the sketch, all of its light."""
    import numpy as np

    image = stars.centre.seen
    px_um = frame.sensor_mm[0] * 1000.0 / width_px
    place = np.rint(image.places_um / px_um).astype(int)
    half = max(1, int(np.abs(place).max()))
    picture = np.zeros((2 * half + 1, 2 * half + 1))
    np.add.at(picture, (place[::-1, None] + half, place[None, :] + half), image.values)
    return np.asarray(picture / picture.sum())
