"""What a measured tilt asks of the screws, and how the picture lies on the sensor by what a turn of one
did.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from server.domain.frames.measured import Measured, Screws
from server.frames.shim import LIES, Lies, Screw, lies_by_turn, shims_um, slope_of_turn, telling, turns


@dataclass(frozen=True)
class ScrewTold:
    """One screw: its number from 1, where it stands, by how much the sensor must come out there, um, and the
    turns.
    """

    number: int
    angle_deg: float
    shim_um: float
    error_um: float
    turns: float | None


@dataclass(frozen=True)
class Correction:
    """What to do at each screw.

    Attributes:
        by_turns: the screws' thread is known, so that turns are told too.
        telling: number, from 1, of the screw whose turn tells how the picture lies; None where none does.
    """

    screws: tuple[ScrewTold, ...]
    by_turns: bool
    telling: int | None


def ground_screws(screws: Screws) -> list[Screw]:
    """The screws as the ground has them."""
    return [Screw(screws.radius_mm, angle) for angle in screws.angles_deg]


def correction_of(measured: Measured) -> Correction | None:
    """What a set asks of its screws; None without a surface, without screws, or without the pixels' size."""
    half, screws = measured.half_diagonal_mm, measured.screws
    if measured.surface is None or screws is None or half is None:
        return None
    placed = ground_screws(screws)
    shims = shims_um(measured.shown(measured.surface.tilt), half, placed, measured.lies or LIES[0])
    pitch = screws.pitch_mm
    by = [None] * len(shims) if pitch is None else turns(shims, pitch)
    # The difference of two heights, as far apart as any two of them.
    widest = max(abs(a.place_mm - b.place_mm) for a in placed for b in placed)
    error = max(measured.surface.tilt_u.error, measured.surface.tilt_v.error) * widest / half
    return Correction(
        tuple(
            ScrewTold(number + 1, angle, shim, error, turn)
            for number, (angle, shim, turn) in enumerate(zip(screws.angles_deg, shims, by, strict=True))
        ),
        pitch is not None,
        next(iter(telling_screws(screws)), None),
    )


def telling_screws(screws: Screws) -> tuple[int, ...]:
    """The numbers, from 1, of the screws whose turn tells how the picture lies, the surest first."""
    return tuple(number + 1 for number in telling(ground_screws(screws)))


def lies_of(
    before: Measured, after: Measured, screws: Screws, number: int, out_um: float
) -> Lies | Literal["", "unclear"]:
    """How the picture lies, by two sets with one screw turned out between them.

    "" where they tell no tilt, "unclear" where the tilt did not change as any way of lying would have it.

    number: of the screw, from 0. Raises ValueError for other than three screws, or three in one line.
    """
    half = after.half_diagonal_mm
    if before.surface is None or after.surface is None or half is None:
        return ""
    expected = slope_of_turn(ground_screws(screws), number, out_um, half)
    told = lies_by_turn(expected, before.shown(before.surface.tilt), after.shown(after.surface.tilt))
    if told is None:
        return ""
    lies, miss, next_best = told
    error = 3.0 * math.hypot(before.surface.tilt_error, after.surface.tilt_error)
    clear = next_best - miss > error and miss < 0.5 * abs(expected)
    return lies if clear else "unclear"
