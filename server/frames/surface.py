"""The surface of best focus from frames at two or more positions of the focuser.

With defocus d = F - b(w) the trace of a star's second moments is seeing + 2k(d^2 + |A|^2) + coma^2, where
k = (1 + e^2) / (16 N^2 p^2): exactly quadratic in focus (Teague 1982, J. Opt. Soc. Am. 72, 1199). So the
difference of two frames is linear in b(w), and seeing, astigmatism and coma drop out of it, as in curvature
sensing (Roddier 1988, Appl. Opt. 27, 1223). The shape Q = drift + coma^2 + 4kdA turns over with the defocus
(Jarvis, Schechter & Jain 2008, arXiv:0810.0027). Papers from memory. One linear robust fit over all stars,
without cells.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from server.frames.measuring import Shapes
from server.frames.robust import Fit, fit

Array = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

#: What the half-flux diameter squared over 4, and the adaptive moments' size and shape, answer of 2kd^2 and
#: 4kdA under a real star's wings: set on simulated frames of rays.
_HALF_FLUX, _SIZE, _SHAPE = 0.85, 1.4, 1.25
#: By how much less they do by waves, per (wavelength x focal ratio) over a sharp star's half-flux diameter:
#: what the air leaves of a star comes from parts of the pupil near to each other, which defocus sets apart
#: less (Hopkins, Proc. R. Soc. A 231, 91 (1955), from memory). Set on 89 rigs drawn by chance in galsim
#: (f/2.8 to f/10, 2.4 to 6 um, 200 to 650 nm, obstructions to 0.42, seeing of 2.2 to 4.2 px), of which it
#: leaves 4, 8 and 6 % (one sigma).
_WAVES = (0.92, 1.18, 1.15)
#: By how much more they do behind an obstruction, per its square; from the same rigs.
_OBSTRUCTED = (0.29, 0.26, 0.18)
_LEAST_ANSWER = 0.3
#: A drift's share of the shape that the adaptive moments tell.
DRIFT_ANSWERS = 1.1
#: Beyond the fit's own error: a share of the surface's size, and a floor, um; so stated, errors held on
#: simulated frames.
_SHARE, _SHAPE_SHARE, _FLOOR_UM = 0.05, 0.1, 0.5
_APART = 3.0
#: By so much the middle of a set's positions may miss best focus beside what their sizes tell.
_OFF_FOCUS_UM = 10.0
LEAST_STARS = 40


@dataclass(frozen=True)
class Light:
    """What turns sizes on the sensor into defocus.

    Attributes:
        focal_ratio: the beam's at the sensor. obstruction: linear, 0 to below 1.
        pixel_um: as the frame has them, binned ones as large as they then are.
        wave_um: the light's mean wavelength; 0 for rays alone.
    """

    focal_ratio: float
    obstruction: float
    pixel_um: float
    wave_um: float = 0.55

    @property
    def k(self) -> float:
        """(1 + e^2) / (16 N^2 p^2), px^2 per um^2: a disc's variance along one axis, by its defocus."""
        return (1.0 + self.obstruction**2) / (16.0 * self.focal_ratio**2 * self.pixel_um**2)

    def answers(self, sharp: float) -> Answers:
        """Return how the measures answer defocus. sharp: a star's HFD^2/4 in best focus, px squared."""
        wave = self.wave_um * self.focal_ratio / self.pixel_um / (2.0 * math.sqrt(max(sharp, 0.25)))
        return Answers(
            *(
                usual * max(1.0 - less * wave + more * self.obstruction**2, _LEAST_ANSWER)
                for usual, less, more in zip((_HALF_FLUX, _SIZE, _SHAPE), _WAVES, _OBSTRUCTED, strict=True)
            )
        )


@dataclass(frozen=True)
class Answers:
    """What half-flux diameters squared over 4, and the adaptive size and shape, show of 2kd^2 and of 4kdA."""

    half_flux: float
    size: float
    shape: float


@dataclass(frozen=True)
class Told:
    """A figure with its standard error, the same unit."""

    value: float
    error: float

    @property
    def known(self) -> bool:
        """Whether it stands out of twice its error."""
        return abs(self.value) > 2.0 * self.error


@dataclass(frozen=True)
class Surface:
    """Best focus over the field, um; a larger figure lies further from the optics.

    Attributes:
        tilt_u, tilt_v: rise per half diagonal along x and along y.
        curvature: rise from the middle to a corner, without the tilt.
        astigmatism: at the corner, half the gap of the line foci; above 0 the lines are radial where the
            sensor stands too far out.
        astigmatism_u, astigmatism_v: the same all over the field, its two parts.
        focus: where the middle's best focus is, in the frames' own positions; None where the seeing changed
            too much, or two frames cannot tell.
        drift: complex, px squared: the shape that is common to all stars. drift_error: its error, one axis.
        coma: complex, no unit: the common third moment. coma_error: its error, one axis.
        residuals_um: of each star that counted, in um of focus, with w of its place; for the picture.
        in_focus_px: half-flux diameter in the middle at best focus; None where the frames are further out of
            focus than their stars are large: then the positions are not what they are said to be.
        stars: how many counted.
        agree: whether the other size tells the same.
    """

    tilt_u: Told
    tilt_v: Told
    curvature: Told
    astigmatism: Told
    astigmatism_u: Told
    astigmatism_v: Told
    focus: Told | None
    drift: complex
    drift_error: float
    coma: complex
    coma_error: float
    place: Complex
    residuals_um: Array
    in_focus_px: float | None
    stars: int
    agree: bool

    @property
    def tilt(self) -> complex:
        """The tilt as one number, um per half diagonal; points to where best focus lies further out."""
        return complex(self.tilt_u.value, self.tilt_v.value)


def places(x: Array, y: Array, width_px: int, height_px: int) -> Complex:
    """Return w of pixels of a frame."""
    half = 0.5 * math.hypot(width_px, height_px)
    found = np.empty(len(x), dtype=np.complex128)
    found.real = (x - (width_px - 1) / 2.0) / half
    found.imag = (y - (height_px - 1) / 2.0) / half
    return found


def fit_surface(
    frames: list[Shapes], focus_um: list[float], light: Light, width_px: int, height_px: int
) -> Surface:
    """Return the surface that the same stars on several frames tell.

    frames: shapes of the same n stars, by frame. focus_um: the focuser's positions in um of focus, at least
    two of them different; larger is further from the optics. Raises ValueError with fewer than `LEAST_STARS`
    stars.
    """
    keep = np.ones(len(frames[0].x), dtype=bool)
    for frame in frames:
        keep &= np.isfinite(frame.half_flux) & np.isfinite(frame.moment.real) & np.isfinite(frame.third.real)
    if int(keep.sum()) < LEAST_STARS:
        raise ValueError(f"{int(keep.sum())} stars are too few.")
    w = places(frames[0].x[keep], frames[0].y[keep], width_px, height_px)
    focus = np.array(focus_um)
    flux = np.median(np.stack([frame.flux[keep] for frame in frames]), axis=0)
    half_flux = np.stack([frame.half_flux[keep] ** 2 / 4.0 for frame in frames])
    sizes = np.stack([frame.size[keep] for frame in frames])
    shapes = np.stack([frame.moment[keep] for frame in frames])
    thirds = np.stack([frame.third[keep] for frame in frames])
    answers = _answers(_fit_sizes(half_flux, w, focus, flux, light.k), focus, light)
    first = _fit_sizes(half_flux, w, focus, flux, light.k * answers.half_flux)
    second = _fit_sizes(sizes, w, focus, flux, light.k * answers.size)
    size = math.hypot(*first.values[:3])
    apart = [
        abs(first.values[number] - second.values[number])
        > _APART * math.hypot(*(_error(one, number, size) for one in (first, second)))
        for number in range(3)
    ]
    widened = [
        abs(first.values[number] - second.values[number]) / 2.0 if any(apart) else 0.0 for number in range(3)
    ]
    told = [
        Told(float(first.values[number]), math.hypot(_error(first, number, size), widened[number]))
        for number in range(3)
    ]
    drift, drift_error, ast = _fit_shapes(shapes, w, focus, flux, light.k * answers.shape)
    # What the field's own astigmatism leaves in the mean, since best focus is not the same all over; and what
    # the frames' middle may be off focus, which nothing tells.
    lines = complex(ast[1].value, ast[2].value) + ast[0].value * w**2
    level = first.values[0] * w.real + first.values[1] * w.imag + first.values[2] * np.abs(w) ** 2
    steep = 4.0 * light.k * answers.shape
    drift += steep * complex((level * lines).mean())
    off = math.hypot(_OFF_FOCUS_UM, float(_parabola(first, focus, light.k * answers.half_flux)[0][1]))
    drift_error = math.hypot(drift_error, steep * off * abs(lines.mean()))
    coma, coma_error = _common(thirds, focus, flux)
    count = len(w)
    use = first.weights.reshape(len(focus), count).min(axis=0) > 0.0
    slope = np.polyfit(focus, first.residuals.reshape(len(focus), count), 1)[0]
    return Surface(
        tilt_u=told[0],
        tilt_v=told[1],
        curvature=told[2],
        astigmatism=ast[0],
        astigmatism_u=ast[1],
        astigmatism_v=ast[2],
        focus=_best_focus(first, focus, light.k * answers.half_flux),
        drift=drift,
        drift_error=drift_error,
        coma=coma,
        coma_error=coma_error,
        place=w[use],
        residuals_um=-slope[use] / (4.0 * light.k * answers.half_flux),
        in_focus_px=_in_focus(first, focus, light.k * answers.half_flux),
        stars=int(use.sum()),
        agree=not any(apart),
    )


def _answers(one: Fit, focus: Array, light: Light) -> Answers:
    """Return how the measures answer, by how sharp the middle's stars would be halfway between the frames."""
    level, away = float(one.values[3 : 3 + len(focus)].mean()), 2.0 * light.k * float(focus.var())
    answers = light.answers(level)
    for _ in range(5):
        answers = light.answers(level - away * answers.half_flux)
    return answers


def _error(one: Fit, number: int, size: float) -> float:
    return math.hypot(one.error(number), _SHARE * size, _FLOOR_UM)


def _quartic(w: Complex) -> Array:
    """Return u^i v^j of all degrees from 1 to 4, shape (n, 14)."""
    u, v = w.real, w.imag
    return np.column_stack([u ** (degree - j) * v**j for degree in range(1, 5) for j in range(degree + 1)])


def _fit_sizes(sizes: Array, w: Complex, focus: Array, flux: Array, k: float) -> Fit:
    """Return the fit whose first three coefficients are tilt along u, along v, and curvature."""
    count, number = sizes.shape[1], len(focus)
    surface = np.column_stack([w.real, w.imag, np.abs(w) ** 2])
    middle = focus.mean()
    blocks = []
    for j in range(number):
        level = np.zeros((count, number))
        level[:, j] = 1.0
        blocks.append(np.hstack([-4.0 * k * (focus[j] - middle) * surface, level, _quartic(w)]))
    return fit(np.vstack(blocks), sizes.ravel(), np.tile(flux, number))


def _fit_shapes(
    shapes: Complex, w: Complex, focus: Array, flux: Array, k: float
) -> tuple[complex, float, tuple[Told, Told, Told]]:
    """Return the common shape, its error, and astigmatism: at the corner and the two parts all over the
    field.
    """
    count, number = shapes.shape[1], len(focus)
    # About their mean, so that the constant is the field's mean and not the middle's alone.
    quartic = _quartic(w) - _quartic(w).mean(axis=0)
    square = w**2
    middle = focus.mean()
    blocks, goals = [], []
    for j in range(number):
        lever = 4.0 * k * (focus[j] - middle)
        for part, row in (("real", 0), ("imag", 1)):
            common = np.zeros((count, 2))
            common[:, row] = 1.0
            own = np.zeros((count, 28))
            own[:, 14 * row : 14 * row + 14] = quartic
            constant = np.zeros((count, 2))
            constant[:, row] = lever
            radial = lever * getattr(square, part)
            blocks.append(np.hstack([radial[:, None], constant, common, own]))
            goals.append(getattr(shapes[j], part))
    one = fit(np.vstack(blocks), np.concatenate(goals), np.tile(flux, 2 * number))

    def told(number: int) -> Told:
        value = float(one.values[number])
        return Told(value, math.hypot(one.error(number), _SHAPE_SHARE * value, _FLOOR_UM))

    return (
        complex(one.values[3], one.values[4]),
        max(one.error(3), one.error(4)),
        (told(0), told(1), told(2)),
    )


def _common(thirds: Complex, focus: Array, flux: Array) -> tuple[complex, float]:
    """Return the third moment that all stars share on the frames that are most out of focus, and its
    error.
    """
    off = np.abs(focus - focus.mean())
    far = off >= 0.8 * off.max()
    values = thirds[far].mean(axis=0)
    parts = []
    errors = []
    for part in (values.real, values.imag):
        one = fit(np.ones((len(part), 1)), part, flux)
        parts.append(float(one.values[0]))
        errors.append(one.error(0))
    return complex(*parts), max(errors)


def _parabola(one: Fit, focus: Array, k: float) -> tuple[Array, Array, Array]:
    """Return base + 2k b0^2 and b0 (from the positions' middle) of s = base + 2k (F - b0)^2, each frame's
    miss, and the positions from their middle. The curve's steepness is the beam's.
    """
    lever = focus - focus.mean()
    design = np.column_stack([np.ones(len(focus)), -4.0 * k * lever])
    goal = one.values[3 : 3 + len(focus)] - 2.0 * k * lever**2
    values, *_ = np.linalg.lstsq(design, goal, rcond=None)
    return values, goal - design @ values, lever


def _in_focus(one: Fit, focus: Array, k: float) -> float | None:
    values, _, _ = _parabola(one, focus, k)
    base = float(values[0] - 2.0 * k * values[1] ** 2)
    return 2.0 * math.sqrt(base) if base > 0.0 else None


def _best_focus(one: Fit, focus: Array, k: float) -> Told | None:
    """Return where the middle is sharpest, if three or more positions agree on the parabola that the beam
    demands.

    A change of seeing between two frames moves it by tens of um and nothing shows it: two positions do not
    tell.
    """
    positions = np.unique(focus)
    if len(positions) < 3:
        return None
    errors = np.array([one.error(3 + j) for j in range(len(focus))])
    values, left, lever = _parabola(one, focus, k)
    allowed = 0.15 * 2.0 * k * float(np.ptp(lever) / 2.0) ** 2
    if float(np.abs(left).max()) > max(allowed, 3.0 * float(errors.max())):
        return None
    wrong = max(float(np.abs(left).max()), float(errors.max())) / (4.0 * k * float(np.ptp(lever) / 2.0))
    return Told(float(values[1] + focus.mean()), math.hypot(wrong, _FLOOR_UM))
