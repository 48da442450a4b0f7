"""What of a rig is framed on the sky: the sensor behind its focal length, and a target on it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from server.domain.missing import lacks_sensor, wants
from server.domain.said import Missing
from server.domain.sky.target import Target
from server.domain.workings.case import Case
from server.optics.imaging import field_of_view_deg, pixel_scale_arcsec

MOST_PANELS = 10
USUAL_OVERLAP = 0.15
"""Of a panel's side, shared with its neighbour (common practice, no source)."""


@dataclass(frozen=True)
class Frame:
    """A rig's frame.

    Attributes:
        name: the rig's.
        sensor_mm: width and height. focal_mm: at the sensor. scale_arcsec: of a pixel.
        width_deg, height_deg: the angles that the sides take in.
        width_px, height_px: of the sensor.
    """

    name: str
    sensor_mm: tuple[float, float]
    focal_mm: float
    scale_arcsec: float
    width_deg: float
    height_deg: float
    width_px: int
    height_px: int

    @property
    def sides_arcmin(self) -> tuple[float, float]:
        """Width and height on the sky."""
        return 60.0 * self.width_deg, 60.0 * self.height_deg


@dataclass(frozen=True)
class Framed:
    """A target on a frame, or what to enter first.

    Attributes:
        frame: None while `missing` names something.
        fill: the most that it fills of a side at `angle_deg`; None for a target of no known size.
        best_fill, best_angle_deg: at the angle that fits best; the angle is the sensor's upper side's, from
            north through east.
        any_angle: the target is round, or its direction is not known.
        which_way: it is long, and its direction is not known.
        panels: columns and rows of a mosaic along the target that takes in one that is too large; else None.
        along_deg: the sensor's angle for it.
    """

    frame: Frame | None
    missing: tuple[Missing, ...] = ()
    angle_deg: float = 0.0
    fill: float | None = None
    best_fill: float | None = None
    best_angle_deg: float = 0.0
    any_angle: bool = False
    which_way: bool = False
    panels: tuple[int, int] | None = None
    along_deg: float = 0.0

    def lying(self, target: Target) -> Target:
        """The target as its share was reckoned: one whose direction is not listed lies as it fits best."""
        if not self.which_way:
            return target
        # Its share was reckoned with its long side to the north.
        return target.model_copy(update={"angle_deg": (self.angle_deg - self.best_angle_deg) % 180.0})


LARGEST_IN_FOCALS = 2.0 * math.tan(math.radians(60.0))
"""The longest side of a sensor in focal lengths: a frame of 120 degrees, beyond which nothing is framed."""


def frame_of(case: Case) -> Frame | tuple[Missing, ...]:
    """The rig's frame, or what to enter for it."""
    camera, focal = case.train.camera, case.optics.focal_length_mm
    missing = [] if focal is not None else [one for one in case.optics.missing if one.field != "aperture_mm"]
    if camera is None:
        missing.append(wants("camera_at_end"))
    elif camera.part.sensor_mm is None:
        missing.append(lacks_sensor(camera))
    if missing or focal is None or camera is None or camera.part.sensor_mm is None:
        return tuple(missing) or (wants("tube_focal"),)
    part, sensor = camera.part, camera.part.sensor_mm
    if max(sensor) / focal > LARGEST_IN_FOCALS:
        return (wants("narrower_frame"),)
    assert part.pixel_um is not None and part.width_px is not None and part.height_px is not None  # noqa: PT018
    return Frame(
        name=case.rig.name,
        sensor_mm=sensor,
        focal_mm=focal,
        scale_arcsec=pixel_scale_arcsec(part.pixel_um.nominal, focal),
        width_deg=field_of_view_deg(sensor[0], focal),
        height_deg=field_of_view_deg(sensor[1], focal),
        width_px=part.width_px,
        height_px=part.height_px,
    )


def put_on(frame: Frame, target: Target, angle_deg: float | None) -> Framed:
    """A target on a frame; angle_deg None turns the sensor to where it fits best."""
    from server.sky.framing import best_angle, fill

    ellipse = target.ellipse_arcmin
    if ellipse is None:
        return Framed(frame, angle_deg=angle_deg or 0.0)
    sides, direction = frame.sides_arcmin, target.angle_deg or 0.0
    best = best_angle(*sides, *ellipse, direction)
    best_share, best_deg = float(best.share), float(best.angle_deg) % 360.0
    any_angle = ellipse[0] == ellipse[1] or target.angle_deg is None
    angle = (0.0 if any_angle else best_deg) if angle_deg is None else angle_deg
    # Of unknown direction it is framed at its best one, whatever the camera's angle.
    now = best_share if target.angle_deg is None else float(fill(*sides, *ellipse, direction, angle))
    panels, along = None, (direction + 90.0) % 180.0
    if best_share > 1.0:
        panels, across = panels_over(frame, ellipse)
        along = direction % 180.0 if across else along
        # More than so many across nobody photographs, and the form does not take.
        panels = panels if max(panels) <= MOST_PANELS else None
    which_way = any_angle and ellipse[0] != ellipse[1]
    return Framed(frame, (), angle, now, best_share, best_deg, any_angle, which_way, panels, along)


def panels_over(frame: Frame, ellipse_arcmin: tuple[float, float]) -> tuple[tuple[int, int], bool]:
    """Columns and rows of the mosaic with the fewest panels that takes in a target, and whether its long side
    then lies across the sensor's width.
    """
    from server.sky.mosaic import panels_needed

    def panels(wide: float, high: float) -> tuple[int, int]:
        return (
            panels_needed(frame.width_deg, wide / 60.0, USUAL_OVERLAP),
            panels_needed(frame.height_deg, high / 60.0, USUAL_OVERLAP),
        )

    along, across = panels(*ellipse_arcmin), panels(*ellipse_arcmin[::-1])
    better = across[0] * across[1] < along[0] * along[1]
    return (across, True) if better else (along, False)
