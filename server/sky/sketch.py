"""A frame as it might look, in numbers: light, noise and counts of each pixel of a drawing.

x goes right and y up from the middle of the frame; row 0 of an array is its top. It is a sketch: targets have
the mean face of their kind (`profiles`), the sky is even but for a slope, and no dust, arm or artefact is
drawn.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from server.out_of_range import OutOfRangeError
from server.sky.profiles import light_within, reach, surface_map
from server.sky.ranges import Numbers, checked

Picture = npt.NDArray[np.float32]
#: A patch of no more pixels is drawn whole and made to hold its light exactly.
_WHOLE_PX = 250_000
_SAMPLES = 600_000
#: Stars are drawn one by one and exactly while they cover no more pixels together, or are no wider than this.
_STAMPED_PX, _NARROW_PX = 3_000_000, 2.0
_ERF = np.frompyfunc(math.erf, 1, 1)
_FIX = "Check the figure and its unit."


@dataclass(frozen=True)
class Patch:
    """A target that is no point.

    x_arcmin, y_arcmin: its middle. major_arcmin, minor_arcmin: full axes of its ellipse, above 0. angle_deg:
    of the major axis, from up anticlockwise as seen. kind, hubble: as `profiles`. e_s: electrons per second
    from within the ellipse (a galaxy's outskirts come on top), 0 or more.
    """

    x_arcmin: float
    y_arcmin: float
    major_arcmin: float
    minor_arcmin: float
    angle_deg: float
    kind: str
    hubble: str
    e_s: float


@dataclass(frozen=True)
class Star:
    """A star, or many as arrays of one length. x_arcmin, y_arcmin: place. e_s: electrons per second."""

    x_arcmin: npt.ArrayLike
    y_arcmin: npt.ArrayLike
    e_s: npt.ArrayLike


@dataclass(frozen=True, eq=False)
class Sketch:
    """A drawn frame; arrays of (height, width) in electrons of a drawing's pixel over the whole time.

    mean_e: what is expected, with sky and dark current and cut off at the full well. noise_e: its standard
    deviation. counts_e: with noise. sky_e, sky_noise_e: both of an empty pixel in the middle, for `stretch`.
    """

    mean_e: Picture
    noise_e: Picture
    counts_e: Picture
    sky_e: float
    sky_noise_e: float


@dataclass(frozen=True)
class _Grid:
    width: int
    height: int
    arcmin: float  # a drawing pixel's side

    def column(self, x_arcmin: npt.ArrayLike) -> Numbers:
        """Where a place lies, counted from the left edge: the first pixel's middle is 0.5."""
        return np.asarray(np.asarray(x_arcmin, dtype=np.float64) / self.arcmin + self.width / 2.0)

    def row(self, y_arcmin: npt.ArrayLike) -> Numbers:
        return np.asarray(self.height / 2.0 - np.asarray(y_arcmin, dtype=np.float64) / self.arcmin)


def draw_sketch(
    width_px: int,
    height_px: int,
    arcmin_per_px: float,
    sensor_pixel_arcsec: float,
    patches: Sequence[Patch],
    stars: Star,
    *,
    sky_e_s_arcsec2: float,
    sky_gradient_share: float,
    dark_e_s_px: float,
    read_noise_e: float,
    sub_s: float,
    total_s: float,
    full_well_e: float,
    seed: int,
    star_picture: npt.ArrayLike | None = None,
    fwhm_arcsec: float | None = None,
) -> Sketch:
    """Return a frame drawn.

    width_px, height_px: of the drawing, 1 to 8000. arcmin_per_px: of the drawing; sensor_pixel_arcsec: the
    sensor's pixel on the sky; a drawing's pixel holds as many sensor pixels as fit into it, fractions too,
    and their light, dark current and read noise. sky_gradient_share: by how much of itself the sky is
    brighter at the lower edge than at the upper, -2 to 2; sky_e_s_arcsec2 is the middle's. dark_e_s_px,
    read_noise_e, full_well_e: of a sensor pixel. sub_s, total_s: of one exposure and of all. seed: the
    noise's. Stars look as star_picture, an array with odd sides at the drawing's scale whose sum is 1, or,
    without one, as round Gaussians of fwhm_arcsec. Raises OutOfRangeError. Patches are not blurred by the
    seeing; a star burns out on the drawing only where a whole drawing pixel is full, later than its peak
    does. Noise is Gaussian.
    Source: the CCD equation, as `exposure`.
    """
    grid = _Grid(_side(width_px), _side(height_px), _above("The drawing's scale", arcmin_per_px, "arcmin"))
    pixel = _above("The sensor's pixel", sensor_pixel_arcsec, "arcsec")
    sub, total = _above("The exposure", sub_s, "s"), _above("The whole time", total_s, "s")
    well = _above("The full well", full_well_e, "electrons")
    slope = float(checked("The sky's slope", sky_gradient_share, -2.0, 2.0, "", "Give a share such as 0.1."))
    sky, dark, read = (
        float(checked(what, value, 0.0, 1e12, unit, _FIX))
        for what, value, unit in (
            ("The sky's light", sky_e_s_arcsec2, "electrons per s"),
            ("The dark current", dark_e_s_px, "electrons per s"),
            ("The read noise", read_noise_e, "electrons"),
        )
    )
    side_arcsec = grid.arcmin * 60.0
    pixels = (side_arcsec / pixel) ** 2
    sky_rate, dark_rate = sky * side_arcsec**2, dark * pixels
    light = np.zeros((grid.height, grid.width), dtype=np.float64)
    _add_stars(light, grid, stars, star_picture, fwhm_arcsec)
    for patch in patches:
        _add_patch(light, grid, patch)
    down = (np.arange(grid.height) + 0.5) / grid.height - 0.5
    light += (sky_rate * (1.0 + slope * down) + dark_rate)[:, None]
    light *= total
    subs = total / sub
    np.clip(light, 0.0, well * pixels * subs, out=light)
    read2 = read**2 * pixels * subs
    mean = light.astype(np.float32)
    noise = np.sqrt(mean + np.float32(read2))
    counts = np.random.default_rng(seed).standard_normal(mean.shape, dtype=np.float32)
    counts *= noise
    counts += mean
    empty = (sky_rate + dark_rate) * total
    return Sketch(mean, noise, counts, empty, math.sqrt(empty + read2))


def stretch(
    counts: npt.ArrayLike, sky: float, noise: float, white_noises: float = 1000.0, soft_noises: float = 4.0
) -> npt.NDArray[np.uint8]:
    """Return counts as grey from 0 to 255: black at two noises below the sky, even steps, then ever smaller
    ones.

    sky, noise: of ONE frame for all that are to be compared, its `sky_e` and `sky_noise_e`, above 0; what has
    other pixels or another time is to be brought to that frame's electrons first. white_noises: how many
    noises above black is white; soft_noises: where the steps begin to shrink, both above 0. Raises
    OutOfRangeError.
    Source: asinh, after Lupton et al., PASP 116, 133 (2004) (from memory).
    """
    sigma = _above("The noise", noise, "electrons")
    soft = _above("The soft end", soft_noises, "")
    full = math.asinh(_above("White", white_noises, "") / soft)
    grey = np.asarray(counts, dtype=np.float32) - np.float32(sky - 2.0 * sigma)
    grey *= np.float32(1.0 / (soft * sigma))
    np.arcsinh(grey, out=grey)
    grey *= np.float32(255.0 / full)
    np.clip(grey, 0.0, 255.0, out=grey)
    return np.asarray(np.rint(grey), dtype=np.uint8)


def _add_patch(light: Numbers, grid: _Grid, patch: Patch) -> None:
    """A patch's electrons per second onto the drawing: whole if it is small, else by its brightness alone."""
    e_s = float(checked("The target's light", patch.e_s, 0.0, 1e15, "electrons per s", _FIX))
    for what, value in (("across", patch.x_arcmin), ("up", patch.y_arcmin)):
        checked(f"The target's place {what}", value, -1e6, 1e6, "arcmin", _FIX)
    checked(
        "The target's size", (patch.major_arcmin, patch.minor_arcmin), 0.0, 1e5, "arcmin", _FIX, above=True
    )
    far = reach(patch.kind) / 2.0 / grid.arcmin
    turn = math.radians(patch.angle_deg)
    cos, sin = math.cos(turn), math.sin(turn)
    half_w = far * math.hypot(patch.major_arcmin * sin, patch.minor_arcmin * cos)
    half_h = far * math.hypot(patch.major_arcmin * cos, patch.minor_arcmin * sin)
    x, y = float(grid.column(patch.x_arcmin)), float(grid.row(patch.y_arcmin))
    left, right = math.floor(x - half_w), math.ceil(x + half_w)
    top, bottom = math.floor(y - half_h), math.ceil(y + half_h)
    seen = (max(top, 0), min(bottom, grid.height), max(left, 0), min(right, grid.width))
    if e_s == 0.0 or seen[0] >= seen[1] or seen[2] >= seen[3]:
        return
    area = (right - left) * (bottom - top)
    if area <= _WHOLE_PX:
        parts = min(16, math.ceil(32.0 * grid.arcmin / patch.minor_arcmin), int(math.sqrt(_SAMPLES / area)))
        drawn = _cells(grid, patch, (top, bottom, left, right), max(1, parts))
        _sharpen(drawn, grid, patch, (top, bottom, left, right))
        whole = float(drawn.sum())
        if whole <= 0.0:  # thinner than any sample: all of it into the middle
            drawn[int(y) - top, int(x) - left] = whole = 1.0
        drawn *= light_within(patch.kind, patch.hubble, reach(patch.kind)) / whole
        drawn = drawn[seen[0] - top : seen[1] - top, seen[2] - left : seen[3] - left]
    else:
        drawn = _cells(grid, patch, seen, 1)
        _sharpen(drawn, grid, patch, seen)
    light[seen[0] : seen[1], seen[2] : seen[3]] += e_s * drawn


def _cells(grid: _Grid, patch: Patch, box: tuple[int, int, int, int], parts: int) -> Numbers:
    """The share of light in each pixel of a box (top, bottom, left, right), from parts x parts samples."""
    top, bottom, left, right = box
    columns = left + (np.arange((right - left) * parts) + 0.5) / parts
    rows = top + (np.arange((bottom - top) * parts) + 0.5) / parts
    x = (columns - grid.width / 2.0) * grid.arcmin - patch.x_arcmin
    y = (grid.height / 2.0 - rows) * grid.arcmin - patch.y_arcmin
    share = surface_map(
        patch.kind,
        patch.hubble,
        x[None, :],
        y[:, None],
        patch.major_arcmin,
        patch.minor_arcmin,
        patch.angle_deg,
    )
    if parts > 1:
        share = share.reshape(bottom - top, parts, right - left, parts).mean(axis=(1, 3))
    return np.asarray(share * grid.arcmin**2, dtype=np.float64)


def _sharpen(drawn: Numbers, grid: _Grid, patch: Patch, box: tuple[int, int, int, int]) -> None:
    """The pixels about a target's middle again, from many samples: a galaxy has a cusp there."""
    row, column = int(grid.row(patch.y_arcmin)), int(grid.column(patch.x_arcmin))
    for around, parts in ((4, 9), (0, 81)):
        top, bottom = max(box[0], row - around), min(box[1], row + around + 1)
        left, right = max(box[2], column - around), min(box[3], column + around + 1)
        if top < bottom and left < right:
            fine = _cells(grid, patch, (top, bottom, left, right), parts)
            drawn[top - box[0] : bottom - box[0], left - box[2] : right - box[2]] = fine


def _add_stars(
    light: Numbers,
    grid: _Grid,
    stars: Star,
    star_picture: npt.ArrayLike | None,
    fwhm_arcsec: float | None,
) -> None:
    light_s = checked("A star's light", stars.e_s, 0.0, 1e15, "electrons per s", _FIX)
    places = np.atleast_1d(grid.column(stars.x_arcmin)), np.atleast_1d(grid.row(stars.y_arcmin))
    x, y, e_s = np.broadcast_arrays(*places, light_s)
    if star_picture is not None:
        picture = np.asarray(star_picture, dtype=np.float64)
        if picture.ndim != 2 or not all(side % 2 for side in picture.shape):
            raise OutOfRangeError(f"The star's picture is {picture.shape}; give one with two odd sides.")
        _spread(light, x, y, e_s, picture)
        return
    if fwhm_arcsec is None:
        raise OutOfRangeError("The star has neither a picture nor a width; give one of them.")
    fwhm = _above("The star's width", fwhm_arcsec, "arcsec")
    sigma = fwhm / 60.0 / grid.arcmin / math.sqrt(8.0 * math.log(2.0))
    around = math.ceil(4.5 * sigma) + 1
    if fwhm / 60.0 / grid.arcmin <= _NARROW_PX or e_s.size * (2 * around + 2) ** 2 <= _STAMPED_PX:
        _stamp(light, x, y, e_s, sigma, around)
    else:
        line = np.exp(-0.5 * (np.arange(-around, around + 1) / sigma) ** 2)
        _spread(light, x, y, e_s, np.outer(line, line) / line.sum() ** 2)


def _stamp(light: Numbers, x: Numbers, y: Numbers, e_s: Numbers, sigma: float, around: int) -> None:
    """Each star as a Gaussian, integrated over the pixels; a rim about the drawing takes what hangs over."""
    height, width = light.shape
    near = (x > -around) & (x < width + around) & (y > -around) & (y < height + around)
    x, y, e_s = x[near], y[near], e_s[near]
    steps = np.arange(-around, around + 2)
    column, row = np.floor(x).astype(np.intp), np.floor(y).astype(np.intp)

    def shares(place: Numbers, cell: npt.NDArray[np.intp]) -> Numbers:
        edges = (cell[:, None] + steps[None, :] - place[:, None]) / (sigma * math.sqrt(2.0))
        return np.asarray(np.diff(np.asarray(_ERF(edges), dtype=np.float64), axis=1) / 2.0)

    rim = 2 * around + 1
    wide = width + 2 * rim
    spots = (e_s[:, None] * shares(y, row))[:, :, None] * shares(x, column)[:, None, :]
    places = (row[:, None] + steps[None, :-1] + rim)[:, :, None] * wide
    places = places + (column[:, None] + steps[None, :-1] + rim)[:, None, :]
    drawn = np.bincount(places.ravel(), weights=spots.ravel(), minlength=wide * (height + 2 * rim))
    light += drawn.reshape(height + 2 * rim, wide)[rim : rim + height, rim : rim + width]


def _spread(light: Numbers, x: Numbers, y: Numbers, e_s: Numbers, picture: Numbers) -> None:
    """Each star as a picture: its light shared out among four pixels, and these points spread by Fourier."""
    rim_y, rim_x = picture.shape[0] // 2 + 1, picture.shape[1] // 2 + 1
    height, width = light.shape[0] + 2 * rim_y, light.shape[1] + 2 * rim_x
    fx, fy = x - 0.5 + rim_x, y - 0.5 + rim_y
    near = (fx >= 0.0) & (fx < width - 1) & (fy >= 0.0) & (fy < height - 1)
    fx, fy, e_s = fx[near], fy[near], e_s[near]
    column, row = np.floor(fx).astype(np.intp), np.floor(fy).astype(np.intp)
    u, v = fx - column, fy - row
    points = np.zeros(height * width)
    for down, right, share in (
        (0, 0, (1 - u) * (1 - v)),
        (0, 1, u * (1 - v)),
        (1, 0, (1 - u) * v),
        (1, 1, u * v),
    ):
        points += np.bincount(
            (row + down) * width + column + right, weights=share * e_s, minlength=height * width
        )
    size = (_smooth_size(height + 2 * rim_y), _smooth_size(width + 2 * rim_x))
    kernel = np.zeros(size)
    kernel[: picture.shape[0], : picture.shape[1]] = picture
    kernel = np.roll(kernel, (-(picture.shape[0] // 2), -(picture.shape[1] // 2)), axis=(0, 1))
    spectrum = np.fft.rfft2(points.reshape(height, width), size)
    spectrum *= np.fft.rfft2(kernel)
    drawn = np.fft.irfft2(spectrum, size)[rim_y : height - rim_y, rim_x : width - rim_x]
    light += np.maximum(drawn, 0.0)


def _smooth_size(least: int) -> int:
    """The next size whose only factors are 2, 3 and 5, which Fourier transforms like."""
    size = least
    while True:
        rest = size
        for factor in (2, 3, 5):
            while rest % factor == 0:
                rest //= factor
        if rest == 1:
            return size
        size += 1


def _side(pixels: int) -> int:
    return int(checked("The drawing's side", pixels, 1.0, 8000.0, "pixels", "Draw it smaller."))


def _above(what: str, value: float, unit: str) -> float:
    return float(checked(what, value, 0.0, 1e12, unit, _FIX, above=True))
