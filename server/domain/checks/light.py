"""How much light reaches the sensor: centre, sides and corners, what limits, and what would change it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from server.domain.checks.beam import Opening, openings_of
from server.domain.checks.case import (
    Case,
    amount,
    input_of,
    listed,
    literal,
    rule_input,
    say,
    unknown,
    worked_input,
)
from server.domain.checks.prism import PRISM_SOURCE, Prism, judge_prism, prism_of
from server.domain.findings import Figure, Finding, Input, Remedy
from server.domain.parts import Camera, Corrector, Filter
from server.optics.illumination import aperture_for_full_light_mm, beam_diameter_mm, fraction_through
from server.optics.openings import Beam, Rectangle, Round
from server.optics.openings import Opening as Seen

FORMULA = (
    "beam diameter at x before the sensor = x / N; its offset for image height h = h (1 - x / L); light = "
    "area common to the beam and all openings / area of the beam, times cos^4 of the middle ray's angle; "
    "L = distance of the exit pupil"
)
SOURCE = (
    "Plane geometry: areas common to discs and rectangles, exact (stated error 0.01 % of the beam); cosine "
    "fourth law: Smith, Modern Optical Engineering (from memory). The exit pupil is assumed to lie one focal "
    "length before the sensor (a thin objective with its stop at the front): assumed, no source. What stands "
    "before the last corrector is seen through it as through a thin lens at its reference shoulder."
)
COLUMNS, ROWS = 12, 8
"""Points of one quarter of the sensor, edges and axis among them: the whole map has 23 by 15."""
DARK = 0.25
"""A corner that keeps less is lost rather than mended by flat frames (a choice of ours, no source)."""
FULL = 0.9995
"""A share that a sentence shows as all of the light."""
SMALLEST_MM = 0.01
"""How finely the smallest opening of a place is looked for."""
EDGE = 1e-9
"""Float rounding must not turn a verdict at the very share asked for."""


@dataclass(frozen=True)
class Quarter:
    """The light over one quarter of the sensor (x and y from the axis to the edge), row by row along x.

    through: share of the cone that passes everything; light: that times the natural fall-off; limiting: the
    number of the opening that alone takes most, -1 where none takes any. All by `row * columns + column`.
    """

    x_mm: tuple[float, ...]
    y_mm: tuple[float, ...]
    through: tuple[float, ...]
    light: tuple[float, ...]
    limiting: tuple[int, ...]

    def at(self, column: int, row: int) -> int:
        """The number of a point."""
        return row * len(self.x_mm) + column

    @property
    def points(self) -> dict[str, int]:
        """The centre, the middles of the edges and the corner."""
        right, top = len(self.x_mm) - 1, len(self.y_mm) - 1
        return {
            "centre": self.at(0, 0),
            "end": self.at(right, 0),
            "side": self.at(0, top),
            "corner": self.at(right, top),
        }


@dataclass(frozen=True)
class Lit:
    """A rig's light, worked out: what check and picture both show.

    `quarter` is the one on whose side the prism stands, `unshaded` the same without it.
    """

    openings: tuple[Opening, ...]
    at_mm: tuple[float, ...]
    prism: Prism | None
    quarter: Quarter
    unshaded: Quarter
    beam: Beam
    width_mm: float
    height_mm: float
    lacking: tuple[str, ...]

    def name_of(self, number: int) -> str:
        """The part that an opening's number stands for; "" for none."""
        if number < 0:
            return ""
        if number >= len(self.openings):
            return "" if self.prism is None else f"the prism of {self.prism.place.name}"
        return self.openings[number].item.name


def check_light(case: Case) -> tuple[Finding, ...]:
    """Judge the light over the sensor, and the place of a guider's prism."""
    camera = case.train.camera
    if camera is None or case.train.tube is None:
        return ()
    missing = lacking_for(case)
    if missing:
        sentence = literal(f"The light cone is not known yet: enter {listed(missing)}.")
        return (unknown("beam.unknown", "Light cone", sentence, tuple(missing), source=SOURCE),)
    lit = light_of(case)
    if lit is None:
        lacking = openings_of(case)[1]
        sentence = (
            literal(f"No opening's place is known yet: enter {listed(lacking)}.")
            if lacking
            else "There is no opening to check."
        )
        return (unknown("beam.unknown", "Light cone", sentence, lacking, source=SOURCE),)
    return (
        _judged(case, lit),
        *judge_prism(
            case,
            lit.beam,
            lit.width_mm,
            lit.height_mm,
            lit.quarter.through[lit.quarter.points[_long_side(lit)]],
        ),
    )


def _long_side(lit: Lit) -> str:
    return "side" if lit.width_mm >= lit.height_mm else "end"


def lacking_for(case: Case) -> list[str]:
    """What to enter before any light can be worked out."""
    camera = case.train.camera
    missing = list(case.optics.missing)
    if camera is not None:
        assert isinstance(camera.part, Camera)
        if camera.part.sensor_mm is None:
            missing.append(f"sensor pixels and pixel size of {camera.name}")
    return missing


def light_of(case: Case) -> Lit | None:
    """The light over the sensor; None where focal ratio, sensor or every opening is unknown.

    Raises ValueError for figures beyond what the formulas hold for.
    """
    camera, ratio, focal = case.train.camera, case.optics.focal_ratio, case.optics.focal_length_mm
    if camera is None or ratio is None or focal is None or case.train.tube is None:
        return None
    assert isinstance(camera.part, Camera)
    size = camera.part.sensor_mm
    if size is None:
        return None
    openings, lacking = openings_of(case)
    if not openings:
        return None
    beam = Beam(ratio, focal, case.optics.obstruction or 0.0)
    height = (size[0] ** 2 + size[1] ** 2) ** 0.5 / 2.0
    at = tuple(_worse_end(one, beam, height) for one in openings)
    prism = prism_of(case, beam, *size)
    seen: list[Seen] = [_seen(one, x, beam) for one, x in zip(openings, at, strict=True)]
    if prism is not None:
        seen += prism.in_the_beam
    shades = prism is not None and prism.shades
    unshaded = _quarter(beam, size[0], size[1], tuple(seen[: len(openings)]))
    quarter = _quarter(beam, size[0], size[1], tuple(seen)) if shades else unshaded
    return Lit(tuple(openings), at, prism, quarter, unshaded, beam, size[0], size[1], lacking)


def _seen(one: Opening, at_mm: float, beam: Beam) -> Seen:
    # An opening beyond the assumed exit pupil would need a real ray trace; the pupil's own plane bounds it.
    x = min(max(0.0, one.seen_at_mm(at_mm)), beam.pupil_distance_mm)
    diameter = one.diameter_mm * one.factor
    return Rectangle(x, diameter, diameter) if one.square else Round(x, diameter)


def _alone(one: Opening, at_mm: float, beam: Beam, height: float) -> float:
    x = min(max(0.0, one.seen_at_mm(at_mm)), beam.pupil_distance_mm)
    return fraction_through(one.diameter_mm * one.factor, x, beam.focal_ratio, height, beam.pupil_distance_mm)


def _worse_end(one: Opening, beam: Beam, height: float) -> float:
    """Where its opening lies, or of two ends the one that takes more of the corner, then of the centre."""
    if one.far_mm == one.near_mm:
        return one.far_mm
    return min(
        (one.near_mm, one.far_mm),
        key=lambda x: (_alone(one, x, beam, height), _alone(one, x, beam, 0.0)),
    )


@lru_cache(64)
def _quarter(beam: Beam, width: float, height: float, seen: tuple[Seen, ...]) -> Quarter:
    import numpy as np

    from server.optics.light_map import light_at

    x = np.linspace(0.0, width / 2.0, COLUMNS)
    y = np.linspace(0.0, height / 2.0, ROWS)
    across, up = np.meshgrid(x, y)
    found = light_at(beam, seen, across.ravel(), up.ravel())
    return Quarter(
        tuple(x.tolist()),
        tuple(y.tolist()),
        tuple(found.through.tolist()),
        tuple(found.light.tolist()),
        tuple(found.limiting.tolist()),
    )


def _judged(case: Case, lit: Lit) -> Finding:
    wanted = case.rig.rules.corner_light
    quarter, points = lit.quarter, lit.quarter.points
    corner, centre = quarter.through[points["corner"]], quarter.through[points["centre"]]
    fall = quarter.light[points["corner"]] / corner if corner > 0 else 1.0
    number = quarter.limiting[points["corner"]]
    amounts = {
        "lost": amount(1 - corner, "fraction"),
        "wanted": amount(1 - wanted, "fraction"),
        "centre": amount(1 - centre, "fraction"),
        "end": amount(1 - quarter.through[points["end"]], "fraction"),
        "side": amount(1 - quarter.through[points["side"]], "fraction"),
        "natural": amount(1 - fall, "fraction"),
    }
    remedies: tuple[Remedy, ...] = ()
    if corner >= FULL:
        weight, code = "sound", "beam.sound"
        sentence = "The whole light cone reaches the extreme corners through every opening that is known."
    else:
        sentence = "The extreme corners lose {lost} of their light"
        weight, code = "sound", "beam.little"
        if 0 <= number < len(lit.openings):
            one = lit.openings[number]
            amounts["opening"] = amount(one.diameter_mm, "length", 1)
            amounts["at"] = amount(lit.at_mm[number], "length", 1)
            sentence += (
                literal(f"; {one.item.name}, ") + "{opening} wide and {at} before the sensor, limits most."
            )
        else:
            sentence += literal(f"; {lit.name_of(number)} limits most.")
        sentence += " The middles of the short sides lose {end}, of the long sides {side}."
        if corner < wanted - EDGE:
            weight, code = "watch", "beam.corners"
            sentence += " More than {wanted} is lost: flat frames must make it good."
            remedies = _remedies(case, lit)
        if corner < DARK:
            weight, code = "stop", "beam.dark"
            sentence += " The corners stay dark."
    if fall < 1 - 0.005:
        sentence += " The natural fall-off takes {natural} more."
    if centre < FULL:
        weight = "stop" if centre < DARK else "watch" if weight == "sound" else weight
        code = "beam.centre"
        name = lit.name_of(quarter.limiting[points["centre"]])
        sentence += literal(f" {name} even stops down the centre") + ", by {centre} of the light."
    if lit.lacking:
        sentence += literal(f" Not known yet: enter {listed(_few(lit.lacking))}.")
        if weight == "sound":
            weight, code = "unknown", "beam.part_unknown"
    return Finding(
        code=code,
        weight=weight,
        title="Light cone",
        phrase=say(sentence, **amounts),
        figure=Figure(
            label="light lost in the corner",
            amount=amount(1 - corner, "fraction"),
            at_least=bool(lit.lacking),
        ),
        remedies=remedies,
        inputs=_inputs(case, lit),
        formula=FORMULA,
        source=SOURCE if lit.prism is None else f"{SOURCE} {PRISM_SOURCE}",
        missing=lit.lacking,
    )


def _remedies(case: Case, lit: Lit) -> tuple[Remedy, ...]:
    """What keeps the corner above the share asked for: a wider opening, or the part moved nearer."""
    wanted = case.rig.rules.corner_light
    height = (lit.width_mm**2 + lit.height_mm**2) ** 0.5 / 2.0
    found: list[Remedy] = []
    cutting = [
        i for i, one in enumerate(lit.openings) if _alone(one, lit.at_mm[i], lit.beam, height) < 1 - EDGE
    ]
    smallest = _smallest(lit, wanted)
    for i in cutting:
        one, needed = lit.openings[i], smallest[i]
        if needed is None or needed <= one.diameter_mm:
            continue
        found.append(
            Remedy(
                phrase=say(
                    literal(f"In place of {one.item.name} an opening of ")
                    + "{needed} or more there keeps {kept} of the corner's light.",
                    needed=amount(needed, "length", 1),
                    kept=amount(wanted, "fraction"),
                )
            )
        )
    if not found:
        tight = [i for i in cutting if _alone(lit.openings[i], lit.at_mm[i], lit.beam, height) < wanted]
        names = [lit.openings[i].item.name for i in (tight or cutting)]
        if len(names) > 1:
            found.append(
                Remedy(phrase=say(literal(f"No single one mends it: {listed(names)} must all be wider.")))
            )
    front = case.train.shoulders[-1].sky_mm or 0.0
    found += [r for i in cutting if (r := _nearer(lit, i, wanted, height, front)) is not None]
    return tuple(found)


def _smallest(lit: Lit, wanted: float) -> list[float | None]:
    """The smallest round opening at each place that keeps the corner, the other openings as they are, mm.

    None where the others alone take more than that, and where a square one stands: it is not solved for.
    """
    seen = tuple(_seen(one, at, lit.beam) for one, at in zip(lit.openings, lit.at_mm, strict=True))
    found = _solved(lit.beam, lit.width_mm, lit.height_mm, seen, wanted)
    return [None if d is None else d / one.factor for one, d in zip(lit.openings, found, strict=True)]


@lru_cache(64)
def _solved(
    beam: Beam, width: float, height: float, seen: tuple[Seen, ...], wanted: float
) -> tuple[float | None, ...]:
    from server.optics.light_map import smallest_diameters_mm

    return smallest_diameters_mm(beam, width, height, seen, wanted)


def _nearer(lit: Lit, number: int, wanted: float, height: float, front_mm: float) -> Remedy | None:
    """A filter that is wide enough for the corner once it stands nearer the sensor, at the camera at most."""
    one, at = lit.openings[number], lit.at_mm[number]
    if not isinstance(one.item.part, Filter) or one.factor != 1.0 or isinstance(one.place.part, Corrector):
        return None
    if _alone(one, at, lit.beam, height) >= wanted:
        return None
    low, high = max(0.1, front_mm), at
    if low >= high or _alone(one, low, lit.beam, height) < wanted:
        return None
    for _ in range(20):
        middle = (low + high) / 2.0
        low, high = (middle, high) if _alone(one, middle, lit.beam, height) >= wanted else (low, middle)
    return Remedy(
        phrase=say(
            literal(f"Or bring {one.item.name} ")
            + "{by} nearer the sensor: {at} before it, it keeps {kept} alone.",
            by=amount(at - low, "length", 1),
            at=amount(low, "length", 1),
            kept=amount(wanted, "fraction"),
        )
    )


@lru_cache(1024)
def _smallest_alone(wanted: float, x: float, ratio: float, height: float, pupil: float) -> float:
    """The smallest round opening that keeps a share of the corner's light by itself, to 0.01 mm above."""
    high = aperture_for_full_light_mm(x, ratio, height, pupil)
    if wanted >= 1.0:
        return high
    # It lies between the middle of the corner's cone, less its radius, and the whole of it.
    low = max(0.0, high - 2.0 * beam_diameter_mm(x, ratio))
    while high - low > SMALLEST_MM:
        middle = (low + high) / 2.0
        if fraction_through(middle, x, ratio, height, pupil) >= wanted:
            high = middle
        else:
            low = middle
    return high


def _inputs(case: Case, lit: Lit) -> tuple[Input, ...]:
    beam = lit.beam
    wanted = case.rig.rules.corner_light
    height = (lit.width_mm**2 + lit.height_mm**2) ** 0.5 / 2.0
    points, quarter = lit.quarter.points, lit.quarter
    obstruction = Input(
        label="central obstruction, its shadow in the exit pupil",
        amount=amount(beam.obstruction, "fraction"),
        basis="assumed" if case.optics.obstruction is None else "worked out",
    )
    inputs: list[Input] = [
        worked_input("focal ratio at the sensor", beam.focal_ratio, "ratio"),
        worked_input("image height of the corner", height, "length", 2),
        Input(
            label="exit pupil before the sensor",
            amount=amount(beam.pupil_distance_mm, "length", 0),
            basis="assumed",
        ),
        obstruction,
        rule_input(
            case, "corner_light", "light the corner should keep (common practice, no source)", "fraction"
        ),
        worked_input(
            "light at the corner, natural fall-off too", quarter.light[points["corner"]], "fraction"
        ),
        worked_input("the same at the short sides' middles", quarter.light[points["end"]], "fraction"),
        worked_input("the same at the long sides' middles", quarter.light[points["side"]], "fraction"),
    ]
    alone = [_alone(one, at, beam, height) for one, at in zip(lit.openings, lit.at_mm, strict=True)]
    # Where nothing is cut, what one opening must be by itself is what it must be among the others.
    together = _smallest(lit, wanted) if min(alone) < 1 - EDGE else None
    for i, (one, at) in enumerate(zip(lit.openings, lit.at_mm, strict=True)):
        x = min(max(0.0, one.seen_at_mm(at)), beam.pupil_distance_mm)
        smallest = _smallest_alone(wanted, x, beam.focal_ratio, height, beam.pupil_distance_mm)
        inputs += [
            input_of("opening" if not one.square else "square opening", one.item, one.measure, "length", 1),
            worked_input("its distance before the sensor, in air", at, "length", 1),
            worked_input("light it passes to the corner, alone", alone[i], "fraction"),
            worked_input("smallest round opening there, alone", smallest / one.factor, "length", 1),
        ]
        if together is not None:
            inputs.append(_among_the_others(together[i], one.square))
    return tuple(inputs)


def _among_the_others(diameter: float | None, square: bool) -> Input:
    label = "smallest round opening there, the others as they are"
    if diameter is not None:
        return worked_input(label, diameter, "length", 1)
    why = "not worked out: this one is square" if square else "none: the others alone take more"
    return Input(label=label, amount=None, basis="worked out", text=why)


def _few(words: tuple[str, ...]) -> list[str]:
    """A sentence names three and counts the rest; `missing` has them all."""
    return list(words) if len(words) <= 4 else [*words[:3], f"{len(words) - 3} more"]
