"""Figures that more than one check needs: focal length behind the corrector, glass in the path, spacing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from server.domain.measure import nominal
from server.domain.missing import lacks, wants
from server.domain.parts import Camera, CataloguedPart, Corrector, OpticalTube
from server.domain.said import Missing, Quantity
from server.domain.train import Place, Train
from server.domain.workings.in_beam import Glass, Length, beam_ratio, bound_mm, glass_in, lengths_of
from server.domain.workings.mirrors import mirrors_in
from server.optics.imaging import effective_focal_length_mm, effective_focal_ratio
from server.optics.thin_lens import factor_per_mm, thin_lens
from server.optics.two_mirror import TwoMirrors
from server.out_of_range import OutOfRangeError

REFRACTORS = ("achromat", "apochromat", "camera_lens")
"""Designs that have no central obstruction: nothing stands before their lens."""

SMALLEST_FACTOR, LARGEST_FACTOR = 0.05, 20.0
"""What server.optics.imaging takes for a corrector's factor."""


@dataclass(frozen=True)
class Optics:
    """What reaches the sensor: focal length (mm), focal ratio, factor of all correctors; None while unknown.

    The factor is the one that works at the sensor's actual spacing; `stated_factor` is the makers' own.
    `tube_focal_mm` is the bare tube's focal length: its maker's, or what moving the primary makes of it;
    `mirrors` are those of such a tube as they then stand.
    `missing` says what to enter; `primary_missing` what to enter before the primary's move can be counted:
    while it is not empty, the maker's focal length stands.
    """

    tube: CataloguedPart[OpticalTube] | None
    correctors: tuple[CataloguedPart[Corrector], ...]
    factor: float | None
    focal_length_mm: float | None
    focal_ratio: float | None
    aperture_mm: float | None
    obstruction: float | None
    missing: tuple[Missing, ...]
    stated_factor: float | None = None
    tube_focal_mm: float | None = None
    mirrors: TwoMirrors | None = None
    primary_missing: tuple[Missing, ...] = ()


@dataclass(frozen=True)
class Spacing:
    """From the corrector's reference shoulder to the sensor.

    Attributes:
        corrector, camera: the two ends.
        lengths: every known length between, the camera's flange distance last.
        reference_mm: how far the reference shoulder lies before the corrector's camera-side face.
        actual_mm: their sum; None while one is unknown.
        asked_air_mm: the back focus asked for in air; None while unknown.
        plane_mm: how far before its shoulder the corrector works as a thin lens, at least and at most.
        glass: plates whose shift lengthens the asked distance.
        glass_unsure_mm: shift of glass that may or may not count (nobody said how a flange is quoted).
        glass_bound_mm: the most that all glass not wholly known may add to the asked distance.
        missing: what to enter for the sum to be whole; glass_missing: what to enter for the glass.
    """

    corrector: Place[Corrector]
    camera: Place[Camera]
    lengths: tuple[Length, ...]
    reference_mm: float
    actual_mm: float | None
    asked_air_mm: float | None
    plane_mm: tuple[float, float]
    glass: tuple[Glass, ...]
    glass_unsure_mm: float
    glass_bound_mm: float
    missing: tuple[Missing, ...]
    glass_missing: tuple[Missing, ...]

    @property
    def free(self) -> bool:
        """Whether the corrector may stand where it likes, which only sets its factor."""
        part = self.corrector.part
        return part.is_free

    @property
    def known_mm(self) -> float:
        """The sum of the lengths that are known: the whole where none is missing, else at least so much."""
        return _sum_mm(self.reference_mm, self.lengths)

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
    def lens_mm(self) -> float | None:
        """From where the corrector works as a thin lens to the sensor, in air: the middle of what is
        possible.
        """
        return None if self.air_mm is None else self.air_mm + sum(self.plane_mm) / 2.0

    @property
    def working_factor(self) -> float | None:
        """The corrector's factor at the actual spacing; its stated one where that or the asked is unknown.

        A flattener's factor of one stays one at every distance, and a factor that no corrector has stays as
        it was typed. None where the factor itself is not known.
        """
        part = self.corrector.part
        if part.factor is None:
            return None
        stated = part.factor.nominal
        if self.lens_mm is None or not self.asked_air_mm:
            return stated
        try:
            lens = thin_lens(stated, self.asked_air_mm + sum(self.plane_mm) / 2.0)
        except OutOfRangeError:
            return stated
        # Not thin_lens.working_factor: where a reducer forms no image any more, the checks say so themselves.
        return 1.0 + self.lens_mm * factor_per_mm(lens)

    @property
    def error_mm(self) -> float | None:
        """How far the sensor sits behind where it is asked to be; positive means too far from the sky."""
        if self.actual_mm is None or self.asked_mm is None:
            return None
        return self.actual_mm - self.asked_mm


def work_optics(train: Train, spacing: Spacing | None) -> Optics:
    """Work out focal length and ratio behind all correctors of a train, at the sensor's actual spacing."""
    missing: list[Missing] = []
    tube = train.tube.item if train.tube else None
    correctors = tuple(p.item for p in train.correctors)
    stated: float | None = 1.0
    for item in correctors:
        if item.part.factor is None:
            missing.append(lacks(item, "factor"))
            stated = None
        elif stated is not None:
            stated *= item.part.factor.nominal
    bare = Optics(tube, correctors, stated, None, None, None, None, tuple(missing), stated)
    factor = _at_the_spacing(spacing, stated)
    if tube is None:
        return replace(bare, factor=factor, missing=(*missing, wants("tube_in_train")))
    part = tube.part
    stated_mm, aperture, lacking = figures_of(tube)
    missing.extend(lacking)
    length = ratio = focal = None
    primary_missing: tuple[Missing, ...] = ()
    mirrors: TwoMirrors | None = None
    if stated_mm is not None and factor is not None:
        lens, working = (spacing.lens_mm, spacing.working_factor) if spacing else (None, None)
        mirrors, primary_missing = mirrors_in(train, lens, working)
        focal = stated_mm if mirrors is None else mirrors.focal_mm
        try:
            length = effective_focal_length_mm(focal, factor)
            if aperture is not None:
                ratio = effective_focal_ratio(focal, aperture, factor)
        except OutOfRangeError:
            # Drawings ask for these figures as well; what no formula holds for is known to none of them.
            missing.append(_afresh(factor, stated))
            factor = length = ratio = focal = None
    return Optics(
        tube,
        correctors,
        factor,
        length,
        ratio,
        aperture,
        _obstruction(part),
        tuple(missing),
        stated,
        focal,
        mirrors,
        primary_missing,
    )


def figures_of(tube: CataloguedPart[OpticalTube]) -> tuple[float | None, float | None, tuple[Missing, ...]]:
    """(focal length, aperture, what to enter) of a tube, mm; a figure of 0 is asked for afresh."""
    part = tube.part
    focal, aperture = nominal(part.focal_length_mm), nominal(part.aperture_mm)
    missing: list[Missing] = []
    if focal is None:
        missing.append(lacks(tube, "focal_length_mm"))
    elif focal <= 0.0:
        missing.append(lacks(tube, "focal_length_mm", "focal_length_afresh"))
    if aperture is None:
        missing.append(lacks(tube, "aperture_mm"))
    elif aperture <= 0.0:
        missing.append(lacks(tube, "aperture_mm", "aperture_afresh"))
    return (
        focal if focal and focal > 0.0 else None,
        aperture if aperture and aperture > 0.0 else None,
        tuple(missing),
    )


def _afresh(factor: float, stated: float | None) -> Missing:
    if stated is None or abs(factor - stated) < 1e-9:
        return wants("factors_afresh", factor=Quantity(factor, ""))
    return wants("lengths_afresh", factor=Quantity(factor, "", figures=2))


def _at_the_spacing(spacing: Spacing | None, stated: float | None) -> float | None:
    """The factor of all correctors with the last one's as it works where the sensor stands."""
    if stated is None or spacing is None or spacing.working_factor is None:
        return stated
    part = spacing.corrector.part
    if part.factor is None or not SMALLEST_FACTOR <= part.factor.nominal <= LARGEST_FACTOR:
        # No corrector has such a factor: it is asked for afresh, wherever the sensor stands.
        return stated
    return stated * spacing.working_factor / part.factor.nominal


def _obstruction(tube: OpticalTube) -> float | None:
    """The linear obstruction as entered; none for a refractor, whose design has none."""
    if tube.linear_obstruction is None and tube.design in REFRACTORS:
        return 0.0
    return tube.linear_obstruction


def work_spacing(train: Train) -> Spacing | None:
    """Work out the spacing behind the last corrector; None without a corrector before a camera."""
    corrector, camera = train.corrector, train.camera
    if corrector is None or camera is None or train.index_of(corrector) > train.index_of(camera):
        return None
    behind = train.after(corrector)
    lengths, missing = lengths_of(behind)
    part = corrector.part
    reference = 0.0 if part.reference_mm is None else part.reference_mm.nominal
    actual = None if missing else _sum_mm(reference, lengths)
    tube = train.tube.part if train.tube else None
    focal = tube.focal_length_mm.nominal if isinstance(tube, OpticalTube) and tube.focal_length_mm else None
    asked = part.asked_back_focus_mm(focal)
    ratio = beam_ratio(train)
    glass, unsure, glass_missing = glass_in(behind, ratio)
    return Spacing(
        corrector,
        camera,
        lengths,
        reference,
        actual,
        asked,
        part.plane_range_mm(asked),
        glass,
        unsure,
        bound_mm(behind, ratio, unsure, glass_missing),
        missing,
        glass_missing,
    )


def _sum_mm(reference_mm: float, lengths: Sequence[Length]) -> float:
    return reference_mm + sum(length.measure.nominal for length in lengths)


def lengthened(spacing: Spacing, ring: Place) -> Spacing:
    """The spacing with a ring of known length, without glass, put in before the camera."""
    (more,), _ = lengths_of((ring,))
    lengths = (*spacing.lengths[:-1], more, spacing.lengths[-1])
    return replace(spacing, lengths=lengths, actual_mm=_sum_mm(spacing.reference_mm, lengths))
