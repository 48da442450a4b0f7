"""What stands on the tripod, what a person lifts, and the Sun.

Source: sums worked by hand. A limit of about 9 kg (20 lb) for what one carries alone, two people above it,
and the cautions of the Sun: common practice, no source.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.domain.load.places import all_pieces
from server.domain.load_plan import Lift, LoadPlan
from server.domain.measure import Measure
from server.domain.parts import Accessory, Counterweight, Mount, PowerSource, Support
from server.domain.rig import Gear, Rig
from server.rim.wording import write_phrase
from tests.domain.rigs import (
    camera,
    case,
    corrector,
    finding,
    findings,
    glass,
    holding,
    item,
    mm,
    mount,
    number,
    rig,
    ring,
    tube,
    wheel,
)
from tests.told import run_checks

ROUNDING_KG = 1e-9


def weight(mass_kg: float | None) -> Counterweight:
    return Counterweight(model="Weight", mass_kg=None if mass_kg is None else mm(mass_kg))


def stand(capacity_kg: float | None = 40.0, mass_kg: float | None = 7.0) -> Support:
    return Support(
        model="Tripod",
        mass_kg=None if mass_kg is None else mm(mass_kg),
        capacity_kg=None if capacity_kg is None else mm(capacity_kg),
    )


# The stand


def test_the_stand_carries_mount_saddle_and_bar_and_not_itself_nor_the_battery() -> None:
    # 5.0 + 0.6 on the saddle, 2 x 4.0 + 0.5 on the bar, 12.0 the mount: 26.1 kg.
    found = finding(
        "stand",
        tube(),
        camera(),
        gear=[
            mount(mass_kg=12.0),
            stand(),
            (weight(4.0), 2),
            Accessory(model="Box", mass_kg=mm(0.5), place="bar"),
            PowerSource(model="Battery", mass_kg=mm(6.0)),
        ],
    )
    assert (found.weight, found.code) == ("sound", "stand.sound")
    assert number(found, "load") == pytest.approx(26.1, abs=ROUNDING_KG)


def test_a_stand_that_carries_too_much_is_a_stop_that_says_by_how_much() -> None:
    # 5.0 + 12.0 + 2 x 4.0 = 25.0 kg on 20 kg.
    found = finding("stand", tube(), gear=[mount(mass_kg=12.0), stand(20.0), (weight(4.0), 2)])
    assert (found.weight, found.code) == ("stop", "stand.over")
    assert number(found, "over") == pytest.approx(5.0, abs=ROUNDING_KG)
    # 5.0 kg are 11.02 lb, which 11.0 lb would not take off.
    assert "5.0 kg off" in write_phrase(found.remedies[0].phrase, "metric")
    assert "11.1 lb off" in write_phrase(found.remedies[0].phrase, "imperial")
    assert "rated for 25.0 kg or more" in write_phrase(found.remedies[0].phrase, "metric")


def test_a_mass_that_is_not_known_makes_a_sum_below_the_rating_unknown_and_one_above_it_a_stop() -> None:
    found = finding("stand", tube(), gear=[mount(mass_kg=12.0), stand(), weight(None)])
    assert (found.weight, found.missing) == ("unknown", ("the mass of Weight",))
    assert finding("stand", tube(), gear=[mount(mass_kg=12.0), stand(15.0), weight(None)]).weight == "stop"


def test_a_stand_without_a_mount_is_not_called_sound() -> None:
    assert "a mount, beside the train" in finding("stand", tube(), gear=[stand()]).missing


def test_a_stand_of_no_known_rating_is_not_judged() -> None:
    assert findings("stand", tube(), gear=[mount(mass_kg=12.0), stand(None)]) == []


@given(st.floats(0.0, 50.0), st.floats(0.0, 50.0))
def test_more_on_the_bar_never_makes_a_stand_better(one_kg: float, other_kg: float) -> None:
    def verdict(mass_kg: float) -> bool:
        return finding("stand", tube(), gear=[mount(mass_kg=12.0), stand(), weight(mass_kg)]).weight == "stop"

    low, high = sorted((one_kg, other_kg))
    assert verdict(high) or not verdict(low)


# Lifting


def test_without_a_limit_of_the_lifters_own_nothing_is_said_of_light_loads() -> None:
    assert findings("lifting", tube(mass_kg=8.4), camera(), gear=[mount(mass_kg=9.0)]) == []


def test_a_load_above_the_limit_is_named_with_what_to_take_off() -> None:
    # 8.9 + 0.6 = 9.5 kg against 9.0: 0.5 kg too much, and the camera's 0.6 kg is enough. The mount's 8.0 kg
    # and the weight's 4.0 are within.
    found = finding(
        "lifting",
        tube(mass_kg=8.9),
        camera(),
        gear=[mount(mass_kg=8.0), weight(4.0)],
        load=LoadPlan(lift_limit_kg=9.0),
    )
    assert (found.weight, found.code) == ("stop", "lifting.over_limit")
    assert found.figure is not None
    assert found.figure.amount.value == pytest.approx(9.5, abs=ROUNDING_KG)
    assert found.remedies[0].phrase.amounts["over"].value == pytest.approx(0.5, abs=ROUNDING_KG)
    assert "take off Quill Cam ({off})" in found.remedies[0].phrase.template
    assert "clinician" in found.phrase.template
    assert "Stone Mount" not in found.phrase.template


def test_of_a_mount_that_comes_apart_the_heaviest_piece_is_lifted() -> None:
    whole = mount(mass_kg=14.0)
    apart = mount(mass_kg=14.0, heaviest_piece_kg=8.5)
    limit = LoadPlan(lift_limit_kg=9.0)
    assert finding("lifting", tube(), gear=[whole], load=limit).weight == "stop"
    assert finding("lifting", tube(), gear=[apart], load=limit).weight == "sound"


def test_each_counterweight_is_lifted_by_itself() -> None:
    assert finding("lifting", gear=[(weight(5.0), 4)], load=LoadPlan(lift_limit_kg=9.0)).weight == "sound"


def test_a_mass_that_is_not_known_is_asked_for() -> None:
    found = finding("lifting", tube(mass_kg=None), load=LoadPlan(lift_limit_kg=9.0))
    assert (found.weight, found.missing) == ("unknown", ("the mass of Halden Tube",))


def _planned(people: int = 1) -> Rig:
    """A tube of 10.2 kg and a camera of 0.6 kg that are carried one after the other."""
    plain = rig(tube(mass_kg=10.2), camera())
    tube_id, camera_id = (place.item.id for place in plain.train)
    lifts = (
        Lift(name="bare tube", parts=(tube_id,), people=people),
        Lift(name="camera", parts=(camera_id,)),
    )
    return Rig("Planned", plain.train, load=LoadPlan(lift_limit_kg=10.5, lifts=lifts))


def test_what_is_planned_to_go_by_itself_is_weighed_by_itself() -> None:
    # Together 10.8 kg, above 10.5; apart 10.2 and 0.6. How they are lifted is not said.
    found = [f for f in run_checks(_planned()) if f.code.startswith("lifting.")]
    assert [f.code for f in found] == ["lifting.sound", "lifting.plan_unknown", "lifting.plan_unknown"]


def test_a_load_that_two_people_lift_is_not_held_to_the_limit_of_one() -> None:
    planned = _planned(people=2)
    lower = planned.load.model_copy(update={"lift_limit_kg": 9.0})
    found = [f for f in run_checks(Rig("Two", planned.train, load=lower)) if f.code.startswith("lifting.")]
    # Only the camera's lift is one person's; what two lift has no limit, and is not called sound.
    assert [f.code for f in found] == ["lifting.sound", "lifting.team_unknown", "lifting.plan_unknown"]
    assert "camera" in found[2].phrase.template


# The Sun


def test_nothing_is_said_of_the_sun_by_night() -> None:
    assert findings("sun", tube(), camera()) == []


def test_the_sun_as_target_without_a_filter_before_the_tube_is_a_stop_and_comes_first() -> None:
    found = run_checks(rig(tube(), camera(), load=LoadPlan(sun=True)))[0]
    assert (found.weight, found.code) == ("stop", "sun.no_filter")
    for words in ("Cap or take off the finder", "Never leave the rig unattended", "holes and scratches"):
        assert words in found.phrase.template


SLIPPED_OVER = {"format": "other", "solar": True, "mass_kg": 0.2}


@pytest.mark.parametrize(
    ("open_mm", "weight", "code"),
    [
        (200.0, "sound", "sun.filtered"),
        (199.0, "stop", "sun.too_small"),
        (None, "unknown", "sun.cover_unknown"),
    ],
)
def test_a_filter_over_the_tube_is_held_to_the_aperture_of_200_mm(
    open_mm: float | None, weight: str, code: str
) -> None:
    opening = None if open_mm is None else mm(open_mm)
    noon = glass(None, **SLIPPED_OVER, clear_aperture_mm=opening)
    found = run_checks(rig(tube(), camera(), gear=[noon], load=LoadPlan(sun=True)))
    first = next(f for f in found if f.code.startswith("sun."))
    assert (first.weight, first.code) == (weight, code)
    for words in ("Cap or take off the finder", "Never leave the rig unattended", "holes and scratches"):
        assert words in first.phrase.template
    assert not [f for f in found if f.code == "sun.behind"]


def test_a_solar_filter_behind_the_objective_is_none_for_the_sun() -> None:
    eyepiece = glass(2.0, solar=True, clear_aperture_mm=200.0)
    found = run_checks(rig(tube(), holding(wheel(20.0), eyepiece), camera(), load=LoadPlan(sun=True)))
    assert {"sun.no_filter", "sun.behind"} <= {f.code for f in found if f.weight == "stop"}


def test_a_filter_over_the_tube_weighs_on_the_mount_and_leaves_light_and_lengths_alone() -> None:
    noon = glass(5.0, **SLIPPED_OVER)
    parts = (tube(), corrector(), ring(37.5), camera())
    bare, with_it = rig(*parts, gear=[mount()]), rig(*parts, gear=[mount(), noon])

    def others(of: Rig) -> list[tuple[str, str]]:
        kept = (f for f in run_checks(of) if not f.code.startswith(("payload", "balance", "lifting")))
        return [(f.code, f.phrase.template) for f in kept]

    assert others(bare) == others(with_it)
    payload = [next(f for f in run_checks(of) if f.code.startswith("payload")) for of in (bare, with_it)]
    assert number(payload[1], "load") - number(payload[0], "load") == pytest.approx(0.2)
    assert "Sell Glass" in {piece.name for piece in all_pieces(with_it)}


def test_the_suns_caution_stays_with_the_owners_word_alone_which_is_never_called_sound() -> None:
    found = run_checks(rig(tube(), camera(), load=LoadPlan(sun=True, solar_filter=True)))[0]
    assert (found.weight, found.code) == ("watch", "sun.target")
    assert "Never leave the rig unattended" in found.phrase.template


# Names of parts are not taken for amounts.


def test_a_name_with_braces_stands_as_it_is() -> None:
    braces = _rig_of_braces()
    found = [f for f in run_checks(braces) if f.code.startswith(("stand.", "lifting."))]
    # On the stand, above the own limit, and above the load constant of the lifting equation.
    assert len(found) == 3
    assert all("{{odd}}" in f.phrase.template for f in found)


def _rig_of_braces() -> Rig:
    odd = Mount(model="{odd}", mass_kg=Measure(nominal=30.0))
    tripod = Support(model="{odd}", mass_kg=mm(3.0), capacity_kg=mm(10.0))
    return Rig(
        "Braces", case().train, (Gear(item(odd)), Gear(item(tripod))), load=LoadPlan(lift_limit_kg=9.0)
    )


def test_a_mass_that_was_typed_is_never_said_to_be_worked_out() -> None:
    # One battery in one lift, and a tube alone on its saddle: their masses are the maker's or typed.
    battery = PowerSource(model="Battery", mass_kg=mm(12.0), basis="measured")
    lifted = finding("lifting", gear=[battery], load=LoadPlan(lift_limit_kg=9.0))
    assert [one.basis for one in lifted.inputs if one.label == "Battery"] == ["measured"]
    carried = finding("stand", tube(basis="measured"), gear=[mount(mass_kg=12.0), stand()])
    assert [one.basis for one in carried.inputs if one.label == "what is on the saddle"] == ["measured"]
    # A sum of several is.
    both = finding("stand", tube(), camera(), gear=[mount(mass_kg=12.0), stand()])
    assert [one.basis for one in both.inputs if one.label == "what is on the saddle"] == ["worked out"]


def test_what_hangs_alone_behind_a_focuser_is_told_once_with_its_own_basis() -> None:
    found = finding("hanging", tube(focuser_capacity_kg=3.0), camera(basis="measured"))
    assert [(one.label, one.basis) for one in found.inputs if one.of != "Halden Tube"] == [
        ("mass", "measured")
    ]
