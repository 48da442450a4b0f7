"""What is asked of a rig's stars, as the texts of its form, and back."""

from __future__ import annotations

from collections.abc import Mapping

from server.domain.fields import FieldSpec
from server.domain.measure import Measure
from server.domain.stars.wishes import StarWishes
from server.rim.cells import read_cells, write_cell

WISH_SPECS: tuple[FieldSpec, ...] = (
    FieldSpec(
        "focus_um",
        "Sensor behind the focus",
        "measure",
        "spot",
        -2000.0,
        2000.0,
        help="Away from the sky; below 0 towards it.",
    ),
    FieldSpec(
        "focus_at",
        "The focus is that of",
        "choice",
        choices=(("axis", "the middle of the field"), ("compromise", "the whole sensor, in compromise")),
    ),
    FieldSpec(
        "cooled_k",
        "Cooled since focusing by",
        "measure",
        "temperature_difference",
        -40.0,
        40.0,
        help="By the tube's own drift, where its material and length are known.",
    ),
    FieldSpec(
        "spacing_mm",
        "Sensor too far behind the corrector",
        "measure",
        "length",
        -20.0,
        20.0,
        help="Empty: as the train adds up. Below 0: too close.",
    ),
    FieldSpec("tilt_arcmin", "Tilt of the sensor", "measure", "plain", 0.0, 120.0, help="In arcminutes."),
    FieldSpec(
        "tilt_deg",
        "The side that stands back",
        "measure",
        "angle",
        0.0,
        360.0,
        help="0 the right one, 90 the upper one.",
    ),
    FieldSpec(
        "collimation_mm",
        "Out of collimation by",
        "measure",
        "length",
        0.0,
        20.0,
        help="A Newtonian's axis at the sensor; of two mirrors the secondary off the axis.",
    ),
    FieldSpec(
        "curvature_um",
        "Corners focus further out by",
        "measure",
        "spot",
        -2000.0,
        2000.0,
        help="Than the middle. Empty: as the parts draw it.",
    ),
    FieldSpec(
        "astigmatism_um",
        "Astigmatism in the corner",
        "measure",
        "spot",
        -2000.0,
        2000.0,
        help="Half the gap of the line foci; above 0: radial lines too far out. Empty: as the parts draw it.",
    ),
    FieldSpec("drift_arcsec", "All stars drawn out by", "measure", "arcsec", 0.0, 60.0, help="Drift, wind."),
    FieldSpec("drift_deg", "Along", "measure", "angle", 0.0, 360.0, help="From the right, anticlockwise."),
    FieldSpec(
        "seeing_arcsec",
        "Seeing, full width",
        "measure",
        "arcsec",
        0.3,
        20.0,
        help="Empty: the rig's own; of several, the first one's.",
    ),
    FieldSpec(
        "guiding_arcsec",
        "Guiding error, total RMS",
        "measure",
        "arcsec",
        0.0,
        20.0,
        help="Both axes together. Empty: the rig's own; of several, the first one's.",
    ),
    FieldSpec("magnitude", "Bright star's magnitude", "measure", "plain", -2.0, 20.0),
    FieldSpec("exposure_s", "Exposure", "measure", "time", 0.0, 7200.0, above=True),
)


def wish_texts(wishes: StarWishes) -> dict[str, str]:
    """Return what the form shows."""
    found = {}
    for spec in WISH_SPECS:
        value = getattr(wishes, spec.name)
        if value is None:
            found[spec.name] = ""
        elif spec.shape == "choice":
            found[spec.name] = str(value)
        else:
            found[spec.name] = write_cell(spec, Measure(nominal=value))
    return found


def read_wishes(texts: Mapping[str, str]) -> tuple[StarWishes, dict[str, str]]:
    """Return the wishes that can be read, and for each other field a sentence; an empty one is as usual."""
    read, errors = read_cells(WISH_SPECS, texts, "rig", figures=True)
    values = {name: one for name, one in read.items() if one is not None}
    return StarWishes.model_validate(values), errors
