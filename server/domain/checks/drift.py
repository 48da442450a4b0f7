"""How far the night's cold moves a tube's focus."""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.checks.case import Case, input_of
from server.domain.checks.mirrors import TWO_MIRRORS, magnification_of
from server.domain.findings import Input
from server.domain.parts import OpticalTube
from server.optics.thermal import MATERIALS, expansion_mm, focus_drift_mm

MATERIAL_NAMES = {"aluminium": "aluminium", "steel": "carbon steel", "carbon_fibre": "carbon fibre"}


@dataclass(frozen=True)
class Drift:
    """How far the focus moves out (away from the sky) as the night cools, mm, None while unknown."""

    mm: float | None
    inputs: tuple[Input, ...] = ()
    missing: tuple[str, ...] = ()


def drift_of(case: Case) -> Drift | None:
    """The drift of the tube's focus over the rig's fall of temperature; None without a tube or a fall.

    A corrector that multiplies the focal length by m multiplies the drift by m^2 behind it; the drawtube that
    carries the corrector follows the bare focus and moves by the drift itself.
    """
    place = case.train.tube
    fall = case.rig.rules.night_fall_k
    if place is None or fall == 0.0:
        return None
    tube = place.part
    assert isinstance(tube, OpticalTube)
    material = MATERIALS.get(MATERIAL_NAMES.get(tube.tube_material or "", ""))
    missing: list[str] = []
    if material is None:
        missing.append(f"what the tube of {place.name} is made of")
    mirrors = tube.design in TWO_MIRRORS
    magnification: float | None = None
    length = tube.mirror_separation_mm if mirrors else tube.tube_length_mm or tube.focal_length_mm
    if mirrors:
        magnification = magnification_of(tube)
        if magnification is None:
            missing.append(f"the primary's focal ratio of {place.name}")
        if length is None:
            missing.append(f"the mirror separation of {place.name}")
    elif length is None:
        missing.append(f"the tube length of {place.name}")
    if missing or material is None or length is None:
        return Drift(None, (), tuple(missing))
    growth = expansion_mm(length.nominal, material.per_k, -fall)
    label = "mirror separation" if mirrors else "tube length" if tube.tube_length_mm else "focal length"
    inputs = (
        input_of(label, place.item, length, "length", 0),
        Input(
            label=f"{tube.tube_material}, growth {material.per_k * 1e6:g} parts in a million for each K",
            amount=None,
            basis="assumed",
            text="a table of materials",
        ),
    )
    return Drift(focus_drift_mm(growth, magnification), inputs)
