"""The section: to scale, complete, safe, and without one label over another.

The yardstick is the drawing itself, parsed back: its rectangles are measured against the parts' own lengths.
The light's check values are geometry (a cone of focal ratio N is x / N wide at a distance x from its tip).
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from itertools import combinations
from typing import Any

import pytest

from server.domain.connections import read_connection
from server.domain.measure import Measure, nominal
from server.domain.parts import (
    Adapter,
    Camera,
    CataloguedPart,
    Corrector,
    Filter,
    FilterWheel,
    OffAxisGuider,
    OpticalTube,
    Rotator,
    Shim,
    SpacerRing,
    TiltAdjuster,
)
from server.domain.rig import Rig
from server.domain.train import Place, Train
from server.web.drawing import SectionOptions, SpacingMark, section_figure, section_svg

NS = "{http://www.w3.org/2000/svg}"
DRAWN_PX = 0.02
"""Coordinates are written to a hundredth of a drawing unit."""


def mm(value: float) -> Measure:
    return Measure(nominal=value)


def place(key: int, part, inside=(), **more) -> Place:
    held = tuple(CataloguedPart(500 + i, 1, "Ada", 1, one) for i, one in enumerate(inside))
    return Place(key, CataloguedPart(key, 1, "Ada", 1, part), inside=held, **more)


def thread(text: str):
    return read_connection(text)


TUBE = OpticalTube(
    maker="Larkworks",
    model="100",
    design="apochromat",
    aperture_mm=mm(100),
    focal_length_mm=mm(500),
    tube_length_mm=mm(450),
    outer_diameter_mm=mm(115),
    image_circle_mm=mm(44),
    camera_side=thread("M68x1 female"),
)
CORRECTOR = Corrector(
    maker="Larkworks",
    model="Flat",
    sky_side=thread("M68x1 male"),
    camera_side=thread("M48x0.75 male"),
    length_mm=mm(40),
    factor=mm(1.0),
    back_focus_mm=mm(55),
    clear_aperture_mm=mm(46),
    corrected_circle_mm=mm(42),
)
CAMERA = Camera(
    maker="Heron",
    model="26",
    sky_side=thread("M48x0.75 female"),
    flange_mm=mm(17.5),
    window_thickness_mm=mm(2),
    width_px=6000,
    height_px=4000,
    pixel_um=mm(4.0),
)


def ring(length: float | None, name: str = "ring", gender: str = "female") -> SpacerRing:
    return SpacerRing(
        model=name,
        sky_side=thread(f"M48x0.75 {gender}"),
        camera_side=thread("M48x0.75 male"),
        length_mm=None if length is None else mm(length),
        clear_aperture_mm=mm(45),
    )


def rig_of(*parts, name: str = "Lark") -> Rig:
    return Rig(name, Train(tuple(place(i, part) for i, part in enumerate(parts, start=1))))


def long_rig() -> Rig:
    """Fourteen parts, most of them thin: the hard case for labels."""
    female, male = thread("M48x0.75 female"), thread("M48x0.75 male")
    ends = {"sky_side": female, "camera_side": male}
    return rig_of(
        TUBE,
        CORRECTOR,
        ring(1),
        Shim(model="0.3", length_mm=mm(0.3), fits_from_mm=mm(48), fits_to_mm=mm(54)),
        ring(0.5),
        Rotator(model="rot", length_mm=mm(8), clear_aperture_mm=mm(44), **ends),
        ring(1.5),
        OffAxisGuider(model="pick", length_mm=mm(12), prism_mm=mm(8), reach_from_mm=mm(14), **ends),
        ring(1, gender="male"),
        FilterWheel(model="wheel", length_mm=mm(20), positions=7, format="round_36", **ends),
        TiltAdjuster(model="tilt", length_mm=mm(4), **ends),
        Adapter(model="step", sky_side=female, camera_side=thread("M42x0.75 male"), length_mm=mm(1)),
        Filter(model="mounted", length_mm=mm(3), thickness_mm=mm(1.85), **ends),
        CAMERA,
    )


def parsed(svg: str) -> Any:
    return ET.fromstring(svg)


def with_class(root: Any, name: str) -> list[Any]:
    return [e for e in root.iter() if name in (e.get("class") or "").split()]


def bodies(root: Any) -> list[tuple[float, float, float, str]]:
    """x, width in drawing units, the length in mm and whether it is known, in the order drawn."""
    return [
        (float(e.get("x")), float(e.get("width")), float(e.get("data-mm")), e.get("data-known"))
        for e in with_class(root, "dw-hit")
    ]


def scale_of(root: Any) -> float:
    """Drawing units in one mm, from the scale bar that belongs to the section (the last one)."""
    group = with_class(root, "dw-scale")[-1]
    pairs = group.find(f"{NS}polyline").get("points").split()
    return (float(pairs[2].split(",")[0]) - float(pairs[1].split(",")[0])) / float(group.get("data-mm"))


@pytest.mark.parametrize("narrow", [False, True])
def test_every_length_is_drawn_as_a_length(narrow: bool) -> None:
    rig = long_rig()
    root = parsed(section_svg(rig, options=SectionOptions(narrow=narrow)))
    scale = scale_of(root)
    drawn = bodies(root)
    assert [length for _, _, length, _ in drawn] == [nominal(p.length) for p in rig.train.places[1:]]
    for x, width, length, _ in drawn:
        assert width / scale == pytest.approx(length, abs=DRAWN_PX)
        shoulder = (drawn[-1][0] + drawn[-1][1] - x) / scale
        assert shoulder == pytest.approx(
            sum(b[2] for b in drawn[drawn.index((x, width, length, "yes")) :]), abs=0.05
        )


def test_the_scale_across_the_axis_is_the_scale_along_it() -> None:
    root = parsed(section_svg(long_rig()))
    sensor = next(e for e in root.iter() if e.get("data-part") == "sensor")
    # 6000 x 4000 pixels of 4 um are 24 x 16 mm: a diagonal of 28.844 mm (Pythagoras).
    assert float(sensor.get("height")) / scale_of(root) == pytest.approx(28.844, abs=0.01)


def test_the_tube_is_drawn_at_the_scale_its_own_bar_shows() -> None:
    root = parsed(section_svg(long_rig()))
    bar = with_class(root, "dw-scale")[0]
    pairs = bar.find(f"{NS}polyline").get("points").split()
    scale = (float(pairs[2].split(",")[0]) - float(pairs[1].split(",")[0])) / float(bar.get("data-mm"))
    tube = with_class(root, "dw-tube")[0]
    assert float(tube.get("width")) / scale == pytest.approx(450.0, abs=0.1)
    assert float(tube.get("height")) / scale == pytest.approx(115.0, abs=0.1)
    assert "times as large" in "".join(root.itertext())


@pytest.mark.parametrize("narrow", [False, True])
def test_every_place_is_drawn_numbered_named_and_linked(narrow: bool) -> None:
    rig = long_rig()
    root = parsed(section_svg(rig, options=SectionOptions(narrow=narrow)))
    drawn = {e.get("data-place"): e.find(f"{NS}title").text for e in with_class(root, "dw-part")}
    assert set(drawn) == {str(p.key) for p in rig.train.places}
    links = {e.get("href"): e for e in root.iter(f"{NS}a")}
    for number, one in enumerate(rig.train.places, start=1):
        assert drawn[str(one.key)].startswith(f"{number}. {one.name}")
        assert links[f"#place-{one.key}"].get("aria-label") == f"{number}: {one.name}"
    desc = next(root.iter(f"{NS}desc")).text
    order = [desc.index(f" {n}. ") for n in range(1, len(rig.train) + 1)]
    assert order == sorted(order)
    assert "camera-side shoulder 17.5 mm from the sensor" in desc


def test_the_picture_is_an_image_with_a_name_and_holds_no_link() -> None:
    root = parsed(section_svg(long_rig()))
    image = next(e for e in root.iter() if e.get("role") == "img")
    ids = {e.get("id") for e in root.iter()}
    assert {image.get("aria-labelledby"), image.get("aria-describedby")} <= ids
    # A picture's children are not offered to the keyboard (WAI-ARIA 1.2, "children presentational" of img).
    assert not list(image.iter(f"{NS}a"))


def label_boxes(root: Any) -> list[tuple[str, float, float, float, float]]:
    """Boxes of all words and numbers by a metric of our own: 0.6 em a character, 0.75 em high."""
    found = []
    for e in root.iter(f"{NS}text"):
        text, x, y = e.text or "", float(e.get("x")), float(e.get("y"))
        width = 13.0 * 0.6 * len(text)
        start = {"middle": -width / 2, "end": -width}.get(e.get("text-anchor") or "", 0.0)
        low, high, top, bottom = start, start + width, -9.75, 2.6
        if e.get("transform"):
            cx, cy = (float(v) for v in re.findall(r"[-\d.]+", e.get("transform"))[1:])
            assert [cx, cy] == pytest.approx([x, y], abs=DRAWN_PX)
            found.append((text, x + top, x + bottom, y - high, y - low))
        else:
            found.append((text, x + low, x + high, y + top, y + bottom))
    return found


@pytest.mark.parametrize("narrow", [False, True])
@pytest.mark.parametrize("case", ["long", "short", "unknown", "empty", "tube only"])
def test_no_label_covers_another_or_leaves_the_drawing(case: str, narrow: bool) -> None:
    rig = {
        "long": long_rig(),
        "short": rig_of(TUBE, CORRECTOR, CAMERA),
        "unknown": rig_of(TUBE, CORRECTOR, ring(None), Adapter(model="odd"), ring(1), CAMERA),
        "empty": Rig("none"),
        "tube only": rig_of(TUBE),
    }[case]
    root = parsed(section_svg(rig, options=SectionOptions(narrow=narrow, spacing=SpacingMark(55.6, 55.1))))
    boxes = label_boxes(root)
    assert boxes
    for a, b in combinations(boxes, 2):
        apart = a[2] <= b[1] or b[2] <= a[1] or a[4] <= b[3] or b[4] <= a[3]
        assert apart, f"{a} meets {b}"
    width, height = (float(v) for v in root.get("viewBox").split()[2:])
    for _, left, right, top, bottom in boxes:
        assert min(left, top) >= 0
        assert right <= width
        assert bottom <= height


@pytest.mark.parametrize("narrow", [False, True])
def test_a_part_of_unknown_length_is_dashed_and_what_follows_keeps_its_place(narrow: bool) -> None:
    rig = rig_of(TUBE, CORRECTOR, ring(None, "mystery"), ring(5), CAMERA)
    root = parsed(section_svg(rig, options=SectionOptions(narrow=narrow)))
    drawn = bodies(root)
    assert [known for *_, known in drawn] == ["yes", "no", "yes", "yes"]
    scale = scale_of(root)
    assert (drawn[-1][0] + drawn[-1][1] - drawn[2][0]) / scale == pytest.approx(22.5, abs=DRAWN_PX)
    part = next(e for e in with_class(root, "dw-part") if e.get("data-place") == "3")
    assert "length not known yet" in part.find(f"{NS}title").text
    assert with_class(part, "dw-outline-unknown")
    assert "length not known yet" in [e.text for e in root.iter(f"{NS}text")]
    ruler = [e.text for e in with_class(root, "dw-figure")]
    assert ruler == ["22.5 mm", "17.5 mm", "sensor"]
    assert with_class(root, "dw-ruler-unknown")


def test_the_cone_has_the_focal_ratio_and_reaches_the_corner() -> None:
    root = parsed(section_svg(rig_of(TUBE, CORRECTOR, ring(37.5), CAMERA)))
    scale = scale_of(root)

    def beam(name: str) -> list[tuple[float, float]]:
        points = with_class(root, name)[0].get("points").split()
        return [(float(x), float(y)) for x, y in (p.split(",") for p in points)]

    upper, tip, lower = beam("dw-edge-axis")
    # f/5: the beam is a fifth of its distance from the focus wide.
    assert (lower[1] - upper[1]) / (tip[0] - upper[0]) == pytest.approx(1 / 5, abs=0.001)
    _, corner, _ = beam("dw-edge-corner")
    # Half of the 28.844 mm diagonal off the axis.
    assert (tip[1] - corner[1]) / scale == pytest.approx(14.422, abs=0.01)


def test_a_near_exit_pupil_brings_the_corner_beam_towards_the_axis() -> None:
    near = TUBE.model_copy(update={"exit_pupil_mm": mm(600.0)})
    root = parsed(section_svg(rig_of(near, ring(37.5), CAMERA)))
    points = with_class(root, "dw-edge-corner")[0].get("points").split()
    (far_x, y_up), (tip_x, tip_y), (_, y_low) = [tuple(map(float, p.split(","))) for p in points]
    axis = float(with_class(root, "dw-axis")[0].get("y1"))
    # A chief ray is a straight line from the pupil's centre: it falls to nothing 600 mm before the sensor.
    share = (axis - (y_up + y_low) / 2) / (axis - tip_y)
    assert share == pytest.approx(1 - (tip_x - far_x) / scale_of(root) / 600.0, abs=0.002)


def test_without_a_focal_ratio_no_light_is_drawn_and_the_words_say_so() -> None:
    root = parsed(section_svg(rig_of(CORRECTOR, ring(37.5), CAMERA)))
    assert not with_class(root, "dw-edge-axis")
    assert "No light is drawn" in next(root.iter(f"{NS}desc")).text


def test_the_bracket_is_as_long_as_the_asked_back_focus_from_the_reference_shoulder() -> None:
    set_back = CORRECTOR.model_copy(update={"reference_mm": mm(3.0)})
    rig = rig_of(TUBE, set_back, ring(37.5), CAMERA)
    root = parsed(section_svg(rig, options=SectionOptions(spacing=SpacingMark(55.0, 58.0))))
    group = with_class(root, "dw-spacing")[0]
    pairs = with_class(group, "dw-bracket")[0].get("points").split()
    start, end = (float(pairs[i].split(",")[0]) for i in (1, 2))
    scale = scale_of(root)
    assert (end - start) / scale == pytest.approx(55.0, abs=DRAWN_PX)
    shoulder = bodies(root)[0][0] + bodies(root)[0][1]
    assert (shoulder - start) / scale == pytest.approx(3.0, abs=DRAWN_PX)
    assert "3 mm too far behind" in "".join(group.itertext())


def test_a_joint_that_does_not_mate_has_a_shape_and_a_word() -> None:
    root = parsed(section_svg(rig_of(TUBE, CORRECTOR, ring(5, gender="male"), CAMERA)))
    assert [e.text for e in with_class(root, "dw-word-stop")] == ["wrong gender"]
    assert with_class(root, "dw-sign-stop")
    assert len(with_class(root, "dw-joint-stop")) == 1
    sound = parsed(section_svg(rig_of(TUBE, CORRECTOR, ring(37.5), CAMERA)))
    assert not with_class(sound, "dw-joint")


def test_hostile_names_stay_words() -> None:
    evil = '"><script>alert(1)</script><a href=\'x\' onload="y">&\x00\x1b'
    rig = rig_of(TUBE, ring(5, evil), CAMERA, name=evil)
    html = section_figure(rig, options=SectionOptions(write_length=lambda v: f"{v:.1f} <b>mm</b>"))
    for svg in re.findall(r"<svg.*?</svg>", html):
        root = parsed(svg)
        assert not list(root.iter(f"{NS}script"))
        assert not list(root.iter(f"{NS}b"))
        assert not any(name.startswith("on") or name == "style" for e in root.iter() for name in e.attrib)
        assert "<script>alert(1)</script>" in "".join(root.itertext())
    ids = re.findall(r' id="([^"]+)"', html)
    assert len(ids) == len(set(ids))


def test_lengths_are_written_by_the_readers_own_writer() -> None:
    root = parsed(
        section_svg(long_rig(), options=SectionOptions(write_length=lambda v: f"{v / 25.4:.3f} in"))
    )
    figures = [e.text for e in with_class(root, "dw-figure")]
    # 17.5 mm is 0.689 in (1 in = 25.4 mm exactly, international inch of 1959).
    assert "0.689 in" in figures
    assert " mm" not in "".join(root.itertext())


def test_an_empty_train_gets_a_drawing_that_teaches() -> None:
    root = parsed(section_svg(Rig("new")))
    words = " ".join(root.itertext())
    for word in ("Optical tube", "Corrector", "Camera", "back focus", "sky"):
        assert word in words
    assert with_class(root, "dw-ghost")


def test_the_highlighted_place_stands_out_alone() -> None:
    root = parsed(section_svg(long_rig(), options=SectionOptions(highlight=6)))
    assert [e.get("data-place") for e in with_class(root, "dw-part") if "is-highlight" in e.get("class")] == [
        "6"
    ]
