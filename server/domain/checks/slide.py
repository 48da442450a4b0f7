"""Push-fit nosepieces: how far one may be drawn out of its holder, and what of one does not count as
length.
"""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.connections import Barrel, Connection
from server.domain.measure import nominal
from server.domain.train import Place
from server.domain.workings.case import Case

GRIP_MM = 10.0
"""So much of a nosepiece stays in its holder to be held (common practice, no source)."""


@dataclass(frozen=True)
class Slide:
    """A part that is pushed into its holder, and how far it may be drawn out, mm; None unknown."""

    place: Place
    length_mm: float | None


def slide_of(case: Case) -> Slide | None:
    """The first push-fit nosepiece between tube and corrector, or camera without one; it may be drawn out."""
    train, end = case.train, case.train.corrector or case.train.camera
    if end is None:
        return None
    for joint in train.joints:
        if joint.index > train.index_of(end):
            return None
        length = slide_mm(joint.lower.sky_connection)
        if length != 0.0:
            return Slide(joint.lower, length)
    return None


def slide_mm(connection: Connection | None) -> float | None:
    """How far a nosepiece may be drawn out of its holder, mm; 0 for what is no nosepiece, None while
    unknown.
    """
    if not isinstance(connection, Barrel) or connection.gender != "male":
        return 0.0
    return None if connection.thread_mm is None else max(0.0, connection.thread_mm - GRIP_MM)


def nosepiece_counted(case: Case, short_mm: float) -> Place | None:
    """The part whose nosepiece, counted as length, would explain what lacks: what goes into its holder does
    not count.
    """
    for joint in case.train.joints:
        place = joint.lower
        long = nominal(place.length)
        if (
            isinstance(place.sky_connection, Barrel)
            and place.sky_connection.gender == "male"
            and long is not None
        ):
            reaches = place.sky_connection.thread_mm or long
            if long >= min(reaches, short_mm) and long > 0.0:
                return place
    return None
