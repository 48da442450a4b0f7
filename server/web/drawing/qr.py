"""An address as a QR code."""

from __future__ import annotations

from markupsafe import Markup

from server.web.drawing.svg import Svg


def qr_svg(text: str, title: str) -> Markup:
    """A text as a QR code: dark modules on a light panel, with the quiet zone that scanners need.

    `title` says what it is to whoever cannot see it.

    Source: ISO/IEC 18004 (QR Code): a quiet zone of four modules, level M for about 15 % of damage (both from
    memory).
    """
    import segno

    quiet = 4
    rows = [list(row) for row in segno.make_qr(text, error="m").matrix_iter(border=0)]
    side = len(rows) + 2 * quiet
    steps = [
        f"M{x + quiet} {y + quiet}h1v1h-1z"
        for y, row in enumerate(rows)
        for x, module in enumerate(row)
        if module
    ]
    svg = Svg()
    svg.open("svg", viewBox=f"0 0 {side} {side}", class_="qr", role="img", shape_rendering="crispEdges")
    svg.words("title", title)
    svg.rect(0, 0, side, side, "qr-panel")
    svg.path("".join(steps), "qr-modules")
    svg.close()
    # The writer has escaped everything.
    return Markup(str(svg))
