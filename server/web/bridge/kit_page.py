"""One kit for several rigs as its template sees it, and how it is written for a reader."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, ClassVar

from server.domain.errors import RefusedError
from server.domain.measure import Money
from server.domain.observer import UnitSystem
from server.domain.parts import CataloguedPart
from server.flow.bridge_kit import KitOffer, KitPosed, kit_offer
from server.flow.bridge_stock import Source
from server.flow.bridge_wishes import Gap
from server.flow.protocols import RigLine
from server.flow.views import BridgeView, KitView
from server.rim.phrasebook.forms import listed
from server.rim.phrasebook.tell import plain, write_words
from server.rim.wording import write_money
from server.web.bridge.drawing import scale_for
from server.web.bridge.jobs import KitSearch
from server.web.bridge.page import Card, LeftOutLine
from server.web.bridge.query import SOURCES, BridgeQuery
from server.web.bridge.writer import SHOWN_LEFT_OUT, Writer
from server.web.rendering import URLS

if TYPE_CHECKING:
    from server.search.kit_planner import KitOutcome


@dataclass(frozen=True)
class ChosenRig:
    """A rig of the kit.

    Attributes:
        rig_id, name, version: the rig; putting its stack in names the version.
        bridge: where its own gap is looked at.
        gap: its two ends and the distance, in words; "" where it has none, and `trouble` says why.
        sky, camera: keys of the ends.
        card: its stack, None while there is none; `opened` whether it is drawn, `toggle` opens or closes it.
    """

    rig_id: int
    name: str
    version: int
    bridge: str
    gap: str = ""
    trouble: str = ""
    sky: int = 0
    camera: int = 0
    card: Card | None = None
    opened: bool = False
    toggle: str = ""


@dataclass(frozen=True)
class BuyLine:
    """A part of the kit: how many, the price of one, and the rigs that use it."""

    item: CataloguedPart
    count: int
    price: str
    rigs: str


@dataclass(frozen=True)
class KitPage:
    """One kit for several rigs.

    Attributes:
        rigs: all rigs of the observer; `chosen` the numbers of those that are meant; `source` the drawer.
        trouble: why nothing can be planned, "" where something can.
        built: the chosen rigs, with their stacks once there are any.
        planned: whether a planning was begun; `running`, `stopped`, `seconds`: how it goes; `before`: how
            many others come before it, None where it has begun.
        verdict, proven: what is proven of the money; `joints_verdict` of the joints.
        buy, price: what to buy, and what it comes to.
        undone: for each rig the joints undone to change to each of the others, in their order.
        total_undone: the sum of them.
        searched, left_out: how many kinds of part were searched, and which not.
        poll, patient, stop, again: addresses of this state.
    """

    template: ClassVar[str] = "bridge/kit.html"
    sources: ClassVar[Mapping[Source, str]] = SOURCES

    rigs: tuple[RigLine, ...]
    chosen: tuple[int, ...]
    source: str
    poll: str
    patient: str
    stop: str
    again: str
    trouble: str = ""
    built: tuple[ChosenRig, ...] = ()
    planned: bool = False
    running: bool = False
    stopped: bool = False
    seconds: int = 0
    before: int | None = None
    verdict: str = ""
    proven: bool = False
    joints_verdict: str = ""
    has_kit: bool = False
    buy: tuple[BuyLine, ...] = ()
    price: str = ""
    undone: tuple[tuple[int, ...], ...] = ()
    total_undone: int = 0
    searched: int = 0
    left_out: tuple[LeftOutLine, ...] = ()


def kit_page(
    rigs: tuple[RigLine, ...],
    view: KitView | None,
    search: KitSearch | None,
    units: UnitSystem,
    opened: Collection[int],
    toggle: Callable[[int], str],
    **state: object,
) -> KitPage:
    """Build the page: `state` are the address's own fields of it.

    `opened` are the rigs whose stack is drawn, `toggle` gives the address that opens or closes one.
    """
    known: dict[str, object] = dict(state)
    if view is not None:
        offer = None
        if search is not None and view.posed is not None:
            outcome = search.outcome
            offer = None if outcome is None else kit_offer(view.posed, outcome)
            known |= _answer(view, view.posed, search, outcome, offer)
        built = tuple(
            replace(rig, toggle=toggle(rig.rig_id), opened=rig.rig_id in opened)
            for rig in _built(view, offer, units)
        )
        known |= {"trouble": write_words(view.trouble, units), "built": built}
    return KitPage(rigs=rigs, **known)  # type: ignore[arg-type]


def _built(view: KitView, offer: KitOffer | None, units: UnitSystem) -> tuple[ChosenRig, ...]:
    """Each chosen rig with its gap, and its stack to the page's one scale."""
    shared = scale_for([one.places for one in offer.offers]) if offer is not None else None
    found = []
    for at, (stored, rig, gap) in enumerate(view.rigs):
        bridge = URLS.bridge(stored.id)
        if isinstance(gap, RefusedError):
            why = write_words(gap.message, units)
            found.append(ChosenRig(stored.id, stored.name, stored.version, bridge, trouble=why))
            continue
        writer = Writer(BridgeView(stored, rig, gap, None, "", None), BridgeQuery(), units, {})
        card = None
        if offer is not None and shared is not None:
            title = f"The stack of {stored.name}, to scale"
            card = writer.card(offer.offers[at], at + 1, shared, "rig", title)
        found.append(
            ChosenRig(
                stored.id,
                stored.name,
                stored.version,
                bridge,
                _gap_words(writer, gap),
                "",
                gap.sky.key,
                gap.camera.key,
                card,
            )
        )
    return tuple(found)


def _gap_words(writer: Writer, gap: Gap) -> str:
    asked = writer.length(gap.distance_mm)
    window = f"{writer.length(gap.short_mm)} short to {writer.length(gap.long_mm)} long"
    return f"{gap.sky.name} to {gap.camera.name}: {asked}, {window} allowed"


def _answer(
    view: KitView, posed: KitPosed, search: KitSearch, outcome: KitOutcome | None, offer: KitOffer | None
) -> dict[str, object]:
    """What a planning has found so far, and no more than is proven of it."""
    running = not search.ended
    kinds = len(posed.pieces.pieces)
    parts = f"these {kinds} parts" if kinds != 1 else "this one part"
    known: dict[str, object] = {
        "planned": True,
        "running": running,
        "stopped": search.stopped and search.ended,
        "seconds": int(search.seconds),
        "before": search.before,
        "searched": kinds,
        "left_out": tuple(
            LeftOutLine(
                plain(one.reason), one.items[:SHOWN_LEFT_OUT], max(0, len(one.items) - SHOWN_LEFT_OUT)
            )
            for one in posed.left_out
        ),
    }
    if outcome is not None and outcome.impossible:
        names = [view.rigs[at][0].name for at in outcome.impossible]
        which = listed(names)
        verb = "has" if len(names) == 1 else "have"
        return known | {
            "verdict": f"{which} {verb} no stack with {parts}, whatever is bought. Its own Bridge says why."
            if len(names) == 1
            else f"{which} {verb} no stack with {parts}, whatever is bought. Their own Bridges say why."
        }
    if outcome is None or outcome.kit is None or offer is None:
        return known | {
            "verdict": f"Planning with {parts}: nothing found yet."
            if running
            else "Stopped before a kit was found: there may be one all the same."
        }
    bound = _money(outcome.money_bound, posed)
    if outcome.money_proven:
        verdict = f"Proven: no cheaper kit exists with {parts}."
        if not outcome.kit.buy:
            verdict = "Proven: nothing has to be bought. Each of these rigs can be built from what is owned."
    elif running:
        verdict = f"Planning with {parts}: a cheaper kit may come, none below {bound}."
    else:
        verdict = f"Not proven: a cheaper kit may exist, but none below {bound}."
    undone = outcome.kit.joints_undone
    if outcome.joints_proven:
        joints = "Proven: no kit of this price needs fewer joints undone."
    elif running:
        joints = "Fewer may come."
    elif outcome.joints_bound and outcome.joints_bound < undone:
        joints = f"Not proven: fewer may do, but no fewer than {outcome.joints_bound}."
    else:
        joints = "Not proven: fewer may do."
    return known | {
        "verdict": verdict,
        "proven": outcome.money_proven,
        "joints_verdict": joints,
        "has_kit": True,
        "buy": tuple(_buy_lines(view, offer)),
        "price": write_money(offer.money) if offer.bought else "nothing to buy",
        "undone": offer.undone,
        "total_undone": offer.joints_undone,
    }


def _money(hundredths: int, posed: KitPosed) -> str:
    currency = posed.pieces.currency
    return "0" if currency is None else write_money(Money(hundredths=hundredths, currency=currency))


def _buy_lines(view: KitView, offer: KitOffer) -> list[BuyLine]:
    lines = []
    for item, count in offer.bought:
        users = [
            stored.name
            for (stored, _, _), one in zip(view.rigs, offer.offers, strict=True)
            if any(place.item.id == item.id and place.key in one.bought_keys for place in one.places)
        ]
        lines.append(BuyLine(item, count, write_money(item.part.price), ", ".join(users)))
    return lines
