"""What the store keeps of accounts, and what goes when somebody leaves."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy.exc import DBAPIError

from server.domain.errors import NotFoundError
from server.domain.observer import Holding
from server.store import open_stores
from server.store.accounts import FORMER, HostedStore, HostedStores
from tests.store.conftest import CAMERA, TUBE, document_of, plan_of, ring

NOW = datetime(2026, 3, 20, 22, 0, tzinfo=UTC)


@pytest.fixture
def hosted(place: Path | str) -> Iterator[HostedStores]:
    stores = HostedStores(open_stores(place))
    yield stores
    stores.close()


def settled(store: HostedStore, name: str) -> tuple[int, int, int]:
    """Someone with a rig and a shared entry: their number, the rig's, the entry's."""
    number = store.add_observer(name, "metric").id
    store.add_account(number, name, "member", "hash", NOW)
    store.add_session(number, f"session of {name}", "", NOW)
    rig = store.add_rig(number, f"{name}'s", plan_of())
    entry = store.add_entry(rig.id, document_of(store, rig.id))
    store.add_share(entry.id, f"link of {name}", NOW)
    return number, rig.id, entry.id


def test_who_leaves_takes_all_that_is_theirs_and_nothing_of_anybody_elses(hosted: HostedStores):
    with hosted.writing() as store:
        ann, rig, entry = settled(store, "Ann")
        bob, bobs_rig, bobs_entry = settled(store, "Bob")
        store.log_act(NOW, "signed in", ann, None)
        alone = store.add_part(ring("Alone"), ann)
        store.set_holding(ann, alone.id, Holding(owned=1))
    with hosted.writing() as store:
        store.remove_person(ann)
    with hosted.reading() as store:
        for gone in (
            lambda: store.observer(ann),
            lambda: store.rig(rig),
            lambda: store.entry(entry),
            lambda: store.part(alone.id),
            lambda: store.share_by_token("link of Ann"),
            lambda: store.account(ann),
        ):
            with pytest.raises(NotFoundError):
                gone()
        assert store.session("session of Ann") is None
        assert (store.rig(bobs_rig).observer_id, store.entry(bobs_entry).observer_id) == (bob, bob)
        assert store.share_by_token("link of Bob").entry_id == bobs_entry
        assert [(line.by, line.what) for line in store.log_lines(10)] == [("", "signed in")]


def test_parts_that_others_have_or_use_stay_without_a_name(hosted: HostedStores):
    with hosted.writing() as store:
        ann, _, _ = settled(store, "Ann")
        bob, _, _ = settled(store, "Bob")
        tube, camera, unused = (store.add_part(part, ann).id for part in (TUBE, CAMERA, ring("Unused")))
        store.add_rig(bob, "With it", plan_of(tube))
        store.set_holding(bob, camera, Holding(wished=1))
    with hosted.writing() as store:
        store.remove_person(ann)
    with hosted.reading() as store:
        assert {store.part(one).entered_by_name for one in (tube, camera)} == {FORMER}
        with pytest.raises(NotFoundError):
            store.part(unused)
    with hosted.writing() as store:
        store.add_observer("Ann", "metric")
        store.add_observer(FORMER, "metric")


@pytest.mark.parametrize("change", ["DELETE FROM share", "DELETE FROM entry", "UPDATE entry SET number = 7"])
def test_a_saved_entry_of_who_stays_can_still_be_removed_by_nobody(hosted: HostedStores, change: str):
    with hosted.writing() as store:
        _, _, entry = settled(store, "Ann")
    with ExitStack() as refused:
        if "entry" in change:
            refused.enter_context(pytest.raises(DBAPIError, match="a saved entry never changes"))
        with hosted.writing() as store:
            store._connection.exec_driver_sql("DELETE FROM share")
            store._connection.exec_driver_sql(change)
    with hosted.reading() as store:
        assert store.entry(entry).number == 1


def test_a_part_is_held_by_ones_own_rigs_by_name_and_by_others_without(hosted: HostedStores):
    with hosted.writing() as store:
        ann, _, _ = settled(store, "Ann")
        bob, _, _ = settled(store, "Bob")
        tube = store.add_part(TUBE, ann).id
        mine = store.add_rig(ann, "Mine", plan_of(tube))
        for name in ("Secret", "Hidden"):
            store.add_rig(bob, name, plan_of(tube))
        store.read_by(ann)
        assert [(line.id, line.name) for line in store.rigs_using(tube)] == [
            (mine.id, "Mine"),
            (0, "a rig of another member"),
        ]


def test_a_database_without_a_schema_is_not_prepared(hosted: HostedStores, tmp_path: Path):
    assert hosted.is_prepared()
    empty = HostedStores(open_stores(tmp_path / "empty.sqlite3"))
    assert not empty.is_prepared()
    with pytest.raises(DBAPIError), empty.reading() as store:
        store.accounts()
    empty.close()
