"""The light map, the tolerance bar and the limiting opening in the section: true to their figures."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import pytest
from shapely.geometry import Point

from server.domain.checks.tolerances import band_of
from server.domain.workings.case import Case
from server.domain.workings.lit import light_of
from server.web.drawing import light_map_svg, light_words, section_svg, tolerance_bar_svg
from server.web.drawing.light_map import BANDS, band_of_light
from server.web.picture import options_for
from tests.domain.rigs import camera, corrector, guider, mm, rig, ring, tube
from tests.web.drawing.test_section import label_boxes, parsed, scale_of, with_class

STATIC = Path(__file__).resolve().parents[3] / "static"
SVG = "{http://www.w3.org/2000/svg}"
WIDE = 200.0


def narrow(clear=36.0):
    return (
        tube(focal_length_mm=600.0, aperture_mm=120.0, drawtube_bore_mm=WIDE),
        ring(7.5, clear_aperture_mm=clear, aperture_at_mm=0.0, model="Tight"),
        camera(flange_mm=10.0, clear_aperture_mm=WIDE),
    )


def lit(*parts):
    found = light_of(Case(rig(*parts)))
    assert found is not None
    return found


def number(element, name):
    """One attribute of a shape as a number."""
    return float(element.get(name, "nan"))


def cells(svg):
    """Band, x, y, width and height of each cell of the map; the legend's swatches lie below."""
    root = ET.fromstring(svg)
    frame = next(r for r in root.iter(f"{SVG}rect") if r.get("class") == "dw-light-frame")
    foot = number(frame, "y") + number(frame, "height")
    found = [
        (int(r.get("class", "")[-1]), *(number(r, a) for a in ("x", "y", "width", "height")))
        for r in root.iter(f"{SVG}rect")
        if r.get("class", "").startswith("dw-band-") and number(r, "y") < foot
    ]
    return frame, found


def test_the_cells_cover_the_sensors_rectangle_once_and_in_true_proportion():
    frame, found = cells(light_map_svg(lit(*narrow())))
    width, height = float(frame.get("width")), float(frame.get("height"))
    assert width / height == pytest.approx(1.5, abs=1e-4)
    assert sum(w * h for _, _, _, w, h in found) == pytest.approx(width * height, rel=1e-3)


def test_the_corners_are_darker_than_the_middle_and_all_four_alike():
    frame, found = cells(light_map_svg(lit(*narrow())))
    left, top = float(frame.get("x")), float(frame.get("y"))
    right, bottom = left + float(frame.get("width")), top + float(frame.get("height"))

    def at(x, y):
        return next(b for b, cx, cy, w, h in found if cx <= x <= cx + w and cy <= y <= cy + h)

    corners = [at(x, y) for x in (left + 1, right - 1) for y in (top + 1, bottom - 1)]
    assert len(set(corners)) == 1
    assert corners[0] > at((left + right) / 2, (top + bottom) / 2) == 0


def test_a_prism_darkens_the_top_and_not_the_bottom():
    parts = (
        tube(focal_length_mm=600.0, aperture_mm=120.0, drawtube_bore_mm=WIDE),
        guider(clear_aperture_mm=WIDE, reach_from_mm=2.0, reach_to_mm=6.0),
        ring(20.0, clear_aperture_mm=WIDE),
        camera(flange_mm=10.0, clear_aperture_mm=WIDE),
    )
    svg = light_map_svg(lit(*parts))
    frame, found = cells(svg)
    middle = float(frame.get("y")) + float(frame.get("height")) / 2
    dark = [c for c in found if c[0] > 0]
    assert dark
    assert all(c[2] < middle for c in dark)
    assert "dw-light-prism" in svg


def test_the_words_say_what_the_picture_shows():
    found = lit(*narrow())
    svg = light_map_svg(found)
    said = ET.fromstring(svg).find(f"{SVG}desc")
    assert said is not None
    corner = found.quarter.light[found.quarter.points["corner"]]
    assert f"Light at the corners: {100 * corner:.0f} %, limited by Brask Tight." in (said.text or "")
    assert "Light at the centre: 100 %." in (said.text or "")


def test_bands_are_told_apart_at_their_borders():
    assert [band_of_light(least) for least in BANDS] == [0, 1, 2, 3, 4]
    assert band_of_light(0.0) == 5


def test_nothing_known_is_said_and_drawn_as_a_ghost():
    assert "is not known yet" in light_map_svg(None)
    assert "no corrector asks for a place" in tolerance_bar_svg(None)


def test_the_bar_puts_window_spread_and_nominal_train_on_one_scale():
    parts = (tube(), corrector(), ring(mm(37.7, 0.2)), camera())
    band = band_of(Case(rig(*parts)))
    assert band is not None
    root = ET.fromstring(tolerance_bar_svg(band))
    rects = {r.get("class"): r for r in root.iter(f"{SVG}rect")}
    window = rects["dw-window"]
    per_mm = number(window, "width") / 1.0  # From 0.5 mm too close to 0.5 mm too far.
    zero = number(window, "x") + per_mm * 0.5
    nominal = next(line for line in root.iter(f"{SVG}line") if line.get("class") == "dw-nominal")
    assert (number(nominal, "x1") - zero) / per_mm == pytest.approx(0.2, abs=1e-3)
    spread = rects["dw-spread"]
    # Uniform over +-0.2 mm: 95 % of the trains lie within +-0.19 mm.
    assert number(spread, "width") / per_mm == pytest.approx(0.38, abs=0.02)


def test_the_ray_that_just_passes_the_opening_runs_to_the_corner():
    # 40 mm wide, 17.5 mm before the sensor, corner 21.633 mm: on the lip 20 mm high, and from there to the
    # corner 21.633 - 20 = 1.633 mm in 17.5 mm (worked by hand).
    cut = rig(*narrow(40.0))
    svg = section_svg(cut, options=options_for(cut, "metric"))
    shadow = next(p for p in ET.fromstring(svg).iter(f"{SVG}polygon") if p.get("class") == "dw-light-shadow")
    points = [tuple(map(float, pair.split(","))) for pair in shadow.get("points", "").split()]
    (_, _), (tip_x, tip_y), (lip_x, lip_y) = points
    assert abs(tip_y - lip_y) / abs(tip_x - lip_x) == pytest.approx(1.633 / 17.5, rel=0.02)


def test_a_spread_that_leaves_the_window_looks_and_reads_otherwise():
    band = band_of(Case(rig(tube(), corrector(), ring(mm(37.9, 0.4)), camera())))
    svg = tolerance_bar_svg(band)
    assert "dw-spread-out" in svg


def test_the_section_marks_the_opening_that_cuts_the_corners_cone():
    cut, whole = rig(*narrow()), rig(*narrow(60.0))
    svg = section_svg(cut, options=options_for(cut, "metric"))
    assert svg.count('class="dw-limit"') == 2
    # The light that falls on the lip, and the shadow behind it, above the axis and below.
    shapes = [p.get("class") for p in ET.fromstring(svg).iter(f"{SVG}polygon")]
    assert shapes.count("dw-light-lost") == shapes.count("dw-light-shadow") == 2
    assert "dw-light-lost" not in section_svg(whole, options=options_for(whole, "metric"))
    assert "dw-limit" not in section_svg(whole, options=options_for(whole, "metric"))


def test_every_class_of_these_pictures_is_painted_from_the_themes_colours():
    css = "".join(
        (STATIC / "css" / "drawing" / name).read_text("utf-8") for name in ("light.css", "drawing.css")
    )
    used = set()
    for name in ("light_map.py", "tolerance_bar.py"):
        source = Path(light_map_svg.__code__.co_filename).with_name(name).read_text("utf-8")
        used |= set(re.findall(r'"(dw-(?:light|window|worst|spread|nominal)[a-z-]*)"', source))
    painted = set(re.findall(r"\.(dw-[a-z0-9-]+)", css))
    assert used - {"dw-lightmap"} <= painted
    assert {f"dw-band-{n}" for n in range(len(BANDS) + 1)} <= painted
    own = (STATIC / "css/drawing/light.css").read_text("utf-8")
    for colour in re.findall(r"(?:fill|stroke): ([^;]+);", own.split("@media print")[0]):
        assert colour.startswith("var(--") or colour == "none", colour


def narrow_train():
    return narrow(40.0)


def guided(reach_to=9.0):
    return (
        tube(focal_length_mm=600.0, aperture_mm=120.0, drawtube_bore_mm=WIDE),
        guider(clear_aperture_mm=WIDE, reach_from_mm=2.0, reach_to_mm=reach_to),
        ring(20.0, clear_aperture_mm=WIDE),
        camera(flange_mm=10.0, clear_aperture_mm=WIDE),
    )


def toleranced(offset=0.2):
    return (tube(), corrector(), ring(mm(37.5 + offset, 0.2)), camera())


def drawn(parts, *, narrow=False):
    """The section of these parts with all that the page knows of them."""
    chosen = rig(*parts)
    return parsed(section_svg(chosen, options=replace(options_for(chosen, "metric"), narrow=narrow)))


def pairs(element):
    return [tuple(map(float, pair.split(","))) for pair in element.get("points", "").split()]


def test_with_a_prism_the_upper_half_shows_the_beam_to_the_middle_of_its_side():
    root = drawn(guided())
    scale, axis = scale_of(root), number(with_class(root, "dw-axis")[0], "y1")
    beams = [pairs(e) for e in with_class(root, "dw-edge-corner") if e.get("points")]
    (_, (_, above), _), (_, (_, below), _) = beams
    # 36 x 24 mm: 12 mm from the axis to the middle of the long side, 21.633 mm to the corner (Pythagoras).
    assert (axis - above) / scale == pytest.approx(12.0, abs=0.01)
    assert (below - axis) / scale == pytest.approx(21.633, abs=0.01)


def test_the_prisms_shadow_begins_at_its_edge_and_that_is_where_the_prism_is_drawn():
    root = drawn(guided(9.0))
    scale, axis = scale_of(root), number(with_class(root, "dw-axis")[0], "y1")
    (shadow,) = with_class(root, "dw-light-shadow")
    _, _, (_, lip) = pairs(shadow)
    assert (axis - lip) / scale == pytest.approx(9.0, abs=0.01)
    prism = next(e for e in with_class(root, "dw-glass") if e.tag.endswith("polygon"))
    assert (axis - max(y for _, y in pairs(prism))) / scale == pytest.approx(9.0, abs=0.01)


def test_a_prism_that_stands_clear_takes_nothing():
    root = drawn(guided(40.0))
    assert not with_class(root, "dw-light-lost")
    assert not with_class(root, "is-limit")


@pytest.mark.parametrize("narrow", [False, True])
def test_the_part_that_limits_is_outlined_named_and_its_loss_said(narrow):
    root = drawn(narrow_train(), narrow=narrow)
    # An independent program: the beam 3.5 mm wide (17.5 mm at f/5) whose middle runs 21.633 (1 - 17.5/600) =
    # 21.002 mm off the axis, and the opening 40 mm wide (shapely).
    beam = Point(21.002, 0.0).buffer(1.75, quad_segs=400)
    lost = 1.0 - beam.intersection(Point(0.0, 0.0).buffer(20.0, quad_segs=4000)).area / beam.area
    part = next(e for e in with_class(root, "dw-part") if "is-limit" in e.get("class", ""))
    title = part.find(f"{SVG}title").text
    assert title.startswith("2. Brask Tight")
    assert f"the corners lose {100 * lost:.0f} %, most of it here" in title
    said = next(root.iter(f"{SVG}desc")).text
    assert f"does not arrive: {100 * lost:.0f} % of the corner's light, mostly at 2" in said
    legend = " ".join(e.text or "" for e in root.iter(f"{SVG}text"))
    assert f"does not arrive: {100 * lost:.0f} % of the corner's" in legend


@pytest.mark.parametrize("narrow", [False, True])
def test_the_window_at_the_sensor_is_true_to_scale_and_enlarged_as_often_as_is_said(narrow):
    root = drawn(toleranced(), narrow=narrow)
    scale = scale_of(root)
    # A corrector's window is 0.5 mm to either side (the maker's, in this train).
    true = with_class(root, "dw-window-true")[0]
    assert number(true, "width") / scale == pytest.approx(1.0, abs=0.01)
    inset = with_class(root, "dw-inset")[0]
    times = number(inset, "data-times")
    assert f"{times:.0f} × as large" in "".join(inset.itertext())
    window = with_class(inset, "dw-window")[0]
    per_mm = number(window, "width") / 1.0
    assert per_mm == pytest.approx(scale * times, rel=1e-3)
    zero = number(window, "x") + number(window, "width") / 2.0
    nominal = with_class(inset, "dw-nominal")[0]
    assert (number(nominal, "x1") - zero) / per_mm == pytest.approx(0.2, abs=0.01)
    bar = pairs(with_class(inset, "dw-scale-bar")[0])
    length = (bar[2][0] - bar[1][0]) / per_mm
    assert f"{length:.2f} mm" in "".join(inset.itertext())
    assert "19 of 20 trains" in next(root.iter(f"{SVG}desc")).text


def test_a_train_too_far_off_for_an_enlarged_piece_goes_without():
    root = drawn(toleranced(60.0))
    assert not with_class(root, "dw-inset")


@pytest.mark.parametrize("narrow", [False, True])
@pytest.mark.parametrize("case", ["cut", "prism", "tolerances", "far off"])
def test_legend_and_enlarged_piece_cover_no_other_words(case, narrow):
    parts = {
        "cut": narrow_train(),
        "prism": guided(),
        "tolerances": toleranced(),
        "far off": toleranced(4.0),
    }[case]
    root = drawn(parts, narrow=narrow)
    boxes = label_boxes(root)
    for a, b in combinations(boxes, 2):
        assert a[2] <= b[1] or b[2] <= a[1] or a[4] <= b[3] or b[4] <= a[3], f"{a} meets {b}"
    width, height = (float(v) for v in root.get("viewBox", "").split()[2:])
    for text, left, right, top, bottom in boxes:
        assert left >= 0 <= top, text
        assert right <= width, text
        assert bottom <= height, text


def test_the_map_shows_the_figures_that_its_words_say():
    found = lit(*guided())
    root = ET.fromstring(light_map_svg(found))
    shown = [e.text or "" for e in root.iter(f"{SVG}text") if "dw-light-figure" in (e.get("class") or "")]
    words = " ".join(light_words(found))
    assert len(shown) == 4
    assert sorted(shown) == sorted(re.findall(r"Light at the [a-z ]+: (\d+ %)", words))


def test_bands_are_parted_by_a_line_and_an_even_map_has_none():
    assert "dw-light-border" in light_map_svg(lit(*narrow()))
    assert "dw-light-border" not in light_map_svg(lit(*narrow(60.0)))


def test_all_that_a_section_draws_is_painted_where_no_light_map_stands():
    # A saved entry's page and file have the section without the bench's own style sheets.
    css = (STATIC / "css/drawing/drawing.css").read_text("utf-8")
    painted = set(re.findall(r"\.(dw-[a-z0-9-]+)", css))
    for parts in (narrow_train(), guided(), toleranced(), toleranced(0.4)):
        used = {name for e in drawn(parts).iter() for name in (e.get("class") or "").split()}
        shapes = {n for n in used if n.startswith("dw-") and not n.startswith("dw-kind")}
        assert shapes - painted <= {"dw-part", "dw-strip", "dw-scale", "dw-spacing", "dw-inset", "dw-pattern"}
