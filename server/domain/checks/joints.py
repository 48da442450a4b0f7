"""Does every joint of the train mate?"""

from __future__ import annotations

from server.domain.checks.case import COMMON_PRACTICE, Case, listed, literal, say, unknown
from server.domain.connections import InchThread, MetricThread, gender_of, opposite, print_connection
from server.domain.findings import Action, Finding, Remedy
from server.domain.train import Joint

_CODES = {"wrong_gender": "joints.gender", "wrong_size": "joints.size", "wrong_kind": "joints.kind"}
_RULE = "Threads mate where diameter and pitch are equal and one is male, the other female."
_SOURCE = (
    "Thread sizes as ISO 68-1 and ASME B1.1 designate them; that push-fits are not square: "
    "common practice, no source."
)


def check_joints(case: Case) -> tuple[Finding, ...]:
    """Return a stop for each joint that does not mate, one watch for those that hold with a caution."""
    joints = case.train.joints
    found = [_broken(joint, case) for joint in joints if joint.mating.verdict in _CODES]
    watched = [j for j in joints if j.mating.verdict == "watch"]
    found.extend(_watched(j) for j in watched)
    unsure = [j for j in joints if j.mating.verdict == "unknown"]
    if unsure:
        found.append(_unsure(unsure))
    found.extend(_shims(case))
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


def _between(joint: Joint) -> str:
    return literal(f"Between {joint.upper.name} and {joint.lower.name}: ")


def _broken(joint: Joint, case: Case) -> Finding:
    remedies = [
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
        formula=literal(joint.mating.why),
        source=_SOURCE,
        place=joint.lower.key,
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
        formula=literal(joint.mating.why),
        source=_SOURCE,
        place=joint.lower.key,
    )


def _unsure(joints: list[Joint]) -> Finding:
    missing: list[str] = []
    for joint in joints:
        for place, side, connection in (
            (joint.upper, "camera-side", joint.upper.camera_connection),
            (joint.lower, "sky-side", joint.lower.sky_connection),
        ):
            if connection is None:
                missing.append(f"the {side} connection of {place.name}")
            elif isinstance(connection, MetricThread | InchThread) and gender_of(connection) is None:
                missing.append(f"male or female at the {side} of {place.name}")
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
    """A shim must let the male thread of its joint through, and be held by the shoulder around it."""
    found: list[Finding] = []
    for joint in case.train.joints:
        for shim in joint.shims:
            inner, outer = getattr(shim.part, "fits_from_mm", None), getattr(shim.part, "fits_to_mm", None)
            thread = joint.upper.camera_connection
            diameter = getattr(thread, "diameter_mm", None)
            if diameter is None or inner is None:
                continue
            if inner.nominal < diameter or (outer is not None and outer.nominal <= diameter):
                found.append(
                    Finding(
                        code="joints.shim",
                        weight="stop",
                        title="Shim",
                        phrase=say(
                            f"{literal(shim.name)} does not fit this joint: its ring must pass the "
                            f"M{diameter:g} thread and lie on the shoulder around it."
                        ),
                        formula="inner diameter >= thread diameter < outer diameter",
                        source=COMMON_PRACTICE,
                        place=shim.key,
                    )
                )
    return found


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
