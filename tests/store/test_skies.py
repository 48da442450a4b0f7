"""Sites and lists of targets in the store."""

from __future__ import annotations

import pytest

from server.domain.errors import FieldErrors, NotFoundError, StaleVersionError
from server.domain.observer import Observer
from server.domain.rig import RigPlan
from server.domain.scout.needs import Needs
from server.domain.sky.site import Site
from server.domain.sky.target import Target
from server.store import Stores

GARDEN = Site(name="The garden", latitude_deg=50.1, longitude_deg=8.6, zone="Europe/Berlin")
LOOP = Target(name="The whole loop", ra_deg=312.0, dec_deg=31.0, major_arcmin=210.0, own=True)


def test_sites_come_by_name_and_a_change_names_the_revision_it_was_made_on(
    stores: Stores, observer: Observer
):
    with stores.writing() as store:
        garden = store.add_site(observer.id, GARDEN)
        alp = store.add_site(observer.id, GARDEN.model_copy(update={"name": "alp"}))
        assert [one.site.name for one in store.sites(observer.id)] == ["alp", "The garden"]
        darker = GARDEN.model_copy(update={"brightness_by": "magnitude", "brightness": 20.1})
        assert store.change_site(garden.id, 1, darker).site.brightness == 20.1
        with pytest.raises(StaleVersionError):
            store.change_site(garden.id, 1, GARDEN)
        store.remove_site(alp.id)
        with pytest.raises(NotFoundError):
            store.site(alp.id)
        assert store.site(garden.id).revision == 2


def test_a_rig_keeps_its_site_until_that_is_removed(stores: Stores, observer: Observer):
    with stores.writing() as store:
        rig = store.add_rig(observer.id, "Small", RigPlan())
        assert rig.site_id is None
        first, second = store.add_site(observer.id, GARDEN), store.add_site(observer.id, GARDEN)
        store.set_rig_site(rig.id, first.id)
        store.set_rig_site(rig.id, second.id)
        assert store.rig(rig.id).site_id == second.id
        store.remove_site(second.id)
        assert store.rig(rig.id).site_id is None
        assert store.rig(rig.id).version == rig.version, "where it stands is no change of the rig"


def test_a_list_has_a_name_once_and_holds_own_targets_and_the_catalogues(stores: Stores, observer: Observer):
    with stores.writing() as store:
        store.add_target(observer.id, "NGC 224", None)
        own = store.add_target(observer.id, LOOP.name, LOOP)
        with pytest.raises(FieldErrors, match="on your list already"):
            store.add_target(observer.id, "ngc  224", None)
        bigger = LOOP.model_copy(update={"major_arcmin": 230.0})
        assert store.change_target(own.id, 1, bigger).target == bigger
        with pytest.raises(FieldErrors, match="on your list already"):
            store.change_target(own.id, 2, bigger.model_copy(update={"name": "NGC 224"}))
        with pytest.raises(StaleVersionError):
            store.change_target(own.id, 1, bigger)
        assert [(one.name, one.key) for one in store.targets(observer.id)] == [
            ("NGC 224", "NGC 224"),
            (LOOP.name, f"own-{own.id}"),
        ]
        store.remove_target(own.id)
        with pytest.raises(NotFoundError):
            store.remove_target(own.id)


def test_needs_come_by_name_and_a_name_holds_the_last_that_were_kept(stores: Stores, observer: Observer):
    cheap, light = Needs(budget=800.0, fill_least=None, like=()), Needs(lift_kg=5.0, targets=("NGC 224",))
    with stores.writing() as store:
        store.keep_needs(observer.id, "The garden", light)
        store.keep_needs(observer.id, "balcony", light)
        store.keep_needs(observer.id, "the  GARDEN", cheap)
        kept = store.kept_needs(observer.id)
        assert [(one.name, one.needs, one.observer_id) for one in kept] == [
            ("balcony", light, observer.id),
            ("the  GARDEN", cheap, observer.id),
        ]
        store.forget_needs(observer.id, kept[0].id)
        with pytest.raises(NotFoundError):
            store.forget_needs(observer.id, kept[0].id)
        assert [one.needs for one in store.kept_needs(observer.id)] == [cheap]


def test_needs_are_their_observers_alone(stores: Stores, observer: Observer):
    with stores.writing() as store:
        other = store.add_observer("Somebody else", "imperial")
        store.keep_needs(observer.id, "Garden", Needs(budget=800.0))
        store.keep_needs(other.id, "Garden", Needs(budget=900.0))
        (mine,) = store.kept_needs(observer.id)
        assert mine.needs.budget == 800.0
        with pytest.raises(NotFoundError):
            store.forget_needs(other.id, mine.id)
        assert store.kept_needs(observer.id) == (mine,)


def test_the_number_of_forgotten_needs_is_never_given_again(stores: Stores, observer: Observer):
    with stores.writing() as store:
        store.keep_needs(observer.id, "First", Needs())
        (first,) = store.kept_needs(observer.id)
        store.forget_needs(observer.id, first.id)
        store.keep_needs(observer.id, "Second", Needs())
        assert store.kept_needs(observer.id)[0].id > first.id
