"""What each change makes of a train, and which changes are refused, in words.

Source: none needed: the rules are the bench's own. A tube stands first and a camera last, always.
"""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from server.domain.connections import read_connection
from server.domain.errors import RefusedError
from server.domain.limits import MOST_PLACES
from server.domain.load_plan import LoadPlan
from server.domain.parts import Accessory, CataloguedPart, Part
from server.domain.rig import GearPlan, PlacePlan, RigPlan, Rules
from server.flow.assemble_train import (
    CHANGE,
    AddPart,
    Change,
    FlipPart,
    MovePart,
    PutFilter,
    RemovePart,
    ReplaceStack,
    SetGear,
    SetLength,
    SetLoad,
    SetRules,
    StackUse,
    SwapPart,
    TakeFilter,
    apply_change,
    new_parts_of,
)
from server.rim.phrasebook.tell import write_words
from server.store.clauses import read_done, write_done
from tests.domain.rigs import camera, corrector, glass, mm, mount, ring, tube, wheel

END = read_connection
CATALOGUE: dict[int, Part] = {
    1: tube(),
    2: tube(model="Other tube"),
    3: corrector(),
    4: ring(10.0),
    5: ring(mm(20.0), longest_mm=30.0, model="Turning"),
    6: wheel(20.0, positions=2),
    7: wheel(20.0, positions=1, model="Drawer"),
    8: glass(2.0, model="Red"),
    9: glass(2.0, model="Green"),
    10: glass(2.0, model="Blue"),
    11: glass(
        2.0,
        model="Threaded",
        format="mounted_2",
        sky_side=END("M48x0.75 male"),
        camera_side=END("M48x0.75 female"),
    ),
    12: camera(),
    13: camera(model="Other cam"),
    14: mount(),
    15: mount(model="Other mount"),
    16: Accessory(model="Box"),
    17: ring(
        10.0,
        model="Back to front",
        sky_side=END("M48x0.75 female"),
        camera_side=END("M48x0.75 male"),
        reversible=True,
    ),
    18: ring(10.0, model="Either way", reversible=True),
    19: glass(None, model="Noon", format="other", solar=True),
}
PARTS = {number: CataloguedPart(number, 1, "Ana", 1, part) for number, part in CATALOGUE.items()}
FULL = (1, 3, 4, 6, 12)


def plan(*part_ids: int, **more) -> RigPlan:
    return RigPlan(places=tuple(PlacePlan(key=k, part_id=i) for k, i in enumerate(part_ids, 1)), **more)


def after(start: RigPlan, *changes: Change) -> RigPlan:
    for change in changes:
        start, _ = apply_change(start, change, PARTS)
    return start


def ids(of: RigPlan) -> tuple[int, ...]:
    return tuple(p.part_id for p in of.places)


def words(start: RigPlan, change: Change) -> str:
    return write_words(apply_change(start, change, PARTS)[1])


def refusal(start: RigPlan, change: Change) -> str:
    with pytest.raises(RefusedError) as caught:
        apply_change(start, change, PARTS)
    return write_words(caught.value.message)


# -- Adding, taking out, moving


def test_a_tube_goes_first_a_camera_last_and_all_else_between_wherever_it_is_put():
    assert ids(after(plan(), AddPart(part_id=12), AddPart(part_id=1))) == (1, 12)
    assert ids(after(plan(1, 12), AddPart(part_id=4))) == (1, 4, 12)
    assert ids(after(plan(1, 12), AddPart(part_id=4, at=0))) == (1, 4, 12)
    assert ids(after(plan(1, 12), AddPart(part_id=4, at=40))) == (1, 4, 12)
    assert ids(after(plan(1, 3, 6, 12), AddPart(part_id=4, at=2))) == (1, 3, 4, 6, 12)
    assert ids(after(plan(12), AddPart(part_id=1, at=40))) == (1, 12)


def test_a_place_keeps_its_key_and_a_new_one_gets_a_key_of_its_own():
    changed = after(plan(1, 4, 12), RemovePart(place=2), AddPart(part_id=5), MovePart(place=4, to=1))
    assert [(p.key, p.part_id) for p in changed.places] == [(1, 1), (4, 5), (3, 12)]


def test_a_part_moves_to_the_index_it_is_given_in_the_new_order():
    assert ids(after(plan(*FULL), MovePart(place=3, to=3))) == (1, 3, 6, 4, 12)
    assert ids(after(plan(*FULL), MovePart(place=4, to=1))) == (1, 6, 3, 4, 12)
    assert ids(after(plan(*FULL), MovePart(place=3, to=0))) == (1, 4, 3, 6, 12)
    assert ids(after(plan(*FULL), MovePart(place=3, to=40))) == (1, 3, 6, 4, 12)


@pytest.mark.parametrize(("place", "where"), [(1, "first"), (5, "last")])
def test_tube_and_camera_stay_where_they_are(place, where):
    assert f"stands {where} in every train" in refusal(plan(*FULL), MovePart(place=place, to=2))


def test_a_second_tube_or_camera_is_refused_with_the_way_out():
    for new, old in ((2, "Halden Tube"), (13, "Quill Cam")):
        said = refusal(plan(*FULL), AddPart(part_id=new))
        assert old in said
        assert "Swap it" in said


def test_what_light_does_not_pass_goes_beside_the_train():
    assert "Beside the train" in refusal(plan(*FULL), AddPart(part_id=16))
    assert "belongs in the train itself" in refusal(plan(), SetGear(part_id=4, quantity=1))


def test_a_solar_filter_over_the_tube_goes_beside_the_train_and_nowhere_behind_the_objective():
    beside = after(plan(*FULL), SetGear(part_id=19, quantity=1))
    assert beside.gear == (GearPlan(part_id=19),)
    assert ids(beside) == ids(plan(*FULL))
    for change in (
        AddPart(part_id=19),
        SwapPart(place=3, part_id=19),
        ReplaceStack(sky=1, camera=len(FULL), uses=(StackUse(part_id=19),)),
    ):
        assert "goes over the front of the tube" in refusal(plan(*FULL), change)
    drawer = plan(1, 7, 12)
    assert "goes over the front of the tube" in refusal(drawer, PutFilter(place=2, part_id=19))
    assert "belongs in the train itself" in refusal(plan(), SetGear(part_id=8, quantity=1))


def test_an_unmounted_filter_needs_a_wheel_and_a_threaded_one_does_not():
    assert "no cell of its own" in refusal(plan(*FULL), AddPart(part_id=8))
    assert "no cell of its own" in refusal(plan(*FULL), SwapPart(place=3, part_id=8))
    assert ids(after(plan(1, 12), AddPart(part_id=11))) == (1, 11, 12)


def test_a_train_has_an_end():
    long = plan(1, *([4] * (MOST_PLACES - 2)), 12)
    assert str(MOST_PLACES) in refusal(long, AddPart(part_id=4))


def test_a_place_that_is_gone_is_said_to_be_gone():
    for change in (
        RemovePart(place=9),
        MovePart(place=9, to=1),
        FlipPart(place=9),
        SwapPart(place=9, part_id=4),
    ):
        assert "no longer in the train" in refusal(plan(*FULL), change)


# -- Turning round


def test_a_reversible_part_is_turned_and_turned_back():
    start = plan(1, 18, 12)
    assert [p.flipped for p in after(start, FlipPart(place=2)).places] == [False, True, False]
    assert after(start, FlipPart(place=2), FlipPart(place=2)) == start


def test_a_part_that_is_not_marked_reversible_stays_as_it_is():
    assert "not marked as one that can be turned round" in refusal(plan(1, 4, 12), FlipPart(place=2))
    assert "not marked" in refusal(plan(1, 4, 12), FlipPart(place=1))


def test_a_reversible_part_goes_in_the_way_round_that_mates():
    changed, said = apply_change(plan(1, 12), AddPart(part_id=17), PARTS)
    assert [p.flipped for p in changed.places] == [False, True, False]
    assert write_words(said) == "added Brask Back to front, turned round"
    assert not after(plan(1, 12), AddPart(part_id=18)).places[1].flipped
    assert after(plan(1, 4, 12), SwapPart(place=2, part_id=17)).places[1].flipped


# -- Swapping


def test_a_swap_keeps_the_place_and_forgets_how_the_old_part_was_set():
    start = after(plan(1, 5, 12), SetLength(place=2, length_mm=25.0))
    swapped = after(start, SwapPart(place=2, part_id=4))
    assert swapped.places[1] == PlacePlan(key=2, part_id=4)


def test_a_part_swapped_for_itself_stays_as_it_is_set():
    start = after(plan(1, 5, 12), SetLength(place=2, length_mm=25.0))
    assert after(start, SwapPart(place=2, part_id=5)) == start


def test_a_tube_is_swapped_for_a_tube_and_nothing_else():
    assert ids(after(plan(*FULL), SwapPart(place=1, part_id=2)))[0] == 2
    assert "only be swapped for another optical tube" in refusal(plan(*FULL), SwapPart(place=1, part_id=4))
    assert "can only be swapped" in refusal(plan(*FULL), SwapPart(place=3, part_id=13))
    assert "not a part of the light path" in refusal(plan(*FULL), SwapPart(place=3, part_id=14))


def test_filters_go_over_into_another_wheel_that_has_room_for_them():
    one = after(plan(*FULL), PutFilter(place=4, part_id=8))
    assert after(one, SwapPart(place=4, part_id=7)).places[3].inside == (8,)
    two = after(one, PutFilter(place=4, part_id=9))
    assert "has room for 1" in refusal(two, SwapPart(place=4, part_id=7))
    assert after(two, SwapPart(place=4, part_id=4)).places[3].inside == ()


# -- Lengths


@pytest.mark.parametrize("length", [20.0, 25.5, 30.0])
def test_an_adjustable_part_is_set_inside_its_range(length):
    assert after(plan(1, 5, 12), SetLength(place=2, length_mm=length)).places[1].set_length_mm == length


@pytest.mark.parametrize("length", [19.9, 30.1])
def test_a_length_outside_the_range_is_refused_with_the_range(length):
    said = refusal(plan(1, 5, 12), SetLength(place=2, length_mm=length))
    assert "from 20 mm to 30 mm" in said
    assert f"{length:g} mm" in said


def test_a_fixed_part_is_not_adjustable():
    assert "is not adjustable" in refusal(plan(1, 4, 12), SetLength(place=2, length_mm=10.0))


# -- Filters


def test_a_filter_put_in_comes_into_the_beam_and_one_that_is_there_comes_to_the_front():
    start = after(plan(*FULL), PutFilter(place=4, part_id=8), PutFilter(place=4, part_id=9))
    assert start.places[3].inside == (9, 8)
    assert after(start, PutFilter(place=4, part_id=8)).places[3].inside == (8, 9)
    assert after(start, TakeFilter(place=4, part_id=9)).places[3].inside == (8,)


def test_what_cannot_be_put_in_or_taken_out_is_refused():
    full = after(plan(*FULL), PutFilter(place=4, part_id=8), PutFilter(place=4, part_id=9))
    assert "2 positions and all are full" in refusal(full, PutFilter(place=4, part_id=10))
    assert "does not hold that filter" in refusal(full, TakeFilter(place=4, part_id=10))
    assert "holds no filters" in refusal(full, PutFilter(place=3, part_id=8))
    assert "is not a filter" in refusal(full, PutFilter(place=4, part_id=4))


# -- Gear and rules


def test_gear_is_counted_kept_in_order_and_taken_off():
    start = after(plan(), SetGear(part_id=14, quantity=1), SetGear(part_id=16, quantity=2))
    assert start.gear == (GearPlan(part_id=14), GearPlan(part_id=16, quantity=2))
    assert words(start, SetGear(part_id=16, quantity=5)) == "set Box to 5"
    assert words(start, SetGear(part_id=16)) == "set Box to 3"
    assert after(start, SetGear(part_id=16)).gear[1] == GearPlan(part_id=16, quantity=3)
    full = after(start, SetGear(part_id=16, quantity=99))
    assert "at most 99 pieces" in refusal(full, SetGear(part_id=16))
    assert words(start, SetGear(part_id=14, quantity=0)) == "took off Stone Mount"
    assert after(start, SetGear(part_id=14, quantity=1)).gear == start.gear
    assert after(start, SetGear(part_id=14, quantity=0)).gear == (GearPlan(part_id=16, quantity=2),)


def test_a_rig_stands_on_one_mount():
    start = after(plan(), SetGear(part_id=14, quantity=1))
    assert "stands on Stone Mount already" in refusal(start, SetGear(part_id=15, quantity=1))
    assert "one mount" in refusal(start, SetGear(part_id=14, quantity=2))


def test_rules_are_changed_and_nothing_else():
    changed = after(plan(*FULL), SetRules(rules=Rules(seeing_arcsec=2.0)))
    assert changed == plan(*FULL, rules=Rules(seeing_arcsec=2.0))


@pytest.mark.parametrize(
    "change",
    [
        {"verb": "explode"},
        {"verb": "move", "place": 1, "to": -1},
        {"verb": "set_length", "place": 1, "length_mm": 0},
        {"verb": "set_length", "place": 1, "length_mm": float("nan")},
        {"verb": "gear", "part_id": 1, "quantity": 100},
        {"verb": "rules", "rules": {"payload_share": 0}},
        {"verb": "add", "part_id": 1, "at": 41},
        {"verb": "load", "load": {"lift_limit_kg": 0}},
        {"verb": "load", "load": {"lifts": [{"name": "Tube", "parts": []}]}},
    ],
)
def test_a_change_that_is_none_is_not_read(change):
    with pytest.raises(ValidationError):
        CHANGE.validate_python(change)


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (AddPart(part_id=18, at=1), "added Brask Either way"),
        (RemovePart(place=3), "took out Brask Ring"),
        (MovePart(place=3, to=1), "moved Brask Ring behind Halden Tube"),
        (SwapPart(place=3, part_id=5), "swapped Brask Ring for Brask Turning"),
        (FlipPart(place=6), "turned Brask Either way round"),
        (SetLength(place=7, length_mm=22.5), "set Brask Turning to 22.5 mm"),
        (PutFilter(place=4, part_id=9), "put Sell Green into the beam"),
        (TakeFilter(place=4, part_id=8), "took Sell Red out of Brask Wheel"),
        (SetGear(part_id=16, quantity=1), "added Box"),
        (SetRules(rules=Rules(seeing_arcsec=2.0)), "changed the rules"),
        (SetLoad(load=LoadPlan(sun=True)), "changed the plan of the load"),
    ],
)
def test_every_change_says_for_undo_what_was_done(change, expected):
    start = plan(1, 3, 4, 6, 12, 18, 5)
    order = tuple(start.places[i] for i in (0, 1, 2, 3, 5, 6, 4))
    ready = after(start.model_copy(update={"places": order}), PutFilter(place=4, part_id=8))
    assert words(ready, change) == expected


def test_a_change_says_which_parts_must_be_looked_up_for_it():
    assert new_parts_of(AddPart(part_id=7)) == (7,)
    assert new_parts_of(SwapPart(place=1, part_id=7)) == (7,)
    assert new_parts_of(PutFilter(place=1, part_id=7)) == (7,)
    assert new_parts_of(SetGear(part_id=7, quantity=0)) == (7,)
    assert new_parts_of(TakeFilter(place=1, part_id=7)) == ()
    assert new_parts_of(RemovePart(place=7)) == ()


# -- Any sequence of changes

some_part = st.sampled_from(sorted(PARTS))
some_place = st.integers(1, 12)
changes = st.one_of(
    st.builds(AddPart, part_id=some_part, at=st.none() | st.integers(0, 12)),
    st.builds(RemovePart, place=some_place),
    st.builds(MovePart, place=some_place, to=st.integers(0, 12)),
    st.builds(SwapPart, place=some_place, part_id=some_part),
    st.builds(FlipPart, place=some_place),
    st.builds(SetLength, place=some_place, length_mm=st.floats(1, 60)),
    st.builds(PutFilter, place=some_place, part_id=some_part),
    st.builds(TakeFilter, place=some_place, part_id=some_part),
    st.builds(SetGear, part_id=some_part, quantity=st.integers(0, 3)),
)


@settings(max_examples=200, deadline=None)
@given(st.lists(changes, max_size=40))
def test_after_any_changes_the_tube_is_first_the_camera_last_and_the_plan_makes_sense(wanted):
    now = plan()
    refusals: list[str] = []
    for change in wanted:
        before = now
        try:
            now, said = apply_change(now, change, PARTS)
        except RefusedError as refused:
            refusals.append(write_words(refused.message, "imperial"))
            assert now == before
            continue
        assert write_words(said)
        assert not re.search(r"\d mm", write_words(said, "imperial"))
        assert read_done(write_done(said)) == said
        kinds = [PARTS[p.part_id].kind for p in now.places]
        assert "optical_tube" not in kinds[1:]
        assert "camera" not in kinds[:-1]
        assert len({p.key for p in now.places}) == len(now.places)
        for place in now.places:
            part = PARTS[place.part_id].part
            if place.inside:
                assert part.kind == "filter_wheel"
                assert len(set(place.inside)) == len(place.inside) <= (getattr(part, "positions", 0) or 99)
            if place.set_length_mm is not None:
                assert 20.0 <= place.set_length_mm <= 30.0
            assert not place.flipped or getattr(part, "reversible", False)
        assert sum(PARTS[g.part_id].kind == "mount" for g in now.gear) <= 1
        assert all(g.quantity > 0 for g in now.gear)
        assert RigPlan.model_validate_json(now.model_dump_json()) == now
    assert all(said.endswith(".") for said in refusals)
