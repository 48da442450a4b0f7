"""The corner's star of many rigs at once, against the one of each."""

from __future__ import annotations

from dataclasses import astuple

import numpy as np
import numpy.typing as npt
import pytest

from server.optics.field import Standing, aberrations_at, compromise, compromise_focus_mm, corner_spot_um
from server.optics.third_order import drawn_blur_um
from server.optics.wavefront import FieldTerms
from server.out_of_range import OutOfRangeError

COUNT = 2000
Floats = npt.NDArray[np.float64]


@pytest.fixture
def rigs():
    """Terms, standing, width, height, focal ratio, obstruction and blur of rigs by chance."""
    rng = np.random.default_rng(11)
    terms = FieldTerms(*(rng.uniform(-size, size, COUNT) for size in (0.5, 0.05, 0.002, 0.002)))
    standing = Standing(
        *(rng.uniform(-size, size, COUNT) for size in (0.1, 10.0, 10.0, 2.0, 2.0, 0.3, 0.3)),
    )
    ratio = rng.uniform(1.5, 12.0, COUNT)
    figures = (
        rng.uniform(5.0, 40.0, COUNT),
        rng.uniform(5.0, 30.0, COUNT),
        rng.uniform(0.0, 0.5, COUNT),
        rng.uniform(0.0, 6.0, COUNT),
    )
    return terms, standing, ratio, figures


def of_one(arrays, at):
    """The same of one rig, in floats."""
    return type(arrays)(*(float(one[at]) for one in astuple(arrays)))


def test_arrays_have_the_floats_very_stars(rigs):
    terms, standing, ratio, (width, height, obstruction, blur) = rigs
    spots = corner_spot_um(terms, width, height, ratio, standing, obstruction, blur)
    foci = compromise_focus_mm(terms, ratio, width, height)
    for at in range(COUNT):
        one, n, w, h, hole = of_one(terms, at), *(float(x[at]) for x in (ratio, width, height, obstruction))
        assert spots[at] == corner_spot_um(one, w, h, n, of_one(standing, at), hole, float(blur[at]))
        assert foci[at] == compromise(one, n, w, h, hole).focus_mm


def test_of_an_even_field_every_corner_is_the_widest(rigs):
    # A star's place turned about the axis turns its wave, and no more.
    terms, _, ratio, (width, height, obstruction, _) = rigs
    one, n, w, h = of_one(terms, 0), float(ratio[0]), float(width[0]), float(height[0])
    found = corner_spot_um(one, w, h, n, Standing(), float(obstruction[0]))
    assert corner_spot_um(one, h, w, n, Standing(), float(obstruction[0])) == pytest.approx(found, rel=1e-12)


def test_terms_of_tubes_and_sensors_of_cameras_go_together_by_broadcasting():
    terms = FieldTerms(coma_um_per_mm=np.array([[0.01], [0.02]]))
    sides = np.array([13.0, 23.0, 36.0]), np.array([13.0, 15.0, 24.0])
    spots = corner_spot_um(terms, *sides, np.array(5.0), Standing[Floats]())
    assert spots.shape == (2, 3)
    # Coma grows with the height, and with its own size.
    assert (np.diff(spots, axis=1) > 0.0).all()
    assert spots[1] == pytest.approx(2.0 * spots[0])


def test_a_ratio_that_no_beam_has_is_refused_alone_and_nan_among_many():
    terms = FieldTerms(coma_um_per_mm=0.01)
    with pytest.raises(OutOfRangeError):
        aberrations_at(terms, 1.0, 1.0, 0.4, Standing())
    many = FieldTerms(coma_um_per_mm=np.array(0.01))
    sides = np.array(36.0), np.array(24.0)
    found = corner_spot_um(many, *sides, np.array([0.4, 5.0, np.nan]), Standing[Floats]())
    assert np.isnan(found).tolist() == [True, False, True]


def test_beyond_the_makers_last_spot_that_one_is_drawn():
    rows = ((0.0, 4.0), (10.0, 8.0))
    assert drawn_blur_um(rows, 5.0) == pytest.approx(3.0)
    assert drawn_blur_um(rows, 30.0) == pytest.approx(4.0)
    assert drawn_blur_um((), 5.0) == 0.0
