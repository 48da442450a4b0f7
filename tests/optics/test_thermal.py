import math

import pytest

from server.optics.focus import depth_of_focus_mm
from server.optics.thermal import MATERIALS, change_for_drift_k, expansion_mm, focus_drift_mm
from tests.references import focus_reach as reference


@pytest.mark.parametrize(("length_mm", "per_k", "change_k", "growth_um"), reference.DRIFTS)
def test_a_tube_grows_as_tabulated(length_mm, per_k, change_k, growth_um):
    grown = expansion_mm(length_mm, per_k, change_k) * 1000.0
    assert grown == pytest.approx(growth_um, abs=reference.DRIFT_TOLERANCE_UM)


def test_a_simple_tubes_focus_goes_in_by_what_the_tube_grows():
    assert focus_drift_mm(0.1848) == pytest.approx(-0.1848)
    assert focus_drift_mm(-0.1848) == pytest.approx(0.1848)


def test_two_mirrors_move_the_focus_by_many_times_what_the_tube_grows():
    separation, change, growth, drift = reference.MIRROR_TUBE
    grown = expansion_mm(separation, MATERIALS["aluminium"].per_k, change)
    assert grown == pytest.approx(growth, abs=5e-5)
    assert focus_drift_mm(grown, 8.0 / 3.0) == pytest.approx(-drift, abs=5e-4)


def test_an_aluminium_tube_of_800_mm_at_f_4_leaves_its_depth_of_focus_in_a_kelvin():
    # 17.6 um at 18.48 um per K: 0.952 K.
    rate = focus_drift_mm(expansion_mm(800.0, MATERIALS["aluminium"].per_k, 1.0))
    assert change_for_drift_k(depth_of_focus_mm(4.0, 550.0), rate) == pytest.approx(0.952, abs=5e-4)


def test_a_tube_that_does_not_grow_never_leaves_its_focus():
    assert change_for_drift_k(0.02, 0.0) == math.inf


def test_every_materials_value_lies_in_its_range_and_carbon_fibre_may_shrink():
    for name, material in MATERIALS.items():
        assert material.low_per_k <= material.per_k <= material.high_per_k, name
    assert MATERIALS["carbon fibre"].low_per_k < 0.0


@pytest.mark.parametrize(
    ("name", "per_k"), [("aluminium", 23.1e-6), ("carbon steel", 10.8e-6), ("invar", 1.2e-6)]
)
def test_the_table_holds_the_handbooks_values(name, per_k):
    assert MATERIALS[name].per_k == per_k


def test_an_expansion_given_in_millionths_is_refused():
    with pytest.raises(ValueError, match="expansion is 23.1 per K; .*such as 23.1e-6"):
        expansion_mm(800.0, 23.1, 10.0)
