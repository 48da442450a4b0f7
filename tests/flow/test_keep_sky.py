"""Sites and lists of targets over a real store: whose they are, how many, and each target once.

Source: none needed: the rules are the workbench's own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest

from server.domain.errors import FieldErrors, NotFoundError, RefusedError, StaleVersionError
from server.domain.sky.site import Site
from server.domain.sky.target import Target, catalogue_target
from server.flow.keep_sky import MOST_SITES, MOST_TARGETS
from server.flow.workbench import Workbench
from server.rim.phrasebook.tell import tell
from server.store import Stores, open_stores

DAY = datetime(2026, 6, 1, 22, 0, tzinfo=UTC)
GARDEN = Site(name="The garden", latitude_deg=50.1, longitude_deg=8.6, zone="Europe/Berlin")
LOOP = Target(name="The whole loop", ra_deg=312.0, dec_deg=31.0, major_arcmin=210.0, own=True)


class Install:
    """A store with two observers, and a bench for either."""

    def __init__(self, stores: Stores) -> None:
        self.stores = stores
        with stores.writing() as store:
            self.observers = {name: store.add_observer(name, "metric") for name in ("Ana", "Bo")}

    @contextmanager
    def bench(self, name: str = "Ana") -> Iterator[Workbench]:
        with self.stores.writing() as store:
            yield Workbench(store, self.observers[name], tell, now=lambda: DAY)


@pytest.fixture
def install(place: Path | str) -> Iterator[Install]:
    stores = open_stores(place, lambda: DAY)
    yield Install(stores)
    stores.close()


# -- Whose it is


@pytest.mark.parametrize(
    "act",
    [
        lambda bench, site, _: bench.site(site),
        lambda bench, site, _: bench.change_site(site, 1, GARDEN),
        lambda bench, site, _: bench.remove_site(site),
        lambda bench, site, _: bench.set_rig_site(bench.new_rig("Mine").id, site),
        lambda bench, _, target: bench.target(f"own-{target}"),
        lambda bench, _, target: bench.change_target(target, 1, LOOP),
        lambda bench, _, target: bench.remove_target(target),
    ],
)
def test_what_another_keeps_answers_as_if_it_were_not_there(
    install: Install, act: Callable[[Workbench, int, int], object]
):
    with install.bench() as ana:
        site, target = ana.add_site(GARDEN).id, ana.add_target(LOOP).id
    with install.bench("Bo") as bo:
        with pytest.raises(NotFoundError) as others:
            act(bo, site, target)
        with pytest.raises(NotFoundError):
            act(bo, 987, 987)
        assert "Ana" not in str(others.value)
        assert "garden" not in str(others.value)
        assert bo.sites() == ()
        assert bo.targets() == ()
    with install.bench() as ana:
        assert [one.site for one in ana.sites()] == [GARDEN]
        assert [one.target for one in ana.targets()] == [LOOP]


def test_a_rig_of_anothers_gets_no_site(install: Install):
    with install.bench() as ana:
        rig = ana.new_rig("Hers").id
    with install.bench("Bo") as bo:
        own = bo.add_site(GARDEN).id
        with pytest.raises(NotFoundError):
            bo.set_rig_site(rig, own)


def test_two_observers_may_name_a_site_and_a_target_alike(install: Install):
    for name in ("Ana", "Bo"):
        with install.bench(name) as bench:
            bench.add_site(GARDEN)
            bench.add_target(LOOP)
            bench.list_target("M 31")
            assert len(bench.sites()) == 1
            assert [one.name for one in bench.targets()] == ["NGC 224", "The whole loop"]


# -- How many


def test_so_many_sites_are_kept_and_no_more_until_one_is_removed(install: Install):
    with install.bench() as bench:
        kept = [bench.add_site(GARDEN) for _ in range(MOST_SITES)]
        with pytest.raises(RefusedError, match="You keep 50 sites already: remove one"):
            bench.add_site(GARDEN)
        bench.remove_site(kept[3].id)
        bench.add_site(GARDEN)
        assert len(bench.sites()) == MOST_SITES


def test_so_many_targets_are_listed_and_no_more_but_one_that_is_there_already(install: Install):
    with install.bench() as bench:
        listed = bench.list_target("M 31")
        for number in range(MOST_TARGETS - 1):
            bench.add_target(LOOP.model_copy(update={"name": f"Loop {number}"}))
        for add in (lambda: bench.add_target(LOOP), lambda: bench.list_target("M 42")):
            with pytest.raises(RefusedError, match="holds 500 targets already: take some off it"):
                add()
        assert bench.list_target("M 31") == listed
    with install.bench("Bo") as bo:
        assert bo.list_target("M 42").name == "NGC 1976"


# -- Each once


def test_the_same_target_is_listed_once_by_whatever_name(install: Install):
    with install.bench() as bench:
        first = bench.list_target("M 31")
        assert bench.list_target("Andromeda Galaxy") == first
        assert bench.list_target("ngc 0224") == first
        assert [one.key for one in bench.targets()] == ["NGC 224"]
        assert first.seen == catalogue_target("M 31")


def test_an_own_target_keeps_its_name_to_itself(install: Install):
    with install.bench() as bench:
        bench.add_target(LOOP)
        with pytest.raises(FieldErrors) as taken:
            bench.add_target(LOOP.model_copy(update={"name": "the  WHOLE loop"}))
        assert list(taken.value.errors) == ["name"]
        # One's own of the catalogue's name stands in the way of the catalogue's.
        bench.add_target(LOOP.model_copy(update={"name": "NGC 224"}))
        with pytest.raises(RefusedError, match="on your list already"):
            bench.list_target("M 31")


def test_what_the_catalogue_does_not_know_is_not_listed(install: Install):
    with install.bench() as bench:
        with pytest.raises(NotFoundError, match="Search by a part of the name"):
            bench.list_target("NGC 99999")
        assert bench.targets() == ()


def test_an_address_names_a_target_of_the_catalogue_or_a_line_of_the_list(install: Install):
    with install.bench() as bench:
        own = bench.add_target(LOOP)
        assert bench.target(own.key) == (LOOP, own)
        assert bench.target("M 31") == (catalogue_target("M 31"), None)
        listed = bench.list_target("M 31")
        assert bench.target("M 31") == (catalogue_target("M 31"), listed)
        # A line of the list by its number, whatever it is.
        assert bench.target(f"own-{listed.id}") == (catalogue_target("M 31"), listed)
        for wrong in ("own-", "own-x", "own--1", "own-٣", "own-" + "9" * 30, "", "x" * 200):
            with pytest.raises(NotFoundError):
                bench.target(wrong)


def test_a_target_is_taken_off_the_list_and_an_own_one_changed_by_its_revision(install: Install):
    with install.bench() as bench:
        own, listed = bench.add_target(LOOP), bench.list_target("M 31")
        larger = LOOP.model_copy(update={"major_arcmin": 230.0})
        assert bench.change_target(own.id, 1, larger).target == larger
        with pytest.raises(StaleVersionError):
            bench.change_target(own.id, 1, LOOP)
        with pytest.raises(RefusedError, match="is the catalogue's, which nobody changes"):
            bench.change_target(listed.id, 1, LOOP)
        bench.remove_target(listed.id)
        assert [one.key for one in bench.targets()] == [own.key]


def test_a_rig_has_no_usual_site_once_that_is_removed(install: Install):
    with install.bench() as bench:
        rig, site = bench.new_rig("Small").id, bench.add_site(GARDEN).id
        bench.set_rig_site(rig, site)
        assert bench.rigs_in_hand((rig,))[0][0].site_id == site
        bench.set_rig_site(rig, None)
        assert bench.rigs_in_hand((rig,))[0][0].site_id is None
        bench.set_rig_site(rig, site)
        bench.remove_site(site)
        assert bench.rigs_in_hand((rig,))[0][0].site_id is None
