"""The guide camera's branch as bench and logbook show it."""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.connections import Connection, mate
from server.domain.observer import UnitSystem
from server.domain.parts import OffAxisGuider, Shim
from server.domain.rig import Rig
from server.domain.train import Place
from server.rim.wording import write_measure
from server.web.run import JOINT_WEIGHTS, JOINT_WORDS


@dataclass(frozen=True)
class GuideLine:
    """One part between the off-axis guider's side port and the guide camera, with the joint above it.

    The last line is the guide camera's own: it has no place.
    """

    number: int
    place: Place | None
    name: str
    length: str
    weight: str
    word: str


@dataclass(frozen=True)
class GuideRun:
    """The guide camera's branch.

    Attributes:
        under: key of the guider's place, None where the train has no guider any more.
        lines: the parts in order, the guide camera last where the rig has one.
    """

    under: int | None
    lines: tuple[GuideLine, ...]

    @property
    def parts(self) -> int:
        """How many parts stand in it."""
        return sum(line.place is not None for line in self.lines)


def guide_run(rig: Rig, units: UnitSystem) -> GuideRun | None:
    """The guide camera's branch, with the joint above each part; None where there is none to show."""
    if rig.guider is None and not rig.branch:
        return None
    part = None if rig.guider is None else rig.guider.part
    upper = part.side_port if isinstance(part, OffAxisGuider) else None
    rows: list[tuple[Place | None, str, Connection | None, Connection | None, str]] = [
        (
            place,
            place.name,
            place.sky_connection,
            place.camera_connection,
            write_measure(place.length, "length", units),
        )
        for place in rig.branch
    ]
    camera = rig.guide_camera
    behind_scope = any(gear.item.kind == "guide_scope" for gear in rig.gear)
    if camera is not None and (rig.branch or not behind_scope):
        length = write_measure(camera.part.flange_mm, "length", units)
        rows.append((None, camera.name, camera.part.sky_side, None, length))
    lines: list[GuideLine] = []
    for number, (place, name, sky, below, length) in enumerate(rows, start=1):
        if place is not None and isinstance(place.part, Shim):
            lines.append(GuideLine(number, place, name, length, "", ""))
            continue
        mating = mate(upper, sky if rig.guider is not None else None)
        weight, word = JOINT_WEIGHTS[mating.verdict], JOINT_WORDS[mating.in_a_word]
        if weight == "stop" and not rig.branch:
            # Nothing has been built there yet, so nothing is wrong with it either.
            weight, word = "unknown", "not joined yet"
        lines.append(GuideLine(number, place, name, length, weight, word))
        upper = below
    return GuideRun(None if rig.guider is None else rig.guider.key, tuple(lines))
