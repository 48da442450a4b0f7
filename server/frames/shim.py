"""What a tilt asks of the screws, and what a first turn says of how the picture lies on the sensor."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class Screw:
    """Where a screw, or the place of a shim, stands, from behind the camera with the picture upright.

    Attributes:
        radius_mm: from the axis. angle_deg: from the picture's right towards its rising rows.
    """

    radius_mm: float
    angle_deg: float

    @property
    def place_mm(self) -> complex:
        """Its place as one complex number, mm."""
        turn = math.radians(self.angle_deg)
        return self.radius_mm * complex(math.cos(turn), math.sin(turn))


#: How a picture may lie on the sensor: as it is, mirrored left and right, up and down, turned by half.
Lies = Literal["as it is", "left and right", "up and down", "half turn"]
_TOLD_APART = 0.3
LIES: tuple[Lies, ...] = ("as it is", "left and right", "up and down", "half turn")


def lying(place: complex, lies: str) -> complex:
    """Return a place, or a slope, of the screws as the picture shows it."""
    across = -place.real if lies in ("left and right", "half turn") else place.real
    up = -place.imag if lies in ("up and down", "half turn") else place.imag
    return complex(across, up)


def shims_um(
    tilt: complex, half_diagonal_mm: float, screws: Sequence[Screw], lies: str = LIES[0]
) -> list[float]:
    """Return by how much the sensor must come further from the optics at each screw, um, the least of them 0.

    tilt: rise of best focus, um per half diagonal, as the picture has it. Source: plane geometry.
    """
    heights = [(tilt.conjugate() * lying(screw.place_mm, lies)).real / half_diagonal_mm for screw in screws]
    least = min(heights)
    return [height - least for height in heights]


def turns(shims: Sequence[float], pitch_mm: float) -> list[float]:
    """Return the turns of screws of a thread's pitch, mm, that move by so many um."""
    return [shim / (1000.0 * pitch_mm) for shim in shims]


def slope_of_turn(screws: Sequence[Screw], number: int, out_um: float, half_diagonal_mm: float) -> complex:
    """Return the change of the sensor's slope, um per half diagonal, when one of three screws moves it out.

    The plane through the three screws, with the other two held. Raises ValueError unless they are three, and
    not in one line.
    """
    if len(screws) != 3:
        raise ValueError("A plane needs three screws.")
    here = screws[number].place_mm
    one, two = (screw.place_mm for place, screw in enumerate(screws) if place != number)
    along = two - one
    # The height above the line of the other two rises at right angles to it.
    across = along * 1j
    lever = ((here - one) * across.conjugate()).real / abs(across) if abs(across) else 0.0
    if abs(lever) < 1e-6:
        raise ValueError("The three screws stand in one line.")
    return out_um / lever * across / abs(across) * half_diagonal_mm


def telling(screws: Sequence[Screw]) -> tuple[int, ...]:
    """Return the numbers of those of three screws whose turn tells how the picture lies, the surest first.

    A screw on one of the picture's axes moves the sensor alike for two ways of lying. Empty for other than
    three.
    """
    if len(screws) != 3:
        return ()

    def apart(number: int) -> float:
        slope = slope_of_turn(screws, number, 1.0, 1.0)
        ways = [lying(slope, lies) for lies in LIES]
        return min(abs(a - b) for n, a in enumerate(ways) for b in ways[n + 1 :]) / abs(slope)

    try:
        told = {number: apart(number) for number in range(3)}
    except ValueError:
        return ()
    return tuple(sorted((n for n in told if told[n] > _TOLD_APART), key=lambda n: -round(told[n], 6)))


def lies_by_turn(expected: complex, before: complex, after: complex) -> tuple[Lies, float, float] | None:
    """Return how the picture lies, by a turn's outcome: the best of `LIES`, its miss, and the next best's,
    um.

    expected: the change of the sensor's slope by the turn, as the screws stand. before, after: the tilts that
    were measured; moving the sensor out where best focus is further out takes tilt away. None where nothing
    was turned.
    """
    if not abs(expected):
        return None
    seen = before - after
    misses = sorted((abs(lying(expected, lies) - seen), lies) for lies in LIES)
    return misses[0][1], misses[0][0], misses[1][0]
