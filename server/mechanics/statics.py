"""Centre of mass and torque of bodies along one line."""

from __future__ import annotations

import math
from collections.abc import Sequence

from server.out_of_range import OutOfRangeError

STANDARD_GRAVITY_M_S2 = 9.80665
"""Source: NIST SP 811 (2008), appendix B.8: the standard acceleration of free fall.

Real gravity is from 9.78 at the equator to 9.83 at the poles: within 0.3 % of it.
"""
HEAVIEST_KG = 10_000.0
LONGEST_MM = 100_000.0
_FIX = "Check the figure and its unit."


def centre_of_mass_mm(bodies: Sequence[tuple[float, float]]) -> float:
    """Return where the centre of mass of some bodies lies, mm, on the line that they are counted along.

    bodies: (mass in kg from 0 to 10 000, place in mm within 100 000 of the line's zero). Raises ValueError
    outside, and where they weigh nothing together. Source: sum m_i (x_i - x) = 0, the definition of
    the centre of mass; OpenStax, University Physics 1, section 9.6 (number from memory).
    """
    for mass_kg, at_mm in bodies:
        _demand("A mass", mass_kg, 0.0, HEAVIEST_KG, "kg")
        _demand("A place", at_mm, -LONGEST_MM, LONGEST_MM, "mm")
    whole_kg = math.fsum(mass for mass, _ in bodies)
    if whole_kg <= 0.0:
        raise OutOfRangeError(
            "The bodies weigh 0 kg together and have no centre of mass. Enter a mass above 0 kg."
        )
    return math.fsum(mass * at for mass, at in bodies) / whole_kg


def shift_of_centre_mm(whole_kg: float, moved_kg: float, by_mm: float) -> float:
    """Return how far the centre of mass moves, mm, when a part of the mass moves: the same way, by its share.

    whole_kg: above 0, with the part; moved_kg: 0 to whole_kg; by_mm: within 100 000. Raises ValueError
    outside. Source: the definition of the centre of mass, as above.
    """
    _demand("The whole mass", whole_kg, 0.0, HEAVIEST_KG, "kg")
    _demand("The mass that moves", moved_kg, 0.0, whole_kg, "kg")
    _demand("The way", by_mm, -LONGEST_MM, LONGEST_MM, "mm")
    if whole_kg == 0.0:
        raise OutOfRangeError("The whole mass is 0 kg; it must be above that. Enter the masses.")
    return moved_kg / whole_kg * by_mm


def torque_nm(mass_kg: float, arm_mm: float) -> float:
    """Return the torque of a mass about a level axis, N m, with the arm level; its sign is the arm's.

    mass_kg: 0 to 10 000; arm_mm: within 100 000. Raises ValueError outside.
    Source: torque = m g r, with standard gravity; OpenStax, University Physics 1, section 10.6
    (number from memory).
    """
    _demand("The mass", mass_kg, 0.0, HEAVIEST_KG, "kg")
    _demand("The arm", arm_mm, -LONGEST_MM, LONGEST_MM, "mm")
    return mass_kg * STANDARD_GRAVITY_M_S2 * arm_mm / 1000.0


def _demand(what: str, value: float, low: float, high: float, unit: str) -> None:
    if not low <= value <= high:
        raise OutOfRangeError(
            f"{what} is {value:g} {unit}; it must be from {low:g} to {high:g} {unit}. {_FIX}"
        )


def moment_of_inertia_kg_m2(bodies: Sequence[tuple[float, float, float, float]]) -> float:
    """Return the moment of inertia of bodies about one axis, kg m^2.

    bodies: (mass in kg, distance of its middle from the axis in mm, length in mm, radius in mm): each a full
    cylinder whose own axis is square to the one that it turns about; 0 for a point's length, for a slender
    rod's radius. A hollow one of thin wall has m R^2 / 2 where a full one has m R^2 / 4. Raises ValueError
    outside the ranges of the other functions. Source: the parallel-axis theorem and the cylinder about its
    middle, I = m (d^2 + L^2 / 12 + R^2 / 4); OpenStax, University Physics 1, section 10.5 (number from
    memory).
    """
    total = 0.0
    for mass_kg, distance_mm, length_mm, radius_mm in bodies:
        _demand("A mass", mass_kg, 0.0, HEAVIEST_KG, "kg")
        _demand("A distance", distance_mm, -LONGEST_MM, LONGEST_MM, "mm")
        _demand("A length", length_mm, 0.0, LONGEST_MM, "mm")
        _demand("A radius", radius_mm, 0.0, LONGEST_MM, "mm")
        total += mass_kg * (distance_mm**2 + length_mm**2 / 12.0 + radius_mm**2 / 4.0) * 1e-6
    return total
