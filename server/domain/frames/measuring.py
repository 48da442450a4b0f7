"""From files to what they say: stars found frame by frame, matched, measured, and the surface fitted."""

from __future__ import annotations

import base64
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Literal

import numpy as np

from server.domain.frames.asked import FrameAsked, SetAsked
from server.domain.frames.measured import (
    CUT_PX,
    MOST_STARS,
    Common,
    Cut,
    FrameLine,
    HintFound,
    Measured,
    PlateFound,
    StarTable,
    SurfaceFound,
    Value,
)
from server.domain.stars.field import PLACES
from server.frames import surface as ground
from server.frames.finding import HALF, Stars, find_stars, untold
from server.frames.matching import match
from server.frames.measuring import Shapes, measure, radius_for
from server.frames.nature import balanced, is_stretched, noise_alike, size_by_light
from server.frames.one_frame import hint
from server.frames.plate import focal_length_mm
from server.frames.reading import FrameRefusedError, open_frame
from server.frames.robust import fit
from server.frames.surface import LEAST_STARS, Surface, Told, fit_surface

LEAST_SHARED = 10
"""Of fewer stars not even what they share is told."""
Trouble = Literal["", "no_stars", "few_stars", "no_match", "one_place", "wrong_step"]


class FrameTroubleError(ValueError):
    """A frame of a set cannot be read: which, and a sentence."""

    def __init__(self, name: str, sentence: str) -> None:
        super().__init__(sentence)
        self.name = name


class _Taken:
    """One frame, found: what stays of it once its file is closed."""

    def __init__(self, asked: FrameAsked, mosaic: bool, quick: bool, told: Callable[[float], None]) -> None:
        with open_frame(Path(asked.file), asked.extension) as frame:
            self.size = (frame.width_px, frame.height_px)
            self.header, self.kind = frame.header, frame.kind
            self.bits, self.colours = frame.bits, frame.colours
            raw = mosaic and frame.colours == 1
            rows = balanced(frame.rows, frame.height_px) if raw else frame.rows
            self.mosaic = raw
            self.stars: Stars = find_stars(rows, *self.size, told=told, windows=quick)
            self.alike = noise_alike(frame.rows, *self.size)


def measure_set(asked: SetAsked, now: datetime, told: Callable[[float], None] = untold) -> Measured:
    """Return what a set of frames says.

    told: is told the share that is done, 0 to 1. Raises FrameTroubleError for a file that cannot be read, or
    that is not of the size of the first.
    """
    taken: list[_Taken] = []
    count = len(asked.frames)
    for number, one in enumerate(asked.frames):

        def share(part: float, number: int = number) -> None:
            told((number + 0.95 * part) / count)

        try:
            taken.append(_Taken(one, asked.mosaic, asked.quick, share))
        except FrameRefusedError as error:
            raise FrameTroubleError(one.name, str(error)) from error
        if taken[-1].size != taken[0].size:
            width, height = taken[-1].size
            raise FrameTroubleError(
                one.name,
                f"It has {width} x {height} pixels, and {asked.frames[0].name} has {taken[0].size[0]} x "
                f"{taken[0].size[1]}. Frames of one set are of one camera, uncropped and binned alike.",
            )
    return _put_together(asked, taken, now)


def _put_together(asked: SetAsked, taken: list[_Taken], now: datetime) -> Measured:
    stars = [one.stars for one in taken]
    numbers = match(stars)
    radius = radius_for([one.width for one in stars])
    shapes = [
        measure(one.stamps[row], one.corner[row], radius) for one, row in zip(stars, numbers, strict=True)
    ]
    width, height = taken[0].size
    focus = [asked.focus_um(one) for one in asked.frames]
    stretched = list(map(is_stretched, stars, shapes))
    surface, found_hint, trouble = _fitted(asked, shapes, focus, stars, any(stretched), width, height)
    drift, coma = _shared(shapes, surface, any(stretched))
    return Measured(
        made_at=now,
        light=asked.light,
        spacing_mm=asked.spacing_mm,
        width_px=width,
        height_px=height,
        sensor_px=asked.sensor_px,
        binning=asked.binning,
        rows_up=taken[0].kind == "FITS",
        mosaic=any(one.mosaic for one in taken),
        quick=asked.quick,
        radius_px=radius,
        frames=tuple(_line(*of) for of in zip(asked.frames, taken, shapes, focus, stretched, strict=True)),
        matched=numbers.shape[1],
        surface=None if surface is None else _surface(surface),
        hint=found_hint,
        drift=drift,
        coma=coma,
        plate=_plate(asked, taken),
        trouble=trouble,
        stars=_table(shapes),
        left=_left(surface),
        cuts=_cuts(shapes, [one.stamps[row] for one, row in zip(stars, numbers, strict=True)], width, height),
    )


def _fitted(
    asked: SetAsked,
    shapes: list[Shapes],
    focus: list[float | None],
    stars: list[Stars],
    stretched: bool,
    width: int,
    height: int,
) -> tuple[Surface | None, HintFound | None, Trouble]:
    if not all(one.seen for one in stars):
        return None, None, "no_stars"
    known = [place for place in focus if place is not None]
    if len(shapes) > 1 and not len(shapes[0].x) >= 0.2 * min(len(one) for one in stars):
        return None, None, "no_match"
    if len(shapes[0].x) < (LEAST_SHARED if stretched else LEAST_STARS):
        return None, None, "few_stars"
    if asked.light is None or stretched:
        return None, None, ""
    said = asked.light
    light = ground.Light(said.focal_ratio, said.obstruction, said.pixel_um, said.wave_nm / 1000.0)
    try:
        if len(shapes) == 1:
            one = hint(shapes[0], light, width, height)
            return (
                None,
                HintFound(
                    tilt_u=one.tilt.real,
                    tilt_v=one.tilt.imag,
                    curvature=one.curvature,
                    astigmatism=one.astigmatism,
                    explained=one.explained,
                    clear=one.clear,
                    side=asked.side,
                ),
                "",
            )
        if len(known) < len(shapes):
            return None, None, ""
        if max(known) - min(known) < 2.0 * light.focal_ratio * light.pixel_um:
            return None, None, "one_place"
        found = fit_surface(shapes, known, light, width, height)
        return (None, None, "wrong_step") if found.in_focus_px is None else (found, None, "")
    except ValueError:
        return None, None, "few_stars"


def _shared(
    shapes: list[Shapes], surface: Surface | None, stretched: bool
) -> tuple[Common | None, Common | None]:
    """Return the shape and the third moment that all stars share."""
    if surface is not None:
        return (
            Common(across=surface.drift.real, up=surface.drift.imag, error=surface.drift_error),
            Common(across=surface.coma.real, up=surface.coma.imag, error=surface.coma_error),
        )
    if not stretched:
        # One frame's own focus and astigmatism draw all its stars out alike.
        return None, None
    found = []
    for name in ("moment", "third"):
        values = np.mean(np.stack([getattr(one, name) for one in shapes]), axis=0)
        keep = np.isfinite(values.real)
        if int(keep.sum()) < LEAST_SHARED:
            return None, None
        flux = shapes[0].flux[keep]
        fits = [
            fit(np.ones((int(keep.sum()), 1)), part, flux) for part in (values[keep].real, values[keep].imag)
        ]
        across, up = (float(one.values[0]) for one in fits)
        found.append(Common(across=across, up=up, error=max(one.error(0) for one in fits)))
    return found[0], found[1]


def _line(asked: FrameAsked, one: _Taken, shape: Shapes, focus: float | None, stretched: bool) -> FrameLine:
    sizes = shape.half_flux[np.isfinite(shape.half_flux)]
    return FrameLine(
        name=asked.name,
        focus_um=focus,
        focuser=asked.focuser,
        seen=one.stars.seen,
        clean=len(one.stars),
        cut_off=one.stars.cut_off,
        crowded=one.stars.crowded,
        half_flux_px=float(np.median(sizes)) if len(sizes) else None,
        alike=one.alike,
        size_by_light=size_by_light(shape),
        stretched=stretched,
        eight_bit=one.bits == 8,
        colours=one.colours,
        stacked=one.header.stacked,
        exposure_s=one.header.exposure_s,
        temperature_c=one.header.temperature_c,
        filter=one.header.filter,
        taken=one.header.taken,
    )


def _plate(asked: SetAsked, taken: list[_Taken]) -> PlateFound | None:
    plate = next((one.header.plate for one in taken if one.header.plate is not None), None)
    if plate is None or asked.light is None:
        return None
    scale = plate.scale_arcsec
    width, height = taken[0].size
    corners = (plate.scale_at(x, y) / scale - 1.0 for x in (1, width) for y in (1, height))
    return PlateFound(
        corner=max(corners, key=abs),
        scale_arcsec=scale,
        mirrored=plate.mirrored,
        focal_mm=focal_length_mm(scale, asked.light.pixel_um),
    )


def _surface(found: Surface) -> SurfaceFound:
    def value(one: Told) -> Value:
        return Value(value=one.value, error=one.error)

    return SurfaceFound(
        tilt_u=value(found.tilt_u),
        tilt_v=value(found.tilt_v),
        curvature=value(found.curvature),
        astigmatism=value(found.astigmatism),
        astigmatism_u=value(found.astigmatism_u),
        astigmatism_v=value(found.astigmatism_v),
        focus=None if found.focus is None else value(found.focus),
        in_focus_px=found.in_focus_px,
        agree=found.agree,
        stars=found.stars,
    )


def _left(found: Surface | None) -> tuple[tuple[float, float], ...]:
    if found is None:
        return ()
    left = found.residuals_um - np.median(found.residuals_um)
    pairs = zip(np.abs(found.place), left, strict=True)
    return tuple((round(float(r), 3), round(float(um), 2)) for r, um in pairs)[:MOST_STARS]


def _table(shapes: list[Shapes]) -> StarTable:
    keep = np.ones(len(shapes[0].x), dtype=bool)
    for one in shapes:
        keep &= np.isfinite(one.half_flux) & np.isfinite(one.moment.real)
    best = np.flatnonzero(keep)
    best = np.sort(best[np.argsort(-shapes[0].flux[best])][:MOST_STARS])

    def column(values: np.ndarray, digits: int) -> tuple[float, ...]:
        return tuple(round(float(value), digits) for value in values[best])

    return StarTable(
        x=column(shapes[0].x, 2),
        y=column(shapes[0].y, 2),
        flux=column(shapes[0].flux, 1),
        half_flux=tuple(column(one.half_flux, 3) for one in shapes),
        moment_across=tuple(column(one.moment.real, 4) for one in shapes),
        moment_up=tuple(column(one.moment.imag, 4) for one in shapes),
    )


def _cuts(shapes: list[Shapes], stamps: list[np.ndarray], width: int, height: int) -> tuple[Cut, ...]:
    """Return the brightest star near each of the nine places, each once."""
    first = shapes[0]
    good = np.isfinite(first.half_flux)
    half = CUT_PX // 2
    cuts, used = [], set()
    for name, across, up in PLACES:
        x, y = (0.5 + 0.47 * across) * width, (0.5 + 0.47 * up) * height
        near = np.hypot((first.x - x) / width, (first.y - y) / height)
        candidates = [
            int(n)
            for n in np.argsort(np.where(good, near, np.inf))[:6]
            if good[n] and near[n] < 0.2 and n not in used
        ]
        if not candidates:
            continue
        chosen = max(candidates, key=lambda n: float(first.flux[n]) if near[n] < 0.12 else -float(near[n]))
        used.add(chosen)
        pictures = []
        for stack in stamps:
            part = stack[chosen, HALF - half : HALF + half + 1, HALF - half : HALF + half + 1]
            part = part - np.median(stack[chosen])
            share = np.clip(part / max(float(part.max()), 1e-9), 0.0, 1.0)
            pictures.append(base64.b64encode(np.rint(255.0 * share).astype(np.uint8).tobytes()).decode())
        cuts.append(
            Cut(place=name, x=float(first.x[chosen]), y=float(first.y[chosen]), pictures=tuple(pictures))
        )
    return tuple(cuts)
