"""Do the image circles of tube and corrector cover the sensor?"""

from __future__ import annotations

from server.domain.checks.case import (
    COMMON_PRACTICE,
    Case,
    amount,
    input_of,
    literal,
    say,
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
        sentence = literal(f"Whether the sensor is covered is not known yet: enter {' or '.join(missing)}.")
        return (unknown("coverage.unknown", "Circle", sentence, missing, source=SOURCE),)
    diameter, item, label, measure, scaled = min(circles, key=lambda circle: circle[0])
    amounts = {
        "circle": amount(diameter, "length", 1),
        "diagonal": amount(diagonal, "length", 1),
        "width": amount(size[0], "length", 1),
        "height": amount(size[1], "length", 1),
        "over": amount((diagonal - diameter) / 2, "length", 1),
    }
    name = literal(item.name)
    if diameter >= diagonal:
        weight, code = "sound", "coverage.sound"
        sentence = f"The {label} of {name}, {{circle}}, covers the sensor's diagonal of {{diagonal}}."
        if missing:
            weight, code = "unknown", "coverage.part_unknown"
            sentence += literal(f" Not known yet: enter {' and '.join(missing)}.")
    else:
        weight, code = ("watch", "coverage.corners") if diameter >= max(size) else ("stop", "coverage.edges")
        where = "its corners lie" if weight == "watch" else "its corners and the ends of its long side lie"
        sentence = (
            f"The {label} of {name} is {{circle}} and the sensor's diagonal {{diagonal}}: {where} outside, "
            "the corners by {over}."
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
    inputs: list[Input] = [input_of(label + (", at the sensor" if scaled else ""), item, measure, "length")]
    if scaled:
        inputs.append(worked_input("the same behind the corrector", diameter, "length", 1))
    inputs += [
        input_of("pixel size", camera.item, part.pixel_um, "pixel"),
        worked_input("sensor width", size[0], "length", 2),
        worked_input("sensor height", size[1], "length", 2),
    ]
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


_Circle = tuple[float, CataloguedPart, str, Measure, bool]


def _circles(case: Case) -> tuple[list[_Circle], tuple[str, ...]]:
    """(diameter at the sensor, whose, its name, the figure, whether a factor was applied), and what lacks.

    A corrector's own circle is quoted at the sensor and, where it is known, says what tube and corrector give
    together; the tube's circle then only counts if it is the smaller one.
    """
    found: list[_Circle] = []
    missing: list[str] = []
    assert case.train.tube is not None
    tube = case.train.tube.item
    part = tube.part
    assert isinstance(part, OpticalTube)
    corrector = case.train.corrector
    if part.image_circle_mm is None:
        missing.append(f"the image circle of {tube.name}")
    elif case.optics.factor is not None:
        factor = case.optics.factor
        found.append(
            (part.image_circle_mm.nominal * factor, tube, "image circle", part.image_circle_mm, factor != 1.0)
        )
    if corrector is not None:
        own = corrector.part
        assert isinstance(own, Corrector)
        if own.corrected_circle_mm is None:
            missing.append(f"the corrected circle of {corrector.name}")
        else:
            found.append(
                (
                    own.corrected_circle_mm.nominal,
                    corrector.item,
                    "corrected circle",
                    own.corrected_circle_mm,
                    False,
                )
            )
    return found, tuple(missing)
