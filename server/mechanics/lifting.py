"""The revised lifting equation of NIOSH: what a healthy worker may lift so, and how far a load is beyond it.

What it is not for is told in `LIMITS`. A rig carried over a slope at night is none of its cases.

Source, for all of it: Waters, Putz-Anderson, Garg, Applications Manual for the Revised NIOSH Lifting
Equation, DHHS (NIOSH) Publication 94-110 (revised 2021), equation 1 and tables 1 to 7.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from server.mechanics.payload import checked_kg
from server.out_of_range import OutOfRangeError

Coupling = Literal["good", "fair", "poor"]
Duration = Literal["short", "moderate", "long"]
"""Up to one hour, up to two, up to eight."""


class TooOftenError(OutOfRangeError):
    """A lift that is made more often than the equation's table goes."""


LIMITS = (
    "The equation is for smooth lifts with both hands by healthy workers who stand on a level floor with "
    "good footing. It is not for lifting with one hand, seated or kneeling, or in a tight place where one "
    "cannot stand upright; not for loads that are unstable, hot, cold or dirty, nor for lifting people; not "
    "while carrying, pushing or pulling; not with a wheelbarrow or shovel; not for fast lifts, above about "
    "75 cm in a second; not on a slippery floor; not in heat or cold, outside 19 to 26 °C or 35 to 50 % "
    "humidity; not for more than 8 hours; not for one who lifts with others (the manual's section on the "
    "limitations of the task, from memory)."
)
"""What the equation does not hold for, in sentences for the reader."""

OUTSIDE = "outside the equation's range: do not lift so"
LEAST_PER_MINUTE = 0.2

#: Lifts in a minute, and the multiplier for up to 1, 2 and 8 hours with the hands below 75 cm, and at or
#: above it.
FREQUENCIES: tuple[tuple[float, tuple[float, float, float], tuple[float, float, float]], ...] = (
    (0.2, (1.00, 0.95, 0.85), (1.00, 0.95, 0.85)),
    (0.5, (0.97, 0.92, 0.81), (0.97, 0.92, 0.81)),
    (1.0, (0.94, 0.88, 0.75), (0.94, 0.88, 0.75)),
    (2.0, (0.91, 0.84, 0.65), (0.91, 0.84, 0.65)),
    (3.0, (0.88, 0.79, 0.55), (0.88, 0.79, 0.55)),
    (4.0, (0.84, 0.72, 0.45), (0.84, 0.72, 0.45)),
    (5.0, (0.80, 0.60, 0.35), (0.80, 0.60, 0.35)),
    (6.0, (0.75, 0.50, 0.27), (0.75, 0.50, 0.27)),
    (7.0, (0.70, 0.42, 0.22), (0.70, 0.42, 0.22)),
    (8.0, (0.60, 0.35, 0.18), (0.60, 0.35, 0.18)),
    (9.0, (0.52, 0.30, 0.00), (0.52, 0.30, 0.15)),
    (10.0, (0.45, 0.26, 0.00), (0.45, 0.26, 0.13)),
    (11.0, (0.41, 0.00, 0.00), (0.41, 0.23, 0.00)),
    (12.0, (0.37, 0.00, 0.00), (0.37, 0.21, 0.00)),
    (13.0, (0.00, 0.00, 0.00), (0.34, 0.00, 0.00)),
    (14.0, (0.00, 0.00, 0.00), (0.31, 0.00, 0.00)),
    (15.0, (0.00, 0.00, 0.00), (0.28, 0.00, 0.00)),
)
COUPLINGS: dict[Coupling, tuple[float, float]] = {
    "good": (1.0, 1.0),
    "fair": (0.95, 1.0),
    "poor": (0.90, 0.90),
}
#: The height from which the second column of the tables counts, cm.
KNUCKLE_CM = 75.0


@dataclass(frozen=True)
class Lifted:
    """How a load is lifted at one end of the lift; lengths cm, the angle degrees.

    Attributes:
        reach_cm: from between the ankles to between the hands, level.
        height_cm: of the hands above the floor at this end; start_cm: where the lift begins.
        way_cm: how far up or down it goes.
        twist_deg: how far the load is turned aside from straight ahead.
        per_minute, duration: how often, for how long.
        coupling: how well the hands hold it.
    """

    reach_cm: float
    height_cm: float
    start_cm: float
    way_cm: float
    twist_deg: float
    coupling: Coupling
    per_minute: float = LEAST_PER_MINUTE
    duration: Duration = "short"


@dataclass(frozen=True)
class Constants:
    """The equation's figures in one system of units; the manual gives two, and they are no conversions."""

    load: float
    reach: float
    height: float
    per_height: float
    way: float
    furthest_reach: float
    highest: float
    shortest_way: float
    furthest_way: float
    knuckle: float
    unit: str


METRIC = Constants(23.0, 25.0, 75.0, 0.003, 4.5, 63.0, 175.0, 25.0, 175.0, KNUCKLE_CM, "cm")


def recommended_limit(lifted: Lifted, constants: Constants = METRIC) -> float:
    """Return the recommended weight limit, kg, above 0; pounds of a load in inches by the US figures.

    Raises ValueError, whose words begin with what is out of range and end with `OUTSIDE`, where the equation
    gives none: a reach, height, way, twist or frequency beyond it. Below 0 is a slip and said so.
    Source: NIOSH 94-110, equation 1 and the rules for each multiplier (pages 7 to 18).
    """
    c = constants
    for what, value in (
        ("reach", lifted.reach_cm),
        ("height", lifted.height_cm),
        ("start", lifted.start_cm),
        ("way", lifted.way_cm),
        ("twist", lifted.twist_deg),
        ("frequency", lifted.per_minute),
    ):
        if not value >= 0.0:
            raise OutOfRangeError(
                f"The {what} is {value:g}; it must be 0 or more. Give it as it is measured."
            )
    _within("reach", lifted.reach_cm, c.furthest_reach, c.unit)
    _within("height of the hands", lifted.height_cm, c.highest, c.unit)
    _within("height at the start", lifted.start_cm, c.highest, c.unit)
    _within("way up or down", lifted.way_cm, c.furthest_way, c.unit)
    _within("twist", lifted.twist_deg, 135.0, "degrees")
    horizontal = c.reach / max(lifted.reach_cm, c.reach)
    vertical = 1.0 - c.per_height * abs(lifted.height_cm - c.height)
    distance = 0.82 + c.way / max(lifted.way_cm, c.shortest_way)
    asymmetric = 1.0 - 0.0032 * lifted.twist_deg
    frequency = frequency_multiplier(lifted.per_minute, lifted.duration, high=lifted.start_cm >= c.knuckle)
    coupling = COUPLINGS[lifted.coupling][1 if lifted.height_cm >= c.knuckle else 0]
    return c.load * horizontal * vertical * distance * asymmetric * frequency * coupling  # Equation 1.


def _within(what: str, value: float, most: float, unit: str) -> None:
    if value > most:
        raise OutOfRangeError(f"A {what} of {value:g} {unit} is more than {most:g} {unit}: {OUTSIDE}.")


def frequency_multiplier(per_minute: float, duration: Duration, *, high: bool) -> float:
    """Return the multiplier for how often a load is lifted; linear between the table's lines.

    per_minute: 0 or more; at most once in five minutes counts as that. high: hands at or above 75 cm at the
    start. Raises ValueError, as `recommended_limit`, where the table has 0. Source: NIOSH 94-110, table 5.
    """
    column = ("short", "moderate", "long").index(duration)
    rows = [(f, (above if high else below)[column]) for f, below, above in FREQUENCIES]
    f = max(per_minute, LEAST_PER_MINUTE)
    for (low, a), (up, b) in pairwise(rows):
        if low <= f <= up:
            found = a + (b - a) * (f - low) / (up - low)
            if found > 0.0 and (b > 0.0 or f == low):
                return found
            break
    raise TooOftenError(f"{per_minute:g} lifts in a minute are too many for that time: {OUTSIDE}.")


def lifting_index(load_kg: float, limit_kg: float) -> float:
    """Return the load over the recommended limit: above 1 more than some healthy workers should lift, above
    3 more than most should.

    load_kg: 0 or more. limit_kg: above 0. Raises ValueError outside. Source: NIOSH 94-110, equation 2.
    """
    load = checked_kg("The load", load_kg)
    if not limit_kg > 0.0:
        raise OutOfRangeError(f"The limit is {limit_kg:g} kg; it must be more than 0. Work it out first.")
    return load / limit_kg


def duration_of(hours: float) -> Duration:
    """Return the table's column for hours of lifting. Raises ValueError above 8. Source: NIOSH 94-110, page
    19.
    """
    if not 0.0 < hours <= 8.0:
        raise OutOfRangeError(
            f"The lifting goes on for {hours:g} hours; it must be more than 0 and at most 8: {OUTSIDE}."
        )
    return "short" if hours <= 1.0 else "moderate" if hours <= 2.0 else "long"
