"""Tubes of two mirrors, and what a train makes of one that focuses by moving its primary."""

from __future__ import annotations

from server.domain.missing import lacks, wants
from server.domain.parts import Corrector, OpticalTube
from server.domain.said import Missing
from server.domain.train import Train
from server.domain.workings.in_beam import beam_ratio, glass_in, lengths_of
from server.optics.two_mirror import TwoMirrors, moved_back
from server.out_of_range import OutOfRangeError

TWO_MIRRORS = ("schmidt_cassegrain", "maksutov", "ritchey_chretien", "classical_cassegrain", "dall_kirkham")
FOCUS_BY_PRIMARY = ("schmidt_cassegrain", "maksutov")
"""Designs whose focuser moves the primary (common practice, no source)."""


def magnification_of(tube: OpticalTube) -> float | None:
    """By how much the secondary lengthens the primary's focus; None while that is unknown."""
    ratio, whole = tube.primary_focal_ratio, tube.focal_ratio
    if ratio is None or whole is None or ratio.nominal <= 0:
        return None
    m = whole / ratio.nominal
    return m if 1.0 <= m <= 20.0 else None


def mirrors_of(tube: OpticalTube, *, any_design: bool = False) -> TwoMirrors | None:
    """The two mirrors of a tube that focuses by its primary, or of any; None while a figure is unknown."""
    m = magnification_of(tube)
    if not (any_design or tube.design in FOCUS_BY_PRIMARY) or m is None or m <= 1.0:
        return None
    if tube.mirror_separation_mm is None or tube.focal_length_mm is None:
        return None
    try:
        return TwoMirrors(tube.focal_length_mm.nominal / m, m, tube.mirror_separation_mm.nominal)
    except OutOfRangeError:
        return None


def mirrors_in(
    train: Train, lens_mm: float | None = None, factor: float | None = None
) -> tuple[TwoMirrors | None, tuple[Missing, ...]]:
    """The mirrors as they stand when the primary brings the focus to this train's sensor; what to enter.

    lens_mm, factor: how far before the sensor in air the one corrector works as a thin lens, and its factor
    there; both None without one. (None, ()) for a tube that does not focus by its primary;
    (None, what to enter) while a figure of the mirrors, a length or the place of the focus is unknown: the
    stated focal length then stands. Glass of no known thickness is left out; it moves the focus by less than
    2 mm, which changes the focal length of such a tube by some 8 mm.
    """
    tube = train.tube
    if tube is None or train.camera is None or not isinstance(tube.part, OpticalTube):
        return None, ()
    if tube.part.design not in FOCUS_BY_PRIMARY:
        return None, ()
    mirrors, behind = mirrors_of(tube.part), train.after(tube)
    lengths, missing_lengths = lengths_of(behind)
    missing: list[Missing] = [
        lacks(tube, field)
        for field, measure in (
            ("primary_focal_ratio", tube.part.primary_focal_ratio),
            ("mirror_separation_mm", tube.part.mirror_separation_mm),
            ("aperture_mm", tube.part.aperture_mm),
        )
        if measure is None
    ]
    if tube.part.back_focus_mm is None:
        missing.append(lacks(tube, "back_focus_mm", "focal_plane"))
    missing.extend(missing_lengths)
    taken = 0.0
    correctors = [place for place in train if isinstance(place.part, Corrector)]
    if len(correctors) > 1:
        missing.append(wants("focus_behind", correctors=correctors))
    elif correctors and not missing:
        if lens_mm is None or factor is None or factor <= 0.0:
            missing.append(lacks(correctors[0], "factor", "factor_and_spacing"))
        else:
            taken = lens_mm / factor - lens_mm
    if missing or mirrors is None or tube.part.back_focus_mm is None:
        return None, tuple(missing) or (lacks(tube, "primary_focal_ratio", "mirrors_afresh"),)
    glass, _, _ = glass_in(behind, beam_ratio(train))
    stands_mm = sum(length.measure.nominal for length in lengths) - sum(plate.shift_mm for plate in glass)
    try:
        return moved_back(mirrors, stands_mm + taken - tube.part.back_focus_mm.nominal), ()
    except OutOfRangeError:
        return None, (wants("lengths_behind", tube=tube),)
