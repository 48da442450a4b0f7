"""The train as every page shows it: its parts in order, each with the joint above it."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from server.domain.connections.printing import size_text
from server.domain.observer import UnitSystem
from server.domain.parts import CataloguedPart
from server.domain.train import Joint, Place, Train
from server.frozen import frozen
from server.rim.phrasebook.tell import sentence_of
from server.rim.wording import write_connection, write_measure
from server.units import write_quantity

JOINT_WORDS = {
    "mates": "mates",
    "watch": "holds, with a caution",
    "wrong_gender": "wrong gender",
    "wrong_size": "wrong size",
    "wrong_pitch": "wrong pitch",
    "wrong_kind": "wrong kind",
    "unknown": "not known yet",
}
JOINT_WEIGHTS = {
    "mates": "sound",
    "watch": "watch",
    "wrong_gender": "stop",
    "wrong_size": "stop",
    "wrong_kind": "stop",
    "unknown": "unknown",
}
"""How the verdict on a joint is shown: its words, and the weight whose shape it bears."""


@frozen
class JointLine:
    """The joint above a place.

    Attributes:
        at: index at which a part added here goes.
        weight, word: how it is judged, as shape and word.
        sentence: the whole of it.
        upper, lower: the two connections as the trade writes them.
        size: what they have in common where they mate; else "".
        joiners: parts on the shelf that would join them.
    """

    at: int
    weight: str
    word: str
    sentence: str
    upper: str
    lower: str
    size: str = ""
    joiners: tuple[CataloguedPart, ...] = ()


@frozen
class RunLine:
    """One part of the train.

    Attributes:
        number: 1 for the first.
        place: the place itself.
        joint: the joint towards the sky, None for the first part and for a shim.
        length: its optical length or flange distance, written; "" for a tube and where it is not known.
        sky_at, camera_at: its shoulders' distances from the sensor, written; "" where they are not known.
        sky, camera: its connections as it is turned, written.
    """

    number: int
    place: Place
    joint: JointLine | None
    length: str
    sky_at: str
    camera_at: str
    sky: str
    camera: str


def run_of(
    train: Train, units: UnitSystem, joiners: Mapping[int, tuple[CataloguedPart, ...]] | None = None
) -> tuple[RunLine, ...]:
    """The train, line by line. `joiners`: parts on the shelf that would join a joint, by its index."""
    return tuple(
        RunLine(
            number=number,
            place=place,
            joint=None if joint is None else _joint_line(joint, units, (joiners or {}).get(joint.index, ())),
            length=write_measure(place.length, "length", units),
            sky_at=write_distance(shoulders.sky_mm, units),
            camera_at=write_distance(shoulders.camera_mm, units),
            sky=write_connection(place.sky_connection),
            camera=write_connection(place.camera_connection),
        )
        for number, (place, shoulders, joint) in enumerate(train.lines, start=1)
    )


# What stands behind the part that is moved stays where it is.
@lru_cache(2048)
def write_distance(length_mm: float | None, units: UnitSystem) -> str:
    """A distance from the sensor, "" for None. Shoulders add up: no part's figure is finer than 0.01 mm."""
    digits = 2 if units == "metric" else 3
    return "" if length_mm is None else write_quantity(length_mm, "length", units, digits)


def _joint_line(joint: Joint, units: UnitSystem, joiners: tuple[CataloguedPart, ...]) -> JointLine:
    verdict = joint.mating.verdict
    upper = joint.upper.camera_connection
    return JointLine(
        at=joint.index,
        weight=JOINT_WEIGHTS[verdict],
        word=JOINT_WORDS[joint.mating.in_a_word],
        sentence=sentence_of(joint.mating.says, units),
        upper=write_connection(upper) or "not known",
        lower=write_connection(joint.lower.sky_connection) or "not known",
        size=size_text(upper) if upper is not None and verdict == "mates" else "",
        joiners=joiners[:3],
    )
