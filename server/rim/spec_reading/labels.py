"""What a label of a specification means for each kind of part.

The words of the fields themselves come first. Beside them stand the trade's (common practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

from server.domain.fields import FieldSpec
from server.domain.parts import KINDS, specs_of

SENSOR_SIZE, PIXEL_COUNT, FOCAL_RATIO, SOME_SIDE = "sensor size", "pixel count", "focal ratio", "some side"
"""Labels that are no field of their own: a size in mm, a count of pixels, f/N, a connection of no side."""

COMMON = frozenset({"maker", "model", "mass_kg", "price", "document", "note", "basis"})
"""Fields of every kind: they speak for none."""

OPEN_LABELS = frozenset(
    {"specification", "specifications", "specs", "details", "data", "sensor", "optics", "telescope", "camera"}
    | {"mount", "product"}
)
"""Headings that people put before several values: what stands behind them is read as if it stood alone."""
KIND_LABELS = frozenset({"type", "kind", "category", "product type", "item"})
"""Labels whose value may name the kind of part."""

_TRADE = {
    "weight, net weight, own weight, mass": "mass_kg",
    "brand, manufacturer, made by": "maker",
    "name, product name, product": "model",
    "cost, list price": "price",
    "link, url, datasheet, data sheet": "document",
    "aperture, aperture diameter, objective diameter, objective, lens diameter, mirror diameter, "
    "primary diameter, primary mirror diameter, clear aperture": "aperture_mm clear_aperture_mm",
    "clear opening, free aperture, free opening, throat": "clear_aperture_mm",
    "focal distance, fl": "focal_length_mm",
    "central obstruction, obstruction": "obstruction_mm obstruction_share",
    "back focus, backfocus, back focus distance, back focus length, back focal distance, back spacing, "
    "working distance, required back focus": "back_focus_mm flange_mm length_mm",
    "flange focal distance, flange, flange back, flange back distance, sensor distance, "
    "flange distance": "flange_mm",
    "length, height, optical path, optical path length, light path, light path length, optical thickness, "
    "path length, optical height": "length_mm plate_length_mm tube_length_mm",
    "thickness": "length_mm thickness_mm",
    "illuminated circle, illuminated field, corrected field, corrected image circle, image circle diameter, "
    "image circle": "image_circle_mm corrected_circle_mm",
    "design, optical design, type, optical type": "design corrector_type mount_type chemistry",
    "tube diameter, outside diameter": "outer_diameter_mm fits_to_mm",
    "inside diameter, inner diameter": "fits_from_mm bore_mm",
    "bore diameter, shaft hole": "bore_mm",
    "focuser load, focuser payload, focuser load capacity": "focuser_capacity_kg",
    "reduction, reduction factor, reducer factor, magnification, magnification factor": "factor",
    "camera thread, rear thread, rear connection, camera side thread, camera side": "camera_side",
    "telescope side, telescope side thread, telescope thread, sky side, sky side thread, "
    "front thread": "sky_side",
    "pixel, pixel pitch": "pixel_um",
    "mono or color, color, colour, sensor type, chroma": "colour",
    "adc, bit depth, adc bit depth, adc resolution": "bits",
    "quantum efficiency, qe, peak qe, qe peak, peak quantum efficiency": "quantum_efficiency",
    "readout noise, read out noise": "gains.read_noise_e",
    "full well capacity, full well depth": "gains.full_well_e",
    "dark current": "dark_current.dark_e_s",
    "conversion gain, system gain": "gains.conversion_e",
    "cooling, cooling delta, delta t, tec cooling, temperature difference": "cooling_k",
    "voltage, supply voltage, input voltage, operating voltage, power supply": "voltage_v",
    "current draw, current consumption, current": "current_a current_idle_a",
    "window, protective window, protective glass": "window_thickness_mm",
    "slots, filter positions, number of filters, filter slots": "positions",
    "filter size, size": "format",
    "bandwidth, bandpass, fwhm, passband": "band_width_nm",
    "wavelength, central wavelength, center wavelength, centre wavelength, cwl": "band_centre_nm",
    "transmission": "peak_transmission",
    "payload, payload capacity, load capacity, carrying capacity, load, maximum load, capacity, "
    "rated payload, rated, rated for": "rated_kg capacity_kg capacity_ah",
    "counterweight shaft diameter, counterweight bar diameter, shaft diameter": "bar_diameter_mm",
    "counterweight shaft length, counterweight bar length": "bar_length_mm",
    "periodic error": "periodic_error_arcsec",
    "focuser travel, focus travel, drawtube travel": "travel_mm",
    "step size": "step_um",
    "dovetail bar, plate profile": "dovetail saddle",
    "battery type, cell type": "chemistry",
    "sensor size, chip size, sensor dimensions, sensor area, imaging area, active area": SENSOR_SIZE,
    "resolution, sensor resolution, pixels, number of pixels, effective pixels, pixel array, "
    "image size": PIXEL_COUNT,
    "focal ratio, f ratio, f number, f stop, aperture ratio, speed": FOCAL_RATIO,
    "thread, connection, connector, mount thread, connecting thread, connection thread": SOME_SIDE,
}
_TWO_MEANINGS = frozenset({("filter", "thickness")})
"""Of a mounted filter it may be the glass's or the cell's."""

_UNIT = re.compile(r"[(\[]\s*([^()\[\]]{1,12})\s*[)\]]")
_LEADING = re.compile(r"(?:max|maximum|total|nominal) ")

Means = tuple[str, ...]
"""What a label may mean for a kind, in the order to be tried: fields, `table.column`, or a special label."""


def plain_label(text: str) -> tuple[str, str]:
    """Return a label in small letters without signs, and the unit in brackets behind it, or ""."""
    unit = _UNIT.search(text)
    bare = _UNIT.sub(" ", text)
    return " ".join(re.findall(r"[^\W_]+", bare.casefold())), unit[1].strip() if unit else ""


@cache
def labels_of(kind: str) -> Mapping[str, Means]:
    """Return what each label means for a kind."""
    means: dict[str, Means] = {}
    specs = specs_of(kind)
    has = {spec.name for spec in specs} | {
        f"{spec.name}.{column.name}" for spec in specs for column in spec.columns
    }
    for labels, wanted in _TRADE.items():
        found = (
            (wanted,)
            if " " in wanted and _special(wanted, has)
            else tuple(name for name in wanted.split() if name in has)
        )
        for label in labels.split(", ") if found else ():
            if (kind, label) not in _TWO_MEANINGS:
                means[label] = found
    for spec in specs:
        for label, name in _own_labels(spec):
            means.setdefault(label, (name,))
    return MappingProxyType(means)


def _special(wanted: str, has: set[str]) -> bool:
    needs = {SENSOR_SIZE: "pixel_um", PIXEL_COUNT: "width_px", FOCAL_RATIO: "focal_length_mm"}
    sides = {"sky_side", "camera_side", "saddle", "dovetail"}
    return needs.get(wanted) in has or (wanted == SOME_SIDE and bool(sides & has))


def _own_labels(spec: FieldSpec) -> list[tuple[str, str]]:
    columns = [(plain_label(column.label)[0], f"{spec.name}.{column.name}") for column in spec.columns]
    return [(plain_label(spec.label)[0], spec.name), (spec.name, spec.name), *columns]


@cache
def all_labels() -> frozenset[str]:
    """Return every label that means something for some kind."""
    return frozenset(label for kind in KINDS for label in labels_of(kind))


def known_label(label: str) -> str:
    """Return the label as it is known ("max payload" is payload), "" where it means nothing to any kind."""
    if label in all_labels() or label in KIND_LABELS:
        return label
    shorter = _LEADING.sub("", label, count=1)
    return shorter if shorter in all_labels() else ""
