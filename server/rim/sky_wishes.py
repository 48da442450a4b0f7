"""What is asked of the sky for a target, as the texts of its form, and back."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from pydantic import ValidationError

from server.domain.fields import FieldSpec
from server.domain.measure import Measure
from server.domain.refusals import sentence_of
from server.domain.sky.reckoning import DepthWishes
from server.flow.plan_sky import SkyWishes, TargetSky
from server.rim.cells import read_cells, write_cell

NIGHT_SPEC = FieldSpec("evening", "Night of", "text", maximum=10, help="Its evening's date, like 2027-03-14.")
FRAME_SPECS: tuple[FieldSpec, ...] = (
    FieldSpec(
        "angle_deg",
        "Upper side points to",
        "measure",
        "angle",
        0.0,
        360.0,
        help="From north through east. Empty: as it fits best.",
    ),
    FieldSpec("columns", "Panels across", "count", "count", 1, 10),
    FieldSpec("rows", "Panels up", "count", "count", 1, 10),
    FieldSpec(
        "overlap", "Shared edge", "measure", "fraction", 0.0, 0.6, help="Of a panel's side, like 15 %."
    ),
    FieldSpec("fixed", "Camera keeps its angle", "flag", help="From panel to panel."),
)
DEPTH_SPECS: tuple[FieldSpec, ...] = (
    FieldSpec("signal_to_noise", "Signal to noise wanted", "measure", "plain", 0.5, 1000.0),
    FieldSpec("hours", "Or hours that you have", "measure", "plain", 0.0, 1000.0, above=True),
    FieldSpec("sub_s", "One exposure", "measure", "time", 0.0, 7200.0, above=True, help="Empty: see below."),
    FieldSpec(
        "read_share",
        "Read noise may add",
        "measure",
        "fraction",
        0.005,
        1.0,
        help="To the noise. 5 % is usual (common practice).",
    ),
    FieldSpec(
        "altitude_deg", "Altitude", "measure", "angle", 10.0, 90.0, help="Empty: as it usually stands."
    ),
    FieldSpec("gain", "Gain setting", "measure", "plain", 0.0, 10_000.0, help="Empty: of least read noise."),
    FieldSpec(
        "temperature_c",
        "Sensor's temperature",
        "measure",
        "temperature",
        -100.0,
        60.0,
        help="Empty: the coldest that its dark current is known at.",
    ),
    FieldSpec(
        "surface_mag",
        "Brightness to reach",
        "measure",
        "plain",
        10.0,
        32.0,
        help="V magnitudes per square arcsecond. Empty: the target's mean.",
    ),
    FieldSpec(
        "rayleigh",
        "Brightness of the line",
        "measure",
        "plain",
        0.0,
        100_000.0,
        above=True,
        help="In rayleighs, behind a narrow filter.",
    ),
)
WISH_SPECS = (NIGHT_SPEC, *FRAME_SPECS, *DEPTH_SPECS)
_DEPTH = frozenset(spec.name for spec in DEPTH_SPECS)


def wish_texts(wishes: SkyWishes) -> dict[str, str]:
    """Return what the form shows."""
    found = {"evening": "" if wishes.evening is None else wishes.evening.isoformat()}
    for spec in (*FRAME_SPECS, *DEPTH_SPECS):
        value = getattr(wishes.depth if spec.name in _DEPTH else wishes, spec.name)
        measure = spec.shape == "measure" and value is not None
        found[spec.name] = write_cell(spec, Measure(nominal=value) if measure else value)
    return found


def read_wishes(texts: Mapping[str, str]) -> tuple[SkyWishes, dict[str, str]]:
    """Return the wishes that can be read, and for each other field a sentence; an empty one is as usual."""
    read, errors = read_cells((*FRAME_SPECS, *DEPTH_SPECS), texts, "sky", figures=True)
    values = {name: one for name, one in read.items() if one is not None}
    evening = texts.get("evening", "").strip()
    if evening:
        try:
            values["evening"] = SkyWishes(evening=date.fromisoformat(evening)).evening
        except ValidationError as error:
            errors["evening"] = sentence_of(error.errors()[0])
        except ValueError:
            errors["evening"] = f"“{evening[:20]}” is no date. Write it like 2027-03-14."
    depth = DepthWishes(**{name: one for name, one in values.items() if name in _DEPTH})
    frame = {name: one for name, one in values.items() if name not in _DEPTH}
    return SkyWishes(depth=depth, **frame), errors


def unused(view: TargetSky, wishes: DepthWishes) -> dict[str, str]:
    """A sentence for each brightness that was given and that a rig's depth is not reckoned with."""
    by_line = {one.rig.name: one.depth.rayleigh is not None for one in view.rigs if one.depth is not None}
    said = {}
    broad = " and ".join(name for name, line in by_line.items() if not line)
    if wishes.rayleigh is not None and broad:
        said["rayleigh"] = f"Not used for {broad}: the brightness of a line counts behind a narrow filter."
    narrow = " and ".join(name for name, line in by_line.items() if line)
    if wishes.surface_mag is not None and narrow:
        said["surface_mag"] = f"Not used for {narrow}: behind a narrow filter that of the line counts."
    return said
