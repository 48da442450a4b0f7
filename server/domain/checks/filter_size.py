"""Which of the trade's filter sizes pass the sensor's light at the place of the wheel, drawer or filter."""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.checks.case import (
    COMMON_PRACTICE,
    Case,
    amount,
    literal,
    say,
    sensor_inputs,
    worked_input,
)
from server.domain.checks.in_beam import beam_ratio, glass_in
from server.domain.findings import Figure, Finding
from server.domain.measure import Measure
from server.domain.parts import CataloguedPart, Filter, FilterWheel
from server.domain.train import Place
from server.optics.beam import Beam
from server.optics.filter_size import round_needed_mm, square_needed_mm

FORMULA = (
    "round: the diameter at which the corner's light, y D / 2 to either side of h Y / F, keeps 99 %; square: "
    "w Y / F + y D over the long side w"
)
SOURCE = f"Plane geometry of the traced beam. Clear apertures of the trade's sizes: {COMMON_PRACTICE}"
MOUNTED = {"mounted_1_25": 26.0, "mounted_2": 45.0}
UNMOUNTED = {"round_31": 29.0, "round_36": 34.0, "round_50": 48.0, "square_50": 48.0, "square_65": 63.0}
"""The least clear aperture, mm, of what is sold in a size (common practice, no source)."""
CLEAR_MM = MOUNTED | UNMOUNTED
WORDS = {
    "mounted_1_25": "1.25 in mounted",
    "mounted_2": "2 in mounted",
    "round_31": "31 mm round",
    "round_36": "36 mm round",
    "round_50": "50 mm round",
    "square_50": "50 mm square",
    "square_65": "65 mm square",
}


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
    def words(self) -> str:
        found = [WORDS[size] for sizes in (MOUNTED, UNMOUNTED) if (size := self.smallest(sizes))]
        return " and ".join(found)


def check_filter_size(case: Case) -> tuple[Finding, ...]:
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
    words = list(dict.fromkeys(one.words for one in sorted(needs, key=lambda one: one.round_mm)))
    amounts = {"at": amount(max(at), "length", 0), "wide": amount(need.round_mm, "length", 1)}
    missing: tuple[str, ...] = ()
    there = _there(place)
    fits = None if there is None else need.passes(there[0], there[1])
    weight, code = "sound", "filter_size.sound"
    name = literal(place.name)
    if fits and there is not None:
        sentence = f"{there[2]} at {name}, {{at}} before the sensor, passes all its light"
        # A size that is the smallest itself need not be told twice.
        told = not need.words or WORDS.get(there[0], "") in need.words
        sentence += "." if told else f"; the smallest that do are {need.words}."
    elif len(words) > 1:
        weight, code, missing = "unknown", "filter_size.unknown", traced.asks[:1]
        sentence = (
            f"At {name}, {{at}} before the sensor, the smallest filters that pass all its light are "
            + literal(" or ".join(one or "larger than any of the trade's" for one in words))
            + literal(f". What decides is {missing[0]}.")
        )
    else:
        code = "filter_size.told"
        sentence = f"At {name}, {{at}} before the sensor, "
        sentence += (
            f"the smallest filters that pass all its light are {words[0]}."
            if words[0]
            else "no filter of the trade's sizes passes all its light: nearer the sensor a smaller one does."
        )
        if there is not None:
            sentence += f" {there[2]} is there: the light cone says what it costs."
    return (
        Finding(
            code=code,
            weight=weight,
            title="Filter size",
            phrase=say(sentence, **amounts),
            figure=Figure(label="clear diameter that passes all light", amount=amounts["wide"]),
            inputs=(
                worked_input("filter before the sensor, in air", max(at), "length", 1),
                worked_input("focal ratio at the sensor", traced.beam.focal_ratio, "ratio"),
                *sensor_inputs(camera.item),
                worked_input("clear diameter needed, round", need.round_mm, "length", 1),
                worked_input("clear side needed, square", need.square_mm, "length", 1),
            ),
            formula=FORMULA,
            source=SOURCE,
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


def _there(place: Place) -> tuple[str, float, str] | None:
    """What is there: its size, its clear aperture (mm) and words for it; None while neither is known."""
    held: CataloguedPart | None = place.filter_in_beam
    part = place.part if held is None else held.part
    size = ""
    if isinstance(part, Filter | FilterWheel) and part.format is not None:
        size = part.format
    elif isinstance(place.part, FilterWheel) and place.part.format is not None:
        size = place.part.format
    clear = part.clear_aperture_mm if isinstance(part, Filter) else None
    if clear is not None and clear.nominal > 0.0:
        return size, clear.nominal, WORDS.get(size) or (literal(held.name) if held else "The filter")
    return (size, CLEAR_MM[size], WORDS[size]) if size in CLEAR_MM else None
