"""A rig's beam, traced once: what every check of light, field and stars reads.

Where a figure is not known that the exit pupil hangs on, the beam is traced at both ends of what is possible.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache

from server.domain.measure import nominal
from server.domain.missing import lacks
from server.domain.parts import CataloguedPart, Corrector, OpticalTube
from server.domain.said import Missing
from server.domain.train import Train
from server.domain.workings.mirrors import TWO_MIRRORS, magnification_of, mirrors_of
from server.domain.workings.worked import LARGEST_FACTOR, SMALLEST_FACTOR, Optics, Spacing
from server.optics import beam as ground
from server.optics.ranges import checked
from server.optics.thin_lens import thin_lens
from server.optics.two_mirror import TwoMirrors, separation_for_back_mm
from server.out_of_range import OutOfRangeError

FRONT_PLATE = ("schmidt_cassegrain", "maksutov")
"""Designs whose stop is the plate at the front, which carries the secondary (common practice, no source)."""
PLAIN = ("achromat", "apochromat", "newtonian")
"""Designs whose stop stands at their one lens or mirror: the exit pupil lies a focal length before the
focus.
"""
USUAL_PRIMARY = (1.8, 4.0)
"""Focal ratios of the primaries of two-mirror tubes (common practice, no source)."""
USUAL_BACK = (0.1, 0.6)
"""Their focus behind the primary's vertex, in primary focal lengths (common practice, no source)."""
NEAREST_PUPIL = 1.0 / 3.0
"""Of the focal length: no exit pupil of a lens or astrograph of many elements lies nearer (assumed, no
source).
"""
NO_POWER = 1e-6
SAME_PER_MM = 1e-7


@dataclass(frozen=True)
class Traced:
    """The beam of a rig.

    Attributes:
        beam: in the middle of what is possible: what is drawn.
        ends: that one alone where all is known, else the two between which the exit pupil lies.
        asks: the figures that would tell, the one that moves it most first.
    """

    beam: ground.Beam
    ends: tuple[ground.Beam, ...]
    asks: tuple[Missing, ...] = ()

    @property
    def known(self) -> bool:
        """Whether nothing is left open."""
        return len(self.ends) == 1


@lru_cache(64)
def _trace(tube: ground.Tube, correctors: tuple[ground.Corrector, ...]) -> ground.Beam:
    return ground.trace(tube, correctors)


def trace_rig(train: Train, optics: Optics, spacing: Spacing | None) -> Traced | None:
    """Trace the beam of a rig; None while focal length, aperture or a factor is unknown.

    Raises ValueError for figures with which no image forms.
    """
    if optics.tube is None or optics.tube_focal_mm is None or optics.aperture_mm is None:
        return None
    part = optics.tube.part
    pupils, pupil_asks = pupils_of(optics.tube, part, optics.tube_focal_mm, optics.mirrors)
    planes, plane_asks = ((0.0, 0.0), ()) if spacing is None else _planes(spacing)

    @cache
    def traced(pupil: float, plane: float) -> ground.Beam:
        assert optics.tube_focal_mm is not None
        assert optics.aperture_mm is not None
        tube = ground.Tube(optics.tube_focal_mm, optics.aperture_mm, optics.obstruction or 0.0, pupil)
        last = None if spacing is None else _lens_of(spacing, plane)
        earlier = [p for p in train.correctors if spacing is None or p is not spacing.corrector]
        for place in earlier:
            tube = _behind(tube, place.part)
        return _trace(tube, () if last is None else (last,))

    middle = traced(sum(pupils) / 2.0, sum(planes) / 2.0)
    ends = ((p, d) for p in dict.fromkeys(pupils) for d in dict.fromkeys(planes))
    found = {one.per_pupil: one for one in (traced(p, d) for p, d in ends)}
    least, most = min(found), max(found)
    if most - least < SAME_PER_MM:
        return Traced(middle, (middle,))
    by_pupil, by_plane = (
        abs(traced(a, b).per_pupil - traced(c, d).per_pupil)
        for a, b, c, d in (
            (pupils[0], sum(planes) / 2.0, pupils[1], sum(planes) / 2.0),
            (sum(pupils) / 2.0, planes[0], sum(pupils) / 2.0, planes[1]),
        )
    )
    asks = (*pupil_asks, *plane_asks) if by_pupil >= by_plane else (*plane_asks, *pupil_asks)
    return Traced(middle, (found[least], found[most]), asks)


def pupils_of(
    item: CataloguedPart, tube: OpticalTube, focal_mm: float, moved: TwoMirrors | None
) -> tuple[tuple[float, float], tuple[Missing, ...]]:
    """The least and most inverse distance (1/mm) of a bare tube's exit pupil, and what would tell.

    moved: the mirrors as they stand when the primary brings the focus to the sensor; None of other tubes.
    """
    typed = nominal(tube.exit_pupil_mm)
    if typed:
        return (1.0 / typed, 1.0 / typed), ()
    if tube.design in PLAIN:
        return (1.0 / focal_mm, 1.0 / focal_mm), ()
    if tube.design not in TWO_MIRRORS or tube.design == "dall_kirkham":
        # Lenses and mirrors of several elements: from far away (the corner's rays parallel) to quite near.
        asks = (lacks(item, "design"),) if tube.design is None else ()
        return (0.0, 1.0 / (NEAREST_PUPIL * focal_mm)), (
            *asks,
            lacks(item, "exit_pupil_mm"),
        )
    lacking = tuple(
        lacks(item, field)
        for field, figure in (
            ("primary_focal_ratio", tube.primary_focal_ratio),
            ("mirror_separation_mm", tube.mirror_separation_mm),
        )
        if figure is None
    )
    known = moved or mirrors_of(tube, any_design=True)
    if known is not None:
        pupil = _per_pupil(tube, known)
        return (pupil, pupil), ()
    found = [_per_pupil(tube, one) for one in _possible(tube, focal_mm)]
    return (min(found), max(found)), lacking or (lacks(item, "primary_focal_ratio", "mirrors_afresh"),)


def _per_pupil(tube: OpticalTube, mirrors: TwoMirrors) -> float:
    stop = mirrors.separation_mm if tube.design in FRONT_PLATE else 0.0
    return ground.two_mirror_per_pupil(mirrors, stop)


def _possible(tube: OpticalTube, focal_mm: float) -> list[TwoMirrors]:
    """The mirrors at the ends of what their missing figures may be."""
    m, separation = magnification_of(tube), nominal(tube.mirror_separation_mm)
    ratio = focal_mm / tube.aperture_mm.nominal if tube.aperture_mm and tube.aperture_mm.nominal else 0.0
    magnifications = [m] if m is not None and m > 1.0 else [max(1.2, ratio / one) for one in USUAL_PRIMARY]
    found = []
    for factor in magnifications:
        f1 = focal_mm / factor
        if separation is not None and 0.0 < separation < f1:
            found.append(TwoMirrors(f1, factor, separation))
            continue
        found += [
            TwoMirrors(f1, factor, separation_for_back_mm(f1, factor, back * f1)) for back in USUAL_BACK
        ]
    return found


def _planes(spacing: Spacing) -> tuple[tuple[float, float], tuple[Missing, ...]]:
    """Where the last corrector's rear principal plane may stand before its shoulder, and what would tell."""
    part = spacing.corrector.part
    if part.factor is None or abs(part.factor.nominal - 1.0) < NO_POWER:
        return (0.0, 0.0), ()  # No power: it stands where it likes.
    return spacing.plane_mm, (lacks(spacing.corrector, "principal_mm"),)


def _lens_of(spacing: Spacing, plane_mm: float) -> ground.Corrector | None:
    part = spacing.corrector.part
    if part.factor is None or abs(part.factor.nominal - 1.0) < NO_POWER:
        return None
    asked = spacing.asked_air_mm or spacing.air_mm
    if not asked:
        raise OutOfRangeError(
            f"Nobody says how far before the sensor {spacing.corrector.name} stands. Enter its back focus."
        )
    lens = thin_lens(part.factor.nominal, asked + plane_mm)
    at = asked if spacing.air_mm is None else spacing.air_mm
    return ground.Corrector(lens.focal_mm, at + plane_mm, part.planes_apart_mm)


def _behind(tube: ground.Tube, part: Corrector) -> ground.Tube:
    """A tube with a corrector at its own distance, taken as one tube: 1/L' = 1/(m^2 L) - (1 - m) / (m d)."""
    stated, asked = nominal(part.factor) or 1.0, nominal(part.back_focus_mm)
    m = checked(
        "The corrector's factor", stated, SMALLEST_FACTOR, LARGEST_FACTOR, "", "Give one such as 0.8."
    )
    turned = 0.0
    if asked and abs(m - 1.0) >= NO_POWER:
        turned = (1.0 - m) / (m * (asked + sum(part.plane_range_mm(asked)) / 2.0))
    return ground.Tube(
        tube.focal_mm * m, tube.aperture_mm, tube.obstruction, tube.per_pupil / (m * m) - turned
    )
