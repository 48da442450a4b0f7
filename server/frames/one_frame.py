"""What one frame alone hints at: direction and about how much, never a shim.

One frame has an exact mirror: defocus and astigmatism both turned over give the same stars. Only outside
knowledge, on which side of focus the sensor stood, breaks it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from server.frames.measuring import Shapes
from server.frames.robust import sigma_by_flux
from server.frames.surface import LEAST_STARS, Light, places

Array = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

#: The fit must explain this share of the variance that a constant size leaves, or the frame tells nothing.
_CLEARLY = 0.3
_WEIGHED = 3
_STARTS_UM = (15.0, 40.0, 80.0, 140.0)


@dataclass(frozen=True)
class Hint:
    """The surface from one frame, um, as if the sensor stood too far out; where it stood too far in, all turn
    over.

    Attributes:
        defocus: the sensor from the middle's best focus. tilt: complex, per half diagonal. curvature: at a
            corner.
        astigmatism: at a corner. explained: the share of the sizes' and shapes' scatter that it explains, 0
            to 1.
        clear: whether that is enough to say anything at all.
    """

    defocus: float
    tilt: complex
    curvature: float
    astigmatism: float
    explained: float
    clear: bool


def hint(shapes: Shapes, light: Light, width_px: int, height_px: int) -> Hint:
    """Return what one frame hints at, with the sensor taken to stand too far out.

    Sizes T = seeing + 2k(d^2 + |A|^2) and shapes Q = drift + 4kdA of all stars at once, d = d0 - t.w - c|w|^2
    and A = A0 + Ar w^2, robustly by damped steps (Levenberg 1944, Marquardt 1963) from several starts. Raises
    ValueError with fewer than `LEAST_STARS` stars.
    """
    keep = np.isfinite(shapes.half_flux) & np.isfinite(shapes.moment.real)
    if int(keep.sum()) < LEAST_STARS:
        raise ValueError(f"{int(keep.sum())} stars are too few.")
    w = places(shapes.x[keep], shapes.y[keep], width_px, height_px)
    goal = np.concatenate(
        [shapes.half_flux[keep] ** 2 / 4.0, shapes.moment[keep].real, shapes.moment[keep].imag]
    )
    count = len(w)
    sharpest = float(np.percentile(goal[:count], 10))
    model = _Model(w, light, sharpest)
    parts = (slice(0, count), slice(count, 2 * count), slice(2 * count, 3 * count))
    level = np.concatenate([np.full(count, np.median(goal[part])) for part in parts])
    spread = _spread(goal - level, parts, shapes.flux[keep])
    best, best_cost = np.zeros(10), np.inf
    for start in _STARTS_UM:
        for astigmatism in (-10.0, 10.0):
            values = np.array([sharpest, start, 0, 0, 0, 0, 0, astigmatism, 0, 0])
            values, cost = _settle(model, values, goal, spread)
            if cost < best_cost:
                best, best_cost = values, cost
    for _ in range(_WEIGHED):
        spread = _spread(goal - model.at(best)[0], parts, shapes.flux[keep])
        model = _Model(w, light, best[0])
        best, best_cost = _settle(model, best, goal, spread)
    if best[1] < 0.0:
        best[1:8] = -best[1:8]
    nothing = _cost((goal - level) / spread)
    explained = float(1.0 - best_cost / nothing) if nothing > 0.0 else 0.0
    return Hint(
        defocus=float(best[1]),
        tilt=complex(best[2], best[3]),
        curvature=float(best[4]),
        astigmatism=float(best[7]),
        explained=explained,
        clear=explained > _CLEARLY,
    )


class _Model:
    """Sizes and shapes by values: seeing, d0, tilt u, tilt v, curvature, A0 (two), Ar, drift (two)."""

    def __init__(self, w: Complex, light: Light, sharp: float) -> None:
        answers = light.answers(sharp)
        self.w = w
        self.t_slope, self.q_slope = 2.0 * light.k * answers.half_flux, 4.0 * light.k * answers.shape
        self.square, self.far = w**2, np.abs(w) ** 2

    def at(self, values: Array) -> tuple[Array, Array]:
        """Return the model, shape (3n,), and its derivatives, shape (3n, 10)."""
        w, t_slope, q_slope = self.w, self.t_slope, self.q_slope
        d = values[1] - values[2] * w.real - values[3] * w.imag - values[4] * self.far
        a = complex(values[5], values[6]) + values[7] * self.square
        sizes = values[0] + t_slope * (d**2 + np.abs(a) ** 2)
        shapes = complex(values[8], values[9]) + q_slope * d * a
        slopes = np.zeros((3, len(w), 10))
        slopes[0, :, 0] = 1.0
        for number, by in ((1, np.ones(len(w))), (2, -w.real), (3, -w.imag), (4, -self.far)):
            slopes[0, :, number] = 2.0 * t_slope * d * by
            slopes[1, :, number] = q_slope * a.real * by
            slopes[2, :, number] = q_slope * a.imag * by
        for number, turn in ((5, np.ones(len(w), complex)), (6, np.full(len(w), 1j)), (7, self.square)):
            slopes[0, :, number] = 2.0 * t_slope * (np.conj(a) * turn).real
            slopes[1, :, number] = q_slope * d * turn.real
            slopes[2, :, number] = q_slope * d * turn.imag
        slopes[1, :, 8] = 1.0
        slopes[2, :, 9] = 1.0
        return np.concatenate([sizes, shapes.real, shapes.imag]), slopes.reshape(-1, 10)


def _cost(off: Array) -> float:
    """Return Huber's cost of residuals in sigmas."""
    size = np.abs(off)
    return float(np.where(size <= 1.8, size**2, 1.8 * (2.0 * size - 1.8)).sum())


def _spread(left: Array, parts: tuple[slice, ...], flux: Array) -> Array:
    used = np.ones(len(flux), dtype=bool)
    return np.concatenate([sigma_by_flux(left[part], flux, used) for part in parts])


def _settle(model: _Model, values: Array, goal: Array, spread: Array) -> tuple[Array, float]:
    damping = 1e-2
    found, slopes = model.at(values)
    off = (goal - found) / spread
    cost = _cost(off)
    for _ in range(60):
        weight = np.minimum(1.0, 1.8 / np.maximum(np.abs(off), 1e-12))
        turned = slopes / spread[:, None]
        normal = turned.T @ (turned * weight[:, None])
        step = np.linalg.lstsq(
            normal + damping * np.diag(np.diag(normal) + 1e-12), turned.T @ (weight * off), rcond=None
        )[0]
        tried, tried_slopes = model.at(values + step)
        tried_off = (goal - tried) / spread
        tried_cost = _cost(tried_off)
        if tried_cost < cost:
            done = cost - tried_cost < 1e-6 * cost
            values, slopes, off, cost = values + step, tried_slopes, tried_off, tried_cost
            damping = max(damping / 4.0, 1e-9)
            if done:
                break
        else:
            damping *= 5.0
            if damping > 1e8:
                break
    return values, cost
