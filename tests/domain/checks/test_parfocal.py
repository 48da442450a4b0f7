"""The filters of one wheel against the depth of focus.

Sources: the plate's exact edge-ray shift (Smith, Modern Optical Engineering, from memory) as traced by an
independent ray-trace library: N-BK7, index 1.5168, 3 mm at f/4 1.03083 mm and 2 mm at f/4 0.68722 mm; depth
of focus +-2 lambda N^2 = 17.6 um at f/4 and 550 nm (Born & Wolf, sec. 8.8, from memory).
"""

from __future__ import annotations

import pytest

from server.domain.measure import Measure
from tests.domain.rigs import (
    camera,
    corrector,
    finding,
    findings,
    glass,
    holding,
    input_named,
    number,
    tube,
    wheel,
)

SHIFT_TOLERANCE_MM = 3e-5
"""The printed shifts have five decimals; two of them are subtracted."""


def wheel_with(*filters, **of_tube):
    return (tube(**of_tube), corrector(), holding(wheel(20.0), *filters), camera())


def test_a_millimetre_more_of_glass_at_f4_is_far_beyond_the_depth_of_focus():
    found = finding("parfocal", *wheel_with(glass(2.0, model="Thin"), glass(3.0, model="Thick")))
    assert (found.weight, found.code) == ("watch", "parfocal.offset")
    assert number(found, "offset") == pytest.approx(1.03083 - 0.68722, abs=SHIFT_TOLERANCE_MM)
    assert number(found, "depth") == pytest.approx(0.0176, abs=1e-6)
    assert "Sell Thick focuses {offset} further out than Sell Thin" in found.phrase.template
    assert "Focus afresh" in found.remedies[0].phrase.template


def test_the_shift_is_the_exact_one_of_the_beams_focal_ratio_and_not_the_paraxial_third():
    found = finding("parfocal", *wheel_with(glass(3.0), glass(3.0, model="Two"), aperture_mm=400.0))
    # 3 mm of N-BK7 at f/2: 1.05620 by trace, 1.02215 paraxial.
    assert input_named(found, "shift by Sell Two") == pytest.approx(1.05620, abs=SHIFT_TOLERANCE_MM)
    assert (found.weight, found.code) == ("sound", "parfocal.sound")


def test_filters_of_one_thickness_whose_tolerance_may_part_them_are_a_watch():
    worn = Measure(nominal=2.0, plus=0.05, minus=0.05)
    found = finding("parfocal", *wheel_with(glass(worn), glass(worn, model="Two")))
    assert (found.weight, found.code) == ("watch", "parfocal.may_offset")
    assert found.figure is not None
    # Two tolerances of 0.05 mm; 1 mm of N-BK7 shifts by 0.34361 mm at f/4 (tests/references/glass.py).
    assert found.figure.uncertainty == pytest.approx(2 * 0.05 * 0.34361, abs=2e-6)


def test_a_slow_beam_forgives_what_a_fast_one_does_not():
    pair = (glass(2.0), glass(2.1, model="Two"))
    # 0.1 mm of N-BK7 shifts by 0.034 mm; the depth is 0.0176 mm at f/4 and 0.0704 mm at f/8.
    assert finding("parfocal", *wheel_with(*pair)).code == "parfocal.offset"
    assert finding("parfocal", *wheel_with(*pair, aperture_mm=100.0)).code == "parfocal.sound"


def test_one_filter_has_nothing_to_be_parfocal_with():
    assert findings("parfocal", *wheel_with(glass(2.0))) == []


def test_a_filter_of_no_known_thickness_is_asked_for_and_the_others_are_compared_all_the_same():
    odd = glass(None, model="Odd")
    alike = finding("parfocal", *wheel_with(glass(2.0), glass(2.0, model="Two"), odd))
    assert (alike.weight, alike.missing) == ("unknown", ("the glass thickness of Sell Odd",))
    apart = finding("parfocal", *wheel_with(glass(2.0), glass(3.0, model="Two"), odd))
    assert (apart.weight, apart.missing) == ("watch", ("the glass thickness of Sell Odd",))


def test_without_a_focal_ratio_it_says_what_to_enter():
    found = finding("parfocal", *wheel_with(glass(2.0), glass(3.0, model="Two"), aperture_mm=None))
    assert (found.weight, found.missing) == ("unknown", ("the aperture of Halden Tube",))
