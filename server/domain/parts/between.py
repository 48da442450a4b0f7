"""Between tube and camera: rings, shims, adapters, wheels, guiders, rotators, tilters, focusers."""

from __future__ import annotations

from typing import ClassVar, Literal

from server.domain.connections import Connection
from server.domain.fields import (
    capacity,
    choice,
    connection,
    count,
    current,
    flag,
    length_step,
    longest,
    mass,
    measure,
)
from server.domain.measure import Measure
from server.domain.parts.base import BasePart, PathPart
from server.domain.parts.capabilities import Draw
from server.domain.parts.filters import FORMATS, FilterFormat

MOVES = "moves"


class SpacerRing(PathPart):
    """A ring of fixed or adjustable length with the same thread at both ends."""

    kind: Literal["spacer_ring"] = "spacer_ring"
    kind_words: ClassVar[str] = "spacer ring"
    kind_purpose: ClassVar[str] = "Adds length."
    only_joins: ClassVar[bool] = True

    mass_kg: Measure | None = mass(5.0)
    longest_mm: Measure | None = longest()
    step_mm: Measure | None = length_step()
    locking_ring: bool | None = flag("Has a locking ring")


class Shim(BasePart):
    """A thin washer that sits in a joint, between two shoulders."""

    kind: Literal["shim"] = "shim"
    kind_words: ClassVar[str] = "shim"
    kind_purpose: ClassVar[str] = "Sits in a joint and adds a few tenths of a millimetre."
    on_path: ClassVar[bool] = True
    only_joins: ClassVar[bool] = True

    mass_kg: Measure | None = mass(1.0)
    length_mm: Measure | None = measure("Thickness", "length", 10.0)
    fits_from_mm: Measure | None = measure(
        "Inner diameter", "length", 300.0, help="The largest thread that passes it."
    )
    fits_to_mm: Measure | None = measure("Outer diameter", "length", 300.0)


class Adapter(PathPart):
    """A part that joins two different connections."""

    kind: Literal["adapter"] = "adapter"
    kind_words: ClassVar[str] = "adapter"
    kind_purpose: ClassVar[str] = "Joins two connections that do not mate by themselves."
    only_joins: ClassVar[bool] = True

    mass_kg: Measure | None = mass(5.0)
    longest_mm: Measure | None = longest()
    step_mm: Measure | None = length_step()
    locking_ring: bool | None = flag("Has a locking ring")


class FilterWheel(PathPart):
    """A filter wheel or drawer; which filters sit in it is said in the rig."""

    kind: Literal["filter_wheel"] = "filter_wheel"
    kind_words: ClassVar[str] = "filter wheel or drawer"
    kind_purpose: ClassVar[str] = "Holds filters in the beam."
    draws_while: ClassVar[str] = MOVES

    mass_kg: Measure | None = mass(10.0)
    positions: int | None = count("Positions", 40)
    format: FilterFormat | None = choice("Filter format", FORMATS)
    filter_at_mm: Measure | None = measure(
        "Filter behind the sky-side shoulder",
        "length",
        200.0,
        above=False,
        help="Where the glass sits along the body.",
    )
    current_a: Measure | None = current("While it turns; 0 where nothing drives it.")

    def draw(self, cooling_k: float | None) -> Draw:
        """None for a drawer of one place, which nothing drives."""
        return Draw() if self.positions == 1 and self.current_a is None else super().draw(cooling_k)


class OffAxisGuider(PathPart):
    """Picks light for the guide camera off the edge of the field with a prism."""

    kind: Literal["off_axis_guider"] = "off_axis_guider"
    kind_words: ClassVar[str] = "off-axis guider"
    kind_purpose: ClassVar[str] = "Lends the guide camera a corner of the field."

    mass_kg: Measure | None = mass(10.0)
    prism_mm: Measure | None = measure("Prism size", "length", 50.0)
    prism_at_mm: Measure | None = measure("Prism behind the sky-side shoulder", "length", 100.0, above=False)
    reach_from_mm: Measure | None = measure(
        "Prism edge from the axis, furthest in", "length", 100.0, above=False, group="Side port"
    )
    reach_to_mm: Measure | None = measure(
        "Prism edge from the axis, furthest out", "length", 100.0, group="Side port"
    )
    side_port: Connection | None = connection("Side port", "Where the guide camera goes.", group="Side port")
    side_path_mm: Measure | None = measure(
        "Path from prism to side port", "length", 200.0, above=False, group="Side port"
    )


class Rotator(PathPart):
    """Turns the camera about the optical axis."""

    kind: Literal["rotator"] = "rotator"
    kind_words: ClassVar[str] = "rotator"
    kind_purpose: ClassVar[str] = "Turns the camera to frame a target."
    draws_while: ClassVar[str] = MOVES

    mass_kg: Measure | None = mass(10.0)
    range_deg: Measure | None = measure("Range", "angle", 720.0)
    step_deg: Measure | None = measure("Step", "angle", 90.0)
    capacity_kg: Measure | None = capacity()
    current_a: Measure | None = current()


class TiltAdjuster(PathPart):
    """Squares the sensor to the optical axis."""

    kind: Literal["tilt_adjuster"] = "tilt_adjuster"
    kind_words: ClassVar[str] = "tilt adjuster"
    kind_purpose: ClassVar[str] = "Squares the sensor to the axis."
    seldom_draws: ClassVar[bool] = True
    draws_while: ClassVar[str] = MOVES

    mass_kg: Measure | None = mass(10.0)
    range_deg: Measure | None = measure("Range", "angle", 45.0)
    step_deg: Measure | None = measure("Step", "angle", 45.0)
    capacity_kg: Measure | None = capacity()
    current_a: Measure | None = current()


class Focuser(PathPart):
    """A focuser added to the train, or a motor on the tube's own one.

    Its optical length is that with the drawtube fully in.
    """

    kind: Literal["focuser"] = "focuser"
    kind_words: ClassVar[str] = "focuser"
    kind_purpose: ClassVar[str] = (
        "Moves the camera along the axis. Its optical length counts fully racked in."
    )
    draws_while: ClassVar[str] = MOVES

    mass_kg: Measure | None = mass(10.0)
    travel_mm: Measure | None = measure("Travel", "length", 300.0)
    step_um: Measure | None = measure("Step of the motor", "spot", 1000.0)
    capacity_kg: Measure | None = capacity()
    current_a: Measure | None = current()
