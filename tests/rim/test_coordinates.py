"""Places on the sky and on the Earth, as people write them and as they are written."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.rim.cells import CellError
from server.rim.coordinates import (
    LONGEST,
    read_arcmin,
    read_declination,
    read_height,
    read_latitude,
    read_longitude,
    read_right_ascension,
    write_declination,
    write_degrees,
    write_right_ascension,
)

SECOND = 1.0 / 3600.0
HALF_TENTH = 0.05 * 15.0 * SECOND
"""Right ascensions are written to a tenth of a second of time, declinations to a second of arc."""


def apart(one: float, other: float) -> float:
    return abs((one - other + 180.0) % 360.0 - 180.0)


@given(st.floats(0.0, 360.0, exclude_max=True))
def test_a_right_ascension_that_is_written_is_read_back(ra_deg):
    text = write_right_ascension(ra_deg)
    assert apart(read_right_ascension(text), ra_deg) <= HALF_TENTH * 1.001
    assert write_right_ascension(read_right_ascension(text)) == text


@given(st.floats(-90.0, 90.0))
def test_a_declination_that_is_written_is_read_back(dec_deg):
    text = write_declination(dec_deg)
    assert read_declination(text) == pytest.approx(dec_deg, abs=0.5001 * SECOND)
    # Of a nought the sign is lost.
    assert write_declination(read_declination(text))[1:] == text[1:]


@given(st.floats(0.0, 360.0, exclude_max=True), st.floats(-90.0, 90.0))
def test_what_a_form_shows_of_a_place_keeps_a_hundredth_of_a_second(ra_deg, dec_deg):
    ra, dec = write_right_ascension(ra_deg, exact=True), write_declination(dec_deg, exact=True)
    assert apart(read_right_ascension(ra), ra_deg) <= 0.01 * 15.0 * SECOND
    assert read_declination(dec) == pytest.approx(dec_deg, abs=0.0051 * SECOND)


def test_what_a_form_shows_of_a_place_has_no_needless_noughts():
    assert write_right_ascension(311.4083333333, exact=True) == "20h 45m 38s"
    assert write_right_ascension(359.9999999, exact=True) == "00h 00m 00s"
    assert write_declination(30.7083611, exact=True) == "+30° 42' 30.1\""


@pytest.mark.parametrize(
    ("read", "text"), [(read_arcmin, "5 ± 1"), (read_arcmin, "3.5° ± 0.1°"), (read_height, "110 m ± 5 m")]
)
def test_a_tolerance_that_would_be_lost_is_refused(read, text):
    with pytest.raises(CellError) as refused:
        read(text)
    assert refused.value.sentence == "Only the figure is kept here: leave out its ± and where it comes from."


@given(st.floats(-90.0, 90.0), st.floats(-180.0, 180.0))
def test_a_place_on_the_earth_that_is_written_is_read_back(latitude, longitude):
    # Five decimals: about a metre.
    assert read_latitude(write_degrees(latitude, "N", "S")) == pytest.approx(latitude, abs=5.1e-6)
    assert read_longitude(write_degrees(longitude, "E", "W")) == pytest.approx(longitude, abs=5.1e-6)


@given(st.integers(0, 23), st.integers(0, 59), st.integers(0, 599), st.sampled_from("h:d °"))
def test_hours_or_degrees_minutes_and_seconds_add_up_however_they_are_parted(whole, minutes, tenths, part):
    seconds = tenths / 10.0
    between = {"h": ("h ", "m ", "s"), ":": (":", ":", ""), " ": (" ", " ", "")}
    first, second, third = between.get(part, (f"{part} ", "' ", '"'))
    text = f"{whole}{first}{minutes}{second}{seconds}{third}"
    value = whole + minutes / 60.0 + seconds / 3600.0
    times = 1.0 if part in "d°" else 15.0
    assert read_right_ascension(text) == pytest.approx(times * value, abs=1e-9)


@given(st.text(max_size=80))
def test_whatever_is_typed_is_read_or_refused_with_a_sentence(text):
    for read in (
        read_right_ascension,
        read_declination,
        read_latitude,
        read_longitude,
        read_arcmin,
        read_height,
    ):
        try:
            value, sentence = read(text), "."
        except CellError as refused:
            value, sentence = 0.0, refused.sentence
        assert math.isfinite(value)
        assert sentence.endswith((".", "?"))


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        # J2000 of the western veil as atlases print it: 20h 45m 38s is 20.760556 h.
        ("20h 45m 38s", 311.408333),
        ("20h45m38s", 311.408333),
        ("20H 45M 38S", 311.408333),
        ("20:45:38", 311.408333),
        ("20 45 38", 311.408333),
        ("20h 45.63333m", 311.408333),
        ("20h 45′ 38″", 311.408333),
        ("311.408333°", 311.408333),
        ("311.408333 deg", 311.408333),
        ("311.408333 degrees", 311.408333),
        ("311° 24' 30\"", 311.408333),
        ("20.5h", 307.5),
        ("20 30", 307.5),
        ("0h", 0.0),
        ("12h 30s", 180.125),
    ],
)
def test_right_ascensions_are_read_as_people_write_them(text, degrees):
    assert read_right_ascension(text) == pytest.approx(degrees, abs=1e-5)


def test_a_bare_number_is_asked_whether_it_counts_hours_or_degrees():
    with pytest.raises(CellError) as refused:
        read_right_ascension("12.5")
    assert refused.value.sentence == "Hours or degrees? Write 12.5h or 12.5°."
    assert read_right_ascension("12.5h") == 187.5
    assert read_right_ascension("12.5°") == 12.5


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("+30.7", 30.7),
        ("30.7", 30.7),
        ("-5° 23'", -5.383333),
        ("−5° 23′", -5.383333),
        ("+30 42 30", 30.708333),
        ("+30:42:30", 30.708333),
        # A minus before a nought counts, and the s of seconds is no south.
        ("-0 30", -0.5),
        ("-00:30:00", -0.5),
        ("30d 42m 30s", 30.708333),
        ("-30d42m30s", -30.708333),
        ("90", 90.0),
        ("-90", -90.0),
    ],
)
def test_declinations_are_read_as_people_write_them(text, degrees):
    assert read_declination(text) == pytest.approx(degrees, abs=1e-5)


@pytest.mark.parametrize(
    ("read", "text", "degrees"),
    [
        (read_latitude, "50.1", 50.1),
        (read_latitude, "50.1 N", 50.1),
        (read_latitude, "n 50.1", 50.1),
        (read_latitude, "33.9 S", -33.9),
        (read_latitude, "33.9s", -33.9),
        (read_latitude, "33 54 12S", -33.903333),
        (read_latitude, "S 33° 54' 12\"", -33.903333),
        (read_latitude, "33d 54m 12s S", -33.903333),
        (read_latitude, "50° 6' 12\" N", 50.103333),
        (read_latitude, "-33.9", -33.9),
        (read_longitude, "8.6 E", 8.6),
        (read_longitude, "105° 18' W", -105.3),
        (read_longitude, "W 105 18", -105.3),
        (read_longitude, "180", 180.0),
        (read_longitude, "-0.5", -0.5),
    ],
)
def test_latitudes_and_longitudes_are_read_with_a_sign_or_a_letter(read, text, degrees):
    assert read(text) == pytest.approx(degrees, abs=1e-5)


@pytest.mark.parametrize(
    ("read", "text", "sentence"),
    [
        (read_right_ascension, "", "“” is not understood. Write it like 20h 45m 38s"),
        (read_right_ascension, "nan", "“nan” is not understood"),
        (read_right_ascension, "24h", "24h lies beyond a full turn"),
        (read_right_ascension, "360°", "360° lies beyond a full turn"),
        (read_right_ascension, "-1h", "-1h lies beyond a full turn"),
        (read_right_ascension, "20h 60m", "Minutes and seconds end at 59"),
        (read_right_ascension, "20h 45m 60s", "Minutes and seconds end at 59"),
        (read_right_ascension, "20.5h 30m", "Only the last number may have decimals"),
        (read_right_ascension, "20h 30.5m 10s", "Only the last number may have decimals"),
        # Figures that run together are no minutes.
        (read_right_ascension, "2045", "“2045” is not understood"),
        (read_right_ascension, "12 3045", "“12 3045” is not understood"),
        (read_right_ascension, "1" * (LONGEST + 1), f"This has {LONGEST + 1} characters"),
        (read_declination, "90.1", "90.1° lies beyond ±90°"),
        (read_declination, "12h", "Hours are for right ascensions"),
        (read_latitude, "91", "91° lies beyond ±90°"),
        (read_latitude, "-33 S", "“S” says the side already: leave the minus out"),
        (read_latitude, "50.1 E", "“50.1 E” is not understood. Write it like 50.1, 33.9 S"),
        (read_latitude, "N", "is not understood"),
        (read_longitude, "180.5", "180.5° lies beyond ±180°"),
        (read_longitude, "1234", "“1234” is not understood"),
        (read_height, "9000 m", "9000 m is no height of a site: it must be -450 to 6000 m"),
        (read_height, "-451", "-451 m is no height of a site"),
        (read_height, "high", "“high” is not a number"),
        (read_height, "5 kg", "5 kg is a mass"),
        (read_arcmin, "0", "must be above 0"),
        (read_arcmin, "-5", "must be above 0"),
        (read_arcmin, "3601", "3601 is too much here"),
        (read_arcmin, "61°", "61° is too much here"),
        (read_arcmin, "5 mm", "5 mm is a length; this field is an angle"),
        (read_arcmin, "wide", "“wide” is not a number"),
    ],
)
def test_what_cannot_be_read_says_why_and_how_to_write_it(read, text, sentence):
    with pytest.raises(CellError) as refused:
        read(text)
    assert sentence in refused.value.sentence


@pytest.mark.parametrize(
    ("text", "arcmin"),
    [("10", 10.0), ("10'", 10.0), ("10 arcmin", 10.0), ("3.5°", 210.0), ('30"', 0.5), ("1° 30'", 90.0)],
)
def test_a_bare_size_counts_arcminutes_and_degrees_say_so(text, arcmin):
    assert read_arcmin(text) == pytest.approx(arcmin)


@pytest.mark.parametrize(
    ("text", "metres"),
    [("115", 115.0), ("115 m", 115.0), ("380 ft", 115.824), ("-3", -3.0), ("1.2 km", 1200.0)],
)
def test_a_bare_height_counts_metres(text, metres):
    assert read_height(text) == pytest.approx(metres)


@pytest.mark.parametrize("text", ["10 m +- 1", "10 mm +- 1e308", "10 m (measured)"])
def test_a_height_with_more_than_its_figure_is_refused(text):
    with pytest.raises(CellError):
        read_height(text)


@pytest.mark.parametrize(
    ("ra_deg", "text"),
    [
        (0.0, "00h 00m 00.0s"),
        (311.4083333, "20h 45m 38.0s"),
        (359.99999, "00h 00m 00.0s"),  # rounds over a full turn
        (14.99999, "01h 00m 00.0s"),
    ],
)
def test_a_right_ascension_is_written_in_hours_to_a_tenth_of_a_second(ra_deg, text):
    assert write_right_ascension(ra_deg) == text


@pytest.mark.parametrize(
    ("dec_deg", "text"),
    [
        (30.7083333, "+30° 42' 30\""),
        (-5.3833333, "-05° 23' 00\""),
        (-0.5, "-00° 30' 00\""),
        (89.99999, "+90° 00' 00\""),
    ],
)
def test_a_declination_is_written_with_its_sign_to_a_second(dec_deg, text):
    assert write_declination(dec_deg) == text
