"""What frames were measured to say, as it is kept: no pixel but small cut-outs of stars."""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from pydantic import Field

from server.domain.findings import Amount
from server.domain.measure import Frozen
from server.frames.shim import Lies

SCHEMA = 1
MOST_FRAMES = 12
MOST_STARS = 2000
MOST_BINNED = 4
CUT_PX = 25
"""Side of a kept cut-out."""


def is_whole(frame_px: int, sensor_px: int, binning: int) -> bool:
    """Whether a frame's side is the sensor's, but for a margin that some drivers leave off."""
    return abs(frame_px * binning - sensor_px) <= 0.01 * sensor_px + binning


class Value(Frozen):
    """A figure with its standard error."""

    value: float
    error: float

    @property
    def known(self) -> bool:
        """Whether it stands out of twice its error."""
        return abs(self.value) > 2.0 * self.error


class Light(Frozen):
    """What turned sizes into um of defocus: the rig's beam at the sensor, the frame's pixels, and the light's
    mean wavelength, 0 for frames that were made by rays alone.
    """

    focal_ratio: float = Field(gt=0)
    obstruction: float = Field(ge=0, lt=1)
    pixel_um: float = Field(gt=0)
    wave_nm: float = Field(default=550.0, ge=0, le=2500)


class FrameLine(Frozen):
    """One frame of a set.

    Attributes:
        name: of its file. focus_um: the focuser's position in um of focus, larger further out; None: not
            said.
        focuser: the same in the focuser's own steps.
        seen: sources found; clean: stars kept; cut_off, crowded: those left out for it.
        half_flux_px: median half-flux diameter.
        alike: what neighbouring pixels' noise has in common; size_by_light: rank correlation; None: not
            known.
        stretched, eight_bit, colours: of the file. header: what it says of itself, for the reader.
    """

    name: str = Field(max_length=200)
    focus_um: float | None = None
    focuser: float | None = None
    seen: int
    clean: int
    cut_off: int
    crowded: int
    half_flux_px: float | None
    alike: float | None = None
    size_by_light: float | None = None
    stretched: bool = False
    eight_bit: bool = False
    colours: int = 1
    stacked: int | None = None
    exposure_s: float | None = None
    temperature_c: float | None = None
    filter: str = Field(default="", max_length=40)
    taken: str = Field(default="", max_length=40)


class SurfaceFound(Frozen):
    """Best focus over the field from frames at two or more positions, um; as
    `server.frames.surface.Surface`.
    """

    tilt_u: Value
    tilt_v: Value
    curvature: Value
    astigmatism: Value
    astigmatism_u: Value
    astigmatism_v: Value
    focus: Value | None
    in_focus_px: float | None = None
    agree: bool
    stars: int

    @property
    def tilt(self) -> complex:
        """Rise per half diagonal, um; points to where best focus lies further out."""
        return complex(self.tilt_u.value, self.tilt_v.value)

    def at(self, w: complex) -> float:
        """Best focus at a place w, um from that of the middle."""
        return (self.tilt.conjugate() * w).real + self.curvature.value * abs(w) ** 2

    @property
    def across_um(self) -> float:
        """The tilt from corner to corner."""
        return 2.0 * abs(self.tilt)

    @property
    def tilt_error(self) -> float:
        """The error of the tilt's size, um per half diagonal."""
        size = abs(self.tilt)
        if not size:
            return max(self.tilt_u.error, self.tilt_v.error)
        u, v = self.tilt.real / size, self.tilt.imag / size
        return float(((u * self.tilt_u.error) ** 2 + (v * self.tilt_v.error) ** 2) ** 0.5)


class HintFound(Frozen):
    """What one frame hints at, the sensor taken to stand too far out; all turns over if it stood too far
    in.
    """

    tilt_u: float
    tilt_v: float
    curvature: float
    astigmatism: float
    explained: float
    clear: bool
    side: Literal["", "out", "in"] = ""
    """On which side of focus the sensor stood, as the user said."""


class Common(Frozen):
    """A shape that all stars share: complex in px squared (drift) or without unit (coma)."""

    across: float
    up: float
    error: float

    @property
    def whole(self) -> complex:
        """As one number."""
        return complex(self.across, self.up)


class PlateFound(Frozen):
    """World coordinates of a picture."""

    scale_arcsec: float
    mirrored: bool
    focal_mm: float
    corner: float = 0.0
    """By what share the scale in the widest corner is larger, by the picture's own distortion."""


class StarTable(Frozen):
    """The stars that counted, by columns: places px, light, and by frame half-flux diameters and moments,
    px.
    """

    x: tuple[float, ...] = Field(max_length=MOST_STARS)
    y: tuple[float, ...] = Field(max_length=MOST_STARS)
    flux: tuple[float, ...] = Field(max_length=MOST_STARS)
    half_flux: tuple[tuple[float, ...], ...] = Field(max_length=MOST_FRAMES)
    moment_across: tuple[tuple[float, ...], ...] = Field(max_length=MOST_FRAMES)
    moment_up: tuple[tuple[float, ...], ...] = Field(max_length=MOST_FRAMES)


class Cut(Frozen):
    """Cut-outs of the star nearest to one of the nine places, by frame.

    Attributes:
        place: as the stars' page names them, the picture as it is stored upright: rows rising upwards.
        x, y: where the star stands, px. pictures: `CUT_PX` squared bytes each, base64, a share of the star's
            peak.
    """

    place: str = Field(max_length=20)
    x: float
    y: float
    pictures: tuple[str, ...] = Field(max_length=MOST_FRAMES)


class Screws(Frozen):
    """The screws, or places for shims, by which a sensor is tilted.

    Attributes:
        radius_mm: from the axis. angles_deg: of each, from the right of the upright picture, anticlockwise,
            from behind the camera. pitch_mm: of their thread; None where shims go in instead.
    """

    radius_mm: float = Field(gt=0, le=500)
    angles_deg: tuple[float, ...] = Field(min_length=3, max_length=4)
    pitch_mm: float | None = Field(default=None, gt=0, le=5)


class Measured(Frozen):
    """A set of frames of one rig at one spacing, measured.

    Attributes:
        light: None where the rig did not say it: then nothing is in um.
        spacing_mm: from the corrector's shoulder to the sensor, as the user said it or the train added up.
        width_px, height_px: of a frame. sensor_px: of the rig's camera, unbinned; None unknown.
        binning: of the frames, along a side.
        rows_up: whether the file's rows count upwards, as FITS has it.
        drift, coma: what all stars share. drift is of the whole set.
        surface: with two or more positions; hint: with one frame.
        radius_px: within which sizes were measured. trouble: a code where nothing could be fitted.
        mosaic: the frames are a colour camera's raw ones.
        quick: only windows spread over the frames were looked at.
        left: what the surface leaves of stars' best focus: half diagonals from the middle, and um.
        screws: as the user entered them. lies: how the picture lies on the sensor, once a turn of one has
            told.
    """

    schema_version: int = SCHEMA
    made_at: datetime
    light: Light | None
    spacing_mm: float | None = Field(default=None, ge=0, le=2000)
    width_px: int
    height_px: int
    sensor_px: tuple[int, int] | None = None
    binning: int = Field(default=1, ge=1, le=MOST_BINNED)
    rows_up: bool = True
    mosaic: bool = False
    quick: bool = False
    radius_px: int
    frames: tuple[FrameLine, ...] = Field(min_length=1, max_length=MOST_FRAMES)
    matched: int
    surface: SurfaceFound | None = None
    hint: HintFound | None = None
    drift: Common | None = None
    coma: Common | None = None
    plate: PlateFound | None = None
    trouble: Literal["", "no_stars", "few_stars", "no_match", "one_place", "wrong_step"] = ""
    stars: StarTable
    left: tuple[tuple[float, float], ...] = Field(default=(), max_length=MOST_STARS)
    cuts: tuple[Cut, ...] = Field(default=(), max_length=9)
    screws: Screws | None = None
    lies: Lies | None = None

    @property
    def step_um(self) -> float | None:
        """Um of focus for each of the focuser's steps, by the frames' positions; below 0: they count in."""
        told = [
            (f.focuser, f.focus_um) for f in self.frames if f.focuser is not None and f.focus_um is not None
        ]
        low, high = min(told, default=(0.0, 0.0)), max(told, default=(0.0, 0.0))
        return None if high[0] == low[0] else (high[1] - low[1]) / (high[0] - low[0])

    @property
    def stretched(self) -> tuple[str, ...]:
        """The frames whose brightness was stretched: their sizes mean nothing."""
        return tuple(frame.name for frame in self.frames if frame.stretched)

    @property
    def spacing(self) -> Amount | None:
        """The spacing, to be written."""
        if self.spacing_mm is None:
            return None
        return Amount(value=self.spacing_mm, dimension="length", digits=2)

    def shown(self, vector: complex) -> complex:
        """A vector, or a shape, in the picture as it is shown: rows that run down are turned over."""
        return vector if self.rows_up else vector.conjugate()

    @property
    def half_sides(self) -> tuple[float, float]:
        """Half the frame's sides in half diagonals."""
        return self.width_px / 2.0 / self.half_diagonal_px, self.height_px / 2.0 / self.half_diagonal_px

    @property
    def half_diagonal_px(self) -> float:
        """From the middle of a frame to its corner."""
        return 0.5 * float((self.width_px**2 + self.height_px**2) ** 0.5)

    @property
    def half_diagonal_mm(self) -> float | None:
        """The same on the sensor; None while the pixels are not known."""
        return None if self.light is None else self.half_diagonal_px * self.light.pixel_um / 1000.0


class StoredMeasured(Frozen):
    """A measurement as it is stored, and the entry of the logbook that it belongs to."""

    id: int
    observer_id: int
    rig_id: int
    entry_id: int | None
    name: str
    measured: Measured
