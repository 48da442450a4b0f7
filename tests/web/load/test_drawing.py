"""The balance picture: one scale for tube, saddle, polar axis, bar and weights; numbers apart."""

from __future__ import annotations

from dataclasses import replace

import pytest
from bs4 import BeautifulSoup

from server.domain.load.sheet import BalanceSheet, BarAnswer, Body, WeightAt
from server.web.load.drawing import SideView, balance_svg

VIEW = SideView(tube_mm=300.0, radius_mm=45.0, above_mm=65.0, saddle_mm=130.0)
BAR = BarAnswer(weights=(WeightAt(1, "Iron", 3.5, 223.0, 52.0),), bar_start_mm=85.0, bar_end_mm=385.0)
SHEET = BalanceSheet(
    bodies=(
        Body("Tube", 2.1, 115.0, 65.0, 300.0, "typed"),
        Body("Camera", 0.6, 394.0, 65.0, 0.0, "assumed"),
        Body("Rings", 0.6, 190.0, 45.0, 0.0, "typed"),
        Body("Box", 0.4, 190.0, 140.0, 0.0, "typed"),
    ),
    centre_mm=217.0,
    clamp_mm=220.0,
    bar=BAR,
)
WITHIN_PX = 0.2


def drawn(sheet=SHEET, view=VIEW):
    return BeautifulSoup(balance_svg(sheet, view, "{:.0f} mm".format, "{:.2f} kg".format), "html.parser")


def boxes(picture, name):
    return [
        {key: float(one[key]) for key in ("x", "y", "width", "height")} for one in picture.select(f".{name}")
    ]


def test_the_tube_the_bar_and_the_weight_are_to_one_scale():
    rod, tube = boxes(drawn(), "dw-body-1")
    scale = tube["width"] / 300.0
    assert tube["height"] == pytest.approx(90.0 * scale, abs=WITHIN_PX)
    # The bar reaches from 85 to 385 mm below the polar axis, which lies 130 mm below the saddle; the tube's
    # lower edge is 20 mm above it.
    assert rod["height"] == pytest.approx(300.0 * scale, abs=WITHIN_PX)
    assert rod["y"] - (tube["y"] + tube["height"]) == pytest.approx((20 + 130 + 85) * scale, abs=WITHIN_PX)
    weight = boxes(drawn(), "dw-body-2")[0]
    assert weight["height"] == pytest.approx(52.0 * scale, abs=WITHIN_PX)
    assert weight["y"] + weight["height"] / 2.0 - rod["y"] == pytest.approx((223 - 85) * scale, abs=WITHIN_PX)
    # And it stands under the middle of the clamp.
    assert weight["x"] + weight["width"] / 2.0 - tube["x"] == pytest.approx(220.0 * scale, abs=WITHIN_PX)


def test_every_mass_stands_at_its_height_and_those_of_one_place_share_a_text():
    picture = drawn()
    (_, tube) = boxes(picture, "dw-body-1")
    scale, axis = tube["width"] / 300.0, tube["y"] + tube["height"] / 2.0
    places = {(float(c["cx"]), float(c["cy"])) for c in picture.select(".dw-mass")}
    box = (tube["x"] + 190.0 * scale, axis - 75.0 * scale)
    assert any(abs(x - box[0]) < WITHIN_PX and abs(y - box[1]) < WITHIN_PX for x, y in places)
    numbers = {one.get_text(): float(one["y"]) for one in picture.select(".dw-bubble-text")}
    assert set(numbers) == {"1", "2", "3, 4"}
    highest = min(float(c["cy"]) - float(c["r"]) for c in picture.select(".dw-mass"))
    assert max(numbers.values()) < highest


def test_without_a_weight_the_bar_is_drawn_all_the_same_and_without_a_saddle_nothing_of_the_mount():
    bare = drawn(replace(SHEET, bar=replace(BAR, weights=())))
    assert len(boxes(bare, "dw-body-1")) == 2
    unknown = drawn(view=replace(VIEW, saddle_mm=None))
    assert len(boxes(unknown, "dw-body-1")) == 1
    assert "polar axis" not in [one.get_text() for one in unknown.select("text")]
    assert balance_svg(BalanceSheet(), VIEW, str, str) == ""
