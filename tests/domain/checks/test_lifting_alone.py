"""What one person is told not to lift alone, and what to do about a load that is too heavy.

Sources: 23 kg is the load constant of the revised lifting equation (NIOSH 94-110, metric); 20 lb (9.07 kg) as
the most that many lift alone is common practice, no source. Sums worked by hand.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from server.domain.checks.lifting_equation import at_least
from server.domain.findings import Finding
from server.domain.load_plan import Lift, LoadPlan
from server.domain.parts import Accessory, Counterweight, GuideScope, PlateAndRings, PowerSource, Support
from server.domain.rig import Rig
from server.domain.train import Place
from server.rim.wording import write_phrase
from tests.domain.rigs import camera, finding, findings, guide_camera, item, mm, mount, rig, tube, wheel
from tests.told import run_checks

NINE = LoadPlan(lift_limit_kg=9.0)


def _advice(found: Finding) -> str:
    return " ".join(write_phrase(one.phrase, "metric") for one in found.remedies)


def _lifting(of: Rig) -> list[Finding]:
    return [one for one in run_checks(of) if one.code.startswith("lifting.")]


def test_a_load_above_the_load_constant_is_a_stop_for_one_whatever_was_planned() -> None:
    pier = Support(model="Pier", mass_kg=mm(38.0))
    found = findings("lifting", tube(mass_kg=25.0), gear=[pier])
    assert [(one.code, one.weight) for one in found] == [("lifting.above_constant", "stop")]
    said = write_phrase(found[0].phrase, "metric")
    assert (
        "Above 23 kg even the best lift is over the recommended limit: two people, or smaller loads" in said
    )
    assert "Pier (38.0 kg) and the tube with all that rides on it (25.0 kg)" in said
    assert "NIOSH" in found[0].source
    # A limit of the lifter's own above it changes nothing, and nothing is then called sound.
    limited = findings("lifting", tube(mass_kg=25.0), load=LoadPlan(lift_limit_kg=40.0))
    assert [one.code for one in limited] == ["lifting.above_constant"]


@pytest.mark.parametrize(
    ("mass_kg", "codes"),
    [
        (9.07, []),
        (9.08, ["lifting.heavy_alone"]),
        (23.0, ["lifting.heavy_alone"]),
        (23.01, ["lifting.above_constant"]),
    ],
)
def test_without_an_own_limit_what_is_heavy_is_asked_about_and_what_is_too_heavy_stops(
    mass_kg: float, codes: list[str]
) -> None:
    assert [one.code for one in findings("lifting", gear=[mount(mass_kg=mass_kg)])] == codes


@pytest.mark.parametrize(
    ("mass_kg", "metric", "imperial"),
    [
        # As the packing list writes it; a load near it, and the limit beside it, with more digits.
        (9.5, ("9.07 kg", "9.5 kg"), ("20 lb", "20.9 lb")),
        (9.09, ("9.07 kg", "9.09 kg"), ("20.00 lb", "20.04 lb")),
        (23.02, ("23.00 kg", "23.02 kg"), ("50.71 lb", "50.75 lb")),
    ],
)
def test_a_limit_that_many_keep_never_reads_as_more_than_the_load_above_it(
    mass_kg: float, metric: tuple[str, str], imperial: tuple[str, str]
) -> None:
    (found,) = findings("lifting", gear=[mount(mass_kg=mass_kg)])
    for units, (limit, load) in {"metric": metric, "imperial": imperial}.items():
        said = write_phrase(found.phrase, "imperial" if units == "imperial" else "metric")
        assert limit in said
        assert f"({load})" in said


@pytest.mark.parametrize(("people", "words"), [(1, "Do not lift it alone."), (2, "Do not lift it so.")])
def test_what_is_above_ones_own_limit_is_not_to_be_lifted_alone_nor_by_the_two_of_a_plan(
    people: int, words: str
) -> None:
    # 19 kg, or 9.5 for each of two, against 9.
    of = rig(tube(mass_kg=19.0))
    lift = Lift(
        name="tube",
        parts=(of.train.places[0].item.id,),
        people=people,
        from_height_mm=750.0,
        to_height_mm=800.0,
        reach_mm=300.0,
        coupling="good",
    )
    found = _lifting(replace(of, load=LoadPlan(lift_limit_kg=9.0, lifts=(lift,))))
    over = next(one for one in found if one.code == "lifting.over_limit")
    assert words in over.phrase.template


def test_above_the_usual_an_own_limit_or_a_planned_lift_is_asked_for_and_ends_it() -> None:
    of = rig(tube(mass_kg=12.0))
    found = _lifting(of)
    assert [(one.code, one.weight) for one in found] == [("lifting.heavy_alone", "watch")]
    (remedy,) = found[0].remedies
    assert remedy.phrase.template.endswith("say the most that you lift alone, or plan the lift.")
    assert "Common practice, no source" in found[0].source
    lift = Lift(
        name="tube",
        parts=(of.train.places[0].item.id,),
        from_height_mm=750.0,
        to_height_mm=800.0,
        reach_mm=300.0,
        coupling="good",
    )
    planned = Rig("Planned", of.train, load=LoadPlan(lifts=(lift,)))
    assert [one.code for one in _lifting(planned)] == ["lifting.index_sound"]


def test_what_nobody_weighed_is_named_beside_what_is_heavy() -> None:
    found = finding("lifting", tube(mass_kg=12.0), gear=[Support(model="Pier")])
    assert (found.code, found.weight, found.missing) == (
        "lifting.heavy_alone",
        "watch",
        ("the mass of Pier",),
    )
    assert "Not known yet: enter the mass of Pier." in found.phrase.template


def test_a_load_a_hair_above_the_limit_is_told_with_enough_digits_and_never_as_nothing() -> None:
    found = finding("lifting", tube(mass_kg=8.44), camera(), load=NINE)
    said = write_phrase(found.phrase, "metric")
    assert "9.04" in said
    assert "At least 0.1 kg must come off" in _advice(found)


@pytest.mark.parametrize(
    ("value", "digits", "told"),
    [(0.04, 1, 0.1), (0.1, 1, 0.1), (1.8, 1, 1.8), (10.8 - 9.0, 1, 1.8), (1.801, 2, 1.81)],
)
def test_what_is_at_least_meant_is_rounded_up(value: float, digits: int, told: float) -> None:
    assert at_least(value, digits).value == pytest.approx(told, abs=1e-9)


def test_a_tube_is_told_the_fewest_things_whose_taking_off_is_enough() -> None:
    # 8.0 + 0.5 + 0.6 hang and ride with a guide scope of 1.4: 10.5 kg, 1.5 too much. What hangs behind the
    # tube is 1.1, the scope 1.4: neither is enough alone, both leave 8.0.
    scope = GuideScope(model="Scope", mass_kg=mm(1.4))
    both = finding("lifting", tube(mass_kg=8.0), wheel(20.0), camera(), gear=[scope], load=NINE)
    assert "take off Scope and all that hangs behind Halden Tube (2.50 kg)" in _advice(both)
    assert "8.00 kg is left" in _advice(both)
    # 9.3 kg: the lighter of the two is enough.
    one = finding("lifting", tube(mass_kg=6.8), wheel(20.0), camera(), gear=[scope], load=NINE)
    assert "take off all that hangs behind Halden Tube (1.10 kg)" in _advice(one)


def test_what_comes_off_a_tube_is_the_same_whichever_part_was_entered_first() -> None:
    hung = (camera(mass_kg=1.5), Place(0, item(camera(mass_kg=1.5))))
    told = {_advice(finding("lifting", tube(mass_kg=8.0), one, load=NINE)) for one in hung}
    assert len(told) == 1
    assert "take off Quill Cam (1.50 kg)" in told.pop()


def test_a_tube_that_is_too_heavy_by_itself_is_not_told_to_shed_its_camera() -> None:
    found = finding("lifting", tube(mass_kg=10.2), camera(), load=NINE)
    assert "Halden Tube alone is 10.20 kg, so taking the rest off is not enough" in _advice(found)
    assert "lift it with two people" in _advice(found)


def test_what_is_too_heavy_for_one_by_itself_is_not_told_to_come_off() -> None:
    # 5 + 0.6 + 9.5 kg: without the scope 5.6 are left, and the scope is above the 9 as well.
    scope = GuideScope(model="Scope", mass_kg=mm(9.5))
    found = finding("lifting", tube(mass_kg=5.0), camera(), gear=[scope], load=NINE)
    assert "Scope alone is 9.50 kg, so taking the rest off is not enough" in _advice(found)
    assert "take off" not in _advice(found)


def test_what_no_taking_off_mends_though_no_part_is_too_heavy_goes_in_several_loads() -> None:
    # What hangs behind the tube is 2 + 2 kg and comes off as one, which is above the 3 as well.
    hung = (wheel(20.0, mass_kg=2.0), camera(mass_kg=2.0))
    found = finding("lifting", tube(mass_kg=2.0), *hung, load=LoadPlan(lift_limit_kg=3.0))
    assert "carry its parts in several loads" in _advice(found)
    assert "alone" not in _advice(found)


@pytest.mark.parametrize(
    "part",
    [
        Counterweight(model="Iron", mass_kg=mm(9.04)),
        PowerSource(model="Battery", mass_kg=mm(12.0)),
        Support(model="Pier", mass_kg=mm(20.0)),
        Accessory(model="Chest", mass_kg=mm(14.0), place="ground"),
    ],
)
def test_of_one_piece_nothing_is_told_to_come_off(part: Any) -> None:
    found = finding("lifting", gear=[part], load=NINE)
    assert (found.code, found.weight) == ("lifting.over_limit", "stop")
    advice = _advice(found)
    assert "come off" not in advice
    assert "take off" not in advice.lower()
    assert "people" in advice
    assert "or choose a lighter part" in advice


def test_how_many_should_lift_it_follows_from_the_limit_and_beyond_four_it_is_no_lift_by_hand() -> None:
    def advice(mass_kg: float) -> str:
        return _advice(findings("lifting", gear=[Support(model="Pier", mass_kg=mm(mass_kg))], load=NINE)[0])

    assert "with two people" in advice(18.0)
    assert "with at least 3 people" in advice(18.1)
    assert "too heavy to lift by hand" in advice(36.1)


def test_a_mount_is_told_to_shed_its_bar_only_where_that_is_known_to_be_enough() -> None:
    def advice(**given: Any) -> str:
        return _advice(finding("lifting", gear=[mount(**given)], load=NINE))

    whole = advice(mass_kg=9.8, bar_mass_kg=0.9)
    assert "If the counterweight bar of Stone Mount comes out, take it out first" in whole
    assert "8.90 kg is left" in whole
    assert "counterweight bar" not in advice(mass_kg=10.0, bar_mass_kg=0.9)
    assert "counterweight bar" not in advice(mass_kg=9.8)
    assert "enter the mass of its heaviest piece" in whole
    piece = advice(mass_kg=14.0, heaviest_piece_kg=9.2, bar_mass_kg=0.9)
    assert "is in that piece and comes out" in piece
    assert "enter the mass of its heaviest piece" not in piece


def test_a_mount_that_is_planned_to_go_whole_is_told_to_go_in_its_pieces() -> None:
    def whole(heaviest_kg: float) -> Finding:
        of = rig(gear=[mount(mass_kg=14.0, heaviest_piece_kg=heaviest_kg)])
        lift = Lift(name="mount", parts=(of.gear[0].item.id,))
        return _lifting(Rig("Whole", of.train, of.gear, load=LoadPlan(lift_limit_kg=9.0, lifts=(lift,))))[0]

    assert whole(8.5).code == "lifting.over_limit"
    assert "Lift Stone Mount in its pieces, of which the heaviest is 8.50 kg." in _advice(whole(8.5))
    assert "in its pieces" not in _advice(whole(9.2))


def test_several_alike_in_one_lift_are_told_to_go_one_by_one() -> None:
    def two_of(mass_kg: float) -> Finding:
        of = rig(gear=[(Counterweight(model="Iron", mass_kg=mm(mass_kg)), 2)])
        lift = Lift(name="both", parts=(of.gear[0].item.id,) * 2)
        return _lifting(Rig("Iron", of.train, of.gear, load=LoadPlan(lift_limit_kg=9.0, lifts=(lift,))))[0]

    assert two_of(5.0).code == "lifting.over_limit"
    assert "Lift Iron one at a time" in _advice(two_of(5.0))
    assert "one at a time" not in _advice(two_of(9.5))


def test_a_load_that_is_not_all_known_is_told_to_leave_at_least_so_much() -> None:
    of = rig(tube(mass_kg=8.9), camera(), wheel(20.0, mass_kg=None), load=NINE)
    assert "At least 8.90 kg is left" in _advice(_lifting(of)[0])


@pytest.mark.parametrize("place", ["ground", "bar", None])
def test_an_accessory_that_does_not_ride_is_a_load_of_its_own(place: Any) -> None:
    chest = Accessory(model="Chest", mass_kg=mm(25.0), place=place)
    found = findings("lifting", tube(), gear=[(chest, 2)], load=NINE)
    assert [one.code for one in found] == ["lifting.over_limit", "lifting.above_constant"]
    assert write_phrase(found[0].phrase, "metric").startswith(
        "Above your own limit of 9 kg: Chest (25.0 kg)."
    )


def test_several_things_that_come_off_are_carried_each_by_itself_where_together_they_are_too_heavy() -> None:
    # 8.5 + 5 + 5.5 = 19 kg against 9: 10.5 kg come off, and are no load for one either.
    scope = GuideScope(model="Scope", mass_kg=mm(5.5))
    over = findings("lifting", tube(mass_kg=8.5), camera(mass_kg=5.0), gear=[scope], load=NINE)
    assert "carry each by itself" in _advice(over[0])
    light = GuideScope(model="Scope", mass_kg=mm(1.0))
    one = findings("lifting", tube(mass_kg=8.5), camera(mass_kg=0.4), gear=[light], load=NINE)
    assert "carry that by itself" in _advice(one[0])


def test_a_lift_that_the_equation_stops_is_not_called_sound_by_the_own_limit() -> None:
    bare = rig(tube(mass_kg=5.0))
    number = bare.train.places[0].item.id

    def lifted(**given: float) -> list[Finding]:
        usual = {"from_height_mm": 700.0, "to_height_mm": 1000.0, "reach_mm": 300.0} | given
        lift = Lift.model_validate({"name": "tube", "parts": (number,), "coupling": "good", **usual})
        return _lifting(replace(bare, load=LoadPlan(lift_limit_kg=9.0, lifts=(lift,))))

    assert [one.code for one in lifted()] == ["lifting.sound", "lifting.index_sound"]
    assert [one.code for one in lifted(reach_mm=700.0)] == ["lifting.outside"]
    (often,) = lifted(per_minute=20.0)
    assert "Lift it less often" in _advice(often)


def _in_one_lift(of: Rig, limit_kg: float, *left_out: str) -> str:
    """What is advised where all of a rig but some parts goes in one lift."""
    items = [*(place.item for place in of.train), *(gear.item for gear in of.gear)]
    parts = tuple(one.id for one in items if one.name not in left_out)
    plan = LoadPlan(lift_limit_kg=limit_kg, lifts=(Lift(name="all of it", parts=parts),))
    found = _lifting(replace(of, load=plan))
    return _advice(next(one for one in found if one.code == "lifting.over_limit"))


def test_a_whole_rig_is_taken_apart_from_the_top_the_tube_with_its_camera_as_one() -> None:
    # 6.0 + 0.6 on a mount of 8 kg on a tripod of 5 kg: 19.6 kg against 14 kg. The camera alone never comes
    # off, nor the tube alone with its camera left hanging: 6.6 kg go as one, and 13 kg are left.
    rings = PlateAndRings(model="Rings", mass_kg=mm(1.2))
    stand = Support(model="Tripod", mass_kg=mm(5.0))
    of = rig(tube(mass_kg=4.8), camera(), gear=[rings, mount(mass_kg=8.0), stand])
    advice = _in_one_lift(of, 14.0)
    assert "take off Halden Tube with all that rides on it (6.60 kg) and carry that by itself" in advice
    assert "13.00 kg is left" in advice
    # Against 9 kg the mount comes off next, and the tripod goes by itself.
    advice = _in_one_lift(of, 9.0)
    assert "take off Halden Tube with all that rides on it and Stone Mount (14.60 kg)" in advice
    assert "carry each by itself. 5.00 kg is left" in advice


def test_weights_come_off_after_the_tube_and_one_by_one() -> None:
    iron = Counterweight(model="Iron", mass_kg=mm(5.0))
    of = rig(tube(mass_kg=5.0), camera(), gear=[mount(mass_kg=8.0), (iron, 2)])
    parts = tuple(number for gear in of.gear for number in [gear.item.id] * gear.quantity)
    tubes = tuple(place.item.id for place in of.train)

    def advice(chosen: tuple[int, ...]) -> str:
        plan = LoadPlan(lift_limit_kg=9.0, lifts=(Lift(name="all of it", parts=chosen),))
        return _advice(_lifting(replace(of, load=plan))[0])

    assert "take off Halden Tube with all that rides on it and Iron (2)" in advice((*tubes, *parts))
    assert "take off Iron (2) (10.00 kg) and carry each by itself" in advice(parts)


def test_a_tube_never_comes_out_of_its_rings_while_a_camera_hangs_on_it() -> None:
    # The rings are heavier than the tube: 3.0 + 0.6 + 7.0 = 10.6 kg against 10.1; the camera comes off.
    rings = PlateAndRings(model="Rings", mass_kg=mm(7.0))
    advice = _advice(
        findings("lifting", tube(mass_kg=3.0), camera(), gear=[rings], load=LoadPlan(lift_limit_kg=10.1))[0]
    )
    assert "take off Quill Cam (0.60 kg)" in advice
    assert "take off Halden Tube" not in advice
    assert "take off Rings" not in advice


def test_a_guide_scope_comes_off_with_its_camera_as_one() -> None:
    scope = GuideScope(model="Scope", mass_kg=mm(1.4))
    found = finding("lifting", tube(mass_kg=7.9), gear=[scope, guide_camera(mass_kg=0.2)], load=NINE)
    assert "take off Scope with its camera (1.60 kg)" in _advice(found)


def test_one_load_is_not_a_stop_by_the_own_limit_and_sound_by_the_equation_at_once() -> None:
    bare = rig(tube(mass_kg=9.5))
    usual = {"from_height_mm": 700.0, "to_height_mm": 1000.0, "reach_mm": 250.0, "coupling": "good"}
    lift = Lift.model_validate({"name": "tube", "parts": (bare.train.places[0].item.id,), **usual})
    found = _lifting(replace(bare, load=LoadPlan(lift_limit_kg=9.0, lifts=(lift,))))
    assert [one.code for one in found] == ["lifting.over_limit"]
    easier = _lifting(replace(bare, load=LoadPlan(lift_limit_kg=10.0, lifts=(lift,))))
    assert [one.code for one in easier] == ["lifting.sound", "lifting.index_sound"]


def test_a_tube_that_is_too_heavy_in_its_rings_is_lifted_by_two_and_not_taken_out_of_them() -> None:
    rings = PlateAndRings(model="Rings", mass_kg=mm(3.0))
    advice = _advice(findings("lifting", tube(mass_kg=7.0), camera(), gear=[rings], load=NINE)[0])
    assert "Halden Tube in its rings alone is 10.00 kg" in advice
    assert "with two people" in advice
    assert "several loads" not in advice
