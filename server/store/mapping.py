"""Rows to domain objects, and back. Every document goes through the domain's own validation both ways."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import datetime
from functools import cache, lru_cache
from typing import Any

from sqlalchemy import Row

from server.domain.connections import (
    Connection,
    Dovetail,
    connection_key,
    gender_of,
    print_connection,
)
from server.domain.entry import Entry, EntryDocument, Share
from server.domain.measure import nominal
from server.domain.observer import Holding, Observer
from server.domain.part_history import PartChange
from server.domain.parts import PART, BaseCamera, CataloguedPart, Part, specs_of
from server.domain.rig import RigPlan
from server.flow.protocols import EntryName, RigLine, StoredRig
from server.store.clauses import read_done

# Documents are read again and again (a bench reads its fourteen parts at every change) and the values made
# from them cannot change, so the last ones read are kept, found by their very text: never an old value for
# a new text. An entry holds all its findings, some 0.4 MB: of those only what one compares is kept.
_PARTS_KEPT = 2048
_PLANS_KEPT = 16
_ENTRIES_KEPT = 2

_TIMES = re.compile(r"(?<=[0-9])×(?=[0-9])")


def write_part(part: Part) -> str:
    """The part's document: JSON without what is unknown or empty, which reads back to an equal part."""
    document = PART.dump_python(part, mode="json", exclude_none=True)
    # Only texts and tables may be empty, and empty is their default.
    kept = {name: value for name, value in document.items() if value not in ("", [])}
    return json.dumps(kept, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


@lru_cache(_PARTS_KEPT)
def read_part(document: str) -> Part:
    """The part that a document holds."""
    return PART.validate_json(document)


def sort_key(name: str) -> str:
    """A name as lists are ordered by it: without regard to letter case."""
    return name.casefold()


@cache
def _fields(kind: str, *shapes: str) -> tuple[tuple[str, dict[str, str]], ...]:
    return tuple((spec.name, dict(spec.choices)) for spec in specs_of(kind) if spec.shape in shapes)


def connections_of(part: Part) -> Iterator[tuple[str, Connection]]:
    """Every connection that is known of a part, with the name of its field."""
    for name, _ in _fields(part.kind, "connection"):
        connection = getattr(part, name)
        if connection is not None:
            yield name, connection


def plain_signs(text: str) -> str:
    """Text with M48×0.75 written M48x0.75, so that a search finds either by either."""
    return _TIMES.sub("x", text)


def words_of(part: Part) -> str:
    """All text of a part that a search looks through."""
    found = [part.kind_words]
    found += [getattr(part, name) for name, _ in _fields(part.kind, "text", "long_text")]
    for name, words in _fields(part.kind, "choice", "choices"):
        value = getattr(part, name)
        if name != "basis" and value:
            found += [words[one] for one in (value if isinstance(value, tuple) else (value,))]
    found += [print_connection(connection) for _, connection in connections_of(part)]
    return plain_signs("\n".join(text for text in found if text))


def part_row(part: Part) -> dict[str, Any]:
    """The columns that follow from the part itself."""
    length = part.flange_mm if isinstance(part, BaseCamera) else getattr(part, "length_mm", None)
    return {
        "kind": part.kind,
        "sort_key": sort_key(part.name),
        "length_mm": nominal(length),
        "mass_kg": nominal(part.mass_kg),
        "price_hundredths": part.price.hundredths if part.price else None,
        "currency": part.price.currency if part.price else None,
        "maker": part.maker,
        "model": part.model,
        "words": words_of(part),
        "document": write_part(part),
    }


def side_rows(part_id: int, part: Part) -> list[dict[str, Any]]:
    """One row for every connection that is known of the part."""
    return [
        {
            "part_id": part_id,
            "side": name,
            "size_key": connection_key(connection, with_gender=False),
            "gender": gender_of(connection) or "",
            "width_mm": connection.width_mm if isinstance(connection, Dovetail) else None,
        }
        for name, connection in connections_of(part)
    ]


def read_catalogued(row: Row[*tuple[Any, ...]]) -> CataloguedPart:
    """From id, entered_by, entered_by_name, revision and document."""
    return CataloguedPart(row.id, row.entered_by, row.entered_by_name, row.revision, read_part(row.document))


def read_part_change(row: Row[*tuple[Any, ...]]) -> PartChange:
    """From a change's columns and the name of who made it, None where they have left."""
    was, became = read_part(row.was), read_part(row.became)
    return PartChange(row.of_id, row.act, row.at, row.by_id, row.by or "", was, became)


def read_observer(row: Row[*tuple[Any, ...]]) -> Observer:
    """From id, name and units."""
    return Observer(row.id, row.name, row.units)


def read_holding(row: Row[*tuple[Any, ...]]) -> Holding:
    """From owned, wished and considered, each of which may be NULL where nothing is held."""
    return Holding(row.owned or 0, row.wished or 0, row.considered or 0)


def write_plan(plan: RigPlan) -> str:
    """The plan's document."""
    return plan.model_dump_json()


@lru_cache(_PLANS_KEPT)
def read_plan(document: str) -> RigPlan:
    """The plan that a document holds."""
    return RigPlan.model_validate_json(document)


def pieces_of(plan: RigPlan) -> int:
    """How many pieces a plan has: places, filters inside them, the guide camera's branch, and gear as often
    as it is there.
    """
    in_train = sum(1 + len(place.inside) for place in plan.places) + len(plan.branch)
    return in_train + sum(gear.quantity for gear in plan.gear)


def read_rig(row: Row[*tuple[Any, ...]]) -> StoredRig:
    """From a rig's columns, the plan of its present state, and the words of what undo and redo would do."""
    return StoredRig(
        id=row.id,
        observer_id=row.observer_id,
        name=row.name,
        version=row.version,
        plan=read_plan(row.plan),
        undo_words=read_done(row.undo_words),
        redo_words=read_done(row.redo_words),
        site_id=row.site_id,
    )


def read_rig_line(row: Row[*tuple[Any, ...]]) -> RigLine:
    """From a rig's columns with the counts of parts and entries."""
    return RigLine(row.id, row.observer_id, row.name, row.version, row.changed_at, row.parts, row.entries)


@lru_cache(_ENTRIES_KEPT)
def _read_document(document: str) -> EntryDocument:
    # Not by `read_entry`, which holds a document from elsewhere to the limits of today: what was saved here
    # has passed those of its own day, and stays readable when they change.
    return EntryDocument.model_validate_json(document)


def read_logged(row: Row[*tuple[Any, ...]]) -> Entry:
    """From id, rig_id, observer_id, number and document."""
    return Entry(row.id, row.rig_id, row.observer_id, row.number, _read_document(row.document))


def read_entry_name(row: Row[*tuple[Any, ...]]) -> EntryName:
    """From id, rig_id, number, and the document's rig, title and saved_at."""
    saved_at = datetime.fromisoformat(row.saved_at)
    return EntryName(row.id, row.rig_id, row.number, row.rig, row.title, saved_at)


def read_share(row: Row[*tuple[Any, ...]]) -> Share:
    """From id, token, entry_id, created_at and withdrawn_at."""
    return Share(row.id, row.token, row.entry_id, row.created_at, row.withdrawn_at)
