"""What carries the tube and what rides with it: mounts, supports, weights, guide scopes, power and more."""

from __future__ import annotations

from typing import ClassVar, Literal

from server.domain.connections import Connection
from server.domain.fields import (
    choice,
    connection,
    current,
    least_voltage,
    mass,
    measure,
    supply_voltage,
    text,
)
from server.domain.measure import Measure, nominal
from server.domain.parts.base import BasePart
from server.domain.parts.capabilities import Draw, Rides
from server.domain.said import said
from server.mechanics.batteries import mean_current_a


class GuideScope(BasePart):
    """A small telescope for the guide camera."""

    kind: Literal["guide_scope"] = "guide_scope"
    kind_words: ClassVar[str] = "guide scope"
    kind_purpose: ClassVar[str] = "A small telescope for the guide camera."

    mass_kg: Measure | None = mass(15.0)
    aperture_mm: Measure | None = measure("Aperture", "length", 500.0)
    focal_length_mm: Measure | None = measure("Focal length", "length", 5000.0)


class Mount(BasePart):
    """What points and tracks."""

    kind: Literal["mount"] = "mount"
    kind_words: ClassVar[str] = "mount"
    kind_purpose: ClassVar[str] = "Points and tracks; its rating limits all that it carries."
    rides: ClassVar[Rides] = "stand"

    mass_kg: Measure | None = mass(300.0)
    mount_type: Literal["equatorial", "strain_wave", "alt_azimuth", "tracker"] | None = choice(
        "Type",
        (
            ("equatorial", "equatorial"),
            ("strain_wave", "strain-wave"),
            ("alt_azimuth", "alt-azimuth"),
            ("tracker", "tracker"),
        ),
    )
    rated_kg: Measure | None = measure("Rated capacity", "mass", 1000.0, help="Counterweights not counted.")
    rated_with: Literal["with_counterweight", "without"] | None = choice(
        "Rated", (("with_counterweight", "with a counterweight"), ("without", "without counterweight"))
    )
    heaviest_piece_kg: Measure | None = measure("Heaviest piece to lift", "mass", 500.0)
    bar_diameter_mm: Measure | None = measure("Counterweight bar, diameter", "length", 100.0)
    bar_length_mm: Measure | None = measure(
        "Counterweight bar, length", "length", 2000.0, help="What of it weights can slide along."
    )
    bar_mass_kg: Measure | None = measure(
        "Counterweight bar, mass", "mass", 50.0, above=False, help="Counted in the mount's mass as well."
    )
    bar_start_mm: Measure | None = measure(
        "Bar begins from the polar axis",
        "length",
        1000.0,
        above=False,
        help="Where the first weight can sit, measured from the middle of the axis.",
    )
    saddle_height_mm: Measure | None = measure(
        "Saddle above the polar axis",
        "length",
        1000.0,
        above=False,
        help="From the middle of the axis to the face that the dovetail lies on.",
    )
    periodic_error_arcsec: Measure | None = measure(
        "Periodic error, peak to peak", "arcsec", 600.0, above=False
    )
    current_a: Measure | None = current("While it tracks.", group="Power")
    current_peak_a: Measure | None = measure(
        "Current while slewing", "current", 50.0, above=False, group="Power"
    )
    voltage_v: Measure | None = supply_voltage()
    voltage_least_v: Measure | None = least_voltage()
    saddle: Connection | None = connection("Saddle", "Like: wide dovetail, dovetail 44 mm.")

    def draw(self, cooling_k: float | None) -> Draw:  # noqa: ARG002 - only cameras are cooled
        """What it takes while it tracks, at most what it takes while it slews."""
        on, peak = nominal(self.current_a), nominal(self.current_peak_a)
        on_basis, peak_basis = self.basis_of(self.current_a), self.basis_of(self.current_peak_a)
        if on is not None:
            unknown = "current_peak_a" if peak is None else ""
            highest = peak_basis if peak is not None and peak >= on else on_basis
            return Draw(on, on if peak is None else max(on, peak), (), unknown, on_basis, highest)
        if peak is not None:
            return Draw(peak, peak, (said("draw.slewing"),), "", peak_basis, peak_basis)
        return Draw(asks=(("current_a", "current"),))


class Support(BasePart):
    """A pier or tripod."""

    kind: Literal["support"] = "support"
    kind_words: ClassVar[str] = "pier or tripod"
    kind_purpose: ClassVar[str] = "Stands under the mount."
    rides: ClassVar[Rides] = "ground"

    mass_kg: Measure | None = mass(300.0)
    capacity_kg: Measure | None = measure("Capacity", "mass", 2000.0, role="bears")
    height_from_mm: Measure | None = measure("Lowest height", "length", 5000.0)
    height_to_mm: Measure | None = measure("Greatest height", "length", 5000.0)


class Counterweight(BasePart):
    """A weight for the bar."""

    kind: Literal["counterweight"] = "counterweight"
    kind_words: ClassVar[str] = "counterweight"
    kind_purpose: ClassVar[str] = "Balances the tube. It goes on before the tube and comes off after it."
    rides: ClassVar[Rides] = "bar"

    bore_mm: Measure | None = measure("Bore", "length", 100.0)
    thickness_mm: Measure | None = measure("Thickness", "length", 500.0)


class PlateAndRings(BasePart):
    """Dovetail plate, tube rings."""

    kind: Literal["plate_rings"] = "plate_rings"
    kind_words: ClassVar[str] = "plate and rings"
    kind_purpose: ClassVar[str] = "Holds the tube in the mount's saddle."

    dovetail: Connection | None = connection("Dovetail", "Like: wide dovetail, dovetail 44 mm.")
    plate_length_mm: Measure | None = measure("Length", "length", 2000.0)


class PowerSource(BasePart):
    """A battery or a supply."""

    kind: Literal["power_source"] = "power_source"
    kind_words: ClassVar[str] = "power source"
    kind_purpose: ClassVar[str] = "Feeds mount, camera and heaters."
    rides: ClassVar[Rides] = "ground"

    chemistry: Literal["lead_acid", "agm", "lifepo4", "lithium_ion", "mains"] | None = choice(
        "Chemistry",
        (
            ("lead_acid", "lead-acid"),
            ("agm", "lead-acid, AGM"),
            ("lifepo4", "lithium iron phosphate"),
            ("lithium_ion", "lithium-ion"),
            ("mains", "mains supply"),
        ),
        help=(
            "Fuse a battery at its terminal; "
            "keep mains off wet ground and behind residual-current protection."
        ),
    )
    voltage_v: Measure | None = measure("Nominal voltage", "voltage", 400.0)
    capacity_ah: Measure | None = measure("Capacity", "charge", 2000.0)
    usable_share: Measure | None = measure("Usable share", "fraction", 1.0)
    outputs: str = text("Outputs", group="Figures")


class Accessory(BasePart):
    """Anything else that has a mass and a place."""

    kind: Literal["accessory"] = "accessory"
    kind_words: ClassVar[str] = "other accessory"
    kind_purpose: ClassVar[str] = (
        "Computer, dew heater, finder, cables: anything that weighs or draws current."
    )
    seldom_draws: ClassVar[bool] = True

    place: Literal["tube", "saddle", "bar", "ground"] | None = choice(
        "Where it rides",
        (
            ("tube", "on the tube"),
            ("saddle", "on the saddle"),
            ("bar", "on the bar"),
            ("ground", "on the ground"),
        ),
    )
    current_a: Measure | None = current("While it is on.", group="Power")
    current_idle_a: Measure | None = measure(
        "Current at idle", "current", 50.0, above=False, help="0 if it is then off.", group="Power"
    )
    duty_share: Measure | None = measure(
        "Share of the night that it is on",
        "fraction",
        1.0,
        above=False,
        help="A heater at half power: 50 %.",
        group="Power",
    )
    voltage_v: Measure | None = supply_voltage()
    voltage_least_v: Measure | None = least_voltage()

    @property
    def rides_at(self) -> Rides | None:
        """Where its owner says."""
        return self.place

    def draw(self, cooling_k: float | None) -> Draw:
        """By the share of the night that it is on; asked for where a figure of its power is given."""
        share, idle = nominal(self.duty_share), nominal(self.current_idle_a)
        on = nominal(self.current_a)
        if on is None:
            known = (share, idle, self.voltage_v, self.voltage_least_v)
            driven = any(figure is not None for figure in known)
            return Draw(asks=(("current_a", "current"),)) if driven else Draw(taken_none=True)
        if share is None:
            return super().draw(cooling_k)
        highest = self.basis_of(self.current_a if on >= (idle or 0.0) else self.current_idle_a)
        mean = mean_current_a(on, idle or 0.0, share)
        return Draw(mean, max(on, idle or 0.0), basis="worked out", peak_basis=highest)
