"""The light map, the tolerance bar and the limiting opening in the section: true to their figures."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from server.domain.checks.case import Case
from server.domain.checks.light import light_of
from server.domain.checks.tolerances import band_of
from server.web.drawing import light_map_svg, section_svg, tolerance_bar_svg
from server.web.drawing.light_map import BANDS, band_of_light
from server.web.picture import options_for
from tests.domain.rigs import camera, corrector, guider, mm, rig, ring, tube

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
    assert f"Light at the corners: {corner:.0%}, limited by Brask Tight." in (said.text or "")
    assert "Light at the centre: 100%." in (said.text or "")


def test_bands_are_told_apart_at_their_borders():
    assert [band_of_light(least) for least in BANDS] == [0, 1, 2, 3, 4]
    assert band_of_light(0.0) == 5


def test_nothing_known_is_said_and_drawn_as_a_ghost():
    assert "is not known yet" in light_map_svg(None)
    assert "No tolerances are entered" in tolerance_bar_svg(None)


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
    assert svg.count('"dw-light-lost"') == svg.count('"dw-light-shadow"') == 2
    assert "dw-light-lost" not in section_svg(whole, options=options_for(whole, "metric"))
    assert "dw-limit" not in section_svg(whole, options=options_for(whole, "metric"))


def test_every_class_of_these_pictures_is_painted_from_the_themes_colours():
    css = (STATIC / "css/drawing_light.css").read_text("utf-8")
    used = set()
    for name in ("light_map.py", "tolerance_bar.py"):
        source = Path(light_map_svg.__code__.co_filename).with_name(name).read_text("utf-8")
        used |= set(re.findall(r'"(dw-(?:light|window|worst|spread|nominal)[a-z-]*)"', source))
    painted = set(re.findall(r"\.(dw-[a-z0-9-]+)", css))
    assert used - {"dw-lightmap"} <= painted
    assert {f"dw-band-{n}" for n in range(len(BANDS) + 1)} <= painted
    for colour in re.findall(r"(?:fill|stroke): ([^;]+);", css.split("@media print")[0]):
        assert colour.startswith("var(--") or colour == "none", colour
