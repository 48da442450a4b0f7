"""What is asked of a set of frames, and where a rig's screws stand, as the texts of their forms, and back."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from server.domain.errors import FieldErrors
from server.domain.fields import FieldSpec
from server.domain.frames.asked import FrameAsked, SetAsked
from server.domain.frames.measured import MOST_BINNED, Measured, Screws, is_whole
from server.domain.frames.plan import FramePlan
from server.domain.measure import Measure
from server.flow.frame_sets import FileTold
from server.rim.cells import CellError, figure_of, read_cell, read_cells, write_cell

SET_SPECS: tuple[FieldSpec, ...] = (
    FieldSpec(
        "step_um",
        "One step of the focuser",
        "measure",
        "spot",
        0.0,
        10_000.0,
        above=True,
        help="How far it moves the focus at the sensor.",
    ),
    FieldSpec(
        "outward",
        "Its numbers rise as the camera moves",
        "choice",
        choices=(("out", "out, away from the sky"), ("in", "in, towards the sky")),
    ),
    FieldSpec(
        "spacing_mm",
        "Spacing behind the corrector",
        "measure",
        "length",
        0.0,
        2000.0,
        help="From its shoulder to the sensor, for these frames. Empty: not known, or no corrector.",
    ),
    FieldSpec("binning", "Binned, along a side", "count", "count", 1, MOST_BINNED),
    FieldSpec(
        "wave_nm",
        "Their light",
        "measure",
        "wavelength",
        0.0,
        2500.0,
        help="The filter's middle. 0 for frames that a program made by rays, without waves.",
    ),
    FieldSpec(
        "mosaic", "The camera's frames are a colour mosaic", "flag", help="Raw frames of a colour camera."
    ),
    FieldSpec(
        "side",
        "One frame alone: the sensor stood",
        "choice",
        choices=(("out", "too far out"), ("in", "too far in")),
        help="Of the focus. Two or more frames tell it by themselves.",
    ),
    FieldSpec("quick", "Quick look only", "flag", help="25 small windows: rougher, some ten times as quick."),
)
POSITION_SPEC = FieldSpec("focuser", "Focuser's position", "measure", "plain", -1e7, 1e7)
SCREW_SPECS: tuple[FieldSpec, ...] = (
    FieldSpec(
        "radius_mm", "Screws, or places for shims, from the axis", "measure", "length", 0.0, 500.0, above=True
    ),
    FieldSpec(
        "angles",
        "Their directions",
        "text",
        maximum=80,
        help="Degrees from the picture's right, anticlockwise, from behind the camera: 90, 210, 330.",
    ),
    FieldSpec(
        "pitch_mm",
        "Their thread's pitch",
        "measure",
        "length",
        0.0,
        5.0,
        above=True,
        help="Like 0.5 mm for M3. Empty: shims.",
    ),
)
TURN_SPECS: tuple[FieldSpec, ...] = (
    FieldSpec("number", "Screw that was moved", "count", "count", 1, 4),
    FieldSpec(
        "out_um",
        "Moved out by",
        "measure",
        "spot",
        -5000.0,
        5000.0,
        help="Away from the sky; below 0 in. Half a turn of a 0.5 mm thread is 250 µm.",
    ),
)


@dataclass(frozen=True)
class ReadSet:
    """A form that was read: what is asked, and a sentence for each field that could not be."""

    asked: SetAsked | None
    errors: dict[str, str]


def usual_texts(plan: FramePlan, files: Sequence[FileTold], before: Measured | None) -> dict[str, str]:
    """What the form of a new set shows: what the rig says, what was typed for the set before, nothing that a
    file says of the focuser.
    """
    typed = None if before is None else before.step_um
    texts = {"outward": "out" if typed is None or typed > 0.0 else "in"}
    wave = None if plan.light is None else round(plan.light.wave_nm)
    step = plan.step_um if typed is None else abs(typed)
    for name, value in (("step_um", step), ("spacing_mm", plan.spacing_mm), ("wave_nm", wave)):
        spec = next(one for one in SET_SPECS if one.name == name)
        if value is not None:
            texts[name] = write_cell(spec, Measure(nominal=round(value, 4)))
    texts["binning"] = str(binning_of(plan, files))
    if plan.colour or any(one.mosaic for one in files):
        texts["mosaic"] = "yes"
    return texts


def header_texts(files: Sequence[FileTold]) -> dict[str, str]:
    """What the files say of the focuser, for the fields; only for who asked for it."""
    texts = {
        f"focuser-{number}": f"{one.focuser:g}" for number, one in enumerate(files) if one.focuser is not None
    }
    step = next((one.step_um for one in files if one.step_um is not None), None)
    if step is not None:
        texts["step_um"] = f"{step:g} um"
    return texts


def binning_of(plan: FramePlan, files: Sequence[FileTold]) -> int:
    """How a frame is binned: as its file says, else by both its sides against the camera's, else not."""
    first = next((one for one in files if one.width_px), None)
    if first is None:
        return 1
    if first.binning is not None:
        return min(first.binning, MOST_BINNED)
    sizes = zip((first.width_px, first.height_px), plan.sensor_px or (), strict=False)
    sides = [(size, whole) for size, whole in sizes]
    fits = (by for by in range(1, MOST_BINNED + 1) if all(is_whole(s, w, by) for s, w in sides))
    return next(fits, 1) if sides else 1


@dataclass(frozen=True)
class Wishes:
    """How a set is to be measured, as `SetAsked` has it; wave_nm: its light, None as the rig's band;
    binning: None as the files, or their size, say.
    """

    step_um: float | None = None
    outward: bool = True
    mosaic: bool = False
    side: Literal["", "out", "in"] = ""
    spacing_mm: float | None = None
    wave_nm: float | None = None
    binning: int | None = None
    quick: bool = False


def ask_set(
    files: Sequence[FileTold], positions: Mapping[int, float | None], wishes: Wishes, plan: FramePlan
) -> SetAsked:
    """What is asked of the files that `positions` has by their place in the set, in the light of the rig.

    Raises FieldErrors("files", "step_um").
    """
    frames = tuple(
        FrameAsked(file=one.stored, name=one.name, focuser=positions[number])
        for number, one in enumerate(files)
        if number in positions and not one.trouble
    )
    errors = {}
    if not frames:
        errors["files"] = "No frame is left to measure."
    known = [one.focuser is not None for one in frames]
    if len(frames) > 1 and any(known) and not all(known):
        errors["files"] = "Say where the focuser stood for each frame, or leave the others out."
    if len(frames) > 1 and all(known) and wishes.step_um is None:
        errors["step_um"] = "Say how far one step moves the focus: the positions mean nothing without it."
    if errors:
        raise FieldErrors(errors)
    by = wishes.binning or binning_of(plan, files)
    light = plan.light
    if light is not None:
        wave = light.wave_nm if wishes.wave_nm is None else wishes.wave_nm
        light = light.model_copy(update={"pixel_um": light.pixel_um * by, "wave_nm": wave})
    rest = {name: value for name, value in vars(wishes).items() if name not in ("wave_nm", "binning")}
    return SetAsked(frames=frames, light=light, sensor_px=plan.sensor_px, binning=by, **rest)


def read_set(texts: Mapping[str, str], files: Sequence[FileTold], plan: FramePlan) -> ReadSet:
    """Read the form of a set."""
    read, errors = read_cells(SET_SPECS, texts, "set", figures=True)
    positions: dict[int, float | None] = {}
    for number in range(len(files)):
        if texts.get(f"leave-{number}"):
            continue
        positions[number] = None
        try:
            positions[number] = figure_of(read_cell(POSITION_SPEC, texts.get(f"focuser-{number}", ""), "set"))
        except CellError as error:
            errors[f"focuser-{number}"] = error.sentence
    wishes = Wishes(
        step_um=read.get("step_um"),
        outward=read.get("outward") != "in",
        mosaic=bool(read.get("mosaic")),
        side=read.get("side") or "",
        spacing_mm=read.get("spacing_mm"),
        wave_nm=read.get("wave_nm"),
        binning=read.get("binning"),
        quick=bool(read.get("quick")),
    )
    try:
        asked = ask_set(files, positions, wishes, plan)
    except FieldErrors as error:
        return ReadSet(None, {**error.errors, **errors})
    return ReadSet(None, errors) if errors else ReadSet(asked, {})


def screw_texts(screws: Screws | None) -> dict[str, str]:
    """What the form of the screws shows."""
    if screws is None:
        return {}
    radius, _, pitch = SCREW_SPECS
    return {
        "radius_mm": write_cell(radius, Measure(nominal=screws.radius_mm)),
        "angles": ", ".join(f"{angle:g}" for angle in screws.angles_deg),
        "pitch_mm": "" if screws.pitch_mm is None else write_cell(pitch, Measure(nominal=screws.pitch_mm)),
    }


def read_screws(texts: Mapping[str, str]) -> Screws:
    """Read where the screws stand. Raises FieldErrors."""
    radius, _, pitch = SCREW_SPECS
    read, errors = read_cells((radius, pitch), texts, "rig", figures=True)
    if read.get("radius_mm") is None and "radius_mm" not in errors:
        errors["radius_mm"] = "Say how far from the axis they stand, such as 40 mm."
    angles: list[float] = []
    try:
        angles = [float(one) for one in re.findall(r"[^\s,;°]+", texts.get("angles", ""))]
    except ValueError:
        errors["angles"] = "Write the directions as numbers with commas between: 90, 210, 330."
    if angles and (trouble := trouble_of_angles(angles)):
        errors["angles"] = trouble
    if errors:
        raise FieldErrors(errors)
    return Screws(radius_mm=read["radius_mm"], angles_deg=tuple(angles), pitch_mm=read.get("pitch_mm"))


def trouble_of_angles(angles: Sequence[float]) -> str:
    """Why screws cannot stand in these directions, degrees; "" where they can."""
    if not (3 <= len(angles) <= 4 and all(-360.0 <= one <= 360.0 for one in angles)):
        return "Three or four directions from -360 to 360 degrees are read."
    turned = sorted(one % 360.0 for one in angles)
    # The last and the first are neighbours, too.
    if any(b - a < 5.0 for a, b in pairwise((*turned, turned[0] + 360.0))):
        return "Two of them stand in the same place."
    return ""


def read_turn(texts: Mapping[str, str]) -> tuple[int, float]:
    """Read which screw was moved out, and by how many um. Raises FieldErrors."""
    read, errors = read_cells(TURN_SPECS, texts, "rig", figures=True)
    if read.get("number") is None and "number" not in errors:
        errors["number"] = "Say which screw it was."
    if not read.get("out_um") and "out_um" not in errors:
        errors["out_um"] = "Say by how much it was moved, such as 250 um."
    if errors:
        raise FieldErrors(errors)
    return int(read["number"]), float(read["out_um"])
