"""What a rig weighs and costs in all, for its card."""

from __future__ import annotations

from collections import Counter

from server.domain.findings import Amount
from server.domain.load.places import all_pieces, sum_of
from server.domain.measure import Money
from server.domain.observer import UnitSystem
from server.domain.rig import Rig
from server.rim.wording import write_amount, write_money


def write_totals(rig: Rig, units: UnitSystem) -> str:
    """Mass and price of all parts, "27.3 kg, at least 4,210 EUR"; what is not known of any is left out."""
    pieces = all_pieces(rig)
    kg, missing = sum_of(pieces)
    told = []
    if kg:
        mass = write_amount(Amount(value=kg, dimension="mass", digits=1), units)
        told.append(f"at least {mass}" if missing else mass)
    parts = {item.id: item.part for item in rig.items}
    prices = [(parts[piece.part_id].price, piece.quantity) for piece in pieces]
    sums: Counter[str] = Counter()
    for price, quantity in prices:
        if price is not None:
            sums[price.currency] += price.hundredths * quantity
    if sums:
        money = " and ".join(
            write_money(Money(hundredths=hundredths, currency=currency))
            for currency, hundredths in sums.items()
        )
        told.append(f"at least {money}" if any(price is None for price, _ in prices) else money)
    return ", ".join(told)
