"""Panels that cover more of the sky than one frame holds.

The panels stand on a grid in the tangent plane of the mosaic's middle (see `server.sky.framing`) and are
brought back to the sphere from there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from server.out_of_range import OutOfRangeError
from server.sky.directions import directions
from server.sky.framing import from_tangent, off_sensor, on_sensor

Floats = npt.NDArray[np.float64]

#: Widest frame (degrees), most panels a side, and how far from the middle a mosaic may reach (degrees).
_WIDEST_DEG = 60.0
_MOST_A_SIDE = 30
_FARTHEST_DEG = 60.0

#: Points by which the share that a fixed camera leaves out is measured. A square grid of them would miss
#: slivers along its edges; these fill the area evenly and lie on no line. Source: the sequence of Roberts,
#: from the root of g^3 = g + 1 (from memory).
_PROBES = 100_000
_G = 1.324717957244746


@dataclass(frozen=True)
class Panel:
    """One frame of a mosaic.

    row: from 0 at the top. column: from 0 at the left, as the sky is seen with the mosaic's up above. ra_deg,
    dec_deg: of its middle, J2000 if the mosaic's are. angle_deg: position angle to set the camera's up to,
    from 0 to below 360.
    """

    row: int
    column: int
    ra_deg: float
    dec_deg: float
    angle_deg: float


@dataclass(frozen=True)
class Mosaic:
    """The panels row by row, and what a camera that is never turned costs.

    fixed: the camera keeps one position angle. turn_missing_deg: the largest turn that a panel then lacks
    against the grid, 0 if the camera is turned to each panel. uncovered_share: the share of the area within
    the mosaic's outline that no panel of a fixed camera covers, in the middle's tangent plane,
    within 0.0002; 0 if the camera is turned, which leaves no hole.
    """

    panels: tuple[Panel, ...]
    rows: int
    columns: int
    fixed: bool
    turn_missing_deg: float
    uncovered_share: float


def mosaic(
    ra_deg: float,
    dec_deg: float,
    frame_w_deg: float,
    frame_h_deg: float,
    angle_deg: float,
    rows: int,
    columns: int,
    overlap_share: float,
    fixed: bool = False,
) -> Mosaic:
    """Return the panels of a mosaic about a middle.

    dec_deg: -90 to 90. frame_w_deg, frame_h_deg: full angles of one frame on the sky, above 0 to 60.
    angle_deg: position angle of the mosaic's up. rows, columns: 1 to 30; the corners must be within 60
    degrees of the middle. overlap_share: of a frame's side, 0 to 0.9. fixed: whether the camera keeps
    `angle_deg` for all panels. Raises ValueError outside. Source: gnomonic projection; the turn by Napier's
    analogies, see `_turn_deg`.
    """
    if not (1 <= rows <= _MOST_A_SIDE and 1 <= columns <= _MOST_A_SIDE):
        raise OutOfRangeError(
            f"The mosaic has {rows} x {columns} panels; each side must have 1 to {_MOST_A_SIDE}. "
            "Use a shorter focal length."
        )
    half_w, half_h = _half_frame(frame_w_deg, overlap_share), _half_frame(frame_h_deg, overlap_share)
    step_w, step_h = 2.0 * half_w * (1.0 - overlap_share), 2.0 * half_h * (1.0 - overlap_share)
    reach_w, reach_h = half_w + step_w * (columns - 1) / 2.0, half_h + step_h * (rows - 1) / 2.0
    reach_deg = math.degrees(math.atan(math.hypot(reach_w, reach_h)))
    if reach_deg > _FARTHEST_DEG:
        raise OutOfRangeError(
            f"The mosaic reaches {reach_deg:.0f} degrees from its middle; the most is {_FARTHEST_DEG:g}. "
            "Make it of two."
        )
    row, column = (side.ravel() for side in np.indices((rows, columns)))
    xi, eta = off_sensor(
        (column - (columns - 1) / 2.0) * step_w, ((rows - 1) / 2.0 - row) * step_h, angle_deg
    )
    ra, dec = from_tangent(xi, eta, ra_deg, dec_deg)
    turn = _turn_deg(ra_deg, dec_deg, ra, dec)
    angle = np.remainder(angle_deg + (0.0 if fixed else turn) + np.zeros(len(ra)), 360.0)
    panels = tuple(
        Panel(int(row[at]), int(column[at]), float(ra[at]), float(dec[at]), float(angle[at]))
        for at in range(len(ra))
    )
    if not fixed:
        return Mosaic(panels, rows, columns, False, 0.0, 0.0)
    middle = _axes(np.array([ra_deg]), np.array([dec_deg]), np.array([angle_deg]))[0]
    missed = _uncovered(middle, reach_w, reach_h, _axes(ra, dec, angle), half_w, half_h)
    return Mosaic(panels, rows, columns, True, float(np.max(np.abs(turn))), missed)


def panels_needed(frame_deg: float, wanted_deg: float, overlap_share: float) -> int:
    """Return how many panels cover a width or height on the sky.

    frame_deg: full angle of one frame, above 0 to 60. wanted_deg: full angle to cover, above 0 to 120.
    overlap_share: of a frame's side, 0 to 0.9. Raises ValueError outside. Source: n s - (n - 1) o s >= T, s
    and T as lengths in the middle's tangent plane.
    """
    if not 0.0 < wanted_deg <= 2.0 * _FARTHEST_DEG:
        raise OutOfRangeError(
            f"The size to cover is {wanted_deg:g} degrees; it must be more than 0, up to "
            f"{2.0 * _FARTHEST_DEG:g}. Choose a smaller one."
        )
    frame = 2.0 * _half_frame(frame_deg, overlap_share)
    wanted = 2.0 * math.tan(math.radians(wanted_deg) / 2.0)
    # What a frame lacks by rounding alone is no reason for another panel.
    more = math.ceil((wanted - frame) / (frame * (1.0 - overlap_share)) - 1e-9)
    return 1 + max(0, more)


def _half_frame(frame_deg: float, overlap_share: float) -> float:
    """Return half a frame's side in the tangent plane, refusing what is no frame or no overlap."""
    if not 0.0 < frame_deg <= _WIDEST_DEG:
        raise OutOfRangeError(
            f"The frame is {frame_deg:g} degrees; it must be more than 0, up to {_WIDEST_DEG:g}. "
            "Use a longer focal length."
        )
    if not 0.0 <= overlap_share <= 0.9:
        raise OutOfRangeError(
            f"The overlap is {overlap_share:g}; it must be 0 to 0.9. Give a share of the frame such as 0.15."
        )
    return math.tan(math.radians(frame_deg) / 2.0)


def _turn_deg(ra_deg: float, dec_deg: float, panel_ra_deg: Floats, panel_dec_deg: Floats) -> Floats:
    """Return by how much the bearing of the great circle from a middle grows on its way to each panel.

    A camera turned by that stands to the circle as it did in the middle. Source: Napier's analogies for the
    triangle with the pole (Smart, Textbook on Spherical Astronomy, section 12, from memory).
    """
    half = np.radians(panel_ra_deg - ra_deg) / 2.0
    middle, panel = math.radians(dec_deg), np.radians(panel_dec_deg)
    sine = np.sin(half) * np.sin((middle + panel) / 2.0)
    cosine = np.cos(half) * np.cos((middle - panel) / 2.0)
    turn: Floats = np.degrees(2.0 * np.arctan2(sine, cosine))
    return np.remainder(turn + 180.0, 360.0) - 180.0


def _axes(ra_deg: Floats, dec_deg: Floats, angle_deg: Floats) -> Floats:
    """Return (n, 3, 3): unit vectors to the right, up and ahead of cameras, as rows."""
    ahead = directions(ra_deg, dec_deg)
    ra, dec = np.radians(ra_deg), np.radians(dec_deg)
    east = np.stack((-np.sin(ra), np.cos(ra), np.zeros_like(ra)), axis=-1)
    north = np.stack((-np.sin(dec) * np.cos(ra), -np.sin(dec) * np.sin(ra), np.cos(dec)), axis=-1)
    right, up = on_sensor(east, north, angle_deg[:, None])
    return np.stack((right, up, ahead), axis=1)


def _uncovered(
    middle: Floats, reach_w: float, reach_h: float, cameras: Floats, half_w: float, half_h: float
) -> float:
    """Return the share of points within the mosaic's outline that lie in no camera's frame."""
    count = np.arange(_PROBES)
    x, y = (np.remainder(0.5 + count / root, 1.0) * 2.0 - 1.0 for root in (_G, _G * _G))
    points = np.stack((x * reach_w, y * reach_h, np.ones(_PROBES)), axis=-1) @ middle
    for camera in cameras:
        right, up, ahead = camera @ points.T
        # Only their direction counts, not their length; behind the camera no size is small enough.
        inside = (np.abs(right) <= half_w * ahead) & (np.abs(up) <= half_h * ahead)
        points = points[~inside]
    return len(points) / _PROBES
