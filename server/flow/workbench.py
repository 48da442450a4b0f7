"""The workbench: all verbs over one unit of work, for one observer.

The doors are handed this and nothing else.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from typing import Literal

from server.domain.changes import EntryChanges, compare_documents, revised_parts
from server.domain.entry import Entry, EntryDocument, Share
from server.domain.errors import RefusedError
from server.domain.findings import Finding
from server.domain.observer import Holding, Observer, UnitSystem
from server.domain.part_history import PartChange
from server.domain.parts import CataloguedPart, Part
from server.domain.rig import Rig, build_rig
from server.domain.said import said
from server.domain.scout.needs import Needs, StoredNeeds
from server.domain.sky.site import Site, StoredSite
from server.domain.sky.target import ListedTarget, Target
from server.domain.verdicts import Tell
from server.flow import (
    assemble_train,
    keep_parts,
    keep_rigs,
    keep_sky,
    save_entry,
    scout,
    share_entry,
    take_candidate,
    take_in_entry,
    take_in_parts,
)
from server.flow.assemble_train import Change
from server.flow.bridge_branch import pose_gap
from server.flow.bridge_gap import find_gap
from server.flow.bridge_kit import LEAST_RIGS, MOST_RIGS, gaps_of, pose_kit
from server.flow.bridge_wishes import Gap, Wishes
from server.flow.protocols import EntryName, PartPage, PartQuery, Remembered, RigLine, Store, StoredRig
from server.flow.run_checks import find_joiners, find_rings, find_swaps, find_weights, run_checks
from server.flow.take_in_entry import Arrival
from server.flow.take_in_parts import CountedIn, TakenIn
from server.flow.views import BenchView, BridgeView, EntryView, KitView


def _now() -> datetime:
    return datetime.now(UTC)


def _held(shelf: Mapping[int, Holding]) -> Hashable:
    """What of a shelf an answer of the Bridge depends on."""
    return tuple(sorted((number, held.owned, held.lent, held.any) for number, held in shelf.items()))


class Workbench:
    """What one observer can do. Every method that changes something leaves it to the door to commit."""

    def __init__(
        self, store: Store, observer: Observer, tell: Tell, now: Callable[[], datetime] = _now
    ) -> None:
        """`tell` puts verdicts into words: server.rim.phrasebook.tell."""
        self.store = store
        self.observer = observer
        self.tell = tell
        self.now = now

    # Observers
    def read_in(self, units: UnitSystem) -> None:
        """Choose the units that this observer reads."""
        self.store.set_units(self.observer.id, units)

    # Catalogue and shelf
    def find_parts(self, query: PartQuery) -> PartPage:
        """One page of the catalogue or of the shelf."""
        return self.store.find_parts(query)

    def remembered(self) -> Remembered:
        """Makers and connections to be offered again."""
        return self.store.remembered(self.observer.id)

    def part(self, part_id: int) -> CataloguedPart:
        """One part. Raises NotFoundError."""
        return self.store.part(part_id)

    def holding(self, part_id: int) -> Holding:
        """What the observer has of a part."""
        return self.holdings([part_id]).get(part_id, Holding())

    def holdings(self, part_ids: Iterable[int]) -> Mapping[int, Holding]:
        """What the observer has of each of these parts; those of which there is nothing are left out."""
        return self.store.holdings(self.observer.id, part_ids)

    def add_part(self, part: Part, holding: Holding = Holding()) -> CataloguedPart:  # noqa: B008 - frozen
        """Enter a part into the catalogue and put it on the shelf."""
        item = self.store.add_part(part, self.observer.id)
        if holding.any:
            self.store.set_holding(self.observer.id, item.id, holding)
        return item

    def add_parts(self, parts: Sequence[Part], holding: Holding) -> list[int]:
        """Enter many parts at once, all or none."""
        ids = self.store.add_parts(parts, self.observer.id)
        if holding.any:
            self.store.set_holdings(self.observer.id, dict.fromkeys(ids, holding))
        return ids

    def take_in_parts(self, rows: Sequence[tuple[Part, Holding]]) -> TakenIn:
        """Enter the parts of a file that are new here, and set what the observer has of each; all or none."""
        return take_in_parts.take_in_parts(self.store, self.observer, rows)

    def count_in_parts(self, rows: Sequence[tuple[Part, int]]) -> CountedIn:
        """Own so many more of each part; those that the catalogue has not are entered. All or none."""
        return take_in_parts.count_in_parts(self.store, self.observer, rows)

    @property
    def is_steward(self) -> bool:
        """Whether this observer may correct others' parts."""
        return self.store.is_steward(self.observer.id)

    def change_part(
        self, part_id: int, revision: int, part: Part, *, correcting: bool = False
    ) -> CataloguedPart:
        """Change a part that this observer entered, or (`correcting`) that a steward corrects.

        Raises NotYoursError for another's, StaleVersionError.
        """
        change = keep_parts.change_part
        return change(self.store, self.observer, part_id, revision, part, correcting=correcting)

    def part_changes(self, part_id: int, limit: int) -> tuple[PartChange, ...]:
        """What was changed on a part, the newest first."""
        return self.store.part_changes(part_id, limit)

    def copy_part(self, part_id: int) -> CataloguedPart:
        """Copy a part into an entry of the observer's own, which may then be changed."""
        part = self.store.part(part_id).part
        copy = part.model_copy(update={"model": f"{part.model} (copy)"[:120]})
        return self.add_part(copy)

    def rigs_using(self, part_id: int) -> tuple[RigLine, ...]:
        """Rigs that hold a part."""
        return self.store.rigs_using(part_id)

    def remove_part(self, part_id: int) -> None:
        """Take a part out of the catalogue. Raises PartInUseError with the rigs that hold it."""
        keep_parts.remove_part(self.store, self.observer, part_id)

    def set_holding(self, part_id: int, holding: Holding) -> None:
        """Say how many the observer owns, wishes for, considers."""
        self.store.set_holding(self.observer.id, part_id, holding)

    def wish_for(self, part: Part) -> CataloguedPart:
        """Put a part on the wish list, once; it is entered where the catalogue has none like it."""
        (known,) = self.store.same_parts([part])
        if known is None:
            return self.add_part(part, Holding(wished=1))
        held = self.holding(known)
        self.set_holding(known, replace(held, wished=max(1, held.wished)))
        return self.part(known)

    # Rigs and the bench
    def rigs(self) -> tuple[RigLine, ...]:
        """The observer's rigs."""
        return self.store.rigs(self.observer.id)

    def new_rig(self, name: str) -> StoredRig:
        """Begin a rig with an empty train."""
        return keep_rigs.new_rig(self.store, self.observer, name)

    def copy_rig(self, rig_id: int) -> StoredRig:
        """Begin a rig with the train and gear of one of the observer's own."""
        return keep_rigs.copy_rig(self.store, self.observer, rig_id)

    def rename_rig(self, rig_id: int, version: int, name: str) -> StoredRig:
        """Rename a rig of the observer's own."""
        return keep_rigs.rename_rig(self.store, self.observer, rig_id, version, name)

    def remove_rig(self, rig_id: int, version: int) -> None:
        """Remove a rig that has no entries."""
        keep_rigs.remove_rig(self.store, self.observer, rig_id, version)

    def bench(self, rig_id: int) -> BenchView:
        """A rig of the observer's own, checked."""
        return self._view(keep_rigs.own_rig(self.store, self.observer, rig_id))

    def change_rig(self, rig_id: int, version: int, change: Change) -> BenchView:
        """Make one change on the bench. Raises StaleVersionError, RefusedError, NotFoundError."""
        stored = keep_rigs.own_rig(self.store, self.observer, rig_id)
        keep_rigs.demand_version(stored, version)
        parts = self.store.parts(stored.plan.part_ids.union(assemble_train.new_parts_of(change)))
        keep_parts.demand_unmerged(parts)
        plan, done = assemble_train.apply_change(stored.plan, change, parts)
        if plan == stored.plan:
            return self._view(stored, parts)
        return self._view(self.store.change_rig(rig_id, version, plan, done), parts)

    def step_rig(self, rig_id: int, version: int, step: Literal[-1, 1]) -> BenchView:
        """Undo (-1) or redo (1)."""
        keep_rigs.own_rig(self.store, self.observer, rig_id)
        return self._view(self.store.step_rig(rig_id, version, step))

    def bridge(self, rig_id: int, wishes: Wishes) -> BridgeView:
        """A gap of a rig made a problem; why it cannot be one stands in `trouble`."""
        stored = keep_rigs.own_rig(self.store, self.observer, rig_id)
        plan = keep_sky.plan_at_site(self.store, stored)
        rig = build_rig(stored.name, plan, self.store.parts(plan.part_ids))
        stock, shelf = self.store.stock(), self.store.shelf(self.observer.id)
        key = (
            self.observer.id,
            plan,
            wishes,
            stock.stamp,
            _held(shelf),
        )
        gap: Gap | None = None
        try:
            gap = find_gap(rig, wishes)
            return BridgeView(stored, rig, gap, pose_gap(gap, wishes, stock, shelf), "", key)
        except RefusedError as error:
            return BridgeView(stored, rig, gap, None, error.message, key)

    def kit(self, rig_ids: Sequence[int], wishes: Wishes) -> KitView:
        """One kit for several rigs made a problem; why it cannot be one stands in `trouble`."""
        chosen = [keep_rigs.own_rig(self.store, self.observer, rig_id) for rig_id in rig_ids]
        sited = [keep_sky.plan_at_site(self.store, one) for one in chosen]
        rigs = [
            build_rig(one.name, plan, self.store.parts(plan.part_ids))
            for one, plan in zip(chosen, sited, strict=True)
        ]
        gaps = gaps_of(rigs, wishes)
        found = tuple(zip(chosen, rigs, gaps, strict=True))
        stock, shelf = self.store.stock(), self.store.shelf(self.observer.id)
        plans = tuple((one.id, plan) for one, plan in zip(chosen, sited, strict=True))
        key = (self.observer.id, plans, wishes, stock.stamp, _held(shelf))
        if not LEAST_RIGS <= len(chosen) <= MOST_RIGS:
            trouble = said("bridge.kit_rigs", least=LEAST_RIGS, most=MOST_RIGS)
            return KitView(found, None, trouble, key)
        good = [gap for gap in gaps if isinstance(gap, Gap)]
        if len(good) < len(gaps):
            return KitView(found, None, said("bridge.kit_gaps"), key)
        try:
            return KitView(found, pose_kit(good, wishes, stock, shelf), "", key)
        except RefusedError as error:
            return KitView(found, None, error.message, key)

    def _view(self, stored: StoredRig, parts: dict[int, CataloguedPart] | None = None) -> BenchView:
        needed = stored.plan.part_ids
        if parts is None or not needed <= parts.keys():
            parts = self.store.parts(needed)
        plan = keep_sky.plan_at_site(self.store, stored)
        rig = build_rig(stored.name, plan, parts)
        joiners = find_joiners(self.store, rig, self.observer.id)
        swaps = find_swaps(self.store, rig, self.observer.id)
        rings = find_rings(self.store, rig, self.observer.id)
        weights = find_weights(self.store, rig, self.observer.id)
        verdicts = run_checks(rig, joiners, rings, weights, swaps)
        return BenchView(stored, plan, rig, verdicts, joiners, self.tell)

    # The sky
    def sites(self) -> tuple[StoredSite, ...]:
        """The observer's sites, by name."""
        return self.store.sites(self.observer.id)

    def site(self, site_id: int) -> StoredSite:
        """A site of the observer's own. Raises NotFoundError."""
        return keep_sky.own_site(self.store, self.observer, site_id)

    def add_site(self, site: Site) -> StoredSite:
        """Keep a new site."""
        return keep_sky.add_site(self.store, self.observer, site)

    def change_site(self, site_id: int, revision: int, site: Site) -> StoredSite:
        """Keep a site anew. Raises StaleVersionError."""
        self.site(site_id)
        return self.store.change_site(site_id, revision, site)

    def remove_site(self, site_id: int) -> None:
        """Remove a site; rigs that are used there have none then."""
        self.site(site_id)
        self.store.remove_site(site_id)

    def set_rig_site(self, rig_id: int, site_id: int | None) -> None:
        """Say where a rig is usually used."""
        keep_sky.set_rig_site(self.store, self.observer, rig_id, site_id)

    def targets(self) -> tuple[ListedTarget, ...]:
        """The observer's list of targets, by name."""
        return self.store.targets(self.observer.id)

    def target(self, key: str) -> tuple[Target, ListedTarget | None]:
        """The target that an address names, and its line on the list. Raises NotFoundError."""
        return keep_sky.target_by_key(self.store, self.observer, key)

    def list_target(self, name: str) -> ListedTarget:
        """Put an object of the catalogue on the list."""
        return keep_sky.list_target(self.store, self.observer, name)

    def add_target(self, target: Target) -> ListedTarget:
        """Put an own target on the list. Raises FieldErrors("name")."""
        return keep_sky.add_own_target(self.store, self.observer, target)

    def change_target(self, target_id: int, revision: int, target: Target) -> ListedTarget:
        """Keep an own target anew. Raises StaleVersionError, FieldErrors("name")."""
        return keep_sky.change_own_target(self.store, self.observer, target_id, revision, target)

    def remove_target(self, target_id: int) -> None:
        """Take a target off the list."""
        keep_sky.own_target(self.store, self.observer, target_id)
        self.store.remove_target(target_id)

    def rigs_in_hand(self, rig_ids: Iterable[int]) -> tuple[tuple[StoredRig, Rig], ...]:
        """Rigs of the observer's own with their parts, unchecked. Raises NotFoundError."""
        chosen = [keep_rigs.own_rig(self.store, self.observer, rig_id) for rig_id in rig_ids]
        parts = self.store.parts({number for one in chosen for number in one.plan.part_ids})
        return tuple(
            (one, build_rig(one.name, keep_sky.plan_at_site(self.store, one), parts)) for one in chosen
        )

    # The Scout
    def kept_needs(self) -> tuple[StoredNeeds, ...]:
        """Needs that the observer has kept, by name."""
        return self.store.kept_needs(self.observer.id)

    def keep_needs(self, name: str, needs: Needs) -> None:
        """Keep needs by a name. Raises RefusedError for too many."""
        scout.keep_needs(self.store, self.observer, name, needs)

    def forget_needs(self, needs_id: int) -> None:
        """Forget needs. Raises NotFoundError."""
        self.store.forget_needs(self.observer.id, needs_id)

    def closing_of(self, parts: tuple[CataloguedPart, ...]) -> take_candidate.Closing:
        """How a candidate's back focus is closed, by what there is to be had."""
        rig = take_candidate.rig_to_close(parts)
        return take_candidate.close_gap(rig, self.store.stock(), self.store.shelf(self.observer.id))

    def look_at(self, rig: Rig) -> tuple[Finding, ...]:
        """What the checks say of a rig that nobody has built yet."""
        return tuple(map(self.tell, run_checks(rig)))

    def take_candidate(self, parts: tuple[CataloguedPart, ...]) -> StoredRig:
        """Put a candidate on the bench as a rig of its own: its rings by the Bridge, what is not owned wished
        for.
        """
        stored = self.new_rig(take_candidate.name_of(parts))
        for step in take_candidate.steps_of(parts):
            stored = self.change_rig(stored.id, stored.version, step).stored
        offer = self.closing_of(parts).offer
        if offer is not None:
            stored = self.change_rig(stored.id, stored.version, offer.change).stored
        needed = Counter(place.part_id for place in stored.plan.places)
        needed.update({gear.part_id: gear.quantity for gear in stored.plan.gear})
        held = self.holdings(needed)
        for number, count in needed.items():
            has = held.get(number, Holding())
            if count - has.at_hand > has.wished:
                self.set_holding(number, replace(has, wished=count - has.at_hand))
        return stored

    # Logbook
    def save_entry(self, rig_id: int, version: int, title: str, note: str) -> Entry:
        """Save the rig as it is now, for good."""
        view = self.bench(rig_id)
        keep_rigs.demand_version(view.stored, version)
        return save_entry.save_entry(
            self.store, self.observer, view.stored, view.rig, view.findings, title, note, self.now()
        )

    def entries(
        self, rig_id: int | None = None, *, limit: int | None = None, offset: int = 0
    ) -> tuple[Entry, ...]:
        """The logbook of all rigs or of one, newest first: at most `limit` behind the newest `offset`."""
        return self.store.entries(self.observer.id, rig_id, limit=limit, offset=offset)

    def entry_names(self) -> tuple[EntryName, ...]:
        """All entries by name, newest first, to choose from."""
        return self.store.entry_names(self.observer.id)

    def saved(self, entry_id: int) -> Entry:
        """An entry of the observer's own as it was saved, not judged anew. Raises NotFoundError."""
        return save_entry.own_entry(self.store, self.observer, entry_id)

    def entry_before(self, entry: Entry) -> Entry | None:
        """The entry before one of the same rig, None for the first."""
        return self.store.entry_before(entry)

    def entry(self, entry_id: int) -> EntryView:
        """Open an entry of the observer's own."""
        entry = save_entry.own_entry(self.store, self.observer, entry_id)
        rig = entry.document.build()
        present = self._present(entry.document)
        return EntryView(
            entry,
            rig,
            tuple(map(self.tell, run_checks(rig))),
            revised_parts(entry.document, present),
            tuple(frozen for frozen in entry.document.parts if frozen.id not in present),
            self.store.shares(entry_id),
        )

    def _present(self, document: EntryDocument) -> dict[int, CataloguedPart]:
        return self.store.known_parts([part.id for part in document.parts])

    def compare(self, earlier_id: int, later_id: int) -> EntryChanges:
        """What changed between two entries."""
        earlier = save_entry.own_entry(self.store, self.observer, earlier_id)
        later = save_entry.own_entry(self.store, self.observer, later_id)
        return compare_documents(earlier.document, later.document)

    def bring_back(self, entry_id: int) -> StoredRig:
        """Make an entry's train the present one of its rig again; undo takes it back."""
        return save_entry.bring_back(self.store, self.observer, entry_id)

    # Sharing
    def share(self, entry_id: int) -> Share:
        """Make a link to an entry."""
        return share_entry.share(self.store, self.observer, entry_id, self.now())

    def withdraw(self, entry_id: int, share_id: int) -> Share:
        """Withdraw a link."""
        return share_entry.withdraw(self.store, self.observer, entry_id, share_id, self.now())

    def take_in(self, document: EntryDocument) -> Arrival:
        """Take in an entry of another install, read already: its parts, its rig, and the entry itself."""
        return take_in_entry.take_in(self.store, self.observer, document)

    def put_on_shelf(self, token: str) -> Arrival:
        """Copy what a link shows onto this observer's shelf: parts, rig and entry."""
        shared = share_entry.open_share(self.store, token)
        return take_in_entry.take_in(self.store, self.observer, shared.document)
