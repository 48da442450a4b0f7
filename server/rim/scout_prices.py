"""What several parts cost together, in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from server.domain.measure import Money
from server.domain.parts import CataloguedPart
from server.rim.wording import write_money


def sums_of(items: Sequence[tuple[CataloguedPart, int]], more: bool) -> tuple[Counter[str], bool]:
    """Hundredths by currency, and whether more is to come: by `more`, or since a price is not known."""
    sums: Counter[str] = Counter()
    for item, count in items:
        if item.part.price is not None:
            sums[item.part.price.currency] += item.part.price.hundredths * count
    return sums, more or any(item.part.price is None for item, _ in items)


def prices_text(items: Sequence[tuple[CataloguedPart, int]], more: bool = False) -> str:
    """The sum of some prices, each currency by itself: at least so much where one is not known, or `more`
    is to come.
    """
    sums, unknown = sums_of(items, more)
    texts = [write_money(Money(hundredths=value, currency=code)) for code, value in sums.items()]
    if not texts:
        return "not known yet" if unknown else "nothing"
    return ("at least " if unknown else "") + " and ".join(texts)
