"""What measured frames say of a rig, as verdicts: the tilt and its screws, the field, the spacing, what all
stars share.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence

from server.domain.findings import Amount, Figure, Weight
from server.domain.frames.correcting import correction_of
from server.domain.frames.measured import Measured, is_whole
from server.domain.frames.plan import FramePlan
from server.domain.frames.scale import judge_plate
from server.domain.frames.spacings import judge_spacings
from server.domain.said import Quantity, Said, said
from server.domain.verdicts import Advice, Given, Verdict
from server.domain.workings.case import Case, amount, worked_input
from server.frames.nature import RESAMPLED
from server.frames.surface import DRIFT_ANSWERS, LEAST_STARS

LEAST_DRIFT_PX = 0.4
"""A shorter line is not told from round (measured on simulated frames)."""
CLEAR_DRIFT_PX = 0.8
"""From here on its direction holds within some degrees."""
LEAST_COMA = 0.01
LEAST_HINT_UM = 10.0
"""Of one frame a smaller tilt or curvature is not told (measured on simulated frames)."""
WORTH_SQUARING = 0.25
"""Of the zone of focus: a corner that is less out of it by tilt is left as it is (a choice of ours, no
source).
"""
_SPACING_STEP = amount(1.0, "length", 0)
"""By so much a spacing is changed for a second set (measured on simulated frames)."""
_TOO_BRIGHT = 0.5


def judge_frames(
    measured: Measured, case: Case, plan: FramePlan, others: Sequence[Measured] = ()
) -> tuple[Verdict, ...]:
    """Return all that a set says, what matters most first.

    plan: of the rig as it stands, for its zone of focus. others: earlier sets of the same rig at other
        spacings.
    """
    found = [*_limits(measured)]
    if measured.surface is not None:
        spaced = judge_spacings(measured, others, plan)
        # One spacing alone asks for another; two have told.
        alone = not spaced and measured.spacing_mm is not None
        another = () if not alone else (Advice((said("frames.two_spacings", by=_SPACING_STEP),)),)
        found += [*_surface(measured, plan, another), *spaced]
    elif measured.hint is not None:
        found.append(_hint(measured))
    elif measured.trouble or measured.stretched:
        pass  # Said by the limits.
    elif measured.light is None:
        found.append(
            Verdict(
                "frames.no_beam",
                "unknown",
                (said("frames.no_beam", missing=plan.missing),),
                missing=plan.missing,
            )
        )
    else:
        found.append(Verdict("frames.no_places", "unknown", (said("frames.no_places"),)))
    found += _shared(measured)
    plate = judge_plate(measured, case, others)
    if plate is not None:
        found.append(plate)
    order: tuple[Weight, ...] = ("stop", "watch", "unknown", "sound")
    return tuple(sorted(found, key=lambda one: order.index(one.weight)))


def um(value: float) -> Quantity:
    """A length on the sensor in micrometres, which all readers share there, as pixels have it."""
    return Quantity(value, "µm", 0 if abs(value) >= 9.5 else 1)


def about_um(value: float) -> Quantity:
    """The same to one digit: no more is known of it."""
    return um(float(f"{value:.0e}"))


def small(value: float) -> Amount:
    """The same as a finding's figure."""
    return amount(value / 1000.0, "small_length")


def _direction(shown: complex) -> Said:
    """The side or corner of the picture to which a vector points."""
    eighth = round(math.degrees(cmath.phase(shown)) / 45.0) % 8
    names = ("right", "top_right", "top", "top_left", "left", "bottom_left", "bottom", "bottom_right")
    return said(f"stars.at.{names[eighth]}")


def drift_px(measured: Measured) -> float | None:
    """Length of the line that all stars are drawn out to, px; None where it is not known."""
    if measured.drift is None:
        return None
    return math.sqrt(12.0 * abs(measured.drift.whole) / DRIFT_ANSWERS)


def _limits(measured: Measured) -> list[Verdict]:
    """What the frames cannot tell, and why."""
    found = []
    if measured.trouble:
        found.append(
            Verdict(
                f"frames.{measured.trouble}",
                "stop",
                (
                    said(
                        f"frames.{measured.trouble}",
                        least=LEAST_STARS,
                        stars=measured.matched,
                        quick=measured.quick,
                    ),
                ),
                remedies=()
                if measured.trouble == "wrong_step" or measured.quick
                else (Advice((said("frames.again"),)),),
            )
        )
    if measured.sensor_px is not None and not _whole(measured):
        width, height = measured.sensor_px
        found.append(
            Verdict(
                "frames.cropped",
                "watch",
                (
                    said(
                        "frames.cropped",
                        smaller=measured.width_px <= width and measured.height_px <= height,
                        wide=measured.width_px,
                        high=measured.height_px,
                        sensor_wide=width,
                        sensor_high=height,
                    ),
                ),
            )
        )
    for code, names in (
        ("stretched", measured.stretched),
        ("coarse", [f.name for f in measured.frames if f.eight_bit and not f.stretched]),
        ("stacked", [f.name for f in measured.frames if f.stacked]),
        ("resampled", [f.name for f in measured.frames if f.alike is not None and abs(f.alike) > RESAMPLED]),
        (
            "too_bright",
            [
                f.name
                for f in measured.frames
                if not f.stretched and f.cut_off > _TOO_BRIGHT * max(f.clean, 1)
            ],
        ),
    ):
        if names:
            found.append(Verdict(f"frames.{code}", "watch", (said(f"frames.{code}", names=tuple(names)),)))
    if measured.surface is not None and not measured.surface.agree:
        found.append(Verdict("frames.apart", "watch", (said("frames.apart"),)))
    return found


def _whole(measured: Measured) -> bool:
    """Whether a frame is as large as the sensor, binned as it was said to be."""
    assert measured.sensor_px is not None
    wide, high = measured.sensor_px
    by = measured.binning
    return is_whole(measured.width_px, wide, by) and is_whole(measured.height_px, high, by)


def _surface(measured: Measured, plan: FramePlan, another: tuple[Advice, ...]) -> list[Verdict]:
    surface = measured.surface
    assert surface is not None
    zone = plan.zone_um
    found = []
    whole = None if zone is None else _whole_field(measured, zone)
    if whole is not None:
        found.append(whole)
    strained = whole is not None and whole.weight == "watch"
    found.append(_tilt(measured, zone, strained))
    worst = abs(surface.curvature.value)
    known = surface.curvature.known
    beyond = known and zone is not None and worst > zone
    matters = beyond or (known and strained and worst > WORTH_SQUARING * (zone or 0.0))
    found.append(
        Verdict(
            "frames.curved" if known else "frames.flat",
            "watch" if matters else "sound",
            (
                said(
                    "frames.curved" if known else "frames.flat",
                    curvature=um(worst),
                    error=um(surface.curvature.error),
                    way="out" if surface.curvature.value > 0.0 else "in",
                    zone=None if zone is None else um(zone),
                    beyond=beyond,
                ),
            ),
            figure=Figure(label="field curvature", amount=small(surface.curvature.value)) if known else None,
            remedies=another if matters else (),
            inputs=_inputs(measured),
            working="frames.surface",
        )
    )
    found.append(_astigmatism(measured, zone, another))
    if surface.focus is not None:
        step = measured.step_um
        found.append(
            Verdict(
                "frames.focus",
                "sound",
                (
                    said(
                        "frames.focus",
                        focus=um(surface.focus.value),
                        error=um(surface.focus.error),
                        steps=None if not step else Quantity(surface.focus.value / step, "steps", 0),
                    ),
                ),
                working="frames.surface",
            )
        )
    return found


def _corners(measured: Measured) -> list[complex]:
    """The four corners, in half diagonals from the middle."""
    across, up = measured.half_sides
    return [complex(x * across, y * up) for x in (-1, 1) for y in (-1, 1)]


def _whole_field(measured: Measured, zone: float) -> Verdict:
    """Tilt, curvature and astigmatism together, at the one focus that serves the sensor best."""
    surface = measured.surface
    assert surface is not None
    corners = _corners(measured)
    across, up = measured.half_sides
    rises = list(map(surface.at, corners))
    # The vertex of the curve may lie on the sensor, below all corners and the middle.
    ends = [*rises, 0.0]
    if surface.curvature.value:
        vertex = -surface.tilt / (2.0 * surface.curvature.value)
        if abs(vertex.real) <= across and abs(vertex.imag) <= up:
            ends.append(surface.at(vertex))
    middle = (max(ends) + min(ends)) / 2.0
    # Line foci to either side of a corner's best focus blur it as well.
    even = complex(surface.astigmatism_u.value, surface.astigmatism_v.value)
    lines = max(abs(even + surface.astigmatism.value * w * w) for w in corners)
    out = math.hypot((max(ends) - min(ends)) / 2.0, lines)
    worst = max(zip(rises, corners, strict=True), key=lambda one: (round(abs(one[0] - middle), 6), one[0]))[1]
    error = math.hypot(surface.tilt_error, surface.curvature.error / 2.0, surface.astigmatism.error)
    beyond = out > zone
    return Verdict(
        "frames.whole",
        "watch" if beyond else "sound",
        (
            said(
                "frames.whole",
                out=um(out),
                error=um(error),
                corner=_direction(measured.shown(worst)),
                zone=um(zone),
                beyond=beyond,
            ),
        ),
        figure=Figure(label="the widest corner from focus", amount=small(out)),
        remedies=(Advice((_order(measured, zone),)),) if beyond else (),
        inputs=_inputs(measured),
        working="frames.surface",
    )


def _order(measured: Measured, zone: float) -> Said:
    """What to mend first, of what there is to mend."""
    surface = measured.surface
    assert surface is not None
    worth = WORTH_SQUARING * zone
    curved = surface.curvature.known and abs(surface.curvature.value) > worth
    spacing = curved and measured.spacing_mm is not None
    return said("frames.first", coma=_comatic(measured), spacing=spacing, tilt=abs(surface.tilt) > worth)


def _comatic(measured: Measured) -> bool:
    coma = measured.coma
    return coma is not None and abs(coma.whole) > max(LEAST_COMA, 5.0 * coma.error)


def _tilt(measured: Measured, zone: float | None, strained: bool) -> Verdict:
    surface = measured.surface
    assert surface is not None
    across, error = 2.0 * abs(surface.tilt), 2.0 * surface.tilt_error
    known = across > 2.0 * error
    # What it puts the widest corner out by: a slope along one side does less there than along the diagonal.
    out = max(abs((surface.tilt.conjugate() * w).real) for w in _corners(measured))
    beyond = known and zone is not None and out > zone
    worth = known and (zone is None or out > WORTH_SQUARING * zone)
    matters = beyond or (worth and (strained or zone is None))
    says = said(
        "frames.tilt" if known else "frames.square",
        across=um(across),
        error=um(error),
        to=_direction(measured.shown(surface.tilt)),
        zone=None if zone is None else um(zone),
        beyond=beyond,
    )
    return Verdict(
        "frames.tilt" if known else "frames.square",
        "watch" if matters else "sound",
        (says,),
        figure=Figure(label="tilt over the diagonal", amount=small(across)) if known else None,
        remedies=_screw_advice(measured) if worth else (),
        inputs=_inputs(measured),
        working="frames.surface",
    )


def _screw_advice(measured: Measured) -> tuple[Advice, ...]:
    correction = correction_of(measured)
    if correction is None:
        return (Advice((said("frames.enter_screws"),)),)
    facts = tuple(
        said(
            "frames.screw",
            number=one.number,
            deg=amount(one.angle_deg, "angle", 0),
            shim=um(one.shim_um),
            error=um(one.error_um),
            turns=None if one.turns is None else Quantity(one.turns, "turns", 2),
        )
        for one in correction.screws
        if one.shim_um > one.error_um
    )
    stays = tuple(str(one.number) for one in correction.screws if one.shim_um <= one.error_um)
    says = [said("frames.shims", screws=facts, stays=stays, by_turns=correction.by_turns)]
    says.append(
        said(
            "frames.lies_unknown" if measured.lies is None else "frames.lies",
            lies=(measured.lies or "").replace(" ", "_"),
            telling=correction.telling,
        )
    )
    return (Advice(tuple(says)),)


def _astigmatism(measured: Measured, zone: float | None, another: tuple[Advice, ...]) -> Verdict:
    surface = measured.surface
    assert surface is not None
    one = surface.astigmatism
    even = complex(surface.astigmatism_u.value, surface.astigmatism_v.value)
    even_known = abs(even) > 2.0 * max(surface.astigmatism_u.error, surface.astigmatism_v.error)
    beyond = one.known and zone is not None and abs(one.value) > zone
    code = "frames.astigmatism" if one.known else "frames.no_astigmatism"
    says = [
        said(
            code,
            size=um(abs(one.value)),
            error=um(one.error),
            lines="radial" if one.value > 0.0 else "across",
        )
    ]
    if even_known:
        says.append(said("frames.even_astigmatism", size=um(abs(even))))
    return Verdict(
        code,
        "watch" if beyond or (even_known and zone is not None and abs(even) > zone) else "sound",
        tuple(says),
        figure=Figure(label="astigmatism in the corner", amount=small(one.value)) if one.known else None,
        remedies=another if beyond else (),
        inputs=_inputs(measured),
        working="frames.shapes",
    )


def _hint(measured: Measured) -> Verdict:
    hint = measured.hint
    assert hint is not None
    turned = -1.0 if hint.side == "in" else 1.0
    tilt, curvature = turned * complex(hint.tilt_u, hint.tilt_v), turned * hint.curvature
    tilted, curved = abs(tilt) > LEAST_HINT_UM, abs(curvature) > LEAST_HINT_UM
    if not hint.clear or not (tilted or curved):
        return Verdict("frames.hint_none", "unknown", (said("frames.hint_none"),), working="frames.hint")
    facts = {
        "tilted": tilted,
        "across": about_um(2.0 * abs(tilt)),
        "to": _direction(measured.shown(tilt)),
        "other": _direction(measured.shown(-tilt)),
        "curved": curved,
        "curvature": about_um(abs(curvature)),
        "way": "out" if curvature > 0.0 else "in",
    }
    code = "frames.hint" if hint.side else "frames.hint_either"
    again = (Advice((said("frames.take_two"),)),)
    return Verdict(code, "watch", (said(code, **facts),), remedies=again, working="frames.hint")


def _shared(measured: Measured) -> list[Verdict]:
    """Coma first: it draws all stars out as a drift does."""
    found = []
    coma, drift, length = measured.coma, measured.drift, drift_px(measured)
    comatic = _comatic(measured)
    if coma is not None and comatic:
        found.append(
            Verdict(
                "frames.coma",
                "watch",
                (said("frames.coma", to=_direction(measured.shown(coma.whole))),),
                remedies=(Advice((said("stars.collimate"),)),),
                working="frames.shapes",
            )
        )
    if drift is None or length is None:
        return found
    known = abs(drift.whole) > 3.0 * drift.error and length > LEAST_DRIFT_PX
    if not known:
        found.append(
            Verdict(
                "frames.round",
                "sound",
                (said("frames.round", least=Quantity(LEAST_DRIFT_PX, "px", 1)),),
                working="frames.shapes",
            )
        )
        return found
    turn = cmath.phase(measured.shown(drift.whole))
    hazy = math.degrees(drift.error / abs(drift.whole)) / 2.0
    found.append(
        Verdict(
            "frames.drift",
            "watch" if length > CLEAR_DRIFT_PX else "sound",
            (
                said(
                    "frames.drift",
                    length=Quantity(length, "px", 1),
                    deg=amount(math.degrees(turn) / 2.0 % 180.0, "angle", 0),
                    hazy=amount(max(2.0, hazy), "angle", 0),
                    comatic=comatic,
                ),
            ),
            remedies=(Advice((said("frames.steady"),)),) if length > CLEAR_DRIFT_PX else (),
            working="frames.shapes",
        )
    )
    return found


def _inputs(measured: Measured) -> tuple[Given, ...]:
    light, surface = measured.light, measured.surface
    assert light is not None
    assert surface is not None
    return (
        worked_input("focal ratio at the sensor", light.focal_ratio, "ratio"),
        worked_input("linear obstruction", light.obstruction, "fraction"),
        Given("pixel size", amount(light.pixel_um, "pixel"), "worked out"),
        worked_input("stars that counted", surface.stars, "count"),
        worked_input("half diagonal of the frame", measured.half_diagonal_mm or 0.0, "length", 2),
        *(
            Given(
                said("frames.position", name=frame.name),
                amount((frame.focus_um or 0.0) / 1000.0, "small_length"),
                "typed",
            )
            for frame in measured.frames
        ),
    )
