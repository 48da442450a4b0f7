"""What a rig's owner says of its load, as the texts of the load page's forms, and back."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from pydantic import ValidationError

from server.domain.errors import FieldErrors
from server.domain.fields import FieldSpec
from server.domain.load.plan import MOST_LIFTS, Cable, CaseUse, Lift, LoadPlan
from server.domain.measure import Measure
from server.rim.cells import read_cells, write_cell

LOAD_SPECS: tuple[FieldSpec, ...] = (
    FieldSpec(
        "balance_mm",
        "Measured balance point",
        "measure",
        "length",
        0.0,
        20000.0,
        help="Of the whole loaded tube, from its front. It wins over what is worked out.",
    ),
    FieldSpec(
        "clamp_mm",
        "Middle of the saddle's clamp",
        "measure",
        "length",
        0.0,
        20000.0,
        help="From the front of the tube.",
    ),
    FieldSpec(
        "tube_above_saddle_mm",
        "Tube's axis above the saddle",
        "measure",
        "length",
        0.0,
        2000.0,
        help="With rings and plate.",
    ),
    FieldSpec(
        "drawtube_out_mm",
        "Drawtube racked out by",
        "measure",
        "length",
        -500.0,
        500.0,
        help="From where you usually have it.",
    ),
    FieldSpec(
        "focuser_at_mm",
        "Focuser at the tube's side",
        "measure",
        "length",
        0.0,
        20000.0,
        help="From the front of the tube; empty where the train hangs behind it.",
    ),
    FieldSpec(
        "lift_limit_kg",
        "The most that you lift alone",
        "measure",
        "mass",
        0.0,
        200.0,
        above=True,
        help="Many keep a tube below about 9 kg, 20 lb (common practice, no source).",
    ),
    FieldSpec(
        "night_hours",
        "Length of the night",
        "measure",
        "plain",
        0.0,
        24.0,
        above=True,
        help="In hours; empty: from the latitude and the date.",
    ),
    FieldSpec(
        "latitude_deg", "Latitude of the site", "measure", "angle", -90.0, 90.0, help="Below 0 in the south."
    ),
    FieldSpec("night", "Date of the evening", "text", maximum=10, help="As 2026-11-26."),
    FieldSpec("low_c", "Lowest temperature", "measure", "temperature", -60.0, 50.0, help="Like -5 °C."),
    FieldSpec("cooling_k", "Camera cooled below the air by", "measure", "temperature_difference", 0.0, 100.0),
    FieldSpec("sun", "The Sun is the target", "flag"),
    FieldSpec("solar_filter", "A certified filter is fixed before the whole aperture", "flag"),
)

LIFT_SPECS: tuple[FieldSpec, ...] = (
    FieldSpec("name", "What you lift", "text", maximum=80, help="Like: tube onto the saddle."),
    FieldSpec("from_height_mm", "Hands' height where it is taken up", "measure", "length", 0.0, 3000.0),
    FieldSpec("to_height_mm", "Hands' height where it is set down", "measure", "length", 0.0, 3000.0),
    FieldSpec(
        "reach_mm",
        "Hands before your ankles",
        "measure",
        "length",
        0.0,
        2000.0,
        help="Level, from between the ankles to between the hands, like 40 cm.",
    ),
    FieldSpec(
        "to_reach_mm",
        "The same where it is set down",
        "measure",
        "length",
        0.0,
        2000.0,
        help="Empty: as at the start.",
    ),
    FieldSpec("twist_deg", "Turned aside by", "measure", "angle", 0.0, 180.0),
    FieldSpec(
        "coupling",
        "How the hands hold it",
        "choice",
        choices=(
            ("good", "good: handles that fit"),
            ("fair", "fair: fingers under an edge"),
            ("poor", "poor: smooth, bulky or sagging"),
        ),
    ),
    FieldSpec(
        "per_minute", "Lifts in a minute", "measure", "plain", 0.0, 60.0, help="Empty: once in a while."
    ),
    FieldSpec(
        "hours",
        "For how long",
        "measure",
        "plain",
        0.0,
        8.0,
        above=True,
        help="In hours, with its like; empty: an hour at most, and then a rest.",
    ),
    FieldSpec(
        "carry_mm", "Carried over", "measure", "length", 0.0, 10_000_000.0, help="From the car, like 40 m."
    ),
    FieldSpec("trips", "Trips", "count", minimum=1, maximum=99),
    FieldSpec("people", "People who lift it together", "count", minimum=1, maximum=8),
)


def load_texts(plan: LoadPlan) -> dict[str, str]:
    """Return what the form shows."""
    found = {}
    for spec in LOAD_SPECS:
        value = getattr(plan, spec.name)
        if spec.name == "night":
            found[spec.name] = "" if value is None else value.isoformat()
        elif spec.shape == "flag":
            found[spec.name] = "yes" if value else "no"
        else:
            found[spec.name] = "" if value is None else write_cell(spec, Measure(nominal=value))
    return found


def read_load(plan: LoadPlan, texts: Mapping[str, str]) -> LoadPlan:
    """Return the plan with what the form says. Raises FieldErrors."""
    read, errors = _read(LOAD_SPECS, texts)
    try:
        read["night"] = date.fromisoformat(read["night"]) if read.get("night") else None
    except ValueError:
        errors["night"] = f"“{read['night']}” is no date. Type it as year, month, day: 2026-11-26."
    if errors:
        raise FieldErrors(errors)
    flags = {name: bool(read[name]) for name in ("sun", "solar_filter")}
    return plan.model_copy(update={**read, **flags})


def with_lift(plan: LoadPlan, texts: Mapping[str, str], parts: Sequence[int]) -> LoadPlan:
    """Return the plan with one lift more. Raises FieldErrors."""
    read, errors = _read(LIFT_SPECS, texts)
    if not parts:
        errors["parts"] = "Tick what goes together in this lift."
    if not read.get("name"):
        errors.setdefault("name", "Say what you lift, such as: tube onto the saddle.")
    if len(plan.lifts) >= MOST_LIFTS:
        errors["name"] = f"There are {MOST_LIFTS} lifts already: take one out first."
    if errors:
        raise FieldErrors(errors)
    given = {name: value for name, value in read.items() if value is not None}
    try:
        lift = Lift.model_validate({**given, "parts": tuple(parts)})
    except ValidationError as error:
        raise FieldErrors({"name": "This lift cannot be kept: check its figures."}) from error
    return plan.model_copy(update={"lifts": (*plan.lifts, lift)})


LEAD_SPECS: tuple[FieldSpec, ...] = (
    FieldSpec("wire", "Wire", "text", maximum=20, help="Like 18 AWG, or 1.5 mm2 of copper."),
    FieldSpec(
        "length_mm", "Length, one way", "measure", "length", 0.0, 100_000.0, above=True, help="Like 3 m."
    ),
)
_WIRE = re.compile(r"(?P<size>\d+(?:[.,]\d+)?)\s*(?P<unit>awg|mm2|mm²|mm\^2)", re.IGNORECASE)


def with_lead(plan: LoadPlan, texts: Mapping[str, str], part_id: int | None) -> LoadPlan:
    """Return the plan with the lead of one device, in place of an earlier one. Raises FieldErrors."""
    read, errors = _read(LEAD_SPECS, texts)
    if part_id is None:
        errors["device"] = "Choose the device that the lead feeds."
    if read.get("length_mm") is None:
        errors.setdefault("length_mm", "Give the lead's length, one way, such as 3 m.")
    wire = _WIRE.fullmatch(str(read.get("wire") or "").strip())
    if wire is None:
        errors.setdefault("wire", "Give the wire's size as 18 AWG or as 1.5 mm2.")
    if errors or wire is None or part_id is None:
        raise FieldErrors(errors)
    size = float(wire["size"].replace(",", "."))
    given = {"gauge_awg": round(size)} if wire["unit"].lower() == "awg" else {"area_mm2": size}
    try:
        lead = Cable.model_validate({"part_id": part_id, "length_mm": read["length_mm"], **given})
    except ValidationError as error:
        words = "There is no such wire here: 0 to 40 AWG, or up to 200 mm²."
        raise FieldErrors({"wire": words}) from error
    others = tuple(one for one in plan.cables if one.part_id != part_id)
    return plan.model_copy(update={"cables": (*others, lead)})


def with_cases(plan: LoadPlan, cases: Mapping[int, str]) -> LoadPlan:
    """Return the plan with the case that each part travels in; "" for loose. Raises FieldErrors."""
    errors = {
        f"case-{number}": f"{len(name.strip())} characters are too many: 60 at most."
        for number, name in cases.items()
        if len(name.strip()) > 60
    }
    if errors:
        raise FieldErrors(errors)
    lines = tuple(
        CaseUse(part_id=number, case=name.strip()) for number, name in cases.items() if name.strip()
    )
    return plan.model_copy(update={"cases": lines})


def _read(specs: tuple[FieldSpec, ...], texts: Mapping[str, str]) -> tuple[dict[str, Any], dict[str, str]]:
    read, errors = read_cells(specs, texts, "rig")
    return {name: one.nominal if isinstance(one, Measure) else one for name, one in read.items()}, errors
