"""Rigs and nights drawn by chance: the stated errors hold as often as they say."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from server.frames.one_frame import hint
from tests.frames.reckoned import light_of, shapes_of, surface_of, taken
from tests.frames.simulator import Field, Night, Optics, frame

CASES, ALONE = 24, 16
TWO = (-60.0, 60.0)


def drawn(number: int, smallest_um: float = 0.0) -> tuple[Optics, list[Night], Field]:
    """Return a rig with a tilt of at least so much, nights for two frames, and a field."""
    chance = np.random.default_rng((16, number))

    def turned(size: float, twice: float = 1.0) -> complex:
        return complex(size * np.exp(1j * twice * chance.uniform(0.0, 2.0 * math.pi)))

    optics = Optics(
        tilt=turned(chance.uniform(smallest_um, 60.0)),
        curvature=chance.uniform(-60.0, 60.0),
        astigmatism=chance.uniform(-30.0, 30.0),
        astigmatism_all=turned(chance.uniform(0.0, 12.0)),
        coma=turned(chance.uniform(0.0, 1.5)),
        focus=chance.uniform(-15.0, 15.0),
    )
    seeing, drift, turn = chance.uniform(2.3, 3.8), chance.uniform(0.0, 1.8), chance.uniform(0.0, 180.0)
    nights = [Night(fwhm_px=seeing * chance.uniform(0.93, 1.07), drift_px=drift, drift_deg=turn) for _ in TWO]
    return optics, nights, Field(seed=100 + number)


@pytest.fixture(scope="module", params=[0.0, 0.55], ids=["rays", "waves"])
def misses(request: pytest.FixtureRequest) -> np.ndarray:
    """By how many stated errors tilt along u and v, curvature, astigmatism are off, by case."""
    found = []
    for number in range(CASES):
        optics, nights, there = drawn(number)
        optics = replace(optics, wave_um=request.param)
        one = surface_of(taken(optics, nights, there, TWO), TWO, optics)
        truth = (optics.tilt.real, optics.tilt.imag, optics.curvature, optics.astigmatism)
        told = (one.tilt_u, one.tilt_v, one.curvature, one.astigmatism)
        found.append([abs(value.value - true) / value.error for value, true in zip(told, truth, strict=True)])
    return np.array(found)


def test_one_stated_error_holds_in_two_of_three_cases_and_two_in_nineteen_of_twenty(misses: np.ndarray):
    # A normal law's shares.
    assert (misses <= 1.0).mean() >= 0.68
    assert (misses <= 2.0).mean() >= 0.95
    assert misses.max() < 4.0


def test_one_frame_tells_the_tilts_direction_where_it_says_that_it_is_clear():
    off = []
    for number in range(ALONE):
        optics, nights, there = drawn(1000 + number, smallest_um=25.0)
        (shapes,) = shapes_of([frame(optics, nights[0], there, 60.0)])
        one = hint(shapes, light_of(optics), optics.columns, optics.rows)
        if one.clear:
            off.append(abs(math.degrees(np.angle(one.tilt / optics.tilt))))
    assert len(off) >= ALONE // 2
    assert np.median(off) < 10.0
    assert np.mean(np.array(off) < 20.0) >= 0.9
