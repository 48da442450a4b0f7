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
