"""Areas that discs and half-planes have in common, exactly, for many places at once (numpy).

Import this lazily: it brings numpy. Arrays have one row for each disc or line and one column for each
place; all lengths are in one unit of the caller's choice, areas in its square. No quadrature but
`by_chords`: the border is followed arc by arc. What is left is rounding, below 1e-9 of the smallest disc's
area for radii up to a million times the smallest.
"""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

_TURN = 2.0 * np.pi
#: Discs whose centres are closer than this part of the larger radius are taken as concentric.
_CONCENTRIC = 1e-12
#: Lines whose directions differ by less than this angle are taken as parallel.
_PARALLEL = 1e-9
_TINY = 1e-300
_CHORDS = 256


def discs_on_a_line(centre: Floats, radius: Floats) -> Floats:
    """Return the area that discs have in common whose centres lie on one straight line.

    centre, radius: one row a disc, one column a place; centre along the line, radius 0 or more. 0 where
    they have nothing in common. No range is checked.
    Source: plane geometry. The half-chord at t is the root of -t^2 + min(2 c t + r^2 - c^2): the lower
    envelope of straight lines, each the border of one disc between two knots; areas by circular segments.
    """
    count = centre.shape[0]
    least = centre - radius
    low = least.copy()
    high = centre + radius
    level = (radius - centre) * (radius + centre)
    order = np.arange(count)[:, np.newaxis]
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        for other in range(count):
            slope = 2.0 * (centre[other] - centre)
            step = level - level[other]
            knot = step / slope
            np.maximum(low, knot, out=low, where=slope > 0.0)
            np.minimum(high, knot, out=high, where=slope < 0.0)
            # Concentric discs: the larger has no border here, of two alike the later has none.
            hidden = (slope == 0.0) & ((step > 0.0) | ((step == 0.0) & (order > other)))
            if hidden.any():
                high[hidden] = least[hidden]
    # Discs whose centres all but coincide cross anywhere, also at infinity: back to the disc's own ends.
    high = np.maximum(high, least)
    low = np.minimum(low, high)
    width = high - low
    at_low = _half_chord(low - centre, radius)
    at_high = _half_chord(low + width - centre, radius)
    chord = np.hypot(width, at_high - at_low)
    # The angle from chord and arrow keeps its digits where the arc sine loses them.
    middle = np.hypot(low + 0.5 * width - centre, 0.5 * (at_low + at_high))
    angle = 2.0 * np.arctan2(0.5 * chord, middle)
    halves = 0.5 * width * (at_low + at_high) + 0.5 * radius * radius * (angle - np.sin(angle))
    area: Floats = 2.0 * np.where(width > 0.0, halves, 0.0).sum(axis=0)
    return area


def _half_chord(offset: Floats, radius: Floats) -> Floats:
    root: Floats = np.sqrt(np.maximum((radius - offset) * (radius + offset), 0.0))
    return root


def discs_and_half_planes(
    x: Floats, y: Floats, radius: Floats, normal: Floats | None = None, reach: Floats | None = None
) -> Floats:
    """Return the area that discs anywhere and half-planes have in common.

    x, y, radius: one row a disc (at least one), one column a place; radius 0 or more. normal: one row a
    half-plane, its unit normal (x, y) outwards. reach: one row a half-plane, one column a place: how far
    along the normal the half-plane reaches from the origin, any sign. No range is checked.
    Source: Green's theorem along the border: half the cross product of each chord's ends, plus circular
    segments (plane geometry).
    """
    if normal is None or reach is None:
        normal, reach = np.zeros((0, 2)), np.zeros((0, x.shape[1]))
    area = np.zeros(x.shape[1])
    for own in range(x.shape[0]):
        area += _along_circle(own, x, y, radius, normal, reach)
    for own in range(reach.shape[0]):
        area += _along_line(own, x, y, radius, normal, reach)
    return np.maximum(area, 0.0)


def by_chords(
    x: Floats, y: Floats, radius: Floats, normal: Floats, reach: Floats, ovals: Sequence[Floats]
) -> Floats:
    """Return the area that discs, half-planes and ovals have in common, summed over chords of the first disc.

    As `discs_and_half_planes`; the first disc is the one that is cut into chords. ovals: one 3 x 3 matrix a
    place each, as `light_map.seen_oval` gives them. Good to 2e-5 of the first disc's area.
    Source: the midpoint rule over the angle whose sine is the chord's place (any numerical analysis text).
    """
    # From the innermost left end to the innermost right one: there the chords' ends run off as roots, which
    # the angle smooths.
    left, right = (x - radius).max(axis=0), (x + radius).min(axis=0)
    for matrix in ovals:
        ends = _ends_of(matrix)
        left, right = np.maximum(left, ends[0]), np.minimum(right, ends[1])
    for (nx, ny), limit in zip(normal, reach, strict=True):
        if abs(ny) < _PARALLEL:  # Along the chords: it ends the sum, and no chord is cut by it.
            left, right = (left, np.minimum(right, limit)) if nx > 0.0 else (np.maximum(left, -limit), right)
    half = np.maximum(right - left, 0.0) / 2.0
    angle = (np.arange(_CHORDS) + 0.5) * (np.pi / _CHORDS) - np.pi / 2.0
    at = (left + half)[:, None] + half[:, None] * np.sin(angle)
    high = np.full_like(at, np.inf)
    low = np.full_like(at, -np.inf)
    with np.errstate(invalid="ignore"):
        for own in range(x.shape[0]):
            # Where a chord misses a disc its root is no number, and such a chord counts nothing.
            away, r = at - x[own][:, None], radius[own][:, None]
            root = np.sqrt((r - away) * (r + away))
            high, low = np.minimum(high, y[own][:, None] + root), np.maximum(low, y[own][:, None] - root)
        for (nx, ny), limit in zip(normal, reach, strict=True):
            rest = limit[:, None] - nx * at
            if ny >= _PARALLEL:
                high = np.minimum(high, rest / ny)
            elif ny <= -_PARALLEL:
                low = np.maximum(low, rest / ny)
        for matrix in ovals:
            fixed = matrix[:, :, 0, None] * at[:, None] + matrix[:, :, 2, None]
            slope = matrix[:, :, 1, None]
            a, b, c = _inside_form(slope, slope), _inside_form(fixed, slope), _inside_form(fixed, fixed)
            root = np.sqrt(b * b - a * c)
            high, low = np.minimum(high, (root - b) / a), np.maximum(low, (-root - b) / a)
    length = np.where(high > low, high - low, 0.0)
    area: Floats = (length * np.cos(angle)).sum(axis=1) * half * (np.pi / _CHORDS)
    return area


def _ends_of(matrix: Floats) -> tuple[Floats, Floats]:
    """The oval's left and right end: where upright lines touch it, by the dual of its conic."""
    back = np.linalg.inv(matrix)
    dual = back @ np.diag([1.0, 1.0, -1.0]) @ back.transpose(0, 2, 1)
    a, b, c = dual[:, 2, 2], dual[:, 0, 2], dual[:, 0, 0]
    root = np.sqrt(np.maximum(b * b - a * c, 0.0))
    first, second = (b - root) / a, (b + root) / a
    return np.minimum(first, second), np.maximum(first, second)


def _inside_form(one: Floats, other: Floats) -> Floats:
    """The product of two vectors whose square is below 0 inside the circle."""
    form: Floats = one[:, 0] * other[:, 0] + one[:, 1] * other[:, 1] - one[:, 2] * other[:, 2]
    return form


def _along_circle(own: int, x: Floats, y: Floats, radius: Floats, normal: Floats, reach: Floats) -> Floats:
    r = radius[own]
    towards, half = _outside_discs(own, x, y, radius)
    if reach.shape[0]:
        way = reach - normal[:, :1] * x[own] - normal[:, 1:] * y[own]
        beyond = np.arctan2(normal[:, 1:], normal[:, :1])
        ratio = np.clip(way / np.maximum(r, _TINY), -1.0, 1.0)
        towards = np.concatenate([towards, np.broadcast_to(beyond, way.shape)])
        # Twice the arc tangent keeps its digits where the arc cosine loses them.
        across = 2.0 * np.arctan2(np.sqrt(1.0 - ratio), np.sqrt(1.0 + ratio))
        half = np.concatenate([half, across])
    begin = np.mod(towards - half, _TURN)
    end = begin + 2.0 * half
    if begin.shape[0] > 1:
        order = np.argsort(begin, axis=0)
        begin = np.take_along_axis(begin, order, axis=0)
        end = np.take_along_axis(end, order, axis=0)
    # What is cut past a full turn is cut from the beginning on.
    past = np.maximum(end.max(axis=0, initial=0.0) - _TURN, 0.0)[np.newaxis]
    covered = np.maximum.accumulate(np.concatenate([past, end]), axis=0)
    until = np.concatenate([begin, np.full_like(past, _TURN)])
    angle = np.maximum(until - covered, 0.0)
    place, at = np.nonzero(angle > 0.0)
    turn, first, r_at = angle[place, at], covered[place, at], r[at]
    x0, y0 = x[own, at] + r_at * np.cos(first), y[own, at] + r_at * np.sin(first)
    x1, y1 = x[own, at] + r_at * np.cos(first + turn), y[own, at] + r_at * np.sin(first + turn)
    parts = 0.5 * (x0 * y1 - x1 * y0) + 0.5 * r_at * r_at * (turn - np.sin(turn))
    area: Floats = np.bincount(at, weights=parts, minlength=x.shape[1]).astype(np.float64, copy=False)
    return area


def _outside_discs(own: int, x: Floats, y: Floats, radius: Floats) -> tuple[Floats, Floats]:
    """Directions and half-widths of the arcs of circle `own` that lie outside each other disc."""
    others = np.arange(x.shape[0]) != own
    dx, dy = x[others] - x[own], y[others] - y[own]
    r, q = radius[own], radius[others]
    d = np.hypot(dx, dy)
    earlier = np.flatnonzero(others)[:, np.newaxis] < own
    # The half-angle from the sides of the triangle keeps its digits where the cosine loses them.
    inside = np.maximum(d + q - r, 0.0) * np.maximum(r + q - d, 0.0)
    outside = (r + d + q) * np.maximum(r + d - q, 0.0)
    # Seen from the centre, what is within the other disc spans this to either side of its direction.
    within = 2.0 * np.arctan2(np.sqrt(inside), np.sqrt(outside))
    concentric = d <= _CONCENTRIC * np.maximum(r, q)
    hidden = (q < r) | ((q == r) & earlier)
    within = np.where(concentric, np.where(hidden, 0.0, np.pi), within)
    return np.arctan2(dy, dx) + np.pi, np.pi - within


def _along_line(own: int, x: Floats, y: Floats, radius: Floats, normal: Floats, reach: Floats) -> Floats:
    nx, ny = normal[own]
    b = reach[own]
    middle = -ny * x + nx * y
    half = _half_chord(nx * x + ny * y - b, radius)
    low = (middle - half).max(axis=0)
    high = (middle + half).min(axis=0)
    for other in range(reach.shape[0]):
        if other == own:
            continue
        cosine = nx * normal[other, 0] + ny * normal[other, 1]
        sine = nx * normal[other, 1] - ny * normal[other, 0]
        if sine > _PARALLEL:
            high = np.minimum(high, (reach[other] - b * cosine) / sine)
        elif sine < -_PARALLEL:
            low = np.maximum(low, (reach[other] - b * cosine) / sine)
        else:
            # Nothing of this line is left where the other half-plane ends before it, or is the same.
            room = reach[other] - b if cosine > 0.0 else reach[other] + b
            hidden = room < 0.0
            if cosine > 0.0 and other < own:
                hidden |= room == 0.0
            high = np.where(hidden, low, high)
    line: Floats = 0.5 * b * np.maximum(high - low, 0.0)
    return line
