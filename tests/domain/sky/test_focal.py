"""Focal lengths that frame a list of targets: image size = 2 f tan(angle / 2), worked by hand."""

from __future__ import annotations

import math

import pytest

from server.domain.sky.focal import LEAST_FILL, MOST_FILL, choose_focal
from server.domain.sky.target import Target
from server.out_of_range import OutOfRangeError

SENSOR = (36.0, 24.0)


def round_one(name, size_arcmin):
    return Target(name=name, ra_deg=1.0, dec_deg=2.0, major_arcmin=size_arcmin, minor_arcmin=size_arcmin)


def focal_mm(size_arcmin, share):
    """At which a round target takes a share of the sensor's height."""
    return share * 24.0 / (2.0 * math.tan(math.radians(size_arcmin / 120.0)))


MOON, HALF, SMALL = round_one("A", 60.0), round_one("B", 30.0), round_one("C", 5.0)
POINT = Target(name="P", ra_deg=1.0, dec_deg=2.0)


def test_each_target_has_the_lengths_from_its_least_to_its_most_share_the_shortest_first():
    found = choose_focal((SMALL, MOON), SENSOR, LEAST_FILL, MOST_FILL)
    assert [bar.target for bar in found.bars] == [MOON, SMALL]
    for bar, size in zip(found.bars, (60.0, 5.0), strict=True):
        assert bar.shortest_mm == pytest.approx(focal_mm(size, 0.25))
        assert bar.longest_mm == pytest.approx(focal_mm(size, 0.85))
        assert bar.frames(bar.shortest_mm)
        assert bar.frames(bar.longest_mm)
        assert not bar.frames(bar.longest_mm * 1.001)
        assert not bar.frames(bar.shortest_mm * 0.999)


def test_what_all_of_them_share_is_told():
    found = choose_focal((HALF, MOON), SENSOR, LEAST_FILL, MOST_FILL)
    assert found.shared_mm == pytest.approx((focal_mm(30.0, 0.25), focal_mm(60.0, 0.85)))
    assert found.disagree is None


def test_where_two_disagree_these_two_are_named():
    found = choose_focal((HALF, SMALL, MOON), SENSOR, LEAST_FILL, MOST_FILL)
    assert found.shared_mm is None
    # The small one wants more than 4,125 mm, the largest less than 1,169.
    assert found.disagree == (SMALL, MOON)


def test_a_target_of_unknown_size_stands_aside():
    found = choose_focal((POINT, MOON), SENSOR, LEAST_FILL, MOST_FILL)
    assert found.sizeless == (POINT,)
    assert [bar.target for bar in found.bars] == [MOON]
    assert found.shared_mm is not None
    alone = choose_focal((POINT,), SENSOR, LEAST_FILL, MOST_FILL)
    assert (alone.bars, alone.sizeless, alone.shared_mm, alone.disagree) == ((), (POINT,), None, None)
    assert choose_focal((), SENSOR, LEAST_FILL, MOST_FILL).bars == ()


def test_a_long_target_may_lie_along_the_sensors_long_side():
    long = Target(name="L", ra_deg=1.0, dec_deg=2.0, major_arcmin=60.0, minor_arcmin=6.0, angle_deg=10.0)
    (bar,) = choose_focal((long,), SENSOR, LEAST_FILL, MOST_FILL).bars
    assert bar.longest_mm > 36.0 / 24.0 * focal_mm(60.0, 0.85)


@pytest.mark.parametrize(("least", "most"), [(0.0, 0.85), (0.9, 0.5), (0.25, math.inf)])
def test_shares_that_are_none_are_refused(least, most):
    with pytest.raises(OutOfRangeError):
        choose_focal((MOON,), SENSOR, least, most)
