"""The demo club's files, read and cross-checked, before anything of them goes into a store.

How they are written: README.md in their folder. A mistake in them is refused with the place where it stands.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from server.domain.errors import RefusedError
from server.domain.fields import FieldSpec
from server.domain.frames.measured import Measured
from server.domain.load_plan import LoadPlan
from server.domain.measure import Frozen
from server.domain.observer import Holding, UnitSystem
from server.domain.parts import KINDS, specs_of
from server.domain.rig import Rules
from server.rim.scout_needs import NEED_SPECS
from server.rim.sky_forms import SITE_SPECS, TARGET_SPECS
from server.units import with_article

Texts = dict[str, str]
"""Field name -> what a person typed."""

_HOLDING = re.compile(r"(?P<what>owned|wished|considered)(?: (?P<count>[0-9]{1,3}))?")
_ABOUT_THE_PART = ("slug", "kind", "entered_by")


@dataclass(frozen=True)
class PartFile:
    """One part as the files have it: slug, kind, who entered it (an observer's slug), the typed texts."""

    slug: str
    kind: str
    entered_by: str
    texts: Texts


@dataclass(frozen=True)
class PlaceFile:
    """One place of a train: a part's slug, and how it stands there."""

    part: str
    flipped: bool = False
    inside: tuple[str, ...] = ()
    set_length_mm: float | None = None


@dataclass(frozen=True)
class ObserverFile:
    """One observer with their shelf, by part slug."""

    slug: str
    name: str
    units: UnitSystem
    shelf: dict[str, Holding]


@dataclass(frozen=True)
class RigFile:
    """One rig as it stands now: `gear` is how many of each part, by slug; `branch` what stands before the
    guide camera of an off-axis guider; `load` the plan of its load, parts by slug.
    """

    slug: str
    observer: str
    name: str
    places: tuple[PlaceFile, ...]
    gear: dict[str, int]
    rules: Rules
    branch: tuple[str, ...] = ()
    load: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class EntryFile:
    """One saved entry; `then` holds the texts by which its parts differed on that day."""

    rig: str
    saved_at: datetime
    title: str
    note: str
    places: tuple[PlaceFile, ...]
    gear: dict[str, int]
    then: dict[str, Texts]


@dataclass(frozen=True)
class SiteFile:
    """One site: whose it is, the typed texts, and the rigs that are usually used there, by slug."""

    observer: str
    texts: Texts
    rigs: tuple[str, ...]


@dataclass(frozen=True)
class ListFile:
    """One observer's list of targets: names of the catalogue's, and the typed texts of their own ones."""

    observer: str
    targets: tuple[str, ...]
    own: tuple[Texts, ...]


@dataclass(frozen=True)
class NeedsFile:
    """What one observer asks of the Scout: the typed texts, where, of which targets of the list, with which
    cameras, by slug.
    """

    observer: str
    name: str
    texts: Texts
    site: str
    targets: tuple[str, ...]
    cameras: tuple[str, ...]


class FramesFile(Frozen):
    """What frames of a rig said: the rig's slug, the title of the entry that it belongs to, its name."""

    rig: str
    entry: str
    name: str
    measured: Measured


@dataclass(frozen=True)
class DemoClub:
    """All that the files say."""

    name: str
    observers: tuple[ObserverFile, ...]
    parts: dict[str, PartFile]
    rigs: tuple[RigFile, ...]
    entries: tuple[EntryFile, ...]
    sites: tuple[SiteFile, ...]
    lists: tuple[ListFile, ...]
    needs: tuple[NeedsFile, ...]
    frames: tuple[FramesFile, ...]


def read_demo_club(folder: Path) -> DemoClub:
    """Read and cross-check the files. Raises RefusedError with the place of a mistake."""
    about = _toml(folder / "club.toml")
    with _mistakes_in("club.toml"):
        observers = tuple(_observer(row) for row in about["observer"])
    parts: dict[str, PartFile] = {}
    for path in sorted((folder / "parts").glob("*.toml")):
        with _mistakes_in(f"parts/{path.name}"):
            for row in _toml(path)["part"]:
                part = _part(row)
                if part.slug in parts:
                    raise ValueError(f"the slug {part.slug} is given twice")
                parts[part.slug] = part
    with _mistakes_in("rigs.toml"):
        rigs = tuple(_rig(row) for row in _toml(folder / "rigs.toml")["rig"])
    with _mistakes_in("logbook.toml"):
        entries = tuple(_entries(_toml(folder / "logbook.toml")["entry"], rigs))
    with _mistakes_in("sky.toml"):
        about_sky = _toml(folder / "sky.toml")
        sites = tuple(map(_site, about_sky["site"]))
        lists = tuple(map(_list, about_sky["list"]))
        needs = tuple(map(_needs, about_sky["needs"]))
    frames = []
    for path in sorted((folder / "frames").glob("*.json")):
        with _mistakes_in(f"frames/{path.name}"):
            frames.append(FramesFile.model_validate_json(path.read_bytes()))
    by_day = tuple(sorted(frames, key=lambda one: one.measured.made_at))
    club = DemoClub(str(about["name"]), observers, parts, rigs, entries, sites, lists, needs, by_day)
    _demand_known(club)
    return club


@contextmanager
def _mistakes_in(file: str) -> Iterator[None]:
    """Turn what a wrong file raises into a refusal that names the file."""
    try:
        yield
    except KeyError as error:
        raise RefusedError(f"The demo club's {file} lacks {error}.") from None
    except (ValueError, TypeError, AttributeError) as error:
        raise RefusedError(f"The demo club's {file} holds a mistake: {error}.") from None


def _toml(path: Path) -> dict[str, Any]:
    try:
        with path.open("rb") as file:
            return tomllib.load(file)
    except OSError:
        raise RefusedError(f"The demo club's files are not complete: {path.name} cannot be read.") from None
    except ValueError as error:
        raise RefusedError(f"The demo club's {path.name} is not valid TOML: {error}.") from None


def _text(value: Any) -> str:
    """A field's text; a list of rows becomes one line a row, as the form has it."""
    if isinstance(value, list):
        return "\n".join(": ".join(str(cell) for cell in row) for row in value)
    if not isinstance(value, str):
        raise ValueError(f"{value!r} is not text; write it as it is typed, in quotes")
    return value


def _part(row: Mapping[str, Any]) -> PartFile:
    slug, kind = row["slug"], row["kind"]
    if kind not in KINDS:
        raise ValueError(f"{slug} is of the unknown kind {kind}")
    texts = {name: _text(value) for name, value in row.items() if name not in _ABOUT_THE_PART}
    _demand_fields(slug, kind, texts)
    return PartFile(slug, kind, row["entered_by"], texts)


def _demand_fields(slug: str, kind: str, texts: Iterable[str]) -> None:
    strange = sorted(set(texts) - {spec.name for spec in specs_of(kind)})
    if strange:
        raise ValueError(
            f"{slug} has the field {strange[0]}, which {with_article(KINDS[kind].kind_words)} has not"
        )


def _observer(row: Mapping[str, Any]) -> ObserverFile:
    units: UnitSystem = "imperial" if row["units"] == "imperial" else "metric"
    shelf = {slug: _holding(slug, text) for slug, text in row["shelf"].items()}
    return ObserverFile(row["slug"], row["name"], units, shelf)


def _holding(slug: str, text: str) -> Holding:
    counts: dict[str, int] = {}
    for piece in text.split(","):
        found = _HOLDING.fullmatch(piece.strip())
        if found is None:
            raise ValueError(f'“{text}” of {slug} is not like "owned", "wished 2" or "owned 2, considered 1"')
        counts[found["what"]] = int(found["count"] or 1)
    return Holding(**counts)


def _place(row: str | Mapping[str, Any]) -> PlaceFile:
    if isinstance(row, str):
        return PlaceFile(row)
    return PlaceFile(
        row["part"], row.get("flipped", False), tuple(row.get("inside", ())), row.get("set_length_mm")
    )


def _gear(rows: Iterable[str | Mapping[str, Any]]) -> dict[str, int]:
    tables: list[dict[str, Any]] = [
        {"part": row, "quantity": 1} if isinstance(row, str) else dict(row) for row in rows
    ]
    return {str(table["part"]): int(table["quantity"]) for table in tables}


def _rig(row: Mapping[str, Any]) -> RigFile:
    places = tuple(_place(place) for place in row["places"])
    rules = Rules.model_validate(row.get("rules", {}))
    branch = tuple(row.get("branch", ()))
    load = row.get("load", {})
    return RigFile(row["slug"], row["observer"], row["name"], places, _gear(row["gear"]), rules, branch, load)


def _typed(row: Mapping[str, Any], specs: Iterable[FieldSpec], but: tuple[str, ...] = ()) -> Texts:
    texts = {name: _text(value) for name, value in row.items() if name not in but}
    strange = sorted(set(texts) - {spec.name for spec in specs})
    if strange:
        raise ValueError(f"{row['name']} has the field {strange[0]}, which nobody asks for")
    return texts


def _site(row: Mapping[str, Any]) -> SiteFile:
    texts = _typed(row, SITE_SPECS, ("observer", "rigs"))
    return SiteFile(row["observer"], texts, tuple(row.get("rigs", ())))


def _list(row: Mapping[str, Any]) -> ListFile:
    own = tuple(_typed(one, TARGET_SPECS) for one in row.get("own", ()))
    return ListFile(row["observer"], tuple(row["targets"]), own)


def _needs(row: Mapping[str, Any]) -> NeedsFile:
    chosen = ("observer", "name", "site", "targets", "cameras")
    texts = _typed(row, NEED_SPECS, chosen)
    return NeedsFile(
        row["observer"], row["name"], texts, row["site"], tuple(row["targets"]), tuple(row["cameras"])
    )


def load_of(load: Mapping[str, Any], numbers: Mapping[str, int]) -> LoadPlan:
    """The plan of a load as a file says it, its parts by their catalogue numbers. Raises ValueError."""

    def numbered(row: Mapping[str, Any]) -> dict[str, Any]:
        found = {name: value for name, value in row.items() if name not in ("part", "parts")}
        if "part" in row:
            found["part_id"] = numbers[row["part"]]
        if "parts" in row:
            found["parts"] = tuple(numbers[slug] for slug in row["parts"])
        return found

    return LoadPlan.model_validate(
        {
            name: tuple(numbered(row) for row in value) if isinstance(value, list) else value
            for name, value in load.items()
        }
    )


def _slugs_of_load(load: Mapping[str, Any]) -> list[str]:
    rows = [row for value in load.values() if isinstance(value, list) for row in value]
    return [slug for row in rows for slug in ([row["part"]] if "part" in row else row["parts"])]


def _entries(rows: Iterable[Mapping[str, Any]], rigs: tuple[RigFile, ...]) -> Iterator[EntryFile]:
    """The entries, what is left out filled in from the one before of the same rig."""
    places = {rig.slug: rig.places for rig in rigs}
    gear = {rig.slug: rig.gear for rig in rigs}
    before: datetime | None = None
    for row in rows:
        slug, saved_at = row["rig"], row["saved_at"]
        if slug not in places:
            raise ValueError(f"there is no rig {slug}")
        if saved_at.tzinfo is None or (before is not None and saved_at <= before):
            raise ValueError(f"the entry of {saved_at} has no zone, or is not after the one above")
        before = saved_at
        if "places" in row:
            places[slug] = tuple(_place(place) for place in row["places"])
        if "gear" in row:
            gear[slug] = _gear(row["gear"])
        yield EntryFile(
            slug, saved_at, row["title"], row["note"].strip(), places[slug], gear[slug], row.get("then", {})
        )


def slugs_of(places: Iterable[PlaceFile], gear: Iterable[str]) -> list[str]:
    """Every part that a rig names, each once, in order."""
    named = [slug for place in places for slug in (place.part, *place.inside)] + list(gear)
    return list(dict.fromkeys(named))


def _demand_known(club: DemoClub) -> None:
    """Raise RefusedError where one file names what another does not have."""
    people = {observer.slug for observer in club.observers}
    owners = [(part.slug, part.entered_by) for part in club.parts.values()]
    owners += [(rig.slug, rig.observer) for rig in club.rigs]
    owners += [(site.texts["name"], site.observer) for site in club.sites]
    owners += [(needs.name, needs.observer) for needs in club.needs]
    owners += [("list of targets", one.observer) for one in club.lists]
    for what, observer in owners:
        if observer not in people:
            raise RefusedError(f"The demo club's {what} belongs to {observer}, who is not in club.toml.")
    named = [(observer.slug, slug) for observer in club.observers for slug in observer.shelf]
    named += [(rig.slug, slug) for rig in club.rigs for slug in slugs_of(rig.places, rig.gear)]
    named += [(rig.slug, slug) for rig in club.rigs for slug in rig.branch]
    named += [(rig.slug, slug) for rig in club.rigs for slug in _slugs_of_load(rig.load)]
    named += [(needs.name, slug) for needs in club.needs for slug in needs.cameras]
    named += [(entry.title, slug) for entry in club.entries for slug in slugs_of(entry.places, entry.gear)]
    named += [(entry.title, slug) for entry in club.entries for slug in entry.then]
    for where, slug in named:
        if slug not in club.parts:
            raise RefusedError(f"The demo club's “{where}” names {slug}, a part that no file holds.")
    rigs = {(rig.observer, rig.slug) for rig in club.rigs}
    for site in club.sites:
        for slug in site.rigs:
            if (site.observer, slug) not in rigs:
                raise RefusedError(
                    f"The demo club's “{site.texts['name']}” names {slug}, no rig of its observer's."
                )
    with _mistakes_in("logbook.toml"):
        for entry in club.entries:
            for slug, texts in entry.then.items():
                _demand_fields(slug, club.parts[slug].kind, texts)
