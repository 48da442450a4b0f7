"""The stacks as lines of one table: what differs from the best, in words; the unbeaten ones as a plot."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence

from markupsafe import Markup

from server.domain.connections.printing import size_text
from server.domain.findings import Amount
from server.domain.measure import Measure, Money, nominal
from server.domain.train import Place
from server.domain.verdicts import Verdict
from server.flow.bridge_alike import Gathered, difference, equal_part, same_part
from server.flow.bridge_offers import Offer
from server.flow.bridge_pose import Posed
from server.rim.phrasebook.forms import listed
from server.rim.phrasebook.tell import tell
from server.rim.wording import write_amount, write_measure, write_money
from server.search.problem import Front
from server.web.bridge.drawing import FrontPoint, front_svg
from server.web.bridge.page import Alike, Card, Line
from server.web.bridge.words import Words, written

NOUNS = {"spacer_ring": "ring", "shim": "shim", "adapter": "adapter"}


def lines_of(
    to: Words, groups: Sequence[Gathered], draw: Callable[[Gathered, int], Card]
) -> tuple[Line, ...]:
    """The table: a line each, best first; `draw` makes the cards of those that the address names."""
    if not groups:
        return ()
    first = groups[0].offer
    against = {verdict.code for verdict in first.judged}
    found = []
    for number, group in enumerate(groups, start=1):
        offer = group.offer
        opened = number > 1 and number in to.query.open
        others = tuple(one for one in to.query.open if one != number)
        found.append(
            Line(
                number,
                differs(to, first, offer) if number > 1 else "The best, drawn above",
                1 + len(group.alike),
                to.off(offer.error_mm).replace(" too ", " "),
                "nothing" if not offer.bought else to.price(offer),
                len(offer.places) + (0 if offer.guide is None else len(offer.guide.places)),
                to.weight(offer),
                chance(to, offer),
                group.unbeaten,
                tuple(tell(one) for one in offer.judged if one.code not in against and _counts(one)),
                to.address(open=others if opened else (*others, number)),
                draw(group, number) if opened else None,
            )
        )
    return tuple(found)


def _counts(verdict: Verdict) -> bool:
    """Whether it speaks against a stack, and says more than the line's chance does."""
    return verdict.weight == "stop" or (
        verdict.weight == "watch" and not verdict.code.startswith("tolerances.")
    )


def chance(to: Words, offer: Offer) -> str:
    """How likely the finished train fits; "" where nobody knows."""
    value = offer.chance
    return "" if value is None else write_amount(Amount(value=value, dimension="fraction"), to.units)


def alike_of(to: Words, group: Gathered) -> tuple[Alike, ...]:
    """The stacks that a line stands for beside its own."""
    return tuple(
        Alike(
            differs(to, group.offer, one, by_name=True),
            to.price(one),
            written(one.change.uses),
            None if one.guide is None else written(one.guide.uses),
        )
        for one in group.alike
    )


# In words


def differs(to: Words, first: Offer, other: Offer, *, by_name: bool = False) -> str:
    """How a stack differs from the first: "with the 10 mm ring in place of the 7 + 3 mm rings"."""
    said = []
    chains = [("", first.places, other.places)]
    if first.guide is not None and other.guide is not None:
        chains.append(("in the guide chain: ", first.guide.places, other.guide.places))
    for where, here, there in chains:
        added, gone = difference(here, there, equal_part)
        words = "" if by_name else _by_size(to, added, gone)
        # Alike, and yet told apart: then the names do it.
        words = words or _by_name(*difference(here, there, same_part))
        if words:
            said.append(where + words)
    return "; ".join(said) or "the same parts in another order"


def _by_name(added: Sequence[Place], gone: Sequence[Place]) -> str:
    there, not_there = (listed([place.name for place in places]) for places in (added, gone))
    if there and not_there:
        return f"with {there} in place of {not_there}"
    return f"plus {there}" if there else f"without {not_there}" if not_there else ""


def _by_size(to: Words, added: Sequence[Place], gone: Sequence[Place]) -> str:
    """Rings against rings, adapters against adapters; threads are named where they differ, and of an adapter
    that takes no other's place.
    """
    other, more, fewer = [], [], []
    for kind in dict.fromkeys(place.part.kind for place in (*added, *gone)):
        here, there = ([place for place in places if place.part.kind == kind] for places in (gone, added))
        threads = {_threads(place) for place in (*here, *there)}
        named = len(threads) > 1 or (kind == "adapter" and not (here and there))
        if here and there:
            other.append(f"{_sizes(to, there, named)} in place of {_sizes(to, here, named, short=True)}")
        elif there:
            more.append(_sizes(to, there, named))
        else:
            fewer.append(_sizes(to, here, named))
    said = (("with", other), ("plus", more), ("without", fewer))
    return ", ".join(f"{word} {listed(parts)}" for word, parts in said if parts)


def _sizes(to: Words, places: Sequence[Place], named: bool, *, short: bool = False) -> str:
    """Parts of one kind as "the 7 + 3 mm rings"; `short` as "the 7 + 3", behind others of the kind."""
    found: dict[str, list[str]] = defaultdict(list)
    for place in places:
        length = write_measure(Measure(nominal=nominal(place.length) or 0.0), "length", to.units)
        found[_threads(place) if named else ""].append(length)
    noun = NOUNS.get(places[0].part.kind, places[0].part.kind_words)
    said = []
    for threads, lengths in found.items():
        *bare, last = lengths
        sizes = " + ".join([*(length.partition(" ")[0] for length in bare), last])
        if short and not threads:
            said.append(f"the {sizes.rpartition(' ')[0]}")
        else:
            said.append(" ".join(filter(None, ["the", sizes, threads, noun + ("s" if bare else "")])))
    return listed(said)


def _threads(place: Place) -> str:
    """The threads of a part as it is put in: "M48x0.75 to M42x0.75", one alone where both are, "" of a
    shim.
    """
    sides = (place.sky_connection, place.camera_connection)
    return " to ".join(dict.fromkeys(size_text(side) for side in sides if side is not None))


# The front


def plot(
    to: Words, posed: Posed, front: Front, groups: Sequence[Gathered], lines: Sequence[Line], running: bool
) -> dict[str, object]:
    """The unbeaten stacks as a plot of the table's numbers, and whether these are all of them."""
    currency = posed.pieces.currency or ""

    def money(hundredths: int) -> str:
        return write_money(Money(hundredths=hundredths, currency=currency)) if hundredths else "0"

    points = [
        FrontPoint(abs(group.offer.error_mm), group.offer.hundredths, line.number, group.unbeaten)
        for group, line in zip(groups, lines, strict=True)
    ]
    among = "" if front.budget is None else f" among the stacks that cost up to {money(front.budget)}"
    if front.complete:
        words = f"These are all of them{among}."
    elif running:
        words = f"Not all of them yet{among}: it is still growing."
    else:
        words = f"Not all of them{among}: the search was stopped."
    return {"front_drawing": Markup(front_svg(points, to.length, money)), "front_words": words}
