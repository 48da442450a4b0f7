"""What a mount carries against what it may carry: shares of one load by floats, of many by arrays.

Arrays go together by broadcasting and have nan where a float would raise ValueError.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from server.arrays import Number, is_array, none_outside
from server.out_of_range import OutOfRangeError

#: Heavier than any amateur's load; the range only catches slips of the unit.
HEAVIEST_KG = 10_000.0


@dataclass(frozen=True)
class MassSum:
    """The sum of the masses that are known, and the names of those that are not.

    known_kg: kg, 0 or more; a lower bound while anything is missing. missing: names, in the order given.
    """

    known_kg: float
    missing: tuple[str, ...]

    @property
    def complete(self) -> bool:
        """True when no mass is missing, so that `known_kg` is the total."""
        return not self.missing


def total_mass(items: Iterable[tuple[str, float | None]]) -> MassSum:
    """Return the sum of the known masses, kg, and the names of the items whose mass is unknown.

    items: (name, mass in kg from 0 to 10 000, or None for unknown); none at all gives 0 kg, nothing
    missing. Raises ValueError for a mass outside. Source: arithmetic.
    """
    known: list[float] = []
    missing: list[str] = []
    for name, mass_kg in items:
        if mass_kg is None:
            missing.append(name)
        else:
            known.append(checked_kg(f"The mass of {name}", mass_kg))
    return MassSum(known_kg=math.fsum(known), missing=tuple(missing))


def usable_capacity_kg(rated_kg: Number, usable_share: float) -> Number:
    """Return the load, kg, that a mount carries well enough for long exposures.

    rated_kg: the maker's rating, above 0, to 10 000 kg. usable_share: above 0, to 1. Raises ValueError
    outside.
    Source: common practice, no source: one half to two thirds for counterweighted equatorial mounts. Makers
    rate differently, and the length of the tube and the wind matter as much as the mass.
    """
    rated = _checked_capacity_kg("The rated capacity", rated_kg)
    share = float(usable_share)
    if not 0.0 < share <= 1.0:
        raise OutOfRangeError(
            f"The usable share is {share:g}; it must be more than 0 and at most 1. Give 0.5 for one half."
        )
    return rated * share


def load_fraction(load_kg: Number, capacity_kg: Number) -> Number:
    """Return the load as a share of a capacity, a pure number, 0 or more; above 1 is too much.

    load_kg: 0 to 10 000 kg. capacity_kg: above 0, to 10 000 kg. Raises ValueError outside.
    Source: arithmetic.
    """
    load = checked_kg("The load", load_kg)
    return load / _checked_capacity_kg("The capacity", capacity_kg)


def _checked_capacity_kg(what: str, capacity_kg: Number) -> Number:
    capacity = checked_kg(what, capacity_kg)
    if is_array(capacity):
        return none_outside(capacity, 0.0, HEAVIEST_KG, above_low=True)
    if capacity == 0.0:
        raise OutOfRangeError(
            f"{what} is 0 kg; it must be more than 0 and at most {HEAVIEST_KG:g} kg. "
            "Leave it empty when it is not known."
        )
    return capacity


def checked_kg(what: str, mass_kg: Number) -> Number:
    """Return a mass, kg, from 0 to `HEAVIEST_KG`. Raises ValueError outside. Source: none needed."""
    if type(mass_kg) is float:
        mass = mass_kg
    elif is_array(mass_kg):
        return none_outside(mass_kg, 0.0, HEAVIEST_KG)
    else:
        mass = float(mass_kg)
    if not 0.0 <= mass <= HEAVIEST_KG:
        raise OutOfRangeError(
            f"{what} is {mass:g} kg; it must be at least 0 and at most {HEAVIEST_KG:g} kg. "
            "Check the figure and its unit."
        )
    return mass
