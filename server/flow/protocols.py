"""What the flow asks of a store. One object is one unit of work: all its changes are kept together, or none.

The door that opened the unit commits it; no verb does.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime
from typing import Literal, Protocol

from server.domain.connections import Connection
from server.domain.entry import Entry, EntryDocument, Share
from server.domain.frames.measured import Measured, StoredMeasured
from server.domain.measure import Money
from server.domain.observer import Holding, Observer, UnitSystem
from server.domain.part_history import PartChange
from server.domain.parts import CataloguedPart, Part
from server.domain.rig import RigPlan
from server.domain.said import Words
from server.domain.scout.needs import Needs, StoredNeeds
from server.domain.sky.site import Site, StoredSite
from server.domain.sky.target import ListedTarget, Target
from server.domain.train import BRANCH_KINDS

HoldingFilter = Literal["catalogue", "shelf", "owned", "wished", "considered"]
Whose = HoldingFilter | Literal["lent", "at_hand"]
"""Beside what observers have: what their club lends, and this with their shelf."""


@dataclass(frozen=True)
class PartQuery:
    """What to look for in the catalogue.

    Attributes:
        text: words over all fields; every word must be found, as the beginning of a word. Empty: no demand.
        kind: one kind, or empty.
        connection: offers this connection at either side (gender counts where it is known), or None.
        mates_with: has a side that mates with this connection, or None.
        holding: "catalogue" for all parts, else what the observer has of them ("shelf": any of the three;
            "lent": what their club lends; "at_hand": both).
        observer_id: whose holdings are meant and returned.
        offset, limit: which lines; limit at most 200.
    """

    observer_id: int
    text: str = ""
    kind: str = ""
    connection: Connection | None = None
    mates_with: Connection | None = None
    holding: Whose = "catalogue"
    offset: int = 0
    limit: int = 50


@dataclass(frozen=True)
class ShelfLine:
    """A part with what the observer has of it."""

    item: CataloguedPart
    holding: Holding


@dataclass(frozen=True)
class PartPage:
    """One page of lines. `total` is exact up to `counted_to`; beyond that it is at least that many.

    `by_name` is False where a text found so many parts that they come in the order they were entered instead.
    """

    lines: tuple[ShelfLine, ...]
    total: int
    counted_to: int
    offset: int
    by_name: bool = True


@dataclass(frozen=True)
class Remembered:
    """What was typed before and may be typed again: makers, and connections without their lengths.

    The most frequent first.
    """

    makers: tuple[str, ...]
    connections: tuple[Connection, ...]


STOCK_KINDS = BRANCH_KINDS
"""The kinds that stacks are built of."""


@dataclass(frozen=True, eq=False)
class Stock:
    """Every part of the catalogue that a stack can be built of.

    One object stands for one state of the catalogue, which `stamp` names: what is made from it is kept by it.
    """

    stamp: tuple[int, ...]
    parts: tuple[CataloguedPart, ...]


@dataclass(frozen=True)
class RigLine:
    """A rig in a list."""

    id: int
    observer_id: int
    name: str
    version: int
    changed_at: datetime
    parts: int
    entries: int


@dataclass(frozen=True)
class EntryName:
    """What a list to choose entries from says of one: far quicker to read than the whole entry.

    Attributes:
        rig: the rig's name when it was saved.
    """

    id: int
    rig_id: int
    number: int
    rig: str
    title: str
    saved_at: datetime


@dataclass(frozen=True)
class StoredRig:
    """A rig as it is stored, with where its undo stands.

    Attributes:
        version: goes up by one with every change, undo and redo; a change names the version it was made on.
        undo_words, redo_words: what would be undone or redone, "" where there is nothing; text alone where it
            was stored as such once.
    """

    id: int
    observer_id: int
    name: str
    version: int
    plan: RigPlan
    undo_words: Words = ""
    redo_words: Words = ""
    site_id: int | None = None


class Store(Protocol):
    """One unit of work over observers, catalogue, shelves, rigs, entries and shares.

    A number that is not there raises NotFoundError.
    """

    # Observers
    def observers(self) -> tuple[Observer, ...]:
        """Everyone of this install, by name."""
        ...

    def observer(self, observer_id: int) -> Observer:
        """One observer."""
        ...

    def add_observer(self, name: str, units: UnitSystem) -> Observer:
        """Raises FieldErrors("name") where the name is taken (letter case apart)."""
        ...

    def set_units(self, observer_id: int, units: UnitSystem) -> None:
        """Choose the units that an observer reads."""
        ...

    # Catalogue
    def part(self, part_id: int) -> CataloguedPart:
        """One part as the catalogue holds it."""
        ...

    def parts(self, part_ids: Iterable[int]) -> dict[int, CataloguedPart]:
        """Raises NotFoundError where one is missing."""
        ...

    def known_parts(self, part_ids: Iterable[int]) -> dict[int, CataloguedPart]:
        """Those of the parts that are in the catalogue, by the numbers asked for; the others are left out.
        For one that was merged into another stands that one.
        """
        ...

    def same_part(self, part: Part) -> CataloguedPart | None:
        """A catalogue entry that says word for word the same, None where there is none."""
        ...

    def same_parts(self, parts: Sequence[Part]) -> list[int | None]:
        """The number of such an entry for each of many parts, in their order."""
        ...

    def find_parts(self, query: PartQuery) -> PartPage:
        """One page of what a query finds."""
        ...

    def add_part(self, part: Part, observer_id: int) -> CataloguedPart:
        """Enter a part."""
        ...

    def add_parts(self, parts: Sequence[Part], observer_id: int) -> list[int]:
        """Enter many parts at once; their numbers, in the same order."""
        ...

    def change_part(self, part_id: int, part: Part, by: int) -> CataloguedPart:
        """Store a new revision, and who changed what."""
        ...

    def part_changes(self, part_id: int, limit: int) -> tuple[PartChange, ...]:
        """What was changed on a part and on doubles that were merged into it, the newest first."""
        ...

    def is_steward(self, observer_id: int) -> bool:
        """Whether an observer looks after the club; nobody does in the local form."""
        ...

    def log_steward(self, what: str, by: int, about: int) -> None:
        """Write a line of the log of stewards' acts."""
        ...

    def keep_price(self, observer_id: int, part_id: int, price: Money | None) -> None:
        """Say what a part costs this observer, where prices are each one's own; else nothing happens."""
        ...

    def remove_part(self, part_id: int) -> None:
        """Take a part that no rig's present or undoable state needs out of the catalogue and off shelves."""
        ...

    def rigs_using(self, part_id: int) -> tuple[RigLine, ...]:
        """Rigs whose present state, or a state that undo or redo can reach, holds the part."""
        ...

    def remembered(self, observer_id: int) -> Remembered:
        """Makers and connections of the observer's shelf and of the newest parts of the catalogue."""
        ...

    def joiners(
        self, camera_side: Connection, sky_side: Connection, observer_id: int, limit: int = 5
    ) -> tuple[ShelfLine, ...]:
        """Adapters and rings of the observer's shelf, and to be borrowed, that mate with both: with
        `camera_side` at one end and `sky_side` at the other, turned round where they are reversible; owned
        first, then short before long.
        """
        ...

    # Shelf
    def holdings(self, observer_id: int, part_ids: Iterable[int]) -> Mapping[int, Holding]:
        """What an observer has of these parts, and may borrow; where that is nothing, they are left out."""
        ...

    def shelf(self, observer_id: int) -> Mapping[int, Holding]:
        """All that an observer has, and may borrow, by the part's number."""
        ...

    def stock(self) -> Stock:
        """Every part of the catalogue that a stack can be built of; the same object as long as the catalogue
        stays the same.
        """
        ...

    def set_holding(self, observer_id: int, part_id: int, holding: Holding) -> None:
        """Say what an observer has of a part."""
        ...

    def set_holdings(self, observer_id: int, holdings: Mapping[int, Holding]) -> None:
        """Say what an observer has of many parts, by their numbers; the others stay as they are."""
        ...

    # Rigs
    def rigs(self, observer_id: int) -> tuple[RigLine, ...]:
        """An observer's rigs, last changed first."""
        ...

    def rig(self, rig_id: int) -> StoredRig:
        """One rig in its present state."""
        ...

    def add_rig(self, observer_id: int, name: str, plan: RigPlan) -> StoredRig:
        """Begin a rig with this state."""
        ...

    def rename_rig(self, rig_id: int, expected_version: int, name: str) -> StoredRig:
        """Rename; counts as a change of version. Raises StaleVersionError."""
        ...

    def remove_rig(self, rig_id: int) -> None:
        """Remove a rig with its states. Raises RefusedError where it has entries: they never lose it."""
        ...

    def change_rig(self, rig_id: int, expected_version: int, plan: RigPlan, done: Words) -> StoredRig:
        """Append a state. `done` says what changed ("moved X"), for undo. Raises StaleVersionError."""
        ...

    def step_rig(self, rig_id: int, expected_version: int, step: Literal[-1, 1]) -> StoredRig:
        """Undo or redo. Raises StaleVersionError, and RefusedError where there is nothing to step to."""
        ...

    # The sky
    def sites(self, observer_id: int) -> tuple[StoredSite, ...]:
        """An observer's sites, by name."""
        ...

    def site(self, site_id: int) -> StoredSite:
        """One site."""
        ...

    def add_site(self, observer_id: int, site: Site) -> StoredSite:
        """A new site."""
        ...

    def change_site(self, site_id: int, revision: int, site: Site) -> StoredSite:
        """Store a site anew. Raises StaleVersionError."""
        ...

    def remove_site(self, site_id: int) -> None:
        """Remove a site; rigs that are used there have none then."""
        ...

    def set_rig_site(self, rig_id: int, site_id: int | None) -> None:
        """Say where a rig is usually used."""
        ...

    def targets(self, observer_id: int) -> tuple[ListedTarget, ...]:
        """An observer's list of targets, by name."""
        ...

    def target(self, target_id: int) -> ListedTarget:
        """One line of a list."""
        ...

    def add_target(self, observer_id: int, name: str, target: Target | None) -> ListedTarget:
        """Put a target on the list: one's own, or (None) the catalogue's of the name. Raises
        FieldErrors("name") where the list has that name.
        """
        ...

    def change_target(self, target_id: int, revision: int, target: Target) -> ListedTarget:
        """Store an own target anew. Raises StaleVersionError, FieldErrors("name")."""
        ...

    def remove_target(self, target_id: int) -> None:
        """Take a target off the list."""
        ...

    def kept_needs(self, observer_id: int) -> tuple[StoredNeeds, ...]:
        """An observer's needs, by name."""
        ...

    def keep_needs(self, observer_id: int, name: str, new: Needs) -> None:
        """Keep needs by a name, in place of those that have it."""
        ...

    def forget_needs(self, observer_id: int, needs_id: int) -> None:
        """Forget needs of the observer's. Raises NotFoundError."""
        ...

    # Frames
    def measurements(self, observer_id: int, rig_id: int) -> tuple[StoredMeasured, ...]:
        """What a rig's own frames said, newest first."""
        ...

    def measurements_of_entry(self, entry_id: int) -> tuple[StoredMeasured, ...]:
        """Those that belong to an entry, newest first."""
        ...

    def measured(self, measured_id: int) -> StoredMeasured:
        """One of them."""
        ...

    def add_measured(
        self, observer_id: int, rig_id: int, entry_id: int | None, name: str, new: Measured
    ) -> StoredMeasured:
        """Keep one."""
        ...

    def change_measured(self, measured_id: int, new: Measured) -> None:
        """Store one anew."""
        ...

    def remove_measured(self, measured_id: int) -> None:
        """Remove one."""
        ...

    # Logbook
    def entries(
        self, observer_id: int, rig_id: int | None = None, *, limit: int | None = None, offset: int = 0
    ) -> tuple[Entry, ...]:
        """Newest first: at most `limit` of them behind the newest `offset`."""
        ...

    def entry_names(self, observer_id: int) -> tuple[EntryName, ...]:
        """All of the observer's entries by name, newest first."""
        ...

    def entry_before(self, one: Entry) -> Entry | None:
        """The entry before it of the same rig, None for the first."""
        ...

    def entry(self, entry_id: int) -> Entry:
        """One entry."""
        ...

    def add_entry(self, rig_id: int, document: EntryDocument) -> Entry:
        """Append an entry to a rig; it never changes again."""
        ...

    # Shares
    def shares(self, entry_id: int) -> tuple[Share, ...]:
        """An entry's links, newest first, withdrawn ones too."""
        ...

    def add_share(self, entry_id: int, token: str, at: datetime) -> Share:
        """Make a link."""
        ...

    def share_by_token(self, token: str) -> Share:
        """Raises NotFoundError for an unknown or a withdrawn token."""
        ...

    def withdraw_share(self, share_id: int, at: datetime) -> Share:
        """Withdraw a link; one that is withdrawn stays so."""
        ...


class Stores(Protocol):
    """Where units of work come from.

    A clean exit of the context keeps what was done; an error keeps none of it.
    """

    def writing(self) -> AbstractContextManager[Store]:
        """A unit that may write; the only one at its time."""
        ...

    def reading(self) -> AbstractContextManager[Store]:
        """A unit that sees one state and cannot write."""
        ...

    def close(self) -> None:
        """Let go of the database."""
        ...
