"""A site: what is refused, and what its horizon and its brightness say to the sky."""

from __future__ import annotations

import re

import pytest
from pydantic import ValidationError

from server.domain.sky.site import Site

GARDEN = {"name": "The garden", "latitude_deg": 50.1, "longitude_deg": 8.6, "zone": "Europe/Berlin"}


def site(**given):
    return Site(**(GARDEN | given))


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({"zone": "Mars/Base"}, "no time zone “Mars/Base”. Take one of the list"),
        ({"zone": "../etc/passwd"}, "no time zone"),
        ({"zone": "Europe"}, "no time zone"),  # a folder of zones, no zone
        ({"zone": ""}, "no time zone"),
        ({"horizon": ((400.0, 20.0),)}, "A direction of 400° is none: give 0 (north) to 360"),
        ({"horizon": ((90.0, 89.5),)}, "A lowest altitude of 89.5° leaves no sky: give -5 to 89"),
        ({"horizon": ((90.0, -6.0),)}, "give -5 to 89"),
        ({"horizon": ((0.0, 10.0), (360.0, 20.0))}, "One direction has two altitudes"),
        ({"brightness": 20.0}, "Say both the figure and what it is, or neither"),
        ({"brightness_by": "magnitude"}, "Say both the figure and what it is, or neither"),
        ({"brightness_by": "magnitude", "brightness": 22.3}, "This is 22.3; it must be 15 to 22.2"),
        ({"brightness_by": "naked_eye", "brightness": 8.0}, "This is 8; it must be 2 to 7.6"),
        ({"brightness_by": "sky_class", "brightness": 0.0}, "This is 0; it must be 1 to 9"),
        ({"brightness_by": "sky_class", "brightness": 4.5}, "Sky classes are whole"),
    ],
)
def test_what_no_site_can_be_is_refused_with_what_to_do(given, sentence):
    with pytest.raises(ValidationError, match=re.escape(sentence)):
        site(**given)


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"latitude_deg": 90.1}, "latitude_deg"),
        ({"longitude_deg": -180.1}, "longitude_deg"),
        ({"height_m": 6001.0}, "height_m"),
        ({"seeing_arcsec": 0.1}, "seeing_arcsec"),
        ({"horizon": ()}, "horizon"),
        ({"horizon": tuple((float(at), 20.0) for at in range(37))}, "horizon"),
    ],
)
def test_a_figure_beyond_the_earth_names_its_field(given, field):
    with pytest.raises(ValidationError) as refused:
        site(**given)
    assert [one["loc"] for one in refused.value.errors()] == [(field,)]


def test_a_horizon_is_kept_round_the_sky_and_is_straight_between_its_points():
    # By hand: from 20 at 350 degrees to 40 at 30 it rises half a degree each degree, through north at 25.
    line = site(horizon=((350.0, 20.0), (30.0, 40.0), (180.0, 10.0))).line
    assert [point[0] for point in line.points] == [30.0, 180.0, 350.0]
    assert line.altitude_deg([0.0, 360.0, 10.0, 105.0]) == pytest.approx([25.0, 25.0, 30.0, 25.0])


def test_one_point_of_a_horizon_holds_all_round_and_360_degrees_is_north():
    one = site(horizon=((360.0, 12.0),))
    assert one.horizon == ((0.0, 12.0),)
    assert one.line.altitude_deg([0.0, 77.0, 251.0]) == pytest.approx([12.0] * 3)


def test_without_a_horizon_two_air_masses_are_the_limit():
    # One over the sine of 30 degrees.
    assert site().horizon == ((0.0, 30.0),)


@pytest.mark.parametrize(
    ("by", "figure", "magnitude", "uncertainty"),
    [
        # A meter: as it says, within its usual tenth (common practice, no source).
        ("magnitude", 20.4, 20.4, 0.1),
        # 21.58 - 5 log(10^(1.586 - N / 5) - 1) of Schaefer, PASP 102, 212 (1990), worked by hand.
        ("naked_eye", 6.0, 20.80, 0.5),
        ("naked_eye", 5.0, 19.30, 0.5),
        # The middle between 19.50 and 20.49, the ends that observers use for class 5; half its width is less
        # than what an eye may be off.
        ("sky_class", 5.0, 19.995, 0.5),
    ],
)
def test_each_measure_of_the_brightness_gives_magnitudes_and_how_far_off_they_may_be(
    by, figure, magnitude, uncertainty
):
    sky = site(brightness_by=by, brightness=figure).sky
    assert sky is not None
    assert sky.magnitude == pytest.approx(magnitude, abs=0.005)
    assert sky.uncertainty == pytest.approx(uncertainty)


def test_an_unknown_brightness_stays_unknown():
    assert site().sky is None
