"""Tubes and correctors: the parts that shape the light."""

from __future__ import annotations

from itertools import pairwise
from math import isfinite
from typing import ClassVar, Literal, Self

from pydantic import model_validator

from server.domain.connections import Connection
from server.domain.fields import (
    Column,
    capacity,
    choice,
    connection,
    count,
    flag,
    mass,
    measure,
    several,
    table,
)
from server.domain.measure import Frozen, Measure, nominal
from server.domain.parts.base import BasePart, PathPart

Design = Literal[
    "achromat",
    "apochromat",
    "newtonian",
    "schmidt_cassegrain",
    "maksutov",
    "ritchey_chretien",
    "classical_cassegrain",
    "dall_kirkham",
    "astrograph",
    "camera_lens",
]
DESIGNS: tuple[tuple[str, str], ...] = (
    ("achromat", "achromatic refractor"),
    ("apochromat", "apochromatic refractor"),
    ("newtonian", "Newtonian"),
    ("schmidt_cassegrain", "Schmidt-Cassegrain"),
    ("maksutov", "Maksutov"),
    ("ritchey_chretien", "Ritchey-Chretien"),
    ("classical_cassegrain", "classical Cassegrain"),
    ("dall_kirkham", "Dall-Kirkham with corrector"),
    ("astrograph", "astrograph"),
    ("camera_lens", "camera lens"),
)

TubeMaterial = Literal["aluminium", "steel", "carbon_fibre", "other"]
MATERIALS: tuple[tuple[str, str], ...] = (
    ("aluminium", "aluminium"),
    ("steel", "steel"),
    ("carbon_fibre", "carbon fibre"),
    ("other", "another material"),
)


GlassPair = Literal["crown_flint", "crown_dense_flint", "fluor_crown_short_flint"]
GLASS_PAIRS: tuple[tuple[str, str], ...] = (
    ("crown_flint", "crown and flint"),
    ("crown_dense_flint", "crown and dense flint"),
    ("fluor_crown_short_flint", "fluor crown and short flint"),
)


class SpotRow(Frozen):
    """A maker's spot size: RMS diameter at a field height (image side)."""

    height_mm: float
    spot_um: float


class OpticalTube(BasePart):
    """A telescope tube or camera lens.

    `back_focus_mm` is the distance from the camera-side connection to the focal plane at infinity with the
    drawtube where its owner usually has it; `focuser_in_mm` and `focuser_out_mm` are the travel left from
    there.
    """

    kind: Literal["optical_tube"] = "optical_tube"
    kind_words: ClassVar[str] = "optical tube"
    kind_purpose: ClassVar[str] = (
        "The telescope itself: it sets focal length, focal ratio and the size of the lit circle."
    )
    on_path: ClassVar[bool] = True
    carrier_words: ClassVar[str] = "focuser"

    mass_kg: Measure | None = mass(200.0)
    design: Design | None = choice("Design", DESIGNS)
    aperture_mm: Measure | None = measure("Aperture", "length", 2000.0)
    focal_length_mm: Measure | None = measure("Focal length", "length", 20000.0)
    obstruction_mm: Measure | None = measure(
        "Central obstruction, diameter",
        "length",
        1500.0,
        above=False,
        help="0 for none. Or give the linear share below.",
    )
    obstruction_share: Measure | None = measure(
        "Central obstruction, linear share",
        "fraction",
        0.9,
        above=False,
        help="Diameter over aperture, like 33 %.",
    )
    spider_vanes: int | None = count("Spider vanes", 12, minimum=0, help="0 for none.")
    spider_thickness_mm: Measure | None = measure("Vane thickness", "length", 20.0)
    spider_angle_deg: Measure | None = measure(
        "Angle of the first vane",
        "angle",
        360.0,
        above=False,
        help="Seen from the sky, from the sensor's long side.",
    )
    spider_curved: bool | None = flag("Vanes are curved")
    clip_count: int | None = count(
        "Mirror clips", 12, minimum=0, help="That reach over the mirror's edge into the light; 0 for none."
    )
    clip_width_mm: Measure | None = measure("Width of a clip", "length", 200.0)
    clip_reach_mm: Measure | None = measure("A clip's reach over the edge", "length", 100.0)
    mask_mm: Measure | None = measure(
        "Opening of an aperture mask", "length", 2000.0, help="Only if one is worn: a ring before the tube."
    )
    strehl: Measure | None = measure(
        "Strehl ratio on the axis",
        "fraction",
        1.0,
        help="As its maker or a test says, like 0.95.",
        group="Image",
    )
    glass_pair: GlassPair | None = choice(
        "Glasses", GLASS_PAIRS, "Of an achromat: they say how far apart its colours focus.", group="Image"
    )
    colour_shift_mm: Measure | None = measure(
        "Focus shift over the visible",
        "length",
        50.0,
        above=False,
        help="Of a lens: from its nearest to its furthest focus over 400 to 700 nm, as maker or test say.",
        group="Image",
    )
    field_radius_mm: Measure | None = measure(
        "Radius of its curved field",
        "length",
        100000.0,
        help="Of the tube by itself; empty: by its design.",
        group="Image",
    )
    camera_side: Connection | None = connection("Camera-side connection", "What the tube offers at its back.")
    image_circle_mm: Measure | None = measure(
        "Image circle", "length", 200.0, help="Of the bare tube, unless you say so below.", group="Image"
    )
    circle_behind_corrector: bool | None = flag(
        "That circle is quoted behind its corrector", "Then no factor is applied to it.", group="Image"
    )
    image_circle_light: Measure | None = measure(
        "Light at the circle's edge",
        "fraction",
        1.0,
        help="The illumination the circle is quoted at, like 60 %.",
        group="Image",
    )
    back_focus_mm: Measure | None = measure(
        "Focal plane behind the camera-side connection",
        "length",
        1000.0,
        help="With the drawtube where you usually have it, or fully in.",
        group="Focus",
    )
    focuser_in_mm: Measure | None = measure(
        "Travel inwards from there",
        "length",
        500.0,
        above=False,
        help="0 if that is fully in.",
        group="Focus",
    )
    focuser_out_mm: Measure | None = measure(
        "Travel outwards from there", "length", 500.0, above=False, group="Focus"
    )
    focuser_capacity_kg: Measure | None = capacity("Focuser capacity", group="Focus")
    drawtube_sag_arcmin: Measure | None = measure(
        "Drawtube's sag, in arcminutes per N m",
        "plain",
        600.0,
        above=False,
        help="How far it tilts under a load, as a test or its owner measured it.",
        group="Focus",
    )
    drawtube_bore_mm: Measure | None = measure("Drawtube bore", "length", 300.0, group="Focus")
    focuser_step_um: Measure | None = measure(
        "One step of its focus motor", "pixel", 100.0, help="How far it moves the drawtube.", group="Focus"
    )
    primary_focal_ratio: Measure | None = measure(
        "Primary's focal ratio", "ratio", 20.0, help="For two-mirror tubes.", group="Focus"
    )
    mirror_separation_mm: Measure | None = measure(
        "Mirror separation",
        "length",
        5000.0,
        help="For two-mirror tubes that focus by the primary.",
        group="Focus",
    )
    secondary_mm: Measure | None = measure(
        "Secondary mirror, clear diameter",
        "length",
        1500.0,
        help="Of a Newtonian's diagonal the minor axis.",
        group="Focus",
    )
    diagonal_to_focus_mm: Measure | None = measure(
        "Diagonal to focus",
        "length",
        2000.0,
        help="A Newtonian's: from the tube's axis out to the focal plane.",
        group="Focus",
    )
    diagonal_offset_mm: Measure | None = measure(
        "Diagonal's offset",
        "length",
        100.0,
        above=False,
        help="Towards the primary, and as much away from the focuser; 0 for none.",
        group="Focus",
    )
    baffle_mm: Measure | None = measure("Clear diameter of a baffle's end", "length", 500.0, group="Focus")
    baffle_to_focus_mm: Measure | None = measure(
        "Baffle's end before the focus", "length", 5000.0, group="Focus"
    )
    exit_pupil_mm: Measure | None = measure(
        "Exit pupil before the focal plane",
        "length",
        100000.0,
        help="Of lenses of several groups, where their maker gives it.",
        group="Focus",
    )
    tube_length_mm: Measure | None = measure("Tube length", "length", 6000.0, group="Body")
    outer_diameter_mm: Measure | None = measure("Outer diameter", "length", 2000.0, group="Body")
    tube_material: TubeMaterial | None = choice("Tube material", MATERIALS, group="Body")
    balance_point_mm: Measure | None = measure(
        "Balance point from the front", "length", 6000.0, help="Of the bare tube.", group="Body"
    )
    mass_with_rings_kg: Measure | None = measure("Mass with rings", "mass", 250.0, group="Body")
    collimation_adjustable: bool | None = flag("Collimation adjustable by its owner", group="Body")
    spot_sizes: tuple[SpotRow, ...] = table(
        "Spot sizes",
        (
            Column("height_mm", "Field height", "length", 0.0, 100.0),
            Column("spot_um", "RMS spot diameter", "spot", 0.0, 1000.0),
        ),
        "Where the maker gives them: one line per field height.",
    )

    @model_validator(mode="after")
    def _obstruction_once(self) -> Self:
        if self.obstruction_mm is not None and self.obstruction_share is not None:
            raise ValueError(
                "obstruction_share: give the central obstruction once, as a diameter or as a share"
            )
        if (
            self.obstruction_mm
            and self.aperture_mm
            and self.obstruction_mm.nominal >= self.aperture_mm.nominal
        ):
            raise ValueError("obstruction_mm: the central obstruction must be smaller than the aperture")
        return self

    @property
    def on_saddle(self) -> tuple[Measure | None, str]:
        """With its rings where its maker says what that weighs, and no lighter than without."""
        ringed, bare = self.mass_with_rings_kg, self.mass_kg
        if ringed is None or (bare is not None and bare.nominal >= ringed.nominal):
            return bare, "mass"
        return ringed, "mass with rings"

    @property
    def focal_ratio(self) -> float | None:
        """Focal length over aperture, None while either is unknown, or the aperture is 0 or next to it."""
        if self.aperture_mm is None or self.focal_length_mm is None or self.aperture_mm.nominal <= 0:
            return None
        ratio = self.focal_length_mm.nominal / self.aperture_mm.nominal
        return ratio if isfinite(ratio) else None

    @property
    def linear_obstruction(self) -> float | None:
        """Obstruction diameter over aperture, None while unknown, or the aperture is 0."""
        if self.obstruction_share is not None:
            return self.obstruction_share.nominal
        if self.obstruction_mm is None or self.aperture_mm is None or self.aperture_mm.nominal <= 0:
            return None
        return self.obstruction_mm.nominal / self.aperture_mm.nominal


class BackFocusRow(Frozen):
    """One line of a corrector's table: the back focus it asks for behind a tube of this focal length."""

    tube_focal_length_mm: float
    back_focus_mm: float


CORRECTOR_TYPES: tuple[tuple[str, str], ...] = (
    ("flattener", "flattener"),
    ("reducer", "reducer"),
    ("coma_corrector", "coma corrector"),
    ("extender", "Barlow or extender"),
)


LONGEST_GLASS_MM = 60.0
"""Between shoulder and first lens of no usual corrector lies more (common practice, no source)."""


class Corrector(PathPart):
    """A flattener, reducer, coma corrector or extender.

    `reference_mm` is how far the reference shoulder lies from the camera-side face, towards the sky (0: the
    face).
    """

    kind: Literal["corrector"] = "corrector"
    kind_words: ClassVar[str] = "corrector"
    kind_purpose: ClassVar[str] = "Flattens or reduces the field; asks for the sensor at its back focus."

    mass_kg: Measure | None = mass(10.0)
    corrector_type: Literal["flattener", "reducer", "coma_corrector", "extender"] | None = choice(
        "What it does", CORRECTOR_TYPES
    )
    factor: Measure | None = measure(
        "Factor",
        "ratio",
        10.0,
        # The smallest that server.optics takes: a typing slip such as 0.008 must not reach it.
        minimum=0.05,
        above=False,
        help="Of the focal length: 0.8 for a reducer, 1 for a flattener, 2 for an extender.",
    )
    back_focus_mm: Measure | None = measure(
        "Back focus",
        "length",
        500.0,
        help="From the reference shoulder to the sensor, in air, like 55 ± 0.5 mm.",
    )
    back_focus_table: tuple[BackFocusRow, ...] = table(
        "Back focus by tube",
        (
            Column("tube_focal_length_mm", "Tube focal length", "length", 1.0, 20000.0),
            Column("back_focus_mm", "Back focus", "length", 0.1, 500.0),
        ),
        "Where it depends on the tube: one line per focal length. It wins over the single value.",
    )
    reference_mm: Measure | None = measure(
        "Reference shoulder before the camera-side face",
        "length",
        300.0,
        above=False,
        help="Empty or 0: the back focus counts from the camera-side face.",
    )
    free_distance: bool | None = flag(
        "Works at other distances too",
        "It then only changes its factor, as an extender does; a flattener's or a coma corrector's "
        "correction hangs on "
        "its distance.",
    )
    principal_mm: Measure | None = measure(
        "Rear principal plane before the reference shoulder",
        "length",
        300.0,
        above=False,
        help="Where its maker gives it. It decides how much light the rings behind it take.",
    )
    principal_front_mm: Measure | None = measure(
        "Front principal plane before the reference shoulder", "length", 300.0, above=False
    )
    in_travel_mm: Measure | None = measure(
        "Focus moves in by",
        "length",
        500.0,
        help="By so much further in the focuser stands with it than without: it tells where its glass works.",
    )
    corrected_circle_mm: Measure | None = measure(
        "Corrected circle", "length", 200.0, help="Behind it, at the sensor. It counts before the tube's own."
    )
    for_designs: tuple[Design, ...] = several("Meant for", DESIGNS)
    fastest_ratio: Measure | None = measure("Fastest focal ratio meant for", "ratio", 50.0)
    slowest_ratio: Measure | None = measure("Slowest focal ratio meant for", "ratio", 50.0)
    glass_length_mm: Measure | None = measure("Glass length", "length", 300.0)
    spot_sizes: tuple[SpotRow, ...] = table(
        "Spot sizes behind it",
        (
            Column("height_mm", "Field height", "length", 0.0, 100.0),
            Column("spot_um", "RMS spot diameter", "spot", 0.0, 1000.0),
        ),
        "Where the maker gives them for a tube of this kind: one line per field height.",
    )

    @model_validator(mode="after")
    def _rows_rise(self) -> Self:
        lengths = [row.tube_focal_length_mm for row in self.back_focus_table]
        if any(later <= earlier for earlier, later in pairwise(lengths)):
            raise ValueError("back_focus_table: list the focal lengths once each, from short to long")
        return self

    @property
    def is_free(self) -> bool:
        """Whether its distance only sets its factor: said so, or an extender of which nothing else is
        said.
        """
        return self.corrector_type == "extender" if self.free_distance is None else self.free_distance

    def plane_range_mm(self, asked_mm: float | None) -> tuple[float, float]:
        """How far, mm, its rear principal plane stands before the reference shoulder, at least and at most.

        asked_mm: the back focus at which its factor holds. What is not typed nor measured lies within its
        glass, else within its body, else within what such correctors are (`LONGEST_GLASS_MM`).
        """
        if self.principal_mm is not None:
            return self.principal_mm.nominal, self.principal_mm.nominal
        factor = nominal(self.factor)
        if self.in_travel_mm is not None and asked_mm and factor and abs(1.0 - factor) > 1e-6:
            # in-travel = d / m - d, d from the plane to the sensor.
            found = max(0.0, self.in_travel_mm.nominal * factor / abs(1.0 - factor) - asked_mm)
            return found, found
        long = nominal(self.glass_length_mm) or nominal(self.length_mm) or LONGEST_GLASS_MM
        return 0.0, long

    @property
    def planes_apart_mm(self) -> float:
        """How much further out its front principal plane stands than its rear one; 0 where nobody says."""
        if self.principal_mm is None or self.principal_front_mm is None:
            return 0.0
        return self.principal_front_mm.nominal - self.principal_mm.nominal

    def asked_back_focus_mm(self, tube_focal_length_mm: float | None) -> float | None:
        """The back focus asked for behind a tube of this focal length, in mm.

        The table is interpolated linearly inside its range and never beyond it; without a table the single
        value holds. None where neither says.
        """
        rows = self.back_focus_table
        if not rows:
            return nominal(self.back_focus_mm)
        if tube_focal_length_mm is None:
            return None
        for low, high in pairwise(rows):
            if low.tube_focal_length_mm <= tube_focal_length_mm <= high.tube_focal_length_mm:
                share = (tube_focal_length_mm - low.tube_focal_length_mm) / (
                    high.tube_focal_length_mm - low.tube_focal_length_mm
                )
                return low.back_focus_mm + share * (high.back_focus_mm - low.back_focus_mm)
        if len(rows) == 1 and rows[0].tube_focal_length_mm == tube_focal_length_mm:
            return rows[0].back_focus_mm
        return None
