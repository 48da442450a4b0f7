"""The section of a rig along its optical axis, as SVG: to scale, sky on the left, sensor on the right.

overview   the whole rig in a strip at its own, smaller scale
numbers    each part's number in the run, and a word at each joint that does not simply mate
section    the train, lengths and diameters to one scale, with its light
standing   the asked back focus, and where the finished trains' sensors stand
ruler      each shoulder's distance from the sensor
legend     what light, hatching and bar mean
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from server.domain.guarded import worked_or_none
from server.domain.parts import OpticalTube
from server.domain.rig import Rig
from server.domain.said import said
from server.domain.train import Place
from server.domain.workings.case import Case
from server.domain.workings.traced import Traced
from server.web.drawing.bodies import UNKNOWN_RADIUS_MM, Body, bodies_of, last_glass
from server.web.drawing.describe import JOINT_WORDS, describe, part_sentence, title_of
from server.web.drawing.empty import empty_svg
from server.web.drawing.labels import (
    BUBBLE_PX,
    LINE_PX,
    Label,
    Row,
    arrange,
    text_width,
    wrap,
)
from server.web.drawing.legend import Entry, entries_of, height_of, paint_legend
from server.web.drawing.light import Cone, cone_of, paint_light
from server.web.drawing.options import SectionOptions
from server.web.drawing.overview import Strip, draw_strip, strip_height
from server.web.drawing.paint import LENGTH_WORDS, Frame, hatches, holds_words, paint, upright
from server.web.drawing.standing import Standing, paint_standing, standing_of
from server.web.drawing.svg import Svg

NARROW_WIDTH = 360.0
PAD = 10.0
STUB = 40.0
LEADER = 28.0
GHOST_MM = 20.0
STRIP_LEFT = PAD + 46.0
STRIP_TALLEST, STRIP_TALLEST_NARROW = 104.0, 72.0
TALLEST = 290.0
TALLEST_BESIDE = 200.0
"""A drawing with strip and legend beside it stays low enough that what is to be done is seen below it."""
ELBOW = 14.0


@dataclass(frozen=True)
class Contents:
    """What a wide and a narrow drawing of one train have in common: its bodies, and a sentence a place."""

    bodies: tuple[Body, ...]
    sentences: tuple[str, ...]


def _contents(rig: Rig, options: SectionOptions) -> Contents:
    train = rig.train
    ends = enumerate(zip(train.places, train.shoulders, strict=True), start=1)
    sentences = tuple(part_sentence(place, number, own, options) for number, (place, own) in ends)
    return Contents(bodies_of(train), sentences)


def _marks(key: int | None, options: SectionOptions) -> str:
    """Return the classes, each with a space before it, of a place that stands out or takes light."""
    marks = " is-highlight" if key is not None and key == options.highlight else ""
    return f"{marks} is-limit" if key in options.takers else marks


@dataclass(frozen=True)
class Plan:
    """Where everything lies before anything is written, in drawing units."""

    width: float
    height: float
    frame: Frame
    bodies: tuple[Body, ...]
    top_row: Row
    top_row_y: float
    bodies_top: float
    bodies_bottom: float
    ruler_y: float
    ruler_row: Row
    strip_left: float
    strip_width: float
    strip_tallest: float
    legend_at: tuple[float, float]
    foot_at: tuple[float, float]
    foot_right: float
    cone: Cone | None
    standing: Standing | None
    legend: tuple[Entry, ...]
    has_tube: bool
    ghost: bool


def scale_bar(svg: Svg, x: float, y: float, scale: float, options: SectionOptions, room: float) -> float:
    """Write a scale bar with its left end at `x`, `y`; return the x where it and its words end.

    `scale` is drawing units in one mm; the bar is the longest length on offer within a third of `room`.
    """
    fitting = [mm for mm in options.bar_lengths_mm if mm * scale <= room / 3.0]
    length = max(fitting, default=min(options.bar_lengths_mm))
    end = x + length * scale
    svg.open("g", class_="dw-scale", data_mm=length)
    svg.polyline([(x, y - 4.0), (x, y), (end, y), (end, y - 4.0)], "dw-scale-bar")
    words = options.write_length(length)
    svg.text(end + 6.0, y + 2.0, words)
    svg.close()
    return end + 6.0 + text_width(words)


def _top_labels(rig: Rig, bodies: tuple[Body, ...], left: float, scale: float, has_tube: bool) -> list[Label]:
    found: list[Label] = []
    if has_tube:
        found.append(Label(left - STUB / 2.0, "1", bubble=True, key=rig.train.places[0].key))
    for body in bodies:
        middle = left + (body.start_mm + body.end_mm) / 2.0 * scale
        found.append(Label(middle, str(body.number), bubble=True, key=body.place.key, from_y=body.above_mm))
        if not body.known and not holds_words(body, scale):
            found.append(Label(middle, LENGTH_WORDS, class_="length", from_y=body.above_mm))
    skip = 1 if has_tube else 0
    for joint in rig.train.joints:
        words = JOINT_WORDS.get(joint.mating.in_a_word)
        at = joint.index - skip
        if words and 0 <= at < len(bodies):
            upper = bodies[at - 1].radius_mm if at else bodies[at].radius_mm
            found.append(
                Label(
                    left + bodies[at].start_mm * scale,
                    f"{words}",
                    class_=joint.mating.verdict,
                    from_y=max(upper, bodies[at].radius_mm),
                )
            )
    return found


def _ruler_labels(
    rig: Rig, bodies: tuple[Body, ...], left: float, scale: float, options: SectionOptions
) -> list[Label]:
    found: list[Label] = []
    shoulders = rig.train.shoulders[len(rig.train) - len(bodies) :]
    for body, ends in zip(bodies, shoulders, strict=True):
        if ends.sky_mm is not None:
            label = Label(left + body.start_mm * scale, options.write_length(ends.sky_mm))
            if not found or (found[-1].text, found[-1].x) != (label.text, label.x):
                found.append(label)
    if bodies and rig.train.shoulders[-1].camera_mm is not None:
        found.append(Label(left + bodies[-1].end_mm * scale, "sensor"))
    return found


def _traced(rig: Rig) -> Traced | None:
    """The beam, None where the light cone's own finding says why it cannot be traced."""
    return worked_or_none(said("work.beam"), lambda: Case(rig).traced)


def scale_of(rig: Rig, options: SectionOptions) -> float:
    """Drawing units in one mm of a rig's section."""
    return _plan(rig, options, _contents(rig, options).bodies).frame.scale


def _plan(rig: Rig, options: SectionOptions, bodies: tuple[Body, ...]) -> Plan:
    train = rig.train
    has_tube = isinstance(train.places[0].part, OpticalTube)
    ghost = train.camera is None or train.places[-1] is not train.camera
    end = (bodies[-1].end_mm + bodies[-1].back_mm if bodies else 0.0) + (GHOST_MM if ghost else 0.0)
    up = max((b.above_mm for b in bodies), default=UNKNOWN_RADIUS_MM)
    down = max((b.below_mm for b in bodies), default=UNKNOWN_RADIUS_MM)
    side = 0.0 if options.narrow else options.side
    base_width = width = NARROW_WIDTH if options.narrow else max(options.width - side, 480.0)
    tallest = 240.0 if options.narrow else TALLEST_BESIDE if side else TALLEST
    for _ in range(2):
        usable = width - 2.0 * PAD - STUB - 8.0
        scale = min(usable / max(end, 1e-3), tallest / (up + down), options.most_scale)
        left = PAD + STUB + (usable - end * scale) / 2.0
        top_row = arrange(_top_labels(rig, bodies, left, scale, has_tube), PAD, width - PAD)
        ruler_row = arrange(_ruler_labels(rig, bodies, left, scale, options), PAD, width - PAD)
        needed = max(top_row.right, ruler_row.right) + PAD
        if needed <= width + 0.01:
            break
        # More labels than fit: the drawing grows, and the train with it.
        width = needed
    strip, strip_left = 0.0, STRIP_LEFT + (width if side else 0.0)
    strip_width = (side or base_width) - STRIP_LEFT - PAD
    strip_tallest = STRIP_TALLEST_NARROW if options.narrow else STRIP_TALLEST
    if has_tube and train.tube is not None:
        strip = strip_height(train.tube, bodies, strip_width, strip_tallest) + 12.0
        strip += (3.0 if options.narrow or side else 2.0) * LINE_PX
    row_y = PAD + (0.0 if side else strip) + LINE_PX
    bodies_top = row_y + top_row.height + LEADER
    axis = bodies_top + up * scale
    bodies_bottom = axis + down * scale
    frame = Frame(left, axis, scale, options.id_prefix)
    standing = standing_of(last_glass(bodies), options, frame, width, bodies_bottom)
    cone = cone_of(
        train,
        bodies,
        _traced(rig),
        STUB / scale,
        limit=options.limit,
        prism=options.prism,
    )
    bar = standing is not None and standing.inset is not None
    legend = entries_of(cone, options, bar=bar, room=(side or base_width) - 2.0 * PAD)
    ruler_y = bodies_bottom + (0.0 if standing is None else standing.height) + 20.0
    under = ruler_y + ELBOW + 14.0 + ruler_row.height
    legend_at = (width + PAD, PAD + strip) if side else (PAD, under)
    foot_at = (legend_at[0], legend_at[1] + height_of(legend))
    height = foot_at[1] + (3.0 if options.narrow or side else 2.0) * LINE_PX + PAD
    return Plan(
        width + side,
        max(height, under + PAD),
        frame,
        bodies,
        top_row,
        row_y,
        bodies_top,
        bodies_bottom,
        ruler_y,
        ruler_row,
        strip_left,
        strip_width,
        strip_tallest,
        legend_at,
        foot_at,
        width + side if side else base_width,
        cone,
        standing,
        legend,
        has_tube,
        ghost,
    )


def _times(ratio: float) -> str:
    return f"{ratio:.2g}" if ratio < 10.0 else f"{ratio:.0f}"


def _strip(svg: Svg, plan: Plan, tube: Place[OpticalTube], options: SectionOptions) -> None:
    left = plan.strip_left - STRIP_LEFT + PAD
    strip = draw_strip(svg, tube, plan.bodies, plan.strip_left, PAD, plan.strip_width, plan.strip_tallest)
    svg.text(left, PAD + LINE_PX - 2.0, "sky")
    svg.polyline([(left, PAD + LINE_PX + 6.0), (left + 26.0, PAD + LINE_PX + 6.0)], "dw-arrow")
    tip, mid = left + 32.0, PAD + LINE_PX + 6.0
    svg.polygon([(tip - 6.0, mid - 3.0), (tip, mid), (tip - 6.0, mid + 3.0)], "dw-arrow-head")
    y = PAD + max(strip.height, LINE_PX + 10.0) + 20.0
    end = scale_bar(svg, left, y, strip.scale, options, plan.strip_width / 2.0)
    times = plan.frame.scale / strip.scale
    words = f"the whole; the section is {_times(times)} times as large"
    for i, line in enumerate(wrap(words, plan.strip_left + plan.strip_width - end - 12.0)):
        svg.text(end + 12.0, y + 2.0 + i * LINE_PX, line, "dw-text dw-muted")
    _lens_lines(svg, plan, strip)


def _lens_lines(svg: Svg, plan: Plan, strip: Strip) -> None:
    """Write a frame about the train in the strip: that is what the section below enlarges."""
    x, y, width, height = strip.box
    if plan.bodies:
        svg.rect(x - 3.0, y - 3.0, width + 6.0, height + 6.0, "dw-enlarged")


def _stub(svg: Svg, plan: Plan, rig: Rig, options: SectionOptions, sentence: str) -> None:
    """Write the end of the tube, broken off, or say that no tube stands there."""
    frame = plan.frame
    radius = plan.bodies[0].sky_radius_mm if plan.bodies else UNKNOWN_RADIUS_MM
    bore = min(plan.bodies[0].bore_mm if plan.bodies else radius - 4.0, radius - 1.0)
    if not plan.has_tube:
        svg.open("g", class_="dw-part")
        svg.words("title", "No tube yet")
        svg.rect(frame.left - STUB + 6.0, frame.y(radius), STUB - 8.0, 2 * radius * frame.scale, "dw-ghost")
        upright(svg, frame.left - STUB / 2.0, frame.axis, "no tube yet", 2.0 * radius * frame.scale)
        svg.close()
        return
    place = rig.train.places[0]
    svg.open(
        "g", class_=f"dw-part dw-kind-optical-tube{_marks(place.key, options)}", data_place=str(place.key)
    )
    svg.words("title", sentence)
    for side in (1.0, -1.0):
        y = frame.y(radius) if side > 0 else frame.y(-bore)
        svg.rect(frame.left - STUB + 6.0, y, STUB - 6.0, (radius - bore) * frame.scale, "dw-body dw-body-1")
    svg.torn(frame.left - STUB + 6.0, frame.y(radius) - 3.0, frame.y(-radius) + 3.0)
    svg.close()


def _ghost(svg: Svg, plan: Plan) -> None:
    frame = plan.frame
    start = plan.bodies[-1].end_mm + plan.bodies[-1].back_mm if plan.bodies else 0.0
    radius = plan.bodies[-1].camera_radius_mm if plan.bodies else UNKNOWN_RADIUS_MM
    svg.open("g", class_="dw-part")
    svg.words("title", "No camera ends the train yet")
    svg.rect(
        frame.x(start) + 2.0,
        frame.y(radius),
        GHOST_MM * frame.scale - 4.0,
        2.0 * radius * frame.scale,
        "dw-ghost",
    )
    room = 2.0 * radius * frame.scale if GHOST_MM * frame.scale > LINE_PX else 0.0
    upright(svg, frame.x(start + GHOST_MM / 2.0), frame.axis, "no camera yet", room)
    svg.close()


def _joint_mark(svg: Svg, frame: Frame, label: Label) -> None:
    """Write the mark across a joint: torn where it does not mate, dotted where that is not known."""
    top, bottom = frame.y(label.from_y) - 5.0, frame.y(-label.from_y) + 5.0
    if label.class_.startswith("wrong"):
        svg.zigzag(label.x, top, bottom, "dw-joint-halo", 3.0)
        svg.zigzag(label.x, top, bottom, "dw-joint dw-joint-stop", 3.0)
    else:
        name = "unknown" if label.class_ == "unknown" else "watch"
        svg.line(label.x, top, label.x, bottom, "dw-joint-halo")
        svg.line(label.x, top, label.x, bottom, f"dw-joint dw-joint-{name}")


def _sign(svg: Svg, x: float, y: float, verdict: str) -> None:
    """Write the verdict's shape: a crossed octagon, a triangle, a ring."""
    if verdict.startswith("wrong"):
        a, b = 6.0, 2.5
        corners = [(b, -a), (a, -b), (a, b), (b, a), (-b, a), (-a, b), (-a, -b), (-b, -a)]
        svg.polygon([(x + u, y + v) for u, v in corners], "dw-sign dw-sign-stop")
        svg.path(f"M{x - 2.5:.1f} {y - 2.5:.1f}l5 5m0 -5l-5 5", "dw-sign-cross")
    elif verdict == "watch":
        svg.polygon([(x, y - 6.0), (x + 6.0, y + 5.0), (x - 6.0, y + 5.0)], "dw-sign dw-sign-watch")
    else:
        svg.circle(x, y, 5.0, "dw-sign dw-sign-unknown")


def _top_row(svg: Svg, plan: Plan) -> None:
    row, frame = plan.top_row, plan.frame
    base = plan.top_row_y + row.height
    for label, x in zip(row.labels, row.centres, strict=True):
        foot = frame.y(label.from_y) - (5.0 if not label.bubble else 0.0)
        if label.bubble and label.from_y == 0.0:
            foot = frame.y(plan.bodies[0].sky_radius_mm if plan.bodies else UNKNOWN_RADIUS_MM)
        svg.polyline([(x, base), (label.x, base + LEADER - 8.0), (label.x, foot)], "dw-leader")
        if not label.bubble:
            if label.class_ != "length":
                _sign(svg, label.x, base + LEADER - 6.0, label.class_)
                _joint_mark(svg, frame, label)
            name = "stop" if label.class_.startswith("wrong") else label.class_
            _words(svg, x, base - 5.0, label.text, row.turned, f"dw-text dw-word-{name}", up=True)


def _words(svg: Svg, x: float, y: float, text: str, turned: bool, class_: str, *, up: bool) -> None:
    """Write a label centred at `x`: upright on the line `y`, or turned and reading upwards from or to it."""
    if not turned:
        svg.text(x, y, text, class_, text_anchor="middle")
        return
    anchor = "start" if up else "end"
    svg.text(x + 4.5, y, text, class_, text_anchor=anchor, transform=f"rotate(-90 {x + 4.5:.2f} {y:.2f})")


def _bubbles(svg: Svg, plan: Plan, rig: Rig, options: SectionOptions) -> None:
    """Write the numbers, outside the picture's role, so that the keyboard reaches their links."""
    names = {str(number): place.name for number, place in enumerate(rig.train.places, start=1)}
    y = plan.top_row_y + plan.top_row.height - BUBBLE_PX / 2.0
    for label, x in zip(plan.top_row.labels, plan.top_row.centres, strict=True):
        if not label.bubble:
            continue
        here = _marks(label.key, options)
        if options.links:
            name = f"{label.text}: {names[label.text]}"
            svg.open("a", href=f"#place-{label.key}", class_=f"dw-number{here}", aria_label=name)
        else:
            svg.open("g", class_=f"dw-number{here}", aria_hidden="true")
        svg.circle(x, y, BUBBLE_PX / 2.0 - 1.0, "dw-bubble")
        svg.text(x, y + 4.5, label.text, "dw-text dw-bubble-text", text_anchor="middle")
        svg.close()


def _ruler(svg: Svg, plan: Plan) -> None:
    frame, row, y = plan.frame, plan.ruler_row, plan.ruler_y
    left = frame.x(plan.bodies[0].start_mm) if plan.bodies else frame.left
    right = frame.x(plan.bodies[-1].end_mm) if plan.bodies else frame.left + GHOST_MM * frame.scale
    first = row.labels[0].x if row.labels else right
    if first > left + 0.5:
        svg.line(left, y, first, y, "dw-ruler-unknown")
        # The words stand above the line, where no figure can meet them.
        svg.text(left, y - 6.0, "not known yet", "dw-text dw-muted")
    if not row.labels:
        return
    svg.line(first, y, right, y, "dw-ruler")
    base = y + ELBOW + 6.0
    for label, x in zip(row.labels, row.centres, strict=True):
        svg.polyline([(label.x, y - 6.0), (label.x, y + 4.0), (x, base)], "dw-tick")
        upright = base + 13.0
        _words(
            svg,
            x,
            base + 4.0 if row.turned else upright,
            label.text,
            row.turned,
            "dw-text dw-figure",
            up=False,
        )


def _foot(svg: Svg, plan: Plan, options: SectionOptions) -> None:
    paint_legend(svg, plan.legend, *plan.legend_at, options.id_prefix)
    x, y = plan.foot_at[0], plan.foot_at[1] + LINE_PX + 4.0
    right = plan.foot_right - PAD
    end = scale_bar(svg, x, y, plan.frame.scale, options, (right - x - STRIP_LEFT + PAD) * 0.6)
    words = "along and across; outer diameters are indicative"
    for i, line in enumerate(wrap(words, right - end - 12.0)):
        svg.text(end + 12.0, y + 2.0 + i * LINE_PX, line, "dw-text dw-muted")


def section_svg(rig: Rig, *, options: SectionOptions | None = None) -> str:
    """Return the section of a rig's train as one SVG element.

    Lengths and diameters of the train share one scale; the tube has a strip of its own at a smaller one, said
    in words and by a bar. A part of no known length is drawn dashed at a stand-in length. Nothing is judged
    here: the joints' verdicts are the domain's.
    """
    options = options or SectionOptions()
    if not rig.train.places:
        return empty_svg(options)
    return _drawn(rig, options, _contents(rig, options))


def _drawn(rig: Rig, options: SectionOptions, contents: Contents) -> str:
    plan = _plan(rig, options, contents.bodies)
    svg, prefix = Svg(), options.id_prefix
    size = "narrow" if options.narrow else "wide"
    bore_unknown = [b.number for b in plan.bodies if not b.bore_known]
    bar = plan.standing is not None and plan.standing.inset is not None
    desc = describe(rig, options, plan.cone, bore_unknown, contents.sentences, bar=bar)
    svg.head(plan.width, plan.height, f"dw dw-{size}", prefix, title_of(rig), desc, held=True)
    hatches(svg, prefix, lost=plan.cone is not None and any(side.edge for side in plan.cone.sides))
    if plan.has_tube and rig.train.tube is not None:
        _strip(svg, plan, rig.train.tube, options)
    _section(svg, plan, rig, options, contents.sentences)
    glass = last_glass(plan.bodies)
    if plan.standing is not None and glass is not None:
        paint_standing(svg, plan.standing, glass, plan.frame, options, plan.width)
    _ruler(svg, plan)
    _foot(svg, plan, options)
    svg.close()
    _bubbles(svg, plan, rig, options)
    svg.close()
    return str(svg)


def _section(svg: Svg, plan: Plan, rig: Rig, options: SectionOptions, sentences: tuple[str, ...]) -> None:
    frame = plan.frame
    sensor = plan.bodies[-1].end_mm if plan.bodies else 0.0
    if plan.cone is not None:
        paint_light(svg, plan.cone, frame, sensor, fill=True)
    right = frame.x(sensor)
    svg.line(frame.left - STUB, frame.axis, max(right, frame.left + 20.0), frame.axis, "dw-axis")
    _stub(svg, plan, rig, options, sentences[0])
    for body in plan.bodies:
        key, here = body.place.key, frame
        if options.prism is not None and key == options.prism.key:
            here = replace(frame, prism_edge_mm=options.prism.edge_mm)
        paint(svg, here, body, sentences[body.number - 1], _marks(key, options))
    if plan.ghost:
        _ghost(svg, plan)
    if plan.cone is not None:
        paint_light(svg, plan.cone, frame, sensor, fill=False)
    _top_row(svg, plan)


Size = Literal["wide", "narrow"]
SIZES: tuple[Size, ...] = ("wide", "narrow")
_BOXES: dict[Size, str] = {
    "wide": '<div class="drawing-wide">',
    "narrow": '<div class="drawing-narrow" tabindex="0" role="group" aria-label="Section; scrolls sideways">',
}


def section_figure(
    rig: Rig, *, options: SectionOptions | None = None, sizes: tuple[Size, ...] = SIZES
) -> str:
    """Return the section in a box that shows the size that fits it (drawing.css decides).

    `sizes` are those that are drawn: both, or the one that a page says it shows.
    """
    options = options or SectionOptions()
    contents = _contents(rig, options) if rig.train.places else None
    drawn = []
    for size in sizes:
        one = replace(options, narrow=size == "narrow", id_prefix=f"{options.id_prefix}-{size[0]}")
        drawn.append(_BOXES[size] + (_drawn(rig, one, contents) if contents else empty_svg(one)) + "</div>")
    return f'<div class="drawing">{"".join(drawn)}</div>'
