"""What several parts cost together, in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from server.domain.measure import Money
from server.domain.parts import CataloguedPart
from server.rim.wording import write_money


def sums_of(prices: Iterable[tuple[Money | None, int]]) -> tuple[Counter[str], bool]:
    """Hundredths by currency of prices, each so many times, and whether one of them is not known."""
    sums: Counter[str] = Counter()
    unknown = False
    for price, count in prices:
        if price is None:
            unknown = True
        else:
            sums[price.currency] += price.hundredths * count
    return sums, unknown


def sums_text(sums: Mapping[str, int], *, at_least: bool) -> str:
    """Sums, each currency by itself; "" for none."""
    texts = [write_money(Money(hundredths=value, currency=code)) for code, value in sums.items()]
    return ("at least " if at_least and texts else "") + " and ".join(texts)


def priced(items: Sequence[tuple[CataloguedPart, int]]) -> Iterable[tuple[Money | None, int]]:
    """The price of each of some parts, and how many there are."""
    return ((item.part.price, count) for item, count in items)


def prices_text(items: Sequence[tuple[CataloguedPart, int]], more: bool = False) -> str:
    """The sum of some parts' prices: at least so much where one is not known, or `more` is to come."""
    sums, unknown = sums_of(priced(items))
    return sums_text(sums, at_least=unknown or more) or ("not known yet" if unknown or more else "nothing")
