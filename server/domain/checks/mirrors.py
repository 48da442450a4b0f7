"""Tubes of two mirrors, and what a train makes of one that focuses by moving its primary."""

from __future__ import annotations

from server.domain.checks.in_beam import beam_ratio, glass_in, lengths_of
from server.domain.parts import Corrector, OpticalTube
from server.domain.train import Train
from server.optics.two_mirror import TwoMirrors, moved_back

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


def mirrors_of(tube: OpticalTube) -> TwoMirrors | None:
    """The two mirrors of a tube that focuses by its primary; None for another or an unknown figure."""
    m = magnification_of(tube)
    if tube.design not in FOCUS_BY_PRIMARY or m is None or m <= 1.0:
        return None
    if tube.mirror_separation_mm is None or tube.focal_length_mm is None:
        return None
    try:
        return TwoMirrors(tube.focal_length_mm.nominal / m, m, tube.mirror_separation_mm.nominal)
    except ValueError:
        return None


def mirrors_in(
    train: Train, corrector_air_mm: float | None = None, factor: float | None = None
) -> TwoMirrors | None:
    """The mirrors as they stand when the primary brings the focus to this train's sensor.

    corrector_air_mm, factor: how far the one corrector stands before the sensor in air, and the factor at
    which it works there; both None without one. None for other tubes, and while a length or the place of the
    focus is unknown: the stated focal length then stands.
    """
    tube = train.tube
    if tube is None or train.camera is None or not isinstance(tube.part, OpticalTube):
        return None
    mirrors = mirrors_of(tube.part)
    if mirrors is None or tube.part.back_focus_mm is None:
        return None
    behind = train.after(tube)
    lengths, missing = lengths_of(behind)
    glass, _, glass_missing = glass_in(behind, beam_ratio(train))
    taken = 0.0
    correctors = [place for place in train if isinstance(place.part, Corrector)]
    if correctors:
        if len(correctors) > 1 or corrector_air_mm is None or factor is None or factor <= 0.0:
            return None
        taken = corrector_air_mm / factor - corrector_air_mm
    if missing or glass_missing:
        return None
    stands_mm = sum(length.measure.nominal for length in lengths) - sum(plate.shift_mm for plate in glass)
    try:
        return moved_back(mirrors, stands_mm + taken - tube.part.back_focus_mm.nominal)
    except ValueError:
        return None
