"""Least squares that a few bad stars do not pull."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

#: Huber 1964 (Ann. Math. Stat. 35, 73): beyond this many sigmas a residual counts linearly; beyond the second
#: not.
_HUBER, _DROPPED = 1.8, 5.4
_ROUNDS = 12
_FLUX_BINS = 8


@dataclass(frozen=True, eq=False)
class Fit:
    """Coefficients with their covariance, shape (k,) and (k, k); residuals and weights, shape (rows,).

    A weight of 0 is a row that was dropped.
    """

    values: Array
    covariance: Array
    residuals: Array
    weights: Array

    def error(self, number: int) -> float:
        """Return one coefficient's formal standard error."""
        return float(np.sqrt(max(self.covariance[number, number], 0.0)))


def fit(design: Array, goal: Array, flux: Array) -> Fit:
    """Return the robust fit of goal (rows,) by design (rows, k).

    flux: what orders the rows by how noisy they are, shape (rows,): a row's weight comes from the scatter of
    the residuals of rows as bright as it. Raises numpy.linalg.LinAlgError where the design tells nothing.
    """
    scale = np.abs(design).max(axis=0)
    scale[scale == 0.0] = 1.0
    scaled = design / scale
    sigma = np.full(len(goal), _spread(goal - np.median(goal)) or 1.0)
    weights = np.ones(len(goal))
    values = np.zeros(design.shape[1])
    for _ in range(_ROUNDS):
        root = np.sqrt(weights) / sigma
        values, *_ = np.linalg.lstsq(scaled * root[:, None], goal * root, rcond=None)
        residuals = goal - scaled @ values
        sigma = sigma_by_flux(residuals, flux, weights > 0.0)
        off = np.abs(residuals) / sigma
        weights = np.where(off <= _HUBER, 1.0, _HUBER / np.maximum(off, 1e-12)) * (off <= _DROPPED)
    root = np.sqrt(weights) / sigma
    turned = scaled * root[:, None]
    covariance = np.linalg.pinv(turned.T @ turned)
    used = int((weights > 0.0).sum())
    spare = max(used - design.shape[1], 1)
    chi = float((weights * (residuals / sigma) ** 2).sum() / spare)
    covariance = covariance * max(chi, 1.0) / np.outer(scale, scale)
    return Fit(values / scale, covariance, residuals, weights)


def _spread(values: Array) -> float:
    return float(1.4826 * np.median(np.abs(values - np.median(values))))


def sigma_by_flux(residuals: Array, flux: Array, used: npt.NDArray[np.bool_]) -> Array:
    """Return the scatter of rows as bright as each, shape (rows,); used: the rows that count."""
    groups = max(1, min(_FLUX_BINS, len(flux) // 15))
    # By rank, rows of the same light together: the order of the stars must not matter.
    group = np.searchsorted(np.sort(flux), flux) * groups // len(flux)
    middles, spreads = [], []
    for number in range(groups):
        kept = np.flatnonzero(used & (group == number))
        if len(kept) > 2:
            middles.append(float(np.log(np.maximum(np.median(flux[kept]), 1e-9))))
            spreads.append(max(float(1.4826 * np.median(np.abs(residuals[kept]))), 1e-9))
    if not spreads:
        return np.full(len(residuals), max(_spread(residuals), 1e-9))
    found = np.interp(np.log(np.maximum(flux, 1e-9)), middles, np.log(spreads))
    # What little noise the brightest have is not all: the model's own floor is a third of the typical.
    return np.maximum(np.exp(found), 0.3 * float(np.median(spreads)))
