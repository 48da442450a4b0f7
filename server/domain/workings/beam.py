"""The openings that the light passes before the sensor, and where each of them may lie."""

from __future__ import annotations

from server.domain.measure import Measure, nominal
from server.domain.missing import lacks
from server.domain.parts import (
    BaseCamera,
    CataloguedPart,
    Corrector,
    Filter,
    FilterWheel,
    OpticalTube,
    PathPart,
)
from server.domain.said import Missing, Said, said
from server.domain.train import Place, Shoulders, Train
from server.domain.workings.case import Case
from server.domain.workings.in_beam import beam_ratio, glass_in, lengths_of
from server.domain.workings.mirrors import TWO_MIRRORS, mirrors_of
from server.frozen import frozen
from server.optics.diagonal import diagonal_opening
from server.optics.openings import Opening as Seen
from server.optics.openings import Rectangle, Round

SQUARE = ("square_50", "square_65")
"""Filters whose clear aperture is the side of a square; its sides are taken parallel to the sensor's."""


@frozen
class Opening:
    """One clear aperture: its diameter and where it may lie.

    `far_mm` and `near_mm` are the two ends of that place, distances from the sensor in mm, in air. `square`:
    the figure is the side of a square. `offset_mm`: of a Newtonian's diagonal, which stands at 45 degrees;
    None of all else.
    """

    item: CataloguedPart
    measure: Measure
    far_mm: float
    near_mm: float
    place: Place
    square: bool = False
    offset_mm: float | None = None
    what: str = ""

    @property
    def diameter_mm(self) -> float:
        """The clear diameter, mm."""
        return self.measure.nominal

    @property
    def says(self) -> Said:
        """The part, and what of it cuts where that is not its own bore."""
        return said(f"opening.{self.what or 'part'}", part=self.item)

    def seen_at(self, at_mm: float) -> Seen:
        """The opening in the beam, at one of the places where it may lie."""
        x = max(0.0, at_mm)
        if self.offset_mm is not None:
            # The darker side counts: the sensor's long side is taken to lie along the tube.
            return diagonal_opening(x, self.diameter_mm, self.offset_mm, 1.0)
        side = self.diameter_mm
        return Rectangle(x, side, side) if self.square else Round(x, side)


def openings_of(case: Case) -> tuple[tuple[Opening, ...], tuple[Missing, ...]]:
    """Every known opening, and what to enter for the rest of those behind the last powered element.

    Where along a part its opening lies is often not said: then both shoulders are tried and the worse one
    counts. What stands before the last corrector is taken where it is known and not asked for.
    """
    return case.rig.once(Opening, lambda: _openings_of(case))


def _openings_of(case: Case) -> tuple[tuple[Opening, ...], tuple[Missing, ...]]:
    train = case.train
    first = train.corrector or train.tube
    assert first is not None
    found: list[Opening] = []
    missing: list[Missing] = []
    from_index, ratio = train.index_of(first), beam_ratio(train)
    for index, (place, shoulders) in enumerate(_in_air(train, ratio)):
        part = place.part
        behind = index >= from_index
        if isinstance(part, OpticalTube):
            measure = part.drawtube_bore_mm
            found += _inside_the_tube(case, place, part)
        elif isinstance(part, PathPart | BaseCamera):
            measure = part.clear_aperture_mm
        else:
            continue
        inside = place.inside[:1]
        if measure is None and isinstance(part, OpticalTube) and part.design == "camera_lens":
            continue  # A lens ends in its bayonet: there is no drawtube.
        lacking: list[Missing] = [] if _open(measure) else [_ask(place.item, measure)]
        lacking += [_ask(i, _clear(i)) for i in inside if not _open(_clear(i))]
        span = _span(place, shoulders)
        if span is None:
            own = () if isinstance(part, OpticalTube | Corrector) else (place,)
            lacking += lengths_of((*own, *train.after(place)))[1]
        if behind:
            missing += lacking
        if span is None:
            continue
        if measure is not None and _open(measure):
            square = isinstance(part, Filter) and part.format in SQUARE
            whose = "drawtube" if isinstance(part, OpticalTube) else ""
            found.append(Opening(place.item, measure, *_where(place, span), place, square, what=whose))
        for item in inside:
            clear = _clear(item)
            if clear is not None and _open(clear):
                square = isinstance(item.part, Filter) and item.part.format in SQUARE
                found.append(Opening(item, clear, *_where_filter(place, span), place, square))
    return tuple(found), tuple(dict.fromkeys(missing))


def _inside_the_tube(case: Case, place: Place, tube: OpticalTube) -> list[Opening]:
    """The secondary mirror and a baffle's end, where they are entered: counted from the bare tube's focus."""
    traced = case.traced
    if traced is None:
        return []
    first = traced.beam.stretches[-1]
    focus_mm = -first.half_mm / first.half_per_mm
    found = []
    for what, size, away in (
        ("secondary", tube.secondary_mm, _secondary_away_mm(case, tube)),
        ("baffle", tube.baffle_mm, nominal(tube.baffle_to_focus_mm)),
    ):
        if size is None or not _open(size) or away is None or focus_mm + away <= first.beyond_mm:
            continue
        offset = None
        if what == "secondary" and tube.design == "newtonian":
            what, offset = "diagonal", nominal(tube.diagonal_offset_mm) or 0.0
        at = focus_mm + away
        found.append(Opening(place.item, size, at, at, place, offset_mm=offset, what=what))
    return found


def _secondary_away_mm(case: Case, tube: OpticalTube) -> float | None:
    """From the secondary to the bare tube's focus, mm; None while unknown."""
    if tube.design == "newtonian":
        return nominal(tube.diagonal_to_focus_mm)
    mirrors = case.optics.mirrors or mirrors_of(tube, any_design=tube.design in TWO_MIRRORS)
    return None if mirrors is None else mirrors.separation_mm + mirrors.back_mm


def _open(measure: Measure | None) -> bool:
    """Whether an aperture is known and lets any light through."""
    return measure is not None and measure.nominal > 0


def _ask(item: CataloguedPart, measure: Measure | None) -> Missing:
    field = "drawtube_bore_mm" if isinstance(item.part, OpticalTube) else "clear_aperture_mm"
    return lacks(item, field, "" if measure is None else f"{field.removesuffix('_mm')}_afresh")


def _clear(item: CataloguedPart) -> Measure | None:
    return item.part.clear_aperture_mm if isinstance(item.part, PathPart) else None


def _span(place: Place, shoulders: Shoulders) -> tuple[float, float] | None:
    """Far and near end of where a place's opening may lie, mm before the sensor; None while unknown.

    Of a tube, whose length tells nothing of its opening, and of a corrector, behind whose glass the cone has
    its final slope, the camera-side face counts; of a camera its front.
    """
    far, near = shoulders.sky_mm, shoulders.camera_mm
    if isinstance(place.part, OpticalTube | Corrector):
        far = near
    elif isinstance(place.part, BaseCamera):
        near = far
    return None if far is None or near is None else (far, near)


def _in_air(train: Train, ratio: float | None) -> list[tuple[Place, Shoulders]]:
    """Each place with its shoulders' distances from the sensor in air: glass between brings them closer."""
    found: list[tuple[Place, Shoulders]] = []
    shift = 0.0
    for place, ends in reversed(list(zip(train.places, train.shoulders, strict=True))):
        sky, camera = (None if x is None else max(0.0, x - shift) for x in (ends.sky_mm, ends.camera_mm))
        found.append((place, Shoulders(sky, camera)))
        shift += sum(glass.shift_mm for glass in glass_in((place,), ratio)[0])
    return found[::-1]


def _where(place: Place, span: tuple[float, float]) -> tuple[float, float]:
    at = place.part.aperture_at_mm if isinstance(place.part, PathPart) else None
    return span if isinstance(place.part, Corrector) else _at(place, span, at)


def _where_filter(place: Place, span: tuple[float, float]) -> tuple[float, float]:
    return _at(place, span, place.part.filter_at_mm if isinstance(place.part, FilterWheel) else None)


def _at(place: Place, span: tuple[float, float], at: Measure | None) -> tuple[float, float]:
    """The span narrowed to a known distance from the sky-side shoulder (the camera-side one when flipped)."""
    if at is None:
        return span
    far, near = span
    x = near + at.nominal if place.flipped else far - at.nominal
    x = min(far, max(near, x))
    return x, x
