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
from server.domain.checks.worked import glass_in
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
    "before the sensor (a thin objective with its stop at the front): assumed, no source. Several openings "
    "together are bounded by Frechet's inequalities (Frechet 1935, from memory); their exact common area is "
    "not worked out here."
)
DARK = 0.25
"""A corner that keeps less is lost rather than mended by flat frames (a choice of ours, no source)."""
FULL = 0.9995


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
        shoulders = _in_air(train, place)
        if isinstance(place.part, OpticalTube):
            _add(found, place.item, place.part.drawtube_bore_mm, shoulders.camera_mm, shoulders.camera_mm)
            continue
        if isinstance(place.part, Corrector):
            _add(found, place.item, place.part.clear_aperture_mm, shoulders.camera_mm, shoulders.camera_mm)
            continue
        if not isinstance(place.part, PathPart | BaseCamera):
            continue
        if shoulders.sky_mm is None or shoulders.camera_mm is None:
            missing.append(f"the lengths from {place.name} to the sensor")
            continue
        far, near = shoulders.sky_mm, shoulders.camera_mm
        if isinstance(place.part, BaseCamera):
            _add(found, place.item, place.part.clear_aperture_mm, far, far)
            continue
        if place.part.clear_aperture_mm is None:
            missing.append(f"the clear aperture of {place.name}")
        else:
            _add(found, place.item, place.part.clear_aperture_mm, *_where(place, far, near))
        for item in place.inside[:1]:
            aperture = item.part.clear_aperture_mm if isinstance(item.part, PathPart) else None
            if aperture is None:
                missing.append(f"the clear aperture of {item.name}")
            else:
                _add(found, item, aperture, *_where_filter(place, far, near))
    return found, tuple(missing)


def _in_air(train: Train, place: Place) -> Shoulders:
    """The shoulders' distances from the sensor in air: glass before the sensor brings them closer."""
    shoulders = train.shoulders[train.index_of(place)]
    shift = sum(glass.shift_mm for glass in glass_in(train.after(place))[0])
    sky, camera = shoulders.sky_mm, shoulders.camera_mm
    return Shoulders(
        None if sky is None else max(0.0, sky - shift), None if camera is None else max(0.0, camera - shift)
    )


def _add(
    found: list[Opening], item: CataloguedPart, measure: Measure | None, far: float | None, near: float | None
) -> None:
    if measure is not None and far is not None and near is not None:
        found.append(Opening(item, measure, far, near))


def _where(place: Place, far: float, near: float) -> tuple[float, float]:
    assert isinstance(place.part, PathPart)
    at = place.part.aperture_at_mm
    if at is None:
        return far, near
    from_sky = (far - near) - at.nominal if place.flipped else at.nominal
    x = max(near, far - from_sky)
    return x, x


def _where_filter(place: Place, far: float, near: float) -> tuple[float, float]:
    at = place.part.filter_at_mm if isinstance(place.part, FilterWheel) else None
    if at is None:
        return far, near
    x = max(near, far - ((far - near) - at.nominal if place.flipped else at.nominal))
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
        spread = "{lost}" if 1 - least - (1 - most) < 0.005 else "between {lost} and {lost_most}"
        sentence = (
            f"The extreme corners lose {spread} of their light; {name}, {{opening}} wide and {{at}} before "
            "the sensor, limits most."
        )
        weight, code = "sound", "beam.little"
        if least < wanted:
            weight, code = "watch", "beam.corners"
            sentence += " More than {wanted} is lost: flat frames must make it good."
        if most < DARK:
            weight, code = "stop", "beam.dark"
            sentence += " The corners stay dark."
        if weight != "sound":
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
        rule_input("light the corner should keep (common practice, no source)", wanted, "fraction"),
    ]
    for p in passed:
        inputs.append(input_of("opening", p.opening.item, p.opening.measure, "length", 1))
        inputs.append(
            worked_input(
                f"light it passes to the corner, {p.at_mm:.1f} mm before the sensor", p.corner, "fraction"
            )
        )
    return Finding(
        code=code,
        weight=weight,
        title="Light cone",
        phrase=say(sentence, **amounts),
        figure=Figure(
            label="light lost in the corner",
            amount=amount(1 - most, "fraction"),
            uncertainty=most - least or None,
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
