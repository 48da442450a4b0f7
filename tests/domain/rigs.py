"""Rigs for tests: invented parts whose figures add up by hand.

The plain rig: a refractor of 800 mm at f/4, a corrector that asks for 55 mm, rings, and a camera of 17.5 mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import count
from typing import Any

from server.domain.connections import read_connection
from server.domain.findings import Amount, Finding
from server.domain.load_plan import LoadPlan
from server.domain.measure import Measure
from server.domain.parts import (
    Adapter,
    Camera,
    CataloguedPart,
    Corrector,
    Filter,
    FilterWheel,
    Focuser,
    GuideCamera,
    Mount,
    OffAxisGuider,
    OpticalTube,
    Part,
    Shim,
    SpacerRing,
)
from server.domain.rig import Gear, Rig, Rules
from server.domain.train import Place, Train
from server.domain.workings.case import Case
from server.rim.wording import write_amount
from tests.told import run_checks

M48M, M48F = read_connection("M48x0.75 male"), read_connection("M48x0.75 female")
M42M, M42F = read_connection("M42x0.75 male"), read_connection("M42x0.75 female")
BK7 = 1.5168
"""Index of N-BK7 at 587.56 nm: six-digit glass code 517642."""

_numbers = count(1)


def mm(nominal: float, plus: float | None = None, minus: float | None = None) -> Measure:
    """A measure; one tolerance given stands for both sides."""
    return Measure(nominal=nominal, plus=plus, minus=plus if minus is None else minus)


def _figures(given: dict[str, Any]) -> dict[str, Any]:
    """Plain numbers of fields that hold measures become measures."""
    plain = ("width_px", "height_px", "positions", "bits", "spider_vanes", "clip_count")
    return {
        name: mm(value)
        if isinstance(value, int | float) and not isinstance(value, bool) and name not in plain
        else value
        for name, value in given.items()
    }


def tube(**given: Any) -> OpticalTube:
    usual = {
        "model": "Tube",
        "design": "apochromat",
        "aperture_mm": 200.0,
        "focal_length_mm": 800.0,
        "camera_side": M48F,
        "image_circle_mm": 44.0,
        "mass_kg": 5.0,
    }
    return OpticalTube(maker="Halden", **_figures(usual | given))


def corrector(**given: Any) -> Corrector:
    usual = {
        "model": "Flat",
        "corrector_type": "flattener",
        "factor": 1.0,
        "back_focus_mm": 55.0,
        "length_mm": 30.0,
        "sky_side": M48M,
        "camera_side": M48F,
        "clear_aperture_mm": 46.0,
        "corrected_circle_mm": 44.0,
        "mass_kg": 0.4,
    }
    return Corrector(maker="Halden", **_figures(usual | given))


def ring(length_mm: float | Measure | None, **given: Any) -> SpacerRing:
    usual = {
        "model": "Ring",
        "length_mm": length_mm,
        "sky_side": M48M,
        "camera_side": M48F,
        "clear_aperture_mm": 46.0,
        "mass_kg": 0.05,
    }
    return SpacerRing(maker="Brask", **_figures(usual | given))


def adapter(length_mm: float, **given: Any) -> Adapter:
    usual = {"model": "Adapter", "length_mm": length_mm, "sky_side": M48M, "camera_side": M42M}
    return Adapter(maker="Brask", **_figures(usual | given))


def shim(length_mm: float, **given: Any) -> Shim:
    usual = {
        "model": "Shim",
        "length_mm": length_mm,
        "fits_from_mm": 48.0,
        "fits_to_mm": 54.0,
        "mass_kg": 0.001,
    }
    return Shim(maker="Brask", **_figures(usual | given))


def glass(thickness_mm: float | Measure | None, **given: Any) -> Filter:
    usual = {
        "model": "Glass",
        "format": "round_36",
        "thickness_mm": thickness_mm,
        "refractive_index": BK7,
        "clear_aperture_mm": 46.0,
        "mass_kg": 0.01,
    }
    return Filter(maker="Sell", **_figures(usual | given))


def wheel(length_mm: float | None, **given: Any) -> FilterWheel:
    usual = {
        "model": "Wheel",
        "length_mm": length_mm,
        "sky_side": M48M,
        "camera_side": M48F,
        "positions": 5,
        "clear_aperture_mm": 46.0,
        "mass_kg": 0.5,
    }
    return FilterWheel(maker="Brask", **_figures(usual | given))


def focuser(**given: Any) -> Focuser:
    usual = {"model": "Focuser", "length_mm": 60.0, "travel_mm": 30.0, "sky_side": M48M, "camera_side": M48F}
    return Focuser(maker="Brask", **_figures(usual | given))


def camera(**given: Any) -> Camera:
    """A sensor of 9000 by 6000 pixels of 4 um: 36 by 24 mm, diagonal 43.2666 mm."""
    usual = {
        "model": "Cam",
        "sky_side": M48M,
        "flange_mm": 17.5,
        "flange_quoted": "optical",
        "clear_aperture_mm": 46.0,
        "width_px": 9000,
        "height_px": 6000,
        "pixel_um": 4.0,
        "mass_kg": 0.6,
    }
    return Camera(maker="Quill", **_figures(usual | given))


def guider(**given: Any) -> OffAxisGuider:
    """A prism of 8 mm in the middle of a body of 16 mm, which can be drawn from 12 to 30 mm off the axis."""
    usual = {
        "model": "Side",
        "length_mm": 16.0,
        "sky_side": M48M,
        "camera_side": M48F,
        "clear_aperture_mm": 46.0,
        "prism_mm": 8.0,
        "prism_at_mm": 8.0,
        "reach_from_mm": 12.0,
        "reach_to_mm": 30.0,
        "side_path_mm": 30.0,
        "mass_kg": 0.3,
    }
    return OffAxisGuider(maker="Brask", **_figures(usual | given))


def guide_camera(**given: Any) -> GuideCamera:
    """A sensor of 1200 by 900 pixels of 4 um: 4.8 by 3.6 mm."""
    usual = {
        "model": "Watch",
        "flange_mm": 12.5,
        "flange_quoted": "optical",
        "width_px": 1200,
        "height_px": 900,
        "pixel_um": 4.0,
        "mass_kg": 0.1,
    }
    return GuideCamera(maker="Quill", **_figures(usual | given))


def mount(rated_kg: float | None = 20.0, **given: Any) -> Mount:
    return Mount(maker="Stone", **_figures({"model": "Mount", "rated_kg": rated_kg} | given))


def item(part: Part) -> CataloguedPart:
    """The part in a catalogue, under a number of its own."""
    return CataloguedPart(next(_numbers), 1, "Ana", 1, part)


def places(parts: Sequence[Part | Place]) -> tuple[Place, ...]:
    found = []
    for key, part in enumerate(parts, start=1):
        if isinstance(part, Place):
            found.append(Place(key, part.item, part.flipped, part.inside, part.set_length_mm))
        else:
            found.append(Place(key, item(part)))
    return tuple(found)


def holding(wheel_part: FilterWheel, *filters: Filter, flipped: bool = False) -> Place:
    """A wheel with filters in it, the first in the beam."""
    return Place(0, item(wheel_part), flipped, tuple(item(f) for f in filters))


def rig(
    *parts: Part | Place,
    gear: Sequence[Part | tuple[Part, int]] = (),
    rules: Rules | None = None,
    load: LoadPlan | None = None,
) -> Rig:
    beside = tuple(Gear(item(g[0]), g[1]) if isinstance(g, tuple) else Gear(item(g)) for g in gear)
    return Rig("Test rig", Train(places(parts)), beside, rules or Rules(), load=load or LoadPlan())


def case(*parts: Part | Place) -> Case:
    return Case(rig(*parts))


def findings(check: str, *parts: Part | Place, **beside: Any) -> list[Finding]:
    """All findings of one check, by all checks run over the rig."""
    return [f for f in run_checks(rig(*parts, **beside)) if f.code.startswith(check + ".")]


def finding(check: str, *parts: Part | Place, **beside: Any) -> Finding:
    """The one finding of a check."""
    found = findings(check, *parts, **beside)
    assert len(found) == 1, [f.code for f in found]
    return found[0]


def number(of: Finding, name: str) -> float:
    """An amount of a finding's sentence, in its fixed unit."""
    return of.phrase.amounts[name].value


def input_named(of: Finding, label: str) -> float:
    """The value of a finding's input whose words begin so."""
    return _amount_named(of, label).value


def shown(of: Finding, label: str) -> str:
    """The same as a metric reader sees it."""
    return write_amount(_amount_named(of, label), "metric")


def _amount_named(of: Finding, label: str) -> Amount:
    found = min((i for i in of.inputs if i.label.startswith(label)), key=lambda i: i.label != label)
    assert found.amount is not None
    return found.amount
