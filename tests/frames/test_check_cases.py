"""Frames with a known truth, from pixels to the surface of best focus: what was put in is found.

The tolerances are those that were set for these cases before the code was written; per part of the tilt and
for the curvature, um at the corner.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import pytest
from astropy.wcs import WCS, FITSFixedWarning

from server.frames.nature import balanced, size_by_light
from server.frames.one_frame import hint
from server.frames.plate import Plate, focal_length_mm, plate_of
from server.frames.shim import Screw, shims_um
from server.frames.surface import Surface
from tests.frames.reckoned import light_of, rows_of, shapes_of, stars_of, surface_of, taken
from tests.frames.simulator import Field, Night, Optics, frame, stretched

SEEDS = (1, 2, 3)
THREE = (-60.0, 0.0, 60.0)


@dataclass(frozen=True)
class Case:
    """What is put in, and how far off each part of the tilt and the curvature may be, um."""

    optics: Optics
    tilt_um: float = 2.0
    curvature_um: float = 3.0
    night: Night | Sequence[Night] = field(default_factory=Night)
    there: Field = field(default_factory=Field)


DIRTY = Field(galaxies=30, doubles=0.15, hot=800, cosmic_rays=30, trails=1)
CASES = {
    "flat": Case(Optics()),
    "tilted": Case(Optics(tilt=40)),
    "curved": Case(Optics(curvature=50, focus=-15)),
    "astigmatic": Case(Optics(astigmatism=20, curvature=10)),
    "drifting": Case(Optics(astigmatism=-20), 2.0, 4.0, Night(drift_px=1.5, drift_deg=60)),
    "dirty": Case(Optics(tilt=30 + 20j, curvature=25), 4.0, 9.0, Night(nebula_e=300, gradient_e=100), DIRTY),
    "restless": Case(
        Optics(tilt=25 - 25j, curvature=-20), 3.0, 4.0, [Night(fwhm_px=one) for one in (2.4, 3.0, 3.9)]
    ),
}


def found(name: str, seed: int) -> Surface:
    case = CASES[name]
    there = Field(**{**case.there.__dict__, "seed": seed})
    return surface_of(taken(case.optics, case.night, there, THREE), THREE, case.optics)


def assert_as_put_in(one: Surface, case: Case) -> None:
    assert one.tilt_u.value == pytest.approx(case.optics.tilt.real, abs=case.tilt_um)
    assert one.tilt_v.value == pytest.approx(case.optics.tilt.imag, abs=case.tilt_um)
    assert one.curvature.value == pytest.approx(case.optics.curvature, abs=case.curvature_um)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("name", ["tilted", "dirty"])
def test_a_tilt_is_found_on_clean_frames_and_on_dirty_ones(name: str, seed: int):
    assert_as_put_in(found(name, seed), CASES[name])


@pytest.mark.parametrize("seed", SEEDS)
def test_a_flat_train_is_told_flat_and_unmoved(seed: int):
    one = found("flat", seed)
    assert_as_put_in(one, CASES["flat"])
    assert abs(one.drift) < 0.03


@pytest.mark.parametrize("seed", SEEDS)
def test_curvature_and_the_best_focus_of_the_middle_are_found(seed: int):
    one = found("curved", seed)
    assert_as_put_in(one, CASES["curved"])
    assert one.focus is not None
    assert one.focus.value == pytest.approx(-15, abs=2)


@pytest.mark.parametrize("seed", SEEDS)
def test_astigmatism_is_found_with_its_sign(seed: int):
    one = found("astigmatic", seed)
    assert_as_put_in(one, CASES["astigmatic"])
    assert one.astigmatism.value == pytest.approx(20, abs=2)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_drift_is_told_apart_from_astigmatism(seed: int):
    one = found("drifting", seed)
    assert_as_put_in(one, CASES["drifting"])
    assert one.astigmatism.value == pytest.approx(-20, abs=2)
    assert math.degrees(np.angle(one.drift)) / 2.0 == pytest.approx(60, abs=4)
    # L^2 / 12 of a line 1.5 px long, as the adaptive moments answer it.
    assert abs(one.drift) == pytest.approx(0.206, abs=0.05)


@pytest.mark.parametrize("seed", SEEDS)
def test_where_the_seeing_changed_the_tilt_holds_and_the_best_focus_is_withheld(seed: int):
    one = found("restless", seed)
    assert_as_put_in(one, CASES["restless"])
    assert one.focus is None


def test_comas_tail_is_found_with_its_direction():
    coma = 2.5 * np.exp(1j * math.radians(40.0))
    optics, there = Optics(columns=3000, rows=2000, coma=coma), Field(seed=9, stars=500)
    one = surface_of(taken(optics, Night(), there, (-60.0, 60.0)), (-60.0, 60.0), optics)
    assert_as_put_in(one, Case(optics))
    assert math.degrees(np.angle(one.coma)) == pytest.approx(40, abs=8)


@pytest.mark.parametrize("obstruction", [0.0, 0.35])
@pytest.mark.parametrize("wave_um", [0.0, 0.55])
@pytest.mark.parametrize("focal_ratio", [4.0, 7.0])
def test_rays_and_waves_through_open_and_obstructed_pupils_tell_the_same(
    focal_ratio: float, wave_um: float, obstruction: float
):
    optics = Optics(
        tilt=30 - 20j,
        curvature=-30,
        astigmatism=15,
        focal_ratio=focal_ratio,
        obstruction=obstruction,
        wave_um=wave_um,
    )
    two = [3.2 * side * focal_ratio * optics.pixel_um for side in (-1.0, 1.0)]
    one = surface_of(taken(optics, Night(), Field(), two), two, optics)
    assert_as_put_in(one, Case(optics, tilt_um=2.5, curvature_um=3.0))
    assert one.astigmatism.value == pytest.approx(15, abs=2)


@pytest.mark.parametrize("seed", SEEDS[:2])
def test_one_frame_hints_at_the_tilt_where_the_side_of_focus_is_known(seed: int):
    optics = Optics(tilt=25 + 15j, curvature=-20, astigmatism=10)
    picture = frame(optics, Night(), Field(seed=seed), 60.0)
    one = hint(shapes_of([picture])[0], light_of(optics), optics.columns, optics.rows)
    assert one.clear
    assert one.tilt == pytest.approx(optics.tilt, abs=5)
    assert one.curvature == pytest.approx(-20, abs=6)


def test_a_colour_mosaic_tells_the_tilt_once_its_pixels_are_balanced():
    optics, night = Optics(tilt=30 + 10j), Night(mosaic=(0.55, 1.0, 0.7))
    pictures = [
        balanced(rows_of(one), optics.rows)(0, optics.rows)
        for one in taken(optics, night, Field(), (-60.0, 60.0))
    ]
    one = surface_of(pictures, (-60.0, 60.0), optics)
    # On the trials a mosaic's tilt was within 2.4 um.
    assert one.tilt == pytest.approx(optics.tilt, abs=3)


def test_of_a_stretched_picture_the_mean_elongation_and_that_it_was_stretched_are_left():
    night = Night(drift_px=2.5, drift_deg=33.3)
    picture = stretched(frame(Optics(), night, Field()))
    (shapes,) = shapes_of([picture])
    common = np.nanmean(shapes.moment)
    assert math.degrees(np.angle(common)) / 2.0 == pytest.approx(33.3, abs=5)
    by_light = size_by_light(shapes)
    assert stars_of(picture).stretched or (by_light is not None and by_light > 0.6)


CARDS = {"CTYPE1": "RA---TAN", "CTYPE2": "DEC--TAN", "CRPIX1": 1500.0, "CRPIX2": 1000.0} | {
    "CRVAL1": 80.0,
    "CRVAL2": 20.0,
}
SCALE = 1.938889


def plate(cards: dict[str, object]) -> Plate:
    read = plate_of(cards)
    assert read is not None
    return read


def by_astropy(cards: dict[str, object]) -> WCS:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", FITSFixedWarning)
        return WCS(cards)


def turned(degrees: float, mirror: float = 1.0) -> dict[str, object]:
    step, turn = SCALE / 3600.0, math.radians(degrees)
    return CARDS | {
        "CD1_1": -mirror * step * math.cos(turn),
        "CD1_2": step * math.sin(turn),
        "CD2_1": mirror * step * math.sin(turn),
        "CD2_2": step * math.cos(turn),
    }


STEP = SCALE / 3600.0
WAYS = {
    "a matrix": turned(37.0),
    "a mirrored matrix": turned(37.0, -1.0),
    "a turn with steps": CARDS
    | {"CDELT1": -STEP, "CDELT2": STEP}
    | {"PC1_1": 0.8, "PC1_2": -0.6, "PC2_1": 0.6, "PC2_2": 0.8},
    "steps and an angle": CARDS | {"CDELT1": -STEP, "CDELT2": STEP, "CROTA2": 37.0},
    "oblong steps": CARDS | {"CDELT1": -2.0 * STEP, "CDELT2": 0.5 * STEP, "CROTA2": -12.0},
}


@pytest.mark.parametrize("way", WAYS)
def test_the_scale_is_that_of_astropys_own_reader(way: str):
    cards = WAYS[way]
    theirs = by_astropy(cards)
    assert plate(cards).scale_arcsec == pytest.approx(
        3600.0 * math.sqrt(theirs.proj_plane_pixel_area().value)
    )
    assert plate(cards).mirrored == (np.linalg.det(theirs.pixel_scale_matrix) > 0.0)


def test_the_focal_length_follows_from_the_scale():
    assert focal_length_mm(plate(turned(37.0)).scale_arcsec, 3.76) == pytest.approx(400.0, abs=0.001)


def test_a_distorted_corner_has_the_scale_that_astropy_gives_it():
    terms = {f"{one}": 1e-9 for one in ("A_3_0", "A_1_2", "B_0_3", "B_2_1")}
    cards = (
        CARDS
        | {"CTYPE1": "RA---TAN-SIP", "CTYPE2": "DEC--TAN-SIP", "A_ORDER": 3, "B_ORDER": 3}
        | {"CD1_1": -STEP, "CD1_2": 0.0, "CD2_1": 0.0, "CD2_2": STEP}
        | terms
    )
    theirs = by_astropy(cards)
    # On the plane: by how much astropy's undistorted pixels move with the corner's own.
    corner = np.array([[2999.5, 2000], [3000.5, 2000], [3000, 1999.5], [3000, 2000.5]])
    moved = theirs.sip_pix2foc(corner, 1)
    area = abs(np.linalg.det(np.stack([moved[1] - moved[0], moved[3] - moved[2]])))
    assert plate(cards).scale_at(3000, 2000) == pytest.approx(SCALE * math.sqrt(area), rel=1e-7)
    # On the sky, along a row, the tangent plane's stretch is in it as well: the published check's figure.
    left, right = theirs.pixel_to_world(2998.5, 1999), theirs.pixel_to_world(2999.5, 1999)
    along = left.separation(right).arcsec
    assert along == pytest.approx(1.9534, abs=0.001)
    assert plate(cards).scale_at(3000, 2000) == pytest.approx(along, rel=0.002)


def test_each_screw_is_told_how_far_it_comes_out():
    # Plane geometry, worked by hand: 3000 x 2000 pixels of 3.76 um, screws 30 mm from the axis.
    half = 0.5 * math.hypot(3000, 2000) * 3.76 / 1000.0
    shims = shims_um(20 + 10j, half, [Screw(30.0, angle) for angle in (90.0, 210.0, 330.0)])
    assert shims == pytest.approx([143.04, 0.0, 153.31], abs=0.1)
