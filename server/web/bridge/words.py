"""How the Bridge's page says lengths, masses, parts and addresses to one reader."""

from __future__ import annotations

from server.domain.findings import Amount
from server.domain.observer import UnitSystem
from server.flow.assemble_train import StackUse
from server.flow.bridge_offers import Offer
from server.flow.views import BridgeView
from server.rim.wording import write_amount, write_money
from server.web.bridge.query import BridgeQuery, write_uses
from server.web.drawing.options import SectionOptions
from server.web.rendering import URLS

INCH_BARS_MM = tuple(25.4 * length for length in (0.1, 0.25, 0.5, 1.0, 2.0, 5.0))


def written(uses: tuple[StackUse, ...]) -> str:
    """A stack as a form sends it."""
    return write_uses(tuple((use.part_id, use.flipped, use.place) for use in uses))


class Words:
    """The words for one reader and one state of the address."""

    def __init__(
        self, view: BridgeView, query: BridgeQuery, units: UnitSystem, names: dict[int, str]
    ) -> None:
        self.view, self.query, self.units, self.names = view, query, units, names
        self.urls = URLS

    def length(self, mm: float, digits: int = 2) -> str:
        """A length for the reader."""
        return write_amount(Amount(value=mm, dimension="length", digits=digits), self.units)

    def mass(self, kg: float) -> str:
        """A mass for the reader."""
        return write_amount(Amount(value=kg, dimension="mass"), self.units)

    @property
    def options(self) -> SectionOptions:
        """How the drawings write lengths."""
        bars = SectionOptions.bar_lengths_mm if self.units == "metric" else INCH_BARS_MM
        return SectionOptions(
            write_length=lambda mm: self.length(mm, 0), units=self.units, bar_lengths_mm=bars
        )

    def address(self, **more: object) -> str:
        """This page with some of its state changed."""
        return self.urls.bridge(self.view.stored.id, **self.query.state(**more))

    def name(self, number: int) -> str:
        """A part's name."""
        return self.names.get(number, f"part {number}")

    def off(self, error_mm: float) -> str:
        """How far off, in words."""
        if abs(error_mm) < 0.005:
            return "exact"
        return f"{self.length(abs(error_mm))} too {'long' if error_mm > 0 else 'short'}"

    def weight(self, offer: Offer) -> str:
        """The mass of a stack, as far as it is known."""
        guide = () if offer.guide is None else offer.guide.places
        if offer.unweighed == len((*offer.places, *guide)) > 0:
            return "not known"
        return self.mass(offer.mass_kg) + (f", {offer.unweighed} not known" if offer.unweighed else "")

    def price(self, offer: Offer) -> str:
        """What is to be spent."""
        if not offer.bought:
            return "nothing to buy"
        return write_money(offer.money)
