"""What a rig weighs and costs in all, for its card."""

from __future__ import annotations

from server.domain.findings import Amount
from server.domain.load.places import all_pieces, sum_of
from server.domain.observer import UnitSystem
from server.domain.rig import Rig
from server.rim.prices import sums_of, sums_text
from server.rim.wording import write_amount


def write_totals(rig: Rig, units: UnitSystem) -> str:
    """Mass and price of all parts, "27.3 kg, at least 4,210 EUR"; what is not known of any is left out."""
    pieces = all_pieces(rig)
    kg, missing = sum_of(pieces)
    told = []
    if kg:
        mass = write_amount(Amount(value=kg, dimension="mass", digits=1), units)
        told.append(f"at least {mass}" if missing else mass)
    parts = {item.id: item.part for item in rig.items}
    sums, unknown = sums_of((parts[piece.part_id].price, piece.quantity) for piece in pieces)
    return ", ".join(filter(None, (*told, sums_text(sums, at_least=unknown))))
