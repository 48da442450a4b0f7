"""What is looked for in the catalogue of targets, as the texts of its form."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from server.domain.fields import FieldSpec
from server.domain.sky.finding import TargetQuery
from server.rim.cells import read_cells
from server.rim.constellations import CONSTELLATIONS
from server.rim.sky_words import KIND_WORDS

MONTH_NAMES = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December",
)  # fmt: skip
QUERY_SPECS: tuple[FieldSpec, ...] = (
    FieldSpec(
        "kind",
        "Kind",
        "choice",
        choices=(
            ("galaxies", "galaxies"),
            ("nebulae", "nebulae"),
            ("clusters", "clusters"),
            *((kind, f"only: {words}") for kind, words in KIND_WORDS.items()),
        ),
    ),
    FieldSpec(
        "month",
        "Well placed in",
        "choice",
        choices=tuple((str(number + 1), name) for number, name in enumerate(MONTH_NAMES)),
    ),
    FieldSpec(
        "constellation",
        "Constellation",
        "choice",
        choices=tuple(sorted(CONSTELLATIONS.items(), key=lambda one: one[1])),
    ),
    FieldSpec("least_arcmin", "At least so large", "measure", "plain", 0.0, 3600.0, help="Arcminutes."),
    FieldSpec("most_arcmin", "At most so large", "measure", "plain", 0.0, 3600.0, help="Arcminutes."),
    FieldSpec(
        "faintest_mag", "Not fainter than", "measure", "plain", -5.0, 25.0, help="Magnitude of the whole."
    ),
    FieldSpec(
        "faintest_surface",
        "Surface not fainter than",
        "measure",
        "plain",
        10.0,
        32.0,
        help="B magnitudes per square arcsecond; galaxies have it.",
    ),
    FieldSpec(
        "order",
        "First comes",
        "choice",
        choices=(
            ("hours", "most hours in the month"),
            ("size", "the largest"),
            ("brightness", "the brightest"),
            ("name", "by name"),
        ),
    ),
)


def read_query(
    texts: Mapping[str, str], text: str, year: int, offset: int, limit: int
) -> tuple[TargetQuery, dict[str, str]]:
    """Return the search as far as it can be read, and for each other field a sentence."""
    read, errors = read_cells(QUERY_SPECS, texts, "sky", figures=True)
    values: dict[str, Any] = {name: one for name, one in read.items() if one is not None}
    least, most = values.get("least_arcmin"), values.get("most_arcmin")
    if least is not None and most is not None and most < least:
        errors["most_arcmin"] = f"At most {most:g}' is less than at least {least:g}'. Swap them."
        del values["most_arcmin"]
    month = int(values.pop("month", 0))
    query = TargetQuery(text=text, month=month, year=year, offset=offset, limit=limit, **values)
    return query, errors
