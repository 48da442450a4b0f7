"""The lowest usable altitudes all round, as a strip: directions along it, altitudes up."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from server.web.drawing.svg import Svg

WIDTH, HEIGHT = 480.0, 150.0
LEFT, TOP, RIGHT, BOTTOM = 30.0, 8.0, 8.0, 24.0
HIGHEST_DEG = 90.0
SIDES = ((0.0, "N"), (90.0, "E"), (180.0, "S"), (270.0, "W"), (360.0, "N"))


def place(azimuth: float, altitude: float) -> tuple[float, float]:
    """Where a direction stands in the strip."""
    across = LEFT + azimuth / 360.0 * (WIDTH - LEFT - RIGHT)
    return across, HEIGHT - BOTTOM - max(0.0, altitude) / HIGHEST_DEG * (HEIGHT - TOP - BOTTOM)


def all_round(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """The line from north round to north, straight between the points."""
    (first_az, first), (last_az, last) = points[0], points[-1]
    gap = 360.0 - last_az + first_az
    north = last + (first - last) * (360.0 - last_az) / gap
    return [(0.0, north), *points, (360.0, north)]


def horizon_svg(points: Sequence[tuple[float, float]]) -> Markup:
    """The strip. Its line can be pushed where the page's script runs."""
    words = "; ".join(f"{altitude:g}° at {azimuth:g}°" for azimuth, altitude in points)
    svg = Svg()
    svg.head(
        WIDTH, HEIGHT, "dw horizon", "horizon", "Lowest usable altitude by direction", f"Its points: {words}."
    )
    line = [place(*point) for point in all_round(points)]
    for altitude in (30, 60):
        _, y = place(0.0, altitude)
        svg.line(LEFT, y, WIDTH - RIGHT, y, "dw-grid")
        svg.text(LEFT - 4.0, y + 4.0, f"{altitude}°", text_anchor="end")
    floor = HEIGHT - BOTTOM
    svg.polygon([(line[0][0], floor), *line, (line[-1][0], floor)], "ground")
    svg.polyline(line, "ground-line")
    for azimuth, name in SIDES:
        x, _ = place(azimuth, 0.0)
        svg.text(x, HEIGHT - 8.0, name, text_anchor="middle")
    svg.close()
    return Markup(str(svg))
