"""How much of its light each point of the sensor gets through everything on the way (numpy).

Import this lazily: it brings numpy. Each image point's light is looked at in the entrance pupil, a disc of
radius 1 (see `beam`); every opening is a disc, a rectangle or an oval there, and the light that gets through
is their common area. That is exact but for ovals, which are summed by chords (see `areas`); the error stated
and tested is 1e-4 of the pupil's area, what is measured without ovals is below 1e-8.

Not modelled: diffraction, pupil aberrations (the pupil is one flat round disc for all points), the
spider, the thickness of a prism (give both its faces) or of a ring (give both its ends).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt

from server.optics.areas import Floats, by_chords, discs_and_half_planes, discs_on_a_line
from server.optics.beam import Beam
from server.optics.openings import Opening, Oval, Rectangle, Round, direction
from server.optics.pupil import PupilStop
from server.optics.ranges import checked, checked_length_mm
from server.out_of_range import OutOfRangeError

#: Nearer than this an opening stands on the sensor: all or nothing. A cone is then narrower than 1 um.
_ON_THE_SENSOR_MM = 1e-4
#: A share of light lost that is rounding.
_ROUNDING = 1e-12
#: Places that are worked out in one go, so that the arrays stay in the processor's cache.
_CHUNK = 1024
_MOST_SHADES = 4
#: A disc of twice the pupil's radius about its middle, as `_Seen` keeps round openings.
_NO_CUT = (1.0, 0.0, 0.0, 0.0, 2.0, 0.0)
_DIAMETER_TOLERANCE_MM = 1e-4

#: A train: the light of one tube with its correctors, and the openings in its way.
Way = tuple[Beam, Sequence[Opening]]
_Area = Callable[[Floats], Floats]


@dataclass(frozen=True)
class Light:
    """What reaches some points of the sensor; arrays have one value a point, shares are 0 to 1.

    through: share of the cone that gets past everything. falloff: the natural fall-off, cos^4 of the middle
    ray's angle. alone: one row an opening, in the order given: the share that it alone would let through.
    limiting: the opening that alone takes most (its number in the order given), -1 where none takes any.
    """

    through: Floats
    falloff: Floats
    alone: Floats
    limiting: npt.NDArray[np.int64]

    @property
    def light(self) -> Floats:
        """The share of light with the natural fall-off."""
        product: Floats = self.through * self.falloff
        return product


def light_at(beam: Beam, openings: Sequence[Opening], x_mm: Floats, y_mm: Floats) -> Light:
    """Return the light at points of the sensor.

    beam: the light. openings: all that stands in its way, in any order; none gives full light. x_mm, y_mm:
    one-dimensional, one value a point, of either sign, from the axis. Raises ValueError where more than four
    prisms stand in the beam. Error: see the module. Source: plane geometry; cosine-fourth law: Smith, Modern
    Optical Engineering (from memory).
    """
    seen = _Seen.of_one(beam, openings, x_mm, y_mm)
    alone = np.ones((len(openings), x_mm.shape[0]))
    alone[[number for number, one in enumerate(openings) if isinstance(one, Round)]] = seen.discs_alone()
    for number, opening in enumerate(openings):
        if not isinstance(opening, Round):
            alone[number] = _Seen.of_one(beam, [opening], x_mm, y_mm).through()
    limiting = np.full(x_mm.shape[0], -1, dtype=np.int64)
    if len(openings):
        least = alone.argmin(axis=0)
        limiting = np.where(alone.min(axis=0) < 1.0 - _ROUNDING, least, -1)
    return Light(seen.through(), _falloff(beam.per_pupil, x_mm, y_mm), alone, limiting)


def lights_at(ways: Sequence[Way], x_mm: Floats, y_mm: Floats) -> tuple[Floats, Floats]:
    """Return the light of many trains at once: `Light.through` and `Light.falloff`.

    ways: each with its beam and openings. x_mm, y_mm: one row a way, one column a point, as in `light_at`;
    nan gives nan. The result has their shape. Raises ValueError as `light_at`, whose sums these are.
    Source: `light_at`.
    """
    through = np.empty(x_mm.shape)
    per_pupil = np.array([beam.per_pupil for beam, _ in ways]).reshape(-1, 1)
    # A rectangle has its own sides and an oval is summed by chords: each kind of way goes by itself.
    lots: dict[tuple[int, ...], list[int]] = {}
    for number, (_, openings) in enumerate(ways):
        kind: tuple[int, ...] = (number,)
        if not any(isinstance(one, Rectangle) for one in openings):
            kind = (-1, sum(isinstance(one, Oval) for one in openings))
        lots.setdefault(kind, []).append(number)
    for lot in lots.values():
        seen = _Seen([ways[number] for number in lot], x_mm[lot], y_mm[lot])
        through[lot] = seen.through().reshape(len(lot), -1)
    through[np.isnan(x_mm + y_mm)] = np.nan
    return through, _falloff(per_pupil, x_mm, y_mm)


def _falloff(per_pupil: float | Floats, x_mm: Floats, y_mm: Floats) -> Floats:
    squared = (x_mm * x_mm + y_mm * y_mm) * per_pupil**2
    falloff: Floats = 1.0 / (1.0 + squared) ** 2  # cos^4 of the angle whose tangent is h / L.
    return falloff


def smallest_diameters_mm(
    beam: Beam,
    sensor_width_mm: float,
    sensor_height_mm: float,
    openings: Sequence[Opening],
    fraction: float,
) -> tuple[float | None, ...]:
    """Return for each opening the smallest diameter, mm, that keeps every corner at a share of its light.

    All the other openings stay as they are. None for a rectangle or an oval, and where the others alone
    already take the corner below the share. fraction: above 0, to 1, of the cone (without the natural
    fall-off, which no diameter changes). For a place without a part give a wide opening there.
    sensor_width_mm, sensor_height_mm: above 0, to 100 000 mm. Raises ValueError outside; the others as
    `light_at`. Never too small by more than rounding, too large by 1e-4 mm at most.
    Source: `light_at`, solved by bisection for all openings at once.
    """
    wanted = checked(
        "The share of light to keep", fraction, 0.0, 1.0, "", "Give a share such as 0.9.", above_low=True
    )
    width, height = _checked_sensor(sensor_width_mm, sensor_height_mm)
    signs = [(1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0), (1.0, -1.0)]
    if all(one.centred and one.square_on for one in openings):
        signs = signs[:1]  # The corners are alike.
    places = [number for number, one in enumerate(openings) if isinstance(one, Round)]
    if not places:
        return (None,) * len(openings)
    x = np.tile([sx * width / 2.0 for sx, _ in signs], len(places))
    y = np.tile([sy * height / 2.0 for _, sy in signs], len(places))
    seen = _Seen.of_one(beam, openings, x, y)
    row = np.repeat(np.arange(len(places)), len(signs))
    column = np.arange(len(row))

    def enough(diameters: Floats) -> npt.NDArray[np.bool_]:
        seen.set_diameters(row, column, diameters[row])
        least = seen.through().reshape(len(places), len(signs)).min(axis=1)
        kept: npt.NDArray[np.bool_] = least >= wanted - _ROUNDING
        return kept

    low = np.zeros(len(places))
    # Rounding up a little: at exactly full light the last bit decides.
    high = seen.full_diameters(row, column, len(places)) * (1.0 + 1e-12)
    reachable = enough(high)
    while np.any(high - low > _DIAMETER_TOLERANCE_MM):
        middle = 0.5 * (low + high)
        good = enough(middle)
        high, low = np.where(good, middle, high), np.where(good, low, middle)
    answers: list[float | None] = [None] * len(openings)
    for at, number in enumerate(places):
        if reachable[at]:
            answers[number] = float(high[at])
    return tuple(answers)


def seen_oval(beam: Beam, oval: Oval, x_mm: Floats, y_mm: Floats) -> Floats:
    """Return how image points see an oval in the pupil of radius 1: one 3 x 3 matrix M a point.

    A place (X, Y) of the pupil lies inside where w = M (X, Y, 1) has w0^2 + w1^2 <= w2^2: the image of a
    circle by the perspective of that point's light. x_mm, y_mm: one-dimensional. The oval lies within one
    stretch of the beam. Source: projective geometry of a plane.
    """
    one = beam.stretch_at(oval.distance_mm)
    across, up = oval.width_mm / 2.0, oval.height_mm / 2.0
    # From the unit circle to the oval's places, and how far before the sensor these lie.
    place = np.array([[across, 0.0, oval.x_mm], [0.0, up, oval.y_mm]])
    distance = np.array([oval.lean_x * across, oval.lean_y * up, oval.distance_mm])
    middle = one.middle_per_mm * distance + np.array([0.0, 0.0, one.middle])
    half = one.half_per_mm * distance + np.array([0.0, 0.0, one.half_mm])
    heights = np.stack([x_mm, y_mm], axis=1)
    seen = place[None] - heights[:, :, None] * middle
    rows = np.concatenate([seen, np.broadcast_to(half, (len(x_mm), 1, 3))], axis=1)
    inverse: Floats = np.linalg.inv(rows)
    return inverse


def pupil_stop(beam: Beam, opening: Opening, x_mm: float, y_mm: float) -> PupilStop | None:
    """Return how one star's light meets a round or oval opening in the pupil; None where it passes whole, for
    a rectangle, and for an opening on the sensor.

    x_mm, y_mm: the star's place on the sensor. Source: as `seen_oval`.
    """
    if isinstance(opening, Rectangle) or beam.half_mm(opening.distance_mm) <= 0.0:
        return None
    if isinstance(opening, Round):
        half, middle = beam.half_mm(opening.distance_mm), beam.middle(opening.distance_mm)
        x, y = (opening.x_mm - x_mm * middle) / half, (opening.y_mm - y_mm * middle) / half
        radius = opening.diameter_mm / 2.0 / half
        return PupilStop.disc(x, y, radius) if math.hypot(x, y) + 1.0 > radius else None
    matrix = seen_oval(beam, opening, np.array([x_mm]), np.array([y_mm]))[0]
    a, b, c = ((float(one), float(two), float(three)) for one, two, three in matrix)
    return PupilStop((a, b, c))


class _Seen:
    """The openings as the image points see them, in radii of the pupil.

    ways: several only where none has a rectangle and all have as many ovals. x_mm, y_mm: one row a way. Its
    arrays have one column a point, way after way, and one row for each round opening of the fullest way.
    """

    def __init__(self, ways: Sequence[Way], x_mm: Floats, y_mm: Floats) -> None:
        self.points = x_mm.size
        # What has no part in the answer stands for nothing: a point that is shut out by an opening on the
        # sensor itself.
        self.shut = np.zeros(self.points, dtype=np.bool_)
        self.windows: list[tuple[Floats, Floats]] = []
        self.shades: list[tuple[Floats, Floats]] = []
        self.hole = np.repeat([beam.obstruction for beam, _ in ways], x_mm.shape[1])
        rounds: list[list[tuple[float, ...]]] = [[] for _ in ways]
        ovals: list[list[Floats]] = [[] for _ in ways]
        for at, (beam, openings) in enumerate(ways):
            for one in openings:
                if isinstance(one, Oval):
                    ovals[at].append(seen_oval(beam, one, x_mm[at], y_mm[at]))
                    continue
                # On the sensor the cone is a point; one taken 1e-4 mm away keeps the sums in range.
                scale = 1.0 / beam.half_mm(max(one.distance_mm, _ON_THE_SENSOR_MM))
                shrink = beam.middle(one.distance_mm)
                if isinstance(one, Round):
                    on_sensor = one.distance_mm < _ON_THE_SENSOR_MM
                    rounds[at].append(
                        (scale, shrink, one.x_mm, one.y_mm, one.diameter_mm / 2.0, float(on_sensor))
                    )
                else:
                    self._set_rectangle(
                        one, one.x_mm - x_mm[at] * shrink, one.y_mm - y_mm[at] * shrink, scale
                    )
        if len(self.shades) > _MOST_SHADES:
            raise OutOfRangeError(
                f"There are {len(self.shades)} things that stand in the beam; at most {_MOST_SHADES} can be "
                "worked out. Leave out those that shade least."
            )
        self.ovals = [np.concatenate(some) for some in zip(*ovals, strict=True)]
        self._set_rounds(rounds, x_mm, y_mm)

    @classmethod
    def of_one(cls, beam: Beam, openings: Sequence[Opening], x_mm: Floats, y_mm: Floats) -> _Seen:
        """The points of one way."""
        return cls([(beam, openings)], x_mm[np.newaxis], y_mm[np.newaxis])

    def _set_rounds(self, rounds: list[list[tuple[float, ...]]], x_mm: Floats, y_mm: Floats) -> None:
        count = max(map(len, rounds), default=0)
        # What a way has less than others is filled up by discs about the pupil, which cut nothing.
        table = np.array([[*own, *[_NO_CUT] * (count - len(own))] for own in rounds])
        rows = table.reshape(len(rounds), count, len(_NO_CUT)).transpose(2, 1, 0)[..., np.newaxis]
        scale, shrink, middle_x, middle_y, half, on_sensor = rows
        dx, dy = middle_x - x_mm * shrink, middle_y - y_mm * shrink
        shape = (count, self.points)
        self.all_centred = not (middle_x.any() or middle_y.any())
        self.x, self.y = (dx * scale).reshape(shape), (dy * scale).reshape(shape)
        self.r = np.broadcast_to(half * scale, dx.shape).reshape(shape).copy()
        self.d = np.hypot(self.x, self.y)
        self.scales = np.broadcast_to(scale, dx.shape).reshape(shape)
        self.on_sensor: npt.NDArray[np.bool_] | None = None
        if on_sensor.any():
            self.on_sensor = np.broadcast_to(on_sensor > 0.0, dx.shape).reshape(shape)

    def _set_rectangle(self, one: Rectangle, dx: Floats, dy: Floats, scale: float) -> None:
        cosine, sine = direction(one.angle_deg)
        normal = np.array([[cosine, sine], [-cosine, -sine], [-sine, cosine], [sine, -cosine]])
        half = np.repeat([one.width_mm / 2.0, one.height_mm / 2.0], 2)
        reach = (half[:, np.newaxis] + normal[:, :1] * dx + normal[:, 1:] * dy) * scale
        if one.distance_mm < _ON_THE_SENSOR_MM:
            within = (reach >= 0.0).all(axis=0)
            self.shut |= within if one.blocks else ~within
        elif one.blocks:
            self.shades.append((normal, reach))
        else:
            self.windows.append((normal, reach))

    def set_diameters(self, rows: npt.NDArray[np.int64], points: npt.NDArray[np.int64], mm: Floats) -> None:
        """Gives the round opening in each of these rows another diameter for one point."""
        self.r[rows, points] = mm / 2.0 * self.scales[rows, points]

    def full_diameters(
        self, rows: npt.NDArray[np.int64], points: npt.NDArray[np.int64], count: int
    ) -> Floats:
        """The diameter of each round opening that takes nothing from any of its points, mm."""
        wide = 2.0 * (self.d[rows, points] + 1.0) / self.scales[rows, points]
        full: Floats = wide.reshape(count, -1).max(axis=1)
        return full

    def discs_alone(self) -> Floats:
        """The share that each round opening alone lets through."""
        share = np.ones_like(self.r)
        at = np.nonzero(self.d + 1.0 > self.r)
        d, r = self.d[at], self.r[at]
        if d.size:
            share[at] = self._share(
                lambda pupil: discs_on_a_line(np.stack([np.zeros_like(d), d]), np.stack([pupil, r])),
                self.hole[at[1]],
            )
        return share if self.on_sensor is None else np.where(self.on_sensor, self.d <= self.r, share)

    def through(self) -> Floats:
        """The share that gets past everything."""
        shut = self.shut.copy()
        cuts = self.d + 1.0 > self.r
        if self.on_sensor is not None:
            shut |= (self.on_sensor & (self.d > self.r)).any(axis=0)
            cuts &= ~self.on_sensor
        shut |= (self.d - 1.0 >= self.r).any(axis=0, where=cuts)
        touched = cuts.any(axis=0) | bool(self.ovals)
        for _, reach in self.windows:
            touched |= (reach < 1.0).any(axis=0)
        share = np.where(shut, 0.0, 1.0)
        at = np.flatnonzero(touched & ~shut)
        # Points with as many cuts go together, so that each lot is asked about few openings.
        at = at[np.argsort(cuts[:, at].sum(axis=0), kind="stable")]
        for begin in range(0, at.size, _CHUNK):
            some = at[begin : begin + _CHUNK]
            share[some] = self._unshaded(some, cuts)
        for count in range(1, len(self.shades) + 1):
            for shades in combinations(self.shades, count):
                meets = ~shut
                for _, reach in shades:
                    meets &= (reach > -1.0).all(axis=0)
                some = np.flatnonzero(meets)
                if some.size:
                    # What several things shade twice is given back (inclusion and exclusion).
                    share[some] += (-1.0) ** count * self._mixed(some, cuts, [*self.windows, *shades])
        return np.clip(share, 0.0, 1.0)

    def _unshaded(self, some: npt.NDArray[np.int64], cuts: npt.NDArray[np.bool_]) -> Floats:
        if self.windows or self.ovals or not self.all_centred:
            return self._mixed(some, cuts, self.windows)
        rows = np.flatnonzero(cuts[:, some].any(axis=1))
        # All discs' centres lie on the line through the point and the axis, on the far side of the pupil's.
        centre = np.concatenate([np.zeros((1, some.size)), self.d[np.ix_(rows, some)]])
        radius = np.concatenate([np.ones((1, some.size)), self.r[np.ix_(rows, some)]])

        def area(pupil: Floats) -> Floats:
            radius[0] = pupil
            return discs_on_a_line(centre, radius)

        return self._share(area, self.hole[some])

    def _mixed(
        self,
        some: npt.NDArray[np.int64],
        cuts: npt.NDArray[np.bool_],
        rectangles: Sequence[tuple[Floats, Floats]],
    ) -> Floats:
        rows = np.flatnonzero(cuts[:, some].any(axis=1))
        zero = np.zeros((1, some.size))
        x = np.concatenate([zero, self.x[np.ix_(rows, some)]])
        y = np.concatenate([zero, self.y[np.ix_(rows, some)]])
        radius = np.concatenate([zero, self.r[np.ix_(rows, some)]])
        normals, reaches = [np.zeros((0, 2))], [np.zeros((0, some.size))]
        for normal, reach in rectangles:
            near = np.flatnonzero((reach[:, some] < 1.0).any(axis=1))
            normals.append(normal[near])
            reaches.append(reach[np.ix_(near, some)])

        def area(pupil: Floats) -> Floats:
            radius[0] = pupil
            lines = np.concatenate(normals), np.concatenate(reaches)
            if self.ovals:
                return by_chords(x, y, radius, *lines, [oval[some] for oval in self.ovals])
            return discs_and_half_planes(x, y, radius, *lines)

        return self._share(area, self.hole[some])

    @staticmethod
    def _share(area: _Area, hole: Floats) -> Floats:
        lit = area(np.ones_like(hole))
        if hole.any():
            lit = lit - area(hole)  # The obstruction's shadow is dark whatever the openings do.
        share: Floats = np.clip(lit / (np.pi * (1.0 - hole * hole)), 0.0, 1.0)
        return share


def _checked_sensor(width_mm: float, height_mm: float) -> tuple[float, float]:
    return (
        checked_length_mm("The sensor's width", width_mm, above_zero=True),
        checked_length_mm("The sensor's height", height_mm, above_zero=True),
    )
