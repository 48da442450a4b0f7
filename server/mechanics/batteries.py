"""What a battery gives in a night: its usable share, the cold, and what the devices take."""

from __future__ import annotations

from itertools import pairwise
from typing import Literal

from server.out_of_range import OutOfRangeError

Chemistry = Literal["lead_acid", "agm", "lifepo4", "lithium_ion", "mains"]

USABLE: dict[Chemistry, float] = {
    "lead_acid": 0.5,
    "agm": 0.5,
    "lifepo4": 0.8,
    "lithium_ion": 0.8,
    "mains": 1.0,
}
"""How much of a battery is taken out without harm (common practice; vendors' charts give the same)."""
COLD: dict[Chemistry, tuple[tuple[float, float], ...]] = {
    "lead_acid": ((-20.0, 0.5), (0.0, 0.8), (20.0, 1.0)),
    "agm": ((-20.0, 0.55), (0.0, 0.85), (20.0, 1.0)),
    "lifepo4": ((-20.0, 0.6), (0.0, 0.85), (20.0, 1.0)),
    "lithium_ion": ((-20.0, 0.6), (0.0, 0.85), (20.0, 1.0)),
    "mains": ((20.0, 1.0),),
}
"""What is left of the capacity at a temperature, degrees Celsius (common practice, from memory, no source:
makers' sheets differ by a tenth and more). No lithium cell is charged below freezing."""


def cold_share(chemistry: Chemistry, temperature_c: float) -> float:
    """Return what is left of the capacity in the cold, 0 to 1; linear in the table, its ends beyond.

    Source: `COLD`.
    """
    rows = COLD[chemistry]
    if temperature_c <= rows[0][0]:
        return rows[0][1]
    for (low, a), (high, b) in pairwise(rows):
        if temperature_c <= high:
            return a + (b - a) * (temperature_c - low) / (high - low)
    return rows[-1][1]


CELL_V: dict[Chemistry, tuple[float, float, float, float]] = {
    "lead_acid": (2.0, 0.5, 1.9, 1.75),
    "agm": (2.0, 0.5, 1.9, 1.75),
    "lifepo4": (3.2, 0.9, 3.0, 2.5),
    "lithium_ion": (3.7, 0.8, 3.3, 3.0),
}
"""Of one cell under load: nominal volts; a share drawn, and the volts there, before which it is not lower;
volts when it is empty (common practice, from memory, no source: makers' sheets differ, and a cold or old cell
sags more)."""


def end_voltage_v(chemistry: Chemistry, voltage_v: float, usable_share: float) -> float:
    """Return what a battery still gives under load once its usable share is drawn, V.

    voltage_v: nominal, above 0. usable_share: 0 to 1; up to the share that `CELL_V` names the voltage there
    is given, beyond it falls in a straight line to that of an empty battery. A mains supply keeps its
    voltage. Raises ValueError outside. Source: `CELL_V`.
    """
    if not (voltage_v > 0.0 and 0.0 <= usable_share <= 1.0):
        raise OutOfRangeError("A battery has a voltage above 0 and a usable share of 0 to 1. Enter both.")
    cell = CELL_V.get(chemistry)
    if cell is None:
        return voltage_v
    full, holds_to, end, empty = cell
    beyond = max(0.0, usable_share - holds_to) / (1.0 - holds_to)
    return voltage_v / full * (end + (empty - end) * beyond)


PEUKERT: dict[Chemistry, float] = {"lead_acid": 1.25, "agm": 1.1}
"""How much a faster drain costs a lead battery; counted for these alone (vendors' charts, which differ)."""
RATED_HOURS = 20.0
"""In how many hours a lead battery's printed charge is drawn (common practice, no source)."""


def hours_by_peukert(capacity_ah: float, current_a: float, exponent: float, rated_hours: float) -> float:
    """Return for how long a full battery gives a steady current, hours.

    All above 0, the exponent 1 or more. Raises ValueError outside. Source: Peukert's law,
    t = H (C / (I H))^k; any text on batteries.
    """
    if not (capacity_ah > 0.0 and current_a > 0.0 and exponent >= 1.0 and rated_hours > 0.0):
        raise OutOfRangeError(
            "A charge, a current and hours are above 0, and the exponent 1 or more. Enter them."
        )
    return rated_hours * float((capacity_ah / (current_a * rated_hours)) ** exponent)


def drain_share(chemistry: Chemistry, capacity_ah: float, current_a: float) -> float:
    """Return what is left of the printed charge when it is drawn faster than it is rated for, 0 to 1.

    1 for chemistries that `PEUKERT` leaves out, for a slow drain and for none. Errors as `hours_by_peukert`.
    Source: the same law, its hours over those of the charge alone.
    """
    exponent = PEUKERT.get(chemistry)
    if exponent is None or current_a * RATED_HOURS <= capacity_ah:
        return 1.0
    hours, alone = hours_by_peukert(capacity_ah, current_a, exponent, RATED_HOURS), capacity_ah / current_a
    # A charge next to nothing against a current beyond all is gone at once.
    return min(1.0, hours / alone) if alone > 0.0 else 0.0


def usable_wh(
    capacity_ah: float, voltage_v: float, usable_share: float, chemistry: Chemistry, temperature_c: float
) -> float:
    """Return the energy that a battery gives, Wh. Each figure is 0 or more, the share at most 1.

    Raises ValueError outside. Source: charge times voltage, times both shares. That a fast drain gives less
    is for `drain_share`.
    """
    if not (capacity_ah >= 0.0 and voltage_v >= 0.0 and 0.0 <= usable_share <= 1.0):
        raise OutOfRangeError(
            "A battery has a capacity and a voltage of 0 or more and a usable share of 0 to 1."
        )
    return capacity_ah * voltage_v * usable_share * cold_share(chemistry, temperature_c)


def mean_current_a(on_a: float, idle_a: float, duty_share: float) -> float:
    """Return the mean of a device that is on for a share of the time and idles in the rest, A.

    Raises ValueError for a share outside 0 to 1. Source: a weighted mean.
    """
    if not 0.0 <= duty_share <= 1.0:
        raise OutOfRangeError(
            f"The share is {duty_share:g}; it must be 0 to 1. A heater at half power: 50 %."
        )
    return on_a * duty_share + idle_a * (1.0 - duty_share)


def cooling_current_a(idle_a: float, full_a: float, asked_k: float, most_k: float) -> float:
    """Return a cooled camera's current once it is cold, A: between idle and full by the cooling asked for.

    asked_k: below the air, 0 or more; most_k: what it can do, above 0. Raises ValueError outside. A simple
    model: the heat that leaks in goes with the difference, the coolers' efficiency does not stay the same; a
    fifth off is usual. Asked for more than it can, it runs at full: `cooling_short_k` says by how much it
    then stays too warm. Source: heat flow proportional to the difference of temperature (any text on heat),
    the rest assumed.
    """
    return idle_a + (full_a - idle_a) * min(1.0, (asked_k - cooling_short_k(asked_k, most_k)) / most_k)


def cooling_short_k(asked_k: float, most_k: float) -> float:
    """Return by how much a camera stays warmer than it is asked to be, K; 0 where it can do what is asked.

    asked_k: below the air, 0 or more; most_k: what it can do, above 0. Raises ValueError outside.
    Source: arithmetic.
    """
    if not (asked_k >= 0.0 and most_k > 0.0):
        raise OutOfRangeError("A camera is cooled by 0 K or more, of what it can do. Enter both.")
    return max(0.0, asked_k - most_k)
