"""A sensor by its size and its pixel."""

from __future__ import annotations

import pytest

from server.rim.sensor_size import count_offered, size_instead


@pytest.mark.parametrize(
    ("typed", "pixel", "count"),
    [
        # 23.5 mm / 0.00376 mm = 6250; 1 in is 25.4 mm, / 0.005 mm = 5080.
        ("23.5 mm", "3.76 um", "6250"),
        ("1 in", "5 um", "5080"),
        ("6248", "3.76 um", ""),
        ("23.5 mm", "", ""),
        ("23.5 mm", "0 um", ""),
        ("5 kg", "3.76 um", ""),
        ("0.000001 mm", "90 um", ""),
        ("23.5 mm", "0.0000001 um", ""),
        ("23.5 mm", "1e-320 um", ""),
    ],
)
def test_a_size_is_turned_into_pixels_and_nothing_else_is(typed: str, pixel: str, count: str) -> None:
    assert count_offered("width_px", typed, pixel)[0] == count


def test_what_is_missing_is_named() -> None:
    assert "pixel size" in size_instead("width_px", "23.5 mm", "")
    assert "makes 6250" in size_instead("width_px", "23.5 mm", "3.76")
    assert size_instead("width_px", "0.001 mm", "3.76").startswith("No sensor has so many pixels, or so few")
    assert size_instead("bits", "23.5 mm", "3.76") == ""
    assert size_instead("width_px", "6248", "3.76") == ""
