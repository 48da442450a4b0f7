"""What people type for a quantity is read into the fixed unit, or refused with a sentence; and written back.

Sources of the expected values: NIST SP 811 (2008), appendix B.8: 1 in = 25.4 mm, 1 ft = 304.8 mm,
1 yd = 914.4 mm, 1 lb = 0.45359237 kg, 1 oz = 1/16 lb, t/°C = (t/°F - 32)/1.8. SI Brochure, 9th ed. (2019):
0 °C = 273.15 K; 1° = 60' = 3600"; 1 h = 3600 s; 1 Å = 0.1 nm (8th edition, table 8). Every usual unit is also
held against pint, an independent program, in test_units_and_pint.py.
"""

from __future__ import annotations

import time
from typing import get_args

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from server.domain import fields
from server.units import (
    Dimension,
    Limits,
    QuantityError,
    dimension_noun,
    edit_money,
    edit_text,
    fixed_unit,
    read_money,
    read_quantity,
    registry,
    unit_label,
    write_money,
    write_quantity,
    write_tolerance,
)

DIMENSIONS = [name for name in get_args(Dimension) if name != "money"]
MEASURED = [name for name in DIMENSIONS if name != "count"]


@pytest.mark.parametrize(
    ("text", "dimension", "nominal"),
    [
        ("55", "length", 55.0),
        ("54.8mm", "length", 54.8),
        ("55,5 mm", "length", 55.5),
        ("0,234", "length", 0.234),
        ("1,234.5 mm", "length", 1234.5),
        ("1.234,5 mm", "length", 1234.5),
        ("1,234,567 um", "length", 1234.567),
        ("1\u2009234 mm", "length", 1234.0),
        ("54.8\u202fmm", "length", 54.8),
        ("\u22123 mm", "length", -3.0),
        ("5 MM", "length", 5.0),
        ("2 in", "length", 50.8),
        ('1.25"', "length", 31.75),
        ("1.25″", "length", 31.75),
        ("1.25''", "length", 31.75),
        ("1 1/4 in", "length", 31.75),
        ('1-1/4"', "length", 31.75),
        ('1¼"', "length", 31.75),
        ("6' 3\"", "length", 1905.0),
        ("6'3", "length", 1905.0),
        ("3 yd", "length", 2743.2),
        ("3.5 kg", "mass", 3.5),
        ("2 lb", "mass", 0.90718474),
        ("2 lb 8 oz", "mass", 1.133980925),
        ("350 g", "mass", 0.35),
        ("12° 30'", "angle", 12.5),
        ("1'30\"", "arcsec", 90.0),
        ('2.5"', "angle_small", 2.5),
        ("3.76 µm", "pixel", 3.76),
        ("3.76 μm/px", "pixel", 3.76),
        ("0.6563 um", "wavelength", 656.3),
        ("6563 Å", "wavelength", 656.3),
        ("12V", "voltage", 12.0),
        ("350 mA", "current", 0.35),
        ("20000 mAh", "charge", 20.0),
        ("20000 mah", "capacity_charge", 20.0),
        ("0.5 kWh", "energy", 500.0),
        ("3600 J", "energy", 1.0),
        ("20 degC", "temperature", 20.0),
        ("14 °F", "temperature", -10.0),
        ("263.15 K", "temperature", -10.0),
        ("-10", "temperature", -10.0),
        ("63 °F", "temperature_difference", 35.0),
        ("35 °C", "temperature_difference", 35.0),
        ("2 h 30 min", "time", 9000.0),
        ("f/5", "ratio", 5.0),
        ("F 5,6", "ratio", 5.6),
        ("0.8x", "ratio", 0.8),
        ("30 %", "fraction", 0.3),
        ("0.3", "fraction", 0.3),
        ("1", "fraction", 1.0),
        ("50", "fraction", 0.5),
        ("91 ± 2", "fraction", 0.91),
        ("33 (measured)", "fraction", 0.33),
        ("0.5 %", "fraction", 0.005),
        ("30", "percent", 30.0),
        ("6,248 px", "count", 6248.0),
        ("2 e-", "electrons", 2.0),
        ("51 ke-", "electrons", 51000.0),
        ("0.002 e-/px/s", "dark_current", 0.002),
        ("0.25 e-/ADU", "conversion", 0.25),
        ("129.90 EUR", "money", 129.9),
    ],
)
def test_what_people_type_is_read_into_the_fixed_unit(
    text: str, dimension: Dimension, nominal: float
) -> None:
    assert read_quantity(text, dimension).nominal == nominal


@pytest.mark.parametrize(
    ("text", "nominal", "plus", "minus"),
    [
        ("54.8 +- 0.2 mm", 54.8, 0.2, 0.2),
        ("54.8 +/- 0.2 mm", 54.8, 0.2, 0.2),
        ("54.8 ± 0.2", 54.8, 0.2, 0.2),
        ("54.8±0.2", 54.8, 0.2, 0.2),
        ("54,8 ± 0,2 mm", 54.8, 0.2, 0.2),
        ("54.8 mm ± 0.2 mm", 54.8, 0.2, 0.2),
        ("54.8 mm ± 0.2", 54.8, 0.2, 0.2),
        ("54.8 mm ± 200 um", 54.8, 0.2, 0.2),
        ("2 in ± 0.01", 50.8, 0.254, 0.254),
        ("6' 3\" ± 1", 1905.0, 25.4, 25.4),
        ("54.8 +0.3 -0.1 mm", 54.8, 0.3, 0.1),
        ("54.8 +0.3/-0.1 mm", 54.8, 0.3, 0.1),
        ("54.8 -0.1 +0.3 mm", 54.8, 0.3, 0.1),
        ("54.8 mm +0.3 mm -0.1 mm", 54.8, 0.3, 0.1),
        ("54.8+0.3-0.1", 54.8, 0.3, 0.1),
        ("54.8 +0.3 -? mm", 54.8, 0.3, None),
        ("54.8 +? -0.1 mm", 54.8, None, 0.1),
        ("54.8 mm", 54.8, None, None),
    ],
)
def test_a_tolerance_is_read_in_every_way_it_is_written(
    text: str, nominal: float, plus: float | None, minus: float | None
) -> None:
    read = read_quantity(text, "length")
    assert (read.nominal, read.plus, read.minus) == (nominal, plus, minus)


def test_a_tolerance_in_fahrenheit_is_scaled_and_not_shifted() -> None:
    read = read_quantity("14 °F ± 9 °F", "temperature")
    assert (read.nominal, read.plus) == (-10.0, 5.0)


@pytest.mark.parametrize(
    ("text", "basis"),
    [
        ("55 mm (measured)", "measured"),
        ("55 (maker)", "maker"),
        ("55 mm (Maker's figure)", "maker"),
        ("2 in (assumed)", "assumed"),
        ("55 mm(typed)", "typed"),
        ("55 mm", None),
    ],
)
def test_the_basis_behind_a_figure_is_read(text: str, basis: str | None) -> None:
    assert read_quantity(text, "length").basis == basis


def test_the_default_unit_is_that_of_the_field() -> None:
    assert read_quantity("2", "length", "in").nominal == 50.8
    assert read_quantity("2 mm", "length", "in").nominal == 2.0
    assert read_quantity("30", "fraction", "%").nominal == 0.3
    with pytest.raises(ValueError, match="no unit of the dimension"):
        read_quantity("2", "length", "kg")


@pytest.mark.parametrize(
    ("text", "dimension", "sentence"),
    [
        ("3 kg", "length", "3 kg is a mass; this field is a length. Type it like 55 mm or 2.2 in."),
        ("55 mm", "mass", "55 mm is a length; this field is a mass."),
        ("5 pcs", "length", "5 pcs is a count; this field is a length."),
        ("2 kilos", "time", "2 kilos is a mass; this field is a time."),
        ("12 W", "length", "12 W is a power; this field is a length."),
        ("5 px", "length", "5 px is a count; this field is a length."),
        ("5 hectare", "length", "is an area; this field is a length."),
        ("5 %", "angle", "this field is an angle."),
        ("3 ppm", "angle", "this field is an angle."),
        ('3"', "mass", "is a length; this field is a mass."),
        ("5 blurb", "length", "“blurb” is not a unit known here"),
        ("5 mm)", "length", "is not a unit known here"),
        ("", "length", "Nothing was typed"),
        ("   ", "length", "Nothing was typed"),
        ("abc", "length", "is not a number"),
        ("..", "length", "is not a number"),
        ("1.2.3", "length", "is not a number"),
        ("1,2,3", "length", "is not a number"),
        ("12, mm", "length", "is not a number"),
        ("٣ mm", "length", "is not a number"),
        ("nan", "length", "is not a number that can be measured"),
        ("-inf", "length", "is not a number that can be measured"),
        ("∞ mm", "length", "is not a number that can be measured"),
        ("1e999", "length", "too large a number"),
        ("1e307 m", "length", "too large a number"),
        ("1,234 mm", "length", "is it 1.234 or 1234?"),
        ("51,000 e-", "electrons", "is it 51.000 or 51000?"),
        ("3-5 mm", "length", "more than one number"),
        ("3 - 5 mm", "length", "more than one number"),
        ("54.8 +0.3 mm", "length", "more than one number"),
        ("1 234 mm", "length", "more than one number"),
        ("54.8 ± 0.2 ± 0.1", "length", "± more than once"),
        ("54.8 ± -0.2", "length", "a tolerance has no sign"),
        ("54.8 ± 1 %", "length", "this field is a length"),
        ("1/0 in", "length", "not a fraction"),
        ("1 5/4 in", "length", "not a fraction"),
        ("1' 13\"", "length", "as much as one ft or more"),
        ("2 lb 17 oz", "mass", "as much as one lb or more"),
        ("55 mm (guess)", "length", "no basis of a figure"),
        ("2.5", "count", "2.5 is not a whole number"),
    ],
)
def test_what_is_not_sure_is_refused_with_a_sentence(text: str, dimension: Dimension, sentence: str) -> None:
    with pytest.raises(QuantityError) as refused:
        read_quantity(text, dimension)
    assert sentence in refused.value.message


@pytest.mark.parametrize("text", ["54.8 mm" + " " * 60, "9" * 61, "9" * 5000])
def test_over_long_text_is_refused(text: str) -> None:
    with pytest.raises(QuantityError, match="at most 60 characters"):
        read_quantity(text, "length")


@pytest.mark.parametrize(
    ("text", "limits", "sentence"),
    [
        ("-3 mm", Limits(0, 500, True), "−3 mm: a length here must be above 0 mm."),
        ("0", Limits(0, 500, True), "0 mm: a length here must be above 0 mm."),
        ("2 mm", Limits(5, 500), "2 mm: a length here must be at least 5 mm."),
        (
            "3 m",
            Limits(0, 500, True, "spacer ring"),
            "3000 mm is more than any spacer ring measures (at most 500 mm): check the unit.",
        ),
        ("3 m", Limits(0, 500), "3000 mm is too much here (at most 500 mm): check the unit."),
    ],
)
def test_a_value_outside_its_limits_is_refused_with_the_range(
    text: str, limits: Limits, sentence: str
) -> None:
    with pytest.raises(QuantityError) as refused:
        read_quantity(text, "length", limits=limits)
    assert refused.value.message == sentence


def test_a_limit_itself_is_allowed_unless_the_minimum_is_exclusive() -> None:
    assert read_quantity("0", "length", limits=Limits(0, 500)).nominal == 0.0
    assert read_quantity("500", "length", limits=Limits(0, 500)).nominal == 500.0


def test_what_was_understood_is_shown_in_the_fixed_unit() -> None:
    assert read_quantity('1.25" (measured)', "length").understood == "31.75 mm, measured"
    assert read_quantity("54.8 +- 0.2", "length").understood == "54.8 ± 0.2 mm"
    assert read_quantity("$ 45", "money").understood == "45 USD"


finite = st.floats(allow_nan=False, allow_infinity=False)
sides = st.none() | st.floats(min_value=0, allow_nan=False, allow_infinity=False)
bases = st.sampled_from([None, "typed", "measured", "maker", "assumed"])


@given(st.sampled_from(MEASURED), finite, sides, sides, bases)
@example("fraction", 0.07, 1e-9, None, "measured")
@example("fraction", 1.1e-300, 1.7e300, None, "measured")
def test_an_edit_form_gives_back_exactly_what_it_was_given(
    dimension: Dimension, nominal: float, plus: float | None, minus: float | None, basis: str | None
) -> None:
    if dimension == "fraction" and max(abs(nominal), plus or 0, minus or 0) > 1e305:
        return  # A hundred times that is no float; a fraction is at most a few.
    read = read_quantity(edit_text(nominal, plus, minus, basis, dimension), dimension)
    assert (read.nominal, read.plus, read.minus, read.basis) == (nominal, plus, minus, basis)


@given(st.integers(-(10**15), 10**15))
def test_an_edit_form_gives_back_a_count(count: int) -> None:
    assert read_quantity(edit_text(float(count), dimension="count"), "count").nominal == count


def test_an_unknown_value_is_an_empty_field() -> None:
    assert edit_text(None, None, None, None, "length") == ""


@given(st.sampled_from(DIMENSIONS), st.floats(-1e6, 1e6))
def test_what_a_page_shows_can_be_typed_again(dimension: Dimension, value: float) -> None:
    # The largest rounding of a shown number is half of its last decimal, or one in two hundred if it is tiny.
    if dimension == "count":
        value = float(round(value))
    read = read_quantity(write_quantity(value, dimension), dimension)
    assert read.nominal == pytest.approx(value, rel=0.05, abs=0.5e-3)


# fmt: off
FUZZ_WORDS = [
    "54.8", "1", "1,234", ".", ",", "e-", "e", "E5", "1e9", "+", "-", "±", "+-", "mm", "in", "kg", '"', "'",
    "°", "°C", "f/", "/", "1/4", "1/0", "(measured)", "(", ")", "?", "lb", "oz", "%", "px", "nan", "∞", "½",
    "µ", "€", "$", "٣", "²", "m**9", "__import__", "0x1F", "\x00",
]
# fmt: on
fuzz = st.lists(st.sampled_from(FUZZ_WORDS), max_size=9).map("".join) | st.lists(
    st.sampled_from(FUZZ_WORDS), max_size=9
).map(" ".join)


@given(st.text(max_size=130) | fuzz, st.sampled_from([*DIMENSIONS, "money"]))
@example("2 e-", "length")
@example("5 " + "(" * 50, "length")
def test_any_text_is_read_or_refused_and_nothing_else_happens(text: str, dimension: Dimension) -> None:
    try:
        read = read_quantity(text, dimension)
    except QuantityError:
        return
    assert abs(read.nominal) < float("inf")
    assert read.understood


@pytest.mark.parametrize(
    "text", ["1 " * 30, "1+1-" * 15, "1.1" * 20, "1/1 " * 15, "+-" * 30, "1a" * 30, "9" * 60]
)
def test_odd_text_takes_no_long_time(text: str) -> None:
    registry()
    started = time.process_time()
    for dimension in (*DIMENSIONS, "money"):
        try:
            read_quantity(text, dimension)
        except QuantityError:
            continue
    # Two dozen readings; a regular expression that runs away takes seconds for one.
    assert time.process_time() - started < 1.0


def test_twenty_thousand_rows_take_seconds_and_not_minutes() -> None:
    started = time.process_time()
    for row in range(2000):
        read_quantity(f"{row}.5 mm", "length")
        read_quantity(f"2.{row} in ± 0.1 in", "length")
        read_quantity(f"{row} furlong", "length")
    # 20 s for twenty thousand rows of these three, on a slow and busy machine.
    assert time.process_time() - started < 2.0


@pytest.mark.parametrize(
    ("value", "dimension", "system", "digits", "text"),
    [
        (54.8, "length", "metric", None, "54.8 mm"),
        (54.800000000000004, "length", "metric", None, "54.8 mm"),
        (54.8, "length", "metric", 2, "54.80 mm"),
        (-3.0, "length", "metric", None, "−3 mm"),
        (-0.0, "length", "metric", None, "0 mm"),
        (0.00002, "length", "metric", None, "2e−05 mm"),
        (31.75, "length", "imperial", None, "1.25 in"),
        (54.8, "length", "imperial", None, "2.157 in"),
        (1000.0, "length", "imperial", None, "39.37 in"),
        (9.07, "mass", "imperial", None, "20 lb"),
        (0.35, "mass", "imperial", None, "0.772 lb"),
        (3.5, "mass", "metric", None, "3.5 kg"),
        (3.76, "pixel", "imperial", None, "3.76 um"),
        (656.3, "wavelength", "imperial", None, "656.3 nm"),
        (2.5, "arcsec", "imperial", None, "2.5 arcsec"),
        (12.5, "angle", "metric", None, "12.5°"),
        (-10.0, "temperature", "imperial", None, "14 °F"),
        (35.0, "temperature_difference", "imperial", None, "63 °F"),
        (0.3, "fraction", "metric", None, "30 %"),
        (5.0, "ratio", "metric", None, "5"),
        (51000.0, "electrons", "metric", None, "51000 e-"),
    ],
)
def test_numbers_are_written_with_the_digits_that_mean_something(
    value: float, dimension: Dimension, system: str, digits: int | None, text: str
) -> None:
    assert write_quantity(value, dimension, system, digits) == text  # type: ignore[arg-type]


def test_a_tolerance_is_written_with_as_many_decimals_as_its_value() -> None:
    assert write_tolerance(54.8, 0.2, 0.2, "length") == "54.8 ± 0.2 mm"
    assert write_tolerance(55, 0.05, 0.05, "length") == "55.00 ± 0.05 mm"
    assert write_tolerance(54.8, 0.3, 0.1, "length") == "54.8 +0.3 −0.1 mm"
    assert write_tolerance(54.8, 0.3, None, "length") == "54.8 +0.3 −? mm"
    assert write_tolerance(54.8, 0.2, 0.2, "length", "imperial") == "2.157 ± 0.008 in"
    assert write_tolerance(-10, 5, 5, "temperature", "imperial") == "14 ± 9 °F"


def test_every_dimension_of_a_field_has_its_unit_and_words() -> None:
    assert set(get_args(fields.Dimension)) <= set(DIMENSIONS)
    for dimension in get_args(fields.Dimension):
        assert dimension_noun(dimension).split()[0] in ("a", "an")
        assert unit_label(dimension) == fixed_unit(dimension)
    assert unit_label("length", "imperial") == "in"


@pytest.mark.parametrize(
    ("text", "hundredths", "currency"),
    [
        ("129.90 EUR", 12990, "EUR"),
        ("$ 45", 4500, "USD"),
        ("€45", 4500, "EUR"),
        ("45,- EUR", 4500, "EUR"),
        ("EUR 12,50", 1250, "EUR"),
        ("1,299.00 usd", 129900, "USD"),
        ("1.299,00 €", 129900, "EUR"),
        ("0 EUR", 0, "EUR"),
    ],
)
def test_prices_are_read_exactly(text: str, hundredths: int, currency: str) -> None:
    price = read_money(text)
    assert (price.hundredths, price.currency) == (hundredths, currency)


def test_a_shared_sign_is_the_observers_own_currency() -> None:
    assert read_money("$45", "CAD").currency == "CAD"
    assert read_money("45", "SEK").currency == "SEK"
    assert read_money("45 kr", "NOK").currency == "NOK"


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("45", "has no currency"),
        ("¥45", "may be CNY, JPY"),
        ("1.299 EUR", "is it 1.299 or 1299?"),
        ("1,299 EUR", "is it 1.299 or 1299?"),
        ("12.345678 EUR", "at most two decimals"),
        ("-5 EUR", "zero or more"),
        ("5 XXQ", "“XXQ” is no currency"),
        ("€5 USD", "names a currency twice"),
        ("EUR", "is not a price"),
        ("9" * 20 + " EUR", "check the amount"),
        ("1 EUR" + " " * 60, "at most 60 characters"),
    ],
)
def test_a_price_that_is_not_sure_is_refused(text: str, sentence: str) -> None:
    with pytest.raises(QuantityError) as refused:
        read_money(text)
    assert sentence in refused.value.message


@given(st.integers(0, 10**11), st.sampled_from(["EUR", "USD", "JPY"]))
def test_a_price_is_read_back_from_its_edit_form(hundredths: int, currency: str) -> None:
    price = read_money(edit_money(hundredths, currency))
    assert (price.hundredths, price.currency) == (hundredths, currency)
    assert price.understood == write_money(hundredths, currency)
