"""What is asked of the sky: the texts of its form, and back."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.domain.sky.reckoning import DepthWishes
from server.flow.plan_sky import SkyWishes
from server.rim.sky_wishes import WISH_SPECS, read_wishes, wish_texts

_wishes = st.builds(
    SkyWishes,
    evening=st.none() | st.dates(date(1973, 1, 2), date(2098, 12, 30)),
    angle_deg=st.none() | st.integers(0, 360).map(float),
    rows=st.integers(1, 10),
    columns=st.integers(1, 10),
    overlap=st.integers(0, 60).map(lambda n: n / 100.0),
    fixed=st.booleans(),
    depth=st.builds(
        DepthWishes,
        signal_to_noise=st.integers(1, 2000).map(lambda n: n / 2.0),
        read_share=st.integers(1, 100).map(lambda n: n / 100.0),
        sub_s=st.none() | st.integers(1, 7200).map(float),
        hours=st.integers(1, 10_000).map(lambda n: n / 10.0),
        altitude_deg=st.none() | st.integers(10, 90).map(float),
        gain=st.none() | st.integers(0, 10_000).map(float),
        temperature_c=st.none() | st.integers(-100, 60).map(float),
        surface_mag=st.none() | st.integers(100, 320).map(lambda n: n / 10.0),
        rayleigh=st.none() | st.integers(1, 100_000).map(float),
    ),
)


@given(_wishes)
def test_what_the_form_shows_is_read_back_as_the_same_wishes(wishes):
    assert read_wishes(wish_texts(wishes)) == (wishes, {})


def test_an_empty_form_is_as_usual_and_every_field_has_a_text():
    assert read_wishes({}) == (SkyWishes(), {})
    assert set(wish_texts(SkyWishes())) == {spec.name for spec in WISH_SPECS}


@pytest.mark.parametrize(
    ("field", "text", "sentence"),
    [
        ("evening", "14.3.2027", "“14.3.2027” is no date. Write it like 2027-03-14."),
        ("evening", "2027-02-30", "“2027-02-30” is no date. Write it like 2027-03-14."),
        ("evening", "1950-01-01", "it has to be at least 1973-01-02"),
        ("evening", "2099-01-01", "it has to be at most 2098-12-30"),
        ("angle_deg", "400", "400° is too much here (at most 360°)"),
        ("rows", "11", "11 is too much here (at most 10)"),
        ("columns", "0", "must be at least 1"),
        ("columns", "2.5", "2.5 is not a whole number"),
        ("overlap", "70 %", "70 % is too much here (at most 60 %)"),
        ("fixed", "perhaps", "Type yes or no"),
        ("signal_to_noise", "0.1", "must be at least 0.5"),
        ("hours", "0", "must be above 0"),
        ("sub_s", "3 h", "too much here"),
        ("read_share", "0", "must be at least 0.5 %"),
        ("altitude_deg", "5", "must be at least 10°"),
        ("gain", "-1", "must be at least 0"),
        ("temperature_c", "80 °C", "too much here"),
        ("surface_mag", "33", "33 is too much here (at most 32)"),
        ("rayleigh", "0", "must be above 0"),
        ("rayleigh", "nan", "is not a number"),
        ("surface_mag", "22.5 ± 0.3", "Only the figure is kept here: leave out its ±"),
    ],
)
def test_a_wrong_wish_says_why_and_the_others_are_read(field, text, sentence):
    wishes, errors = read_wishes(wish_texts(SkyWishes(rows=3, angle_deg=7.0)) | {field: text})
    assert list(errors) == [field]
    assert sentence in errors[field]
    assert wishes.rows == (1 if field == "rows" else 3)
    assert wishes.angle_deg == (None if field == "angle_deg" else 7.0)


@pytest.mark.parametrize(
    ("field", "text", "value"),
    [("sub_s", "3 min", 180.0), ("sub_s", "90", 90.0), ("overlap", "15", 0.15), ("read_share", "5 %", 0.05)],
)
def test_times_and_shares_are_read_in_the_units_that_people_use(field, text, value):
    wishes, errors = read_wishes({field: text})
    assert not errors
    assert getattr(wishes if field == "overlap" else wishes.depth, field) == pytest.approx(value)
