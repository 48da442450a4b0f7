"""The section of a train that has no parts yet: a drawing that teaches what goes where."""

from __future__ import annotations

from server.web.drawing.labels import spread, text_width
from server.web.drawing.options import SectionOptions
from server.web.drawing.svg import Svg

TITLE = "How an optical train is built"
DESC = (
    "Light comes from the sky on the left. It passes the optical tube, which gathers it; the corrector, "
    "which flattens the field; rings, filter wheel and other parts, which make up the distance; and ends "
    "on the camera's sensor on the right. The corrector asks for one exact distance to the sensor, its "
    "back focus. Nothing is to scale here, for there are no parts yet."
)


def empty_svg(options: SectionOptions) -> str:
    """Return the teaching drawing; a narrow one has its words below, one under another."""
    svg, prefix, narrow = Svg(), options.id_prefix, options.narrow
    width = 360.0 if narrow else max(options.width, 480.0)
    k = width / 960.0
    axis = 110.0 * k + 34.0
    height = axis + 122.0 * k + (85.0 if not narrow else 130.0)
    svg.head(
        width, height, f"dw dw-{'narrow' if narrow else 'wide'} dw-empty", prefix, TITLE, DESC, held=True
    )
    x_tube, x_corr, x_mid, x_cam = 90.0 * k, 520.0 * k, 600.0 * k, 790.0 * k
    sensor = x_cam + 60.0 * k
    for side in (1.0, -1.0):
        rim = axis + side * 84.0 * k
        ray = [
            (6.0, rim),
            (x_tube + 18.0 * k, rim),
            (x_corr + 50.0 * k, axis + side * 26.0 * k),
            (sensor, axis),
        ]
        svg.polyline(ray, "dw-ray")
    svg.rect(x_tube, axis - 96.0 * k, x_corr - x_tube - 6.0 * k, 192.0 * k, "dw-ghost")
    svg.rect(x_corr, axis - 54.0 * k, 70.0 * k, 108.0 * k, "dw-ghost")
    for i in range(5):
        svg.rect(x_mid + i * 37.0 * k, axis - 46.0 * k, 33.0 * k, 92.0 * k, "dw-ghost")
    svg.rect(x_cam, axis - 70.0 * k, 150.0 * k, 140.0 * k, "dw-ghost")
    svg.rect(sensor, axis - 28.0 * k, 4.0, 56.0 * k, "dw-sensor")
    svg.text(6.0, axis + 5.0 if not narrow else 16.0, "sky")
    y = axis + 122.0 * k
    svg.polyline(
        [(x_corr + 70.0 * k, y - 6.0), (x_corr + 70.0 * k, y), (sensor, y), (sensor, y - 6.0)], "dw-bracket"
    )
    svg.text((x_corr + 70.0 * k + sensor) / 2.0, y + 16.0, "back focus", "dw-text", text_anchor="middle")
    steps = (
        ("1", (x_tube + x_corr) / 2.0, "Optical tube", "gathers the light"),
        ("2", x_corr + 35.0 * k, "Corrector", "flattens the field"),
        ("3", x_mid + 92.0 * k, "Rings, wheel", "set the distance"),
        ("4", x_cam + 85.0 * k, "Camera", "holds the sensor"),
    )
    below = y + 50.0
    middles = [x for _, x, _, _ in steps]
    rooms = [text_width(max(head, tail, key=len)) + 14.0 for _, _, head, tail in steps]
    # At its full size the words have room under their numbers.
    centres = middles if k >= 1.0 else spread(middles, rooms, 6.0, width - 6.0)
    for i, (digit, x, head, tail) in enumerate(steps):
        svg.circle(x, 18.0, 11.0, "dw-bubble")
        svg.text(x, 22.5, digit, "dw-text dw-bubble-text", text_anchor="middle")
        svg.line(x, 29.0, x, axis - 40.0 * k, "dw-leader")
        if narrow:
            svg.text(10.0, below + i * 22.0, f"{digit}  {head}: {tail}")
        else:
            svg.text(centres[i], below, f"{digit}  {head}", "dw-text dw-strong", text_anchor="middle")
            svg.text(centres[i], below + 18.0, tail, "dw-text dw-muted", text_anchor="middle")
    svg.close()
    svg.close()
    return str(svg)
