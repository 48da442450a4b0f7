"""Centre of mass, torque, and weights on a bar.

Sources: sum m r = 0 about the axis, worked by hand; the property tests hold for every rigid body.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.mechanics.counterweights import BarWeights, balance_on_bar
from server.mechanics.statics import centre_of_mass_mm, moment_of_inertia_kg_m2, shift_of_centre_mm, torque_nm

MICROMETRE_MM = 1e-3
masses = st.floats(0.01, 100.0)
places = st.floats(-5000.0, 5000.0)


def test_a_camera_train_moved_back_takes_the_balance_point_with_it_by_its_share() -> None:
    # 2.1 kg of 9.3 kg moved by 55 mm: 2.1 x 55 / 9.3 = 12.419 mm, by hand.
    assert shift_of_centre_mm(9.3, 2.1, 55.0) == pytest.approx(12.419, abs=MICROMETRE_MM)
    before = centre_of_mass_mm([(7.2, 200.0), (2.1, 500.0)])
    after = centre_of_mass_mm([(7.2, 200.0), (2.1, 555.0)])
    assert after - before == pytest.approx(12.419, abs=MICROMETRE_MM)


def test_two_equal_masses_balance_half_way() -> None:
    assert centre_of_mass_mm([(3.0, 100.0), (3.0, 300.0)]) == pytest.approx(200.0)


def test_one_kilogram_at_one_metre_turns_with_its_weight() -> None:
    # Standard gravity, NIST SP 811 (2008), B.8: 1 kgf = 9.80665 N.
    assert torque_nm(1.0, 1000.0) == pytest.approx(9.80665, abs=1e-9)
    assert torque_nm(2.0, -500.0) == pytest.approx(-9.80665, abs=1e-9)


@given(st.lists(st.tuples(masses, places), min_size=2, max_size=8), st.floats(0.1, 500.0))
def test_moving_a_mass_moves_the_balance_point_the_same_way_and_less_far(
    bodies: list[tuple[float, float]], by_mm: float
) -> None:
    moved = [(bodies[0][0], bodies[0][1] + by_mm), *bodies[1:]]
    shift = centre_of_mass_mm(moved) - centre_of_mass_mm(bodies)
    assert -1e-9 <= shift <= by_mm + 1e-9
    assert shift == pytest.approx(by_mm * bodies[0][0] / math.fsum(m for m, _ in bodies), abs=1e-6)


@given(masses, masses, st.floats(0.0, 5000.0))
def test_more_mass_never_turns_less(one_kg: float, other_kg: float, arm_mm: float) -> None:
    low, high = sorted((one_kg, other_kg))
    assert torque_nm(low, arm_mm) <= torque_nm(high, arm_mm)


@pytest.mark.parametrize("bodies", [[], [(0.0, 5.0)], [(-1.0, 5.0)], [(math.nan, 5.0)], [(1.0, math.inf)]])
def test_bodies_that_are_none_have_no_centre(bodies: list[tuple[float, float]]) -> None:
    with pytest.raises(ValueError, match=r"Enter|Check"):
        centre_of_mass_mm(bodies)


# The bar. A load of 11.4 kg at 250 mm asks for 2850 kg mm.


def test_two_weights_of_five_kilograms_balance_the_load_at_285_mm() -> None:
    # 11.4 x 250 / 10 = 285 mm; one alone would have to sit at 570. By hand.
    found = balance_on_bar(2850.0, [BarWeights(5.0, 40.0, 2)], 150.0, 450.0)
    assert [place.at_mm for place in found.places] == pytest.approx([265.0, 305.0], abs=MICROMETRE_MM)


def test_the_bars_own_mass_brings_the_weights_nearer() -> None:
    # A bar of 1.2 kg at 200 mm: (2850 - 240) / 10 = 261 mm, by hand.
    found = balance_on_bar(2850.0 - 1.2 * 200.0, [BarWeights(5.0, 40.0, 2)], 150.0, 450.0)
    assert sum(place.at_mm for place in found.places) / 2 == pytest.approx(261.0, abs=MICROMETRE_MM)


def test_the_fewest_weights_come_first_and_of_those_the_ones_near_the_axis() -> None:
    # 1000 kg mm: one of 5 kg at 200 mm, one of 4 kg at 250 mm, or both. The heavier one sits nearer.
    found = balance_on_bar(1000.0, [BarWeights(4.0, 40.0), BarWeights(5.0, 40.0)], 100.0, 400.0)
    assert [place.kind for place in found.places] == [1]
    assert found.places[0].at_mm == pytest.approx(200.0)


def test_what_is_short_is_told_as_a_longer_bar() -> None:
    # 5 kg, 40 mm thick, at most at 400 - 20 = 380 mm: 1900 of 2850; 950 / 5 = 190 mm longer. By hand.
    found = balance_on_bar(2850.0, [BarWeights(5.0, 40.0)], 100.0, 400.0)
    assert found.places == ()
    assert found.short_kg_mm == pytest.approx(950.0)
    assert found.longer_mm == pytest.approx(190.0)
    longer = balance_on_bar(2850.0, [BarWeights(5.0, 40.0)], 100.0, 400.0 + 190.0)
    assert longer.places[0].at_mm == pytest.approx(570.0)


def test_a_weight_too_heavy_even_nearest_to_the_axis_is_told() -> None:
    # Nearest 100 + 20 = 120 mm: 600 kg mm against 400.
    found = balance_on_bar(400.0, [BarWeights(5.0, 40.0)], 100.0, 400.0)
    assert found.places == ()
    assert found.over_kg_mm == pytest.approx(200.0)


def test_without_weights_or_with_one_that_does_not_fit_nothing_balances() -> None:
    assert balance_on_bar(400.0, [], 100.0, 400.0).short_kg_mm == pytest.approx(400.0)
    assert balance_on_bar(400.0, [BarWeights(5.0, 301.0)], 100.0, 400.0).longer_mm is None


sorts = st.builds(BarWeights, st.floats(0.5, 20.0), st.floats(10.0, 120.0), st.integers(1, 3))


@given(st.floats(1.0, 20_000.0), st.lists(sorts, max_size=3))
def test_whatever_is_answered_balances_fits_on_the_bar_and_uses_what_is_at_hand(
    moment: float, weights: list[BarWeights]
) -> None:
    found = balance_on_bar(moment, weights, 80.0, 420.0)
    if not found.places:
        return
    told = math.fsum(weights[place.kind].mass_kg * place.at_mm for place in found.places)
    assert told == pytest.approx(moment, rel=1e-9)
    edges = [80.0]
    for place in found.places:
        half = weights[place.kind].thickness_mm / 2
        assert place.at_mm - half >= edges[-1] - 1e-6
        edges.append(place.at_mm + half)
    assert edges[-1] <= 420.0 + 1e-6
    for kind, weight in enumerate(weights):
        assert sum(place.kind == kind for place in found.places) <= weight.quantity


@pytest.mark.parametrize("moment", [0.0, -5.0, math.nan])
def test_a_moment_that_is_none_is_refused(moment: float) -> None:
    with pytest.raises(ValueError, match="moment"):
        balance_on_bar(moment, [BarWeights(5.0, 40.0)], 100.0, 400.0)


def test_the_moment_of_inertia_of_a_rod_and_a_point():
    # A rod of 2 kg and 600 mm about its middle: 2 x 0.36 / 12 = 0.06; about an axis 0.3 m off it: + 2 x 0.09
    # = 0.24; and 0.5 kg at 0.4 m: 0.08 kg m^2.
    assert moment_of_inertia_kg_m2([(2.0, 0.0, 600.0, 0.0)]) == pytest.approx(0.06)
    both = [(2.0, 300.0, 600.0, 0.0), (0.5, -400.0, 0.0, 0.0)]
    assert moment_of_inertia_kg_m2(both) == pytest.approx(0.32)


def test_the_moment_of_inertia_of_a_cylinder_is_that_of_the_points_it_is_made_of():
    # 3 kg, 400 mm long, 100 mm of radius, across the axis: 3 x (0.16 / 12 + 0.01 / 4) = 0.0475 kg m^2.
    assert moment_of_inertia_kg_m2([(3.0, 0.0, 400.0, 100.0)]) == pytest.approx(0.0475)
    # Summed over small blocks: about the x axis each has m (y^2 + z^2), the cylinder along z.
    steps = 120
    middles = [(i + 0.5) / steps * 2 - 1 for i in range(steps)]
    inside = [(x, y) for x in middles for y in middles if x * x + y * y <= 1.0]
    across = math.fsum(y * y for _, y in inside) / len(inside) * 100.0**2
    along = math.fsum(z * z for z in middles) / steps * 200.0**2
    assert 3.0 * (across + along) * 1e-6 == pytest.approx(0.0475, rel=1e-3)


@pytest.mark.parametrize("body", [(1.0, 0.0, 0.0, -1.0), (1.0, 0.0, -1.0, 0.0), (math.nan, 0.0, 0.0, 0.0)])
def test_a_cylinder_that_is_none_is_refused(body: tuple[float, float, float, float]) -> None:
    with pytest.raises(ValueError, match="Check the figure"):
        moment_of_inertia_kg_m2([body])
