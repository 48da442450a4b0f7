"""Whether a screwed joint closes: the male thread's length against what it is screwed into."""

import math
from dataclasses import dataclass

from server.out_of_range import OutOfRangeError

#: Fewer turns than this in mesh hold badly; common practice, no source.
LEAST_TURNS = 3.0
_LONGEST_MM = 1000.0
_FIX = "Check the figure and its unit."


@dataclass(frozen=True)
class Seat:
    """How a male thread sits in a female one when it is screwed in as far as it goes; mm.

    gap_mm: left open between the shoulders, 0 when they meet; the train is longer by it. engaged_mm: thread
    in mesh. turns: of it. stopped_by: "shoulder", "floor" (the bottom of the hole) or "part" (a filter cell
    or a lens that the end touches).
    """

    gap_mm: float
    engaged_mm: float
    turns: float
    stopped_by: str

    @property
    def seats(self) -> bool:
        """True when the shoulders meet."""
        return self.gap_mm == 0.0

    @property
    def holds(self) -> bool:
        """True when at least three turns are in mesh."""
        return self.turns >= LEAST_TURNS


def seat(
    male_length_mm: float,
    thread_depth_mm: float,
    pitch_mm: float,
    *,
    floor_depth_mm: float | None = None,
    part_depth_mm: float | None = None,
    male_lead_mm: float = 0.0,
    female_lead_mm: float = 0.0,
) -> Seat:
    """Return how a male thread sits in a female one.

    male_length_mm: from its shoulder to its end, above 0, to 1000 mm. thread_depth_mm: from the female's face
    to the end of its thread, 0 to 1000 mm. pitch_mm: 0.1 to 10 mm. floor_depth_mm: from the face to the
    bottom of the hole, not less than the thread's depth; None where the hole goes through.
    part_depth_mm: from the face to a filter cell or lens that stands in the way of the male's end, 0 to
    1000 mm; None for none. A part that leaves the male's wall alone is none. male_lead_mm: bare metal
    between the male's shoulder and its first turn. female_lead_mm: bare metal between the female's face
    and its first turn; both 0 to 1000 mm. Raises ValueError outside.

    A touch of exactly 0 seats, with nothing to spare. Not modelled: chamfers (half a turn or so at each end
    does not hold), a thread that jams before its end.
    Source: arithmetic along the axis.
    """
    male = _checked("The male thread's length", male_length_mm, above_zero=True)
    depth = _checked("The female thread's depth", thread_depth_mm)
    pitch = float(pitch_mm)
    if not 0.1 <= pitch <= 10.0:
        raise OutOfRangeError(
            f"The thread's pitch is {pitch:g} mm; it must be at least 0.1 and at most 10 mm. "
            "Give the pitch, such as 0.75 for M48x0.75."
        )
    lead, step = _checked("The male's lead", male_lead_mm), _checked("The female's lead", female_lead_mm)
    stops: list[tuple[float, str]] = []
    if floor_depth_mm is not None:
        floor = _checked("The hole's depth", floor_depth_mm)
        if floor < depth:
            raise OutOfRangeError(
                f"The hole is {floor:g} mm deep and its thread {depth:g} mm; the thread "
                "ends within the hole. Check which is which."
            )
        stops.append((floor, "floor"))
    if part_depth_mm is not None:
        stops.append((_checked("The depth of the part behind the thread", part_depth_mm), "part"))
    gap, stopped_by = 0.0, "shoulder"
    if stops:
        first, name = min(stops)
        if first < male:
            gap, stopped_by = male - first, name
    # In mesh is what both threads cover, counted from the female's face.
    begin, end = max(step, lead - gap), min(depth, male - gap)
    engaged = max(0.0, end - begin)
    return Seat(gap, engaged, engaged / pitch, stopped_by)


def _checked(what: str, length_mm: float, *, above_zero: bool = False) -> float:
    length = float(length_mm)
    if not math.isfinite(length) or not 0.0 <= length <= _LONGEST_MM or (above_zero and length == 0.0):
        least = "more than" if above_zero else "at least"
        raise OutOfRangeError(
            f"{what} is {length:g} mm; it must be {least} 0 and at most {_LONGEST_MM:g} mm. {_FIX}"
        )
    return length
