"""Does the light cone to the centre and to the extreme corner pass every opening before the sensor?"""

from __future__ import annotations

from dataclasses import dataclass

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
from server.domain.checks.worked import glass_in, lengths_of
from server.domain.findings import Figure, Finding, Input, Remedy
from server.domain.measure import Measure
from server.domain.parts import (
    BaseCamera,
    Camera,
    CataloguedPart,
    Corrector,
    FilterWheel,
    OpticalTube,
    PathPart,
)
from server.domain.train import Place, Shoulders, Train
from server.optics.illumination import (
    aperture_for_fraction_mm,
    beam_diameter_mm,
    bounds_on_combined_fraction,
    fraction_through,
)

FORMULA = (
    "beam diameter at x before the sensor = x / N; its offset for image height h = h (1 - x / L); "
    "light = area common to beam and opening / area of the beam; L = distance of the exit pupil"
)
SOURCE = (
    "Plane geometry of two discs; similar triangles. The exit pupil is assumed to lie one focal length "
    "before the sensor (a thin objective with its stop at the front): assumed, no source. Openings before "
    "the last corrector are not judged. Several openings together are bounded by Frechet's inequalities "
    "(Frechet 1935, from memory); their exact common area is not worked out here."
)
DARK = 0.25
"""A corner that keeps less is lost rather than mended by flat frames (a choice of ours, no source)."""
FULL = 0.9995
"""A share that a sentence shows as all of the light."""
EDGE = 1e-9
"""Float rounding must not turn a verdict at the very share asked for."""


@dataclass(frozen=True)
class Opening:
    """One clear aperture: its diameter and where it may lie.

    `far_mm` and `near_mm` are the two ends of that place, distances from the sensor in mm.
    """

    item: CataloguedPart
    measure: Measure
    far_mm: float
    near_mm: float

    @property
    def diameter_mm(self) -> float:
        """The clear diameter, mm."""
        return self.measure.nominal


@dataclass(frozen=True)
class Passed:
    """An opening with the light that it lets through alone, at its least favourable place."""

    opening: Opening
    at_mm: float
    centre: float
    corner: float


def check_beam(case: Case) -> tuple[Finding, ...]:
    """Judge the light at the sensor's centre and extreme corner, opening by opening."""
    camera = case.train.camera
    if camera is None or case.train.tube is None:
        return ()
    part = camera.part
    assert isinstance(part, Camera)
    ratio, focal = case.optics.focal_ratio, case.optics.focal_length_mm
    missing = list(case.optics.missing)
    if part.diagonal_mm is None:
        missing.append(f"sensor pixels and pixel size of {camera.name}")
    if missing or ratio is None or focal is None or part.diagonal_mm is None:
        sentence = literal(f"The light cone is not known yet: enter {listed(missing)}.")
        return (unknown("beam.unknown", "Light cone", sentence, tuple(missing), source=SOURCE),)
    openings, lacking = openings_of(case)
    if not openings:
        sentence = (
            literal(f"No opening's place is known yet: enter {listed(lacking)}.")
            if lacking
            else "There is no opening to check."
        )
        return (unknown("beam.unknown", "Light cone", sentence, lacking, source=SOURCE),)
    height = part.diagonal_mm / 2
    passed = [_passed(opening, ratio, height, focal) for opening in openings]
    return (_judged(case, passed, height, lacking, ratio, focal),)


def openings_of(case: Case) -> tuple[list[Opening], tuple[str, ...]]:
    """Every known opening behind the last powered element, and what to enter for the rest.

    Where along a part its opening lies is often not said: then both shoulders are tried and the worse one
    counts.
    """
    train = case.train
    first = train.corrector or train.tube
    assert first is not None
    found: list[Opening] = []
    missing: list[str] = []
    for place in train.places[train.index_of(first) :]:
        part, shoulders = place.part, _in_air(train, place)
        if isinstance(part, OpticalTube):
            what, measure = "drawtube bore", part.drawtube_bore_mm
        elif isinstance(part, PathPart | BaseCamera):
            what, measure = "clear aperture", part.clear_aperture_mm
        else:
            continue
        inside = place.inside[:1]
        if measure is None:
            missing.append(f"the {what} of {place.name}")
        missing += [f"the clear aperture of {item.name}" for item in inside if _clear(item) is None]
        span = _span(place, shoulders)
        if span is None:
            own = () if isinstance(part, OpticalTube | Corrector) else (place,)
            missing += lengths_of((*own, *train.after(place)))[1]
            continue
        if measure is not None:
            found.append(Opening(place.item, measure, *_where(place, span)))
        found += [
            Opening(item, clear, *_where_filter(place, span))
            for item in inside
            if (clear := _clear(item)) is not None
        ]
    return found, tuple(dict.fromkeys(missing))


def _clear(item: CataloguedPart) -> Measure | None:
    return item.part.clear_aperture_mm if isinstance(item.part, PathPart) else None


def _span(place: Place, shoulders: Shoulders) -> tuple[float, float] | None:
    """Far and near end of where a place's opening may lie, mm before the sensor; None while unknown.

    Of a tube, whose length tells nothing of its opening, and of a corrector, behind whose glass the cone has
    its final slope, the camera-side face counts; of a camera its front.
    """
    far, near = shoulders.sky_mm, shoulders.camera_mm
    if isinstance(place.part, OpticalTube | Corrector):
        far = near
    elif isinstance(place.part, BaseCamera):
        near = far
    return None if far is None or near is None else (far, near)


def _in_air(train: Train, place: Place) -> Shoulders:
    """The shoulders' distances from the sensor in air: glass before the sensor brings them closer."""
    shoulders = train.shoulders[train.index_of(place)]
    shift = sum(glass.shift_mm for glass in glass_in(train.after(place))[0])
    sky, camera = shoulders.sky_mm, shoulders.camera_mm
    return Shoulders(
        None if sky is None else max(0.0, sky - shift), None if camera is None else max(0.0, camera - shift)
    )


def _where(place: Place, span: tuple[float, float]) -> tuple[float, float]:
    at = place.part.aperture_at_mm if isinstance(place.part, PathPart) else None
    return span if isinstance(place.part, Corrector) else _at(place, span, at)


def _where_filter(place: Place, span: tuple[float, float]) -> tuple[float, float]:
    return _at(place, span, place.part.filter_at_mm if isinstance(place.part, FilterWheel) else None)


def _at(place: Place, span: tuple[float, float], at: Measure | None) -> tuple[float, float]:
    """The span narrowed to a known distance from the sky-side shoulder (the camera-side one when flipped)."""
    if at is None:
        return span
    far, near = span
    x = near + at.nominal if place.flipped else far - at.nominal
    x = min(far, max(near, x))
    return x, x


def _passed(opening: Opening, ratio: float, height: float, pupil: float) -> Passed:
    # An opening beyond the assumed exit pupil would need a real ray trace; the pupil's own plane bounds it.
    candidates = {min(opening.far_mm, pupil), min(opening.near_mm, pupil)}
    tried = [
        Passed(
            opening,
            x,
            fraction_through(opening.diameter_mm, x, ratio, 0.0, pupil),
            fraction_through(opening.diameter_mm, x, ratio, height, pupil),
        )
        for x in sorted(candidates)
    ]
    return min(tried, key=lambda p: (p.corner, p.centre))


def _judged(
    case: Case, passed: list[Passed], height: float, lacking: tuple[str, ...], ratio: float, pupil: float
) -> Finding:
    wanted = case.rig.rules.corner_light
    least, most = bounds_on_combined_fraction([p.corner for p in passed])
    limiting = min(passed, key=lambda p: (p.corner, p.opening.diameter_mm))
    centre = min(passed, key=lambda p: p.centre)
    opening = limiting.opening
    amounts = {
        "lost": amount(1 - most, "fraction"),
        "lost_most": amount(1 - least, "fraction"),
        "opening": amount(opening.diameter_mm, "length", 1),
        "at": amount(limiting.at_mm, "length", 1),
        "wanted": amount(1 - wanted, "fraction"),
        "beam": amount(beam_diameter_mm(limiting.at_mm, ratio), "length", 1),
        "centre": amount(1 - centre.centre, "fraction"),
    }
    name = literal(opening.item.name)
    remedies: list[Remedy] = []
    if most >= FULL:
        weight, code = "sound", "beam.sound"
        sentence = "The whole light cone reaches the extreme corners through every opening that is known."
    else:
        # The losses of several openings may fall on the same part of the cone or on different ones.
        spread = "{lost}" if 1 - least - (1 - most) < 0.005 else "between {lost} and {lost_most}"
        sentence = (
            f"The extreme corners lose {spread} of their light; {name}, {{opening}} wide and {{at}} before "
            "the sensor, limits most."
        )
        weight, code = "sound", "beam.little"
        if most < wanted - EDGE:
            weight, code = "watch", "beam.corners"
            sentence += " More than {wanted} is lost: flat frames must make it good."
        elif least < wanted - EDGE:
            weight, code = "watch", "beam.corners"
            sentence += " That may be more than {wanted}: flat frames must make it good."
        if most < DARK:
            weight, code = "stop", "beam.dark"
            sentence += " The corners stay dark."
        if most < wanted - EDGE:
            needed = aperture_for_fraction_mm(wanted, limiting.at_mm, ratio, height, pupil)
            remedies.append(
                Remedy(
                    phrase=say(
                        literal(f"In place of {opening.item.name} an opening of ")
                        + "{needed} or more there keeps {kept} of the corner's light.",
                        needed=amount(needed, "length", 1),
                        kept=amount(wanted, "fraction"),
                    )
                )
            )
    if centre.centre < FULL:
        weight = "stop" if centre.centre < DARK else "watch" if weight == "sound" else weight
        code = "beam.centre"
        sentence += (
            literal(f" {centre.opening.item.name} even stops down the centre") + ", by {centre} of the light."
        )
    if lacking:
        sentence += literal(f" Not known yet: enter {listed(_few(lacking))}.")
        if weight == "sound":
            weight, code = "unknown", "beam.part_unknown"
    inputs: list[Input] = [
        worked_input("focal ratio at the sensor", ratio, "ratio"),
        worked_input("image height of the corner", height, "length", 2),
        Input(label="exit pupil before the sensor", amount=amount(pupil, "length", 0), basis="assumed"),
        rule_input(
            case, "corner_light", "light the corner should keep (common practice, no source)", "fraction"
        ),
    ]
    for p in passed:
        inputs.append(input_of("opening", p.opening.item, p.opening.measure, "length", 1))
        where = "its distance before the sensor, in air"
        if p.opening.far_mm - p.opening.near_mm > EDGE:
            where += " (where along the part is not known: the worse end)"
        inputs.append(worked_input(where, p.at_mm, "length", 1))
        inputs.append(worked_input("light it passes to the corner", p.corner, "fraction"))
    return Finding(
        code=code,
        weight=weight,
        title="Light cone",
        phrase=say(sentence, **amounts),
        figure=Figure(
            label="light lost in the corner",
            amount=amount(1 - most, "fraction"),
            uncertainty=most - least or None,
            at_least=bool(lacking),
        ),
        remedies=tuple(remedies),
        inputs=tuple(inputs),
        formula=FORMULA,
        source=SOURCE,
        missing=lacking,
    )


def _few(words: tuple[str, ...]) -> list[str]:
    """A sentence names three and counts the rest; `missing` has them all."""
    return list(words) if len(words) <= 4 else [*words[:3], f"{len(words) - 3} more"]
