"""Where the finished train's sensor will stand: window, likely spread and worst case, as a bar."""

from __future__ import annotations

from collections.abc import Callable

from server.domain.checks.tolerances import Band
from server.domain.measure import percent
from server.web.drawing.options import millimetres
from server.web.drawing.svg import Svg

SIZE = 240.0
WIDTH = 216.0
MIDDLE = 34.0


def sentences(band: Band | None, write: Callable[[float], str]) -> list[str]:
    """The bar in words."""
    if band is None:
        return ["No window to show: no corrector asks for a place, or no length has a tolerance."]
    where = "too far" if band.error_mm >= 0 else "too close"
    low, high = band.odds.off_mm[0], band.odds.off_mm[-1]
    return [
        f"The nominal train stands {write(abs(band.error_mm))} {where}.",
        f"Window (thick): {write(band.short_mm)} too close to {write(band.long_mm)} too far.",
        f"19 of 20 trains (bar): from {_signed(low, write)} to {_signed(high, write)}.",
        f"Inside the window: {percent(band.odds.chance)}.",
    ]


def _signed(value_mm: float, write: Callable[[float], str]) -> str:
    return f"{write(abs(value_mm))} {'too far' if value_mm >= 0 else 'too close'}"


def tolerance_bar_svg(
    band: Band | None, *, write: Callable[[float], str] = millimetres, prefix: str = "tolerance"
) -> str:
    """Return the bar at the sensor plane as SVG; left is too close to the corrector, right too far.

    A bare line where no tolerance is entered or no corrector asks for a place. What it says in words stands
    beside it on the page (`sentences`).
    """
    said = sentences(band, write)
    total = 2.0 * MIDDLE
    svg = Svg()
    svg.head(SIZE, total, "dw dw-tolerance", prefix, "Where the sensor will stand", " ".join(said))
    if band is not None:
        draw_bar(svg, band, SIZE / 2.0, MIDDLE, WIDTH / 2.0 / reach_mm(band), WIDTH, tall=36.0)
    else:
        svg.line((SIZE - WIDTH) / 2.0, MIDDLE, (SIZE + WIDTH) / 2.0, MIDDLE, "dw-ruler-unknown")
    svg.close()
    return str(svg)


def stays_inside(band: Band) -> bool:
    """Whether 19 of 20 finished trains put the sensor inside the window."""
    return -band.short_mm <= band.odds.off_mm[0] and band.odds.off_mm[-1] <= band.long_mm


def reach_mm(band: Band) -> float:
    """How far the bar reaches from the asked place, to either side alike, mm."""
    worst = band.error_mm - band.worst.minus_mm, band.error_mm + band.worst.plus_mm
    return max(abs(v) for v in (-band.short_mm, band.long_mm, *worst, *band.odds.off_mm)) * 1.08 or 1.0


def draw_bar(
    svg: Svg, band: Band, zero: float, middle: float, per_mm: float, width: float, *, tall: float
) -> None:
    """Write the bar about the asked place at `zero`, `middle`: `per_mm` units a mm, the window `tall`."""
    least, most = band.error_mm - band.worst.minus_mm, band.error_mm + band.worst.plus_mm
    half = tall / 2.0

    def x(value_mm: float) -> float:
        return zero + value_mm * per_mm

    svg.line(zero - width / 2.0, middle, zero + width / 2.0, middle, "dw-axis")
    svg.rect(x(-band.short_mm), middle - half, (band.short_mm + band.long_mm) * per_mm, tall, "dw-window")
    svg.line(x(least), middle, x(most), middle, "dw-worst")
    for end in (least, most):
        svg.line(x(end), middle - half / 3.0, x(end), middle + half / 3.0, "dw-worst")
    low, high = band.odds.off_mm[0], band.odds.off_mm[-1]
    thick, kind = tall * 0.39, "dw-spread" if stays_inside(band) else "dw-spread-out"
    svg.rect(x(low), middle - thick / 2.0, max(1.0, (high - low) * per_mm), thick, kind)
    nominal = x(band.error_mm)
    svg.line(nominal, middle - half - 4.0, nominal, middle + half + 4.0, "dw-nominal")
    svg.line(zero, middle + half, zero, middle + half + 6.0, "dw-ruler")
