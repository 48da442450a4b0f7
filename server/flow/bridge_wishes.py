"""What a person asks of a stack, and the gap that it is to close."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

from server.domain.errors import RefusedError
from server.domain.measure import nominal
from server.domain.rig import Rig
from server.domain.said import Said, Words, said
from server.domain.train import Place, Train
from server.flow.bridge_stock import Source

Lead = Literal["fit", "money", "joints", "error"]


class ContradictionError(RefusedError):
    """Two demands that no stack can meet together; `pair` names them."""

    def __init__(self, first: Said, second: Said, why: Said) -> None:
        super().__init__(said("bridge.contradiction", first=first, second=second, why=why))
        self.pair = (first, second)


@dataclass(frozen=True)
class Wishes:
    """What a person asks of a stack. None leaves a figure to what the rig itself asks for.

    Attributes:
        joint: key of the place below the joint that is meant; ends are then chosen around it.
        sky, camera: keys of the two ends.
        distance_mm: between the two ends' faces; `short_mm` and `long_mm` say how much it may miss that.
        source: which parts may be used: owned, owned and wished for (or considered), or all of the catalogue.
        clear_mm: smallest clear aperture of every part that comes in; 0 for none.
        most_kg: greatest mass of the whole stack.
        most_joints: how many joints the stack may have, its two ends and shims counted.
        push_fit: whether push-fit barrels may be used; None: only where an end is one.
        free_order: whether the parts that stay may change their order.
        leave: keys of places that need not stay.
        without: numbers of parts that are not wanted.
        glued: pairs of part numbers that are one piece.
        lead: what the answers are led by; "fit" is money, then the error, then joints.
        guide: the guide camera behind the off-axis guider is to be in focus as well.
        guide_mm: how much its path may differ from the main one.
    """

    joint: int | None = None
    sky: int | None = None
    camera: int | None = None
    distance_mm: float | None = None
    short_mm: float | None = None
    long_mm: float | None = None
    source: Source = "catalogue"
    clear_mm: float | None = None
    most_kg: float | None = None
    most_joints: int = 9
    push_fit: bool | None = None
    free_order: bool = False
    leave: tuple[int, ...] = ()
    without: tuple[int, ...] = ()
    glued: tuple[tuple[int, int], ...] = ()
    lead: Lead = "fit"
    guide: bool = False
    guide_mm: float | None = None


@dataclass(frozen=True)
class Gap:
    """Where a stack goes, and what the rig asks of it.

    Attributes:
        rig: as it is now.
        sky, camera: the two ends.
        kept: what must stay between them, in order; `left` what could and need not.
        freed: rings, adapters and shims that stand there now.
        distance_mm, short_mm, long_mm: the distance between the ends' faces and how much it may be missed by.
        whose: who asks for it: "corrector" (tolerance of its own), "rules", "focuser", "typed", "nobody".
        asked_mm, outside_mm: the corrector's back focus with glass, and what lies outside the gap of it; None
            where
            no corrector asks.
        clear_mm: smallest clear aperture asked for; `cone_mm` (near the camera, near the sky) what the light
            needs.
        push_fit: whether push-fit parts may be used.
        notes: what to enter for the distance to be sure.
        clear_asked: whether a person asked for `clear_mm`; else it follows from the light.
    """

    rig: Rig
    sky: Place
    camera: Place
    kept: tuple[Place, ...]
    left: tuple[Place, ...]
    freed: tuple[Place, ...]
    distance_mm: float
    short_mm: float
    long_mm: float
    whose: str
    asked_mm: float | None
    outside_mm: float | None
    clear_mm: float
    cone_mm: tuple[float, float] | None
    push_fit: bool
    notes: tuple[Words, ...]
    clear_asked: bool = False

    @cached_property
    def between(self) -> tuple[Place, ...]:
        """All that stands between the two ends now."""
        places = self.rig.train.places
        return places[places.index(self.sky) + 1 : places.index(self.camera)]

    @cached_property
    def now_mm(self) -> float | None:
        """What the parts between the ends add up to now; None where one's length is not known."""
        lengths = [nominal(place.length) for place in self.between]
        return None if None in lengths else sum(length for length in lengths if length is not None)

    def with_places(self, places: tuple[Place, ...]) -> Rig:
        """The rig with these places between the two ends."""
        all_places = self.rig.train.places
        start, end = all_places.index(self.sky) + 1, all_places.index(self.camera)
        return replace(self.rig, train=Train((*all_places[:start], *places, *all_places[end:])))
