"""The light over the sensor, face on and in true proportion: bands of brightness, and what limits where."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from itertools import groupby, pairwise

from server.domain.measure import percent
from server.domain.workings.lit import Lit, Quarter
from server.rim.phrasebook.tell import plain
from server.web.drawing.labels import LINE_PX
from server.web.drawing.svg import Svg

SIZE = 240.0
PICTURE = 216.0
BANDS = (0.95, 0.85, 0.7, 0.5, 0.25)
"""Where one band of brightness ends and the next begins, shares of a full cone on the axis."""
_RISING = BANDS[::-1]
WORDS = ("95 % or more", "85 to 95 %", "70 to 85 %", "50 to 70 %", "25 to 50 %", "less than 25 %")
FULL = 0.9995


@dataclass(frozen=True)
class Point:
    """A place of the sensor in words, its light (natural fall-off too) and the part that limits there."""

    words: str
    light: float
    through: float
    limit: str


def band_of_light(light: float) -> int:
    """The band of a share of light, 0 the brightest."""
    return len(BANDS) - bisect_right(_RISING, light)


def points_of(lit: Lit) -> tuple[Point, ...]:
    """Centre, middles of the sides, corner; the long side is the one at which the prism stands."""
    quarter, wide = lit.quarter, lit.width_mm >= lit.height_mm
    names = {
        "centre": "centre",
        "end": "middle of the short sides" if wide else "middle of the long sides",
        "side": "middle of the long sides" if wide else "middle of the short sides",
        "corner": "corners",
    }
    found = []
    for key, at in quarter.points.items():
        cuts = lit.opening(quarter.limiting[at]) if quarter.through[at] < FULL else None
        limit = "" if cuts is None else plain(cuts)
        found.append(Point(names[key], quarter.light[at], quarter.through[at], limit))
    return tuple(found)


def sentences(lit: Lit | None) -> list[str]:
    """The picture in words: the light at centre, sides and corners, and what limits there."""
    if lit is None:
        return ["The light over the sensor is not known yet."]
    found = [
        f"Light at the {point.words}: {percent(point.light)}"
        + (f", limited by {point.limit}." if point.limit else ".")
        for point in points_of(lit)
    ]
    if lit.prism is not None and lit.prism.shades:
        found.append("The prism stands at the top; the lower half is as without it.")
    if lit.lacking:
        found.append(f"Openings that are not known yet are taken as wide open: {len(lit.lacking)} to enter.")
    return found


def light_map_svg(lit: Lit | None, *, prefix: str = "light") -> str:
    """Return the map as SVG with a title and a description; an empty frame where nothing is known.

    What it says in words stands beside it on the page (`sentences`). Rows of equal bands are drawn as one
    rectangle each, so that the picture stays small.
    """
    said = sentences(lit)
    width, height = (36.0, 24.0) if lit is None else (lit.width_mm, lit.height_mm)
    scale = min(PICTURE / width, PICTURE / height)
    w, h = width * scale, height * scale
    rows = [] if lit is None else _rows(lit)
    used = sorted(set().union(*rows))
    foot = h + 16.0
    total = foot + LINE_PX * len(used) + 8.0
    svg = Svg()
    svg.head(SIZE, total, "dw dw-lightmap", prefix, "Light over the sensor", " ".join(said))
    left, top = 10.0, 8.0
    if lit is not None:
        _cells(svg, lit, rows, left, top, scale)
    svg.rect(left, top, w, h, "dw-light-frame" if lit is not None else "dw-ghost")
    if lit is not None:
        _figures(svg, lit, left, top, w, h)
    if lit is not None and lit.prism is not None and lit.prism.shades:
        x, y = (left + w / 2.0, top) if lit.width_mm >= lit.height_mm else (left + w, top + h / 2.0)
        svg.circle(x, y, 4.0, "dw-light-prism")
    y = foot
    for band in used:
        y += LINE_PX
        svg.rect(10.0, y - 9.0, 22.0, 10.0, f"dw-band-{band}")
        svg.rect(10.0, y - 9.0, 22.0, 10.0, "dw-light-frame")
        svg.text(40.0, y, WORDS[band])
    svg.close()
    return str(svg)


def _figures(svg: Svg, lit: Lit, left: float, top: float, w: float, h: float) -> None:
    """Write the light of the points that the words name where they lie: as in the words, to the percent."""
    places = {
        "centre": (left + w / 2.0, top + h / 2.0 + 4.5, "middle"),
        "side": (left + w / 2.0, top + 20.0, "middle"),
        "end": (left + w - 5.0, top + h / 2.0 + 4.5, "end"),
        "corner": (left + w - 5.0, top + 16.0, "end"),
    }
    for key, (x, y, anchor) in places.items():
        text = percent(lit.quarter.light[lit.quarter.points[key]])
        svg.text(x, y, text, "dw-text dw-light-figure", text_anchor=anchor)


Bands = tuple[int, ...]


def _bands(quarter: Quarter) -> list[Bands]:
    """The bands of a quarter's points, a row each from the axis outwards."""
    across = len(quarter.x_mm)
    found = [band_of_light(light) for light in quarter.light]
    return [tuple(found[at : at + across]) for at in range(0, len(found), across)]


def _rows(lit: Lit) -> list[Bands]:
    """The bands of the whole sensor, row by row from the top; the prism stands at its top or right side."""
    shaded = _bands(lit.quarter)
    plain = shaded if lit.unshaded is lit.quarter else _bands(lit.unshaded)
    if lit.width_mm >= lit.height_mm:
        halves = [*reversed(shaded), *plain[1:]]
        return [half[:0:-1] + half for half in halves]
    up = [left[:0:-1] + right for left, right in zip(plain, shaded, strict=True)]
    return [*up[:0:-1], *up]


def _cells(svg: Svg, lit: Lit, rows: list[Bands], left: float, top: float, scale: float) -> None:
    """Rows from top to bottom: each run of one band is one rectangle; a line runs where two bands meet."""
    # Cell borders lie half way between the points; the outermost points lie on the sensor's edge.
    xs = [left + x * scale for x in _edges(lit.quarter.x_mm, lit.width_mm)]
    ys = [top + y * scale for y in _edges(lit.quarter.y_mm, lit.height_mm)]
    border: list[str] = []
    above: Bands = ()
    for bands, (y0, y1) in zip(rows, pairwise(ys), strict=True):
        if above and above != bands:
            between = enumerate(zip(above, bands, strict=True))
            border += [f"M{xs[i]:.1f} {y0:.1f}H{xs[i + 1]:.1f}" for i, (a, b) in between if a != b]
        above, at = bands, 0
        for band, run in groupby(bands):
            end = at + sum(1 for _ in run)
            svg.rect(xs[at], y0, xs[end] - xs[at], y1 - y0, f"dw-band-{band}")
            if at:
                border.append(f"M{xs[at]:.1f} {y0:.1f}V{y1:.1f}")
            at = end
    if border:
        svg.path("".join(border), "dw-light-border")


def _edges(places: tuple[float, ...], side_mm: float) -> list[float]:
    """Borders of the mirrored cells, mm from the first edge."""
    half = side_mm / 2.0
    between = [(a + b) / 2.0 for a, b in pairwise(places)]
    return [0.0, *(half - x for x in reversed(between)), *(half + x for x in between), side_mm]
