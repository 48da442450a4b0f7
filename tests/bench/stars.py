"""Nine stars by waves: against the bare transforms that the same grids need, and against poppy on them."""

from __future__ import annotations

import math
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import numpy as np

from server.optics.field import Standing, aberrations_at
from server.optics.pupil import Pupil, Vanes, pupil_mask
from server.optics.star_image import (
    ARCSEC,
    Air,
    Band,
    cells_for,
    instrument_image,
    on_pixels,
    samples_for,
    seen_image,
)
from server.optics.star_numbers import numbers_of
from server.optics.third_order import paraboloid_terms
from server.optics.wavefront import Aberrations
from tests.bench.measure import Line, Times

RATIO, FOCAL_MM, PIXEL_UM = 4.0, 800.0, 3.76
PUPIL = Pupil(200.0, 0.35, Vanes(4, 1.0, 45.0))
BAND: Band = ((450.0, 1.0), (550.0, 1.0), (650.0, 1.0))
HALF_UM = 60.0
PLACES = tuple((x, y) for y in (-3.0, 0.0, 3.0) for x in (-4.5, 0.0, 4.5))
"""Of a small sensor behind an f/4 Newtonian, mm: the corner's comet just fits the window."""

TIMES_THE_TRANSFORMS = 2.0
TIMES_FASTER = 10.0
MOST_MB = 200.0


def run(folder: Path, *, rounds: int = 15, warm_up: int = 3, half_um: float = HALF_UM) -> list[Line]:
    """Times all three; the folder is not used. poppy is timed twice, since it takes seconds."""
    step, cells = cells_for(PIXEL_UM, BAND[0][0], RATIO, half_um)
    terms = paraboloid_terms(FOCAL_MM, RATIO)
    waves = [aberrations_at(terms, x, y, RATIO, Standing()) for x, y in PLACES]
    samples = [samples_for(wave, RATIO, BAND[0][0], step * cells / 2.0) or 0 for wave in waves]
    own: list[float] = []
    whole: list[float] = []
    transforms: list[float] = []
    for number in range(warm_up + rounds):
        taken = (
            _timed(lambda: _nine(waves, step, cells)),
            _timed(lambda: _seen(waves, step, cells)),
            _timed(lambda: _bare(samples, step)),
        )
        if number >= warm_up:
            for kept, took in zip((own, whole, transforms), taken, strict=True):
                kept.append(took)
    poppy_took = min(_timed(lambda: _by_poppy(waves, samples, step, cells)) for _ in range(min(2, rounds)))
    tracemalloc.start()
    _seen(waves, step, cells)
    peak = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    own_times, bare_times = Times(tuple(own)), Times(tuple(transforms))
    ratio, faster = own_times.median / bare_times.median, poppy_took / own_times.median
    return [
        Line(f"nine stars, three wavelengths, {cells} x {cells} cells, ms", rounds, own_times.text),
        Line("  with air, guiding, pixels and all numbers, ms", rounds, Times(tuple(whole)).text),
        Line("  the bare transforms of the same grids, ms", rounds, bare_times.text),
        Line(
            "  times these transforms",
            rounds,
            f"{ratio:.2f}",
            f"under {TIMES_THE_TRANSFORMS:.0f}",
            ratio < TIMES_THE_TRANSFORMS,
        ),
        Line("  poppy on the same grids, ms", min(2, rounds), f"{poppy_took * 1000:.0f}"),
        Line(
            "  times faster than poppy",
            rounds,
            f"{faster:.0f}",
            f"{TIMES_FASTER:.0f} or more",
            faster >= TIMES_FASTER,
        ),
        Line("  memory at the peak, MB", 1, f"{peak:.0f}", f"under {MOST_MB:.0f}", peak < MOST_MB),
    ]


def _timed(work: Callable[[], object]) -> float:
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def _nine(waves: list[Aberrations], step: float, cells: int) -> None:
    for wave in waves:
        instrument_image(PUPIL, wave, RATIO, BAND, step, cells)


def _seen(waves: list[Aberrations], step: float, cells: int) -> None:
    for wave in waves:
        alone = instrument_image(PUPIL, wave, RATIO, BAND, step, cells)
        seen = seen_image(alone, Air(2.5, 0.7), FOCAL_MM)
        numbers_of(alone)
        numbers_of(seen)
        on_pixels(seen, PIXEL_UM, cells // round(PIXEL_UM / step))


def _bare(samples: list[int], step: float) -> None:
    """One padded transform a star and wavelength: its size makes a cell of the picture `step` wide."""
    for n in samples:
        for nm, _ in BAND:
            size = math.ceil(nm / 1000.0 * RATIO * n / step / 2.0) * 2
            wave = np.zeros((size, size), np.complex64)
            wave[:n, :n] = 1.0
            np.fft.fft2(wave)


def _by_poppy(waves: list[Aberrations], samples: list[int], step: float, cells: int) -> None:
    import poppy
    from astropy import units as u

    scale = step / 1000.0 / FOCAL_MM * ARCSEC
    for wave, n in zip(waves, samples, strict=True):
        mask = pupil_mask(PUPIL, n)
        axis = (np.arange(n) - (n - 1) / 2.0) * (2.0 / n)
        x, y = axis[None, :], axis[:, None]
        rho2 = x * x + y * y
        error = wave.defocus_um * rho2 + (wave.coma_x_um * x + wave.coma_y_um * y) * rho2
        error = error + wave.astig_0_um * (x * x - y * y) + wave.astig_45_um * 2.0 * x * y
        optic = poppy.ArrayOpticalElement(
            transmission=np.asarray(mask), opd=error * 1e-6, pixelscale=0.2 / n * u.m / u.pixel
        )
        system = poppy.OpticalSystem(pupil_diameter=0.2 * u.m, npix=n, oversample=1)
        system.add_pupil(optic)
        system.add_detector(pixelscale=scale * u.arcsec / u.pixel, fov_pixels=cells)
        system.calc_psf(source={"wavelengths": [nm * 1e-9 for nm, _ in BAND], "weights": [1.0, 1.0, 1.0]})
