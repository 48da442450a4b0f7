"""Where the finished train's sensor will stand: window, likely spread and worst case, as a bar."""

from __future__ import annotations

from server.domain.checks.tolerances import Band
from server.web.drawing.options import SectionOptions
from server.web.drawing.svg import Svg

SIZE = 240.0
LEFT, RIGHT = 12.0, 228.0
MIDDLE = 34.0


def sentences(band: Band | None, options: SectionOptions) -> list[str]:
    """The bar in words."""
    if band is None:
        return ["No tolerances are entered, or no corrector asks for a place."]
    write = options.write_length
    where = "too far" if band.error_mm >= 0 else "too close"
    low, high = band.odds.off_mm[0], band.odds.off_mm[-1]
    return [
        f"The nominal train stands {write(abs(band.error_mm))} {where}.",
        f"Window (thick): {write(band.short_mm)} too close to {write(band.long_mm)} too far.",
        f"19 of 20 trains (bar): from {_signed(low, options)} to {_signed(high, options)}.",
        f"Inside the window: {band.odds.chance:.0%}.",
    ]


def _signed(value_mm: float, options: SectionOptions) -> str:
    return f"{options.write_length(abs(value_mm))} {'too far' if value_mm >= 0 else 'too close'}"


def tolerance_bar_svg(band: Band | None, *, options: SectionOptions | None = None) -> str:
    """Return the bar at the sensor plane as SVG; left is too close to the corrector, right too far.

    A bare line where no tolerance is entered or no corrector asks for a place. What it says in words stands
    beside it on the page (`sentences`).
    """
    options = options or SectionOptions(id_prefix="tolerance")
    prefix = options.id_prefix
    said = sentences(band, options)
    total = 2.0 * MIDDLE
    svg = Svg()
    svg.open(
        "svg",
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {SIZE:.0f} {total:.0f}",
        width=round(SIZE),
        height=round(total),
        class_="dw dw-tolerance",
        role="img",
        aria_labelledby=f"{prefix}-title",
        aria_describedby=f"{prefix}-desc",
    )
    svg.words("title", "Where the sensor will stand", id=f"{prefix}-title")
    svg.words("desc", " ".join(said), id=f"{prefix}-desc")
    if band is not None:
        _bar(svg, band)
    else:
        svg.line(LEFT, MIDDLE, RIGHT, MIDDLE, "dw-ruler-unknown")
    svg.close()
    return str(svg)


def _bar(svg: Svg, band: Band) -> None:
    worst = (band.error_mm - band.worst.minus_mm, band.error_mm + band.worst.plus_mm)
    reach = max(abs(v) for v in (-band.short_mm, band.long_mm, *worst, *band.odds.off_mm)) * 1.08 or 1.0

    def x(value_mm: float) -> float:
        return (LEFT + RIGHT) / 2.0 + value_mm / reach * (RIGHT - LEFT) / 2.0

    svg.line(LEFT, MIDDLE, RIGHT, MIDDLE, "dw-axis")
    svg.rect(x(-band.short_mm), MIDDLE - 18.0, x(band.long_mm) - x(-band.short_mm), 36.0, "dw-window")
    svg.line(x(worst[0]), MIDDLE, x(worst[1]), MIDDLE, "dw-worst")
    for end in worst:
        svg.line(x(end), MIDDLE - 6.0, x(end), MIDDLE + 6.0, "dw-worst")
    low, high = band.odds.off_mm[0], band.odds.off_mm[-1]
    inside = -band.short_mm <= low and high <= band.long_mm
    svg.rect(
        x(low), MIDDLE - 7.0, max(1.0, x(high) - x(low)), 14.0, "dw-spread" if inside else "dw-spread-out"
    )
    svg.line(x(band.error_mm), MIDDLE - 24.0, x(band.error_mm), MIDDLE + 24.0, "dw-nominal")
    svg.line(x(0.0), MIDDLE + 18.0, x(0.0), MIDDLE + 24.0, "dw-ruler")
