"""What one wants of the Scout, as the texts of its form, and back."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import ValidationError

from server.domain.fields import FieldSpec
from server.domain.refusals import sentence_of
from server.domain.scout.needs import FRONT_MEASURES, USUAL_FRONT, MeasureName, Needs
from server.rim.cells import read_cells, write_cell
from server.rim.wording import as_typed

NEED_SPECS: tuple[FieldSpec, ...] = (
    FieldSpec("budget", "Budget, all that is to be bought", "measure", "plain", 0.0, 10_000_000.0),
    FieldSpec("currency", "In", "text", maximum=3, help="Like EUR. Prices in others count as not known."),
    FieldSpec("lift_kg", "Heaviest piece that I lift", "measure", "mass", 0.0, 200.0, above=True),
    FieldSpec(
        "payload_share",
        "Share of the mount's rating",
        "measure",
        "fraction",
        0.05,
        1.0,
        help="Half to two thirds is usual (common practice).",
    ),
    FieldSpec(
        "hours",
        "Hours for all targets together",
        "measure",
        "plain",
        0.0,
        10_000.0,
        above=True,
        help="Each to a signal to noise of 10 per square arcsecond, 50° high; of a mosaic all its panels.",
    ),
    FieldSpec(
        "corner_arcsec",
        "Largest star in the corner",
        "measure",
        "arcsec",
        0.0,
        120.0,
        above=True,
        help="Its RMS diameter by optics alone.",
    ),
    FieldSpec(
        "corner_light", "Least light in the corner", "measure", "fraction", 0.01, 1.0, help="Of the centre's."
    ),
    FieldSpec("fill_least", "A target fills at least", "measure", "fraction", 0.01, 1.0),
    FieldSpec("fill_most", "And at most", "measure", "fraction", 0.02, 10.0),
    FieldSpec(
        "guiding",
        "Guided by",
        "choice",
        choices=(("off_axis_guider", "off-axis guider"), ("guide_scope", "guide scope")),
        help="It is counted with each rig; an off-axis guider needs room before the camera.",
    ),
    FieldSpec(
        "filters", "Room for a filter wheel or drawer", "flag", help="Yes: leaves out what has too little."
    ),
    FieldSpec("collimate", "I will collimate", "flag", help="No: leaves out what asks for it now and then."),
    FieldSpec("spikes", "Spikes do not bother me", "flag", help="No: leaves out what draws them."),
)
WITH_CODE = re.compile(r"([\d.,\s]+)([A-Za-z]{3})")
"""An amount of money with its currency's code behind it."""
LIKED = tuple(spec.name for spec in NEED_SPECS if spec.name != "currency")
"""Needs that one may insist on or not."""
MEASURE_WORDS: dict[MeasureName, str] = {
    "cost": "cost",
    "hours": "hours",
    "load": "mass on the mount",
    "lift": "heaviest piece",
    "corner": "star in the corner",
    "star": "star's width",
    "share": "share of the mount's rating",
    "light": "light in the corner",
    "fill_least": "least fill",
    "fill_most": "most fill",
    "corner_px": "star in the corner",
    "room": "room before the camera",
    "power": "power",
}


def need_texts(needs: Needs) -> dict[str, str]:
    """Return what the form shows."""
    found = {}
    for spec in NEED_SPECS:
        value = getattr(needs, spec.name)
        measure = spec.shape == "measure" and value is not None
        found[spec.name] = as_typed(value, spec.dimension) if measure else write_cell(spec, value)
    return found


def read_needs(
    texts: Mapping[str, str], likes: Sequence[str], front: Sequence[str], more: Mapping[str, Any]
) -> tuple[Needs, dict[str, str]]:
    """Return the needs that can be read, and for each other field a sentence; an empty one is left open.

    likes: names of what is not insisted on; front: measures; more: what is chosen from lists.
    """
    budget = WITH_CODE.fullmatch(texts.get("budget", "").strip())
    if budget is not None:
        texts = {**texts, "budget": budget[1], "currency": budget[2]}
    values, errors = read_cells(NEED_SPECS, texts, "rig", figures=True)
    values["currency"] = str(values.get("currency") or "EUR").upper()
    chosen = tuple(name for name in FRONT_MEASURES if name in front)
    values |= {"like": tuple(name for name in LIKED if name in likes), "front": chosen or USUAL_FRONT, **more}
    least, most = values.get("fill_least"), values.get("fill_most")
    if least is not None and most is not None and most <= least:
        errors["fill_most"] = "At most must be more than at least. Swap them."
        values["fill_most"] = None
    try:
        return Needs.model_validate(values), errors
    except ValidationError as refused:
        for detail in refused.errors(include_url=False):
            name = str(detail["loc"][0]) if detail["loc"] else "budget"
            errors.setdefault(name, sentence_of(detail))
            values.pop(name, None)
        return Needs.model_validate(values), errors
