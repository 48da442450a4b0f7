"""Save a rig into the logbook, open what was saved, bring it back."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from server.domain.entry import Entry, freeze
from server.domain.errors import FieldErrors, NotFoundError, RefusedError
from server.domain.findings import Finding
from server.domain.load_plan import LoadPlan
from server.domain.observer import Observer
from server.domain.rig import GearPlan, PlacePlan, Rig, RigPlan
from server.domain.said import said
from server.domain.scout.needs import Needs
from server.flow.keep_sky import plan_at_site, plan_without_site
from server.flow.protocols import Store, StoredRig

LONGEST_TITLE = 120
LONGEST_NOTE = 4000
MOST_PIECES = 99


def own_entry(store: Store, observer: Observer, entry_id: int) -> Entry:
    """An entry of this observer's logbook. Another's answers as if it were not there: NotFoundError."""
    entry = store.entry(entry_id)
    if entry.observer_id != observer.id:
        raise NotFoundError("There is no such entry in your logbook.")
    return entry


def save_entry(
    store: Store,
    observer: Observer,
    stored: StoredRig,
    rig: Rig,
    findings: tuple[Finding, ...],
    title: str,
    note: str,
    at: datetime,
) -> Entry:
    """Freeze the rig and its parts as they are now.

    Raises FieldErrors, and RefusedError for an empty train.
    """
    errors: dict[str, str] = {}
    title, note = " ".join(title.split()), note.strip()
    if not title:
        errors["title"] = "Give the entry a title, such as “Before the new spacer”."
    elif len(title) > LONGEST_TITLE:
        errors["title"] = f"A title has at most {LONGEST_TITLE} characters; this one has {len(title)}."
    if len(note) > LONGEST_NOTE:
        errors["note"] = f"A note has at most {LONGEST_NOTE} characters; this one has {len(note)}."
    if errors:
        raise FieldErrors(errors)
    if not stored.plan.places:
        raise RefusedError(said("refused.empty_train"))
    plan = plan_at_site(store, stored)
    document = freeze(
        rig, plan, title=title, note=note, observer=observer.name, saved_at=at, findings=findings
    )
    return store.add_entry(stored.id, document)


def bring_back(store: Store, observer: Observer, entry_id: int) -> StoredRig:
    """Make an entry's train the present one of its rig.

    Parts are taken as the catalogue holds them today; for one that was merged into another stands that one,
    and one that has left the catalogue since is entered again as it was, under this observer's name.
    """
    entry = own_entry(store, observer, entry_id)
    stored = store.rig(entry.rig_id)
    document = entry.document
    known = store.known_parts([part.id for part in document.parts])
    numbers, plan = {}, document.plan
    for part in document.parts:
        now = known[part.id].id if part.id in known else store.add_part(part.part, observer.id).id
        if part.id in known and now != part.id:
            plan = merged_plan(plan, part.id, now)
            numbers[now] = now
        else:
            numbers[part.id] = now
    plan = plan_without_site(store, stored, renumbered(plan, numbers))
    if plan == stored.plan:
        return stored
    return store.change_rig(stored.id, stored.version, plan, said("did.brought_back", number=entry.number))


def renumbered(plan: RigPlan, numbers: dict[int, int]) -> RigPlan:
    """The same plan with its parts under other catalogue numbers."""

    def moved(places: tuple[PlacePlan, ...]) -> tuple[PlacePlan, ...]:
        return tuple(
            p.model_copy(
                update={"part_id": numbers[p.part_id], "inside": tuple(numbers[i] for i in p.inside)}
            )
            for p in places
        )

    return plan.model_copy(
        update={
            "places": moved(plan.places),
            "branch": moved(plan.branch),
            "gear": tuple(g.model_copy(update={"part_id": numbers[g.part_id]}) for g in plan.gear),
            "load": plan.load.renumbered(numbers),
            "left_open": tuple(
                one.model_copy(update={"part_id": numbers[one.part_id]})
                for one in plan.left_open
                if one.part_id in numbers
            ),
        }
    )


def merged_plan(plan: RigPlan, gone: int, kept: int) -> RigPlan:
    """A rig's plan in which one part stands for another as well. Where both are told of, gear adds up, and
    what is said of the one that stays holds.
    """
    load = _without_twice(plan.load, gone, kept)
    open_ = {one.field for one in plan.left_open if one.part_id == kept}
    left = tuple(one for one in plan.left_open if one.part_id != gone or one.field not in open_)
    named = plan.part_ids | load.part_ids | {one.part_id for one in left}
    numbers = {number: number for number in named} | {gone: kept}
    made = renumbered(plan.model_copy(update={"load": load, "left_open": left}), numbers)
    counts: dict[int, int] = {}
    for gear in made.gear:
        counts[gear.part_id] = min(counts.get(gear.part_id, 0) + gear.quantity, MOST_PIECES)
    feeds = tuple(feed for feed in made.load.feeds if feed.port_of != feed.part_id)
    return made.model_copy(
        update={
            "gear": tuple(GearPlan(part_id=number, quantity=count) for number, count in counts.items()),
            "load": made.load.model_copy(update={"feeds": feeds}),
        }
    )


def _without_twice(load: LoadPlan, gone: int, kept: int) -> LoadPlan:
    """The load's plan without what it says of the one that goes where it says the same of the other."""
    lines = {name: getattr(load, name) for name in ("cables", "feeds", "spots", "cases")}
    twice = {name for name, told in lines.items() if kept in {line.part_id for line in told}}
    return load.model_copy(
        update={name: tuple(line for line in lines[name] if line.part_id != gone) for name in twice}
    )


def merged_needs(needs: Needs, gone: int, kept: int) -> Needs:
    """Needs in which one part stands for another as well."""

    def moved(numbers: Iterable[int]) -> tuple[int, ...]:
        return tuple(dict.fromkeys(kept if number == gone else number for number in numbers))

    return needs.model_copy(update={"cameras": moved(needs.cameras), "mounts": moved(needs.mounts)})
