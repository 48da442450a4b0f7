"""The sensor inside the circles that tube and corrector offer it, true proportion, face on."""

from __future__ import annotations

from server.domain.measure import nominal
from server.domain.parts import BaseCamera, Corrector, OpticalTube
from server.domain.rig import Rig
from server.web.drawing.bodies import sane
from server.web.drawing.labels import LINE_PX, wrap
from server.web.drawing.options import SectionOptions
from server.web.drawing.section import scale_bar
from server.web.drawing.svg import Svg

SIZE = 300.0
PICTURE = 200.0


def sensor_svg(rig: Rig, *, options: SectionOptions | None = None) -> str:
    """Return the sensor's rectangle with the tube's image circle and the corrector's corrected circle.

    What is not known is left out and said in words. All three share one scale and one centre.
    """
    options = options or SectionOptions(id_prefix="sensor")
    train, write, prefix = rig.train, options.write_length, options.id_prefix
    camera = train.camera.part if train.camera is not None else None
    size = camera.sensor_mm if isinstance(camera, BaseCamera) else None
    if size is not None and not all(sane(side) for side in size):
        size = None
    diagonal = (size[0] ** 2 + size[1] ** 2) ** 0.5 if size else None
    tube = train.tube.part if train.tube is not None else None
    lit = sane(nominal(tube.image_circle_mm)) if isinstance(tube, OpticalTube) else None
    corrector = train.corrector.part if train.corrector is not None else None
    flat = sane(nominal(corrector.corrected_circle_mm)) if isinstance(corrector, Corrector) else None
    said = [
        f"Sensor {write(size[0])} by {write(size[1])}, diagonal {write(diagonal)}."
        if size and diagonal
        else "The sensor's size is not known yet.",
        _circle_words("Tube's image circle", lit, diagonal, options) if tube else "There is no tube yet.",
    ]
    if corrector:
        said.append(_circle_words("Corrector's circle", flat, diagonal, options))
    lines = [line for sentence in said for line in wrap(sentence, SIZE - 20.0)]
    largest = max(lit or 0.0, flat or 0.0, diagonal or 0.0)
    scale = PICTURE / largest if largest else 0.0
    height = PICTURE + 44.0 + LINE_PX * (len(lines) + 1)
    svg = Svg()
    svg.head(SIZE, height, "dw dw-face", prefix, "Sensor and image circles", " ".join(said))
    x, y = SIZE / 2.0, PICTURE / 2.0 + 12.0
    if lit:
        svg.leaf("circle", cx=x, cy=y, r=lit / 2.0 * scale, class_="dw-circle-lit", data_mm=lit)
    if flat:
        svg.leaf("circle", cx=x, cy=y, r=flat / 2.0 * scale, class_="dw-circle-flat", data_mm=flat)
    if size:
        w, h = size[0] * scale, size[1] * scale
        svg.rect(x - w / 2.0, y - h / 2.0, w, h, "dw-face-sensor", data_mm=size[0])
    else:
        svg.rect(x - 60.0, y - 40.0, 120.0, 80.0, "dw-ghost")
    foot = PICTURE + 36.0
    if scale:
        scale_bar(svg, 10.0, foot, scale, options, SIZE)
    for i, line in enumerate(lines):
        svg.text(10.0, foot + (i + 1) * LINE_PX + 6.0, line)
    svg.close()
    return str(svg)


def _circle_words(
    name: str, circle_mm: float | None, diagonal_mm: float | None, options: SectionOptions
) -> str:
    dash = "solid line" if name.startswith("Tube") else "dashed line"
    if circle_mm is None:
        return f"{name}: not known yet."
    head = f"{name} {options.write_length(circle_mm)} ({dash})"
    if diagonal_mm is None:
        return f"{head}."
    return f"{head}: {'holds the sensor' if circle_mm >= diagonal_mm else 'the corners lie outside'}."
