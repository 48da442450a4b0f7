"""Do the image circles of tube and corrector cover the sensor?"""

from __future__ import annotations

from server.domain.findings import Figure, Weight
from server.domain.measure import Measure
from server.domain.missing import lacks, lacks_sensor
from server.domain.parts import Camera, Corrector
from server.domain.said import Missing, said
from server.domain.verdicts import Advice, Given, Verdict
from server.domain.workings.case import (
    Case,
    amount,
    input_of,
    not_known,
    sensor_inputs,
    worked_input,
)

EDGE_MM = 1e-9
"""A picometre of float rounding must not turn a verdict."""


def check_coverage(case: Case) -> tuple[Verdict, ...]:
    """Compare each known circle with the sensor's diagonal and sides; the smallest circle decides."""
    camera = case.train.camera
    if camera is None or case.train.tube is None:
        return ()
    part = camera.part
    size, diagonal = part.sensor_mm, part.diagonal_mm
    if size is None or diagonal is None:
        what = lacks_sensor(camera)
        return (not_known("coverage.sensor", (what,)),)
    circles, missing = _circles(case)
    if not circles:
        return (not_known("coverage.unknown", missing),)
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
    # Behind correctors the number is no longer the one that the tube is sold with.
    behind = case.train.correctors if scaled else ()
    weight: Weight
    if diameter >= diagonal - EDGE_MM:
        weight, code = ("unknown", "coverage.part_unknown") if missing else ("sound", "coverage.sound")
    else:
        reached = diameter >= max(size) - EDGE_MM
        weight, code = ("watch", "coverage.corners") if reached else ("stop", "coverage.edges")
    facts = {"circle_of": label, "part": item, "behind": behind, "reduced": diameter < measure.nominal}
    says = [said(code, **facts, **amounts)]
    if code == "coverage.part_unknown":
        says.append(said("enter", missing=missing))
    crop = Advice((said("coverage.crop", circle=amounts["circle"]),))
    inputs: list[Given] = [
        input_of(label + (", before the correctors behind it" if scaled else ""), item, measure, "length")
    ]
    if scaled:
        inputs.append(worked_input("factor of the correctors behind it, as they stand", factor, "times", 4))
        inputs.append(worked_input("the same at the sensor", diameter, "length", 1))
    inputs += sensor_inputs(camera.item)
    return (
        Verdict(
            code=code,
            weight=weight,
            says=tuple(says),
            figure=Figure(label="circle less diagonal", amount=amount(diameter - diagonal, "length", 1)),
            remedies=(crop,) if weight in ("watch", "stop") else (),
            inputs=tuple(inputs),
            missing=missing,
        ),
    )


_Circle = tuple[float, int, str, Measure, float]


def _circles(case: Case) -> tuple[list[_Circle], tuple[Missing, ...]]:
    """(diameter at the sensor, place, its name, the figure, the factor that was applied), and what lacks.

    The last corrector's own circle says what tube and corrector give together, so that the tube's counts only
    where it is known to be the bare tube's. Of a tube's circle alone nobody may say which it is: then both
    readings are worked out, and asked about where they judge differently.
    """
    place, corrector = case.train.tube, case.train.corrector
    assert place is not None
    tube = place.part
    found: list[_Circle] = []
    missing: list[Missing] = []
    if corrector is not None and isinstance(corrector.part, Corrector):
        own = corrector.part.corrected_circle_mm
        if own is None and not corrector.part.is_free:
            missing.append(lacks(corrector, "corrected_circle_mm"))
        elif own is not None:
            found.append((own.nominal, case.train.index_of(corrector), "corrected circle", own, 1.0))
            if tube.circle_behind_corrector is None:
                return found, ()
    circle, factor = tube.image_circle_mm, case.optics.factor
    if circle is None:
        missing.append(lacks(place, "image_circle_mm"))
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
            return [], (lacks(place, "circle_behind_corrector"),)
        found.append((both[1], case.train.index_of(place), "image circle", circle, factor))
    return found, tuple(dict.fromkeys(missing))
