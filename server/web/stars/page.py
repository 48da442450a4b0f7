"""The stars of a rig as its templates see them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar, Literal

from markupsafe import Markup

from server.domain.fields import FieldSpec
from server.domain.findings import Amount, Finding
from server.domain.measure import percent
from server.domain.observer import UnitSystem
from server.domain.stars.field import PlaceStar, StarField, contrasts_of, energy_of
from server.domain.stars.telescope import Telescope
from server.domain.stars.wishes import StarWishes
from server.flow.draw_stars import StarView
from server.rim.phrasebook.tell import plain, tell
from server.rim.star_wishes import WISH_SPECS, wish_texts
from server.rim.wording import write_amount
from server.web.stars.curves import Curve, curves_svg
from server.web.stars.png import Floats, about_the_middle, star_png

Shown = Literal["alone", "seen", "pixels"]
SHOWN: tuple[tuple[Shown, str], ...] = (
    ("pixels", "through the air, on pixels"),
    ("seen", "through the air"),
    ("alone", "the tube alone"),
)
SLIDERS: Mapping[str, tuple[float, float, float]] = {
    "focus_um": (-200.0, 200.0, 5.0),
    "cooled_k": (0.0, 15.0, 0.5),
    "spacing_mm": (-3.0, 3.0, 0.1),
    "tilt_arcmin": (0.0, 20.0, 0.5),
    "collimation_mm": (0.0, 5.0, 0.1),
    "seeing_arcsec": (0.5, 6.0, 0.1),
}
"""Fields that have a slider beside them: from, to, step, in the field's own unit."""
OFF_ITS_DISTANCE = (
    "A corrector off its distance: the part of its correction that goes with the beam's size at it. An "
    "estimate: a lens may leave up to about twice as much, or less."
)
"""What holds for every rig with a corrector."""
ALWAYS_ASSUMED = (
    "Not drawn: colour error of lenses but achromats, scattered light, rough mirrors, air in the tube.",
)
"""What holds for every rig's stars."""
FIRST = ("focus_um", "seeing_arcsec")
"""Wishes that stand open; the others are one press away."""
USUAL = wish_texts(StarWishes())
"""What the form shows while nothing is wished for."""
MOST_SHOWN_PX = 91
CUT_OFF = 0.01
"""A picture whose edge is as bright as this share of the centre's peak cuts its star off."""
BRIGHT_SOFT_E = 30.0
"""Electrons that the bright star's picture draws half as bright as ten times as many."""


@dataclass(frozen=True)
class DrawnStar:
    """One star: its place in words, the picture, the same in words, and its column of the table.

    Attributes:
        cells: its figures, as `ROWS` names them.
        cut: the star reaches beyond the picture, which does not show that.
        without: what is not drawn since nobody has said it, "" for nothing.
    """

    name: str
    picture: str
    words: str
    cells: tuple[str, ...]
    cut: bool
    without: str


CENTRE, SIDE, CORNER = 4, 5, 2
"""Of the nine stars."""

ROWS = (
    "full width, tube alone",
    "full width, all in",
    "half of the light, all in",
    "four fifths, all in",
    "four fifths, tube alone",
    "Strehl ratio",
    "eccentricity",
    "long axis",
    "light let through",
)


@dataclass(frozen=True)
class Slider:
    """A slider beside a field, in the field's own unit."""

    low: float
    high: float
    step: float
    value: float


@dataclass(frozen=True)
class Drawn:
    """What could be drawn.

    Attributes:
        stars: nine, as the sensor's picture shows them.
        few: of these the centre, a side's middle, a corner and the widest corner, each with its heading.
        said: the stars in a sentence, told with each drawing.
        side: how wide one picture is, in words.
        strehl_note: what a "*" beside a Strehl ratio means; "" without one.
        bright, bright_words: the bright star's picture and the same in words.
        contrast, energy: the plots.
        facts: words and values about the whole field.
        findings: what they say.
        upkeep: what is asked of the tube's owner, each with the words over it; cautions what to mind.
        assumed: what is assumed.
    """

    stars: tuple[DrawnStar, ...]
    few: tuple[tuple[str, DrawnStar], ...]
    said: str
    side: str
    strehl_note: str
    bright: str
    bright_words: str
    contrast: Markup
    energy: Markup
    facts: tuple[tuple[str, str], ...]
    findings: tuple[Finding, ...]
    upkeep: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    assumed: tuple[str, ...]
    rows: tuple[str, ...] = ROWS
    always: tuple[str, ...] = ALWAYS_ASSUMED

    @property
    def others(self) -> tuple[tuple[str, DrawnStar], ...]:
        """The stars that are not among the few."""
        shown = {star.name for _, star in self.few}
        return tuple((star.name, star) for star in self.stars if star.name not in shown)


@dataclass(frozen=True)
class StarsPage:
    """The stars of one rig.

    Attributes:
        rig_id, name: the rig.
        specs, typed, errors: the form of wishes; `sliders` by field.
        shown, stretched: what the pictures show; `modes` the choices.
        lacking: what to enter before anything can be drawn; `trouble` why figures that are there cannot be.
        drawn: None then.
    """

    template: ClassVar[str] = "stars/stars.html"

    rig_id: int
    name: str
    specs: tuple[FieldSpec, ...]
    typed: Mapping[str, str]
    errors: Mapping[str, str]
    sliders: Mapping[str, Slider]
    shown: Shown
    stretched: bool
    lacking: tuple[tuple[str, str], ...]
    trouble: str
    drawn: Drawn | None
    modes: tuple[tuple[Shown, str], ...] = SHOWN

    @property
    def first(self) -> tuple[FieldSpec, ...]:
        """The wishes that most people have."""
        return tuple(spec for spec in self.specs if spec.name in FIRST)

    @property
    def more(self) -> tuple[FieldSpec, ...]:
        """The others."""
        return tuple(spec for spec in self.specs if spec.name not in FIRST)

    @property
    def more_open(self) -> bool:
        """Whether one of the others is wished for, or could not be read."""
        return any(
            spec.name in self.errors or self.typed[spec.name] != USUAL[spec.name] for spec in self.more
        )


def stars_page(
    rig_id: int,
    view: StarView,
    typed: Mapping[str, str],
    errors: Mapping[str, str],
    shown: Shown,
    stretched: bool,
    units: UnitSystem,
    lacking: tuple[tuple[str, str], ...],
) -> StarsPage:
    """Build the page."""
    sliders = {}
    for name, (low, high, step) in SLIDERS.items():
        value = getattr(view.wishes, name)
        if value is None and view.field is not None:
            value = {
                "seeing_arcsec": view.field.seeing_arcsec,
                "spacing_mm": view.field.telescope.error_mm or 0.0,
            }.get(name, 0.0)
        sliders[name] = Slider(low, high, step, min(high, max(low, value or 0.0)))
    drawn = None
    if view.field is not None:
        drawn = _drawn(view, view.field, shown, stretched, units)
    return StarsPage(
        rig_id=rig_id,
        name=view.rig.name,
        specs=WISH_SPECS,
        typed=typed,
        errors=errors,
        sliders=sliders,
        shown=shown,
        stretched=stretched,
        lacking=lacking,
        trouble="" if view.trouble is None else plain(view.trouble),
        drawn=drawn,
    )


def assumed_of(telescope: Telescope) -> tuple[str, ...]:
    """What is assumed of one rig."""
    off = () if telescope.corrector is None else (OFF_ITS_DISTANCE,)
    return (*map(plain, telescope.assumed), *off)


def side_px(fields: list[StarField], shown: Shown) -> int:
    """How many pixels every picture shows: an odd number that holds the widest star's light."""
    widest = 21.0
    for field in fields:
        for star in field.stars:
            numbers = star.alone_numbers if shown == "alone" else star.seen_numbers
            size = numbers.d80_um if numbers.d80_um is not None else 2.0 * star.seen.places_um[-1]
            off = max(abs(numbers.centroid_um[0]), abs(numbers.centroid_um[1]))
            widest = max(widest, (2.1 * float(size) + 2.0 * off) / field.telescope.pixel_um)
    return min(MOST_SHOWN_PX, 2 * int(widest / 2.0) + 1)


def _picture(
    star: PlaceStar, field: StarField, shown: Shown, stretched: bool, side_um: float, white: float
) -> tuple[str, bool]:
    """The picture, and whether the star is cut off at its edge."""
    values, step_um = _values(star, field, shown)
    cells = round(side_um / step_um)
    if shown == "pixels":
        cells = 2 * round(side_um / step_um / 2.0 - 0.5) + 1
    inside = about_the_middle(values, min(cells, values.shape[0]))
    edge = max(inside[0].max(), inside[-1].max(), inside[:, 0].max(), inside[:, -1].max())
    return star_png(values, white, stretched=stretched, cells=cells), float(edge) > CUT_OFF * white


def _values(star: PlaceStar, field: StarField, shown: Shown) -> tuple[Floats, float]:
    """What is drawn, as light for each square um (stars have cells of different sizes), and its cell, um."""
    if shown == "pixels":
        return star.pixels / field.telescope.pixel_um**2, field.telescope.pixel_um
    image = star.alone if shown == "alone" else star.seen
    return image.values / image.step_um**2, image.step_um


def white_of(field: StarField, shown: Shown) -> float:
    """The brightest of the centre, as light for each square um."""
    return float(_values(field.centre, field, shown)[0].max())


def drawn_star(
    star: PlaceStar,
    field: StarField,
    shown: Shown,
    stretched: bool,
    side_um: float,
    white: float,
    units: UnitSystem,
) -> DrawnStar:
    """One star, `side_um` of the sensor wide, `white` (light for each square um) drawn white."""
    telescope = field.telescope
    alone, seen = star.alone_numbers, star.seen_numbers

    def three(um: float | None) -> str:
        if um is None:
            return "more than the picture holds"
        size = f"{um / telescope.um_per_arcsec:.2f} arcsec · {um / telescope.pixel_um:.1f} px"
        # Who reads inches is not told micrometres: sky and pixels say the same.
        return size if units == "imperial" else f"{um:.1f} µm · {size}"

    shape = seen.shape
    long = f"{shape.direction_deg:.0f}°" if shape.eccentricity > 0.2 else "round"
    name = plain(star.place)
    words = (
        f"{name}: full width {seen.fwhm_um / telescope.pixel_um:.1f} pixels, "
        + (
            "four fifths of its light beyond the picture, "
            if seen.d80_um is None
            else f"four fifths of its light within {seen.d80_um / telescope.pixel_um:.1f}, "
        )
        + (f"drawn out along {shape.direction_deg:.0f} degrees" if shape.eccentricity > 0.2 else "round")
    )
    strehl = "-" if alone.strehl is None else f"{alone.strehl:.2f}"
    if telescope.perfect and alone.strehl is not None:
        strehl += " *"
    without = "its obstruction is not known: drawn without" if telescope.missing_obstruction else ""
    picture, cut = _picture(star, field, shown, stretched, side_um, white)
    return DrawnStar(
        name=name,
        picture=picture,
        words="; ".join(filter(None, (words, "cut off at the picture's edge" if cut else "", without))),
        cut=cut,
        without=without,
        cells=(
            three(alone.fwhm_um),
            three(seen.fwhm_um),
            three(seen.d50_um),
            three(seen.d80_um),
            three(alone.d80_um),
            strehl + (" (rays)" if star.alone.method == "rays" else ""),
            f"{shape.eccentricity:.2f}",
            long,
            percent(star.light) + (" (beyond the maker's spots)" if star.beyond_spots else ""),
        ),
    )


def _drawn(view: StarView, field: StarField, shown: Shown, stretched: bool, units: UnitSystem) -> Drawn:
    telescope = field.telescope
    wide_px = side_px([field], shown)
    perfect = " and ".join(part.name for part in telescope.perfect)
    upkeep = view.upkeep
    side_um = wide_px * telescope.pixel_um
    white = white_of(field, shown)
    brightest = float(field.bright.max())
    stars = tuple(drawn_star(star, field, shown, stretched, side_um, white, units) for star in field.stars)
    return Drawn(
        stars=stars,
        few=_few(stars, field),
        said=_said(field),
        side=f"Each picture is {wide_px} pixels wide, {side_um / telescope.um_per_arcsec:.0f} arcsec of sky.",
        strehl_note=f"* As if {perfect} were perfect: only its maker's spot sizes could tell."
        if perfect
        else "",
        bright=star_png(
            field.bright / BRIGHT_SOFT_E, max(1.0, brightest / BRIGHT_SOFT_E) ** 0.5, stretched=True
        ),
        bright_words=_bright_words(field, brightest),
        contrast=Markup(_contrast(field)),
        energy=Markup(_energy(field)),
        facts=facts_of(field, units),
        findings=tuple(map(tell, view.findings)),
        upkeep=()
        if upkeep is None
        else (
            ("What is set.", plain(upkeep.what)),
            ("How delicate.", plain(upkeep.delicate)),
            ("In the field.", plain(upkeep.field)),
        ),
        cautions=() if upkeep is None else tuple(map(plain, upkeep.cautions)),
        assumed=assumed_of(telescope),
    )


def _few(stars: tuple[DrawnStar, ...], field: StarField) -> tuple[tuple[str, DrawnStar], ...]:
    """The centre, the middle of a side, a corner, and the widest corner where it says something else."""
    worst = field.stars.index(field.worst)
    heads = {CENTRE: "", SIDE: "middle of a side", CORNER: "a corner"}
    if worst == CORNER or stars[worst].cells != stars[CORNER].cells:
        heads[worst] = "the widest corner"
    return tuple(
        (f"{head}: {stars[index].name}" if head else stars[index].name, stars[index])
        for index, head in heads.items()
    )


def _said(field: StarField) -> str:
    centre, worst = (
        f"{star.seen_numbers.fwhm_um / field.telescope.pixel_um:.1f}" for star in (field.centre, field.worst)
    )
    return (
        f"Full width {centre} pixels at the centre, {worst} at the widest corner, {plain(field.worst.place)}."
    )


def _bright_words(field: StarField, brightest: float) -> str:
    part = field.telescope.camera.part
    wells = [row.full_well_e for row in getattr(part, "gains", ())]
    said = (
        f"A star of magnitude {field.wishes.magnitude:g} in {field.wishes.exposure_s:g} s, "
        f"{field.bright.shape[0]} pixels wide: "
        f"{brightest:,.0f} electrons in its brightest pixel"
    )
    if wells:
        said += (
            " (the pixel is full)" if brightest > max(wells) else f" of the {max(wells):,.0f} that it holds"
        )
    return said + "; faint light drawn up."


def _contrast(field: StarField) -> str:
    telescope = field.telescope
    largest = 1e6 / (min(nm for nm, _ in telescope.band) * telescope.ratio)
    pixel = 500.0 / telescope.pixel_um

    names = ("the tube as it is", "without obstruction and vanes", "through air and guiding")
    curves = []
    for name, (per_mm, shares) in zip(names, contrasts_of(field), strict=True):
        inside = [(x, y) for x, y in zip(per_mm, shares, strict=True) if x <= largest]
        curves.append(Curve(name, inside[:: max(1, len(inside) // 120)]))
    words = (
        f"Contrast in the middle of the field against detail, to {largest:.0f} line pairs per mm; pixels "
        f"end at "
        f"{pixel:.0f}."
    )
    return curves_svg(
        "Contrast",
        words,
        f"line pairs per mm; pixels end at {pixel:.0f}",
        curves,
        largest,
        id_prefix="contrast",
    )


def _energy(field: StarField) -> str:

    pixel = field.telescope.pixel_um
    lines = []
    largest = 4.0
    for name, star, alone in (
        ("centre, tube alone", field.centre, True),
        ("centre, through air and guiding", field.centre, False),
        (f"{plain(field.worst.place)}, through air and guiding", field.worst, False),
    ):
        radii, shares = energy_of(star, alone=alone)
        stride = max(1, len(radii) // 160)
        points = [(2.0 * r / pixel, s) for r, s in zip(radii[::stride], shares[::stride], strict=True)]
        lines.append(Curve(name, points))
        reached = next((x for x, s in points if s >= 0.93), points[-1][0])
        largest = max(largest, reached)
    return curves_svg(
        "Light within a circle",
        "The share of a star's light within a circle about its middle, against the circle's diameter in "
        "pixels.",
        "diameter in pixels",
        lines,
        largest,
        id_prefix="energy",
    )


def facts_of(field: StarField, units: UnitSystem) -> tuple[tuple[str, str], ...]:
    """Words and values about the whole field."""
    telescope, lost = field.telescope, field.lost

    def length(mm: float, digits: int) -> str:
        return write_amount(Amount(value=mm, dimension="length", digits=digits), units)

    # The star is drawn as if there were none; what it costs is not said to be nothing.
    obstructed = telescope.missing_obstruction
    asked = f"not known yet: enter the central obstruction of {telescope.tube.name}" if obstructed else ""
    band = f"{telescope.band_nm[0]:.0f} to {telescope.band_nm[1]:.0f} nm"
    band_of = telescope.band_of.name if telescope.band_of else "no filter of a known band"
    found = [
        ("focal length and ratio", f"{length(telescope.focal_mm, 0)}, f/{telescope.ratio:.1f}"),
        ("scale", f"{telescope.pixel_um / telescope.um_per_arcsec:.2f} arcsec per pixel"),
        (
            "light",
            f"{band} ({band_of})",
        ),
        ("air and guiding", f"{field.seeing_arcsec:g} and {field.guiding_arcsec:g} arcsec"),
        ("light lost to obstruction, vanes and clips", asked or percent(1.0 - lost.clear, 1)),
        ("a refractor that gathers as much", asked or length(lost.equal_aperture_mm, 0)),
        ("light in the spikes", percent(field.spike_share, 2) if field.spike_share else "none"),
    ]
    growth = field.growth_px
    found.append(
        (
            "growth from the centre to the corner",
            ("more than shown" if growth is None else f"{round(growth, 1) + 0.0:.1f} pixels")
            + (" (if the correction is perfect)" if telescope.perfect else ""),
        )
    )
    found.append(
        (
            "blur of the corner that a compromise focus removes",
            percent(max(0.0, field.best.share_removed)),
        )
    )
    return tuple(found)
