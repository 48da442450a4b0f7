"""Amounts read naturally in both systems of units.

NIST SP 811 (2008) appendix B.8: 1 in = 25.4 mm and 1 lb = 0.45359237 kg, both exact. The expected texts were
worked by hand from these.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.domain.connections import read_connection
from server.domain.findings import Amount, AmountDimension, Figure, Phrase
from server.domain.measure import Measure, Money
from server.domain.observer import UnitSystem
from server.rim.forms import field_of, read_part
from server.rim.phrasebook.forms import literal
from server.rim.wording import (
    default_unit_words,
    write_amount,
    write_basis,
    write_connection,
    write_field,
    write_figure,
    write_measure,
    write_money,
    write_phrase,
)
from server.units import Dimension


@pytest.mark.parametrize(
    ("value", "dimension", "digits", "metric", "imperial"),
    [
        (0.42, "length", 2, "0.42 mm", "0.0165 in"),
        (55.0, "length", None, "55 mm", "2.165 in"),
        (54.834, "length", None, "54.83 mm", "2.159 in"),
        (55.0, "length", 2, "55.00 mm", "2.1654 in"),
        (714.0, "length", None, "714 mm", "28.11 in"),
        (-0.5, "length", None, "−0.5 mm", "−0.0197 in"),
        (0.042, "small_length", None, "42 µm", "42 µm"),
        (0.0042, "small_length", None, "4.2 µm", "4.2 µm"),
        (0.15, "small_length", None, "0.15 mm", "0.0059 in"),
        (4700.0, "way", None, "4.7 m", "15.4 ft"),
        (32000.0, "way", None, "32 m", "105 ft"),
        (900.0, "way", 1, "0.9 m", "3 ft"),
        (0.35, "mass", None, "350 g", "12.3 oz"),
        # 3 g apart, and told apart: 98 / 28.349523 and 101 / 28.349523 oz.
        (0.098, "mass", None, "98 g", "3.46 oz"),
        (0.101, "mass", None, "101 g", "3.56 oz"),
        (9.07, "mass", None, "9.07 kg", "20 lb"),
        (12.34, "mass", 1, "12.3 kg", "27.2 lb"),
        # 1.5 / (0.45359237 x 9.80665 x 0.3048) = 1.1063; 1.5 / (0.45359237 x 0.3048^2) = 35.595.
        (1.5, "torque", 1, "1.5 N m", "1.1 lbf ft"),
        (34.73, "torque", None, "34.7 N m", "25.6 lbf ft"),
        (1.5, "inertia", 1, "1.5 kg m²", "36 lb ft²"),
        (0.42, "inertia", 2, "0.42 kg m²", "10.0 lb ft²"),
        (0.42, "inertia", None, "0.42 kg m²", "9.97 lb ft²"),
        (1.2345, "angle", None, "1.23°", "1.23°"),
        (2.5, "arcsec", None, "2.5 arcsec", "2.5 arcsec"),
        (1.943, "scale", 2, "1.94 arcsec/px", "1.94 arcsec/px"),
        (5.6, "ratio", None, "f/5.6", "f/5.6"),
        (5.0, "ratio", None, "f/5", "f/5"),
        (0.12, "fraction", None, "12 %", "12 %"),
        (0.123, "fraction", 1, "12.3 %", "12.3 %"),
        (0.8, "times", None, "0.8×", "0.8×"),
        (6248.0, "count", None, "6248", "6248"),
        (656.28, "wavelength", None, "656.3 nm", "656.3 nm"),
        (3.76, "pixel", None, "3.76 µm", "3.76 µm"),
        (0.0, "length", None, "0 mm", "0 in"),
    ],
)
def test_an_amount_is_written_with_its_unit_in_both_systems(
    value: float, dimension: AmountDimension, digits: int | None, metric: str, imperial: str
) -> None:
    amount = Amount(value=value, dimension=dimension, digits=digits)
    assert write_amount(amount, "metric") == metric
    assert write_amount(amount, "imperial") == imperial


def test_a_sentence_holds_its_numbers_in_the_readers_units() -> None:
    phrase = Phrase(
        template="The sensor sits {error} too far behind the corrector, which asks for {asked}.",
        amounts={
            "error": Amount(value=0.42, dimension="length", digits=2),
            "asked": Amount(value=55.0, dimension="length"),
        },
    )
    assert (
        write_phrase(phrase, "metric")
        == "The sensor sits 0.42 mm too far behind the corrector, which asks for 55 mm."
    )
    assert (
        write_phrase(phrase, "imperial")
        == "The sensor sits 0.0165 in too far behind the corrector, which asks for 2.165 in."
    )


def test_a_sentence_from_elsewhere_reaches_nothing_but_its_amounts() -> None:
    phrase = Phrase(
        template="{a.__class__} {missing} {0} {a}", amounts={"a": Amount(value=1.0, dimension="count")}
    )
    assert write_phrase(phrase, "metric") == "{a.__class__} {missing} {0} 1"


@given(
    st.floats(-1e9, 1e9),
    st.sampled_from(
        ["length", "small_length", "way", "mass", "angle", "ratio", "fraction", "times", "count"]
    ),
    st.none() | st.integers(0, 4),
    st.sampled_from(["metric", "imperial"]),
)
def test_an_amount_that_is_not_nothing_is_never_written_as_minus_nothing(
    value: float, dimension: AmountDimension, digits: int | None, units: UnitSystem
) -> None:
    text = write_amount(Amount(value=value, dimension=dimension, digits=digits), units)
    assert "−0 " not in f"{text} "
    assert "-" not in text.replace("e-", "")


def test_a_figure_is_written_with_what_it_may_be_off_by() -> None:
    figure = Figure(label="Error", amount=Amount(value=0.42, dimension="length", digits=2), uncertainty=0.15)
    assert write_figure(figure, "metric") == "0.42 ± 0.15 mm"
    assert write_figure(figure, "imperial") == "0.0165 ± 0.0059 in"
    bare = Figure(label="Ratio", amount=Amount(value=5.6, dimension="ratio"))
    assert write_figure(bare, "metric") == "f/5.6"


def test_a_figure_and_its_uncertainty_share_one_unit() -> None:
    figure = Figure(label="Depth", amount=Amount(value=0.05, dimension="small_length"), uncertainty=0.2)
    assert write_figure(figure, "metric") == "0.05 ± 0.2 mm"


def test_a_measure_is_written_with_its_tolerance() -> None:
    measure = Measure(nominal=54.8, plus=0.2, minus=0.2)
    assert write_measure(measure, "length", "metric") == "54.8 ± 0.2 mm"
    assert write_measure(measure, "length", "imperial") == "2.157 ± 0.008 in"
    assert write_measure(Measure(nominal=3.76), "pixel", "imperial") == "3.76 µm"
    assert write_measure(None, "length", "metric") == ""


# 33 lb x 0.45359237 = 14.96854821 kg and 1.2345 in x 25.4 = 31.3563 mm: NIST SP 811 (2008), appendix B.8.
@pytest.mark.parametrize(
    ("nominal", "tolerance", "dimension", "metric", "imperial"),
    [
        (14.96854821, None, "mass", "14.97 kg", "33 lb"),
        (4.1957294225, 0.045359237, "mass", "4.20 ± 0.05 kg", "9.25 ± 0.10 lb"),
        (0.1417476156, None, "mass", "0.142 kg", "0.3125 lb"),
        (31.3563, None, "length", "31.36 mm", "1.2345 in"),
        (0.00254, None, "length", "0.003 mm", "0.0001 in"),
        # Typed in metric: not one of its digits is lost to a reader of it.
        (14.9685, None, "mass", "14.9685 kg", "33 lb"),
        (54.8, 0.2, "length", "54.8 ± 0.2 mm", "2.157 ± 0.008 in"),
        # The same in both: as short as it is.
        (50.8, None, "length", "50.8 mm", "2 in"),
        (254.0, None, "length", "254 mm", "10 in"),
    ],
)
def test_a_figure_keeps_its_digits_in_the_system_it_was_typed_in_and_is_rounded_in_the_other(
    nominal: float, tolerance: float | None, dimension: Dimension, metric: str, imperial: str
) -> None:
    measure = Measure(nominal=nominal, plus=tolerance, minus=tolerance)
    assert write_measure(measure, dimension, "metric") == metric
    assert write_measure(measure, dimension, "imperial") == imperial


def test_what_shows_as_nothing_in_millimetres_is_nothing_in_inches() -> None:
    error = Amount(value=-0.003, dimension="length", digits=2)
    assert write_amount(error, "metric") == "0.00 mm"
    assert write_amount(error, "imperial") == "0.0000 in"
    assert write_figure(Figure(label="error", amount=error, uncertainty=0.2), "imperial") == (
        "0.0000 ± 0.0079 in"
    )


def test_a_figure_that_can_only_grow_says_at_least() -> None:
    load = Figure(label="load", amount=Amount(value=3.2, dimension="mass", digits=1), at_least=True)
    assert write_figure(load, "metric") == "at least 3.2 kg"


def test_money_basis_and_connection_are_written_in_words() -> None:
    assert write_money(Money(hundredths=12990, currency="EUR")) == "129.90 EUR"
    assert write_money(None) == ""
    assert write_basis("maker") == "maker's figure"
    assert (
        write_connection(read_connection("M48×0.75 (f), 5 mm deep"), "imperial")
        == "M48x0.75 female, 5 mm deep"
    )
    assert write_connection(None) == ""


@pytest.mark.parametrize(
    ("kind", "name", "metric", "imperial"),
    [
        ("spacer_ring", "length_mm", "mm", "mm if no unit, or write in"),
        ("mount", "rated_kg", "kg", "kg if no unit, or write lb"),
        ("camera", "pixel_um", "µm", "µm"),
        ("camera", "quantum_efficiency", "%, or a share up to 1", "%, or a share up to 1"),
        ("optical_tube", "primary_focal_ratio", "f/5 or 5", "f/5 or 5"),
        ("corrector", "factor", "a factor", "a factor"),
        ("shim", "price", "EUR", "EUR"),
        ("shim", "model", "", ""),
    ],
)
def test_a_field_says_what_a_bare_number_is_taken_for(
    kind: str, name: str, metric: str, imperial: str
) -> None:
    spec = field_of(kind, name)
    assert default_unit_words(spec, "metric") == metric
    assert default_unit_words(spec, "imperial") == imperial


@pytest.mark.parametrize(
    ("kind", "name", "typed", "shown"),
    [
        ("optical_tube", "primary_focal_ratio", "3", "f/3"),
        ("optical_tube", "design", "newtonian", "Newtonian"),
        ("optical_tube", "collimation_adjustable", "no", "no"),
        ("corrector", "for_designs", "newtonian; apochromat", "Newtonian, apochromatic refractor"),
        ("corrector", "back_focus_table", "400: 55\n600: 56", "400 mm  ·  55 mm\n600 mm  ·  56 mm"),
        ("filter_wheel", "positions", "7", "7"),
        ("camera", "width_px", "6248", "6248 px"),
        ("filter_wheel", "length_mm", "", ""),
        ("camera", "sky_side", "M42x0.75 f", "M42x0.75 female"),
    ],
)
def test_a_field_of_a_part_is_written_whatever_its_shape(
    kind: str, name: str, typed: str, shown: str
) -> None:
    part = read_part(kind, {"model": "X", name: typed})
    assert write_field(field_of(kind, name), getattr(part, name), "metric") == shown


def test_braces_in_a_parts_name_come_out_as_they_were_typed_and_break_no_amount() -> None:
    named = literal("Ring {load} {} }{")
    phrase = Phrase(
        template=f"{named}{{load}}{literal('}')} of {{load}}",
        amounts={"load": Amount(value=2.0, dimension="count")},
    )
    assert phrase.template != "Ring {load} {} }{{load}} of {load}"
    assert write_phrase(phrase, "metric") == "Ring {load} {} }{2} of 2"


@given(st.text(alphabet="{}ab _1", max_size=12), st.text(alphabet="{}ab _1", max_size=12))
def test_any_name_around_an_amount_is_written_as_it_stands(before: str, after: str) -> None:
    phrase = Phrase(
        template=literal(before) + "{a}" + literal(after), amounts={"a": Amount(value=1.0, dimension="count")}
    )
    assert write_phrase(phrase, "metric") == f"{before}1{after}"
