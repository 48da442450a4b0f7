import math
import subprocess
import sys

import numpy as np
import pytest

from server.arrays import each, is_array, largest, root
from tests.running import ROOT

WITHOUT_NUMPY = """
import sys
from server.mechanics.payload import load_fraction
from server.optics.field import FieldTerms, Standing, corner_spot_um
from server.optics.imaging import field_of_view_deg
from server.optics.seeing import expected_fwhm_arcsec

load_fraction(5.0, 10.0), field_of_view_deg(36.0, 800.0), expected_fwhm_arcsec(2.0, 100.0, 550.0, 1.0)
corner_spot_um(FieldTerms(), 36.0, 24.0, 5.0, Standing())
print("numpy" in sys.modules)
"""


def test_a_number_of_numpys_is_no_array_and_an_array_without_axes_is_one():
    assert not is_array(2.0)
    assert not is_array(np.float64(2.0))
    assert is_array(np.array(2.0))


def test_a_function_of_floats_goes_through_arrays_that_are_broadcast():
    found = each(math.hypot, np.array([[3.0], [5.0]]), np.array([4.0, 12.0]))
    # Pythagorean triples where there are any.
    assert found[0, 0] == 5.0
    assert found[1, 1] == 13.0
    assert found.shape == (2, 2)
    assert each(math.hypot, 3.0, 4.0) == 5.0


def test_roots_and_the_largest_of_arrays_are_those_of_floats():
    some = np.random.default_rng(13).uniform(0.0, 1e6, 5000)
    assert root(some).tolist() == [root(one) for one in some.tolist()] == [math.sqrt(one) for one in some]
    assert largest(some, some[::-1].copy(), np.array(5e5)).tolist() == [
        largest(one, other, 5e5) for one, other in zip(some.tolist(), some[::-1].tolist(), strict=True)
    ]
    assert np.isnan(largest(np.array([math.nan, 1.0]), np.array(2.0))).tolist() == [True, False]


@pytest.mark.parametrize("shape", [(0,), (), (2, 1, 3)])
def test_an_array_keeps_its_shape(shape):
    assert each(math.atan, np.zeros(shape)).shape == shape


def test_floats_go_through_without_numpy():
    run = subprocess.run(
        [sys.executable, "-c", WITHOUT_NUMPY], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert run.stdout.strip() == "False"
