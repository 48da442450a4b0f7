"""What a rig's owner says of its load, as the texts of the load page's one form, and back.

Names of fields: those of LOAD_SPECS as they are, `spot-<part>-<field>`, `feed-<part>-by`,
`lift-<number>-<field>` with "new" for one lift more, and `lead-<field>`. A field that a form did not hold
changes nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from pydantic import ValidationError

from server.domain.errors import FieldErrors
from server.domain.fields import FieldSpec
from server.domain.load_plan import LOAD_WORDS, MOST_LIFTS, Cable, CaseUse, Feed, Lift, LoadPlan, Spot
from server.domain.measure import Measure
from server.domain.observer import UnitSystem
from server.domain.parts import Accessory, CataloguedPart
from server.domain.sky.when import FIRST_YEAR, LAST_YEAR
from server.rim.cells import CellError, figure_of, read_cell, write_cell
from server.rim.load_specs import (
    BAR_SPOT_SPECS,
    COUPLINGS,
    FEED_SPEC,
    LEAD_SPECS,
    LIFT_SPECS,
    LOAD_SPECS,
    SPOT_SPECS,
    WRITE_UNIT,
)
from server.rim.wording import write_field

NEW = "new"
DIGITS = 4
ROUNDING = 1e-9
MM_PER_M, MM_PER_CM = 1000.0, 10.0
FAR = ("carry_mm", "length_mm")
"""Fields of which people speak in metres or feet."""
_UNITS: dict[tuple[str, UnitSystem], tuple[tuple[str, float], ...]] = {
    ("length", "metric"): (("mm", 1.0), ("in", 25.4)),
    ("length", "imperial"): (("in", 25.4), ("mm", 1.0)),
    ("span", "metric"): (("cm", 10.0), ("in", 25.4), ("ft", 304.8)),
    ("span", "imperial"): (("in", 25.4), ("cm", 10.0)),
    ("way", "metric"): (("m", 1000.0), ("ft", 304.8)),
    ("way", "imperial"): (("ft", 304.8), ("m", 1000.0)),
    ("mass", "metric"): (("kg", 1.0), ("lb", 0.45359237)),
    ("mass", "imperial"): (("lb", 0.45359237), ("kg", 1.0)),
}
"""Units that a figure is written in, by what is typed of it (exact: NIST SP 811, appendix B.8)."""
_NAME = re.compile(r"(?:lift-(?:\d{1,3}|new)-|(?:spot|feed)-\d{1,16}-|lead-)?(?P<field>[a-z_]+)")
_WIRE = re.compile(r"(?P<size>\d+(?:[.,]\d+)?)\s*(?P<unit>awg|mm2|mm²|mm\^2)", re.IGNORECASE)


def lift_specs(key: str) -> tuple[FieldSpec, ...]:
    """The fields of the plan's lift of that number, or of one lift more."""
    return tuple(replace(spec, name=f"lift-{key}-{spec.name}") for spec in LIFT_SPECS)


def lead_specs() -> tuple[FieldSpec, ...]:
    """The fields of one device's lead."""
    return tuple(replace(spec, name=f"lead-{spec.name}") for spec in LEAD_SPECS)


def spot_specs(item: CataloguedPart) -> tuple[FieldSpec, ...]:
    """The fields of where a piece of gear sits on the tube, or on the counterweight bar."""
    on_bar = isinstance(item.part, Accessory) and item.part.place == "bar"
    return tuple(
        replace(spec, name=f"spot-{item.id}-{spec.name}", label=f"{item.name}: {spec.label}")
        for spec in (BAR_SPOT_SPECS if on_bar else SPOT_SPECS)
    )


def feed_spec(number: int, name: str, hosts: Iterable[tuple[int, str]]) -> FieldSpec:
    """The field of how a device is fed; hosts: numbers and names of those whose ports may feed it."""
    ports = tuple((str(host), f"by the port of {said}") for host, said in hosts if host != number)
    choices = (*FEED_SPEC.choices, *ports)
    return replace(FEED_SPEC, name=f"feed-{number}-by", label=f"{name}: {FEED_SPEC.label}", choices=choices)


def asks_unit(name: str) -> bool:
    """Whether a bare number is asked about in the field of that name."""
    return name.rpartition("-")[2] in WRITE_UNIT


# Writing


def plan_texts(plan: LoadPlan, units: UnitSystem) -> dict[str, str]:
    """Return what the form shows of a plan, by the fields' names; `read_plan` gives back the same plan."""
    found: dict[str, str] = {}
    for spec in LOAD_SPECS:
        value = getattr(plan, spec.name)
        if spec.name == "night":
            found[spec.name] = "" if value is None else value.isoformat()
        else:
            found[spec.name] = _text(spec, value, units)
    for spot in plan.spots:
        for spec in SPOT_SPECS:
            found[f"spot-{spot.part_id}-{spec.name}"] = _text(spec, getattr(spot, spec.name), units)
    for feed in plan.feeds:
        found[f"feed-{feed.part_id}-by"] = feed.by if feed.port_of is None else str(feed.port_of)
    for number, lift in enumerate(plan.lifts):
        for spec in LIFT_SPECS:
            found[f"lift-{number}-{spec.name}"] = _text(spec, getattr(lift, spec.name), units)
    return found


def _text(spec: FieldSpec, value: Any, units: UnitSystem) -> str:
    if value is None:
        return ""
    if spec.shape != "measure":
        return write_cell(spec, value)
    spoken = asks_unit(spec.name) and spec.dimension == "length"
    kind = "way" if spec.name in FAR else "span" if spoken else str(spec.dimension)
    # People who type 12 in find 12 in again: the first unit that says the figure in few digits, exactly.
    for unit, size in _UNITS.get((kind, units), ()):
        text = f"{value / size:.{DIGITS}g}"
        if "e" not in text and abs(float(text) * size - value) <= ROUNDING:
            return f"{text} {unit}"
    return write_cell(spec, Measure(nominal=value))


def understood(name: str, text: str) -> str:
    """Return what is understood of a field of the form; "" for no text, or where there is nothing to say.

    Raises:
        FieldErrors: with the sentence of that field.
        KeyError: where the form has no such field.
    """
    spec = _spec_named(name)
    if spec.shape not in ("measure", "count") or not text.strip():
        return ""
    try:
        value = _read_one(spec, text)
    except CellError as error:
        raise FieldErrors({name: error.sentence}) from None
    if asks_unit(name) and spec.dimension == "length":
        far = spec.name in FAR
        return f"{value.nominal / MM_PER_M:.10g} m" if far else f"{value.nominal / MM_PER_CM:.10g} cm"
    return write_field(spec, value, "metric")


def _spec_named(name: str) -> FieldSpec:
    found = _NAME.fullmatch(name)
    groups = {"lift": LIFT_SPECS, "spot": SPOT_SPECS, "lead": LEAD_SPECS, "feed": (FEED_SPEC,)}
    specs = groups.get(name.split("-", 1)[0], LOAD_SPECS) if "-" in name else LOAD_SPECS
    for spec in specs:
        if found is not None and spec.name == found["field"]:
            return spec
    raise KeyError(name)


def lift_words(lift: Lift, units: UnitSystem) -> str:
    """Return a planned lift's stored figures in one line."""
    specs = {spec.name: spec for spec in LIFT_SPECS}

    def length(value_mm: float, name: str = "reach_mm") -> str:
        return _text(specs[name], value_mm, units)

    said: list[str] = []
    if lift.from_height_mm is not None:
        said.append(f"taken up at {length(lift.from_height_mm)}")
    if lift.to_height_mm is not None:
        said.append(f"set down at {length(lift.to_height_mm)}")
    if lift.reach_mm is not None:
        there = "" if lift.to_reach_mm is None else f", there {length(lift.to_reach_mm)}"
        said.append(f"hands {length(lift.reach_mm)} before the ankles{there}")
    if lift.twist_deg:
        said.append(f"turned aside by {lift.twist_deg:g}°")
    if lift.coupling is not None:
        said.append(f"held {dict(COUPLINGS)[lift.coupling].replace(':', ',')}")
    said.append(f"{lift.per_minute:g} lifts a minute for {lift.hours:g} h")
    if lift.carry_mm is not None:
        said.append(f"carried {length(lift.carry_mm, 'carry_mm')}")
    said.append(f"{lift.trips} {'trip' if lift.trips == 1 else 'trips'}")
    said.append(
        "by one person"
        if lift.people == 1
        else f"by {lift.people} people, and the lifting equation is for one"
    )
    return "; ".join(said)


def kept_words(plan: LoadPlan, names: Iterable[str], units: UnitSystem) -> tuple[str, ...]:
    """Return what a plan holds in those of its fields, one text a field; other names are passed over."""
    texts, found = plan_texts(plan, units), []
    for name in dict.fromkeys(names):
        if name not in LOAD_WORDS:
            continue
        value = getattr(plan, name)
        if isinstance(value, tuple):
            said = f"{len(value)} in the plan"
        elif isinstance(value, bool):
            said = "yes" if value else "no"
        else:
            said = texts[name] or "empty now"
        found.append(f"{LOAD_WORDS[name]}: {said}")
    return tuple(found)


# Reading


def read_plan(
    plan: LoadPlan,
    texts: Mapping[str, str],
    ticked: Mapping[str, Sequence[int]],
    known: Sequence[int],
    asked: str = "",
) -> LoadPlan:
    """Return the plan with all that the form says.

    Args:
        plan: as it stands.
        texts: what was typed, by the fields' names.
        ticked: catalogue numbers ticked, by the lift's number or "new"; one that goes twice stands twice.
        known: catalogue numbers of the rig's parts.
        asked: "lift" or "lead" where one more is wanted though nothing was typed of it; "drop-lift:<number>"
            or "drop-lead:<part>" to leave one out, of which nothing is read then.

    Raises:
        FieldErrors: a sentence for each field that cannot be taken, by the fields' names.
    """
    errors: dict[str, str] = {}
    update = _read_facts(texts, errors)
    update["spots"] = _read_spots(plan, texts, known, errors)
    update["feeds"] = _read_feeds(plan, texts, known, errors)
    dropped = asked.removeprefix("drop-lift:") if asked.startswith("drop-lift:") else ""
    lifts: list[Lift] = []
    for number, lift in enumerate(plan.lifts):
        if str(number) == dropped:
            continue
        if f"lift-{number}-name" not in texts:
            lifts.append(lift)
            continue
        gone = [one for one in lift.parts if one not in known]
        parts = [one for one in ticked.get(str(number), ()) if one in known]
        lifts += _read_lift(str(number), texts, (*parts, *gone), errors)
    parts = [one for one in ticked.get(NEW, ()) if one in known]
    if asked == "lift" or parts or any(texts.get(spec.name, "").strip() for spec in lift_specs(NEW)):
        lifts += _read_lift(NEW, texts, parts, errors)
        if len(lifts) > MOST_LIFTS:
            errors[f"lift-{NEW}-name"] = f"There are {MOST_LIFTS} lifts already: take one out first."
    update["lifts"] = tuple(lifts)
    dropped = asked.removeprefix("drop-lead:") if asked.startswith("drop-lead:") else ""
    cables = tuple(one for one in plan.cables if str(one.part_id) != dropped)
    if asked == "lead" or any(
        texts.get(spec.name, "").strip() for spec in lead_specs() if spec.shape != "flag"
    ):
        cables = _read_lead(cables, texts, known, errors)
    update["cables"] = cables
    if errors:
        raise FieldErrors(errors)
    return plan.model_copy(update=update)


def _read_one(spec: FieldSpec, text: str) -> Any:
    """Read a field's text. Raises CellError, also for a bare number in a field that wants its unit, and for
    more than a figure.
    """
    bare = not any(letter.isalpha() or letter in "'\"′″’”“" for letter in text)
    value = read_cell(spec, text, "rig")
    if isinstance(value, Measure) and bare and value.nominal != 0 and asks_unit(spec.name):
        raise CellError(f"“{text.strip()}” has no unit. Write it behind: {_examples(spec, text.strip())}.")
    figure_of(value)
    return value


def _examples(spec: FieldSpec, typed: str) -> str:
    if spec.dimension == "mass":
        return f"{typed} kg or {typed} lb"
    far = spec.name.rpartition("-")[2] in FAR
    return f"{typed} m or {typed} ft" if far else f"{typed} cm or {typed} in"


def _read(specs: Iterable[FieldSpec], texts: Mapping[str, str], errors: dict[str, str]) -> dict[str, Any]:
    """What those of the fields say that the form holds, by the last step of their names."""
    read: dict[str, Any] = {}
    for spec in specs:
        if spec.name not in texts:
            continue
        try:
            value = _read_one(spec, texts[spec.name])
        except CellError as error:
            errors[spec.name] = error.sentence
            continue
        read[spec.name.rpartition("-")[2]] = value.nominal if isinstance(value, Measure) else value
    return read


def _read_facts(texts: Mapping[str, str], errors: dict[str, str]) -> dict[str, Any]:
    read = _read(LOAD_SPECS, texts, errors)
    if "night" in read:
        try:
            night = date.fromisoformat(read["night"]) if read["night"] else None
        except ValueError:
            errors["night"] = f"“{read['night']}” is no date. Type it as year, month, day: 2026-11-26."
            return read
        if night is not None and not FIRST_YEAR <= night.year <= LAST_YEAR:
            errors["night"] = f"The Sun is known here from {FIRST_YEAR} to {LAST_YEAR}. Give a year of these."
        read["night"] = night
    return read


def _read_spots(
    plan: LoadPlan, texts: Mapping[str, str], known: Sequence[int], errors: dict[str, str]
) -> tuple[Spot, ...]:
    """The plan's spots, with those that the form tells of in their places, new ones behind."""
    spots: dict[int, Spot | None] = {spot.part_id: spot for spot in plan.spots}
    for number in known:
        along, above = (f"spot-{number}-{spec.name}" for spec in SPOT_SPECS)
        if along not in texts:
            continue
        specs = (replace(spec, name=f"spot-{number}-{spec.name}") for spec in SPOT_SPECS)
        read = _read(specs, texts, errors)
        if read.get("along_mm") is None:
            if read.get("above_mm") is not None and along not in errors:
                errors[along] = "Say where along the tube it sits as well, or leave both fields empty."
            spots[number] = None
        elif above not in errors:
            spots[number] = Spot(part_id=number, **read)
    return tuple(spot for spot in spots.values() if spot is not None)


def _read_feeds(
    plan: LoadPlan, texts: Mapping[str, str], known: Sequence[int], errors: dict[str, str]
) -> tuple[Feed, ...]:
    """The plan's feeds, with those that the form tells of in their places, new ones behind."""
    feeds: dict[int, Feed | None] = {feed.part_id: feed for feed in plan.feeds}
    ports = {str(number): number for number in known}
    for number in known:
        name = f"feed-{number}-by"
        said = texts.get(name)
        if said is None:
            continue
        if said in ("straight", "converter"):
            feeds[number] = Feed.model_validate({"part_id": number, "by": said})
        elif said in ports and ports[said] != number:
            feeds[number] = Feed(part_id=number, by="port", port_of=ports[said])
        elif said:
            errors[name] = "Choose from the list how it is fed."
        else:
            feeds[number] = None
    return tuple(feed for feed in feeds.values() if feed is not None)


def _read_lift(
    key: str, texts: Mapping[str, str], parts: Sequence[int], errors: dict[str, str]
) -> tuple[Lift, ...]:
    """One lift, or none where something of it could not be taken."""
    found: dict[str, str] = {}
    read = _read(lift_specs(key), texts, found)
    if not read.get("name"):
        found.setdefault(f"lift-{key}-name", "Say what you lift, such as: tube onto the saddle.")
    if not parts:
        found[f"lift-{key}-part"] = "Tick what goes together in this lift."
    errors |= found
    if found:
        return ()
    given = {name: value for name, value in read.items() if value is not None}
    try:
        return (Lift.model_validate({**given, "parts": tuple(parts)}),)
    except ValidationError:
        errors[f"lift-{key}-name"] = "This lift cannot be kept: check its figures."
        return ()


def _read_lead(
    cables: tuple[Cable, ...], texts: Mapping[str, str], known: Sequence[int], errors: dict[str, str]
) -> tuple[Cable, ...]:
    """The cables with the lead of one device, in place of an earlier one."""
    found: dict[str, str] = {}
    read = _read(lead_specs(), texts, found)
    number = texts.get("lead-device", "")
    if number not in {str(one) for one in known}:
        found["lead-device"] = "Choose the device that the lead feeds."
    wire = _WIRE.fullmatch(str(read.get("wire") or "").strip())
    if wire is None:
        found.setdefault("lead-wire", "Give the wire's size as 18 AWG or as 1.5 mm2.")
    if read.get("length_mm") is None:
        found.setdefault("lead-length_mm", "Give the lead's length, one way, such as 3 m.")
    errors |= found
    if found or wire is None:
        return cables
    size = float(wire["size"].replace(",", "."))
    awg = wire["unit"].lower() == "awg"
    if awg and not size.is_integer():
        errors["lead-wire"] = "Gauges are whole numbers, such as 18 AWG."
        return cables
    given = {"gauge_awg": int(size)} if awg else {"area_mm2": size}
    try:
        shared = {"shared": bool(read.get("shared"))}
        lead = Cable.model_validate(
            {"part_id": int(number), "length_mm": read["length_mm"], **given, **shared}
        )
    except ValidationError:
        errors["lead-wire"] = "There is no such wire here: 0 to 40 AWG, or up to 200 mm²."
        return cables
    return (*(one for one in cables if one.part_id != lead.part_id), lead)


def with_packing(plan: LoadPlan, packed: Mapping[int, str]) -> LoadPlan:
    """Return the plan with the case that each part travels in; "" for loose. Raises FieldErrors."""
    errors = {
        f"case-{number}": f"{len(name.strip())} characters are too many: 60 at most."
        for number, name in packed.items()
        if len(name.strip()) > 60
    }
    if errors:
        raise FieldErrors(errors)
    lines = tuple(
        CaseUse(part_id=number, case=name.strip()) for number, name in packed.items() if name.strip()
    )
    return plan.model_copy(update={"cases": lines})
