"""The prism of an off-axis guider where it stands in the beam."""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.parts import OffAxisGuider
from server.domain.train import Place, holds
from server.domain.workings.case import Case
from server.domain.workings.in_beam import beam_ratio, glass_in
from server.optics.beam import Beam
from server.optics.openings import Rectangle, prism, prism_reach_mm

LONG_SIDE_DEG, SHORT_SIDE_DEG = 90.0, 0.0
"""Seen from the axis the long side of a sensor that is wider than high lies at 90 degrees."""
EDGE_MM = 1e-9


@dataclass(frozen=True)
class Prism:
    """A guider's prism, its place known.

    far_mm, near_mm: its two faces, mm before the sensor in air. need_long_mm, need_short_mm: how near the
    axis its edge may come at the long and at the short side. edge_mm: where it is taken to stand, at the side
    of `side_deg`.
    """

    place: Place[OffAxisGuider]
    part: OffAxisGuider
    size_mm: float
    far_mm: float
    near_mm: float
    need_long_mm: float
    need_short_mm: float
    edge_mm: float
    side_deg: float
    shades: bool

    @property
    def in_the_beam(self) -> tuple[Rectangle, ...]:
        """What it blocks, nothing where it can be set outside the light."""
        if not self.shades:
            return ()
        return tuple(
            prism(x, self.side_deg, self.edge_mm, self.size_mm, self.size_mm)
            for x in dict.fromkeys((self.far_mm, self.near_mm))
        )


def guider_in(case: Case) -> Place[OffAxisGuider] | None:
    """The first off-axis guider of the train."""
    return next((p for p in case.train if holds(p, OffAxisGuider)), None)


def before_the_corrector(case: Case, place: Place) -> bool:
    """Whether a place stands before the last corrector."""
    corrector = case.train.corrector
    return corrector is not None and case.train.index_of(place) < case.train.index_of(corrector)


def prism_place_mm(case: Case, place: Place[OffAxisGuider]) -> float | None:
    """The prism's middle before the sensor, mm, mechanically; None while unknown."""
    part = place.part
    shoulders = case.train.shoulders[case.train.index_of(place)]
    if part.prism_at_mm is None or shoulders.sky_mm is None or shoulders.camera_mm is None:
        return None
    if place.flipped:
        return shoulders.camera_mm + part.prism_at_mm.nominal
    return shoulders.sky_mm - part.prism_at_mm.nominal


def prism_of(case: Case, beam: Beam, width_mm: float, height_mm: float) -> Prism | None:
    """The prism as it stands in the beam, as far out as it has to be and can; None while unknown."""
    place = guider_in(case)
    if place is None:
        return None
    part = place.part
    middle = prism_place_mm(case, place)
    if middle is None or part.prism_mm is None or part.reach_to_mm is None or part.prism_mm.nominal <= 0:
        return None
    size = part.prism_mm.nominal
    shift = sum(glass.shift_mm for glass in glass_in(case.train.after(place), beam_ratio(case.train))[0])
    far, near = (max(0.0, middle + side * size / 2.0 - shift) for side in (1.0, -1.0))
    sides = (LONG_SIDE_DEG, SHORT_SIDE_DEG) if width_mm >= height_mm else (SHORT_SIDE_DEG, LONG_SIDE_DEG)
    need = [
        max(prism_reach_mm(beam, width_mm, height_mm, x, side, size) for x in (far, near)) for side in sides
    ]
    out = part.reach_to_mm.nominal
    shades = out < need[0] - EDGE_MM
    edge = out if shades else max(need[0], 0.0 if part.reach_from_mm is None else part.reach_from_mm.nominal)
    return Prism(place, part, size, far, near, need[0], need[1], edge, sides[0], shades)
