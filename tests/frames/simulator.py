"""Frames of stars with a known truth: rays or waves through an annular pupil, air, guiding, pixels, noise.

A star's light is laid down by the exact places of its rays in its own transform, where air (Moffat 1969),
drift, wind and the pixel's own square are factors. So a picture has no noise but what is added at the end.
No diffraction. Places on the field are w = u + iv in half diagonals from the middle; lengths along the
light are um, larger further from the optics; directions are from rising columns towards rising rows.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt
from scipy.special import gamma, kv

Array = npt.NDArray[np.floating]
Complex = npt.NDArray[np.complex128]
Picture = npt.NDArray[np.float32]
Counts = npt.NDArray[np.uint16]

_WINDOW = 64
"""Side of a star's picture, px; what of its wings lies beyond comes in again at the other side."""
_RAYS = 300
_AT_ONCE = 50
_SEEN = 40
"""Side of what a wave is followed over, px."""


@dataclass(frozen=True)
class Optics:
    """A tube and its sensor.

    Attributes:
        columns, rows: px. pixel_um. focal_ratio: at the sensor. obstruction: linear, 0 to below 1.
        focus: the middle's best focus, um. tilt: rise of best focus per half diagonal, um, towards where it
            is further out. curvature: its rise from the middle to a corner, um.
        astigmatism: at a corner, half the gap of the line foci, um, above 0 with radial lines where the
            sensor stands too far out; astigmatism_all: the same for all the field, at twice its lines'
        direction. coma: um on the sensor, a third of the tail's length, towards the tail.
    """

    columns: int = 1500
    rows: int = 1000
    pixel_um: float = 3.76
    focal_ratio: float = 5.0
    obstruction: float = 0.0
    focus: float = 0.0
    tilt: complex = 0j
    curvature: float = 0.0
    astigmatism: float = 0.0
    astigmatism_all: complex = 0j
    coma: complex = 0j
    wave_um: float = 0.0

    def places(self, x: Array, y: Array) -> Complex:
        """Return w of pixels, the first pixel's centre at 0."""
        half = 0.5 * math.hypot(self.columns, self.rows)
        found = np.empty(len(x), dtype=np.complex128)
        found.real = (x - (self.columns - 1) / 2.0) / half
        found.imag = (y - (self.rows - 1) / 2.0) / half
        return found

    def best_focus(self, w: Complex) -> Array:
        """Return where stars are sharpest, um."""
        found: Array = self.focus + (np.conj(self.tilt) * w).real + self.curvature * np.abs(w) ** 2
        return found


@dataclass(frozen=True)
class Night:
    """What lies between the stars and the numbers.

    Attributes:
        fwhm_px: of the air alone. beta: its Moffat exponent. drift_px: length of a steady drift, at
        drift_deg. wind_px: root mean square of a swing along the same line.
        sky_e: a pixel's. read_e: its read noise. gradient_e: from the left edge to the right. nebula_e: of
            the brightest clouds and knots. clear: share of the light that comes through.
        full_e: what a pixel holds. mosaic: a colour camera's shares of red, green, blue; None: mono.
    """

    fwhm_px: float = 3.0
    beta: float = 3.5
    drift_px: float = 0.0
    drift_deg: float = 0.0
    wind_px: float = 0.0
    sky_e: float = 300.0
    read_e: float = 3.0
    gradient_e: float = 0.0
    nebula_e: float = 0.0
    clear: float = 1.0
    full_e: float = 65535.0
    mosaic: tuple[float, float, float] | None = None


@dataclass(frozen=True)
class Field:
    """What there is to be seen, and what the camera adds.

    Attributes:
        seed: of the places. stars: how many. faintest_e: their least light, e-, more of them the fainter.
        galaxies; doubles: share of stars with another at 2 to 7 px; hot: pixels of the camera, the same on
            every frame; cosmic_rays, trails: new on every frame.
    """

    seed: int = 1
    stars: int = 300
    faintest_e: float = 3000.0
    brightest_e: float = 2e6
    galaxies: int = 0
    doubles: float = 0.0
    hot: int = 0
    cosmic_rays: int = 0
    trails: int = 0


@dataclass(frozen=True, eq=False)
class Sources:
    """Stars and galaxies: centres px, light e-, and a galaxy's scale px, flattening and direction, rad
    (scale 0: a star)."""

    x: Array
    y: Array
    light: Array
    scale: Array = field(default_factory=lambda: np.empty(0))
    flat: Array = field(default_factory=lambda: np.empty(0))
    turn: Array = field(default_factory=lambda: np.empty(0))


def sources(optics: Optics, there: Field) -> Sources:
    """Return what stands on the field, the same for every frame of it."""
    chance = np.random.default_rng((there.seed, 1))
    edge = 25.0
    count = there.stars
    x = chance.uniform(edge, optics.columns - edge, count)
    y = chance.uniform(edge, optics.rows - edge, count)
    # Star counts rise with the light's power of -0.8, as in a field off the Milky Way (a usual figure).
    light = np.minimum(there.faintest_e * chance.uniform(size=count) ** -1.25, there.brightest_e)
    pairs = int(there.doubles * count)
    apart = chance.uniform(2.0, 7.0, pairs) * np.exp(2j * np.pi * chance.uniform(size=pairs))
    far = there.galaxies
    return Sources(
        x=np.concatenate([x, x[:pairs] + apart.real, chance.uniform(edge, optics.columns - edge, far)]),
        y=np.concatenate([y, y[:pairs] + apart.imag, chance.uniform(edge, optics.rows - edge, far)]),
        light=np.concatenate(
            [light, light[:pairs] * chance.uniform(0.1, 1.0, pairs), chance.uniform(5e3, 1e5, far)]
        ),
        scale=np.concatenate([np.zeros(count + pairs), chance.uniform(1.5, 6.0, far)]),
        flat=np.concatenate([np.ones(count + pairs), chance.uniform(0.3, 1.0, far)]),
        turn=np.concatenate([np.zeros(count + pairs), chance.uniform(0.0, np.pi, far)]),
    )


def frame(
    optics: Optics,
    night: Night,
    there: Field,
    at_um: float = 0.0,
    noise: int = 0,
    shift: complex = 0j,
) -> Counts:
    """Return one frame, electrons as counts, with the sensor at `at_um`.

    noise: seeds all that is new on each frame. shift: of all sources, px.
    """
    return counts(clean(optics, night, there, at_um, shift), night, there, noise)


def clean(optics: Optics, night: Night, there: Field, at_um: float = 0.0, shift: complex = 0j) -> Picture:
    """Return the frame's expected electrons, before any noise."""
    seen = sources(optics, there)
    seen = replace(seen, x=seen.x + shift.real, y=seen.y + shift.imag)
    picture = np.zeros((optics.rows + 2 * _WINDOW, optics.columns + 2 * _WINDOW), dtype=np.float32)
    for first in range(0, len(seen.x), _AT_ONCE):
        part = slice(first, first + _AT_ONCE)
        some = Sources(*(getattr(seen, name)[part] for name in ("x", "y", "light", "scale", "flat", "turn")))
        column, row = np.floor(some.x).astype(int), np.floor(some.y).astype(int)
        for light, i, j in zip(_pictures(optics, night, some, at_um), column, row, strict=True):
            low, left = j + _WINDOW // 2, i + _WINDOW // 2
            if 0 <= low <= optics.rows + _WINDOW and 0 <= left <= optics.columns + _WINDOW:
                picture[low : low + _WINDOW, left : left + _WINDOW] += light
    picture = picture[_WINDOW:-_WINDOW, _WINDOW:-_WINDOW] + _sky(optics, night, there)
    picture *= np.float32(night.clear)
    if night.mosaic is not None:
        red, green, blue = night.mosaic
        picture[::2, ::2] *= red
        picture[::2, 1::2] *= green
        picture[1::2, ::2] *= green
        picture[1::2, 1::2] *= blue
    return np.maximum(picture, 0.0)


def counts(picture: Picture, night: Night, there: Field, noise: int) -> Counts:
    """Return a picture of expected electrons as a camera counts them, with what hits and ails it."""
    chance = np.random.default_rng((there.seed, 2, noise))
    read = picture + np.sqrt(picture + np.float32(night.read_e**2)) * chance.standard_normal(
        picture.shape, np.float32
    )
    camera = np.random.default_rng((there.seed, 3))
    rows, columns = picture.shape
    read[camera.integers(0, rows, there.hot), camera.integers(0, columns, there.hot)] += camera.uniform(
        500, 40_000, there.hot
    ).astype(np.float32)
    for _ in range(there.cosmic_rays):
        _line(read, chance, chance.uniform(1.0, 15.0), chance.uniform(500, 5000), 0.0)
    for _ in range(there.trails):
        _line(read, chance, 2.0 * columns, 300.0, night.fwhm_px / 2.355)
    return np.clip(np.rint(read), 0, min(night.full_e, 65535.0)).astype(np.uint16)


def stretched(frame: Counts, midtone: float = 0.02) -> npt.NDArray[np.uint8]:
    """Return a frame as it is made to be looked at: 8 bit, the faint lifted by a curve that never falls."""
    low, high = np.percentile(frame[::7, ::7], [1.0, 99.97])
    part = np.clip((frame.astype(np.float32) - low) / (high - low), 0.0, 1.0)
    lifted = (midtone - 1.0) * part / ((2.0 * midtone - 1.0) * part - midtone)
    return np.rint(255.0 * lifted).astype(np.uint8)


def _line(read: Picture, chance: np.random.Generator, length: float, light: float, wide: float) -> None:
    """Draw a straight line of light, e- in each pixel of it, across a place drawn by chance."""
    rows, columns = read.shape
    along = np.arange(-length / 2.0, length / 2.0, 0.5)
    turn = np.exp(1j * chance.uniform(0.0, np.pi))
    off = chance.normal(0.0, wide, (20, 1)) if wide else np.zeros((1, 1))
    spot = complex(chance.uniform(0, columns), chance.uniform(0, rows)) + turn * (along + 1j * off)
    x, y = np.rint(spot.real).astype(int).ravel(), np.rint(spot.imag).astype(int).ravel()
    inside = (x >= 0) & (x < columns) & (y >= 0) & (y < rows)
    np.add.at(read, (y[inside], x[inside]), np.float32(light / len(off)))


def _sky(optics: Optics, night: Night, there: Field) -> Picture:
    across = np.linspace(-0.5, 0.5, optics.columns, dtype=np.float32)[None, :]
    up = np.linspace(-0.5, 0.5, optics.rows, dtype=np.float32)[:, None]
    sky: Picture = night.sky_e + night.gradient_e * across + 0.0 * up
    if night.nebula_e:
        chance = np.random.default_rng((there.seed, 4))
        for _ in range(12):
            a, b, wide = (
                chance.uniform(-0.4, 0.4),
                chance.uniform(-0.4, 0.4),
                10 ** chance.uniform(-2.3, -0.7),
            )
            strength = night.nebula_e * chance.uniform(0.2, 1.0)
            by_x, by_y = (
                np.exp(-((part - at) ** 2) / (2.0 * wide**2)) for part, at in ((across, a), (up, b))
            )
            sky += np.float32(strength) * by_x * by_y
    return sky


def _pupil(obstruction: float) -> Complex:
    """Return rays evenly spread over the annulus, the edge at 1: a sunflower's seeds (Vogel 1979)."""
    number = np.arange(_RAYS) + 0.5
    radius = np.sqrt(obstruction**2 + (1.0 - obstruction**2) * number / _RAYS)
    rays: Complex = radius * np.exp(1j * math.pi * (3.0 - math.sqrt(5.0)) * number)
    return rays - rays.mean()


def _pictures(optics: Optics, night: Night, some: Sources, at_um: float) -> Picture:
    """Return the light of sources on their windows, shape (n, window, window); a source's own pixel (the
    floor of its place) stands at the window's middle."""
    fx: Array = np.fft.rfftfreq(_WINDOW)
    fy: Array = np.fft.fftfreq(_WINDOW)
    w = optics.places(some.x, some.y)
    defocus, lines = at_um - optics.best_focus(w), optics.astigmatism_all + optics.astigmatism * w**2
    shift = (some.x % 1.0) + 1j * (some.y % 1.0)
    through = _by_waves if optics.wave_um else _by_rays
    light = through(optics, defocus, lines, shift) * some.light[:, None, None]
    light = light * _air(night, fx[None, :], fy[:, None])
    if some.scale.any():
        light = light * _disc(some, fx, fy)
    pictures = np.fft.irfft2(light, s=(_WINDOW, _WINDOW))
    return np.fft.fftshift(pictures, axes=(1, 2)).astype(np.float32)


def _by_rays(optics: Optics, defocus: Array, lines: Complex, shift: Complex) -> Complex:
    """Return the transfer of the pupil's rays, shape (n, window, window / 2 + 1), 1 at 0.

    defocus, lines: of each source, um. shift: of its centre, px.
    """
    rays = _pupil(optics.obstruction)
    spot = (defocus[:, None] * rays + lines[:, None] * np.conj(rays)) / (2.0 * optics.focal_ratio)
    # Coma's wavefront goes with |p|^2 Re(C* p); its gradient, about the mean over the annulus.
    mean = (1.0 + optics.obstruction**2) / 2.0
    spot = spot + rays**2 * np.conj(optics.coma) + 2.0 * (np.abs(rays) ** 2 - mean) * optics.coma
    place = spot / optics.pixel_um + shift[:, None]
    by_x, by_y = (_waves(part) for part in (place.real, place.imag))
    # Rows of the transform for frequencies from 0 up, then for those below 0.
    rising, falling = np.swapaxes(by_y, 1, 2) @ by_x, np.swapaxes(by_y[:, :, 1:-1].conj(), 1, 2) @ by_x
    whole = np.concatenate([rising, falling[:, ::-1]], axis=1)
    return np.asarray(whole / _RAYS, dtype=np.complex128)


def _by_waves(optics: Optics, defocus: Array, lines: Complex, shift: Complex) -> Complex:
    """Return the same of a wave through the pupil: its picture within `_SEEN` px, by a plain sum over both
    (Goodman, Introduction to Fourier Optics, section 5.2), and the transform of that.
    """
    spread = optics.wave_um * optics.focal_ratio / optics.pixel_um
    across = math.ceil(1.1 * _SEEN / spread)
    edge = (np.arange(across) + 0.5) * 2.0 / across - 1.0
    p = edge[None, :] + 1j * edge[:, None]
    open_ = (np.abs(p) <= 1.0) & (np.abs(p) >= optics.obstruction)
    # The wavefront whose slope, times 2 N, is where a ray lands.
    comet = (np.abs(p) ** 2 - 1.0 - optics.obstruction**2) * (np.conj(optics.coma) * p).real
    bent = defocus[:, None, None] * np.abs(p) ** 2 + (np.conj(lines)[:, None, None] * p**2).real
    path = bent / (8.0 * optics.focal_ratio**2) + comet / (2.0 * optics.focal_ratio)
    pupil = (open_ * np.exp((2j * np.pi / optics.wave_um) * path)).astype(np.complex64)
    # As fine as the picture's own frequencies, to 1 / spread, and the pixels' ask for.
    fine = math.ceil(1.0 / spread + 0.5)
    at = np.arange(-_SEEN * fine // 2, _SEEN * fine // 2) / fine
    to_picture = np.exp(-1j * np.pi / spread * at[:, None] * edge).astype(np.complex64)
    picture = np.abs(to_picture @ pupil @ to_picture.T) ** 2
    picture /= picture.sum(axis=(1, 2), keepdims=True)
    fx: Array = np.fft.rfftfreq(_WINDOW)
    fy: Array = np.fft.fftfreq(_WINDOW)
    by_x, by_y = (np.exp(-2j * np.pi * f[:, None] * at).astype(np.complex64) for f in (fx, fy))
    moved = np.exp(-2j * np.pi * (fx * shift.real[:, None, None] + fy[:, None] * shift.imag[:, None, None]))
    return np.asarray((by_y @ picture @ by_x.T) * moved, dtype=np.complex128)


def _waves(place: Array) -> npt.NDArray[np.complex64]:
    """Return exp(-2 pi i f x) of places for the frequencies f = 0 to 1/2 per px, on a new last axis."""
    step = np.exp(-2j * np.pi / _WINDOW * place).astype(np.complex64)
    waves = np.empty((*place.shape, _WINDOW // 2 + 1), dtype=np.complex64)
    waves[..., 0] = 1.0
    for number in range(1, waves.shape[-1]):
        np.multiply(waves[..., number - 1], step, out=waves[..., number])
    return waves


def _air(night: Night, fx: Array, fy: Array) -> Array:
    """Return the transfer of air, drift, wind and the square pixel at frequencies, 1/px."""
    core = 0.5 * night.fwhm_px / math.sqrt(2.0 ** (1.0 / night.beta) - 1.0)
    reach = np.maximum(2.0 * math.pi * core * np.hypot(fx, fy), 1e-9)
    order = night.beta - 1.0
    # The Hankel transform of (1 + r^2/core^2)^-beta (Gradshteyn & Ryzhik 6.565.4), 1 at 0.
    moffat = 2.0 * (reach / 2.0) ** order * kv(order, reach) / gamma(order)
    turn = math.radians(night.drift_deg)
    along = fx * math.cos(turn) + fy * math.sin(turn)
    moved = np.sinc(night.drift_px * along) * np.exp(-2.0 * (math.pi * night.wind_px * along) ** 2)
    found: Array = moffat * moved * np.sinc(fx) * np.sinc(fy)
    return found


def _disc(some: Sources, fx: Array, fy: Array) -> Array:
    """Return the transfer of galaxies' exponential discs; 1 for stars."""
    cos, sin = np.cos(some.turn)[:, None, None], np.sin(some.turn)[:, None, None]
    along = fx[None, None, :] * cos + fy[None, :, None] * sin
    across = (fy[None, :, None] * cos - fx[None, None, :] * sin) * some.flat[:, None, None]
    reach = (2.0 * np.pi * some.scale[:, None, None]) ** 2 * (along**2 + across**2)
    found: Array = (1.0 + reach) ** -1.5
    return found
