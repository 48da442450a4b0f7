"""Does every joint of the train mate?"""

from __future__ import annotations

from math import inf

from server.domain.connections import (
    Barrel,
    BoltPattern,
    Connection,
    Dovetail,
    InchThread,
    MetricThread,
    gender_of,
    mate,
    opposite,
    print_connection,
)
from server.domain.connections.mating import TURNS_FOR_STIFFNESS
from server.domain.connections.printing import MM_PER_INCH, size_text
from server.domain.findings import Figure
from server.domain.measure import nominal
from server.domain.missing import lacks, wants
from server.domain.parts import CataloguedPart, Shim
from server.domain.said import Missing, Said, named, said
from server.domain.train import Joint, Place
from server.domain.verdicts import Act, Advice, Verdict
from server.domain.workings.case import (
    Case,
    amount,
    input_of,
    not_known,
    worked_input,
)
from server.optics.threads import pitch_of_inch_thread_mm, turns_engaged

_CODES = {"wrong_gender": "joints.gender", "wrong_size": "joints.size", "wrong_kind": "joints.kind"}
EDGE = 1e-9
"""Float rounding must not turn a verdict."""


def check_joints(case: Case) -> tuple[Verdict, ...]:
    """Return a stop for each joint that does not mate, one watch for all that are push-fit."""
    joints = case.train.joints
    found = [_broken(joint, case) for joint in joints if joint.mating.verdict in _CODES]
    # What the lengths of two threads do is the seating's to say.
    loose = [j for j in joints if j.mating.verdict == "watch" and not _both_threads(j)]
    if loose:
        found.append(_push_fit(loose))
    unsure = [j for j in joints if j.mating.verdict == "unknown"]
    if unsure:
        found.append(_unsure(unsure))
    found.extend(_shims(case))
    found.extend(_ends(case))
    if joints and not found:
        found.append(
            Verdict(code="joints.mate", weight="sound", says=(said("joints.mate", joints=len(joints)),))
        )
    return tuple(found)


def _both_threads(joint: Joint) -> bool:
    ends = (joint.upper.camera_connection, joint.lower.sky_connection)
    return all(isinstance(end, MetricThread | InchThread) for end in ends)


def _between(joint: Joint, what: Said) -> tuple[Said, ...]:
    return (said("joints.between", upper=joint.upper, lower=joint.lower, what=what),)


def _broken(joint: Joint, case: Case) -> Verdict:
    remedies = [
        Advice((said("joints.turn", part=place),))
        for place in (joint.upper, joint.lower)
        if place.can_flip and _holds_turned(place, case)
    ]
    remedies += [
        Advice((said("joints.joiner", part=item),), Act(verb="add", part=named(item), at=joint.index))
        for item in case.joiners.get(joint.index, ())[:3]
    ]
    remedies += [
        Advice(
            (said("joints.swap", part=item, old=place),),
            Act(verb="swap", part=named(item), place=place.key),
        )
        for place, item in sorted(case.swaps.get(joint.index, ()), key=_other_length)[:1]
    ]
    if not remedies:
        remedies.append(Advice((_wanted(joint),)))
    return Verdict(
        code=_CODES[joint.mating.verdict],
        weight="stop",
        says=_between(joint, joint.mating.says),
        remedies=tuple(remedies),
        rule=joint.mating.why,
        place=joint.lower.key,
    )


def _other_length(swap: tuple[Place, CataloguedPart]) -> float:
    """How far the spacing moves by a swap, mm: the part nearest in length comes first."""
    place, item = swap
    old, new = nominal(place.length), nominal(getattr(item.part, "length_mm", None))
    return inf if old is None or new is None else abs(new - old)


def _holds_turned(place: Place, case: Case) -> bool:
    """Whether a place's joints all hold once it is turned round."""
    above = [j.upper for j in case.train.joints if j.lower is place]
    below = [j.lower for j in case.train.joints if j.upper is place]
    return all(mate(up.camera_connection, place.camera_connection).holds for up in above) and all(
        mate(place.sky_connection, down.sky_connection).holds for down in below
    )


def _wanted(joint: Joint) -> Said:
    upper, lower = joint.upper.camera_connection, joint.lower.sky_connection
    assert upper is not None
    assert lower is not None
    return said(
        "joints.wanted",
        sky=print_connection(opposite(upper)),
        camera=print_connection(opposite(lower)),
    )


def _push_fit(joints: list[Joint]) -> Verdict:
    first = joints[0]
    says = _between(first, first.mating.says)
    if len(joints) > 1:
        pairs = [said("joints.pair", upper=joint.upper, lower=joint.lower) for joint in joints]
        says = (said("joints.push_fit", pairs=pairs),)
    return Verdict(
        code="joints.watch",
        weight="watch",
        says=says,
        rule=first.mating.why,
        place=first.lower.key if len(joints) == 1 else None,
    )


def _unsure(joints: list[Joint]) -> Verdict:
    missing: list[Missing] = []
    for joint in joints:
        for place, side, connection in (
            (joint.upper, "camera side", joint.upper.camera_connection),
            (joint.lower, "sky side", joint.lower.sky_connection),
        ):
            if connection is None:
                missing.append(lacks(place, place.side_field(side), "connection", side=side))
            elif isinstance(connection, MetricThread) and connection.pitch_mm is None:
                missing.append(lacks(place, place.side_field(side), "pitch", side=side))
            elif not isinstance(connection, BoltPattern | Dovetail) and gender_of(connection) is None:
                missing.append(lacks(place, place.side_field(side), "gender", side=side))
            elif isinstance(connection, BoltPattern) and connection.circle_mm is None:
                missing.append(lacks(place, place.side_field(side), "bolt_circle", side=side))
    missing = missing or [wants("connections", upper=j.upper, lower=j.lower) for j in joints]
    says = said("joints.unknown", joints=len(joints), missing=missing)
    return not_known("joints.unknown", tuple(missing), says)


def _shims(case: Case) -> list[Verdict]:
    """What the shims of each joint do to it: whether they fit, and what thread they leave to engage."""
    found: list[Verdict] = []
    for joint in case.train.joints:
        for shim in joint.shims:
            found.extend(_misfit(joint, shim))
        if joint.shims and joint.mating.holds:
            found.extend(_engagement(joint))
    return found


def _misfit(joint: Joint, shim: Place[Shim]) -> list[Verdict]:
    """A shim must let the male thread of its joint through, and be held by the shoulder around it."""
    part = shim.part
    thread = joint.upper.camera_connection
    diameter = _diameter_mm(thread)
    if thread is None or diameter is None:
        return []
    inner, outer = part.fits_from_mm, part.fits_to_mm
    if inner is None:
        what = lacks(shim, "fits_from_mm")
        says = said("joints.shim_unknown", shim=shim, missing=what)
        return [not_known("joints.shim_unknown", (what,), says, place=shim.key, working="joints.shim")]
    if inner.nominal >= diameter and (outer is None or outer.nominal > diameter):
        return []
    inputs = [input_of("inner diameter", shim.item, inner, "length")]
    if outer is not None:
        inputs.append(input_of("outer diameter", shim.item, outer, "length"))
    return [
        Verdict(
            code="joints.shim",
            weight="stop",
            says=(said("joints.shim", shim=shim, thread=size_text(thread)),),
            inputs=tuple(inputs),
            place=shim.key,
        )
    ]


def _engagement(joint: Joint) -> list[Verdict]:
    """Shims hold the shoulders apart, so that so much less of the male thread engages."""
    upper, lower = joint.upper.camera_connection, joint.lower.sky_connection
    ends = [c for c in (upper, lower) if isinstance(c, MetricThread | InchThread)]
    male = next((c for c in ends if c.gender == "male"), None)
    female = next((c for c in ends if c.gender == "female"), None)
    thickness = [s.length for s in joint.shims]
    if male is None or female is None or male.thread_mm is None or None in thickness:
        return []
    pitch = (
        male.pitch_mm if isinstance(male, MetricThread) else pitch_of_inch_thread_mm(male.threads_per_inch)
    )
    if pitch is None:
        return []
    lifted = sum(length.nominal for length in thickness if length is not None)
    reach = max(0.0, male.thread_mm - lifted)
    engaged = reach if female.thread_mm is None else min(reach, female.thread_mm)
    turns = turns_engaged(engaged, pitch)
    if turns >= TURNS_FOR_STIFFNESS - EDGE:
        return []
    held = said("joints.shim_thread", shims=joint.shims, turns=amount(turns, "count", 1))
    return [
        Verdict(
            code="joints.shim_thread",
            weight="stop" if turns < 1.0 else "watch",
            says=_between(joint, held),
            figure=Figure(label="turns engaged", amount=amount(turns, "count", 1)),
            inputs=(
                worked_input("male thread", male.thread_mm, "length"),
                *(
                    input_of("thickness of the shim", shim.item, shim.length, "length", 2)
                    for shim in joint.shims
                ),
                worked_input("pitch", pitch, "length", 2),
            ),
            place=joint.lower.key,
        )
    ]


def _diameter_mm(connection: Connection | None) -> float | None:
    if isinstance(connection, InchThread):
        return connection.diameter_in * MM_PER_INCH
    return connection.diameter_mm if isinstance(connection, MetricThread | Barrel) else None


def _ends(case: Case) -> list[Verdict]:
    if not len(case.train) and not case.rig.gear:
        return []
    ends = {"tube": case.train.tube, "camera": case.train.camera}
    lacking = {name: wants(f"{name}_in_train") for name, end in ends.items() if end is None}
    if not lacking:
        return []
    says = said("joints.ends", which="both" if len(lacking) == 2 else next(iter(lacking)))
    return [not_known("joints.ends", tuple(lacking.values()), says, working="none")]
