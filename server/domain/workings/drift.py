"""How far the night's cold moves a tube's focus."""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.findings import Input
from server.domain.measure import nominal
from server.domain.missing import lacks
from server.domain.parts import Corrector
from server.domain.said import Quantity, said
from server.domain.train import Place
from server.domain.verdicts import Given
from server.domain.workings.case import Case, input_of
from server.domain.workings.mirrors import TWO_MIRRORS, magnification_of
from server.domain.workings.worked import LARGEST_FACTOR, SMALLEST_FACTOR
from server.optics.thermal import MATERIALS, expansion_mm, focus_drift_mm
from server.optics.thin_lens import longitudinal_magnification

MATERIAL_NAMES = {"aluminium": "aluminium", "steel": "carbon steel", "carbon_fibre": "carbon fibre"}


@dataclass(frozen=True)
class Drift:
    """How far the focus moves out (away from the sky) as the air cools, mm, None while unknown.

    Attributes:
        mm: of the bare tube's focus against its rear end: what a drawtube with all behind it has to follow.
        sensor_mm: of the focus behind all correctors against a sensor that stays: what blurs the star.
        inputs, missing: of the working.
        odd: the tube is of a material that no table here knows.
    """

    mm: float | None
    inputs: tuple[Given | Input, ...] = ()
    missing: tuple[str, ...] = ()
    sensor_mm: float | None = None
    odd: bool = False


def drift_of(case: Case) -> Drift | None:
    """The drift of the tube's focus over the rig's fall of temperature; None without a tube or a fall."""
    fall = case.rig.rules.night_fall_k
    return None if fall == 0.0 else drift_over(case, fall)


def drift_over(case: Case, fall_k: float) -> Drift | None:
    """The drift of the tube's focus while the air falls by so many K; None without a tube.

    A corrector that multiplies the focal length by m multiplies the drift by m^2 behind it; the drawtube that
    carries the corrector follows the bare focus and moves by the drift itself.
    """
    place = case.train.tube
    if place is None:
        return None
    tube = place.part
    material = MATERIALS.get(MATERIAL_NAMES.get(tube.tube_material or "", ""))
    missing: list[str] = []
    if material is None:
        missing.append(lacks(place, "tube_material", "what the tube of {} is made of"))
    mirrors = tube.design in TWO_MIRRORS
    magnification: float | None = None
    length = tube.mirror_separation_mm if mirrors else tube.tube_length_mm or tube.focal_length_mm
    if mirrors:
        magnification = magnification_of(tube)
        if magnification is None:
            missing.append(lacks(place, "primary_focal_ratio", "the primary's focal ratio"))
        if length is None:
            missing.append(lacks(place, "mirror_separation_mm", "the mirror separation"))
    elif length is None:
        missing.append(lacks(place, "tube_length_mm", "the tube length"))
    if missing or material is None or length is None:
        return Drift(None, (), tuple(missing), odd=tube.tube_material == "other")
    growth = expansion_mm(length.nominal, material.per_k, -fall_k)
    label = "mirror separation" if mirrors else "tube length" if tube.tube_length_mm else "focal length"
    inputs = (
        input_of(label, place.item, length, "length", 0),
        Given(
            said("drift.growth", material=tube.tube_material, growth=Quantity(material.per_k * 1e6, "")),
            None,
            "assumed",
            note=said("drift.table"),
        ),
    )
    bare = focus_drift_mm(growth, magnification)
    behind = magnified_behind(case, place)
    return Drift(bare, inputs, sensor_mm=None if behind is None else bare * behind)


def magnified_behind(case: Case, place: Place) -> float | None:
    """How far the focus moves at the sensor for each mm that a place moves all behind it, or that the focus
    before it moves: m^2, m the factor at which the correctors behind it work; None while one is not known,
    or is such as none has.

    A focuser between corrector and camera moves the camera alone: 1 for 1.
    """
    factor = 1.0
    for one in case.train.after(place):
        if not isinstance(one.part, Corrector):
            continue
        spacing = case.spacing
        if spacing is not None and spacing.corrector is one:
            works = spacing.working_factor
        else:
            works = nominal(one.part.factor)
        if works is None:
            return None
        factor *= works
    return longitudinal_magnification(factor) if SMALLEST_FACTOR <= factor <= LARGEST_FACTOR else None
