"""What a rig's owner says of the load: optional, kept with the rig, told where it changed."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime

from server.domain.changes import compare_documents
from server.domain.entry import EntryDocument
from server.domain.load_plan import LOAD_WORDS, Cable, CaseUse, Feed, Lift, LoadPlan, Spot
from server.domain.rig import RigPlan
from server.flow.save_entry import renumbered

FULL = LoadPlan(
    balance_mm=310.0,
    latitude_deg=48.2,
    longitude_deg=16.4,
    night=date(2026, 11, 26),
    lifts=(Lift(name="Tube", parts=(1, 2)), Lift(name="Weights", parts=(3, 3))),
    cables=(Cable(part_id=4, length_mm=2000.0, gauge_awg=18),),
    feeds=(Feed(part_id=4, by="port", port_of=3), Feed(part_id=3, by="port", port_of=2)),
    spots=(Spot(part_id=5, along_mm=120.0),),
    cases=(CaseUse(part_id=1, case="Grey case"),),
)


def _entry(plan: RigPlan) -> EntryDocument:
    return EntryDocument(
        saved_at=datetime(2026, 5, 3, tzinfo=UTC),
        observer="Ana",
        rig="Garden",
        title="Load",
        plan=plan,
        parts=(),
        findings=(),
    )


def test_a_plan_written_before_there_was_a_load_reads_as_before() -> None:
    assert RigPlan.model_validate_json('{"schema_version": 1, "places": []}').load == LoadPlan()


def test_a_plan_comes_back_as_it_was_written() -> None:
    plan = RigPlan(load=FULL)
    assert RigPlan.model_validate(json.loads(plan.model_dump_json())) == plan


def test_a_plan_taken_to_another_catalogue_names_the_parts_by_their_new_numbers() -> None:
    moved = renumbered(RigPlan(load=FULL), {1: 11, 3: 13, 4: 14}).load
    assert [lift.parts for lift in moved.lifts] == [(11,), (13, 13)]
    assert [cable.part_id for cable in moved.cables] == [14]
    assert moved.feeds == (Feed(part_id=14, by="port", port_of=13),), "the port of a part that is left out"
    assert moved.spots == ()
    assert [use.part_id for use in moved.cases] == [11]
    assert moved.balance_mm == 310.0


def test_a_lift_of_nothing_that_is_left_goes_with_its_parts() -> None:
    assert renumbered(RigPlan(load=FULL), {1: 11}).load.lifts == (Lift(name="Tube", parts=(11,)),)


def test_every_line_of_the_plan_has_words_for_the_day_it_changes() -> None:
    assert LOAD_WORDS.keys() == LoadPlan.model_fields.keys()
    changed = compare_documents(
        _entry(RigPlan()), _entry(RigPlan(load=LoadPlan(lift_limit_kg=9.0, sun=True)))
    )
    assert changed.load == ("the lifter's own limit", "whether the Sun is the target")
