"""Do the image circles of tube and corrector cover the sensor?"""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.checks.case import (
    COMMON_PRACTICE,
    Case,
    amount,
    input_of,
    listed,
    literal,
    say,
    sensor_inputs,
    unknown,
    worked_input,
)
from server.domain.findings import Figure, Finding, Input, Remedy
from server.domain.measure import Measure
from server.domain.parts import Camera, CataloguedPart, Corrector, OpticalTube

FORMULA = (
    "diagonal = sqrt(width^2 + height^2); the tube's circle is multiplied by the factor of the correctors "
    "behind it"
)
SOURCE = (
    "Plane geometry; Gaussian optics for the factor. "
    f"That the circle should reach the diagonal: {COMMON_PRACTICE}"
)

EDGE_MM = 1e-9
"""A picometre of float rounding must not turn a verdict."""


def check_coverage(case: Case) -> tuple[Finding, ...]:
    """Compare each known circle with the sensor's diagonal and sides; the smallest circle decides."""
    camera = case.train.camera
    if camera is None or case.train.tube is None:
        return ()
    part = camera.part
    assert isinstance(part, Camera)
    size, diagonal = part.sensor_mm, part.diagonal_mm
    if size is None or diagonal is None:
        what = f"sensor pixels and pixel size of {camera.name}"
        return (
            unknown(
                "coverage.sensor",
                "Circle",
                literal(f"Not known yet: enter the {what}."),
                (what,),
                source=SOURCE,
            ),
        )
    circles, missing = _circles(case)
    if not circles:
        sentence = literal(f"Whether the sensor is covered is not known yet: enter {listed(missing)}.")
        return (unknown("coverage.unknown", "Circle", sentence, missing, source=SOURCE),)
    diameter, index, label, measure, scaled = min(circles, key=lambda circle: circle[0])
    item = case.train.places[index].item
    amounts = {
        "circle": amount(diameter, "length", 1),
        "diagonal": amount(diagonal, "length", 1),
        "width": amount(size[0], "length", 1),
        "height": amount(size[1], "length", 1),
        "over": amount((diagonal - diameter) / 2, "length", 1),
    }
    name = literal(item.name)
    behind = [c.item.name for c in _correctors_behind(case, index)] if scaled else []
    if behind:
        # The number is no longer the one that the tube is sold with.
        how = "reduced" if diameter < measure.nominal else "enlarged"
        name += literal(f", {how} by {listed(behind)}")
        name += " to {circle},"
    else:
        name += ", {circle},"
    if diameter >= diagonal - EDGE_MM:
        weight, code = "sound", "coverage.sound"
        sentence = f"The {label} of {name} covers the sensor's diagonal of {{diagonal}}."
        if missing:
            weight, code = "unknown", "coverage.part_unknown"
            sentence += literal(f" Not known yet: enter {listed(missing)}.")
    else:
        weight, code = (
            ("watch", "coverage.corners") if diameter >= max(size) - EDGE_MM else ("stop", "coverage.edges")
        )
        ends = "" if weight == "watch" else ", and the ends of its long side are outside too"
        sentence = (
            f"The {label} of {name} is smaller than the sensor's diagonal of {{diagonal}}: "
            f"the corners lie {{over}} outside{ends}."
        )
    remedies = (
        (
            Remedy(
                phrase=say(
                    "Crop to a diagonal of {circle}, or choose a tube and corrector with a larger circle.",
                    circle=amounts["circle"],
                )
            ),
        )
        if weight in ("watch", "stop")
        else ()
    )
    inputs: list[Input] = [
        input_of(label + (", before the correctors behind it" if scaled else ""), item, measure, "length")
    ]
    if scaled:
        inputs += [
            input_of("factor", c.item, c.part.factor, "times") for c in _correctors_behind(case, index)
        ]
        inputs.append(worked_input("the same at the sensor", diameter, "length", 1))
    inputs += sensor_inputs(camera.item)
    return (
        Finding(
            code=code,
            weight=weight,
            title="Circle",
            phrase=say(sentence, **amounts),
            figure=Figure(label="circle less diagonal", amount=amount(diameter - diagonal, "length", 1)),
            remedies=remedies,
            inputs=tuple(inputs),
            formula=FORMULA,
            source=SOURCE,
            missing=missing,
        ),
    )


@dataclass(frozen=True)
class _Behind:
    """A corrector with its catalogued part."""

    item: CataloguedPart
    part: Corrector


def _correctors_behind(case: Case, index: int) -> list[_Behind]:
    """The correctors nearer the sensor than the place at an index, in order."""
    return [
        _Behind(place.item, place.part)
        for place in case.train.places[index + 1 :]
        if isinstance(place.part, Corrector)
    ]


def _factor_behind(case: Case, index: int) -> float | None:
    """What everything behind a place does to the size of its image; None while a factor is not known."""
    factor = 1.0
    for behind in _correctors_behind(case, index):
        if behind.part.factor is None:
            return None
        factor *= behind.part.factor.nominal
    return factor


_Circle = tuple[float, int, str, Measure, bool]


def _circles(case: Case) -> tuple[list[_Circle], tuple[str, ...]]:
    """(diameter at the sensor, place, its name, the figure, whether a factor was applied), and what lacks.

    A corrector's own circle is quoted behind it and says what tube and corrector give together; the tube's
    circle then only counts if it is the smaller one.
    """
    found: list[_Circle] = []
    missing: list[str] = []
    for index, place in enumerate(case.train):
        part = place.part
        if isinstance(part, OpticalTube):
            label, measure = "image circle", part.image_circle_mm
        elif isinstance(part, Corrector):
            label, measure = "corrected circle", part.corrected_circle_mm
        else:
            continue
        if measure is None:
            missing.append(f"the {label} of {place.name}")
            continue
        factor = _factor_behind(case, index)
        if factor is None:
            missing.extend(
                f"the factor of {c.item.name}"
                for c in _correctors_behind(case, index)
                if c.part.factor is None
            )
        else:
            found.append((measure.nominal * factor, index, label, measure, factor != 1.0))
    return found, tuple(dict.fromkeys(missing))
