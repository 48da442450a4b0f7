"""A mosaic of a target: its panels, and what a camera that is not turned misses."""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.sky.frame import Frame
from server.domain.sky.target import Target

TURN_ABOVE_DEG = 75.0
"""Nearer the pole than this a fixed camera misses so much that it should be turned (measured: 1 % at 75)."""


@dataclass(frozen=True)
class PanelPlace:
    """One panel: counted from 0 at the upper left as the mosaic is seen; J2000, degrees."""

    row: int
    column: int
    ra_deg: float
    dec_deg: float
    angle_deg: float


@dataclass(frozen=True)
class Panels:
    """A mosaic.

    Attributes:
        shared_arcmin: the edge that neighbours share, across and up.
        covered_deg: what all of it takes in, width and height.
        turn_missing_deg, uncovered_share: of a fixed camera: the most that a panel is out of its angle, and
            what of the whole no panel covers; 0 where the camera is turned.
        better_turned: the pole is so near that the camera should be turned.
    """

    panels: tuple[PanelPlace, ...]
    shared_arcmin: tuple[float, float]
    covered_deg: tuple[float, float]
    fixed: bool
    turn_missing_deg: float
    uncovered_share: float
    better_turned: bool


def work_panels(
    target: Target, frame: Frame, angle_deg: float, rows: int, columns: int, overlap: float, fixed: bool
) -> Panels:
    """Lay the panels out about the target's middle. Raises OutOfRangeError for what reaches too far."""
    from server.sky.mosaic import mosaic

    wide, high = frame.width_deg, frame.height_deg
    made = mosaic(target.ra_deg, target.dec_deg, wide, high, angle_deg, rows, columns, overlap, fixed)
    return Panels(
        panels=tuple(
            PanelPlace(one.row, one.column, one.ra_deg, one.dec_deg, one.angle_deg) for one in made.panels
        ),
        shared_arcmin=(60.0 * wide * overlap, 60.0 * high * overlap),
        covered_deg=(
            wide * (1.0 + (columns - 1) * (1.0 - overlap)),
            high * (1.0 + (rows - 1) * (1.0 - overlap)),
        ),
        fixed=fixed,
        turn_missing_deg=made.turn_missing_deg,
        uncovered_share=made.uncovered_share,
        better_turned=fixed and abs(target.dec_deg) > TURN_ABOVE_DEG,
    )
