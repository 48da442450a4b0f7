"""A sketch as PNG."""

from __future__ import annotations

import io

from server.domain.rig import Rig
from server.domain.scout.measures import ALTITUDE_DEG
from server.domain.sky.around import around
from server.domain.sky.site import Site
from server.domain.sky.sketch import sky_noise_share, work_sketch
from server.domain.sky.target import Target
from server.flow.plan_sky import RigSky, look_from

SKETCH_HOURS = 5.0


def png_of(one: RigSky, target: Target, hours: float, noise: float | None) -> bytes | None:
    """The sketch after so many hours; noise: what several are stretched alike by, None by its own. None while
    something is missing.
    """
    from PIL import Image

    frame = one.frame
    if one.depth is None or one.stars is None or frame is None:
        return None
    seconds = 3600.0 * hours
    share = sky_noise_share(one.depth, frame, seconds) if noise is None else noise
    held = around(target, max(frame.sides_arcmin))
    target = one.framed.lying(target)
    grey = work_sketch(frame, one.stars, one.depth, target, held, one.framed.angle_deg, seconds, share)
    file = io.BytesIO()
    Image.fromarray(grey).save(file, "PNG", compress_level=1)
    return file.getvalue()


def sketch_png(rig: Rig, target: Target, site: Site, stretch: Rig | None) -> bytes | None:
    """A candidate's sketch of a target from a site, None while something is missing. stretch: the candidate
    that others beside it are stretched like.
    """
    first = None if stretch is None else look_from(stretch, target, site, ALTITUDE_DEG)
    noise = None
    if first is not None and first.depth is not None and first.frame is not None:
        noise = sky_noise_share(first.depth, first.frame, 3600.0 * SKETCH_HOURS)
    return png_of(look_from(rig, target, site, ALTITUDE_DEG), target, SKETCH_HOURS, noise)
