"""Which of the trade's filter sizes pass the sensor's light at the place of the wheel, drawer or filter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from server.domain.findings import Figure, Weight
from server.domain.measure import Measure
from server.domain.parts import CataloguedPart, Filter, FilterWheel
from server.domain.said import Missing, Named, Said, named, said
from server.domain.train import Place
from server.domain.verdicts import Later, Verdict
from server.domain.workings.case import (
    Case,
    amount,
    sensor_inputs,
    worked_input,
)
from server.domain.workings.in_beam import beam_ratio, glass_in
from server.optics.beam import Beam
from server.optics.filter_size import round_needed_mm, square_needed_mm

MOUNTED = {"mounted_1_25": 26.0, "mounted_2": 45.0}
UNMOUNTED = {"round_31": 29.0, "round_36": 34.0, "round_50": 48.0, "square_50": 48.0, "square_65": 63.0}
"""The least clear aperture, mm, of what is sold in a size (common practice, no source)."""
CLEAR_MM = MOUNTED | UNMOUNTED


@dataclass(frozen=True)
class _Need:
    """What must be clear at a place, mm: round, and the side of a square."""

    round_mm: float
    square_mm: float

    def passes(self, size: str, clear_mm: float) -> bool:
        return clear_mm >= (self.square_mm if size.startswith("square_") else self.round_mm)

    def smallest(self, sizes: dict[str, float]) -> str | None:
        return next((size for size, clear in sizes.items() if self.passes(size, clear)), None)

    @property
    def sizes(self) -> tuple[str, ...]:
        return tuple(size for sizes in (MOUNTED, UNMOUNTED) if (size := self.smallest(sizes)))


def check_filter_size(case: Case) -> tuple[Verdict, ...]:
    """Tell the smallest sizes that pass; what is there and clips is judged by the light that it takes.

    Silent while the place or the beam is not known: the light cone says what to enter.
    """
    camera, traced = case.train.camera, case.traced
    place = _place_in(case)
    if place is None or camera is None or traced is None:
        return ()
    size, at = camera.part.sensor_mm, _at_mm(case, place)
    if size is None or at is None:
        return ()
    needs = [_need(beam, at, *size) for beam in traced.ends]
    need = max(needs, key=lambda one: one.round_mm)
    sizes = list(dict.fromkeys(one.sizes for one in sorted(needs, key=lambda one: one.round_mm)))
    wide = amount(need.round_mm, "length", 1)
    missing: tuple[Missing, ...] = ()
    there = _there(place)
    fits = None if there is None else need.passes(there[0], there[1])
    weight: Weight = "sound"
    facts: dict[str, Any] = {"place": place, "at": amount(max(at), "length", 0), "wide": wide}
    facts["there"] = None if there is None else there[2]
    facts["sizes"] = _sizes(sizes[0])
    if fits and there is not None:
        code = "filter_size.sound"
        # A size that is the smallest itself need not be told twice.
        if there[0] in need.sizes or not there[0]:
            facts["sizes"] = ()
        else:
            facts["sizes"] = _sizes(need.sizes)
    elif len(sizes) > 1:
        weight, code, missing = "unknown", "filter_size.unknown", traced.asks[:1]
        facts |= {"less": _sizes(sizes[0]), "more": _sizes(sizes[-1]), "decides": missing[0]}
    else:
        code = "filter_size.told"
    return (
        Verdict(
            code=code,
            weight=weight,
            says=(said(code, **facts),),
            figure=Figure(label="clear diameter that passes all light", amount=wide),
            inputs=Later(
                lambda: (
                    worked_input("filter before the sensor, in air", max(at), "length", 1),
                    worked_input("focal ratio at the sensor", traced.beam.focal_ratio, "ratio"),
                    *sensor_inputs(camera.item),
                    worked_input("clear diameter needed, round", need.round_mm, "length", 1),
                    worked_input("clear side needed, square", need.square_mm, "length", 1),
                )
            ),
            place=place.key,
            missing=missing,
        ),
    )


def _place_in(case: Case) -> Place | None:
    """The wheel or drawer, else the first filter by itself."""
    found = [p for p in case.train if isinstance(p.part, FilterWheel | Filter)]
    return next((p for p in found if isinstance(p.part, FilterWheel)), found[0] if found else None)


def _at_mm(case: Case, place: Place) -> tuple[float, float] | None:
    """Where the filter may stand before the sensor, mm in air: both ends of its place where nobody says."""
    train, part = case.train, place.part
    shoulders = train.shoulders[train.index_of(place)]
    far, near = shoulders.sky_mm, shoulders.camera_mm
    if far is None or near is None:
        return None
    at: Measure | None = None
    if isinstance(part, FilterWheel):
        at = part.filter_at_mm
    elif isinstance(part, Filter):
        at = part.aperture_at_mm
    if at is not None:
        x = near + at.nominal if place.flipped else far - at.nominal
        far = near = min(far, max(near, x))
    shift = sum(glass.shift_mm for glass in glass_in(train.after(place), beam_ratio(train))[0])
    return max(0.0, far - shift), max(0.0, near - shift)


def _need(beam: Beam, at: tuple[float, float], width: float, height: float) -> _Need:
    """The larger of what both ends of the place ask for."""
    return _Need(
        max(round_needed_mm(beam, x, width, height) for x in at),
        max(square_needed_mm(beam, x, width, height) for x in at),
    )


def _there(place: Place) -> tuple[str, float, Said | Named] | None:
    """What is there: its size, its clear aperture (mm) and what to call it; None while neither is known."""
    held: CataloguedPart | None = place.filter_in_beam
    part = place.part if held is None else held.part
    size = ""
    if isinstance(part, Filter | FilterWheel) and part.format is not None:
        size = part.format
    elif isinstance(place.part, FilterWheel) and place.part.format is not None:
        size = place.part.format
    clear = part.clear_aperture_mm if isinstance(part, Filter) else None
    if clear is not None and clear.nominal > 0.0:
        return size, clear.nominal, _size(size) if size in CLEAR_MM or held is None else named(held)
    return (size, CLEAR_MM[size], _size(size)) if size in CLEAR_MM else None


def _size(size: str) -> Said:
    return said("filter_size.size", size=size)


def _sizes(sizes: Sequence[str]) -> list[Said]:
    return [_size(size) for size in sizes]
