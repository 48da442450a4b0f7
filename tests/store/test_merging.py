"""A part's history, and one part in the place of two."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from server.domain.errors import NotFoundError, RefusedError, StaleVersionError
from server.domain.load_plan import CaseUse, Feed, Lift, LoadPlan, Spot
from server.domain.observer import Holding
from server.domain.part_history import folded
from server.domain.rig import GearPlan, LeftOpen, PlacePlan, RigPlan
from server.domain.said import Named, said
from server.domain.scout.needs import Needs
from server.flow.accounts import Club
from server.flow.doubles import Doubles, Merged
from server.flow.keep_parts import change_part, remove_part
from server.flow.save_entry import bring_back, merged_plan
from server.store import open_stores
from server.store.accounts import HostedStore, HostedStores
from tests.store.conftest import CAMERA, TUBE, document_of, plan_of, ring, ticking_clock

NOW = datetime(2026, 3, 20, 22, 0, tzinfo=UTC)


@pytest.fixture
def hosted(place: Path | str) -> Iterator[HostedStores]:
    stores = HostedStores(open_stores(place, ticking_clock()))
    yield stores
    stores.close()


def member(store: HostedStore, name: str, role: str = "member") -> int:
    number = store.add_observer(name, "metric").id
    store.add_account(number, name, role, "hash", NOW)  # type: ignore[arg-type]
    return number


def test_a_part_tells_who_changed_which_field_from_what_to_what(hosted: HostedStores):
    with hosted.writing() as store:
        ann, sue = member(store, "Ann"), member(store, "Sue", "steward")
        part = store.add_part(ring("Ring", length_mm={"nominal": 5.0}), ann)
        store.set_holding(sue, part.id, Holding(owned=1))
        store.change_part(part.id, ring("Ring", length_mm={"nominal": 5.5}), ann)
        store.change_part(part.id, ring("Ring", length_mm={"nominal": 5.5}), ann)
        store.change_part(part.id, ring("Ring", length_mm={"nominal": 5.5}, note="Measured"), sue)
        store.remove_person(ann)
    with hosted.reading() as store:
        newest, oldest = store.part_changes(part.id, 10)
        assert [(one.by, [field.field for field in one.fields]) for one in (newest, oldest)] == [
            ("Sue", ["note"]),
            ("", ["length_mm"]),
        ]
        (field,) = oldest.fields
        assert (field.before.nominal, field.after.nominal) == (5.0, 5.5)  # type: ignore[attr-defined]
        assert [one.by for one in store.part_changes(part.id, 1)] == ["Sue"]
    with hosted.writing() as store:
        store.remove_part(part.id)
        assert store.part_changes(part.id, 10) == ()


def test_what_two_had_of_the_double_and_of_the_part_adds_up(hosted: HostedStores):
    with hosted.writing() as store:
        ann, bob, cyd = (member(store, name) for name in ("Ann", "Bob", "Cyd"))
        gone, kept = (store.part(one) for one in store.add_parts([ring("Ring 5"), ring("Ring-5")], ann))
        store.set_holding(ann, gone.id, Holding(owned=2, wished=1))
        store.set_holding(ann, kept.id, Holding(owned=3, considered=1))
        store.set_holding(bob, gone.id, Holding(owned=998, wished=4))
        store.set_holding(bob, kept.id, Holding(owned=500))
        store.set_holding(cyd, kept.id, Holding(wished=1))
        assert (store.uses_of(gone.id).shelves, store.uses_of(kept.id).shelves) == (2, 3)
        store.merge_part(gone, kept, ann)
    with hosted.reading() as store:
        assert store.shelf(ann) == {kept.id: Holding(5, 1, 1)}
        assert store.shelf(bob) == {kept.id: Holding(999, 4, 0)}
        assert store.shelf(cyd) == {kept.id: Holding(0, 1, 0)}


def test_a_rig_with_both_undoes_and_redoes_through_every_state(hosted: HostedStores):
    with hosted.writing() as store:
        ann = member(store, "Ann")
        tube, camera, gone, kept = store.add_parts([TUBE, CAMERA, ring("Ring 5"), ring("Ring-5")], ann)
        rig = store.add_rig(ann, "Garden", plan_of(tube, gone, camera))
        load = LoadPlan(cases=(CaseUse(part_id=gone, case="Blue"),))
        plans = [
            plan_of(tube, gone, kept, camera),
            plan_of(tube, kept, camera),
            RigPlan(places=plan_of(tube, camera).places, load=load),
        ]
        added = said("did.added", part=Named(gone, "Halden Ring 5"))
        for version, plan in enumerate(plans, 1):
            store.change_rig(rig.id, version, plan, added)
        entry = store.add_entry(rig.id, document_of(store, rig.id))
        assert store.uses_of(gone).rigs == 1
        store.merge_part(store.part(gone), store.part(kept), ann)
    wanted = [
        plan_of(tube, kept, camera),
        plan_of(tube, kept, kept, camera),
        plan_of(tube, kept, camera),
        plan_of(tube, camera),
    ]
    with hosted.writing() as store:
        at = store.rig(rig.id)
        # What is told of the load of a part that has left the rig waits for the one that stays.
        assert at.plan.load.cases == (CaseUse(part_id=kept, case="Blue"),)
        assert at.undo_words == said("did.added", part=Named(kept, "Halden Ring 5"))
        for step, plans in ((-1, wanted[2::-1]), (1, wanted[1:])):
            for plan in plans:
                at = store.step_rig(rig.id, at.version, step)  # type: ignore[arg-type]
                assert at.plan.places == plan.places
                assert store.parts(at.plan.part_ids)
        # The database itself keeps the part from being lost to any of these states.
        with pytest.raises(RefusedError):
            store.remove_part(kept)
        assert store.entry(entry.id).document.plan.load.cases == load.cases


def test_an_entry_stays_as_it_was_and_brings_back_the_part_that_stayed(hosted: HostedStores):
    with hosted.writing() as store:
        ann = member(store, "Ann")
        tube, camera, gone, kept = store.add_parts([TUBE, CAMERA, ring("Ring 5"), ring("Ring-5")], ann)
        plan = RigPlan(
            places=plan_of(tube, gone, camera).places,
            gear=(GearPlan(part_id=kept), GearPlan(part_id=gone, quantity=2)),
        )
        rig = store.add_rig(ann, "Garden", plan)
        document = document_of(store, rig.id)
        entry = store.add_entry(rig.id, document)
        store.change_rig(rig.id, 1, plan_of(tube, camera), "")
        store.merge_part(store.part(gone), store.part(kept), ann)
    with hosted.writing() as store:
        assert store.entry(entry.id).document == document
        assert store.known_parts([gone])[gone].id == kept
        parts = len(list(store.part_names()))
        back = bring_back(store, store.observer(ann), entry.id)
        assert back.plan.places == plan_of(tube, kept, camera).places
        assert back.plan.gear == (GearPlan(part_id=kept, quantity=3),)
        assert len(list(store.part_names())) == parts


def test_kept_needs_name_the_part_that_stayed(hosted: HostedStores):
    with hosted.writing() as store:
        ann = member(store, "Ann")
        one, gone, kept = store.add_parts([CAMERA, CAMERA, CAMERA], ann)
        store.keep_needs(ann, "Mine", Needs(cameras=(one, gone, kept)))
        store.keep_needs(ann, "Other", Needs(cameras=(one,)))
        store.merge_part(store.part(gone), store.part(kept), ann)
        assert [told.needs.cameras for told in store.kept_needs(ann)] == [(one, kept), (one,)]


def test_a_number_leads_through_one_merger_after_another_with_all_that_was_changed(hosted: HostedStores):
    with hosted.writing() as store:
        ann = member(store, "Ann")
        first, second, third = store.add_parts([ring("A"), ring("B"), ring("C")], ann)
        store.change_part(first, ring("A", note="worn"), ann)
        store.merge_part(store.part(first), store.part(second), ann)
        store.merge_part(store.part(second), store.part(third), ann)
        assert [store.part(one).id for one in (first, second, third)] == [third] * 3
        told = [(one.act, one.of_id) for one in store.part_changes(third, 10)]
        assert told == [("merged", second), ("merged", first), ("changed", first)]
        store.remove_part(third)
        with pytest.raises(NotFoundError):
            store.part(first)


def test_what_is_said_of_the_part_that_stays_holds_where_both_are_told_of():
    load = LoadPlan(
        lifts=(Lift(name="all", parts=(1, 2, 3)),),
        spots=(Spot(part_id=1, along_mm=10), Spot(part_id=2, along_mm=20), Spot(part_id=3, along_mm=30)),
        feeds=(Feed(part_id=1, by="port", port_of=2), Feed(part_id=3, by="port", port_of=1)),
        cases=(CaseUse(part_id=1, case="Blue"),),
    )
    plan = RigPlan(
        places=(PlacePlan(key=4, part_id=3, inside=(1, 2)),),
        gear=(GearPlan(part_id=1, quantity=60), GearPlan(part_id=2, quantity=60)),
        load=load,
        left_open=(
            LeftOpen(part_id=1, field="mass_kg"),
            LeftOpen(part_id=2, field="mass_kg"),
            LeftOpen(part_id=1, field="price"),
        ),
    )
    made = merged_plan(plan, 1, 2)
    assert made.places == (PlacePlan(key=4, part_id=3, inside=(2, 2)),)
    assert made.gear == (GearPlan(part_id=2, quantity=99),)
    assert made.load.spots == load.spots[1:]
    assert made.load.lifts == (Lift(name="all", parts=(2, 2, 3)),)
    # Nothing is fed from itself.
    assert made.load.feeds == (Feed(part_id=3, by="port", port_of=2),)
    assert made.load.cases == (CaseUse(part_id=2, case="Blue"),)
    assert made.left_open == (LeftOpen(part_id=2, field="mass_kg"), LeftOpen(part_id=2, field="price"))


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Halden Ring-5", "HALDEN  ring 5"),
        ("Halden M48×0.75", "Halden M48x0.75"),
        ("Velm 5,5 mm", "Velm 5.5mm"),
        ("Velm Mk 2", "Velm MK2"),
    ],
)
def test_names_that_differ_in_how_they_are_written_are_taken_for_the_same(one: str, other: str):
    assert folded(one) == folded(other) != ""


@pytest.mark.parametrize(
    ("one", "other"), [("Ring 5.5", "Ring 55"), ("Ring 5 5", "Ring 55"), ("Ring 5", "Ring 6")]
)
def test_names_with_other_numbers_are_not(one: str, other: str):
    assert folded(one) != folded(other)


def test_a_steward_merges_likely_doubles_and_the_log_says_so(hosted: HostedStores):
    club, doubles = Club(hosted), Doubles(hosted)
    with hosted.writing() as store:
        ann, sue = member(store, "Ann"), member(store, "Sue", "steward")
        parts = [
            ring("Ring 5", "M48x0.75 male", "M48x0.75 female"),
            ring("RING-5", "M48x0.75 male", "M54x0.75 female"),
            ring("Ring 6"),
            CAMERA,
        ]
        one, other, third, camera = store.add_parts(parts, ann)
    stewards = club.who(club.begun(sue, "signed in", ""))
    members = club.who(club.begun(ann, "signed in", ""))
    assert stewards is not None
    assert members is not None
    (group,) = doubles.likely(stewards)
    assert [item.id for item in group] == [one, other]
    pair = doubles.pair(stewards, one, other)
    assert [change.field for change in pair.joints] == ["camera_side"]
    for asked, words in (
        (Merged(one, 1, camera, 1), "different kinds"),
        (Merged(one, 1, one, 1), "one and the same"),
        (Merged(one, 1, other, 1), "Their connections differ"),
    ):
        with pytest.raises(RefusedError, match=words):
            doubles.merge(stewards, asked)
    with pytest.raises(StaleVersionError):
        doubles.merge(stewards, Merged(one, 2, other, 1, joints_seen=True))
    with pytest.raises(NotFoundError):
        doubles.merge(members, Merged(one, 1, third, 1))
    assert doubles.merge(stewards, Merged(one, 1, other, 1, joints_seen=True)).id == other
    line = club.log(stewards)[0]
    assert (line.by, line.about) == ("Sue", "Ann")
    assert line.what == f"merged the part Halden Ring 5 (number {one}) into Halden RING-5 (number {other})"


def test_what_was_loaded_before_a_merger_does_nothing_to_the_part_that_stayed(hosted: HostedStores):
    doubles, club = Doubles(hosted), Club(hosted)
    with hosted.writing() as store:
        ann, sue = member(store, "Ann"), member(store, "Sue", "steward")
        gone, kept, third = store.add_parts([ring("Ring 5"), ring("RING-5"), ring("Ring five")], ann)
        observer = store.observer(ann)
    steward = club.who(club.begun(sue, "signed in", ""))
    assert steward is not None
    doubles.merge(steward, Merged(gone, 1, kept, 1))
    with pytest.raises(RefusedError, match="merged into another"), hosted.writing() as store:
        remove_part(store, observer, gone)
    with pytest.raises(RefusedError, match="merged into another"), hosted.writing() as store:
        change_part(store, observer, gone, 1, ring("Ring 5", note="Mine"), correcting=False)
    with pytest.raises(RefusedError, match="merged into another"):
        doubles.merge(steward, Merged(gone, 1, third, 1))
    with hosted.reading() as store:
        assert store.part(kept).part == ring("RING-5")
        assert store.part(third).part == ring("Ring five")
