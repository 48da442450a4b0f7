"""What a rig's parts say of the stars it draws: the opening, the wave's terms, the band, and what is
assumed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from statistics import median

from server.domain.measure import nominal
from server.domain.missing import lacks, lacks_sensor, wants
from server.domain.parts import Camera, CataloguedPart, Corrector, Filter, OpticalTube
from server.domain.rig import FieldSeen
from server.domain.said import Missing, Said, said
from server.domain.verdicts import Given
from server.domain.workings.case import Case
from server.domain.workings.drift import drift_over
from server.domain.workings.worked import Optics, Spacing
from server.optics.collimation import newtonian_misaligned
from server.optics.colour import USUAL_PAIR, focus_shift
from server.optics.third_order import (
    ACHROMAT_PETZVAL,
    APOCHROMAT_PETZVAL,
    Conics,
    Misaligned,
    classical,
    doublet_terms,
    drawn_blur_um,
    left_over,
    paraboloid_terms,
    plate_and_spheres_terms,
    rescaled,
    ritchey_chretien,
    secondary_misaligned,
    spherical_of_strehl_um,
    spot_at,
    two_mirror_terms,
    with_field_radius,
)
from server.optics.two_mirror import TwoMirrors
from server.optics.wavefront import FieldTerms

BROAD_NM = (400.0, 700.0)
"""What a camera without a filter in the beam is taken to see."""
ASSUMED_BACK = 0.25
"""Focus behind the primary, in primary focal lengths, where the mirrors' separation is not known."""
TWO_MIRROR_DESIGNS = ("schmidt_cassegrain", "maksutov", "ritchey_chretien", "classical_cassegrain")
CORRECTED_DESIGNS = ("dall_kirkham", "astrograph", "camera_lens")
NONE = FieldTerms()
SAME_MM, SAME_RATIO = 0.05, 0.02
"""A spacing and a beam within these are those that frames were taken with (a choice of ours, no source)."""
NARROW_NM = 30.0
"""In a band as narrow as this a lens is refocused, and its colours are one (a choice of ours, no source)."""
COLOURS = 9
"""So many wavelengths draw the star of a lens that focuses them apart."""
_Waves = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Telescope:
    """A rig as its stars see it; lengths mm.

    Attributes:
        tube, camera: the parts; corrector the one that counts, None without.
        focal_mm, ratio: at the sensor. obstruction: linear, 0 where it is not known (then said).
        terms: of the whole train at the sensor, without what a wrong spacing adds.
        bare: the tube's own at the sensor's scale, as if nothing corrected it.
        corrected: what of `bare` the corrector takes away; a wrong spacing gives a part of it back.
        asked_mm, error_mm: the corrector's distance, and how much too far the sensor stands; None unknown.
        coma_per_mm: um of wave over the whole field for each mm that a secondary is out; 0 where not known.
        axis_moves: a mm of collimation error moves the axis on the sensor by so many mm (a Newtonian).
        drift_mm_per_k: how far the focus moves out at the sensor, behind all correctors, for each degree that
            the air cools; None while unknown.
        spots: a maker's spot sizes (height mm, RMS diameter um).
        band: wavelengths and weights; band_nm its ends; band_of its filter. missing_band: what to enter of a
            filter in the beam, so that its band is known.
        colour_um: the defocus that each of the band's wavelengths has in a lens that focuses colours apart,
            empty for another.
        misaligned: the coma that a mm, or an arcminute, out of collimation draws into every star: of a
            Newtonian its primary's axis off the sensor's middle, of two mirrors the secondary; None for
            another tube and where it is not known.
        perfect: the parts that are taken to draw perfect stars, since nobody has a formula for them.
        assumed: clauses. missing: what to enter; missing_scale what of it the focus hangs on as well.
    """

    tube: CataloguedPart[OpticalTube]
    camera: CataloguedPart[Camera]
    corrector: CataloguedPart[Corrector] | None
    aperture_mm: float
    focal_mm: float
    ratio: float
    obstruction: float
    terms: FieldTerms
    bare: FieldTerms
    corrected: FieldTerms
    asked_mm: float | None
    error_mm: float | None
    coma_per_mm: float
    axis_moves: float
    drift_mm_per_k: float | None
    spots: tuple[tuple[float, float], ...]
    band: tuple[tuple[float, float], ...]
    band_nm: tuple[float, float]
    band_of: CataloguedPart | None
    colour_um: tuple[float, ...]
    pixel_um: float
    sensor_mm: tuple[float, float]
    misaligned: Misaligned | None
    perfect: tuple[CataloguedPart, ...]
    assumed: tuple[Said, ...]
    missing: tuple[Missing, ...]
    missing_scale: tuple[Missing, ...]
    missing_band: tuple[Missing, ...] = ()

    @property
    def part(self) -> OpticalTube:
        """The tube's figures."""
        return self.tube.part

    @property
    def spots_wanted(self) -> tuple[Missing, ...]:
        """The spot sizes of the parts that are taken to draw perfect stars."""
        return tuple(lacks(one, "spot_sizes") for one in self.perfect)

    @property
    def missing_obstruction(self) -> tuple[Missing, ...]:
        """The obstruction, where it is to be entered: the star is drawn as if there were none."""
        return tuple(one for one in self.missing_scale if one.field == "obstruction_mm")

    @property
    def taken(self) -> tuple[Given, ...]:
        """What is assumed, as inputs of a working."""
        return tuple(map(taken, self.assumed))

    @property
    def um_per_arcsec(self) -> float:
        """Scale on the sensor."""
        return self.focal_mm * 1000.0 / 206264.806

    @property
    def corner_mm(self) -> float:
        """Half the sensor's diagonal."""
        return float((self.sensor_mm[0] ** 2 + self.sensor_mm[1] ** 2) ** 0.5) / 2.0

    def spaced(self, spacing_mm: float | None) -> FieldTerms:
        """The terms with the sensor so much too far behind the corrector (None: as the train adds up).

        Raises ValueError where that is more than the corrector's own distance.
        """
        error = self.error_mm if spacing_mm is None else spacing_mm
        if error is None or self.asked_mm is None or error == 0.0 or self.corrected == NONE:
            return self.terms
        return _plus(self.terms, left_over(self.corrected, error, self.asked_mm))

    def blur_um(self, height_mm: float) -> float | None:
        """RMS radius of a maker's spot at a height; 0 without any, None beyond the heights that are given."""
        if not self.spots:
            return 0.0
        found = spot_at(self.spots, height_mm)
        return None if found is None else found / 2.0

    def drawn_blur_um(self, height_mm: float) -> float:
        """`blur_um`, and that of the outermost spot beyond the heights that are given."""
        return drawn_blur_um(self.spots, height_mm)


def _plus(a: FieldTerms, b: FieldTerms) -> FieldTerms:
    return FieldTerms(
        a.spherical_um + b.spherical_um,
        a.coma_um_per_mm + b.coma_um_per_mm,
        a.astig_um_per_mm2 + b.astig_um_per_mm2,
        a.curve_um_per_mm2 + b.curve_um_per_mm2,
    )


def taken(says: Said) -> Given:
    """What is assumed, as an input of a working."""
    return Given(says, None, "assumed", note=said("stars.taken"))


def lacking_for_stars(case: Case) -> tuple[Missing, ...]:
    """What to enter before any star can be drawn; empty where one can."""
    missing = list(case.optics.missing)
    camera = case.train.camera
    if camera is None:
        missing.append(wants("camera_at_end"))
    else:
        if camera.part.sensor_mm is None:
            missing.append(lacks_sensor(camera))
    return tuple(missing)


_BY_KIND = ("stars.taken.doublet", "stars.taken.corrected")
"""What is taken of a tube of lenses by its kind while it has no spots of its own."""


def telescope_of(case: Case) -> Telescope | None:
    """The rig as its stars see it; None while `lacking_for_stars` names something. Raises ValueError for
    figures that no formula holds for.
    """
    optics, camera = case.optics, case.train.camera
    if lacking_for_stars(case) or optics.tube is None or camera is None or optics.tube_focal_mm is None:
        return None
    tube, sensor = optics.tube.part, camera.part
    assert optics.focal_length_mm is not None
    assert optics.focal_ratio is not None
    assert optics.aperture_mm is not None
    assert optics.factor is not None
    assert sensor.sensor_mm is not None
    assert sensor.pixel_um is not None
    words = _Words()
    obstruction = optics.obstruction
    if obstruction is None:
        words.scale.append(lacks(optics.tube, "obstruction_mm", "obstruction_as_none"))
        words.missing += words.scale
        obstruction = 0.0
    bare_ratio = optics.tube_focal_mm / optics.aperture_mm
    own, misaligned, moves = _own_terms(optics.tube, tube, optics.tube_focal_mm, bare_ratio, words)
    if tube.strehl is not None:
        spherical = spherical_of_strehl_um(tube.strehl.nominal, case.rig.rules.wavelength_nm)
        own = replace(own, spherical_um=spherical)
        words.assumed.append(said("stars.taken.strehl", tube=optics.tube))
    bare = rescaled(own, optics.factor)
    corrector, corrected = _corrected(case, bare, words)
    _spacing_words(case, corrector, words)
    spots, whose = _spots(optics.tube, tube, corrector, optics.factor)
    if whose is not None:
        # Whose spots are given, their sum of everything wins over the kind's formula.
        words.assumed = [one for one in words.assumed if whose is not optics.tube or one.key not in _BY_KIND]
        words.assumed.append(said("stars.taken.round", part=whose))
        terms = FieldTerms(spherical_um=own.spherical_um)
    else:
        terms = _plus(bare, _times(corrected, -1.0))
    spacing = _spacing_of(case, corrector)
    ratio, half = optics.focal_ratio, math.hypot(*sensor.sensor_mm) / 2.0
    seen = _seen(case, ratio, spacing, words)
    if seen is not None:
        terms = with_field(terms, ratio, half, seen.curvature_um, seen.astigmatism_um)
        # The spacing is in what was seen.
        corrected = NONE
    band, ends, of = _band(case, words)
    band, colour = _coloured(optics, tube, band, ends, words)
    return Telescope(
        tube=optics.tube,
        camera=camera.item,
        corrector=corrector,
        aperture_mm=optics.aperture_mm,
        focal_mm=optics.focal_length_mm,
        ratio=optics.focal_ratio,
        obstruction=obstruction,
        terms=terms,
        bare=bare,
        corrected=corrected,
        asked_mm=spacing.asked_air_mm if spacing else None,
        error_mm=spacing.error_mm if spacing else None,
        coma_per_mm=0.0 if moves or misaligned is None else misaligned.per_mm,
        axis_moves=moves * optics.factor,
        drift_mm_per_k=_drift(case),
        spots=spots,
        band=band,
        band_nm=ends,
        band_of=of,
        colour_um=colour,
        pixel_um=sensor.pixel_um.nominal,
        sensor_mm=sensor.sensor_mm,
        misaligned=misaligned,
        # A maker's spots win over what is taken for granted.
        perfect=() if spots or seen is not None else tuple(words.perfect),
        assumed=tuple(words.assumed),
        missing=tuple(dict.fromkeys(words.missing)),
        missing_scale=tuple(words.scale),
        missing_band=tuple(words.band),
    )


def with_field(
    terms: FieldTerms,
    ratio: float,
    corner_mm: float,
    curvature_um: float | None,
    astigmatism_um: float | None,
) -> FieldTerms:
    """The terms with curvature and astigmatism as they were seen, um at the corner; None: as they are.

    Source: a wave's defocus by its longitudinal one, d / (8 N^2).
    """
    per_um = 1.0 / (8.0 * ratio**2 * corner_mm**2)
    if curvature_um is not None:
        terms = replace(terms, curve_um_per_mm2=-curvature_um * per_um)
    if astigmatism_um is not None:
        terms = replace(terms, astig_um_per_mm2=astigmatism_um * per_um)
    return terms


def _seen(case: Case, ratio: float, spacing: Spacing | None, words: _Words) -> FieldSeen | None:
    """What frames showed, if they were taken with the train as it stands."""
    seen = case.rig.seen
    if seen is None:
        return None
    now = None if spacing is None else spacing.actual_mm
    apart = abs((now or 0.0) - (seen.spacing_mm or 0.0))
    same = (now is None) == (seen.spacing_mm is None) and apart < SAME_MM
    holds = same and abs(seen.focal_ratio / ratio - 1.0) < SAME_RATIO
    key = "stars.taken.seen" if holds else "stars.taken.seen_else"
    words.assumed.append(said(key, on=seen.on.isoformat()))
    return seen if holds else None


def _drift(case: Case) -> float | None:
    drift = drift_over(case, 1.0)
    return None if drift is None else drift.sensor_mm


class _Words:
    def __init__(self) -> None:
        self.assumed: list[Said] = []
        self.missing: list[Missing] = []
        self.scale: list[Missing] = []
        self.band: list[Missing] = []
        self.perfect: list[CataloguedPart] = []


def _times(a: FieldTerms, by: float) -> FieldTerms:
    return FieldTerms(
        a.spherical_um * by, a.coma_um_per_mm * by, a.astig_um_per_mm2 * by, a.curve_um_per_mm2 * by
    )


def _own_terms(
    item: CataloguedPart, tube: OpticalTube, focal: float, ratio: float, words: _Words
) -> tuple[FieldTerms, Misaligned | None, float]:
    """The bare tube's terms, its coma for what is out of place, and how its axis moves."""
    terms, moves = NONE, 0.0
    misaligned: Misaligned | None = None
    if tube.design is None:
        words.missing.append(lacks(item, "design", "design_perfect"))
    elif tube.design == "newtonian":
        terms, moves = paraboloid_terms(focal, ratio), 1.0
        misaligned = newtonian_misaligned(focal, ratio)
    elif tube.design in ("achromat", "apochromat"):
        petzval = ACHROMAT_PETZVAL if tube.design == "achromat" else APOCHROMAT_PETZVAL
        terms = doublet_terms(focal, ratio, petzval)
        words.assumed.append(said("stars.taken.doublet", tube=item))
    elif tube.design in TWO_MIRROR_DESIGNS:
        terms, misaligned = _of_two_mirrors(item, tube, focal, ratio, words)
    elif tube.design in CORRECTED_DESIGNS:
        words.perfect.append(item)
        words.assumed.append(said("stars.taken.corrected", tube=item))
    radius = nominal(tube.field_radius_mm)
    if radius is not None:
        terms = with_field_radius(terms, radius, ratio)
    return terms, misaligned, moves


def _of_two_mirrors(
    item: CataloguedPart, tube: OpticalTube, focal: float, ratio: float, words: _Words
) -> tuple[FieldTerms, Misaligned | None]:
    primary = nominal(tube.primary_focal_ratio)
    if primary is None or not 1.0 < ratio / primary <= 20.0:
        words.missing.append(lacks(item, "primary_focal_ratio", "primary_focal_ratio_perfect"))
        return NONE, None
    m, f1 = ratio / primary, focal * primary / ratio
    separation = nominal(tube.mirror_separation_mm)
    if separation is None or not 0.0 < separation < f1:
        separation = f1 * (1.0 - (1.0 + ASSUMED_BACK) / (m + 1.0))
        words.assumed.append(said("stars.taken.back", tube=item))
    mirrors = TwoMirrors(f1, m, separation)
    if tube.design in ("ritchey_chretien", "classical_cassegrain"):
        conics = ritchey_chretien(mirrors) if tube.design == "ritchey_chretien" else classical(mirrors)
        terms = two_mirror_terms(mirrors, ratio, conics)
    else:
        conics = Conics(0.0, 0.0)
        terms = plate_and_spheres_terms(mirrors, ratio)
        words.assumed.append(said("stars.taken.spheres", tube=item))
    return terms, secondary_misaligned(mirrors, ratio, conics)


def _corrected(
    case: Case, bare: FieldTerms, words: _Words
) -> tuple[CataloguedPart[Corrector] | None, FieldTerms]:
    """The corrector that counts and what of the tube's terms it takes away at its own spacing."""
    for item in reversed(case.optics.correctors):
        part = item.part
        if part.corrector_type is None:
            words.missing.append(lacks(item, "corrector_type"))
            continue
        if part.corrector_type == "extender":
            continue
        words.perfect.append(item)
        takes = replace(bare, spherical_um=0.0)
        coma = part.corrector_type == "coma_corrector"
        if not coma:
            takes = replace(takes, coma_um_per_mm=0.0)
        words.assumed.append(said("stars.taken.best", corrector=item, coma=coma))
        return item, takes
    return None, NONE


def _spacing_of(case: Case, corrector: CataloguedPart | None) -> Spacing | None:
    """Where the sensor stands behind the corrector that counts; None where another one stands between."""
    spacing = case.spacing
    if spacing is None or (corrector is not None and spacing.corrector.item.id != corrector.id):
        return None
    return spacing


def _spacing_words(case: Case, corrector: CataloguedPart | None, words: _Words) -> None:
    """Ask for what the corrector's spacing lacks: of one that corrects its field hangs on it, of one that
    changes the focal length the scale.
    """
    spacing = case.spacing
    if spacing is not None and corrector is not None and _spacing_of(case, corrector) is None:
        words.assumed.append(said("stars.taken.there", corrector=corrector))
    if spacing is None or spacing.error_mm is not None:
        return
    part = spacing.corrector.part
    lacking = list(spacing.missing)
    if spacing.asked_air_mm is None:
        lacking.append(lacks(spacing.corrector, "back_focus_mm"))
    if corrector is spacing.corrector.item:
        words.missing += lacking
    if part.factor is not None and abs(part.factor.nominal - 1.0) > 1e-6:
        words.missing += lacking
        words.scale += lacking


def _spots(
    tube_item: CataloguedPart, tube: OpticalTube, corrector: CataloguedPart[Corrector] | None, factor: float
) -> tuple[tuple[tuple[float, float], ...], CataloguedPart | None]:
    """Heights, spots (um) and whose they are; a tube's own grow with the factor of what stands behind it."""
    whose: CataloguedPart = tube_item
    rows = tube.spot_sizes
    if corrector is not None:
        rows, whose, factor = corrector.part.spot_sizes, corrector, 1.0
    scaled = sorted((row.height_mm * factor, row.spot_um * factor) for row in rows)
    return tuple(scaled), whose if rows else None


def _band(case: Case, words: _Words) -> tuple[_Waves, tuple[float, float], CataloguedPart | None]:
    """Three wavelengths over the filter in the beam, else over what a camera sees, and that filter."""
    for place in case.train:
        item = place.filter_in_beam
        if item is None or not isinstance(item.part, Filter):
            continue
        centre, width = nominal(item.part.band_centre_nm), nominal(item.part.band_width_nm)
        if centre is None or width is None:
            words.assumed.append(said("stars.taken.no_filter", filter=item))
            names = ("band_centre_nm", "band_width_nm")
            words.band += [lacks(item, name) for name in names if getattr(item.part, name) is None]
            continue
        low, high = max(300.0, centre - width / 2.0), min(1100.0, centre + width / 2.0)
        if low < high:
            return _parts(low, high, 3), (low, high), item
    return _parts(*BROAD_NM, 3), BROAD_NM, None


def _coloured(
    optics: Optics, tube: OpticalTube, band: _Waves, ends: tuple[float, float], words: _Words
) -> tuple[_Waves, tuple[float, ...]]:
    """The band's wavelengths and the defocus of each, um, focused so that half of them focus before it."""
    if optics.tube is None or tube.design not in ("achromat", "apochromat"):
        return band, ()
    if tube.design == "apochromat":
        if ends[1] - ends[0] > NARROW_NM:
            words.assumed.append(said("stars.taken.no_colour", tube=optics.tube))
        return band, ()
    pair = tube.glass_pair or USUAL_PAIR
    if ends[1] - ends[0] > NARROW_NM:
        band = _parts(*ends, COLOURS)
        words.assumed.append(said("stars.taken.colours", tube=optics.tube, pair=bool(tube.glass_pair)))
    assert optics.tube_focal_mm is not None
    assert optics.factor is not None
    assert optics.focal_ratio is not None
    foci = [optics.tube_focal_mm * optics.factor**2 * focus_shift(pair, nm) for nm, _ in band]
    middle = median(foci)
    # A focus further out leaves the sensor before it.
    return band, tuple(1000.0 * (middle - one) / (8.0 * optics.focal_ratio**2) for one in foci)


def _parts(low: float, high: float, count: int) -> _Waves:
    """The middles of so many equal parts."""
    part = (high - low) / count
    return tuple((low + part * (i + 0.5), 1.0) for i in range(count))
