"""What the Scout says, in sentences, for a metric and an imperial reader.

Source: 1 lb is 0.45359237 kg exactly, so that 5 kg are 11.02 lb and 12.34 kg 27.21 lb.
"""

from __future__ import annotations

import math
import random
import re
from dataclasses import replace
from typing import get_args

import pytest

from server.domain.observer import UnitSystem
from server.domain.scout.needs import LIMITS, MeasureName, Needs
from server.flow.scout import Answer, Gain, NeedLine, Why, gains_of, scout, why_not
from server.rim.scout_needs import LIKED, MEASURE_WORDS, NEED_SPECS, need_texts, read_needs
from server.rim.scout_words import (
    LEFT_OPEN,
    NEED_WORDS,
    beside_words,
    counted,
    gain_words,
    measure_text,
    said_of,
    why_words,
)
from tests.domain.rigs import camera, corrector, tube
from tests.domain.scout.made import FULL_SENSOR, GARDEN, SMALL, choice, euros

SYSTEMS: tuple[UnitSystem, ...] = get_args(UnitSystem)
OPEN = Needs(payload_share=None, fill_least=None, fill_most=None)
LIFT = NeedLine("lift_kg", "lift", 4.0, at_most=True, must=True)


def answer(needs: Needs = OPEN, *tubes) -> Answer:
    """Of tubes before one camera that is owned."""
    some = tubes or (
        tube(model="Light", mass_kg=3.0, price=euros(2000.0), obstruction_mm=0.0),
        tube(model="Heavy", mass_kg=9.0, price=euros(500.0), obstruction_mm=0.0),
        tube(model="Beaten", mass_kg=9.5, price=euros(2500.0), obstruction_mm=0.0),
    )
    eye = camera(model="Eye", mass_kg=0.6, **FULL_SENSOR)
    return scout(choice(some, [eye], owned=("Eye",)), needs, (SMALL,), GARDEN)


# -- Figures


@pytest.mark.parametrize(
    ("name", "value", "metric", "imperial"),
    [
        ("load", 12.34, "12.3 kg", "27.2 lb"),
        ("lift", 5.0, "5.0 kg", "11.0 lb"),
        ("cost", 1234.4, "1,234.40 EUR", "1,234.40 EUR"),
        ("cost", 1120.0, "1,120 EUR", "1,120 EUR"),
        ("corner_px", 1.44, "1.4 px", "1.4 px"),
        ("room", 12.34, "12.3 mm", "0.486 in"),
        ("power", 21.6, "22 W", "22 W"),
        ("hours", 4.7234, "4.7 h", "4.7 h"),
        ("star", 2.44, "2.4 arcsec", "2.4 arcsec"),
        ("corner", 8.0, "8.0 arcsec", "8.0 arcsec"),
        ("share", 0.604, "60 %", "60 %"),
        ("light", 0.85, "85 %", "85 %"),
        ("fill_most", 1.2, "120 %", "120 %"),
        ("cost", math.nan, "not known yet", "not known yet"),
    ],
)
def test_a_measure_reads_in_the_readers_units(name, value, metric, imperial):
    assert [measure_text(name, value, "EUR", units) for units in SYSTEMS] == [metric, imperial]


def test_every_measure_and_every_need_has_its_words():
    assert set(MEASURE_WORDS) == set(get_args(MeasureName))
    assert set(NEED_WORDS) == set(LEFT_OPEN) == set(LIKED)
    assert {spec.name for spec in NEED_SPECS} == set(LIKED) | {"currency"}


def test_one_is_not_many():
    assert [counted(number, "tube") for number in (0, 1, 2, 1240)] == [
        "0 tubes",
        "1 tube",
        "2 tubes",
        "1,240 tubes",
    ]


# -- The answer


def test_the_answer_says_how_many_meet_the_needs_and_how_many_tubes_no_other_beats():
    needs = OPEN.model_copy(update={"front": ("cost", "load")})
    assert said_of(answer(needs)) == (
        "Of 3 combinations 3 meet your needs; 2 tubes are not beaten by another in cost and mass on the "
        "mount."
    )
    three = OPEN.model_copy(update={"budget": 600.0, "front": ("cost", "hours", "lift")})
    assert said_of(answer(three)) == (
        "Of 3 combinations 1 meets your needs; 1 tube is not beaten by another in cost, hours and heaviest "
        "piece."
    )


def test_an_answer_of_none_says_no_more():
    assert said_of(answer(OPEN.model_copy(update={"budget": 1.0}))) == "Of 3 combinations 0 meet your needs."


def test_where_a_measure_of_the_front_is_known_of_none_it_is_said():
    free = answer(OPEN.model_copy(update={"front": ("cost",)}), tube(price=None))
    assert said_of(free) == "Of 1 combination 1 meets your needs; of it cost is not known."


# -- What a need costs


def test_what_a_need_costs_is_told_from_the_first_that_comes_in_to_all():
    gains = (Gain(5.02, 1, (7,)), Gain(9.0, 4, (7, 8, 9)))
    assert gain_words(LIFT, gains, "EUR", "metric") == (
        "What you lift, 4.0 kg now: 5.1 kg brings 1 tube more; 9.0 kg brings 3 tubes more."
    )
    assert gain_words(LIFT, gains[:1], "EUR", "imperial") == (
        "What you lift, 8.8 lb now: 11.1 lb brings 1 tube more."
    )


def test_combinations_are_told_where_no_tube_is_new():
    assert gain_words(LIFT, (Gain(5.0, 3, ()),), "EUR", "metric") == (
        "What you lift, 4.0 kg now: 5.0 kg brings 3 combinations more."
    )


def test_what_cannot_be_given_by_halves_is_told_as_a_whole():
    collimate = NeedLine("collimate", "collimate", 0.0, at_most=True, must=True)
    spikes = NeedLine("spikes", "spikes", 0.0, at_most=True, must=True)
    assert gain_words(collimate, (Gain(1.0, 4, (1, 2)),), "EUR", "metric") == (
        "Collimating would bring 2 tubes and 4 combinations more."
    )
    assert gain_words(spikes, (Gain(1.0, 1, (1,)),), "EUR", "metric") == (
        "Spikes would bring 1 tube and 1 combination more."
    )


def test_the_gain_of_a_real_answer_is_told():
    needs = OPEN.model_copy(update={"budget": 1900.0})
    ((line, gains),) = gains_of(answer(needs))
    assert gain_words(line, gains, "EUR", "metric") == (
        "The budget, 1,900 EUR now: 2,000 EUR brings 1 tube more; 2,500 EUR brings 2 tubes more."
    )


@pytest.mark.parametrize("units", SYSTEMS)
@pytest.mark.parametrize(("name", "measure", "at_most"), LIMITS)
def test_whoever_types_the_limit_that_is_told_gets_what_it_was_found_for(units, name, measure, at_most):
    rng = random.Random(name)
    # Between what a form takes: shares to 1, arcseconds to 120.
    most = {"budget": 9000.0, "lift_kg": 60.0, "hours": 90.0, "corner_arcsec": 40.0}.get(name, 1.0)
    for _ in range(200):
        limit = rng.uniform(0.05, 1.0) * most
        line = NeedLine(name, measure, limit * (0.5 if at_most else 1.5), at_most, must=True)
        said = gain_words(line, (Gain(limit, 1, (1,)),), "EUR", units)
        told = re.search(r"now: (\S+ \S+) brings", said)
        assert told is not None, said
        typed = told[1].removesuffix("EUR").removesuffix(" h").replace(",", "").strip()
        needs, errors = read_needs({name: typed}, (), (), {})
        assert errors == {}, (said, errors)
        read = getattr(needs, name)
        assert read >= limit if at_most else read <= limit, (said, limit)


# -- Why not


def test_what_fails_is_told_by_how_much_in_the_readers_units():
    found = answer(OPEN.model_copy(update={"lift_kg": 4.0, "budget": 2200.0}))
    why = why_not(found, 2)
    assert why_words(found, why, "", "metric") == (
        "It fails your needs: the budget, 2,500 EUR where 2,200 EUR is the limit; what you lift, 9.5 kg "
        "where 4.0 kg is the limit."
    )
    assert "20.9 lb where 8.8 lb is the limit" in why_words(found, why, "", "imperial")


def test_a_flag_that_fails_has_no_figure():
    found = answer(
        OPEN.model_copy(update={"collimate": False}), tube(design="newtonian", obstruction_share=0.3)
    )
    assert (
        why_words(found, why_not(found, 0), "", "metric") == "It fails your needs: it asks to be collimated."
    )


def test_what_beats_it_is_told_with_what_is_better_and_what_is_the_same():
    found = answer(OPEN.model_copy(update={"front": ("cost", "hours", "load")}))
    why = why_not(found, 2)
    # The light one is as large, and both cheaper and lighter.
    assert why.beaten_by is not None
    assert why_words(found, why, "Light", "metric") == (
        "Light beats it in cost and mass on the mount, with practically the same hours."
    )


def test_who_is_practically_equal_or_beaten_by_none_is_told_so():
    found = answer()
    alike = Why((), None, (), (), 0)
    assert why_words(found, alike, "Other", "metric") == (
        "It is practically equal to Other, which stands for it."
    )
    assert why_words(found, why_not(found, 0), "", "metric") == "Nothing that meets your needs beats it."


def test_a_failure_is_never_told_as_a_figure_that_is_its_own_limit():
    found = answer(
        OPEN.model_copy(update={"lift_kg": 5.0, "budget": 999.7}),
        tube(mass_kg=5.02, price=euros(1000.2), obstruction_mm=0.0),
    )
    for units, lifts in zip(SYSTEMS, ("5.02 kg where 5.00 kg", "11.1 lb where 11.0 lb"), strict=True):
        assert why_words(found, why_not(found, 0), "", units) == (
            "It fails your needs: the budget, 1,000.20 EUR where 999.70 EUR is the limit; what you lift, "
            f"{lifts} is the limit."
        )


@pytest.mark.parametrize("units", SYSTEMS)
@pytest.mark.parametrize(("name", "measure", "at_most"), LIMITS)
def test_a_figure_a_little_beyond_its_limit_reads_beyond_it(units, name, measure, at_most):
    found = answer()
    # The least by which money differs is a cent; as for the others, half a tenth of a per cent.
    least = 0.01 if name == "budget" else 0.0005
    for limit in (0.51, 0.77, 1.0):
        line = NeedLine(name, measure, limit, at_most, must=True)
        value = limit + (least if at_most else -least)
        said = why_words(found, Why(((line, value),), None, (), (), None), "", units)
        told, at = (float(one) for one in re.findall(r"([\d.]+) \S+ (?:where|is)", said))
        assert told > at if at_most else told < at, said


# -- The form


@pytest.mark.parametrize(
    "needs",
    [
        OPEN,
        Needs(),
        Needs(budget=2500.0, currency="USD", lift_kg=12.5, payload_share=0.6, hours=8.0, like=("hours",)),
        Needs(corner_arcsec=3.5, corner_light=0.75, collimate=False, spikes=True, front=("load", "star")),
    ],
)
def test_what_the_form_shows_is_read_back_as_it_was(needs):
    read, errors = read_needs(need_texts(needs), needs.like, needs.front, {})
    assert errors == {}
    assert set(read.front) == set(needs.front)
    assert read.model_dump(exclude={"front"}) == needs.model_dump(exclude={"front"})


def test_what_cannot_be_read_is_told_and_the_rest_is_kept():
    read, errors = read_needs({"budget": "much", "lift_kg": "10 kg", "currency": "euros"}, (), (), {})
    assert set(errors) == {"budget", "currency"}
    assert read.lift_kg == 10.0
    assert read.budget is None


def test_at_most_must_be_more_than_at_least():
    read, errors = read_needs({"fill_least": "80 %", "fill_most": "20 %"}, (), (), {})
    assert errors == {"fill_most": "At most must be more than at least. Swap them."}
    assert (read.fill_least, read.fill_most) == (0.8, None)


def test_too_little_room_is_told_in_the_readers_units_and_what_giving_the_need_up_would_bring():
    lenses = [corrector(model=f"To {one:g}", back_focus_mm=one) for one in (30.0, 55.0)]
    some = choice([tube()], [camera(**FULL_SENSOR)], lenses)
    needs = Needs(filters=True, payload_share=None)
    found = scout(replace(some, lacking=("filter_wheel",)), needs, (SMALL,), GARDEN)
    short = [n for n in range(found.table.count) if n not in found.passing]
    told = [why_words(found, why_not(found, n), "", units) for n in short for units in SYSTEMS]
    # The corrector asks for 30 mm, the camera takes 17.5 of them and a wheel usually 20.
    assert [one.split(": ")[1] for one in told] == [
        "room for filters, 7.5 mm too little.",
        "room for filters, 0.295 in too little.",
    ]
    ((line, gains),) = gains_of(found)
    assert gain_words(line, gains, "EUR", "metric") == (
        "Going without room for filters would bring 1 combination more."
    )
    assert beside_words(found, "metric") == (
        "Not known yet: no filter wheel or drawer on your shelf; its mass and price are not counted, its "
        "room is taken as 20.0 mm, 12.0 mm to 30.0 mm (common practice)."
    )


def test_a_mass_comes_back_in_the_unit_that_it_was_typed_in():
    for text in ("22 lb", "10 kg", "9.5 lb", "12.25 kg"):
        needs, errors = read_needs({"lift_kg": text}, (), (), {})
        assert not errors
        assert need_texts(needs)["lift_kg"] == text
