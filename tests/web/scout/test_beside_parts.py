"""What the page says of what every rig carries for guiding and filters."""

from __future__ import annotations

import csv
import io

import pytest

from tests.web.club import page_of, words_of
from tests.web.scout.conftest import Member

pytestmark = pytest.mark.file_alone(reason="drawn of what others read from both databases")


def test_a_guider_and_a_wheel_of_the_catalogue_are_counted_with_each_and_said(member: Member):
    page = member.get(asked="1", catalogue="1", guiding="off_axis_guider", filters="yes")
    assert page.status_code == 200
    said = words_of(page)
    for kind in ("off_axis_guider", "filter_wheel"):
        names = member.numbers(kind)
        assert any(f"{name} is counted with each (" in said for name in names), kind
    assert page_of(page).select_one("#need-guiding option[selected]")["value"] == "off_axis_guider"
    assert page_of(page).select_one("#need-filters option[selected]")["value"] == "yes"
    keys = [str(one["value"]) for one in page_of(page).select("table.scout-table tbody input[name=c]")]
    assert keys
    assert all(key.count("-") == 5 for key in keys)


def test_the_room_before_the_camera_is_in_the_csv_with_the_corner_in_pixels_and_the_power(member: Member):
    answer = member.get("/scout/all.csv", asked="1", catalogue="1")
    (line, *_) = csv.DictReader(io.StringIO(answer.text))
    assert {"room before the camera, mm", "star in the corner, px", "power, W"} <= set(line)


def test_what_is_not_on_the_shelf_is_said_not_to_be_known_with_what_is_usual(member: Member):
    shelf = member.numbers("off_axis_guider", "shelf")
    page = member.get(asked="1", guiding="off_axis_guider")
    missing = "Not known yet: no off-axis guider on your shelf" in words_of(page)
    assert missing == (not shelf)


def test_a_rig_with_its_guider_and_wheel_is_one_press_from_the_bench(member: Member):
    page = member.get(asked="1", catalogue="1", guiding="off_axis_guider", filters="yes")
    key = str(page_of(page).select_one("table.scout-table tbody input[name=c]")["value"])
    bench = member.post("/scout/take", c=key)
    assert bench.status_code == 200
    said = words_of(bench)
    for kind in ("off_axis_guider", "filter_wheel"):
        numbers = member.numbers(kind)
        (name,) = [one for one, number in numbers.items() if str(number) in key.split("-")[4:]]
        assert name in said
