"""Frames made by galsim, which knows nothing of rays: light as waves through a pupil, and the air."""

from __future__ import annotations

import math

import galsim
import numpy as np
import pytest

from server.frames.surface import Light
from tests.frames.reckoned import surface_of
from tests.frames.simulator import Optics

NM, ARCSEC = 550.0, 1.5
COLUMNS, ROWS, HALF = 1500, 1000, 24


def by_galsim(optics: Optics, at_um: float, noise: int, air: galsim.GSObject) -> np.ndarray:
    """Return a frame of stars on a shaken grid, counts; a pixel is taken to be `ARCSEC` wide."""
    chance = np.random.default_rng(7)
    grid = np.meshgrid(np.arange(60.0, COLUMNS - 40, 95), np.arange(55.0, ROWS - 40, 85))
    x, y = (part.ravel() + chance.uniform(-8, 8, part.size) for part in grid)
    light = chance.uniform(2e4, 3e5, len(x))
    picture = np.full((ROWS, COLUMNS), 300.0)
    w = optics.places(x, y)
    # The wavefront's sag at the pupil's edge, waves: defocus / (8 N^2). Noll's terms over the full circle
    # (1976, J. Opt. Soc. Am. 66, 207) have 2 sqrt(3) of it in defocus and sqrt(6) in astigmatism.
    sag = 1000.0 / NM / (8.0 * optics.focal_ratio**2)
    defocus = (at_um - optics.best_focus(w)) * sag / (2.0 * math.sqrt(3.0))
    lines = optics.astigmatism * w**2 * sag / math.sqrt(6.0)
    wide = NM / 1000.0 * optics.focal_ratio / optics.pixel_um * ARCSEC
    for i, j, flux, out, line in zip(x, y, light, defocus, lines, strict=True):
        pupil = galsim.OpticalPSF(
            lam_over_diam=wide,
            defocus=out,
            astig1=line.imag,
            astig2=line.real,
            obscuration=optics.obstruction,
            # Coarser than galsim's own, which takes five times as long; the moments differ by 1 %.
            oversampling=1.0,
            pad_factor=1.0,
        )
        column, row = round(i), round(j)
        image = galsim.Convolve(pupil, air).drawImage(
            nx=2 * HALF + 1, ny=2 * HALF + 1, scale=ARCSEC, offset=(i - column, j - row)
        )
        picture[row - HALF : row + HALF + 1, column - HALF : column + HALF + 1] += flux * image.array
    return np.random.default_rng(noise).poisson(np.maximum(picture, 0.0)).astype(np.uint16)


AIRS = {
    "moffat": galsim.Moffat(beta=3.5, fwhm=3.0 * ARCSEC),
    "kolmogorov": galsim.Kolmogorov(fwhm=2.6 * ARCSEC),
}
RIGS = {
    "f/5": Optics(tilt=30 - 20j, curvature=-30, astigmatism=12),
    "f/4, obstructed": Optics(tilt=-25 + 10j, curvature=20, focal_ratio=4.0, obstruction=0.35),
    "f/7": Optics(tilt=35 + 25j, curvature=30, astigmatism=-15, focal_ratio=7.0),
}


@pytest.mark.parametrize("air", AIRS)
@pytest.mark.parametrize("rig", RIGS)
def test_what_is_put_into_waves_is_found_within_three_stated_errors(rig: str, air: str):
    optics = RIGS[rig]
    two = [4.0 * side * optics.focal_ratio * optics.pixel_um * 0.8 for side in (-1.0, 1.0)]
    pictures = [by_galsim(optics, at, number, AIRS[air]) for number, at in enumerate(two)]
    light = Light(optics.focal_ratio, optics.obstruction, optics.pixel_um, NM / 1000.0)
    one = surface_of(pictures, two, optics, light)
    assert one.tilt_u.value == pytest.approx(optics.tilt.real, abs=3.0 * one.tilt_u.error)
    assert one.tilt_v.value == pytest.approx(optics.tilt.imag, abs=3.0 * one.tilt_v.error)
    assert one.curvature.value == pytest.approx(optics.curvature, abs=3.0 * one.curvature.error)
    assert one.astigmatism.value == pytest.approx(optics.astigmatism, abs=3.0 * one.astigmatism.error)
    # The stated errors are no excuse.
    assert max(one.tilt_u.error, one.tilt_v.error, one.curvature.error) < 3.5
