"""The stars over a rig's sensor: nine pictures and their numbers, a bright one, and what they share."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

from server.domain.guarded import worked_or_none
from server.domain.measure import nominal
from server.domain.said import Said, said
from server.domain.stars.telescope import Telescope, with_field
from server.domain.stars.wishes import StarWishes
from server.domain.workings.case import Case
from server.domain.workings.lit import light_of
from server.optics import field as ground
from server.optics.beam import Beam
from server.optics.field import Compromise, Standing, aberrations_at, compromise
from server.optics.openings import Opening
from server.optics.wavefront import Aberrations, FieldTerms
from server.out_of_range import OutOfRangeError
from server.sky.photons import star_electrons

if TYPE_CHECKING:
    from server.optics.pupil import Floats, LightLost, Pupil, PupilStop
    from server.optics.star_image import Air, StarImage
    from server.optics.star_numbers import Contrast, StarNumbers

PLACES = (
    ("top_left", -1, 1),
    ("top", 0, 1),
    ("top_right", 1, 1),
    ("left", -1, 0),
    ("centre", 0, 0),
    ("right", 1, 0),
    ("bottom_left", -1, -1),
    ("bottom", 0, -1),
    ("bottom_right", 1, -1),
)
"""The places of the sensor as the page reads, and where they lie in half widths and half heights."""
EFFICIENCY = 0.6
"""Of glass, mirrors and sensor together for the bright star's electrons (common practice, no source)."""
BRIGHT_PIXELS = 201
_COARSE_FROM_UM = 60.0
_LARGEST_HALF_CELLS = 150


@dataclass(frozen=True)
class PlaceStar:
    """One of the nine stars.

    Attributes:
        name, x_mm, y_mm: where it stands, one of `PLACES`.
        alone, seen: its picture by the tube alone, and through air and guiding; pixels the latter on pixels,
            each the share of the star's light that it gets.
        alone_numbers, seen_numbers: of the tube alone, and of all in: air, guiding and the pixel that
            collects it.
        wave: what was drawn.
        light: the part of the tube's light that the train lets through to this place.
        beyond_spots: the maker's spots end nearer the axis than this place; it is drawn with the last of
            them.
    """

    name: str
    x_mm: float
    y_mm: float
    alone: StarImage
    seen: StarImage
    pixels: Floats
    alone_numbers: StarNumbers
    seen_numbers: StarNumbers
    wave: Aberrations
    light: float
    beyond_spots: bool

    @property
    def place(self) -> Said:
        """Where it stands, to be told."""
        return said(f"stars.at.{self.name}")


@dataclass(frozen=True)
class StarField:
    """All that the stars of a rig are, for one set of wishes.

    Attributes:
        telescope, wishes: what was asked. seeing_arcsec, guiding_arcsec: as they were taken.
        terms: of the wave, a wrong spacing counted.
        standing: how the sensor stands.
        stars: nine, in the order of `PLACES`.
        lost: where the tube's light goes; spike_share, spike_count of the vanes.
        contrast, unobstructed, seen_contrast: of the centre: the tube alone, the same without obstruction or
            vanes, and with air and guiding.
        bright: electrons of the bright star in `BRIGHT_PIXELS` squared pixels.
        best: the compromise focus.
    """

    telescope: Telescope
    wishes: StarWishes
    seeing_arcsec: float
    guiding_arcsec: float
    terms: FieldTerms
    standing: Standing
    stars: tuple[PlaceStar, ...]
    lost: LightLost
    spike_share: float
    spike_count: int
    contrast: Contrast
    unobstructed: Contrast
    seen_contrast: Contrast
    bright: Floats
    best: Compromise

    @property
    def centre(self) -> PlaceStar:
        """The star in the middle."""
        return self.stars[4]

    @property
    def corners(self) -> tuple[PlaceStar, ...]:
        """The four in the corners."""
        return tuple(self.stars[i] for i in (0, 2, 6, 8))

    @property
    def worst(self) -> PlaceStar:
        """The widest of the corners' stars."""
        return max(self.corners, key=lambda star: star.seen_numbers.d80_um or math.inf)

    @property
    def growth_px(self) -> float | None:
        """By how many pixels the diameter that holds 80 % grows from the centre to the widest corner."""
        corner, centre = self.worst.seen_numbers.d80_um, self.centre.seen_numbers.d80_um
        return None if corner is None or centre is None else (corner - centre) / self.telescope.pixel_um


def standing_of(telescope: Telescope, terms: FieldTerms, wishes: StarWishes) -> tuple[Standing, Compromise]:
    """How the sensor stands by the wishes, and the compromise focus of these terms."""
    width, height = telescope.sensor_mm
    best = compromise(terms, telescope.ratio, width, height, telescope.obstruction)
    focus = wishes.focus_um / 1000.0 + (best.focus_mm if wishes.focus_at == "compromise" else 0.0)
    # The focus has moved out from under a sensor that stayed.
    focus -= wishes.cooled_k * (telescope.drift_mm_per_k or 0.0)
    axis, coma = _out_of_collimation(telescope, terms, wishes.collimation_mm)
    angle = math.radians(wishes.tilt_deg)
    return (
        Standing(
            focus_mm=focus,
            tilt_x_arcmin=wishes.tilt_arcmin * math.cos(angle),
            tilt_y_arcmin=wishes.tilt_arcmin * math.sin(angle),
            axis_x_mm=axis,
            coma_x_um=coma,
        ),
        best,
    )


def _out_of_collimation(telescope: Telescope, terms: FieldTerms, out_mm: float) -> tuple[float, float]:
    """Where the tube's axis meets the sensor, mm, and the coma that every star has, um, to the right.

    A corrector stays with the sensor: of coma it takes away what grows from the sensor's middle, while the
    primary's grows from where its axis fell. What is left is even over the field.
    """
    if telescope.axis_moves:
        axis = out_mm * telescope.axis_moves
        return axis, (terms.coma_um_per_mm - telescope.bare.coma_um_per_mm) * axis
    return 0.0, -out_mm * telescope.coma_per_mm


def corner_spot_um(telescope: Telescope, terms: FieldTerms, standing: Standing) -> float:
    """RMS radius of the widest corner's star without diffraction, um: cheap, for a check."""
    width, height = telescope.sensor_mm
    blur = telescope.drawn_blur_um(math.hypot(width / 2.0, height / 2.0))
    return ground.corner_spot_um(terms, width, height, telescope.ratio, standing, telescope.obstruction, blur)


def pupil_of(telescope: Telescope) -> Pupil:
    """The tube's opening. Raises ValueError, in words, for what no tube has."""
    from server.optics.pupil import Clips, Pupil, Vanes

    part = telescope.part
    vanes = clips = None
    if part.spider_vanes and part.spider_thickness_mm is not None:
        angle = nominal(part.spider_angle_deg) or 0.0
        vanes = Vanes(part.spider_vanes, part.spider_thickness_mm.nominal, angle, bool(part.spider_curved))
    if part.clip_count and part.clip_width_mm is not None and part.clip_reach_mm is not None:
        clips = Clips(part.clip_count, part.clip_width_mm.nominal, part.clip_reach_mm.nominal)
    return Pupil(telescope.aperture_mm, telescope.obstruction, vanes, clips, nominal(part.mask_mm))


def work_stars(case: Case, telescope: Telescope, wishes: StarWishes) -> StarField:
    """Draw the stars. Raises ValueError, in words, for figures that no tube or sky has."""
    rules = case.rig.rules
    return _worked(
        telescope,
        wishes,
        rules.seeing_arcsec if wishes.seeing_arcsec is None else wishes.seeing_arcsec,
        rules.guiding_arcsec if wishes.guiding_arcsec is None else wishes.guiding_arcsec,
        _openings(case),
    )


@dataclass(frozen=True)
class _Train:
    """The train's openings in the light: what cuts into each star's pupil."""

    beam: Beam
    seen: tuple[Opening, ...]


def _openings(case: Case) -> _Train | None:
    lit = worked_or_none(said("work.light"), lambda: light_of(case))
    return None if lit is None else _Train(lit.beam, lit.seen)


def _stops(train: _Train | None, x_mm: float, y_mm: float) -> tuple[PupilStop, ...]:
    """The round and oval openings that cut into this star's pupil, as it sees them there."""
    from server.optics.light_map import pupil_stop

    found = [] if train is None else [pupil_stop(train.beam, one, x_mm, y_mm) for one in train.seen]
    return tuple(one for one in found if one is not None)


@lru_cache(8)
def _worked(
    telescope: Telescope,
    wishes: StarWishes,
    seeing: float,
    guiding: float,
    openings: _Train | None,
) -> StarField:
    from server.optics.pupil import light_lost
    from server.optics.spikes import bright_star, spike_count, spike_share
    from server.optics.star_image import Air
    from server.optics.star_numbers import contrast_of

    terms = with_field(
        telescope.spaced(wishes.spacing_mm),
        telescope.ratio,
        telescope.corner_mm,
        wishes.curvature_um,
        wishes.astigmatism_um,
    )
    standing, best = standing_of(telescope, terms, wishes)
    pupil = pupil_of(telescope)
    air = Air(seeing, guiding, drift_arcsec=wishes.drift_arcsec, drift_deg=wishes.drift_deg)
    stars = _nine(telescope, terms, standing, pupil, air, openings)
    lost = light_lost(pupil)
    centre = stars[4]
    electrons = star_electrons(
        wishes.magnitude,
        wishes.exposure_s,
        math.pi / 4.0 * telescope.aperture_mm**2 * lost.clear,
        telescope.band_nm,
        EFFICIENCY,
    )
    bright = bright_star(
        pupil,
        telescope.ratio,
        telescope.focal_mm,
        telescope.band,
        telescope.pixel_um,
        BRIGHT_PIXELS,
        air,
        centre.wave,
    )
    return StarField(
        telescope=telescope,
        wishes=wishes,
        seeing_arcsec=seeing,
        guiding_arcsec=guiding,
        terms=terms,
        standing=standing,
        stars=stars,
        lost=lost,
        spike_share=spike_share(pupil),
        spike_count=spike_count(pupil),
        contrast=contrast_of(centre.alone),
        unobstructed=_open_contrast(telescope, centre),
        seen_contrast=contrast_of(centre.seen),
        bright=bright * electrons,
        best=best,
    )


def _open_contrast(telescope: Telescope, centre: PlaceStar) -> Contrast:
    """Of the centre's star as the whole aperture would draw it."""
    from server.optics.pupil import Pupil
    from server.optics.star_image import instrument_image
    from server.optics.star_numbers import contrast_of

    cells = centre.alone.values.shape[0]
    plain = Pupil(telescope.aperture_mm)
    return contrast_of(
        instrument_image(
            plain,
            centre.wave,
            telescope.ratio,
            telescope.band,
            centre.alone.step_um,
            cells,
            telescope.colour_um,
        )
    )


def _nine(
    telescope: Telescope,
    terms: FieldTerms,
    standing: Standing,
    pupil: Pupil,
    air: Air,
    openings: _Train | None,
) -> tuple[PlaceStar, ...]:
    from server.optics.pupil import pupil_mask
    from server.optics.star_image import (
        collected_image,
        instrument_image,
        kept,
        on_pixels,
        seen_image,
        spot_reach_um,
    )
    from server.optics.star_numbers import numbers_of

    n, pixel = telescope.ratio, telescope.pixel_um
    waves: list[tuple[Aberrations, bool]] = []
    for _, across, up in PLACES:
        x, y = across * telescope.sensor_mm[0] / 2.0, up * telescope.sensor_mm[1] / 2.0
        height = math.hypot(x, y)
        wave = aberrations_at(terms, x, y, n, standing, telescope.drawn_blur_um(height))
        waves.append((wave, telescope.blur_um(height) is None))
    shortest = min(nm for nm, _ in telescope.band) / 1000.0
    airy = 6.0 * shortest * n
    sky = 1.8 * math.hypot(air.seeing_arcsec, air.guiding_arcsec, air.drift_arcsec) * telescope.um_per_arcsec
    furthest = max((abs(one) for one in telescope.colour_um), default=0.0)
    colours = 4.0 * n * furthest  # Its ray's place, -2 N dW/dx, at the pupil's edge.
    reaches = [1.1 * (spot_reach_um(wave, n) + colours) + airy + sky for wave, _ in waves]
    # A cell of a third of lambda N, or twice that where the stars are so large that it shows nothing; a star
    # that is larger still has cells as coarse as hold it whole.
    finest = shortest * n / (3.0 if max(reaches) < _COARSE_FROM_UM else 1.5)
    stars = []
    whole = float(pupil_mask(pupil, 128).sum())
    for (name, across, up), (wave, beyond), reach in zip(PLACES, waves, reaches, strict=True):
        per = max(1, math.ceil(pixel / max(finest, reach / _LARGEST_HALF_CELLS)))
        step = pixel / per
        half = min(reach, _LARGEST_HALF_CELLS * step)
        # One pixel more to each side: the last one collects from beyond.
        pixels = 2 * math.ceil(half / pixel) + 3
        x, y = across * telescope.sensor_mm[0] / 2.0, up * telescope.sensor_mm[1] / 2.0
        stops = _stops(openings, x, y)
        cut = replace(pupil, stops=stops)
        try:
            alone = instrument_image(cut, wave, n, telescope.band, step, pixels * per, telescope.colour_um)
            light = float(pupil_mask(cut, 128).sum()) / whole
        except OutOfRangeError:
            if not stops:
                raise
            # All of this place's light is shut out by the train: the star is drawn as the tube draws it.
            alone, light = (
                instrument_image(pupil, wave, n, telescope.band, step, pixels * per, telescope.colour_um),
                0.0,
            )
        seen = seen_image(alone, air, telescope.focal_mm)
        stars.append(
            PlaceStar(
                name=name,
                x_mm=x,
                y_mm=y,
                alone=kept(alone),
                seen=kept(seen),
                pixels=on_pixels(seen, pixel, pixels),
                alone_numbers=numbers_of(alone),
                seen_numbers=numbers_of(collected_image(seen, pixel)),
                wave=wave,
                light=light,
                beyond_spots=beyond,
            )
        )
    return tuple(stars)


def energy_of(star: PlaceStar, *, alone: bool) -> tuple[list[float], list[float]]:
    """Radii (um) about the star's middle and the share of its light within each, by the tube alone or through
    air and guiding as well; the pixel is left out.
    """
    from server.optics.star_numbers import encircled

    image, numbers = (star.alone, star.alone_numbers) if alone else (star.seen, star.seen_numbers)
    energy = encircled(image, numbers.centroid_um)
    return energy.radii_um.tolist(), energy.shares.tolist()


def contrasts_of(field: StarField) -> tuple[tuple[list[float], list[float]], ...]:
    """Frequencies (line pairs per mm) and contrast along x: the tube, the same unobstructed, and all in."""
    return tuple(
        (one.per_mm.tolist(), one.along_x.tolist())
        for one in (field.contrast, field.unobstructed, field.seen_contrast)
    )
