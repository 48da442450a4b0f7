"""Load the demo club: its files of typed text become observers, parts, shelves, rigs, a logbook and a sky.

The rigs are built by the verbs of the bench, one change after the other, so that their undo has a history.
The entries are saved in the order of their dates, and a part whose figures were put right after an entry is
stored with its old figures first, so that the logbook has something to say about it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from difflib import SequenceMatcher
from pathlib import Path

from server.domain.errors import FieldErrors, NotFoundError, RefusedError
from server.domain.observer import Observer
from server.domain.parts import CataloguedPart, Part
from server.domain.rig import PlacePlan, RigPlan, build_rig
from server.domain.scout.needs import USUAL_LIKES
from server.flow.assemble_train import (
    AddPart,
    Change,
    FlipPart,
    PutFilter,
    RemovePart,
    SetGear,
    SetLength,
    SetLoad,
    SwapPart,
    TakeFilter,
    apply_change,
)
from server.flow.keep_sky import add_own_target, add_site, set_rig_site
from server.flow.protocols import Store, StoredRig
from server.flow.run_checks import find_joiners, find_rings, find_swaps, find_weights, run_checks
from server.flow.save_entry import save_entry
from server.rim.demo_files import (
    DemoClub,
    EntryFile,
    FramesFile,
    ListFile,
    NeedsFile,
    PartFile,
    PlaceFile,
    RigFile,
    SiteFile,
    Texts,
    load_of,
    read_demo_club,
    slugs_of,
)
from server.rim.forms import read_part
from server.rim.phrasebook.tell import tell
from server.rim.scout_needs import read_needs
from server.rim.sky_forms import read_site, read_target


@dataclass(frozen=True)
class DemoSummary:
    """What was loaded: the club's name, its observers in the files' order, and how many of each thing."""

    club: str
    observers: tuple[Observer, ...]
    parts: int
    rigs: int
    entries: int


def load_demo_club(store: Store, folder: Path) -> DemoSummary:
    """Put the demo club into a store, all in its one unit of work, and return what was loaded.

    Args:
        store: an open unit that may write; the caller commits it.
        folder: the folder with club.toml, rigs.toml, logbook.toml, sky.toml and parts/.

    Raises:
        RefusedError: where an observer of one of the names is here already, or the files hold a mistake; the
            sentence says where. The caller then keeps nothing of the unit.
    """
    club = read_demo_club(folder)
    here = {observer.name.casefold() for observer in store.observers()}
    taken = [observer.name for observer in club.observers if observer.name.casefold() in here]
    if taken:
        raise RefusedError(
            f"The demo club was not loaded: {taken[0]} is an observer here already. It is loaded once; "
            "to load it anew, start with another, empty data folder."
        )
    return _Loading(store, club).load()


class _Loading:
    """The state of one load: what the store has given so far, by slug."""

    def __init__(self, store: Store, club: DemoClub) -> None:
        self.store = store
        self.club = club
        self.observers: dict[str, Observer] = {}
        self.items: dict[str, CataloguedPart] = {}
        self.texts: dict[str, Texts] = {}
        self.rigs: dict[str, StoredRig] = {}

    def load(self) -> DemoSummary:
        """Load everything, the logbook's days in their order."""
        for one in self.club.observers:
            self.observers[one.slug] = self.store.add_observer(one.name, one.units)
        for slug, part in self.club.parts.items():
            self.texts[slug] = self._first_texts(part)
            read = _read(part, self.texts[slug])
            self.items[slug] = self.store.add_part(read, self.observers[part.entered_by].id)
        for one in self.club.observers:
            for slug, holding in one.shelf.items():
                self.store.set_holding(self.observers[one.slug].id, self.items[slug].id, holding)
        for rig in self.club.rigs:
            owner = self.observers[rig.observer].id
            self.rigs[rig.slug] = self.store.add_rig(owner, rig.name, RigPlan(rules=rig.rules))
        for entry in self.club.entries:
            self._save(entry)
        for slug in self.club.parts:
            self._correct(slug, {})
        for rig in self.club.rigs:
            self._bring(rig.slug, rig.places, rig.gear)
            for slug in rig.branch:
                change = AddPart(part_id=self.items[slug].id, branch=True)
                self._change(rig.slug, change, self._by_number())
            self._say_load(rig)
        for site in self.club.sites:
            self._keep_site(site)
        for one_list in self.club.lists:
            self._list_targets(one_list)
        for needs in self.club.needs:
            self._keep_needs(needs)
        for frames in self.club.frames:
            self._keep_frames(frames)
        return DemoSummary(
            self.club.name,
            tuple(self.observers.values()),
            len(self.items),
            len(self.rigs),
            len(self.club.entries),
        )

    def _keep_frames(self, frames: FramesFile) -> None:
        rig = self.rigs[frames.rig]
        (entry,) = (
            one.id
            for one in self.store.entries(rig.observer_id, rig.id)
            if one.document.title == frames.entry
        )
        self.store.add_measured(rig.observer_id, rig.id, entry, frames.name, frames.measured)

    def _keep_site(self, site: SiteFile) -> None:
        observer = self.observers[site.observer]
        with _refused(site.texts["name"]):
            stored = add_site(self.store, observer, read_site(site.texts))
        for slug in site.rigs:
            set_rig_site(self.store, observer, self.rigs[slug].id, stored.id)

    def _list_targets(self, one: ListFile) -> None:
        observer = self.observers[one.observer]
        for name in one.targets:
            # Not asked of the catalogue, which would bring it into memory; a test asks.
            self.store.add_target(observer.id, name, None)
        for texts in one.own:
            with _refused(texts["name"]):
                add_own_target(self.store, observer, read_target(texts))

    def _keep_needs(self, one: NeedsFile) -> None:
        observer = self.observers[one.observer]
        with _refused(one.name):
            site = next(stored for stored in self.store.sites(observer.id) if stored.site.name == one.site)
            chosen = {
                "targets": one.targets,
                "site_id": site.id,
                "cameras": tuple(self.items[slug].id for slug in one.cameras),
                "considered": True,
            }
            needs, errors = read_needs(one.texts, USUAL_LIKES, (), chosen)
            if errors:
                raise FieldErrors(errors)
            self.store.keep_needs(observer.id, one.name, needs)

    def _first_texts(self, part: PartFile) -> Texts:
        """What was typed when the part was entered: what the first entry that knows it otherwise says."""
        for entry in self.club.entries:
            if part.slug in entry.then:
                return part.texts | entry.then[part.slug]
        return part.texts

    def _correct(self, slug: str, then: Texts) -> None:
        """Let the catalogue say of a part what it said on that day; a new revision only where that is new."""
        part = self.club.parts[slug]
        wanted = part.texts | then
        if wanted != self.texts[slug]:
            self.texts[slug] = wanted
            item = self.items[slug]
            self.items[slug] = self.store.change_part(item.id, _read(part, wanted), item.entered_by)

    def _say_load(self, rig: RigFile) -> None:
        """What the owner says of the load; nothing changes where it was said already."""
        if rig.load:
            numbers = {slug: item.id for slug, item in self.items.items()}
            self._change(rig.slug, SetLoad(load=load_of(rig.load, numbers)), self._by_number())

    def _save(self, entry: EntryFile) -> None:
        for slug in slugs_of(entry.places, entry.gear):
            self._correct(slug, entry.then.get(slug, {}))
        self._bring(entry.rig, entry.places, entry.gear)
        self._say_load(next(rig for rig in self.club.rigs if rig.slug == entry.rig))
        stored = self.rigs[entry.rig]
        observer = self.store.observer(stored.observer_id)
        rig = build_rig(stored.name, stored.plan, self._by_number())
        joiners = find_joiners(self.store, rig, observer.id)
        swaps = find_swaps(self.store, rig, observer.id)
        rings = find_rings(self.store, rig, observer.id)
        verdicts = run_checks(rig, joiners, rings, find_weights(self.store, rig, observer.id), swaps)
        findings = tuple(map(tell, verdicts))
        save_entry(self.store, observer, stored, rig, findings, entry.title, entry.note, entry.saved_at)

    def _bring(self, slug: str, places: tuple[PlaceFile, ...], gear: Mapping[str, int]) -> None:
        """Change a rig until it stands as asked, one change of the bench after the other."""
        parts = self._by_number()
        numbers = {slug: item.id for slug, item in self.items.items()}
        for step in (_train_changes, _place_changes):
            for change in step(self.rigs[slug].plan, places, numbers, parts):
                self._change(slug, change, parts)
        for change in _gear_changes(self.rigs[slug].plan, gear, numbers):
            self._change(slug, change, parts)

    def _change(self, slug: str, change: Change, parts: Mapping[int, CataloguedPart]) -> None:
        stored = self.rigs[slug]
        plan, done = apply_change(stored.plan, change, parts)
        if plan != stored.plan:
            self.rigs[slug] = self.store.change_rig(stored.id, stored.version, plan, done)

    def _by_number(self) -> dict[int, CataloguedPart]:
        return {item.id: item for item in self.items.values()}


def _train_changes(
    plan: RigPlan,
    places: tuple[PlaceFile, ...],
    numbers: Mapping[str, int],
    parts: Mapping[int, CataloguedPart],
) -> Iterator[Change]:
    """What makes the train hold the asked parts in the asked order.

    The edits come from the camera end to the sky end, so that an index counted in the old train still holds.
    Additions at one joint come one behind the other, which keeps an empty train growing from the sky.
    """
    old = [place.part_id for place in plan.places]
    new = [numbers[place.part] for place in places]
    edits = SequenceMatcher(None, old, new, autojunk=False).get_opcodes()
    for what, start, stop, low, high in reversed(edits):
        if what == "equal":
            continue
        pairs = list(zip(range(start, stop), new[low:high], strict=False))
        alike = all(parts[old[at]].kind == parts[number].kind for at, number in pairs)
        if what == "replace" and stop - start == high - low and alike:
            for at, number in pairs:
                yield SwapPart(place=plan.places[at].key, part_id=number)
            continue
        for at in range(start, stop):
            yield RemovePart(place=plan.places[at].key)
        for offset, number in enumerate(new[low:high]):
            yield AddPart(part_id=number, at=start + offset)


def _place_changes(
    plan: RigPlan,
    places: tuple[PlaceFile, ...],
    numbers: Mapping[str, int],
    parts: Mapping[int, CataloguedPart],  # noqa: ARG001 - called like `_train_changes`
) -> Iterator[Change]:
    """What turns, sets and fills the places of a train that holds the asked parts already."""
    for now, asked in zip(plan.places, places, strict=True):
        if now.flipped != asked.flipped:
            yield FlipPart(place=now.key)
        if asked.set_length_mm is not None and now.set_length_mm != asked.set_length_mm:
            yield SetLength(place=now.key, length_mm=asked.set_length_mm)
        yield from _filter_changes(now, [numbers[slug] for slug in asked.inside])


def _filter_changes(now: PlacePlan, asked: list[int]) -> Iterator[Change]:
    if list(now.inside) == asked:
        return
    for number in now.inside:
        if number not in asked:
            yield TakeFilter(place=now.key, part_id=number)
    # Each filter that is put in comes to the front, into the beam, so the last one goes in first.
    for number in reversed(asked):
        yield PutFilter(place=now.key, part_id=number)


def _gear_changes(plan: RigPlan, gear: Mapping[str, int], numbers: Mapping[str, int]) -> Iterator[Change]:
    asked = {numbers[slug]: quantity for slug, quantity in gear.items()}
    now = {one.part_id: one.quantity for one in plan.gear}
    for number in now:
        if number not in asked:
            yield SetGear(part_id=number, quantity=0)
    for number, quantity in asked.items():
        if now.get(number) != quantity:
            yield SetGear(part_id=number, quantity=quantity)


def _read(part: PartFile, texts: Texts) -> Part:
    with _refused(f"part {part.slug}"):
        return read_part(part.kind, texts)


@contextmanager
def _refused(what: str) -> Iterator[None]:
    try:
        yield
    except (FieldErrors, NotFoundError) as error:
        raise RefusedError(f"The demo club's {what} is not taken: {error.message}") from None
