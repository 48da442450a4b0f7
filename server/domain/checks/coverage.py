"""Do the image circles of tube and corrector cover the sensor?"""

from __future__ import annotations

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
from server.domain.missing import lacks, lacks_sensor
from server.domain.parts import Camera, Corrector

FORMULA = (
    "diagonal = sqrt(width^2 + height^2); the bare tube's circle is multiplied by the factor at which the "
    "correctors behind it work"
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
    size, diagonal = part.sensor_mm, part.diagonal_mm
    if size is None or diagonal is None:
        what = lacks_sensor(camera)
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
    diameter, index, label, measure, factor = min(circles, key=lambda circle: circle[0])
    scaled = factor != 1.0
    item = case.train.places[index].item
    amounts = {
        "circle": amount(diameter, "length", 1),
        "diagonal": amount(diagonal, "length", 1),
        "width": amount(size[0], "length", 1),
        "height": amount(size[1], "length", 1),
        "over": amount((diagonal - diameter) / 2, "length", 1),
    }
    name = literal(item.name)
    behind = [c.name for c in case.train.correctors] if scaled else []
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
        inputs.append(worked_input("factor of the correctors behind it, as they stand", factor, "times", 4))
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


_Circle = tuple[float, int, str, Measure, float]


def _circles(case: Case) -> tuple[list[_Circle], tuple[str, ...]]:
    """(diameter at the sensor, place, its name, the figure, the factor that was applied), and what lacks.

    The last corrector's own circle says what tube and corrector give together, so that the tube's counts only
    where it is known to be the bare tube's. Of a tube's circle alone nobody may say which it is: then both
    readings are worked out, and asked about where they judge differently.
    """
    place, corrector = case.train.tube, case.train.corrector
    assert place is not None
    tube = place.part
    found: list[_Circle] = []
    missing: list[str] = []
    if corrector is not None and isinstance(corrector.part, Corrector):
        own = corrector.part.corrected_circle_mm
        if own is None and not corrector.part.is_free:
            missing.append(lacks(corrector, "corrected_circle_mm", "the corrected circle"))
        elif own is not None:
            found.append((own.nominal, case.train.index_of(corrector), "corrected circle", own, 1.0))
            if tube.circle_behind_corrector is None:
                return found, ()
    circle, factor = tube.image_circle_mm, case.optics.factor
    if circle is None:
        missing.append(lacks(place, "image_circle_mm", "the image circle"))
    elif tube.circle_behind_corrector:
        found.append((circle.nominal, case.train.index_of(place), "image circle", circle, 1.0))
        missing.clear()
    elif factor is None:
        missing += case.optics.missing
    else:
        both = (circle.nominal, circle.nominal * factor)
        camera = case.train.camera
        diagonal = camera.part.diagonal_mm if camera and isinstance(camera.part, Camera) else None
        unsaid = tube.circle_behind_corrector is None
        if unsaid and diagonal and min(both) < diagonal - EDGE_MM <= max(both):
            return [], (
                lacks(
                    place,
                    "circle_behind_corrector",
                    "whether the image circle of {} is that of the bare tube",
                ),
            )
        found.append((both[1], case.train.index_of(place), "image circle", circle, factor))
    return found, tuple(dict.fromkeys(missing))
