"""What an observer keeps of the sky: sites, where a rig is usually used, and the list of targets."""

from __future__ import annotations

from dataclasses import replace

from server.domain.errors import FieldErrors, NotFoundError, RefusedError
from server.domain.observer import Observer
from server.domain.rig import RigPlan
from server.domain.sky.site import Site, StoredSite
from server.domain.sky.target import ListedTarget, Target, catalogue_target
from server.flow.keep_rigs import own_rig
from server.flow.protocols import Store, StoredRig

MOST_SITES = 50
MOST_TARGETS = 500
_OWN = "own-"


def own_site(store: Store, observer: Observer, site_id: int) -> StoredSite:
    """A site of this observer's. Another's answers as if it were not there: NotFoundError."""
    stored = store.site(site_id)
    if stored.observer_id != observer.id:
        raise NotFoundError("There is no such site among yours.")
    return stored


def own_target(store: Store, observer: Observer, target_id: int) -> ListedTarget:
    """A line of this observer's list. Raises NotFoundError."""
    listed = store.target(target_id)
    if listed.observer_id != observer.id:
        raise NotFoundError("There is no such target on your list.")
    return listed


def add_site(store: Store, observer: Observer, site: Site) -> StoredSite:
    """Keep a new site. Raises RefusedError where there are too many."""
    if len(store.sites(observer.id)) >= MOST_SITES:
        raise RefusedError(f"You keep {MOST_SITES} sites already: remove one that you no longer use.")
    return store.add_site(observer.id, site)


def set_rig_site(store: Store, observer: Observer, rig_id: int, site_id: int | None) -> None:
    """Say where a rig is usually used. Raises NotFoundError."""
    own_rig(store, observer, rig_id)
    if site_id is not None:
        own_site(store, observer, site_id)
    store.set_rig_site(rig_id, site_id)


def plan_at_site(store: Store, stored: StoredRig) -> RigPlan:
    """A rig's plan as it is judged and saved: where it says no latitude, with its usual site's place.

    That is rounded to 0.1 degree: entries and shared pages show it, and must not tell where someone lives to
    more than about 10 km. The night's length hardly notices.
    """
    load = stored.plan.load
    if stored.site_id is None or load.latitude_deg is not None:
        return stored.plan
    site = store.site(stored.site_id).site
    # Added to 0, since -0.04 would round to -0.
    place = {
        "latitude_deg": 0.0 + round(site.latitude_deg, 1),
        "longitude_deg": 0.0 + round(site.longitude_deg, 1),
    }
    return stored.plan.model_copy(update={"load": load.model_copy(update=place)})


def plan_without_site(store: Store, stored: StoredRig, plan: RigPlan) -> RigPlan:
    """A plan that comes back to a rig, without the place that its usual site gives it anyway.

    Otherwise that would count as typed, and the site no more.
    """
    bare = plan.load.model_copy(update={"latitude_deg": None, "longitude_deg": None})
    without = plan.model_copy(update={"load": bare})
    return without if plan_at_site(store, replace(stored, plan=without)) == plan else plan


def change_own_target(
    store: Store, observer: Observer, target_id: int, revision: int, target: Target
) -> ListedTarget:
    """Keep an own target anew. Raises StaleVersionError, FieldErrors("name"), RefusedError."""
    if own_target(store, observer, target_id).target is None:
        raise RefusedError(
            "This object is the catalogue's, which nobody changes. Enter one of your own like it."
        )
    return store.change_target(target_id, revision, target)


def add_own_target(store: Store, observer: Observer, target: Target) -> ListedTarget:
    """Put an own target on the list. Raises FieldErrors("name"), RefusedError."""
    _demand_room(store, observer)
    return store.add_target(observer.id, target.name, target)


def list_target(store: Store, observer: Observer, name: str) -> ListedTarget:
    """Put the catalogue's object of a name on the list, once. Raises NotFoundError, RefusedError."""
    found = catalogue_target(name)
    known = next((one for one in store.targets(observer.id) if one.key == found.name), None)
    if known is not None:
        return known
    _demand_room(store, observer)
    try:
        return store.add_target(observer.id, found.name, None)
    except FieldErrors as error:
        # An own target has the catalogue's name: that one is meant.
        raise RefusedError(error.errors["name"]) from None


def _demand_room(store: Store, observer: Observer) -> None:
    if len(store.targets(observer.id)) >= MOST_TARGETS:
        raise RefusedError(f"Your list holds {MOST_TARGETS} targets already: take some off it.")


def target_by_key(store: Store, observer: Observer, key: str) -> tuple[Target, ListedTarget | None]:
    """The target that an address names, and its line on the observer's list. Raises NotFoundError."""
    number = key.removeprefix(_OWN)
    if key.startswith(_OWN) and number.isascii() and number.isdigit() and len(number) < 16:
        listed = own_target(store, observer, int(number))
        return listed.seen, listed
    found = catalogue_target(key)
    return found, next((one for one in store.targets(observer.id) if one.key == found.name), None)
