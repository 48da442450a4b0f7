"""All that is one observer's own, as one JSON file; `take_out_tables` makes tables of the same."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any

from server.domain.account import Account, Passkey
from server.domain.parts import PART
from server.flow.account_protocols import AccountStore

FORMAT = 1


def take_out(store: AccountStore, account: Account, passkeys: Sequence[Passkey]) -> str:
    """The text of the file."""
    told = all_of(store, account, passkeys)
    return json.dumps(told, ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def all_of(store: AccountStore, account: Account, passkeys: Sequence[Passkey]) -> dict[str, Any]:
    """Address, passkeys' names, shelf, prices, rigs, entries with links, sites, targets, needs, measurements.

    Documents are as the store keeps them, in fixed units that their fields name; of a rig its present state.
    """
    mine = account.observer_id
    observer = store.observer(mine)
    rigs = [store.rig(line.id) for line in store.rigs(mine)]
    shelf = {number: held for number, held in store.shelf(mine).items() if held.any}
    wanted = {*shelf, *store.own_prices(), *(part_id for rig in rigs for part_id in rig.plan.part_ids)}
    parts = store.parts(sorted(wanted))
    measured = {one.id: one for rig in rigs for one in store.measurements(mine, rig.id)}
    return {
        "trainwright_account": FORMAT,
        "taken_out_at": datetime.now(UTC).isoformat(timespec="seconds"),
        "name": account.login,
        "role": account.role,
        "member_since": account.created_at.isoformat(),
        "mail": account.mail,
        "passkeys": [
            {
                "name": one.name,
                "added_at": one.added_at.isoformat(),
                "used_at": one.used_at and one.used_at.isoformat(),
            }
            for one in passkeys
        ],
        "observer": {"name": observer.name, "units": observer.units},
        "parts": [
            {
                "id": number,
                "entered_by_me": item.entered_by == mine,
                "owned": held.owned if held else 0,
                "wished": held.wished if held else 0,
                "considered": held.considered if held else 0,
                "part": PART.dump_python(item.part, mode="json", exclude_none=True),
            }
            for number, item in sorted(parts.items())
            for held in (shelf.get(number),)
        ],
        "rigs": [
            {"id": rig.id, "name": rig.name, "site_id": rig.site_id, "plan": rig.plan.model_dump(mode="json")}
            for rig in rigs
        ],
        "entries": [
            {
                "id": entry.id,
                "rig_id": entry.rig_id,
                "number": entry.number,
                "links": [
                    {"made_at": link.created_at.isoformat(), "open": link.withdrawn_at is None}
                    for link in store.shares(entry.id)
                ],
                "document": entry.document.model_dump(mode="json"),
            }
            for entry in store.entries(mine)
        ],
        "sites": [one.model_dump(mode="json") for one in store.sites(mine)],
        "targets": [one.model_dump(mode="json") for one in store.targets(mine)],
        "needs": [
            {"id": one.id, "name": one.name, "needs": one.needs.model_dump(mode="json")}
            for one in store.kept_needs(mine)
        ],
        "measurements": [one.model_dump(mode="json") for _, one in sorted(measured.items())],
    }
