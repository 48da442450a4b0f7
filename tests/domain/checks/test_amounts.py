"""What is written of masses near a limit: never less than must go, never two equal numbers for unequal ones.

Source: arithmetic; a pound is 0.453 592 37 kg exactly (international yard and pound agreement, 1959).
"""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.domain.observer import UnitSystem
from server.domain.workings.case import digits_apart, mass_to_take_off
from server.rim.wording import write_amount, write_phrase
from tests.domain.rigs import finding, mount, tube

POUND_KG = 0.45359237
ROUNDING_KG = 1e-9


def written_kg(text: str) -> float:
    found = re.fullmatch(r"([0-9.]+) (kg|lb)", text)
    assert found is not None, text
    return float(found[1]) * (1.0 if found[2] == "kg" else POUND_KG)


@given(over_kg=st.floats(0.001, 500.0), units=st.sampled_from(["metric", "imperial"]))
def test_taking_off_what_is_written_is_always_enough_and_never_far_too_much(
    over_kg: float, units: UnitSystem
) -> None:
    taken = written_kg(write_amount(mass_to_take_off(over_kg), units))
    assert taken >= over_kg - 2 * ROUNDING_KG
    assert taken <= over_kg + max(0.2, over_kg) * 1.0


@pytest.mark.parametrize(
    ("over_kg", "metric", "imperial"),
    [
        (0.04, "0.04 kg", "0.09 lb"),
        (0.1, "0.1 kg", "0.3 lb"),
        (1.01, "1.1 kg", "2.3 lb"),
        (2.0, "2.0 kg", "4.5 lb"),
    ],
)
def test_amounts_are_rounded_up(over_kg: float, metric: str, imperial: str) -> None:
    assert write_amount(mass_to_take_off(over_kg), "metric") == metric
    assert write_amount(mass_to_take_off(over_kg), "imperial") == imperial


@given(one=st.floats(0.0, 200.0), other=st.floats(0.0, 200.0))
def test_masses_that_differ_by_a_gram_are_written_apart(one: float, other: float) -> None:
    digits = digits_apart(one, other)
    if abs(one - other) > 0.001:
        assert f"{one:.{digits}f}" != f"{other:.{digits}f}"
    assert digits_apart(one, one) == 1


def test_a_little_over_what_is_usual_is_not_called_nothing() -> None:
    # 6.04 of the 6.0 kg that are usual on a mount for 10.
    found = finding("payload", tube(mass_kg=6.04), gear=[mount(10.0)])
    said = write_phrase(found.phrase, "metric")
    assert "The load is 6.04 kg" in said
    assert "or 6.00 kg is usual" in said
    assert "It is 0.040 kg over" in said
    assert write_phrase(found.remedies[0].phrase, "metric").startswith("In wind: take at least 0.04 kg off")


def test_what_a_load_is_over_by_is_told_finer_than_what_is_to_come_off_so_that_both_agree() -> None:
    # 9.09 of the 8.4 kg that are usual on a mount for 14: 0.69 kg, 1.52 lb, so 1.5 lb off is not enough.
    found = finding("payload", tube(mass_kg=9.09), gear=[mount(14.0)])
    assert "It is 1.52 lb over" in write_phrase(found.phrase, "imperial")
    assert "take at least 1.6 lb off" in write_phrase(found.remedies[0].phrase, "imperial")
