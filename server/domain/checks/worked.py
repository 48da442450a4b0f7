"""Figures that more than one check needs: focal length behind the corrector, glass in the path, spacing."""

from __future__ import annotations

from dataclasses import dataclass, replace

from server.domain.measure import Measure
from server.domain.parts import BaseCamera, CataloguedPart, Corrector, Filter, OpticalTube
from server.domain.train import Place, Train
from server.optics.glass import N_BK7_INDEX, plate_shift_mm
from server.optics.imaging import effective_focal_length_mm, effective_focal_ratio
from server.optics.ranges import FASTEST_FOCAL_RATIO, SLOWEST_FOCAL_RATIO

REFRACTORS = ("achromat", "apochromat")
"""Designs that have no central obstruction: nothing stands before their lens."""

SMALLEST_FACTOR, LARGEST_FACTOR = 0.05, 20.0
"""What server.optics.imaging takes for a corrector's factor."""

GLASS_FORMULA = "shift by a plate = t (1 - cos u / sqrt(n^2 - sin^2 u)), tan u = 1 / (2 N)"
"""How glass moves the focus, for the workings of the checks that count it."""
GLASS_SOURCE = (
    "Plane-parallel plate, the ray from the aperture's edge, exact by Snell's law: Smith, Modern Optical "
    "Engineering (from memory)."
)

THICKEST_GLASS_MM = 5.0
"""Thicker than any filter or window of this trade (a choice of ours, no source).

It bounds what a plate of unknown thickness may do to a verdict; it is never used as its thickness.
"""


@dataclass(frozen=True)
class Optics:
    """What reaches the sensor: focal length (mm), focal ratio, factor of all correctors; None while unknown.

    The factor is the one that works at the sensor's actual spacing; `stated_factor` is the makers' own.
    `missing` says what to enter.
    """

    tube: CataloguedPart | None
    correctors: tuple[CataloguedPart, ...]
    factor: float | None
    focal_length_mm: float | None
    focal_ratio: float | None
    aperture_mm: float | None
    obstruction: float | None
    missing: tuple[str, ...]
    stated_factor: float | None = None


@dataclass(frozen=True)
class Glass:
    """One plate in the converging beam: how far it moves the focus away from the sky, mm.

    `ratio` is the focal ratio whose edge ray it was worked out for; None for the ray near the axis.
    """

    name: str
    thickness_mm: float
    index: float
    index_assumed: bool
    shift_mm: float
    item: CataloguedPart
    thickness: Measure
    ratio: float | None = None

    @property
    def shift_per_mm(self) -> float:
        """How far each mm of its glass moves the focus: the shift grows as the thickness does."""
        return plate_shift_mm(1.0, self.index, self.ratio)


@dataclass(frozen=True)
class Length:
    """One length in a sum, with whose it is."""

    place: Place
    label: str
    measure: Measure


@dataclass(frozen=True)
class Spacing:
    """From the corrector's reference shoulder to the sensor.

    Attributes:
        corrector, camera: the two ends.
        lengths: every known length between, the camera's flange distance last.
        reference_mm: how far the reference shoulder lies before the corrector's camera-side face.
        actual_mm: their sum; None while one is unknown.
        asked_air_mm: the back focus asked for in air; None while unknown.
        glass: plates whose shift lengthens the asked distance.
        glass_unsure_mm: shift of glass that may or may not count (nobody said how a flange is quoted).
        glass_bound_mm: the most that all glass not wholly known may add to the asked distance.
        missing: what to enter for the sum to be whole; glass_missing: what to enter for the glass.
    """

    corrector: Place
    camera: Place
    lengths: tuple[Length, ...]
    reference_mm: float
    actual_mm: float | None
    asked_air_mm: float | None
    glass: tuple[Glass, ...]
    glass_unsure_mm: float
    glass_bound_mm: float
    missing: tuple[str, ...]
    glass_missing: tuple[str, ...]

    @property
    def known_mm(self) -> float:
        """The sum of the lengths that are known: the whole where none is missing, else at least so much."""
        return self.reference_mm + sum(length.measure.nominal for length in self.lengths)

    @property
    def asked_mm(self) -> float | None:
        """The mechanical distance asked for, glass allowed for."""
        if self.asked_air_mm is None:
            return None
        return self.asked_air_mm + sum(plate.shift_mm for plate in self.glass)

    @property
    def air_mm(self) -> float | None:
        """From the reference shoulder to the sensor as the light sees it: the glass between taken off."""
        if self.actual_mm is None:
            return None
        return self.actual_mm - sum(plate.shift_mm for plate in self.glass)

    @property
    def working_factor(self) -> float | None:
        """The corrector's factor at the actual spacing; its stated one where that or the asked is unknown.

        m = 1 - d / f_R with f_R = d0 / (1 - m0), the thin-lens relation (Gaussian optics); below one it
        reduces, above one it extends. None where the factor itself is not known.
        """
        part = self.corrector.part
        assert isinstance(part, Corrector)
        if part.factor is None:
            return None
        stated = part.factor.nominal
        if self.air_mm is None or not self.asked_air_mm:
            return stated
        return 1.0 - (1.0 - stated) * self.air_mm / self.asked_air_mm

    @property
    def error_mm(self) -> float | None:
        """How far the sensor sits behind where it is asked to be; positive means too far from the sky."""
        if self.actual_mm is None or self.asked_mm is None:
            return None
        return self.actual_mm - self.asked_mm


def work_optics(train: Train) -> Optics:
    """Work out focal length and ratio behind all correctors of a train, at the sensor's actual spacing."""
    missing: list[str] = []
    tube = train.tube.item if train.tube else None
    correctors = tuple(p.item for p in train if isinstance(p.part, Corrector))
    stated: float | None = 1.0
    for item in correctors:
        part = item.part
        assert isinstance(part, Corrector)
        if part.factor is None:
            missing.append(f"the factor of {item.name}")
            stated = None
        elif stated is not None:
            stated *= part.factor.nominal
    bare = Optics(tube, correctors, stated, None, None, None, None, tuple(missing), stated)
    factor = _at_the_spacing(train, bare)
    if tube is None:
        return replace(bare, factor=factor, missing=(*missing, "an optical tube in the train"))
    part = tube.part
    assert isinstance(part, OpticalTube)
    if part.focal_length_mm is None:
        missing.append(f"the focal length of {tube.name}")
    if part.aperture_mm is None:
        missing.append(f"the aperture of {tube.name}")
    length = ratio = None
    if part.focal_length_mm is not None and factor is not None:
        try:
            length = effective_focal_length_mm(part.focal_length_mm.nominal, factor)
            if part.aperture_mm is not None:
                ratio = effective_focal_ratio(part.focal_length_mm.nominal, part.aperture_mm.nominal, factor)
        except ValueError:
            # Drawings ask for these figures as well; what no formula holds for is known to none of them.
            missing.append(_afresh(factor, stated))
            factor = length = ratio = None
    aperture = None if part.aperture_mm is None else part.aperture_mm.nominal
    return Optics(
        tube, correctors, factor, length, ratio, aperture, _obstruction(part), tuple(missing), stated
    )


def _afresh(factor: float, stated: float | None) -> str:
    if stated is None or abs(factor - stated) < 1e-9:
        return f"the correctors' factors afresh ({factor:g} is out of range)"
    return f"the lengths behind the corrector afresh (there its factor would be {factor:.2g})"


def _at_the_spacing(train: Train, optics: Optics) -> float | None:
    """The factor of all correctors with the last one's as it works where the sensor stands."""
    if optics.stated_factor is None:
        return None
    spacing = work_spacing(train, optics)
    if spacing is None or spacing.working_factor is None:
        return optics.stated_factor
    part = spacing.corrector.part
    assert isinstance(part, Corrector)
    if part.factor is None or not SMALLEST_FACTOR <= part.factor.nominal <= LARGEST_FACTOR:
        # No corrector has such a factor: it is asked for afresh, wherever the sensor stands.
        return optics.stated_factor
    return optics.stated_factor * spacing.working_factor / part.factor.nominal


def _obstruction(tube: OpticalTube) -> float | None:
    """The linear obstruction as entered; none for a refractor, whose design has none."""
    if tube.linear_obstruction is None and tube.design in REFRACTORS:
        return 0.0
    return tube.linear_obstruction


def beam_ratio(train: Train) -> float | None:
    """The focal ratio of the beam behind the correctors, by their stated factors; None while unknown.

    The glass before the sensor shifts the focus by it. The factor at the actual spacing would need that shift
    first: where it differs from the stated one by a tenth, the shift of a 3 mm filter at f/5 changes by 1 um.
    """
    tube = train.tube
    if tube is None or not isinstance(tube.part, OpticalTube) or tube.part.focal_ratio is None:
        return None
    ratio = tube.part.focal_ratio
    for place in train:
        if isinstance(place.part, Corrector):
            if place.part.factor is None:
                return None
            ratio *= place.part.factor.nominal
    return ratio if FASTEST_FOCAL_RATIO <= ratio <= SLOWEST_FOCAL_RATIO else None


def plate(
    item: CataloguedPart, thickness: Measure, index: Measure | None, name: str, ratio: float | None
) -> Glass:
    """One plate, its shift for the edge of a beam of this focal ratio, near the axis where that is unknown.

    An unknown index is assumed to be that of N-BK7.
    """
    n = N_BK7_INDEX if index is None else index.nominal
    shift = plate_shift_mm(thickness.nominal, n, ratio)
    return Glass(name, thickness.nominal, n, index is None, shift, item, thickness, ratio)


def glass_in(
    places: tuple[Place, ...], ratio: float | None
) -> tuple[tuple[Glass, ...], float, tuple[str, ...]]:
    """The plates among these places: (those that count, shift that may count, what to enter to be sure).

    `ratio` is the focal ratio of the beam, as `beam_ratio` gives it.
    A window behind an optical flange distance is in the maker's figure already and is not counted again.
    """
    found: list[Glass] = []
    unsure = 0.0
    missing: list[str] = []
    for place in places:
        item = place.filter_in_beam
        if item is not None and isinstance(item.part, Filter):
            if item.part.thickness_mm is None:
                missing.append(f"the glass thickness of {item.name}")
            else:
                found.append(
                    plate(item, item.part.thickness_mm, item.part.refractive_index, item.name, ratio)
                )
        if isinstance(place.part, BaseCamera):
            part, window = place.part, place.part.window_thickness_mm
            if part.flange_quoted == "optical" or (window is not None and window.nominal == 0):
                continue
            if window is None:
                if part.flange_quoted == "mechanical":
                    missing.append(f"the window thickness of {place.name}")
                else:
                    missing.append(f"whether the flange distance of {place.name} is mechanical or optical")
                continue
            counted = plate(place.item, window, None, f"window of {place.name}", ratio)
            if part.flange_quoted is None:
                unsure += counted.shift_mm
                missing.append(f"whether the flange distance of {place.name} is mechanical or optical")
            else:
                found.append(counted)
    return tuple(found), unsure, tuple(missing)


def glass_bound_mm(places: tuple[Place, ...], ratio: float | None) -> float:
    """The most that glass which is not wholly known may move the focus, mm; 0 where all of it is known."""
    _, unsure, missing = glass_in(places, ratio)
    at_most = plate_shift_mm(THICKEST_GLASS_MM, N_BK7_INDEX, ratio)
    # Each missing word stands for one plate; those whose thickness is known are in the unsure shift.
    unsure_plates = sum(
        isinstance(p.part, BaseCamera)
        and p.part.flange_quoted is None
        and p.part.window_thickness_mm is not None
        and p.part.window_thickness_mm.nominal != 0
        for p in places
    )
    return unsure + at_most * max(0, len(missing) - unsure_plates)


def lengths_of(places: tuple[Place, ...]) -> tuple[tuple[Length, ...], tuple[str, ...]]:
    """The known lengths of these places, and what to enter for the others."""
    found: list[Length] = []
    missing: list[str] = []
    for place in places:
        if isinstance(place.part, OpticalTube):
            continue
        label = "flange distance" if isinstance(place.part, BaseCamera) else "optical length"
        if place.length is None:
            missing.append(f"the {label} of {place.name}")
        else:
            found.append(Length(place, label, place.length))
    return tuple(found), tuple(missing)


def work_spacing(train: Train, optics: Optics) -> Spacing | None:
    """Work out the spacing behind the last corrector; None without a corrector before a camera."""
    corrector, camera = train.corrector, train.camera
    if corrector is None or camera is None or train.index_of(corrector) > train.index_of(camera):
        return None
    behind = train.after(corrector)
    lengths, missing = lengths_of(behind)
    part = corrector.part
    assert isinstance(part, Corrector)
    reference = 0.0 if part.reference_mm is None else part.reference_mm.nominal
    actual = None if missing else reference + sum(length.measure.nominal for length in lengths)
    tube = optics.tube.part if optics.tube else None
    focal = tube.focal_length_mm.nominal if isinstance(tube, OpticalTube) and tube.focal_length_mm else None
    ratio = beam_ratio(train)
    glass, unsure, glass_missing = glass_in(behind, ratio)
    return Spacing(
        corrector,
        camera,
        lengths,
        reference,
        actual,
        part.asked_back_focus_mm(focal),
        glass,
        unsure,
        glass_bound_mm(behind, ratio),
        missing,
        glass_missing,
    )
