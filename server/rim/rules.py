"""What a rig is judged by, as the texts of its form, and back."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from server.domain.errors import FieldErrors
from server.domain.fields import FieldSpec
from server.domain.measure import Measure
from server.domain.rig import Rules
from server.rim.cells import read_cells, write_cell

RULE_SPECS: tuple[FieldSpec, ...] = (
    FieldSpec(
        "seeing_arcsec",
        "Seeing, full width",
        "measure",
        "arcsec",
        0.3,
        20.0,
        help="Suburban air: 2 to 4 arcsec (common practice).",
    ),
    FieldSpec(
        "guiding_arcsec",
        "Guiding error, total RMS",
        "measure",
        "arcsec",
        0.0,
        20.0,
        help="Both axes together; 0.5 to 1 arcsec is usual (common practice).",
    ),
    FieldSpec(
        "wavelength_nm",
        "Light",
        "measure",
        "wavelength",
        300.0,
        1100.0,
        help="For diffraction and depth of focus.",
    ),
    FieldSpec(
        "spacing_mm",
        "Spacing error allowed",
        "measure",
        "length",
        0.01,
        5.0,
        help="Where the corrector's own figure has no tolerance.",
    ),
    FieldSpec(
        "corner_light",
        "Light the corner should keep",
        "measure",
        "fraction",
        0.05,
        1.0,
        help="Of the centre's, like 80 %.",
    ),
    FieldSpec(
        "payload_share",
        "Share of the mount's rating for imaging",
        "measure",
        "fraction",
        0.1,
        1.0,
        help="Half to two thirds is usual (common practice).",
    ),
    FieldSpec(
        "pixels_least",
        "Pixels across the seeing, at least",
        "measure",
        "plain",
        0.5,
        20.0,
        help="Fewer is coarse. 2 is usual (common practice).",
    ),
    FieldSpec(
        "pixels_most",
        "Pixels across the seeing, at most",
        "measure",
        "plain",
        0.5,
        20.0,
        help="More shows nothing that the air lets through. 3 is usual (common practice).",
    ),
    FieldSpec(
        "ratio_per_um",
        "Slowest focal ratio per µm of pixel",
        "measure",
        "plain",
        0.2,
        20.0,
        help="1.5 asks for f/6 or faster with pixels of 4 µm (common practice).",
    ),
    FieldSpec(
        "joint_arcmin",
        "One joint out of square by, in arcminutes",
        "measure",
        "plain",
        0.0,
        120.0,
        help="Faced shoulders keep to about 1 (common practice).",
    ),
    FieldSpec(
        "night_fall_k",
        "The night's fall in temperature",
        "measure",
        "temperature_difference",
        0.0,
        60.0,
        help="From focusing to dawn: about 10 K on a clear night (common practice).",
    ),
    FieldSpec(
        "galactic_latitude_deg",
        "Galactic latitude of the target",
        "measure",
        "angle",
        0.0,
        90.0,
        help="For the guide stars: 0 in the Milky Way, 90 at its poles.",
    ),
)


def rule_texts(rules: Rules) -> dict[str, str]:
    """Return what the form shows."""
    return dict(_texts(rules))


# They stay while a train is changed.
@lru_cache(256)
def _texts(rules: Rules) -> tuple[tuple[str, str], ...]:
    return tuple((one.name, write_cell(one, Measure(nominal=getattr(rules, one.name)))) for one in RULE_SPECS)


def read_rules(texts: Mapping[str, str]) -> Rules:
    """Return the rules that the texts say; an empty field goes back to its usual value.

    Raises FieldErrors.
    """
    read, errors = read_cells(RULE_SPECS, texts, "rig", figures=True)
    values = {name: one for name, one in read.items() if one is not None}
    least = values.get("pixels_least", Rules().pixels_least)
    most = values.get("pixels_most", Rules().pixels_most)
    if least > most and not errors:
        errors["pixels_most"] = (
            f"{most:g} at most is fewer than the {least:g} asked for at least. Raise this or lower the other."
        )
    if errors:
        raise FieldErrors(errors)
    return Rules(**values)
