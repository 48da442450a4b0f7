"""Does every joint of the train mate?"""

from __future__ import annotations

from server.domain.checks.case import (
    COMMON_PRACTICE,
    Case,
    amount,
    input_of,
    listed,
    literal,
    say,
    unknown,
    worked_input,
)
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
from server.domain.findings import Action, Figure, Finding, Remedy
from server.domain.missing import lacks
from server.domain.parts import Filter, Shim
from server.domain.train import Joint, Place
from server.optics.threads import pitch_of_inch_thread_mm, turns_engaged

_CODES = {"wrong_gender": "joints.gender", "wrong_size": "joints.size", "wrong_kind": "joints.kind"}
_RULE = "Threads mate where diameter and pitch are equal and one is male, the other female."
_SOURCE = (
    "Thread sizes as ISO 68-1 and ASME B1.1 designate them; that push-fits are not square: "
    "common practice, no source."
)
SHIM_RULE = f"Plain geometry: {COMMON_PRACTICE}"
EDGE = 1e-9
"""Float rounding must not turn a verdict."""


def check_joints(case: Case) -> tuple[Finding, ...]:
    """Return a stop for each joint that does not mate, one watch for those that hold with a caution."""
    joints = case.train.joints
    found = [_broken(joint, case) for joint in joints if joint.mating.verdict in _CODES]
    # What the lengths of two threads do is the seating's to say.
    watched = [j for j in joints if j.mating.verdict == "watch" and not _both_threads(j)]
    found.extend(_watched(j) for j in watched)
    unsure = [j for j in joints if j.mating.verdict == "unknown"]
    if unsure:
        found.append(_unsure(unsure))
    found.extend(_shims(case))
    found.extend(_sun(case))
    found.extend(_ends(case))
    if joints and not found:
        words = "The one joint mates." if len(joints) == 1 else f"All {len(joints)} joints mate."
        found.append(
            Finding(
                code="joints.mate",
                weight="sound",
                title="Joints",
                phrase=say(words),
                formula=_RULE,
                source=_SOURCE,
            )
        )
    return tuple(found)


def _both_threads(joint: Joint) -> bool:
    ends = (joint.upper.camera_connection, joint.lower.sky_connection)
    return all(isinstance(end, MetricThread | InchThread) for end in ends)


def _between(joint: Joint) -> str:
    return literal(f"Between {joint.upper.name} and {joint.lower.name}: ")


def _broken(joint: Joint, case: Case) -> Finding:
    remedies = [
        Remedy(phrase=say(literal(f"Turn {place.name} round: then both of its joints hold.")))
        for place in (joint.upper, joint.lower)
        if place.can_flip and _holds_turned(place, case)
    ]
    remedies += [
        Remedy(
            phrase=say(literal(f"{item.name} on your shelf joins them.")),
            action=Action(verb="add", words=f"Put {item.name} in", part_id=item.id, at=joint.index),
        )
        for item in case.joiners.get(joint.index, ())[:3]
    ]
    if not remedies:
        remedies.append(
            Remedy(
                phrase=say("No single adapter on your shelf joins them; one that does has " + _wanted(joint))
            )
        )
    return Finding(
        code=_CODES[joint.mating.verdict],
        weight="stop",
        title="Joint",
        phrase=say(_between(joint) + literal(joint.mating.sentence)),
        remedies=tuple(remedies),
        formula=joint.mating.why,
        source=_SOURCE,
        place=joint.lower.key,
    )


def _holds_turned(place: Place, case: Case) -> bool:
    """Whether a place's joints all hold once it is turned round."""
    above = [j.upper for j in case.train.joints if j.lower is place]
    below = [j.lower for j in case.train.joints if j.upper is place]
    return all(mate(up.camera_connection, place.camera_connection).holds for up in above) and all(
        mate(place.sky_connection, down.sky_connection).holds for down in below
    )


def _wanted(joint: Joint) -> str:
    upper, lower = joint.upper.camera_connection, joint.lower.sky_connection
    assert upper is not None
    assert lower is not None
    return literal(
        f"{print_connection(opposite(upper))} towards the sky and "
        f"{print_connection(opposite(lower))} towards the camera."
    )


def _watched(joint: Joint) -> Finding:
    return Finding(
        code="joints.watch",
        weight="watch",
        title="Joint",
        phrase=say(_between(joint) + literal(joint.mating.sentence)),
        formula=joint.mating.why,
        source=_SOURCE,
        place=joint.lower.key,
    )


def _unsure(joints: list[Joint]) -> Finding:
    missing: list[str] = []
    for joint in joints:
        for place, side, connection in (
            (joint.upper, "camera side", joint.upper.camera_connection),
            (joint.lower, "sky side", joint.lower.sky_connection),
        ):
            if connection is None:
                missing.append(lacks(place, place.side_field(side), f"the connection at the {side}"))
            elif isinstance(connection, MetricThread) and connection.pitch_mm is None:
                missing.append(lacks(place, place.side_field(side), f"the pitch of the thread at the {side}"))
            elif not isinstance(connection, BoltPattern | Dovetail) and gender_of(connection) is None:
                missing.append(lacks(place, place.side_field(side), f"male or female at the {side}"))
            elif isinstance(connection, BoltPattern) and connection.circle_mm is None:
                missing.append(lacks(place, place.side_field(side), f"the bolt circle at the {side}"))
    missing = missing or [
        f"more of the connections between {j.upper.name} and {j.lower.name}" for j in joints
    ]
    words = "One joint is" if len(joints) == 1 else f"{len(joints)} joints are"
    return unknown(
        "joints.unknown",
        "Joints",
        f"{words} not known yet: enter {literal(listed(missing))}.",
        tuple(missing),
        source=_SOURCE,
    )


def _shims(case: Case) -> list[Finding]:
    """What the shims of each joint do to it: whether they fit, and what thread they leave to engage."""
    found: list[Finding] = []
    for joint in case.train.joints:
        for shim in joint.shims:
            found.extend(_misfit(joint, shim))
        if joint.shims and joint.mating.holds:
            found.extend(_engagement(joint))
    return found


def _misfit(joint: Joint, shim: Place[Shim]) -> list[Finding]:
    """A shim must let the male thread of its joint through, and be held by the shoulder around it."""
    part = shim.part
    thread = joint.upper.camera_connection
    diameter = _diameter_mm(thread)
    if thread is None or diameter is None:
        return []
    inner, outer = part.fits_from_mm, part.fits_to_mm
    if inner is None:
        what = lacks(shim, "fits_from_mm", "the inner diameter")
        sentence = literal(f"Whether {shim.name} fits its joint is not known yet: enter {what}.")
        return [unknown("joints.shim_unknown", "Shim", sentence, (what,), source=SHIM_RULE, place=shim.key)]
    if inner.nominal >= diameter and (outer is None or outer.nominal > diameter):
        return []
    inputs = [input_of("inner diameter", shim.item, inner, "length")]
    if outer is not None:
        inputs.append(input_of("outer diameter", shim.item, outer, "length"))
    return [
        Finding(
            code="joints.shim",
            weight="stop",
            title="Shim",
            phrase=say(
                literal(f"{shim.name} does not fit this joint: its ring must pass the {size_text(thread)} ")
                + "thread and lie on the shoulder around it."
            ),
            inputs=tuple(inputs),
            formula="inner diameter >= thread diameter < outer diameter",
            source=SHIM_RULE,
            place=shim.key,
        )
    ]


def _engagement(joint: Joint) -> list[Finding]:
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
    names = listed([shim.name for shim in joint.shims])
    return [
        Finding(
            code="joints.shim_thread",
            weight="stop" if turns < 1.0 else "watch",
            title="Shim",
            phrase=say(
                _between(joint)
                + literal(f"with {names} in the joint ")
                + "only {turns} turns of thread engage; three or more hold it stiff.",
                turns=amount(turns, "count", 1),
            ),
            figure=Figure(label="turns engaged", amount=amount(turns, "count", 1)),
            inputs=(
                worked_input("male thread", male.thread_mm, "length"),
                *(
                    input_of("thickness of the shim", shim.item, shim.length, "length", 2)
                    for shim in joint.shims
                ),
                worked_input("pitch", pitch, "length", 2),
            ),
            formula="turns = (male thread - shims) / pitch, no more than the female thread is deep",
            source=f"Plain geometry. Three turns to be stiff: {COMMON_PRACTICE}",
            place=joint.lower.key,
        )
    ]


def _diameter_mm(connection: Connection | None) -> float | None:
    if isinstance(connection, InchThread):
        return connection.diameter_in * MM_PER_INCH
    return connection.diameter_mm if isinstance(connection, MetricThread | Barrel) else None


def _behind_tube(case: Case) -> tuple[Place, ...]:
    """What stands behind the objective; the whole train while it has no tube."""
    return case.train.places if case.train.tube is None else case.train.after(case.train.tube)


def _sun(case: Case) -> list[Finding]:
    """A filter made for the Sun anywhere behind the objective: the light that reaches it is concentrated."""
    return [
        Finding(
            code="joints.sun",
            weight="stop",
            title="The Sun",
            phrase=say(
                literal(f"{item.name} is made for the Sun and stands behind the objective, where ")
                + "gathered sunlight can crack it. Never point this train at the Sun without a certified "
                "filter over the whole aperture; cap the finder, and never leave it unattended."
            ),
            remedies=(
                Remedy(
                    phrase=say(
                        "Take it out of the train"
                        + (
                            " and add it beside the train: it goes over the front of the tube."
                            if item.part.slips_over_tube
                            else "; only a filter over the whole front of the tube is fit for the Sun."
                        )
                    )
                ),
            ),
            formula="a solar filter belongs before the objective",
            source=COMMON_PRACTICE,
            place=place.key,
        )
        for place in _behind_tube(case)
        for item in (place.item, *place.inside)
        if isinstance(item.part, Filter) and item.part.solar
    ]


def _ends(case: Case) -> list[Finding]:
    if not len(case.train):
        return []
    lacking = [
        word
        for word, end in (("an optical tube", case.train.tube), ("a camera", case.train.camera))
        if end is None
    ]
    if not lacking:
        return []
    sentence = (
        f"The train has no {' and no '.join(w.split(' ', 1)[1] for w in lacking)} yet: add {listed(lacking)}."
    )
    return [unknown("joints.ends", "Train", sentence, tuple(f"{word} in the train" for word in lacking))]
