"""Copper leads: how thick, what they lose, and what fuse to ask about.

Wire sizes by ASTM B258; lengths mm, resistance ohm. How much a lead may carry for good is a matter of its
insulation and of local codes: `most_a` is a cautious rule beside them, and no rating. Leads are judged at
20 C: in the cold copper loses less, by a tenth at -5 C, so that this is the safe side of a night, though not
of a hot day.
"""

from __future__ import annotations

import math

from server.out_of_range import OutOfRangeError

#: Resistivity of annealed copper at 20 C, ohm m, and its change for each K. Source: International Annealed
#: Copper Standard (IEC 60028).
COPPER_OHM_M, COPPER_PER_K = 1.7241e-8, 0.00393
#: Usual sizes, thick to thin.
GAUGES = (8, 10, 12, 14, 16, 18, 20, 22, 24)
#: Ratings of blade fuses, A. Source: ISO 8820-3 (from memory).
FUSES_A = (1.0, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0)
#: A fuse is chosen this much above the peak (common practice, no source).
ABOVE_PEAK = 1.25
#: What small flexible leads are taken to bear, A for each mm^2 of copper (common practice, no source). It is
#: at or below what IEC 60335-1 lets a supply cord of 0.5 to 2.5 mm^2 carry (from memory).
DENSITY_A_MM2 = 6.0


def area_of_gauge_mm2(gauge: int) -> float:
    """Return the copper's cross-section, mm^2, of an American gauge 0 to 40. Raises ValueError outside.

    Source: ASTM B258, d = 0.127 mm x 92^((36 - n) / 39).
    """
    if not 0 <= gauge <= 40:
        raise OutOfRangeError(
            f"The gauge is {gauge}; it must be 0 to 40. Read it off the cable, such as 18 AWG."
        )
    diameter = 0.127 * math.pow(92.0, (36 - gauge) / 39.0)
    return math.pi / 4.0 * diameter * diameter


def resistance_ohm(length_mm: float, area_mm2: float, temperature_c: float = 20.0) -> float:
    """Return the resistance of one wire, ohm. length_mm: 0 or more. area_mm2: above 0. Raises ValueError
    outside.

    Source: R = rho L / A, copper as `COPPER_OHM_M`, linear in temperature.
    """
    if not (length_mm >= 0.0 and area_mm2 > 0.0):
        raise OutOfRangeError("A wire has a length of 0 or more and a cross-section above 0. Enter both.")
    rho = COPPER_OHM_M * (1.0 + COPPER_PER_K * (temperature_c - 20.0))
    return rho * (length_mm / 1000.0) / (area_mm2 * 1e-6)


def drop_v(length_mm: float, area_mm2: float, current_a: float, temperature_c: float = 20.0) -> float:
    """Return the voltage that a lead loses on its two wires, there and back. current_a: 0 or more.

    Raises ValueError outside. Source: Ohm's law, 2 L; plugs and switches lose more and are not counted.
    """
    if not current_a >= 0.0:
        raise OutOfRangeError(f"The current is {current_a:g} A; it must be 0 or more. Enter the peak.")
    return 2.0 * resistance_ohm(length_mm, area_mm2, temperature_c) * current_a


def longest_mm(area_mm2: float, current_a: float, most_v: float, temperature_c: float = 20.0) -> float | None:
    """Return how long a lead may be, one way, that loses no more than `most_v` on its two wires, mm.

    area_mm2: above 0. current_a: 0 or more; without current any length does: None. most_v: 0 or more. Raises
    ValueError outside. Source: `drop_v` turned round.
    """
    if not most_v >= 0.0:
        raise OutOfRangeError(f"The voltage that may be lost is {most_v:g} V; it must be 0 or more.")
    lost = drop_v(1000.0, area_mm2, current_a, temperature_c)
    return most_v / lost * 1000.0 if lost > 0.0 else None


def lost_w(length_mm: float, area_mm2: float, current_a: float, temperature_c: float = 20.0) -> float:
    """Return the power that a lead turns into heat, W: its drop times the current. Errors as `drop_v`.

    Source: Joule's law, P = I^2 R over both wires.
    """
    return drop_v(length_mm, area_mm2, current_a, temperature_c) * current_a


def density_a_mm2(area_mm2: float, current_a: float) -> float:
    """Return the current for each mm^2 of copper, A/mm^2. area_mm2: above 0; current_a: 0 or more. Raises
    ValueError outside. Source: the definition.
    """
    if not (area_mm2 > 0.0 and current_a >= 0.0):
        raise OutOfRangeError("A wire has a cross-section above 0 and carries 0 A or more. Enter both.")
    return current_a / area_mm2


def most_a(area_mm2: float) -> float:
    """Return the current that a small flexible lead is taken to bear, A. area_mm2: above 0. Raises ValueError
    outside.

    A rule to be warned by, and no rating: what a wire may carry is for its maker and local codes to say.
    Source: `DENSITY_A_MM2`.
    """
    if not area_mm2 > 0.0:
        raise OutOfRangeError(f"The cross-section is {area_mm2:g} mm²; it must be above 0. Enter it.")
    return DENSITY_A_MM2 * area_mm2


def gauge_for(length_mm: float, current_a: float, most_v: float) -> int | None:
    """Return the thinnest usual gauge that loses no more than `most_v` and that a usual fuse can guard at
    this current; None where even the thickest does not.

    Errors as `drop_v`. Source: as `drop_v` and `fuse_to_ask_about_a`.
    """
    for gauge in reversed(GAUGES):
        area = area_of_gauge_mm2(gauge)
        if drop_v(length_mm, area, current_a) <= most_v and fuse_to_ask_about_a(current_a, area) is not None:
            return gauge
    return None


def fuse_to_ask_about_a(peak_a: float, area_mm2: float, above: float = ABOVE_PEAK) -> float | None:
    """Return the next usual fuse at or above so many times the peak, A; None where the wire is taken to bear
    less than that fuse, and beyond all of them.

    peak_a: 0 or more; area_mm2: above 0, of the thinnest wire behind the fuse; above: 1 or more. Raises
    ValueError outside. It guards the wire: whether that wire may carry so much is for its maker or an
    electrician to say. Source: as `FUSES_A` and `most_a`; the quarter is common practice.
    """
    if not (peak_a >= 0.0 and above >= 1.0):
        raise OutOfRangeError(f"The peak current is {peak_a:g} A; it must be 0 or more. Enter the peak.")
    borne_a = most_a(area_mm2)
    return next((fuse for fuse in FUSES_A if peak_a * above <= fuse <= borne_a), None)


def fuse_that_carries_a(peak_a: float, area_mm2: float) -> float | None:
    """Return the fuse for a wire, A: with a quarter to spare above the peak, else the largest usual one that
    carries the peak and that the wire is taken to bear; None where there is none.

    Errors as `fuse_to_ask_about_a`. Source: a blade fuse carries its rating for good (ISO 8820-3, from
    memory); otherwise as `fuse_to_ask_about_a`.
    """
    spared = fuse_to_ask_about_a(peak_a, area_mm2)
    if spared is not None:
        return spared
    return max((fuse for fuse in FUSES_A if peak_a <= fuse <= most_a(area_mm2)), default=None)
