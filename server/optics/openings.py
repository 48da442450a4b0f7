"""What a beam meets on its way: round and square openings, and what stands in it (no numpy here).

Places are in the sensor's own axes: x along its width, y along its height, the optical axis at 0, 0.
Angles count from +x towards +y. Distances are in air, from the sensor towards the sky.
"""

import math
from dataclasses import dataclass

from server.frozen import frozen
from server.optics.beam import Beam
from server.optics.ranges import LONGEST_MM, checked, checked_length_mm

_FIX = "Check the figure and its unit."


@frozen
class Round:
    """A round opening: light passes inside.

    distance_mm: 0 to 100 000 mm. diameter_mm: above 0, to 100 000 mm. x_mm, y_mm: its middle, up to
    100 000 mm of either sign. Raises ValueError outside.
    """

    distance_mm: float
    diameter_mm: float
    x_mm: float = 0.0
    y_mm: float = 0.0

    def __post_init__(self) -> None:
        """Refuse figures outside their range."""
        checked_length_mm("The opening's distance before the sensor", self.distance_mm)
        checked_length_mm("The opening's clear diameter", self.diameter_mm, above_zero=True)
        _check_place(self.x_mm, self.y_mm)

    @property
    def centred(self) -> bool:
        """True when its middle lies on the axis."""
        return self.x_mm == 0.0 and self.y_mm == 0.0

    @property
    def square_on(self) -> bool:
        """True: a disc has no side that could be turned against the sensor's."""
        return True


@dataclass(frozen=True)
class Rectangle:
    """A rectangle across the beam: an opening (a square filter), or with `blocks` a thing that stands in it.

    distance_mm: 0 to 100 000 mm. width_mm, height_mm: above 0, to 100 000 mm. x_mm, y_mm: its middle, up to
    100 000 mm of either sign. angle_deg: of its width against the sensor's, -360 to 360 degrees. Raises
    ValueError outside.
    """

    distance_mm: float
    width_mm: float
    height_mm: float
    x_mm: float = 0.0
    y_mm: float = 0.0
    angle_deg: float = 0.0
    blocks: bool = False

    def __post_init__(self) -> None:
        """Refuse figures outside their range."""
        checked_length_mm("The rectangle's distance before the sensor", self.distance_mm)
        checked_length_mm("The rectangle's width", self.width_mm, above_zero=True)
        checked_length_mm("The rectangle's height", self.height_mm, above_zero=True)
        _check_place(self.x_mm, self.y_mm)
        checked("The rectangle's angle", self.angle_deg, -360.0, 360.0, "degrees", _FIX)

    @property
    def centred(self) -> bool:
        """True when its middle lies on the axis."""
        return self.x_mm == 0.0 and self.y_mm == 0.0

    @property
    def square_on(self) -> bool:
        """True when its sides are parallel to the sensor's."""
        return self.angle_deg % 90.0 == 0.0


@dataclass(frozen=True)
class Oval:
    """An oval opening, or a round one that stands askew: light passes inside.

    distance_mm: of its middle, above 0, to 100 000 mm before the sensor. width_mm, height_mm: as seen along
    the axis, along the sensor's sides; above 0, to 100 000 mm. x_mm, y_mm: its middle, up to 100 000 mm of
    either sign. lean_x, lean_y: by how much its distance grows for each mm along x and y, -2 to 2: 1 for a
    diagonal of 45 degrees. Raises ValueError outside.
    """

    distance_mm: float
    width_mm: float
    height_mm: float
    x_mm: float = 0.0
    y_mm: float = 0.0
    lean_x: float = 0.0
    lean_y: float = 0.0

    def __post_init__(self) -> None:
        """Refuse figures outside their range."""
        checked_length_mm("The oval's distance before the sensor", self.distance_mm, above_zero=True)
        checked_length_mm("The oval's width", self.width_mm, above_zero=True)
        checked_length_mm("The oval's height", self.height_mm, above_zero=True)
        _check_place(self.x_mm, self.y_mm)
        for lean in (self.lean_x, self.lean_y):
            checked("The oval's lean", lean, -2.0, 2.0, "mm per mm", _FIX)
        reach = math.hypot(self.lean_x * self.width_mm, self.lean_y * self.height_mm) / 2.0
        checked("The oval's reach along the axis", reach, 0.0, self.distance_mm, "mm", _FIX, below_high=True)

    @property
    def centred(self) -> bool:
        """True when its middle lies on the axis."""
        return self.x_mm == 0.0 and self.y_mm == 0.0

    @property
    def square_on(self) -> bool:
        """True when it stands square to the axis."""
        return self.lean_x == 0.0 and self.lean_y == 0.0


Opening = Round | Rectangle | Oval


def _check_place(x_mm: float, y_mm: float) -> None:
    for value in (x_mm, y_mm):
        checked("The opening's place across the axis", value, -LONGEST_MM, LONGEST_MM, "mm", _FIX)


def prism(distance_mm: float, side_deg: float, edge_mm: float, width_mm: float, depth_mm: float) -> Rectangle:
    """Return the rectangle that a guider's prism blocks when it reaches in from one side.

    distance_mm: of the face that shades most (see `prism_reach`), 0 to 100 000 mm before the sensor, in air.
    side_deg: the direction from the axis to the prism, from the sensor's +x towards +y: 0 and 180 its short
    sides, 90 and 270 its long sides; -360 to 360. edge_mm: from the axis to the prism's inner edge; negative
    when it reaches across. width_mm: along that edge. depth_mm: from that edge outwards. Raises ValueError
    outside. Not modelled: the prism's other face, and the bevels of its edges.
    Source: plane geometry.
    """
    side = checked("The prism's side", side_deg, -360.0, 360.0, "degrees", _FIX)
    edge = checked("The prism's edge", edge_mm, -LONGEST_MM, LONGEST_MM, "mm", _FIX)
    depth = checked_length_mm("The prism's depth", depth_mm, above_zero=True)
    cosine, sine = direction(side)
    return Rectangle(
        distance_mm=distance_mm,
        width_mm=depth,
        height_mm=width_mm,
        x_mm=(edge + depth / 2.0) * cosine,
        y_mm=(edge + depth / 2.0) * sine,
        angle_deg=side,
        blocks=True,
    )


def prism_reach_mm(
    beam: Beam,
    sensor_width_mm: float,
    sensor_height_mm: float,
    distance_mm: float,
    side_deg: float,
    prism_width_mm: float,
) -> float:
    """Return how near the axis, mm, the prism's inner edge may come before it shades the sensor's rectangle.

    beam: the cones that light the sensor. sensor_width_mm, sensor_height_mm: above 0, to 100 000 mm, its
    middle on the axis. distance_mm: of the prism's face, 0 or more; of its two faces ask for both
    and take the larger answer. side_deg: as `prism`. prism_width_mm: along its inner edge, its middle on the
    line from the axis, above 0, to 100 000 mm. Raises ValueError outside.

    All light that goes to any point of the sensor is asked for: the figure is exact for that, and a little
    shade of a corner is often borne. The obstruction's shadow is not used.
    Source: plane geometry: the beams' common footprint is the rectangle of their middles, with a border of
    half a beam all round.
    """
    width = checked_length_mm("The sensor's width", sensor_width_mm, above_zero=True)
    height = checked_length_mm("The sensor's height", sensor_height_mm, above_zero=True)
    strip = checked_length_mm("The prism's width", prism_width_mm, above_zero=True) / 2.0
    cosine, sine = direction(checked("The prism's side", side_deg, -360.0, 360.0, "degrees", _FIX))
    shrink, border = abs(beam.middle(distance_mm)), beam.half_mm(distance_mm)
    a, b = width / 2.0 * shrink, height / 2.0 * shrink
    # The corners in the prism's own axes: s towards the prism, t along its edge.
    corners = [
        (x * cosine + y * sine, -x * sine + y * cosine) for x, y in ((a, b), (-a, b), (-a, -b), (a, -b))
    ]
    # The footprint's top over t is concave, so its highest place within the strip is its top, or the end
    # of the strip next to it.
    top = max(s for s, _ in corners)
    tops = [t for s, t in corners if s >= top - 1e-12 * (1.0 + abs(top))]
    nearest = min(max(0.0, min(tops)), max(tops))
    t = min(max(nearest, -strip), strip)
    return _top_of_footprint(corners, border, t)


def _top_of_footprint(corners: list[tuple[float, float]], border: float, t: float) -> float:
    highest = -math.inf
    for at, (s0, t0) in enumerate(corners):
        s1, t1 = corners[(at + 1) % len(corners)]
        if abs(t - t0) <= border:  # The round corner.
            highest = max(highest, s0 + math.sqrt((border - (t - t0)) * (border + (t - t0))))
        length = math.hypot(s1 - s0, t1 - t0)
        if length == 0.0:
            continue
        # The corners go round from +s to +t, so that this is the outward normal.
        ns, nt = (t1 - t0) / length, -(s1 - s0) / length
        begin, end = t0 + border * nt, t1 + border * nt
        if min(begin, end) <= t <= max(begin, end) and begin != end:  # The straight side, moved out.
            share = (t - begin) / (end - begin)
            highest = max(highest, s0 + border * ns + share * (s1 - s0))
    return highest


def direction(angle_deg: float) -> tuple[float, float]:
    """Return cosine and sine of an angle in degrees, exact for whole quarters of a turn.

    Source: plane geometry.
    """
    quarter, rest = divmod(angle_deg, 90.0)
    if rest == 0.0:
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter) % 4]
    return math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
