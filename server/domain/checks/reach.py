"""Can the focuser bring the sensor to the focus, with or without a corrector, through the night's cold?"""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.checks.lens_reach import judge_lens
from server.domain.checks.primary import judge_primary
from server.domain.checks.slide import nosepiece_counted, slide_of
from server.domain.checks.spacing import spacing_is_off
from server.domain.findings import Figure, Weight
from server.domain.measure import nominal
from server.domain.missing import lacks, wants
from server.domain.parts import Filter, OpticalTube
from server.domain.said import Missing, Said, said
from server.domain.train import Place
from server.domain.verdicts import Advice, Given, Later, Verdict
from server.domain.workings.case import (
    Case,
    amount,
    input_of,
    not_known,
    rule_input,
    worked_input,
)
from server.domain.workings.drift import Drift, drift_of
from server.domain.workings.in_beam import (
    Glass,
    Length,
    beam_ratio,
    glass_bound_mm,
    glass_in,
    lengths_of,
    plate,
)
from server.optics.reach import Reach, focuser_reach
from server.optics.thin_lens import in_travel_mm, thin_lens
from server.optics.tolerance import Spread, worst_case

EDGE_MM = 1e-9
"""A picometre of float rounding must not turn a verdict."""
LITTLE_MM = 2.0
"""Less travel than this left is a watch: temperature or a thicker filter may use it up (a choice of ours)."""
AMPLE_MM = 10.0
"""No night uses up so much travel, whatever the tube is made of (a choice of ours)."""


@dataclass(frozen=True)
class WorkedReach:
    """Where the focus of a train lies against its focuser's travel.

    Attributes:
        lengths, glass: what stands behind the tube, as far as it is known.
        taken_mm: how far in the corrector brings the focus; negative: out.
        unsure_mm, lens_unsure_mm: what glass and a thick corrector leave open.
        reach: where the drawtube goes; None while the focal plane or the corrector's share is not known.
        inwards_mm, outwards_mm: the travel left there; None while it is not known.
        missing: what to enter, without that of the glass; missing_lengths, glass_missing: those of each.
    """

    lengths: tuple[Length, ...] = ()
    glass: tuple[Glass, ...] = ()
    taken_mm: float = 0.0
    unsure_mm: float = 0.0
    lens_unsure_mm: float = 0.0
    reach: Reach | None = None
    inwards_mm: float | None = None
    outwards_mm: float | None = None
    missing: tuple[Missing, ...] = ()
    missing_lengths: tuple[Missing, ...] = ()
    glass_missing: tuple[Missing, ...] = ()


def work_reach(case: Case) -> WorkedReach:
    """Work out where the drawtube goes for focus, and how much of its travel is left. For trains with a tube
    and a camera; of others it says what to enter.
    """
    train, tube_place = case.train, case.train.tube
    if tube_place is None or train.camera is None:
        return WorkedReach(missing=(wants("tube_and_camera"),))
    tube = tube_place.part
    behind = train.after(tube_place)
    lengths, missing_lengths = lengths_of(behind)
    out_mm, missing_out = _travel_out(case, tube)
    missing = list(missing_lengths)
    if tube.back_focus_mm is None:
        missing.append(lacks(tube_place, "back_focus_mm", "focal_plane"))
    if tube.focuser_in_mm is None:
        missing.append(lacks(tube_place, "focuser_in_mm"))
    missing.extend(missing_out)
    taken_mm, lens_unsure, missing_lens = _taken_by_the_corrector(case)
    missing.extend(w for w in missing_lens if w not in missing)
    if tube.back_focus_mm is None or missing_lens:
        return WorkedReach(missing=tuple(missing), missing_lengths=missing_lengths)
    glass, unsure, glass_missing = glass_in(behind, beam_ratio(train))
    length = sum(item.measure.nominal for item in lengths)
    shift = sum(plate.shift_mm for plate in glass)
    in_mm = None if tube.focuser_in_mm is None else tube.focuser_in_mm.nominal
    # What is not known cannot help where the known part of the train is too long already: a length only adds
    # to it. Only glass that is not wholly known can, and it is bounded.
    reach = focuser_reach(tube.back_focus_mm.nominal - taken_mm, in_mm or 0.0, out_mm or 0.0, length, shift)
    return WorkedReach(
        lengths,
        glass,
        taken_mm,
        unsure,
        lens_unsure,
        reach,
        None if in_mm is None else reach.margin_in_mm,
        None if out_mm is None or missing_lengths else reach.margin_out_mm,
        tuple(missing),
        missing_lengths,
        glass_missing,
    )


def check_reach(case: Case) -> tuple[Verdict, ...]:
    """Compare the place of the focus, behind a corrector too, with the train's length and the travel.

    A focuser that was added to the train adds its travel outwards: its own length counts fully racked in.
    """
    tube_place = case.train.tube
    if tube_place is None or case.train.camera is None:
        return ()
    tube = tube_place.part
    if tube.design == "camera_lens" and case.train.corrector is None:
        return judge_lens(case)
    worked = work_reach(case)
    missing = list(worked.missing)
    if worked.reach is None or tube.back_focus_mm is None:
        return (not_known("reach.unknown", tuple(missing)),)
    measures = (*(one.measure for one in worked.lengths), tube.back_focus_mm)
    slack = worst_case([Spread(one.plus or 0.0, one.minus or 0.0) for one in measures])
    tolerance = max(slack.plus_mm, slack.minus_mm) + worked.lens_unsure_mm
    drift = drift_of(case)
    tight, (weight, code, says, remedies) = _judged(
        case, worked, worked.reach.move_mm, tolerance, drift, missing
    )
    if weight == "stop" and -(tight or 0.0) <= tolerance:
        weight = "watch"
        says.append(said("reach.as_unsure"))
    if weight != "sound" and spacing_is_off(case):
        says.append(said("reach.spacing_first"))
    says += [_counted_with(place) for place in case.train if place.item.stands_in]
    missing.extend(worked.glass_missing)
    if missing:
        says.append(said("enter", missing=missing))
    return (
        Verdict(
            code=code,
            weight=weight,
            says=tuple(says),
            figure=None
            if tight is None
            else Figure(
                label="travel left",
                amount=amount(tight, "length", 1),
                uncertainty=tolerance + worked.unsure_mm or None,
            ),
            remedies=remedies,
            inputs=Later(
                lambda: (
                    *_inputs(case, tube, worked.lengths, worked.glass),
                    *_more_inputs(case, worked.taken_mm, drift),
                )
            ),
            missing=tuple(missing),
        ),
        *(() if worked.missing_lengths else judge_primary(case, worked.reach.move_mm)),
    )


def _counted_with(place: Place) -> Said:
    """That it holds with a ring which nobody has put there yet."""
    return said("reach.counted_with", length=amount(nominal(place.length) or 0.0, "length", 1))


_Told = tuple[Weight, str, list[Said], tuple[Advice, ...]]
"""Weight, code, clauses and remedies."""


def _judged(
    case: Case,
    worked: WorkedReach,
    move_mm: float,
    tolerance: float,
    drift: Drift | None,
    missing: list[Missing],
) -> tuple[float | None, _Told]:
    """How much travel is left on the tighter side, mm, None while that is not known; and what is said of it.

    What to enter besides is added to `missing`.
    """
    inwards, outwards = worked.inwards_mm, worked.outwards_mm
    move = amount(abs(move_mm), "length", 1)
    if inwards is not None and inwards < -EDGE_MM and inwards + _glass_bound_mm(case) < 0:
        code = "reach.inwards"
        says = [_short_of_focus(code, inwards, tolerance, move_mm)]
        nosepiece = nosepiece_counted(case, -inwards)
        if nosepiece is not None:
            says.append(said("reach.nosepiece_counted", part=nosepiece))
        return inwards, ("stop", code, says, _shorter(case, -inwards))
    if outwards is not None and outwards < -EDGE_MM:
        return outwards, _too_short(case, -outwards, tolerance, move_mm, missing)
    if missing or inwards is None or outwards is None:
        says = [said("reach.not_yet")]
        if not worked.missing_lengths:
            says.append(said("reach.goes", out=move_mm > 0, move=move))
        return None, ("unknown", "reach.unknown", says, ())
    if inwards < -EDGE_MM:
        says = [said("reach.without_glass", short=amount(-inwards, "length", 1), move=move)]
        return inwards, ("unknown", "reach.glass_unknown", says, ())
    unsure, known = tolerance + worked.unsure_mm, not worked.glass_missing
    told = _within(case, (inwards, outwards), move_mm, unsure, drift, known, missing)
    return min(inwards, outwards), told


def _glass_bound_mm(case: Case) -> float:
    """The most that glass which is not wholly known can lengthen what reaches the focus."""
    assert case.train.tube is not None
    return glass_bound_mm(case.train.after(case.train.tube), beam_ratio(case.train))


def _too_short(
    case: Case, short_mm: float, tolerance: float, move_mm: float, missing: list[Missing]
) -> _Told:
    """The drawtube would have to come further out than it can, unless a nosepiece may be drawn out."""
    slide = slide_of(case)
    if slide is None or (slide.length_mm is not None and slide.length_mm < short_mm):
        code = "reach.outwards"
        return "stop", code, [_short_of_focus(code, -short_mm, tolerance, move_mm)], (_add(case, short_mm),)
    known, short = slide.length_mm is not None, amount(short_mm, "length", 1)
    if not known:
        missing.append(lacks(slide.place, "sky_side", "barrel_length"))
    says = said("reach.slide", part=slide.place, known=known, short=short)
    return ("watch" if known else "unknown"), "reach.slide", [says], ()


def _within(
    case: Case,
    left_mm: tuple[float, float],
    move_mm: float,
    unsure_mm: float,
    drift: Drift | None,
    glass_known: bool,
    missing: list[Missing],
) -> _Told:
    """It comes to focus with so much left inwards and outwards: whether that lasts the night and the
    filters.
    """
    inwards, outwards = left_mm
    tight = min(inwards, outwards)
    says = [
        said(
            "reach.sound",
            inwards=amount(max(0.0, inwards), "length", 1),
            outwards=amount(max(0.0, outwards), "length", 1),
            travel=amount(inwards + outwards, "length", 0),
            move=amount(abs(move_mm), "length", 1),
        )
    ]
    assert case.train.tube is not None
    thicker, thinner = _other_filters(case.train.after(case.train.tube), beam_ratio(case.train))
    moved = 0.0 if drift is None or drift.mm is None else drift.mm
    out_need, in_need = thicker + max(0.0, moved), thinner - min(0.0, moved)
    if inwards < in_need - EDGE_MM or outwards < out_need - EDGE_MM:
        says.append(_runs_out(case, outwards < out_need, drift, thicker, thinner))
        room = min(inwards - in_need, outwards - out_need)
        more = _out_of_the_pinch(case, inwards, outwards, tight - room + LITTLE_MM)
        return "watch", "reach.runs_out", says, more
    enough = max(LITTLE_MM, unsure_mm)
    if tight < enough:
        says.append(said("reach.tight", thinner=inwards < outwards))
        return "watch", "reach.tight", says, _out_of_the_pinch(case, inwards, outwards, enough)
    if not glass_known:
        return "unknown", "reach.glass_unknown", says, ()
    if drift is not None and drift.odd and outwards < AMPLE_MM:
        says.append(said("reach.cold_unjudged"))
        return "unknown", "reach.cold_unjudged", says, ()
    if drift is not None and drift.missing and outwards < AMPLE_MM:
        missing.extend(drift.missing)
        return "unknown", "reach.cold_unknown", says, ()
    return "sound", "reach.sound", says, ()


def _short_of_focus(code: str, left_mm: float, unsure_mm: float, move_mm: float) -> Said:
    """That the travel does not reach: "may not" where what is not sure is as large as what lacks."""
    short, move = amount(-left_mm, "length", 1), amount(abs(move_mm), "length", 1)
    return said(code, may=-left_mm <= unsure_mm, short=short, move=move)


def _add(case: Case, least_mm: float) -> Advice:
    corrector = case.train.corrector is not None
    return Advice((said("reach.add", corrector=corrector, change=amount(least_mm, "length", 1)),))


def _shorter(case: Case, short_mm: float) -> tuple[Advice, ...]:
    """What to do where the train is too long for the focuser, by what stands where it could be shortened."""
    train, tube = case.train, case.train.tube
    assert tube is not None
    end = train.corrector or train.camera
    removable = () if end is None else train.places[train.index_of(tube) + 1 : train.index_of(end)]
    short = amount(short_mm, "length", 1)
    there_mm = sum(nominal(place.length) or 0.0 for place in removable)
    unknown_there = any(place.length is None for place in removable)
    corrector = train.corrector is not None
    if there_mm >= short_mm or unknown_there:
        return (Advice((said("reach.take_out", corrector=corrector, short=short),)),)
    lower = said(
        "reach.lower",
        between=bool(removable),
        corrector=corrector,
        there=amount(there_mm, "length", 1),
        short=short,
    )
    newtonian = tube.part.design == "newtonian"
    return (Advice((lower, said("reach.move_primary", short=short)) if newtonian else (lower,)),)


def _taken_by_the_corrector(case: Case) -> tuple[float, float, list[Missing]]:
    """How far in a corrector brings the focus, mm (negative: out), how sure that is, and what to enter.

    Where in a thick one its lens works is not always known: then the middle of what is possible, to either
    side.
    """
    correctors = case.train.correctors
    if not correctors:
        return 0.0, 0.0, []
    if len(correctors) > 1:
        return 0.0, 0.0, [wants("focus_behind_all", correctors=correctors)]
    place = correctors[0]
    spacing = case.spacing
    if spacing is None:
        return 0.0, 0.0, []
    factor = spacing.working_factor
    if factor is None:
        return 0.0, 0.0, [lacks(place, "factor")]
    stated = case.optics.stated_factor
    if stated is not None and abs(stated - 1.0) < 1e-6:
        return 0.0, 0.0, []
    if stated is None or factor <= 0.05 or not 0.05 <= stated <= 20.0:
        return 0.0, 0.0, list(case.optics.missing) or [lacks(place, "factor", "factor_afresh")]
    if spacing.air_mm is None:
        # The missing length is asked for by itself.
        return 0.0, 0.0, list(spacing.missing)
    holds_at = spacing.asked_air_mm or spacing.air_mm
    ends = sorted(in_travel_mm(thin_lens(stated, holds_at + p), spacing.air_mm + p) for p in spacing.plane_mm)
    return (ends[0] + ends[1]) / 2.0, (ends[1] - ends[0]) / 2.0, []


def _other_filters(behind: tuple[Place, ...], ratio: float | None) -> tuple[float, float]:
    """How much further out and in the focus lies with the other filters of the wheels than with those in the
    beam, mm; filters of no known thickness are passed over.
    """
    out = inwards = 0.0
    for place in behind:
        shifts = [
            plate(i, i.part.thickness_mm, i.part.refractive_index, said("glass.part", part=i), ratio).shift_mm
            for i in place.inside
            if isinstance(i.part, Filter) and i.part.thickness_mm is not None
        ]
        beam = place.filter_in_beam
        if len(shifts) < 2 or beam is None or not isinstance(beam.part, Filter):
            continue
        if beam.part.thickness_mm is None:
            continue
        out += max(0.0, max(shifts) - shifts[0])
        inwards += max(0.0, shifts[0] - min(shifts))
    return out, inwards


def _runs_out(case: Case, outwards: bool, drift: Drift | None, thicker: float, thinner: float) -> Said:
    """Why the travel does not last."""
    causes = []
    moved = 0.0 if drift is None or drift.mm is None else drift.mm
    if (moved > 0) is outwards and moved:
        fall, way = amount(case.rig.rules.night_fall_k, "count", 0), amount(abs(moved), "length", 2)
        causes.append(said("reach.by_cold", out=outwards, fall=fall, drift=way))
    other = thicker if outwards else thinner
    if other:
        causes.append(said("reach.by_filter", out=outwards, other=amount(other, "length", 2)))
    return said("reach.runs_out", out=outwards, causes=causes)


def _out_of_the_pinch(case: Case, inwards: float, outwards: float, need: float) -> tuple[Advice, ...]:
    """What to add or take so that so much travel is left where too little is; nothing where there is no
    room.
    """
    if inwards + outwards < 2.0 * need:
        return ()
    return _shorter(case, need - inwards) if inwards < outwards else (_add(case, need - outwards),)


def _more_inputs(case: Case, taken_mm: float, drift: Drift | None) -> tuple[Given, ...]:
    found: list[Given] = []
    spacing = case.spacing
    if taken_mm and spacing is not None and spacing.air_mm is not None and case.optics.factor is not None:
        found.append(worked_input("corrector to sensor, in air", spacing.air_mm, "length", 2))
        found.append(worked_input("its factor there", case.optics.factor, "times", 4))
        found.append(worked_input("it brings the focus in by", taken_mm, "length", 2))
    if drift is not None and drift.mm is not None:
        found.extend(drift.inputs)
        found.append(rule_input(case, "night_fall_k", "the night's fall, K", "count"))
        found.append(worked_input("the cold moves the focus out by", drift.mm, "length", 3))
    return tuple(found)


def _inputs(
    case: Case, tube: OpticalTube, lengths: tuple[Length, ...], glass: tuple[Glass, ...]
) -> tuple[Given, ...]:
    assert case.train.tube is not None
    item = case.train.tube.item
    inputs = [
        input_of(label, item, measure, "length")
        for label, measure in (
            ("focal plane behind the camera-side connection", tube.back_focus_mm),
            ("travel inwards", tube.focuser_in_mm),
            ("travel outwards", tube.focuser_out_mm),
        )
        if measure is not None
    ]
    inputs += [
        input_of("travel of an added focuser", place.item, place.part.travel_mm, "length")
        for place in case.train.focusers
        if place.part.travel_mm is not None
    ]
    for one in glass:
        inputs.append(input_of(one.index_says, one.item, one.thickness, "length"))
        inputs.append(worked_input(one.shift_says, one.shift_mm, "length", 3))
    inputs += [input_of(i.label, i.place.item, i.measure, "length", 2) for i in lengths]
    return tuple(inputs)


def _travel_out(case: Case, tube: OpticalTube) -> tuple[float | None, list[Missing]]:
    assert case.train.tube is not None
    total = None if tube.focuser_out_mm is None else tube.focuser_out_mm.nominal
    missing: list[Missing] = [] if total is not None else [lacks(case.train.tube, "focuser_out_mm")]
    for place in case.train.focusers:
        part = place.part
        if part.travel_mm is None:
            missing.append(lacks(place, "travel_mm"))
            total = None
        elif total is not None:
            total += part.travel_mm.nominal
    return total, missing
