"""Filters: the glass that picks the light, and the cells that it comes in."""

from __future__ import annotations

from typing import ClassVar, Literal

from server.domain.fields import choice, flag, glass_index, glass_thickness, mass, measure
from server.domain.measure import Measure
from server.domain.parts.base import PathPart

FORMATS: tuple[tuple[str, str], ...] = (
    ("mounted_1_25", "mounted, 1.25 in"),
    ("mounted_2", "mounted, 2 in"),
    ("round_31", "unmounted, 31 mm round"),
    ("round_36", "unmounted, 36 mm round"),
    ("round_50", "unmounted, 50 mm round"),
    ("square_50", "unmounted, 50 mm square"),
    ("square_65", "unmounted, 65 mm square"),
    ("other", "another format"),
)
FilterFormat = Literal[
    "mounted_1_25", "mounted_2", "round_31", "round_36", "round_50", "square_50", "square_65", "other"
]


class Filter(PathPart):
    """A filter, in its own cell or unmounted for a wheel."""

    kind: Literal["filter"] = "filter"
    kind_words: ClassVar[str] = "filter"
    kind_purpose: ClassVar[str] = (
        "Its glass lengthens the distance a corrector asks for; its opening may clip the corners."
    )

    mass_kg: Measure | None = mass(5.0)
    format: FilterFormat | None = choice("Format", FORMATS)
    thickness_mm: Measure | None = glass_thickness()
    refractive_index: Measure | None = glass_index()
    broadband: bool | None = flag("Broadband")
    band_centre_nm: Measure | None = measure("Band centre", "wavelength", 3000.0)
    band_width_nm: Measure | None = measure("Band width", "wavelength", 2000.0)
    effective_index: Measure | None = measure(
        "Effective index of its layers",
        "plain",
        3.0,
        minimum=1.0,
        above=False,
        help="Of a narrow band: how little it minds slanting light, where its maker says.",
    )
    made_for_ratio: Measure | None = measure(
        "Made for a focal ratio",
        "ratio",
        50.0,
        minimum=0.5,
        above=False,
        help="Of a narrow band shifted for a fast beam, like 2 for f/2.",
    )
    peak_transmission: Measure | None = measure("Peak transmission", "fraction", 1.0)
    solar: bool | None = flag(
        "Made for the Sun", "Only a certified full-aperture filter before the tube is safe for the Sun."
    )

    @property
    def unmounted(self) -> bool:
        """Whether it has no cell to hold it in a train: it goes into a wheel or a drawer."""
        return (
            self.sky_side is None
            and self.camera_side is None
            and (self.format or "").startswith(("round_", "square_"))
        )

    @property
    def slips_over_tube(self) -> bool:
        """Whether it goes over the front of the tube: made for the Sun, with no thread and in no cell.

        What has a thread or goes into a wheel sits behind the objective, whatever it is made for.
        """
        return (
            bool(self.solar)
            and self.sky_side is None
            and self.camera_side is None
            and self.format in (None, "other")
        )
