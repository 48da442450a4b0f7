"""What tolerances do to the finished train, worked by hand.

Sources: two lengths each as likely anywhere within their limits (JCGM 100:2008, 4.3.7, from memory) have a
sum whose chance is the share of a rectangle's area; variance of a uniform spread = width^2 / 12. Tilt:
diagonal x tan(angle), 1 arcmin = 0.000290888; depth of focus 17.6 um at f/4 and 550 nm (Born & Wolf, from
memory).
"""

from __future__ import annotations

from math import sqrt

import pytest

from server.domain.findings import Finding
from server.domain.measure import Measure
from server.domain.rig import Rules
from tests.domain.rigs import camera, corrector, findings, glass, holding, mm, number, ring, tube, wheel

DRAWN = 0.02
"""3000 draws: a share of 0.92 has a standard error of 0.005, one of 0.5 of 0.009."""


def chance(*between, rules=None, **given) -> Finding | None:
    found = findings("tolerances", tube(), corrector(**given), *between, camera(), rules=rules)
    return next((f for f in found if f.title == "Tolerances"), None)


def tilt(*parts, **beside) -> Finding | None:
    found = findings("tolerances", *parts, **beside)
    return next((f for f in found if f.title == "Tilt"), None)


def test_two_uniform_lengths_fit_by_the_share_of_their_rectangle():
    # +-0.3 and +-0.4 mm against +-0.5: two corners of 0.2^2 / 2 of 0.6 x 0.8 stick out: 1 - 0.04 / 0.48.
    found = chance(ring(mm(20.0, 0.3)), ring(mm(17.5, 0.4), model="Wide"))
    assert found is not None
    assert number(found, "chance") == pytest.approx(0.91667, abs=DRAWN)
    assert (found.code, found.weight) == ("tolerances.may_leave", "watch")
    assert number(found, "worst") == pytest.approx(0.7)
    assert number(found, "likely") == pytest.approx(0.5)


def test_the_part_that_brings_most_of_the_spread_is_named_with_its_share_of_the_variance():
    found = chance(ring(mm(20.0, 0.3)), ring(mm(17.5, 0.4), model="Wide"))
    assert found is not None
    assert number(found, "share") == pytest.approx(0.16 / 0.25)
    assert "Brask Wide brings most of the spread" in found.phrase.template
    assert any("Measure Brask Wide" in r.phrase.template for r in found.remedies)


def test_glass_that_was_measured_to_one_side_counts_like_a_ring_that_was():
    # 1 mm of index 1.5 at f/4 shifts by 0.336208 mm (test_spacing.py): 0.59487 mm of it by the ring's 0.2 mm.
    measured = {"minus": 0.0, "basis": "measured"}
    thick = glass(Measure(nominal=3.0, plus=0.59487, **measured), refractive_index=1.5)
    slack = ring(Measure(nominal=10.0, plus=0.2, **measured))
    found = chance(slack, holding(wheel(28.5), thick))
    assert found is not None
    assert number(found, "share") == pytest.approx(0.5, abs=1e-4)


def test_a_measured_length_is_drawn_as_two_standard_deviations():
    # +-0.5 mm measured is a normal spread of 0.25: the window of 0.5 mm holds 95.45 % of it.
    measured = Measure(nominal=37.5, plus=0.5, minus=0.5, basis="measured")
    typed = Measure(nominal=37.5, plus=0.5, minus=0.5)
    found, flat = chance(ring(measured)), chance(ring(typed))
    assert found is not None
    assert flat is not None
    assert number(found, "chance") == pytest.approx(0.9545, abs=DRAWN)
    assert number(flat, "chance") == 1.0


def test_shims_that_bring_a_short_train_in_are_named_and_tried():
    # 0.55 mm short within +-0.1 of a window of 0.5: a quarter fit by themselves; a shim brings the others in.
    found = chance(ring(mm(36.95, 0.1)))
    assert found is not None
    assert found.code == "tolerances.outside"
    first = found.remedies[0].phrase
    assert "Keep shims of" in first.template
    shims = [v.value for k, v in first.amounts.items() if k.startswith("shim")]
    thicker = chance(ring(mm(36.95 + sum(shims), 0.1)))
    assert thicker is not None
    assert number(thicker, "chance") >= 0.95


def test_a_train_too_long_is_told_that_shims_only_lengthen():
    found = chance(ring(mm(38.0, 0.1)))
    assert found is not None
    assert "Shims only lengthen" in found.remedies[0].phrase.template


def test_the_same_train_has_the_same_chance_every_time():
    one, two = (chance(ring(mm(20.0, 0.3)), ring(mm(17.5, 0.4))) for _ in range(2))
    assert one is not None
    assert two is not None
    assert number(one, "chance") == number(two, "chance")


def test_without_any_tolerance_nothing_is_drawn_and_a_missing_one_is_said_to_be_taken_as_exact():
    assert chance(ring(37.5)) is None
    some = chance(ring(mm(20.0, 0.1)), ring(17.5, model="Bare"))
    assert some is not None
    assert "No tolerance is entered for Brask Bare" in some.phrase.template


def test_glass_counts_by_the_share_of_its_shift_and_takes_away():
    # +-0.3 mm of index 1.5 ask for +-0.3 x 0.336208 mm more at f/4, worked by hand.
    found = chance(holding(wheel(38.5), glass(mm(3.0, 0.3), refractive_index=1.5)))
    assert found is not None
    assert number(found, "worst") == pytest.approx(0.100862, abs=1e-6)


def test_joints_out_of_square_add_as_a_root_of_squares_across_the_sensors_diagonal():
    # Behind the corrector two joints of 3 arcmin: sqrt(2) x 3 x 0.000290888 x 43.2666 / 2 mm in a corner.
    found = tilt(tube(), corrector(), ring(37.5), camera(), rules=Rules(joint_arcmin=3.0))
    assert found is not None
    corner = sqrt(2) * 3 * 0.000290888 * 43.2666 / 2
    assert number(found, "corner") == pytest.approx(corner, rel=1e-4)
    assert number(found, "depth") == pytest.approx(0.0176, abs=1e-6)
    assert (found.code, found.weight) == ("tolerances.tilted", "watch")


def test_square_joints_and_slow_beams_are_within_the_depth_of_focus():
    slow = tube(aperture_mm=100.0)
    found = tilt(slow, corrector(), ring(37.5), camera())
    assert found is not None
    assert (found.code, found.weight) == ("tolerances.tilt", "sound")
    assert tilt(slow, corrector(), ring(37.5), camera(), rules=Rules(joint_arcmin=0.0)) is None


def test_a_tilt_plate_is_told_to_be_used():
    rules = Rules(joint_arcmin=10.0)
    found = tilt(tube(), corrector(), ring(37.5), camera(tilt_plate=True), rules=rules)
    assert found is not None
    assert "tilt plate" in found.remedies[0].phrase.template
    without = tilt(tube(), corrector(), ring(37.5), camera(), rules=rules)
    assert without is not None
    assert "tilt adjuster" in without.remedies[0].phrase.template


def test_a_tolerance_to_one_side_draws_the_trains_to_that_side():
    # 19 of 20 uniform draws of 0 to 0.8 mm lie between 0.02 and 0.78; 0.5 of 0.8 fit the window.
    longer = chance(ring(mm(37.5, 0.8, 0.0)))
    assert longer is not None
    assert number(longer, "chance") == pytest.approx(0.625, abs=DRAWN)
    assert (number(longer, "from"), number(longer, "to")) == pytest.approx((0.02, 0.78), abs=DRAWN)
    # Glass 1 mm thicker, or with nothing said of its other side, asks for 0.336208 mm more at f/4, worked by
    # hand: the sensor is then so much too near.
    for other in (0.0, None):
        thicker = Measure(nominal=3.0, plus=1.0, minus=other)
        near = chance(holding(wheel(38.508624), glass(thicker, refractive_index=1.5)))
        assert near is not None
        assert number(near, "worst") == pytest.approx(0.336208, abs=1e-6)
        assert (number(near, "from"), number(near, "to")) == pytest.approx((-0.3278, -0.0084), abs=DRAWN)
        thinner = Measure(nominal=3.0, plus=other, minus=1.0)
        far = chance(holding(wheel(38.508624), glass(thinner, refractive_index=1.5)))
        assert far is not None
        assert number(far, "worst") == pytest.approx(0.336208, abs=1e-6)
        assert (number(far, "from"), number(far, "to")) == pytest.approx((0.0084, 0.3278), abs=DRAWN)


@pytest.mark.parametrize("other", [0.0, None])
def test_a_length_of_which_one_side_is_unsaid_is_exact_to_that_side(other):
    short = chance(ring(Measure(nominal=37.5, plus=other, minus=0.4)))
    assert short is not None
    assert number(short, "worst") == pytest.approx(0.4)
    assert (number(short, "from"), number(short, "to")) == pytest.approx((-0.39, -0.01), abs=DRAWN)
    long = chance(ring(Measure(nominal=37.5, plus=0.4, minus=other)))
    assert long is not None
    assert number(long, "worst") == pytest.approx(0.4)
    assert (number(long, "from"), number(long, "to")) == pytest.approx((0.01, 0.39), abs=DRAWN)
