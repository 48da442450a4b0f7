"""Size, shape and coma of stars from their cut-outs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from server.frames.finding import HALF, Pixels

Array = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

_ROUNDS = 25
_LEAST_RADIUS, _MOST_RADIUS = 8, 14


@dataclass(frozen=True, eq=False)
class Shapes:
    """Of n stars, in px.

    Attributes:
        x, y: the light's centre on the frame.
        half_flux: diameter that holds half of the light within the radius.
        moment: complex second moment Mxx - Myy + 2i Mxy by adaptive weight, px squared: its half angle is the
            direction of the longer axis.
        size: Mxx + Myy by the same, px squared.
        third: complex third moment over the size to the power 1.5: points along coma's tail; no unit.
        flux: light within the radius, in the frame's units.
        radius: that radius, px.
    """

    x: Array
    y: Array
    half_flux: Array
    moment: Complex
    size: Array
    third: Complex
    flux: Array
    radius: int


def radius_for(widths: list[Array]) -> int:
    """Return one radius for all frames of a set, px: about three times a star's width.

    widths: full widths at half maximum by frame. A size is only comparable within one radius.
    """
    typical = max((float(np.median(one)) for one in widths if len(one)), default=3.0)
    return int(np.clip(round(2.8 * typical), _LEAST_RADIUS, _MOST_RADIUS))


def measure(stamps: Pixels, corner: npt.NDArray[np.int64], radius: int) -> Shapes:
    """Return the shapes of n stars; nan where nothing could be measured.

    stamps: cut-outs, shape (n, 2 HALF + 1, 2 HALF + 1). corner: the pixel at the middle of each, shape (n,
    2). The sky is the median of a ring outside the radius. Half-flux diameters by sep's sub-pixel circles;
    moments by a Gaussian weight that is adapted to each star (Bernstein & Jarvis 2002, AJ 123, 583).
    """
    import sep

    count, side = len(stamps), 2 * HALF + 1
    if not count:
        nothing = np.empty(0)
        return Shapes(
            nothing,
            nothing,
            nothing,
            nothing.astype(complex),
            nothing,
            nothing.astype(complex),
            nothing,
            radius,
        )
    steps = np.arange(side) - HALF
    far = np.hypot(*np.meshgrid(steps, steps))
    ring = (far > radius + 1.5) & (far <= max(HALF, radius + 4))
    light = stamps - np.median(stamps[:, ring], axis=1).astype(np.float32)[:, None, None]
    moments = _adaptive(
        light[:, HALF - radius : HALF + radius + 1, HALF - radius : HALF + radius + 1], radius
    )
    tall = np.ascontiguousarray(light.reshape(count * side, side))
    x, y = moments.x + HALF, moments.y + HALF
    lost = ~(np.isfinite(x) & np.isfinite(y))
    x, y = np.where(lost, HALF, x), np.where(lost, HALF, y)
    top = np.arange(count) * side
    flux, _, _ = sep.sum_circle(tall, x, y + top, float(radius))
    half, _ = sep.flux_radius(tall, x, y + top, np.full(count, float(radius)), 0.5, normflux=flux, subpix=5)
    lost |= ~(flux > 0.0) | (half <= 0.0)
    gone = np.where(lost, np.nan, 1.0)
    return Shapes(
        x=(x - HALF + corner[:, 0]) * gone,
        y=(y - HALF + corner[:, 1]) * gone,
        half_flux=2.0 * half * gone,
        moment=moments.moment * gone,
        size=moments.size * gone,
        third=moments.third * gone,
        flux=flux * gone,
        radius=radius,
    )


@dataclass(frozen=True, eq=False)
class _Moments:
    x: Array
    y: Array
    moment: Complex
    size: Array
    third: Complex


def _adaptive(light: Pixels, radius: int) -> _Moments:
    """Return moments by a Gaussian weight whose own become theirs; centres from the middle of the cut-out."""
    count = len(light)
    steps = np.arange(-radius, radius + 1, dtype=np.float32)
    row, column = np.repeat(steps, 2 * radius + 1), np.tile(steps, 2 * radius + 1)
    flat = light.reshape(count, -1)
    powers = np.stack([np.ones_like(column), column, row, column**2, column * row, row**2], axis=1)
    state = np.tile(np.array([0.0, 0.0, 3.0, 0.0, 3.0]), (count, 1))  # x, y, xx, xy, yy of the weight
    left = np.arange(count)
    for _ in range(_ROUNDS):
        new = _step(flat[left], state[left], powers, column, row)
        moved = np.abs(new - state[left]).max(axis=1)
        state[left] = new
        left = left[(moved > 1e-3) & np.isfinite(moved)]
        if not len(left):
            break
    x, y, xx, xy, yy = state.T
    good = np.isfinite(state).all(axis=1) & (np.hypot(x, y) < 3.0) & (xx + yy < 2.0 * radius**2)
    gone = np.where(good, 1.0, np.nan)
    third = _third(flat, np.where(good[:, None], state, [0.0, 0.0, 3.0, 0.0, 3.0]), column, row)
    return _Moments(x * gone, y * gone, (xx - yy + 2j * xy) * gone, (xx + yy) * gone, third * gone)


def _weight(state: Array, column: Pixels, row: Pixels) -> Pixels:
    x, y, xx, xy, yy = state.T.astype(np.float32)
    det = xx * yy - xy * xy
    dx, dy = column[None, :] - x[:, None], row[None, :] - y[:, None]
    square = yy[:, None] * dx * dx - 2.0 * xy[:, None] * dx * dy + xx[:, None] * dy * dy
    weight: Pixels = np.exp(-0.5 * square / det[:, None])
    return weight


def _step(flat: Pixels, state: Array, powers: Pixels, column: Pixels, row: Pixels) -> Array:
    with np.errstate(all="ignore"):
        sums = ((flat * _weight(state, column, row)) @ powers).astype(np.float64)
        total, mx, my, mxx, mxy, myy = sums.T
        x, y = mx / total, my / total
        # A Gaussian star under its own Gaussian has half its moments.
        new = np.column_stack(
            [
                # The weight pulls the centre to itself by half, as it does the moments.
                state[:, 0] + 2.0 * (x - state[:, 0]),
                state[:, 1] + 2.0 * (y - state[:, 1]),
                2.0 * (mxx / total - x * x),
                2.0 * (mxy / total - x * y),
                2.0 * (myy / total - y * y),
            ]
        )
        lost = (total <= 0.0) | (new[:, 2] <= 0.05) | (new[:, 4] <= 0.05)
        lost |= new[:, 2] * new[:, 4] - new[:, 3] ** 2 <= 0.0025
    new[lost] = np.nan
    return new


def _third(flat: Pixels, state: Array, column: Pixels, row: Pixels) -> Complex:
    weighted = flat * _weight(state, column, row)
    dx, dy = column[None, :] - state[:, :1], row[None, :] - state[:, 1:2]
    place = dx + 1j * dy
    with np.errstate(all="ignore"):
        total = weighted.sum(axis=1)
        found: Complex = (weighted * (dx * dx + dy * dy) * place).sum(axis=1) / total
        scale = (0.5 * (state[:, 2] + state[:, 4])) ** 1.5
        return found / scale
