"""All that is one observer's own as tables for a spreadsheet, made of what `take_out` has."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from server.domain.account import Account, Passkey
from server.domain.observer import Holding
from server.domain.parts import PART
from server.flow.account_protocols import AccountStore
from server.rim.tables import CsvRow, guarded, write_csv
from server.rim.take_out import all_of

LONGEST_CELL = 30_000
"""Spreadsheets take at most 32,767 characters in a cell (from memory)."""

Line = Mapping[str, Any]


def tables_out(store: AccountStore, account: Account, passkeys: Sequence[Passkey]) -> bytes:
    """The file: one CSV a table, packed. The tables of parts are such as the shelf takes in again; in the
    others numbers are in the fixed units that their columns name, and a list that fits no cell is left out.
    """
    told = all_of(store, account, passkeys)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as file:
        for name, text in _tables(told):
            if not text:
                # A table without rows has no columns either.
                continue
            # The byte order mark tells spreadsheets that the file is UTF-8.
            file.writestr(f"{name}.csv", text.encode("utf-8-sig"))
    return packed.getvalue()


def _tables(told: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    rigs: Sequence[Line] = told["rigs"]
    parts = [(CsvRow(PART.validate_python(one["part"]), _holding(one)), one) for one in told["parts"]]
    yield "shelf", write_csv(row for row, _ in parts if row.holding.any)
    yield "wish-list", write_csv(row for row, _ in parts if row.holding.wished)
    yield "other-parts-of-rigs", write_csv(row for row, _ in parts if not row.holding.any)
    names = {one["id"]: row.part.name for row, one in parts}
    yield "rigs", _csv({"id": rig["id"], "name": rig["name"], "site_id": rig["site_id"]} for rig in rigs)
    yield "places", _csv(line for rig in rigs for line in _places(rig, names))
    yield "rules", _csv(_named(rig) | _flat(rig["plan"]["rules"]) for rig in rigs)
    yield "loads", _csv(line for rig in rigs for line in _load(rig, names))
    yield "logbook", _csv(map(_entry, told["entries"]))
    for name in ("sites", "targets", "needs", "measurements"):
        yield name, _csv(map(_flat, told[name]))


def _holding(one: Line) -> Holding:
    return Holding(one["owned"], one["wished"], one["considered"])


def _named(rig: Line) -> dict[str, Any]:
    return {"rig_id": rig["id"], "rig": rig["name"]}


def _places(rig: Line, names: Mapping[int, str]) -> Iterator[Line]:
    """Every piece of a rig, where it stands, in the order of the train."""
    plan, head = rig["plan"], _named(rig)

    def piece(where: str, order: int, number: int, **more: Any) -> Line:
        return head | {"where": where, "order": order, "part": names[number], "quantity": 1, **more}

    for where, places in (("train", plan["places"]), ("guide branch", plan["branch"])):
        for order, place in enumerate(places, 1):
            set_to = {"turned_round": place["flipped"], "set_length_mm": place["set_length_mm"]}
            yield piece(where, order, place["part_id"], **set_to)
            for number in place["inside"]:
                yield piece(f"{where}, inside", order, number)
    for order, gear in enumerate(plan["gear"], 1):
        yield piece("beside", order, gear["part_id"], quantity=gear["quantity"])


def _load(rig: Line, names: Mapping[int, str]) -> Iterator[Line]:
    """All that is said of a rig's load, a line each; of a list a line for each of its own lines."""
    for field, value in rig["plan"]["load"].items():
        for one in value if isinstance(value, list) else [value]:
            if isinstance(one, dict):
                one = dict(one)
                told = {"part": names.get(one.pop("part_id", None), "")}
                yield _named(rig) | {"what": field} | told | {"value": _cell(one)}
            elif one is not None:
                yield _named(rig) | {"what": field, "part": "", "value": one}


def _entry(one: Line) -> Line:
    document = one["document"]
    told = {name: document[name] for name in ("rig", "title", "saved_at", "note")}
    links = {"links_open": sum(link["open"] for link in one["links"])}
    return {"id": one["id"], "rig_id": one["rig_id"], "number": one["number"]} | told | links


def _flat(document: Line, head: str = "") -> dict[str, Any]:
    """A document's fields as one line: those of a document within it bear its name before theirs."""
    line: dict[str, Any] = {}
    for name, value in document.items():
        if isinstance(value, dict):
            line |= _flat(value, f"{head}{name}.")
        else:
            line[head + name] = value
    return line


def _csv(lines: Iterable[Line]) -> str:
    """Lines as CSV (RFC 4180), in the columns that any of them has."""
    listed = list(lines)
    columns = list(dict.fromkeys(name for line in listed for name in line))
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    if columns:
        writer.writerow(columns)
    for line in listed:
        writer.writerow([_cell(line.get(name)) for name in columns])
    return out.getvalue()


def _cell(value: Any) -> Any:
    """A number as it is, since none is a formula; anything else as text that no spreadsheet runs."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return value
    if not isinstance(value, str):
        plain = isinstance(value, list) and not any(isinstance(one, dict | list) for one in value)
        value = "; ".join(map(str, value)) if plain else json.dumps(value, ensure_ascii=False)
        value = value if len(value) <= LONGEST_CELL else "too long for a cell: see the JSON file"
    return guarded(value)
