"""The forms of a site and of an own target: texts to values and back, and a sentence for a wrong field."""

from __future__ import annotations

from collections.abc import Callable
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.domain.errors import FieldErrors
from server.domain.sky.finding import KINDS
from server.domain.sky.site import BRIGHTNESS_RANGE, Site
from server.domain.sky.target import Target
from server.rim.sky_forms import (
    SITE_SPECS,
    TARGET_SPECS,
    read_site,
    read_target,
    site_texts,
    target_texts,
    zones,
)

GARDEN = {"name": "The garden", "latitude_deg": "50.1 N", "longitude_deg": "8.6 E", "zone": "Europe/Berlin"}
LOOP = {"name": "The whole loop", "ra_deg": "20h 51m", "dec_deg": "+31° 0'"}


def errors(read: Callable[[dict[str, str]], object], texts: dict[str, str]) -> dict[str, str]:
    with pytest.raises(FieldErrors) as refused:
        read(texts)
    return dict(refused.value.errors)


_horizons = st.dictionaries(st.integers(0, 359), st.integers(-5, 89), min_size=1, max_size=36)
_brightness = st.one_of(
    st.just((None, None)),
    *(
        st.tuples(st.just(by), st.integers(round(10 * low), round(10 * high)).map(lambda n: n / 10.0))
        for by, (low, high) in BRIGHTNESS_RANGE.items()
        if by != "sky_class"
    ),
    st.tuples(st.just("sky_class"), st.integers(1, 9).map(float)),
)
_sites = st.builds(
    lambda name, lat, lon, height, zone, dark, seeing, line: Site(
        name=name,
        latitude_deg=lat / 100.0,
        longitude_deg=lon / 100.0,
        height_m=height,
        zone=zone,
        brightness_by=dark[0],
        brightness=dark[1],
        seeing_arcsec=seeing,
        horizon=tuple((float(at), float(altitude)) for at, altitude in line.items()),
    ),
    st.sampled_from(["A", "The garden", "Hütte 3 “oben”"]),
    st.integers(-9000, 9000),
    st.integers(-18000, 18000),
    st.integers(-450, 6000).map(float),
    st.sampled_from(["Europe/Berlin", "UTC", "Africa/Johannesburg"]),
    _brightness,
    st.none() | st.integers(3, 200).map(lambda n: n / 10.0),
    _horizons,
)


@given(_sites)
def test_what_the_form_shows_of_a_site_is_read_back_as_the_same_site(site):
    back = read_site(site_texts(site))
    if len(site.horizon) == 1:
        # One altitude holds all round: its direction says nothing and is not shown.
        site = site.model_copy(update={"horizon": ((0.0, site.horizon[0][1]),)})
    assert back == site


_tens = st.integers(1, 36000).map(lambda n: n / 10.0)
_targets = st.builds(
    lambda kind, ra, dec, sides, angle, v_mag, surface: Target(
        name="Mine",
        kind=kind,
        ra_deg=ra / 240.0,
        dec_deg=dec / 3600.0,
        major_arcmin=sides and max(sides),
        minor_arcmin=sides and min(sides),
        angle_deg=angle,
        v_mag=v_mag,
        surface_v_mag=surface,
        own=True,
    ),
    st.sampled_from(KINDS),
    st.integers(0, 86399),
    st.integers(-324000, 324000),
    st.none() | st.tuples(_tens, _tens),
    st.none() | st.integers(0, 360).map(float),
    st.none() | st.integers(-50, 250).map(lambda n: n / 10.0),
    st.none() | st.integers(100, 320).map(lambda n: n / 10.0),
)


@given(_targets)
def test_what_the_form_shows_of_a_target_is_read_back_as_the_same_target(target):
    back = read_target(target_texts(target))
    places = "ra_deg", "dec_deg"
    assert [getattr(back, name) for name in places] == pytest.approx(
        [getattr(target, name) for name in places], abs=1e-9
    )
    assert back.model_dump(exclude=set(places)) == target.model_dump(exclude=set(places))


def test_a_site_is_read_from_the_least_that_is_asked_for():
    site = read_site(GARDEN)
    assert (site.name, site.latitude_deg, site.longitude_deg, site.zone) == (
        "The garden",
        50.1,
        8.6,
        "Europe/Berlin",
    )
    assert site.horizon == ((0.0, 30.0),)
    assert site.sky is None


@pytest.mark.parametrize(
    ("field", "text", "sentence"),
    [
        ("name", "", "Give it a name"),
        ("name", "x" * 81, "at most 80 are kept. Shorten it"),
        ("name", "a\u202eb", "a character that cannot be shown"),
        ("latitude_deg", "", "The latitude is needed: any map tells it, like 50.1 N"),
        ("latitude_deg", "95", "95° lies beyond ±90°"),
        ("longitude_deg", "", "The longitude is needed"),
        ("longitude_deg", "200 E", "200° lies beyond ±180°"),
        ("zone", "", "Name the time zone"),
        (
            "zone",
            "Mars/Base",
            "no time zone “Mars/Base”. Take one of the list, such as Europe/Berlin",
        ),
        ("zone", "../../etc/passwd", "There is no time zone"),
        ("zone", "x" * 61, "at most 60 are kept"),
        ("height_m", "9000", "9000 m is no height of a site: it must be -450 to 6000 m"),
        ("horizon", "89.5", "89.5° is too much here (at most 89°)"),
        ("horizon", "-6", "must be at least −5°"),
        ("horizon", "370: 20", "Line 1, direction: 370° is too much here (at most 360°)"),
        ("horizon", "0: 20\n360: 30", "One direction has two altitudes"),
        ("horizon", "0: 20\n90", "Line 2, “90”: a line holds 2 numbers"),
        ("horizon", "\n".join(f"{at}: 20" for at in range(37)), "at most 36 are kept"),
        ("seeing_arcsec", "0.1", "at least 0.3 arcsec"),
        ("seeing_arcsec", "40", "at most 20 arcsec"),
        ("brightness", "20.4", "Say both the figure and what it is, or neither"),
        ("brightness_by", "magnitude", "Say both the figure and what it is, or neither"),
        ("brightness_by", "luck", "“luck” is none of the choices"),
    ],
)
def test_a_wrong_field_of_a_site_says_what_is_wrong_and_what_to_do(field, text, sentence):
    found = errors(read_site, GARDEN | {field: text})
    beside = "brightness" if "Say both" in sentence else field
    assert list(found) == [beside]
    assert sentence in found[beside]
    assert found[beside].endswith((".", "?"))


@pytest.mark.parametrize(
    ("by", "figure", "sentence"),
    [
        ("magnitude", "25", "This is 25; it must be 15 to 22.2."),
        ("naked_eye", "9", "This is 9; it must be 2 to 7.6."),
        ("sky_class", "10", "This is 10; it must be 1 to 9."),
        ("sky_class", "4.5", "Sky classes are whole: give the nearest one, 1 to 9."),
        ("magnitude", "dark", "“dark” is not a number. Type it like 12.5."),
    ],
)
def test_a_brightness_beyond_its_measure_says_the_range(by, figure, sentence):
    found = errors(read_site, GARDEN | {"brightness_by": by, "brightness": figure})
    assert found == {"brightness": sentence}


@pytest.mark.parametrize(
    ("read", "texts", "field"),
    [
        (read_site, GARDEN | {"brightness_by": "magnitude", "brightness": "20.4 ± 0.2"}, "brightness"),
        (read_site, GARDEN | {"seeing_arcsec": "3 ± 0.5"}, "seeing_arcsec"),
        (read_target, LOOP | {"surface_v_mag": "22.5 ± 0.3"}, "surface_v_mag"),
    ],
)
def test_a_tolerance_is_not_dropped_in_silence(read, texts, field):
    assert "Only the figure is kept here" in errors(read, texts)[field]


def test_the_form_keeps_a_place_to_what_was_typed():
    texts = target_texts(read_target(LOOP | {"ra_deg": "20h 51m 03.27s", "dec_deg": "+31° 0' 12.4\""}))
    assert (texts["ra_deg"], texts["dec_deg"]) == ("20h 51m 03.27s", "+31° 00' 12.4\"")


def test_every_wrong_field_is_told_at_once():
    found = errors(read_site, {"name": "", "latitude_deg": "95", "longitude_deg": "x", "zone": "Mars/Base"})
    assert set(found) == {"name", "latitude_deg", "longitude_deg", "zone"}


@pytest.mark.parametrize(
    ("field", "text", "sentence"),
    [
        ("name", "", "Give it a name"),
        ("ra_deg", "", "The right ascension is needed, like 20h 45m 38s"),
        ("ra_deg", "311.4", "Hours or degrees? Write 311.4h or 311.4°"),
        ("dec_deg", "", "The declination is needed"),
        ("dec_deg", "99", "99° lies beyond ±90°"),
        ("kind", "cloud", "“cloud” is none of the choices. Take one of “galaxy”"),
        ("minor_arcmin", "5", "Its long side is missing: give that first, the short one after it"),
        ("major_arcmin", "-3", "must be above 0"),
        ("angle_deg", "361", "361° is too much here (at most 360°)"),
        ("v_mag", "30", "30 is too much here (at most 25)"),
        ("surface_v_mag", "5", "must be at least 10"),
    ],
)
def test_a_wrong_field_of_a_target_says_what_is_wrong_and_what_to_do(field, text, sentence):
    found = errors(read_target, LOOP | {field: text})
    beside = "major_arcmin" if "long side is missing" in sentence else field
    assert list(found) == [beside]
    assert sentence in found[beside]
    assert found[beside].endswith((".", "?"))


def test_a_short_side_longer_than_the_long_one_is_told_to_be_swapped():
    found = errors(read_target, LOOP | {"major_arcmin": "10", "minor_arcmin": "3°"})
    assert found == {"minor_arcmin": "The short side of 180' is longer than the long one of 10'. Swap them."}


@pytest.mark.parametrize("kind", KINDS)
def test_a_kind_is_read_by_its_code_as_the_form_sends_it(kind):
    assert read_target(LOOP | {"kind": kind}).kind == kind


def test_an_own_target_is_the_observers_and_of_another_kind_unless_said():
    target = read_target(LOOP | {"major_arcmin": "3.5°", "minor_arcmin": "160"})
    assert (target.own, target.kind) == (True, "Other")
    assert target.ellipse_arcmin == (210.0, 160.0)
    assert (target.ra_deg, target.dec_deg) == pytest.approx((312.75, 31.0))


def test_every_time_zone_that_is_offered_is_one():
    assert "Europe/Berlin" in zones()
    assert "UTC" in zones()
    assert list(zones()) == sorted(zones())
    for name in zones()[::50]:
        assert ZoneInfo(name).key == name
        assert read_site(GARDEN | {"zone": name}).zone == name


def test_every_field_of_the_forms_has_a_text():
    assert set(site_texts(read_site(GARDEN))) == {spec.name for spec in SITE_SPECS}
    assert set(target_texts(read_target(LOOP))) == {spec.name for spec in TARGET_SPECS}
