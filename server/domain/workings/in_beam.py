"""What stands in the beam: the glass that moves the focus, and the lengths along the axis."""

from __future__ import annotations

from server.domain.measure import Measure
from server.domain.missing import lacks
from server.domain.parts import BaseCamera, CataloguedPart, Corrector, OpticalTube
from server.domain.said import Missing, Quantity, Said, said
from server.domain.train import Place, Train
from server.frozen import frozen
from server.optics.glass import N_BK7_INDEX, plate_shift_mm
from server.optics.ranges import FASTEST_FOCAL_RATIO, SLOWEST_FOCAL_RATIO

THICKEST_GLASS_MM = 5.0
"""Thicker than any filter or window of this trade (a choice of ours, no source).

It bounds what a plate of unknown thickness may do to a verdict; it is never used as its thickness.
"""


@frozen
class Glass:
    """One plate in the converging beam: how far it moves the focus away from the sky, mm.

    `ratio` is the focal ratio whose edge ray it was worked out for; None for the ray near the axis.
    """

    pane: Said
    thickness_mm: float
    index: float
    index_assumed: bool
    shift_mm: float
    item: CataloguedPart
    thickness: Measure
    ratio: float | None = None

    @property
    def index_says(self) -> Said:
        """What its thickness is called in a working, with its index."""
        return said("glass.index", index=Quantity(self.index, ""), assumed=self.index_assumed)

    @property
    def shift_says(self) -> Said:
        """What its shift is called in a working, with the ray that it holds for."""
        ratio = None if self.ratio is None else Quantity(self.ratio, "", figures=3)
        return said("glass.shift", pane=self.pane, ratio=ratio)

    @property
    def shift_per_mm(self) -> float:
        """How far each mm of its glass moves the focus: the shift grows as the thickness does."""
        return plate_shift_mm(1.0, self.index, self.ratio)


@frozen
class Length:
    """One length in a sum, with whose it is."""

    place: Place
    label: str
    measure: Measure


def beam_ratio(train: Train) -> float | None:
    """The focal ratio of the beam behind the correctors, by their stated factors; None while unknown.

    The glass before the sensor shifts the focus by it. The factor at the actual spacing would need that shift
    first: where it differs from the stated one by a tenth, the shift of a 3 mm filter at f/5 changes by 1 um.
    What moving the primary makes of the focal length is left out for the same reason.
    """
    tube = train.tube
    if tube is None or tube.part.focal_ratio is None:
        return None
    ratio = tube.part.focal_ratio
    for place in train:
        if isinstance(place.part, Corrector):
            if place.part.factor is None:
                return None
            ratio *= place.part.factor.nominal
    return ratio if FASTEST_FOCAL_RATIO <= ratio <= SLOWEST_FOCAL_RATIO else None


def plate(
    item: CataloguedPart, thickness: Measure, index: Measure | None, pane: Said, ratio: float | None
) -> Glass:
    """One plate, its shift for the edge of a beam of this focal ratio, near the axis where that is unknown.

    An unknown index is assumed to be that of N-BK7.
    """
    n = N_BK7_INDEX if index is None else index.nominal
    shift = plate_shift_mm(thickness.nominal, n, ratio)
    return Glass(pane, thickness.nominal, n, index is None, shift, item, thickness, ratio)


def glass_in(
    places: tuple[Place, ...], ratio: float | None
) -> tuple[tuple[Glass, ...], float, tuple[Missing, ...]]:
    """The plates among these places: (those that count, shift that may count, what to enter to be sure).

    `ratio` is the focal ratio of the beam, as `beam_ratio` gives it.
    A window behind an optical flange distance is in the maker's figure already and is not counted again.
    """
    found: list[Glass] = []
    unsure = 0.0
    missing: list[Missing] = []
    for item in (item for place in places for item in (place.item, *place.inside[:1])):
        pane = item.part.pane
        if pane is None:
            continue
        if pane.ask is not None:
            missing.append(lacks(item, *pane.ask))
        if pane.thickness is None:
            continue
        counted = plate(item, pane.thickness, pane.index, said(f"glass.{pane.what}", part=item), ratio)
        if pane.unsure:
            unsure += counted.shift_mm
        else:
            found.append(counted)
    return tuple(found), unsure, tuple(missing)


def glass_bound_mm(places: tuple[Place, ...], ratio: float | None) -> float:
    """The most that glass which is not wholly known may move the focus, mm; 0 where all of it is known."""
    _, unsure, missing = glass_in(places, ratio)
    return bound_mm(places, ratio, unsure, missing)


def bound_mm(
    places: tuple[Place, ...], ratio: float | None, unsure: float, missing: tuple[Missing, ...]
) -> float:
    """`glass_bound_mm`, where what `glass_in` says of these places is there already."""
    if not missing:
        return unsure
    # Where nobody knows the focal ratio, the fastest beam there is bounds it.
    at_most = plate_shift_mm(THICKEST_GLASS_MM, N_BK7_INDEX, ratio or FASTEST_FOCAL_RATIO)
    # Each missing word stands for one plate; those whose thickness is known are in the unsure shift.
    panes = [item.part.pane for place in places for item in (place.item, *place.inside[:1])]
    unsure_plates = sum(one is not None and one.unsure and one.thickness is not None for one in panes)
    return unsure + at_most * max(0, len(missing) - unsure_plates)


def lengths_of(places: tuple[Place, ...]) -> tuple[tuple[Length, ...], tuple[Missing, ...]]:
    """The known lengths of these places, and what to enter for the others."""
    found: list[Length] = []
    missing: list[Missing] = []
    for place in places:
        if isinstance(place.part, OpticalTube):
            continue
        label = "flange distance" if isinstance(place.part, BaseCamera) else "optical length"
        if place.length is None:
            field = "flange_mm" if isinstance(place.part, BaseCamera) else "length_mm"
            missing.append(lacks(place, field))
        else:
            found.append(Length(place, label, place.length))
    return tuple(found), tuple(missing)
