"""Rigs, their versions and their undo; the logbook and its links."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from sqlalchemy.exc import IntegrityError, OperationalError, ProgrammingError

from server.domain.errors import NotFoundError, RefusedError, StaleVersionError
from server.domain.observer import Observer
from server.domain.rig import GearPlan, PlacePlan, RigPlan
from server.flow.protocols import EntryName, StoredRig
from server.store import SqlStore, Stores
from server.store.rigs import STATES_KEPT
from tests.store.conftest import CAMERA, TUBE, document_of, plan_of, ring

LATER = datetime(2026, 4, 1, 12, 0, 0, tzinfo=UTC)


@pytest.fixture
def part_ids(stores: Stores, observer: Observer) -> list[int]:
    with stores.writing() as store:
        return store.add_parts([TUBE, ring("R"), CAMERA], observer.id)


@pytest.fixture
def rig(stores: Stores, observer: Observer, part_ids: list[int]) -> StoredRig:
    with stores.writing() as store:
        return store.add_rig(observer.id, "North", plan_of(part_ids[0]))


def change(stores: Stores, rig: StoredRig, plan: RigPlan, words: str) -> StoredRig:
    with stores.writing() as store:
        return store.change_rig(rig.id, rig.version, plan, words)


def step(stores: Stores, rig: StoredRig, way: int) -> StoredRig:
    with stores.writing() as store:
        return store.step_rig(rig.id, rig.version, way)  # type: ignore[arg-type]


def states_of(stores: Stores, rig: StoredRig) -> list[int]:
    asked = f"SELECT number FROM rig_state WHERE rig_id = {rig.id} ORDER BY number"
    with stores.reading() as store:
        return list(store._connection.exec_driver_sql(asked).scalars())


def test_undo_and_redo_step_through_the_states_and_say_what_they_would_do(
    stores: Stores, rig: StoredRig, part_ids: list[int]
):
    assert (rig.version, rig.undo_words, rig.redo_words) == (1, "", "")
    two = change(stores, rig, plan_of(*part_ids[:2]), "added R")
    three = change(stores, two, plan_of(*part_ids), "added Auge")
    assert (three.version, three.undo_words, three.redo_words) == (3, "added Auge", "")
    back = step(stores, three, -1)
    assert (back.version, back.plan, back.undo_words, back.redo_words) == (
        4,
        two.plan,
        "added R",
        "added Auge",
    )
    first = step(stores, back, -1)
    assert (first.plan, first.undo_words, first.redo_words) == (rig.plan, "", "added R")
    again = step(stores, first, 1)
    assert (again.version, again.plan) == (6, two.plan)


def test_a_change_after_undo_forgets_what_could_be_redone(
    stores: Stores, rig: StoredRig, part_ids: list[int]
):
    two = change(stores, rig, plan_of(*part_ids[:2]), "added R")
    back = step(stores, two, -1)
    other = change(stores, back, plan_of(part_ids[0], part_ids[2]), "added Auge")
    assert (other.undo_words, other.redo_words) == ("added Auge", "")
    with stores.writing() as store:
        with pytest.raises(RefusedError, match="nothing to redo on “North”"):
            store.step_rig(rig.id, other.version, 1)
        store.remove_part(part_ids[1])
    assert states_of(stores, rig) == [1, 2]


def test_there_is_nothing_to_undo_at_the_beginning(stores: Stores, rig: StoredRig):
    with stores.writing() as store, pytest.raises(RefusedError, match="this is how it began"):
        store.step_rig(rig.id, 1, -1)


def test_only_so_many_states_are_kept(stores: Stores, rig: StoredRig, part_ids: list[int]):
    for number in range(STATES_KEPT + 5):
        rig = change(stores, rig, plan_of(*part_ids[: 1 + number % 2]), f"change {number}")
    assert len(states_of(stores, rig)) == STATES_KEPT
    for _ in range(STATES_KEPT - 1):
        rig = step(stores, rig, -1)
    assert rig.undo_words == ""
    with stores.writing() as store, pytest.raises(RefusedError, match=f"last {STATES_KEPT} states"):
        store.step_rig(rig.id, rig.version, -1)


@pytest.mark.parametrize(
    "change_it",
    [
        lambda store, rig_id: store.change_rig(rig_id, 1, plan_of(), "emptied"),
        lambda store, rig_id: store.rename_rig(rig_id, 1, "South"),
        lambda store, rig_id: store.step_rig(rig_id, 1, -1),
    ],
    ids=["change", "rename", "undo"],
)
def test_a_change_made_on_an_older_version_is_refused_with_what_was_changed(
    stores: Stores, rig: StoredRig, part_ids: list[int], change_it: Callable[[SqlStore, int], object]
):
    now = change(stores, rig, plan_of(*part_ids), "added two")
    with stores.writing() as store, pytest.raises(StaleVersionError, match="added two") as refused:
        change_it(store, rig.id)
    assert refused.value.current_version == 2
    with stores.reading() as store:
        assert store.rig(rig.id) == now


def test_a_plan_comes_back_exactly_and_its_pieces_are_counted(
    stores: Stores, rig: StoredRig, part_ids: list[int]
):
    place = PlacePlan(key=7, part_id=part_ids[0], flipped=True, inside=(part_ids[1],), set_length_mm=12.3)
    plan = RigPlan(places=(place,), gear=(GearPlan(part_id=part_ids[2], quantity=3),))
    change(stores, rig, plan, "all at once")
    with stores.reading() as store:
        assert store.rig(rig.id).plan == plan
        (line,) = store.rigs(rig.observer_id)
    assert (line.parts, line.entries, line.version) == (5, 0, 2)


def test_a_plan_that_names_a_missing_part_changes_nothing(stores: Stores, rig: StoredRig):
    with pytest.raises(NotFoundError, match="part number 99"), stores.writing() as store:
        store.change_rig(rig.id, 1, plan_of(99), "ghost")
    with stores.reading() as store:
        assert store.rig(rig.id) == rig


def test_a_rename_counts_as_a_change_and_lists_show_the_last_changed_first(stores: Stores, rig: StoredRig):
    with stores.writing() as store:
        store.add_rig(rig.observer_id, "Second", plan_of())
        assert [line.name for line in store.rigs(rig.observer_id)] == ["Second", "North"]
        assert store.rename_rig(rig.id, 1, "South").version == 2
        assert [line.name for line in store.rigs(rig.observer_id)] == ["South", "Second"]


def test_a_rig_without_entries_can_be_removed_and_frees_its_parts(
    stores: Stores, rig: StoredRig, part_ids: list[int]
):
    with stores.writing() as store:
        store.remove_rig(rig.id)
        store.remove_part(part_ids[0])
    assert states_of(stores, rig) == []


def test_an_error_in_a_unit_takes_back_all_of_it(stores: Stores, rig: StoredRig, part_ids: list[int]):
    with pytest.raises(ZeroDivisionError), stores.writing() as store:  # noqa: PT012 - the unit is what is tested
        store.change_rig(rig.id, 1, plan_of(*part_ids), "added two")
        store.add_observer("Bo", "metric")
        _ = 1 / 0
    with stores.reading() as store:
        assert store.rig(rig.id) == rig
        assert [one.name for one in store.observers()] == ["Ana"]


# -- The logbook


def test_entries_are_numbered_by_rig_and_come_newest_first(stores: Stores, rig: StoredRig):
    with stores.writing() as store:
        document = document_of(store, rig.id)
        first = store.add_entry(rig.id, document)
        second = store.add_entry(rig.id, document_of(store, rig.id, "Second light"))
        other = store.add_rig(rig.observer_id, "South", plan_of())
        elsewhere = store.add_entry(other.id, document_of(store, other.id))
    assert (first.number, second.number, elsewhere.number) == (1, 2, 1)
    with stores.reading() as store:
        assert store.entry(first.id).document == document
        assert store.entries(rig.observer_id) == (elsewhere, second, first)
        assert store.entries(rig.observer_id, rig.id) == (second, first)
        assert store.entries(99) == ()
        assert store.entries(rig.observer_id, limit=2) == (elsewhere, second)
        assert store.entries(rig.observer_id, limit=2, offset=2) == (first,)
        assert store.entries(rig.observer_id, rig.id, offset=1) == (first,)
        assert store.entries(rig.observer_id, limit=5, offset=3) == ()
        assert [store.entry_before(one) for one in (elsewhere, second, first)] == [None, first, None]


def test_entries_are_named_as_their_documents_name_them(stores: Stores, rig: StoredRig):
    with stores.writing() as store:
        first = store.add_entry(rig.id, document_of(store, rig.id, 'An "odd" title: {é}'))
        second = store.add_entry(rig.id, document_of(store, rig.id, "Second light"))
    with stores.reading() as store:
        assert store.entry_names(rig.observer_id) == tuple(
            EntryName(
                one.id, one.rig_id, one.number, one.document.rig, one.document.title, one.document.saved_at
            )
            for one in (second, first)
        )
        assert store.entry_names(99) == ()


def test_an_entry_is_not_changed_by_its_parts_and_keeps_its_rig(
    stores: Stores, rig: StoredRig, part_ids: list[int]
):
    with stores.writing() as store:
        saved = store.add_entry(rig.id, document_of(store, rig.id))
        store.change_part(part_ids[0], CAMERA, rig.observer_id)
        with pytest.raises(RefusedError, match="1 entry in the logbook"):
            store.remove_rig(rig.id)
    with stores.reading() as store:
        assert store.entry(saved.id).document.parts[0].part == TUBE


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entry SET document = '{}'",
        "UPDATE entry SET number = 7",
        "DELETE FROM entry",
        "TRUNCATE entry CASCADE",
        "INSERT INTO entry SELECT * FROM entry ON CONFLICT (id) DO UPDATE SET document = '{}'",
        "INSERT OR REPLACE INTO entry SELECT * FROM entry",
        "INSERT OR REPLACE INTO entry SELECT 55, rig_id, observer_id, number, created_at, '{}' FROM entry",
    ],
)
def test_the_database_itself_refuses_to_change_or_remove_an_entry(
    stores: Stores, rig: StoredRig, statement: str
):
    with stores.writing() as store:
        saved = store.add_entry(rig.id, document_of(store, rig.id))
    with pytest.raises((IntegrityError, ProgrammingError, OperationalError)) as refused:  # noqa: SIM117
        with stores.writing() as store:
            store._connection.exec_driver_sql(statement)
    # What only the other database has is refused as well.
    assert isinstance(refused.value, IntegrityError) == ("a saved entry never changes" in str(refused.value))
    with stores.reading() as store:
        assert store.entries(rig.observer_id) == (saved,)


def test_the_database_itself_takes_no_document_that_is_not_json(stores: Stores, rig: StoredRig):
    with stores.writing() as store, pytest.raises(IntegrityError, match="document_json"):
        store._connection.exec_driver_sql(
            f"INSERT INTO entry VALUES (1, {rig.id}, {rig.observer_id}, 1, '2026-01-01', 'not json')"
        )


def test_a_link_opens_its_entry_until_it_is_withdrawn(stores: Stores, rig: StoredRig):
    with stores.writing() as store:
        saved = store.add_entry(rig.id, document_of(store, rig.id))
        share = store.add_share(saved.id, "t" * 22, LATER)
        newer = store.add_share(saved.id, "u" * 22, LATER)
    with stores.reading() as store:
        assert store.share_by_token("t" * 22) == share
        assert store.shares(saved.id) == (newer, share)
    with stores.writing() as store:
        withdrawn = store.withdraw_share(share.id, LATER)
        assert store.withdraw_share(share.id, datetime(2027, 1, 1, tzinfo=UTC)) == withdrawn
    assert withdrawn.withdrawn_at == LATER
    with stores.reading() as store:
        with pytest.raises(NotFoundError, match="withdrawn"):
            store.share_by_token("t" * 22)
        assert store.share_by_token("u" * 22) == newer
