"""What the Bridge builds of is shown to each reader at their own prices."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from server.domain.measure import Money
from server.store import open_stores
from server.store.accounts import HostedStores
from tests.store.conftest import ring

TEN, FIVE = (Money(hundredths=one, currency="EUR") for one in (1000, 500))


@pytest.fixture
def hosted(place: Path | str) -> Iterator[HostedStores]:
    stores = HostedStores(open_stores(place))
    yield stores
    stores.close()


def prices(hosted: HostedStores, reader: int | None) -> list[Money | None]:
    with hosted.reading() as store:
        if reader is not None:
            store.read_by(reader)
        return [item.part.price for item in store.stock().parts]


def test_the_stock_has_each_readers_own_prices_and_nobody_elses(hosted: HostedStores):
    with hosted.writing() as store:
        ann, bob, eve = (store.add_observer(name, "metric").id for name in ("Ann", "Bob", "Eve"))
        first = store.add_part(ring("First", price=TEN), ann).id
        store.add_part(ring("Second", price=TEN), bob)
    assert prices(hosted, ann) == [TEN, None]
    assert prices(hosted, bob) == [None, TEN]
    assert prices(hosted, eve) == prices(hosted, None) == [None, None]
    with hosted.writing() as store:
        store.keep_price(bob, first, FIVE)
    assert prices(hosted, bob) == [FIVE, TEN]
    assert prices(hosted, ann) == [TEN, None]


def test_the_stock_is_the_same_object_until_a_price_of_the_readers_changes(hosted: HostedStores):
    with hosted.writing() as store:
        ann, bob = (store.add_observer(name, "metric").id for name in ("Ann", "Bob"))
        part = store.add_part(ring("First"), ann).id
    with hosted.writing() as store:
        store.read_by(bob)
        before = store.stock()
        assert store.stock() is before
        store.keep_price(bob, part, TEN)
        after = store.stock()
        assert after is not before
        assert after.stamp != before.stamp
        store.keep_price(bob, part, None)
        assert store.stock() is before


def test_parts_are_the_same_whatever_they_cost(hosted: HostedStores):
    with hosted.writing() as store:
        ann, bob = (store.add_observer(name, "metric").id for name in ("Ann", "Bob"))
        part = store.add_part(ring("First", price=TEN), ann).id
        store.read_by(bob)
        for price in (None, TEN, FIVE):
            known = store.same_part(ring("First", price=price))
            assert known is not None
            assert (known.id, known.part.price) == (part, None)


def test_a_steward_who_corrects_a_part_leaves_its_price_alone_and_says_their_own(hosted: HostedStores):
    with hosted.writing() as store:
        ann, sue = (store.add_observer(name, "metric").id for name in ("Ann", "Sue"))
        part = store.add_part(ring("First", price=TEN), ann).id
        store.read_by(sue)
        shown = store.change_part(part, ring("First", price=FIVE, note="Measured"), sue)
        assert (shown.part.price, shown.part.note) == (FIVE, "Measured")
    assert prices(hosted, ann) == [TEN]
    assert prices(hosted, sue) == [FIVE]


def test_what_was_changed_on_a_part_tells_no_price(hosted: HostedStores):
    with hosted.writing() as store:
        ann, sue = (store.add_observer(name, "metric").id for name in ("Ann", "Sue"))
        part = store.add_part(ring("First", price=TEN), ann).id
        store.keep_price(ann, part, FIVE)
        store.change_part(part, ring("First", price=TEN, note="Worn"), ann)
        double = store.add_part(ring("First 2", price=FIVE), sue)
        store.move_prices(double.id, part)
        store.merge_part(double, store.part(part), sue)
        told = store.part_changes(part, 10)
    assert [[field.field for field in one.fields] for one in told] == [["model", "note"], ["note"]]
    assert all(document.price is None for one in told for document in (one.was, one.became))


def test_of_two_that_become_one_each_keeps_what_they_said_of_either(hosted: HostedStores):
    with hosted.writing() as store:
        ann, bob, eve = (store.add_observer(name, "metric").id for name in ("Ann", "Bob", "Eve"))
        gone = store.add_part(ring("Gone", price=TEN), ann)
        kept = store.add_part(ring("Kept"), bob)
        store.keep_price(bob, gone.id, FIVE)
        store.keep_price(eve, gone.id, TEN)
        store.keep_price(eve, kept.id, FIVE)
        store.move_prices(gone.id, kept.id)
        store.merge_part(gone, kept, bob)
    for reader, price in ((ann, TEN), (bob, FIVE), (eve, FIVE)):
        assert prices(hosted, reader) == [price]


def test_changes_of_a_price_push_nothing_out_of_a_parts_history(hosted: HostedStores):
    with hosted.writing() as store:
        ann = store.add_observer("Ann", "metric").id
        part = store.add_part(ring("First"), ann).id
        store.change_part(part, ring("First", note="Worn"), ann)
        for cents in range(1, 6):
            store.keep_price(ann, part, Money(hundredths=cents, currency="EUR"))
        assert [one.became.note for one in store.part_changes(part, 3)] == ["Worn"]
