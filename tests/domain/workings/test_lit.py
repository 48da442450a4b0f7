"""The corner's light of many rigs at once, against the one that the bench shows of each."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest

from server.domain.workings.case import Case
from server.domain.workings.lit import corner_lights, light_of
from tests.domain.rigs import camera, case, corrector, ring, tube

TOLERANCE = 3e-4
"""By how much they may differ; what is measured is rounding."""


def some_tube(chance: random.Random, at: int):
    aperture = chance.uniform(70.0, 400.0)
    design = chance.choice(["apochromat", "achromat", "newtonian", "ritchey_chretien", "astrograph", None])
    given = {
        "design": design,
        "aperture_mm": aperture,
        "focal_length_mm": aperture * chance.uniform(2.5, 10.0),
    }
    if at % 3:
        given["drawtube_bore_mm"] = chance.uniform(28.0, 56.0)
    if design == "newtonian":
        given |= {
            "secondary_mm": aperture * chance.uniform(0.2, 0.4),
            "diagonal_to_focus_mm": chance.uniform(170.0, 320.0),
            "diagonal_offset_mm": chance.choice([0.0, 3.0]),
        }
    elif design in ("ritchey_chretien", "astrograph"):
        given["obstruction_mm"] = aperture * chance.uniform(0.25, 0.45)
    return tube(model=f"Tube {at}", **given)


def some_corrector(chance: random.Random):
    clear = chance.choice([None, 36.0, 42.0, 48.0])
    factor = chance.choice([0.75, 1.0, 1.0, 1.5])
    return corrector(factor=factor, back_focus_mm=chance.choice([55.0, 80.0]), clear_aperture_mm=clear)


def some_camera(chance: random.Random):
    size = chance.choice([(3000, 3000), (6000, 4000), (9000, 6000), (11000, 8500)])
    clear = chance.choice([None, 28.0, 44.0, 60.0])
    return camera(width_px=size[0], height_px=size[1], clear_aperture_mm=clear)


def test_the_corners_light_of_random_rigs_is_the_benchs():
    chance = random.Random(12)
    rigs = []
    for at in range(300):
        lens = [some_corrector(chance)] if chance.random() < 0.7 else []
        rings = [ring(chance.uniform(20.0, 60.0), clear_aperture_mm=None)]
        rigs.append(case(some_tube(chance, at), *lens, *rings, some_camera(chance)))
    through, light = corner_lights(rigs)
    known = 0
    for at, one in enumerate(rigs):
        lit = light_of(Case(replace(one.rig)))
        if lit is None:
            assert np.isnan(through[at])
            continue
        corner = lit.quarter.points["corner"]
        assert through[at] == pytest.approx(lit.quarter.through[corner], abs=TOLERANCE)
        assert light[at] == pytest.approx(lit.quarter.light[corner], abs=TOLERANCE)
        known += 0.0 < lit.quarter.through[corner] < 1.0
    assert known > 100


def test_what_nobody_knows_has_no_light():
    known = case(tube(drawtube_bore_mm=40.0), ring(50.0), camera())
    no_aperture = case(tube(aperture_mm=None, drawtube_bore_mm=40.0), ring(50.0), camera())
    no_sensor = case(tube(drawtube_bore_mm=40.0), ring(50.0), camera(width_px=None))
    no_opening = case(tube(), ring(50.0, clear_aperture_mm=None), camera(clear_aperture_mm=None))
    through, light = corner_lights([known, no_aperture, no_sensor, no_opening])
    assert np.isnan(through).tolist() == np.isnan(light).tolist() == [False, True, True, True]
    assert corner_lights([])[0].shape == (0,)
