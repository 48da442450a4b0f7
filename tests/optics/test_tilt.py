import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.optics.tilt import summed_tilt, tilt_in_focus


def test_three_four_and_twelve_minutes_add_to_nineteen_at_worst_and_to_thirteen_likely():
    tilt = summed_tilt([3.0, 4.0, 12.0])
    assert (tilt.worst_arcmin, tilt.likely_arcmin) == pytest.approx((19.0, 13.0))


def test_joints_that_lean_in_directions_of_chance_have_the_likely_tilt_as_their_root_mean_square():
    joints = np.array([1.0, 2.0, 2.5])
    angles = np.random.default_rng(4).uniform(0.0, 2.0 * np.pi, (200_000, 3))
    sums = (joints * np.exp(1j * angles)).sum(axis=1)
    drawn = float(np.sqrt((np.abs(sums) ** 2).mean()))
    assert summed_tilt(joints).likely_arcmin == pytest.approx(drawn, rel=5e-3)


def test_a_tilt_shows_across_a_sensor_of_full_size_as_worked_by_hand():
    # 43.267 mm x tan(1') = 43.267 x 2.90888e-4 = 12.586 um; depth at f/4 and 550 nm 17.6 um to either side.
    found = tilt_in_focus(1.0, 36.0, 24.0, 4.0, 550.0)
    assert found.across_um == pytest.approx(12.586, abs=1e-3)
    assert found.corner_um == pytest.approx(6.293, abs=1e-3)
    assert found.allowed_um == pytest.approx(17.6, abs=1e-3)
    assert found.share == pytest.approx(0.3576, abs=1e-4)
    assert found.within


def test_three_minutes_show_at_f_4():
    assert not tilt_in_focus(3.0, 36.0, 24.0, 4.0, 550.0).within


@given(joints=st.lists(st.floats(0.0, 60.0), max_size=10))
def test_the_likely_tilt_is_never_more_than_the_worst(joints):
    tilt = summed_tilt(joints)
    assert 0.0 <= tilt.likely_arcmin <= tilt.worst_arcmin + 1e-9


def test_a_tilt_with_a_sign_is_refused():
    with pytest.raises(ValueError, match="tilt is -1 arc-minutes"):
        summed_tilt([-1.0])
