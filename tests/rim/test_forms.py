"""What is typed becomes the part meant, or one sentence per field; what an edit form shows is the part.

Sizes are invented. NIST SP 811 (2008) appendix B.8: 1 in = 25.4 mm, 1 lb = 0.45359237 kg.
"""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from server.domain.connections import Barrel, MetricThread
from server.domain.errors import FieldErrors
from server.domain.fields import FieldSpec
from server.domain.measure import Measure, Money
from server.domain.parts import KINDS, Camera, Corrector, OpticalTube, Part, SpacerRing, specs_of
from server.optics.imaging import effective_focal_length_mm
from server.rim.cells import read_cell
from server.rim.forms import field_of, part_texts, read_part, understood
from tests.rim.strategies import parts_of


def refused(kind: str, **texts: str) -> dict[str, str]:
    with pytest.raises(FieldErrors) as caught:
        read_part(kind, {"model": "Test", **texts})
    return caught.value.errors


@pytest.mark.parametrize("kind", sorted(KINDS))
@settings(
    max_examples=40,
    deadline=None,
    # A part of many fields is large, and takes long to draw on a machine that has other work: no fault of it.
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large],
)
@given(data=st.data())
def test_what_an_edit_form_shows_reads_back_to_the_same_part(kind: str, data: st.DataObject) -> None:
    part = data.draw(parts_of(kind))
    assert read_part(kind, part_texts(part)) == part


def test_an_edit_form_shows_every_field_of_its_kind_and_no_other() -> None:
    part = read_part("shim", {"model": "Half"})
    assert list(part_texts(part)) == [spec.name for spec in specs_of("shim")]
    assert "sky_side" not in part_texts(part)


def test_a_ring_is_read_as_people_write_it() -> None:
    part = read_part(
        "spacer_ring",
        {
            "maker": " Brindle ",
            "model": "R20",
            "length_mm": "20.1 +- 0.05 mm (measured)",
            "sky_side": "M48×0.75 (male), 5 mm long",
            "camera_side": "2 in barrel female",
            "mass_kg": "2 lb",
            "price": "€ 24,50",
            "locking_ring": "Yes",
        },
    )
    assert isinstance(part, SpacerRing)
    assert part.maker == "Brindle"
    assert part.length_mm == Measure(nominal=20.1, plus=0.05, minus=0.05, basis="measured")
    assert part.sky_side == MetricThread(diameter_mm=48, pitch_mm=0.75, gender="male", thread_mm=5)
    assert part.camera_side == Barrel(diameter_mm=2 * 25.4, gender="female")
    assert part.mass_kg == Measure(nominal=2 * 0.45359237)
    assert part.price == Money(hundredths=2450, currency="EUR")
    assert part.locking_ring is True
    assert part.clear_aperture_mm is None


def test_a_price_without_a_currency_is_in_the_currency_that_the_form_states() -> None:
    part = read_part("shim", {"model": "Half", "price": "12"})
    assert part.price == Money(hundredths=1200, currency="EUR")


@pytest.mark.parametrize(
    "typed",
    [
        "400: 55\n600: 56.5",
        "400 mm : 55 mm\n\n600 mm; 56,5",
        "400\t55\n600\t56.5\n",
        "40 cm: 5.5 cm:\n600:56.5",
    ],
)
def test_a_table_is_typed_as_lines(typed: str) -> None:
    part = read_part("corrector", {"model": "C", "back_focus_table": typed})
    assert isinstance(part, Corrector)
    found = [(row.tube_focal_length_mm, row.back_focus_mm) for row in part.back_focus_table]
    assert found == [(400.0, 55.0), (600.0, 56.5)]


def test_gains_and_dark_current_are_typed_as_lines() -> None:
    part = read_part(
        "camera",
        {
            "model": "K",
            "gains": "0: 3.5 e-: 51000: 0.8\n100; 1.5; 20 ke-; 0.25",
            "dark_current": "14 °F: 0.002",
        },
    )
    assert isinstance(part, Camera)
    assert part.gains[1].full_well_e == 20000
    assert part.dark_current[0].temperature_c == pytest.approx(-10.0)  # 14 °F is -10 °C: NIST SP 811, B.8.


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("400: 55: 3", "Line 1"),
        ("400", "a line holds 2 numbers (tube focal length: back focus), and this one 1"),
        ("400: 55\n600: 5 kg", "Line 2, back focus: 5 kg is a mass; this field is a length"),
        ("400: 55 ± 1", "keeps plain numbers"),
        ("600: 55\n400: 56", "List the focal lengths once each, from short to long."),
        ("400: 0", "at least 0.1 mm"),
        ("1: 1\n" * 201, "at most 200 are kept"),
    ],
)
def test_a_table_that_cannot_be_read_says_which_line_and_why(typed: str, said: str) -> None:
    assert said in refused("corrector", back_focus_table=typed)["back_focus_table"]


@pytest.mark.parametrize(
    ("typed", "meant"),
    [("yes", True), ("No", False), ("", None), ("not known", None), ("on", True)],
)
def test_a_flag_is_yes_no_or_not_known(typed: str, meant: bool | None) -> None:
    part = read_part("optical_tube", {"model": "T", "collimation_adjustable": typed})
    assert isinstance(part, OpticalTube)
    assert part.collimation_adjustable is meant


@pytest.mark.parametrize("typed", ["newtonian", "Newtonian", " NEWTONIAN "])
def test_a_choice_is_taken_by_its_words(typed: str) -> None:
    part = read_part("optical_tube", {"model": "T", "design": typed})
    assert isinstance(part, OpticalTube)
    assert part.design == "newtonian"


def test_a_choice_is_taken_by_its_value_whatever_its_letters() -> None:
    spec = FieldSpec("kind", "Kind", "choice", choices=(("HII", "ionised hydrogen region"),))
    assert read_cell(spec, "HII", "sky") == "HII"


def test_several_choices_are_taken_in_the_order_typed() -> None:
    part = read_part(
        "corrector", {"model": "C", "for_designs": "Newtonian, apochromatic refractor; newtonian"}
    )
    assert isinstance(part, Corrector)
    assert part.for_designs == ("newtonian", "apochromat")


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("length_mm", "5 kg", "5 kg is a mass; this field is a length."),
        ("length_mm", "long", "is not a number"),
        ("length_mm", "-5", "must be at least 0 mm"),
        (
            "length_mm",
            "3 m",
            "3000 mm is more than any spacer ring measures (at most 500 mm): check the unit.",
        ),
        ("length_mm", "inf", "is not a number that can be measured"),
        ("length_mm", "1e400", "too large"),
        ("length_mm", "5" * 200, "at most 60 characters"),
        ("clear_aperture_mm", "0", "must be above 0 mm"),
        ("sky_side", "M48", ""),
        ("sky_side", "48", "a bare size may be a thread, a barrel or a dovetail"),
        ("sky_side", "x" * 100, "at most 80 characters"),
        ("price", "12 spoons", "currency known here"),
        ("price", "-3 EUR", "zero or more"),
        ("reversible", "maybe", "Type yes or no"),
        ("basis", "hearsay", "none of the choices"),
        ("maker", "b" * 81, "This has 81 characters; at most 80 are kept."),
        ("note", "n" * 2001, "at most 2000"),
        ("model", "two\nlines", "written on one line"),
        ("note", "bell\x07", "U+0007"),
        ("maker", "turned \u202eround", "U+202E"),
    ],
)
def test_what_cannot_be_taken_is_refused_with_a_sentence_at_its_field(
    field: str, typed: str, said: str
) -> None:
    if not said:
        read_part("spacer_ring", {"model": "R", field: typed})
        return
    errors = refused("spacer_ring", **{field: typed})
    assert list(errors) == [field]
    assert said in errors[field]
    assert errors[field].rstrip().endswith((".", "…", "?"))


def test_a_corrector_has_no_factor_that_the_optics_could_not_take():
    # 0.05 to 20 is what server.optics.imaging states for itself; the form asks for 10 at most.
    assert "must be at least 0.05" in refused("corrector", factor="0.008")["factor"]
    part = read_part("corrector", {"model": "C", "factor": "0.05"})
    assert isinstance(part, Corrector)
    assert part.factor == Measure(nominal=0.05)
    assert effective_focal_length_mm(1000.0, 0.05) > 0


def test_every_wrong_field_is_named_at_once() -> None:
    errors = refused(
        "optical_tube", aperture_mm="2 kg", design="cube", obstruction_mm="3", obstruction_share="10 %"
    )
    assert set(errors) == {"aperture_mm", "design", "obstruction_share"}
    assert errors["obstruction_share"] == "Give the central obstruction once, as a diameter or as a share."


def test_an_obstruction_wider_than_the_aperture_is_refused_at_the_obstruction() -> None:
    errors = refused("optical_tube", aperture_mm="100", obstruction_mm="120")
    assert errors == {"obstruction_mm": "The central obstruction must be smaller than the aperture."}


def test_a_part_without_maker_and_model_is_asked_for_its_model() -> None:
    with pytest.raises(FieldErrors) as caught:
        read_part("shim", {"length_mm": "0.5", "maker": "  "})
    assert list(caught.value.errors) == ["model"]


def test_a_whole_number_takes_no_half_and_no_tolerance() -> None:
    assert "whole number" in refused("filter_wheel", positions="7.5")["positions"]
    assert "no tolerance" in refused("filter_wheel", positions="7 ± 1")["positions"]


@pytest.mark.parametrize(
    ("kind", "name", "typed", "said"),
    [
        ("spacer_ring", "length_mm", "54.8 +- 0.2 mm", "54.8 ± 0.2 mm"),
        ("spacer_ring", "length_mm", "2 in", "50.8 mm"),
        ("spacer_ring", "length_mm", "2 in (maker)", "50.8 mm, maker"),
        ("spacer_ring", "sky_side", "M48x0.75 male", "metric thread 48 mm, pitch 0.75, male"),
        ("spacer_ring", "sky_side", "M57", "metric thread 57 mm, pitch not known, male or female not known"),
        ("adapter", "sky_side", '2"-24 f, 6 mm deep', "inch thread 2 in, 24 to the inch, female, 6 mm deep"),
        ("adapter", "sky_side", "1 1/4 in holder", "push-fit barrel 31.75 mm, female"),
        ("adapter", "sky_side", "2 inch focuser", "push-fit barrel 50.8 mm, female"),
        (
            "adapter",
            "sky_side",
            "M48",
            "metric thread 48 mm, pitch not known, male or female not known. "
            "Its usual pitch is 0.75: write it if it is so",
        ),
        ("mount", "saddle", "wide dovetail", "dovetail 75 mm wide"),
        ("optical_tube", "camera_side", "bolts Hex6 on 62 mm", "bolt pattern named Hex6 on a 62 mm circle"),
        ("camera", "pixel_um", "3.76", "3.76 µm"),
        ("optical_tube", "primary_focal_ratio", "f/3", "f/3"),
        ("optical_tube", "obstruction_share", "0.33", "33 %"),
        ("corrector", "factor", "0,8x", "0.8"),
        ("optical_tube", "design", "newtonian", "Newtonian"),
        ("corrector", "back_focus_table", "400: 55", "1 line: 400 mm → 55 mm"),
        ("shim", "price", "$ 4.5", "4.50 USD"),
        ("shim", "length_mm", "  ", ""),
        ("shim", "model", "", ""),
    ],
)
def test_a_field_tells_what_it_understood(kind: str, name: str, typed: str, said: str) -> None:
    assert understood(kind, name, typed) == said


def test_a_field_that_cannot_be_understood_says_why() -> None:
    with pytest.raises(FieldErrors) as caught:
        understood("shim", "length_mm", "5 kg")
    assert "this field is a length" in caught.value.errors["length_mm"]


def test_a_field_that_the_kind_has_not_is_the_callers_mistake() -> None:
    with pytest.raises(KeyError):
        field_of("shim", "sky_side")


@given(kind=st.sampled_from(sorted(KINDS)), typed=st.text(max_size=200), data=st.data())
@settings(deadline=None)
def test_whatever_is_typed_ends_in_a_value_or_a_sentence(kind: str, typed: str, data: st.DataObject) -> None:
    spec = data.draw(st.sampled_from(specs_of(kind)))
    part: Part | None = None
    errors: dict[str, str] = {}
    try:
        part = read_part(kind, {"maker": "Brindle", "model": "Test", spec.name: typed})
    except FieldErrors as error:
        errors = error.errors
    if part is None:
        assert set(errors) == {spec.name}
        assert all(errors.values())
    else:
        assert part.kind == kind
