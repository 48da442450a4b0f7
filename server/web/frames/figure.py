"""Pictures of a measurement: level lines of best focus, stars' shapes as whiskers, what is left by radius."""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterator
from statistics import median, quantiles

from markupsafe import Markup

from server.domain.frames.measured import Measured, SurfaceFound
from server.web.drawing.svg import Svg

WIDTH = 560.0
_EDGE = 26.0
_ACROSS, _UP = 6, 4
_WHISKER = 13.0
_STEPS = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0)
_POINTS = 240
_LABEL = 22.0


class _Sensor:
    """Where a place of the frame lies in the picture: upright as the frame is usually shown."""

    def __init__(self, measured: Measured) -> None:
        self.measured = measured
        self.scale = (WIDTH - 2.0 * _EDGE) / measured.width_px
        self.height = measured.height_px * self.scale + 2.0 * _EDGE
        self.half = measured.half_diagonal_px

    def pixel(self, x: float, y: float) -> tuple[float, float]:
        """A pixel's place."""
        row = self.measured.height_px - 1 - y if self.measured.rows_up else y
        return _EDGE + (x + 0.5) * self.scale, _EDGE + (row + 0.5) * self.scale

    def field(self, w: complex) -> tuple[float, float]:
        """The place of w, in half diagonals from the middle."""
        wide, high = self.measured.width_px, self.measured.height_px
        return self.pixel((wide - 1) / 2.0 + w.real * self.half, (high - 1) / 2.0 + w.imag * self.half)

    def holds(self, w: complex) -> bool:
        """Whether w lies on the sensor."""
        wide, high = self.measured.width_px / 2.0, self.measured.height_px / 2.0
        return abs(w.real) * self.half <= wide and abs(w.imag) * self.half <= high

    def room(self, x: float, y: float) -> float:
        """How far a point is from the nearest edge, up to what a number needs."""
        return min(x - _EDGE, WIDTH - _EDGE - x, y - _EDGE, self.height - _EDGE - y, _LABEL)

    def frame(self, svg: Svg) -> None:
        """Draw its outline, and its middle."""
        svg.rect(_EDGE, _EDGE, WIDTH - 2.0 * _EDGE, self.height - 2.0 * _EDGE, "fr-sensor")
        x, y = self.field(0j)
        svg.line(x - 5.0, y, x + 5.0, y, "fr-middle")
        svg.line(x, y - 5.0, x, y + 5.0, "fr-middle")


def level_step(measured: Measured) -> float:
    """Um from one level line to the next, so that there are some eight."""
    assert measured.surface is not None
    low, high = _range(measured.surface, _Sensor(measured))
    return next((one for one in _STEPS if (high - low) / one <= 8.0), _STEPS[-1])


def level_lines(measured: Measured, prefix: str = "fr-levels", step: float | None = None) -> Markup:
    """Best focus over the sensor as level lines, um from that of the middle; dashed where errors hide it.

    prefix: of its ids, for several on one page. step: from one line to the next, for several that compare.
    """
    surface = measured.surface
    assert surface is not None
    sensor, svg = _Sensor(measured), Svg()
    low, high = _range(surface, sensor)
    step = step or level_step(measured)
    words = (
        f"Level lines every {step:g} micrometres; best focus lies from {low:.0f} to {high:.0f} micrometres "
        "from that of the middle."
    )
    svg.head(WIDTH, sensor.height, "fr-figure", prefix, "Best focus over the sensor", words)
    sensor.frame(svg)
    level = math.ceil(low / step) * step
    while level <= high:
        if abs(level) > 1e-9:
            _draw_level(svg, sensor, surface, level)
        level += step
    _mark_brightest(svg, sensor)
    svg.close()
    return Markup(str(svg))


def _range(surface: SurfaceFound, sensor: _Sensor) -> tuple[float, float]:
    wide, high = sensor.measured.half_sides
    values = [
        surface.at(complex(wide * i / 20.0, high * j / 20.0)) for i in range(-20, 21) for j in range(-20, 21)
    ]
    return min(values), max(values)


def _hidden(surface: SurfaceFound, w: complex) -> bool:
    """Whether best focus there stands out of that of the middle by less than twice its error."""
    square = (surface.tilt_u.error * w.real) ** 2 + (surface.tilt_v.error * w.imag) ** 2
    error = math.sqrt(square + (surface.curvature.error * abs(w) ** 2) ** 2)
    return abs(surface.at(w)) < 2.0 * error


def _places(surface: SurfaceFound, level: float) -> list[complex]:
    """Points of one level line in order: a circle, or a straight line where the field is hardly curved."""
    tilt, curvature = surface.tilt, surface.curvature.value
    if abs(curvature) < 0.02 * abs(tilt) or not curvature:
        middle = level * tilt / abs(tilt) ** 2
        along = 1j * tilt / abs(tilt)
        return [middle + along * (3.0 * i / _POINTS - 1.5) for i in range(_POINTS + 1)]
    centre = -tilt / (2.0 * curvature)
    square = level / curvature + abs(centre) ** 2
    if square <= 0.0:
        return []
    # A large circle is only sampled where it comes by the sensor.
    radius = math.sqrt(square)
    reach = math.pi if radius < 2.0 else min(math.pi, 2.0 / radius)
    towards = cmath.phase(-centre) if abs(centre) > 1e-12 else 0.0
    turns = (towards + reach * (2.0 * i / _POINTS - 1.0) for i in range(_POINTS + 1))
    return [centre + radius * cmath.exp(1j * turn) for turn in turns]


def _draw_level(svg: Svg, sensor: _Sensor, surface: SurfaceFound, level: float) -> None:
    longest: list[complex] = []
    for hidden, run in _runs(_places(surface, level), sensor, surface):
        svg.polyline([sensor.field(w) for w in run], "fr-level fr-hidden" if hidden else "fr-level")
        if len(run) > len(longest):
            longest = run
    if longest:
        # In the sensor rather than on its edge, where it would be cut.
        x, y = max(map(sensor.field, longest), key=lambda at: sensor.room(*at))
        text = f"{level:+g}"
        svg.rect(x - 4.0 * len(text), y - 8.0, 8.0 * len(text), 16.0, "fr-under")
        svg.text(x, y + 4.0, text, "dw-text fr-word")


def _runs(
    places: list[complex], sensor: _Sensor, surface: SurfaceFound
) -> Iterator[tuple[bool, list[complex]]]:
    """Runs of points on the sensor, each wholly told or wholly hidden by errors."""
    run: list[complex] = []
    state: bool | None = None
    for w in places:
        now = _hidden(surface, w) if sensor.holds(w) else None
        if now != state and run:
            if now is not None:
                run.append(w)
            if len(run) > 1 and state is not None:
                yield state, run
            run = [w] if now is not None else []
        elif now is not None:
            run.append(w)
        state = now
    if len(run) > 1 and state is not None:
        yield state, run


def _mark_brightest(svg: Svg, sensor: _Sensor) -> None:
    stars = sensor.measured.stars
    if not stars.flux:
        return
    best = max(range(len(stars.flux)), key=stars.flux.__getitem__)
    x, y = sensor.pixel(stars.x[best], stars.y[best])
    svg.circle(x, y, 5.0, "fr-brightest")


def whiskers(measured: Measured, number: int) -> Markup:
    """Shapes of one frame's stars, cell by cell, what all share taken out: lines without heads."""
    sensor, svg = _Sensor(measured), Svg()
    frame, stars = measured.frames[number], measured.stars
    words = f"Each line is the median shape of its part; one of 1 pixel is drawn {_WHISKER:.0f} wide."
    svg.head(WIDTH, sensor.height, "fr-figure", f"fr-whiskers-{number}", f"Shapes on {frame.name}", words)
    sensor.frame(svg)
    drift = 0j if measured.drift is None else measured.drift.whole
    cells: dict[tuple[int, int], list[complex]] = {}
    for x, y, across, up in zip(
        stars.x, stars.y, stars.moment_across[number], stars.moment_up[number], strict=True
    ):
        cell = (int(_ACROSS * x / measured.width_px), int(_UP * y / measured.height_px))
        cells.setdefault(cell, []).append(complex(across, up) - drift)
    for (i, j), found in sorted(cells.items()):
        if len(found) >= 3:
            middle = ((i + 0.5) * measured.width_px / _ACROSS, (j + 0.5) * measured.height_px / _UP)
            shape = complex(median(one.real for one in found), median(one.imag for one in found))
            _whisker(svg, sensor, middle, shape)
    svg.close()
    return Markup(str(svg))


def _whisker(svg: Svg, sensor: _Sensor, middle: tuple[float, float], shape: complex) -> None:
    x, y = sensor.pixel(*middle)
    along = cmath.rect(0.5 * _WHISKER * math.sqrt(abs(shape)), cmath.phase(shape) / 2.0)
    rise = sensor.measured.shown(along).imag
    svg.line(x - along.real, y + rise, x + along.real, y - rise, "fr-whisker")


def left_over(measured: Measured) -> Markup | None:
    """What the surface leaves of stars' best focus, by distance from the middle; None without one."""
    rows = sorted(measured.left)
    if len(rows) < 30:
        return None
    svg = Svg()
    height = 190.0
    groups = [rows[n * len(rows) // 10 : (n + 1) * len(rows) // 10] for n in range(10)]
    bars = []
    for group in groups:
        low, middle, high = quantiles([left for _, left in group], n=4)
        bars.append((median(r for r, _ in group), low, middle, high))
    most = max(1.0, *(max(abs(low), abs(high)) for _, low, _, high in bars))
    words = (
        f"Half of the stars lie within {max(h - lo for _, lo, _, h in bars):.0f} micrometres in every ring."
    )
    svg.head(
        WIDTH, height, "fr-figure", "fr-left", "What the surface leaves, by distance from the middle", words
    )
    left, bottom, top = 48.0, height - 34.0, 14.0

    def place(r: float, um: float) -> tuple[float, float]:
        return left + r * (WIDTH - left - 16.0), (top + bottom) / 2.0 - um / most * (bottom - top) / 2.0

    svg.line(*place(0.0, 0.0), *place(1.0, 0.0), "fr-middle")
    for um in (-most, most):
        svg.text(left - 6.0, place(0.0, um)[1] + 4.0, f"{um:+.0f} µm", "dw-text fr-end")
    for r, low, middle, high in bars:
        svg.line(*place(r, low), *place(r, high), "fr-whisker")
        svg.circle(*place(r, middle), 3.0, "fr-dot")
    svg.text(left, height - 10.0, "middle", "dw-text")
    svg.text(WIDTH - 16.0, height - 10.0, "corner", "dw-text fr-end")
    svg.close()
    return Markup(str(svg))
