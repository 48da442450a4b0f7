"""A sensor, fixed and upright, and the sky behind it in dots of ink: what stands where, at true scale."""

from __future__ import annotations

import math
from collections.abc import Sequence

from markupsafe import Markup

from server.domain.sky.around import Around
from server.domain.sky.frame import Frame, put_on
from server.domain.sky.target import Target
from server.web.drawing.svg import Svg

WIDTH, HEIGHT = 680.0, 500.0
MARGIN = 26.0
MOST_STARS = 400
DASHES = ("frame-1", "frame-2", "frame-3", "frame-4")


def scale_of(
    frames: Sequence[Frame], target: Target, rows: int = 1, columns: int = 1, overlap: float = 0.15
) -> float:
    """Pixels of the picture for an arcminute: all frames and the whole target fit into it."""
    across, up = 1.0, 1.0
    for frame in frames:
        wide, high = frame.sides_arcmin
        across = max(across, wide * (1.0 + (columns - 1) * (1.0 - overlap)))
        up = max(up, high * (1.0 + (rows - 1) * (1.0 - overlap)))
    if target.ellipse_arcmin:
        # A target far larger than the frame is let run out of the picture.
        size = min(target.ellipse_arcmin[0], 3.0 * max(across, up))
        across, up = max(across, size), max(up, size)
    return min((WIDTH - 2.0 * MARGIN) / across, (HEIGHT - 2.0 * MARGIN) / up)


def reach_arcmin(scale: float) -> float:
    """How far from the middle a picture of this scale shows the sky."""
    return math.hypot(WIDTH, HEIGHT) / 2.0 / scale


def frame_svg(
    target: Target,
    frames: Sequence[Frame],
    angle_deg: float,
    around: Around,
    words: str,
    scale: float,
    rows: int = 1,
    columns: int = 1,
    overlap: float = 0.15,
    name: str = "frame",
) -> Markup:
    """The picture at a scale, whose ids begin with `name`. The page's script can turn its sky: about the
    middle that is exact. A target whose direction is not listed lies as it best fits the first frame, and
    along a mosaic.
    """
    if frames and rows * columns == 1:
        target = put_on(frames[0], target, angle_deg).lying(target)
    svg = Svg()
    x0, y0 = WIDTH / 2.0, HEIGHT / 2.0
    svg.head(WIDTH, HEIGHT, "dw sky-frame", name, f"{target.name} on the sensor", words)
    svg.open("g", class_="turning", transform=f"rotate({angle_deg:.4g} {x0:g} {y0:g})")

    def place(east: float, north: float) -> tuple[float, float]:
        return x0 - east * scale, y0 - north * scale

    for east, north, magnitude in around.stars[:MOST_STARS]:
        svg.circle(*place(east, north), max(0.5, 0.55 * (11.0 - magnitude) ** 0.85), "star")
    for east, north, other in around.neighbours:
        _patch(svg, place(east, north), other, scale, "neighbour")
    _patch(svg, (x0, y0), target, scale, "patch")
    _rose(svg, x0, y0)
    svg.close()
    for east, north, other in around.neighbours:
        turn = math.radians(angle_deg)
        x = x0 - (east * math.cos(turn) - north * math.sin(turn)) * scale
        y = y0 - (east * math.sin(turn) + north * math.cos(turn)) * scale
        if 20.0 < x < WIDTH - 60.0 and 16.0 < y < HEIGHT - 8.0:
            svg.text(x + 6.0, y - 4.0, other.name, "dw-text turning-name")
    _frames(svg, frames, scale, rows, columns, overlap)
    svg.close()
    return Markup(str(svg))


def _frames(svg: Svg, frames: Sequence[Frame], scale: float, rows: int, columns: int, overlap: float) -> None:
    x0, y0 = WIDTH / 2.0, HEIGHT / 2.0
    for nth, frame in enumerate(frames):
        wide, high = (side * scale for side in frame.sides_arcmin)
        for row in range(rows if nth == 0 else 1):
            for column in range(columns if nth == 0 else 1):
                dx = (column - (columns - 1) / 2.0) * wide * (1.0 - overlap) if nth == 0 else 0.0
                dy = (row - (rows - 1) / 2.0) * high * (1.0 - overlap) if nth == 0 else 0.0
                svg.rect(x0 + dx - wide / 2.0, y0 + dy - high / 2.0, wide, high, DASHES[nth])
        if len(frames) > 1:
            svg.text(x0 - wide / 2.0, min(HEIGHT - 4.0, y0 + high / 2.0 + 14.0), frame.name)
    if frames and columns > 1:
        shared = frames[0].sides_arcmin[0] * overlap
        whole = frames[0].sides_arcmin[1] * (1.0 + (rows - 1) * (1.0 - overlap)) * scale
        # Between the first two columns, above the panels.
        x = x0 - (columns - 2) / 2.0 * frames[0].sides_arcmin[0] * scale * (1.0 - overlap)
        svg.text(x, max(12.0, y0 - whole / 2.0 - 5.0), f"shared edge {shared:.2g}'", text_anchor="middle")


def _patch(svg: Svg, at: tuple[float, float], target: Target, scale: float, class_: str) -> None:
    """The target's ellipse, or a cross where its size is not known."""
    x, y = at
    if target.ellipse_arcmin is None:
        for dx, dy in ((6.0, 0.0), (0.0, 6.0)):
            svg.line(x - dx, y - dy, x + dx, y + dy, class_)
        return
    major, minor = (side * scale / 2.0 for side in target.ellipse_arcmin)
    angle = math.radians(target.angle_deg or 0.0)
    points = []
    for step in range(48):
        turn = 2.0 * math.pi * step / 48
        along, across = major * math.cos(turn), minor * math.sin(turn)
        north = along * math.cos(angle) - across * math.sin(angle)
        east = along * math.sin(angle) + across * math.cos(angle)
        points.append((x - east, y - north))
    svg.polygon(points, class_)


def _rose(svg: Svg, x0: float, y0: float) -> None:
    """North and east, at the picture's rim."""
    far = min(x0, y0) - 14.0
    svg.line(x0, y0 - far + 16.0, x0, y0 - far + 34.0, "rose")
    svg.text(x0, y0 - far + 12.0, "N", text_anchor="middle")
    svg.line(x0 - far + 16.0, y0, x0 - far + 34.0, y0, "rose")
    svg.text(x0 - far + 8.0, y0 + 4.0, "E", text_anchor="middle")
