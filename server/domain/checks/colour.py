"""The colour of a lens: how large a star its colours draw together in the filter's band."""

from __future__ import annotations

from collections.abc import Callable

from server.domain.findings import Figure, Weight
from server.domain.measure import nominal
from server.domain.missing import lacks
from server.domain.parts import CataloguedPart, Filter, OpticalTube
from server.domain.said import Missing, said
from server.domain.verdicts import Advice, Given, Verdict
from server.domain.workings.case import (
    Case,
    amount,
    input_of,
    rule_input,
    worked_input,
)
from server.optics.colour import BLUEST_NM, REDDEST_NM, USUAL_PAIR, blur_um, focus_span

VISIBLE_NM = (400.0, 700.0)
"""What a camera without a known band before it is taken to see."""
PIXELS = 2.0
"""A blur within so many pixels, or within the air's, is seen by nobody (a choice of ours, no source)."""
YELLOW_NM = 520.0
"""A filter that cuts more than this takes the green as well (a choice of ours, no source)."""


def check_colour(case: Case) -> tuple[Verdict, ...]:
    """Judge the colour of a refractor; silent for other tubes and while scale or pixels are unknown."""
    optics, camera = case.optics, case.train.camera
    item, focal, factor, ratio = optics.tube, optics.tube_focal_mm, optics.factor, optics.focal_ratio
    if item is None or camera is None or focal is None or factor is None or ratio is None:
        return ()
    tube, sensor = item.part, camera.part
    length, pixel = optics.focal_length_mm, sensor.pixel_um
    if tube.design not in ("achromat", "apochromat") or length is None or pixel is None or not pixel.nominal:
        return ()
    (low, high), held = _band(case)
    scale = focal * factor**2
    limit = max(PIXELS * pixel.nominal, case.rig.rules.seeing_arcsec * length * 1000.0 / 206264.806)

    def doublet(from_nm: float) -> float:
        return blur_um(scale * focus_span(tube.glass_pair or USUAL_PAIR, from_nm, high), ratio)

    stated = tube.colour_shift_mm
    # A figure for all that is visible is too much for a narrow band: there a doublet bounds it.
    blur = doublet(low)
    if stated is not None:
        blur = min(blur, blur_um(stated.nominal * factor**2, ratio))
    amounts = {
        "low": amount(low, "wavelength", 0),
        "high": amount(high, "wavelength", 0),
        "blur": amount(blur, "pixel", 0 if blur >= 10.0 else 1),
        "pixel": amount(pixel.nominal, "pixel"),
        "pixels": amount(blur / pixel.nominal, "count", 0 if blur >= 10.0 * pixel.nominal else 1),
    }
    remedies: tuple[Advice, ...] = ()
    missing: tuple[Missing, ...] = ()
    weight: Weight = "sound"
    code = "colour.sound"
    at_most = tube.design == "apochromat" and stated is None
    if tube.design == "apochromat" and stated is None and blur > limit:
        weight, code = "unknown", "colour.unknown"
        missing = (lacks(item, "colour_shift_mm"),)
    elif blur > limit:
        weight, code = "watch", "colour.halo"
        at = _cut(low, limit, doublet) if stated is None else None
        cut = None if at is None else amount(at, "wavelength", 0)
        remedies = (Advice((said("colour.narrow", cut=cut),)),)
    key = "colour.below_air" if weight == "sound" and blur > PIXELS * pixel.nominal else code
    inputs: list[Given] = [
        worked_input("focal length of the tube", focal, "length", 0),
        worked_input("focal ratio at the sensor", ratio, "ratio"),
        worked_input("band from", low, "wavelength", 0),
        Given(
            label="band to",
            amount=amount(high, "wavelength", 0),
            basis="assumed" if held is None else "worked out",
            of="" if held is None else held.name,
        ),
        _glasses(item, tube),
        input_of("pixel size", camera.item, pixel, "pixel"),
        rule_input(case, "seeing_arcsec", "seeing, full width", "arcsec"),
        worked_input("blur that neither pixels nor air show", limit, "pixel", 1),
    ]
    figure = None if missing else Figure(label="width of the colours' blur", amount=amounts["blur"])
    return (
        Verdict(
            code=code,
            weight=weight,
            says=(said(key, tube=item, at_most=at_most, **amounts),),
            figure=figure,
            remedies=remedies,
            inputs=tuple(inputs),
            missing=missing,
        ),
    )


def _band(case: Case) -> tuple[tuple[float, float], CataloguedPart | None]:
    """The band of the filter in the beam, nm, and the filter; the visible and None where none is known."""
    for place in case.train:
        item = place.filter_in_beam
        if item is None or not isinstance(item.part, Filter):
            continue
        centre, width = nominal(item.part.band_centre_nm), nominal(item.part.band_width_nm)
        if centre is None or width is None:
            continue
        low, high = max(BLUEST_NM, centre - width / 2.0), min(REDDEST_NM, centre + width / 2.0)
        if low < high:
            return (low, high), item
    return VISIBLE_NM, None


def _cut(low_nm: float, limit_um: float, blur_from: Callable[[float], float]) -> float | None:
    """Where to cut the violet so that the rest is within the limit, nm; None where that takes the green."""
    wanted = (low_nm + 5.0 * i for i in range(1, 60) if low_nm + 5.0 * i <= YELLOW_NM)
    return next((nm for nm in wanted if blur_from(nm) <= limit_um), None)


def _glasses(item: CataloguedPart, tube: OpticalTube) -> Given:
    if tube.colour_shift_mm is not None:
        return input_of("focus shift over the visible", item, tube.colour_shift_mm, "length", 2)
    glasses = said("colour.glasses", pair=tube.glass_pair or USUAL_PAIR)
    label = "glasses" if tube.design == "achromat" else "glasses, the worst that it may have"
    basis = "assumed" if tube.glass_pair is None else tube.basis
    return Given(label, None, basis, item.name, glasses)
