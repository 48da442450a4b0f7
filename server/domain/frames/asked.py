"""What is asked of a set of frames: the files, where the focuser stood, the beam they were taken in."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from server.domain.frames.measured import MOST_BINNED, MOST_FRAMES, Light
from server.domain.measure import Frozen


class FrameAsked(Frozen):
    """One file.

    Attributes:
        file: its path. name: what its owner calls it. focuser: where it stood, in steps; None: not said.
        extension: which part of a FITS file; None: the first that holds a picture.
    """

    file: str
    name: str = Field(max_length=200)
    focuser: float | None = Field(default=None, ge=-1e7, le=1e7)
    extension: int | None = Field(default=None, ge=0, le=999)


class SetAsked(Frozen):
    """A set of frames at one spacing.

    Attributes:
        step_um: what one step moves the focus at the sensor. outward: whether the numbers rise as the camera
            moves
            out, away from the sky.
        mosaic: the camera's pixels carry a colour mosaic. side: of focus, for a single frame.
        sensor_px: of the camera, unbinned. binning: of the frames, along a side.
        quick: only windows spread over the frame are looked at.
    """

    frames: tuple[FrameAsked, ...] = Field(min_length=1, max_length=MOST_FRAMES)
    light: Light | None = None
    step_um: float | None = Field(default=None, gt=0, le=10_000)
    outward: bool = True
    mosaic: bool = False
    side: Literal["", "out", "in"] = ""
    spacing_mm: float | None = Field(default=None, ge=0, le=2000)
    sensor_px: tuple[int, int] | None = None
    binning: int = Field(default=1, ge=1, le=MOST_BINNED)
    quick: bool = False

    def focus_um(self, frame: FrameAsked) -> float | None:
        """Where a frame's focuser stood in um of focus, larger further out; None while not known."""
        if frame.focuser is None or self.step_um is None:
            return None
        return frame.focuser * self.step_um * (1.0 if self.outward else -1.0)
