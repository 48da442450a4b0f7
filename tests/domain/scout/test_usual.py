"""What is usual of a tube by its design: only where nobody has said, and always a range.

Source: common practice, no source, as the ranges themselves.
"""

from __future__ import annotations

import pytest

from server.domain.parts.optical import DESIGNS
from server.domain.scout.usual import COLLIMATED_IN_THE_FIELD, KG_AT_100_MM, OBSTRUCTION, figures_of
from server.domain.sky.reckoning import Span
from tests.domain.rigs import tube

NAMES = [name for name, _ in DESIGNS]
LENSES = ("achromat", "apochromat", "camera_lens")


def test_what_is_entered_stands_as_it_is():
    found = figures_of(tube(design="newtonian", mass_kg=7.25), 0.27)
    assert found.obstruction == Span(0.27, 0.27, 0.27)
    assert found.mass_kg == Span(7.25, 7.25, 7.25)
    assert found.assumed == ()


def test_what_is_not_entered_is_a_range_and_named():
    found = figures_of(tube(design="newtonian", mass_kg=None), None)
    assert found.assumed == ("obstruction_mm", "mass_kg")
    assert found.obstruction.low < found.obstruction.value < found.obstruction.high
    assert found.mass_kg.low < found.mass_kg.value < found.mass_kg.high


def test_the_mass_on_the_saddle_counts_with_the_rings():
    found = figures_of(tube(mass_kg=None, mass_with_rings_kg=6.5), 0.0)
    assert found.mass_kg == Span(6.5, 6.5, 6.5)
    assert found.assumed == ()


def test_a_tube_twice_as_wide_weighs_four_times_as_much():
    small, large = (figures_of(tube(mass_kg=None, aperture_mm=mm), 0.0).mass_kg for mm in (100.0, 200.0))
    for end in ("value", "low", "high"):
        assert getattr(large, end) == pytest.approx(4.0 * getattr(small, end))


def test_of_a_tube_of_unknown_design_or_aperture_nothing_narrower_is_said_than_of_any():
    any_tube = figures_of(tube(design=None, mass_kg=None, aperture_mm=100.0), None)
    of_no_size = figures_of(tube(design=None, mass_kg=None, aperture_mm=None), None)
    assert of_no_size == any_tube
    assert all(
        any_tube.mass_kg.low <= one.low <= one.high <= any_tube.mass_kg.high for one in KG_AT_100_MM.values()
    )


@pytest.mark.parametrize("design", NAMES)
def test_every_design_has_its_ranges(design):
    assert 0.0 <= OBSTRUCTION[design].low <= OBSTRUCTION[design].value <= OBSTRUCTION[design].high < 0.9
    assert 0.0 < KG_AT_100_MM[design].low < KG_AT_100_MM[design].value < KG_AT_100_MM[design].high
    assert (OBSTRUCTION[design].high == 0.0) == (design in LENSES)


def test_no_lens_is_collimated_in_the_field():
    assert not set(COLLIMATED_IN_THE_FIELD) & set(LENSES)
    assert set(COLLIMATED_IN_THE_FIELD) <= set(NAMES)
