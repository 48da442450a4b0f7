"""The demo club's sky: sites of its rigs, and lists of targets."""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, hypot, radians

import pytest

from server.domain.sky.target import catalogue_target
from server.flow.workbench import Workbench
from server.paths import SEED_DATA
from server.rim.demo_club import load_demo_club
from server.rim.phrasebook.tell import tell
from server.store import open_stores, prepare_database
from server.store.session import SqlStore

HUNDREDTH = 0.01


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SqlStore]:
    path = tmp_path_factory.mktemp("demo") / "demo.sqlite"
    prepare_database(path)
    stores = open_stores(path)
    with stores.writing() as unit:
        load_demo_club(unit, SEED_DATA)
    with stores.reading() as unit:
        yield unit
    stores.close()


def _benches_of(store: SqlStore) -> dict[str, Workbench]:
    return {observer.name: Workbench(store, observer, tell) for observer in store.observers()}


def test_every_rig_is_used_at_a_site_of_its_owners(store: SqlStore) -> None:
    for name, bench in _benches_of(store).items():
        sites = {one.id for one in bench.sites()}
        for stored, _ in bench.rigs_in_hand(line.id for line in bench.rigs()):
            assert stored.site_id in sites, (name, stored.name)


def test_sites_differ_in_how_dark_they_are_and_one_does_not_say(store: SqlStore) -> None:
    sites = {one.site.name: one.site for bench in _benches_of(store).values() for one in bench.sites()}
    assert len(sites) == 5
    assert {site.brightness_by for site in sites.values()} == {"magnitude", "naked_eye", "sky_class", None}
    garden, moor = sites["Suburban garden"].sky, sites["Moor car park"].sky
    assert garden is not None
    assert moor is not None
    assert moor.magnitude > garden.magnitude + 2.0
    # 480 ft x 0.3048.
    assert sites["Back yard"].height_m == pytest.approx(146.3, abs=HUNDREDTH)


def test_who_has_a_rig_has_a_list_and_one_target_is_their_own(store: SqlStore) -> None:
    lists = {name: bench.targets() for name, bench in _benches_of(store).items() if bench.rigs()}
    assert all(len(lines) >= 3 for lines in lists.values())
    (own,) = [one for lines in lists.values() for one in lines if one.target is not None]
    names = {one.seen.called for lines in lists.values() for one in lines}
    assert {"M 31", "M 42", "M 51", "NGC 7000", own.name} <= names


def test_their_own_target_holds_both_galaxies(store: SqlStore) -> None:
    ((found, _),) = [
        bench.target(one.key)
        for bench in _benches_of(store).values()
        for one in bench.targets()
        if one.target is not None
    ]
    # Both lie within its ellipse; a degree of right ascension is as wide as the cosine of its declination.
    for name in ("M 81", "M 82"):
        part, _ = _benches_of(store)["Annika Thornquist"].target(name)
        north = 60.0 * (part.dec_deg - found.dec_deg)
        east = 60.0 * (part.ra_deg - found.ra_deg) * cos(radians(found.dec_deg))
        assert found.ellipse_arcmin is not None
        assert hypot(north / (found.ellipse_arcmin[0] / 2), east / (found.ellipse_arcmin[1] / 2)) < 0.8
    assert found.own


def test_every_target_is_written_as_the_catalogue_lists_it(store: SqlStore) -> None:
    listed = [one for bench in _benches_of(store).values() for one in bench.targets() if one.target is None]
    asked = [
        key
        for bench in _benches_of(store).values()
        for one in bench.kept_needs()
        for key in one.needs.targets
    ]
    assert len(listed) > 15
    assert len(asked) == 3
    for name in (*(one.name for one in listed), *asked):
        assert catalogue_target(name).name == name
