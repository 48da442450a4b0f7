"""A part in one line, and the cautions it is never shown without (common practice, no source)."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings

from server.domain.parts import KINDS, Part
from server.rim.cautions import cautions_of, cautions_of_kind
from server.rim.forms import read_part
from server.rim.gist import write_gist
from tests.rim.strategies import parts


@pytest.mark.parametrize(
    ("kind", "texts", "metric", "imperial"),
    [
        (
            "optical_tube",
            {"design": "newtonian", "aperture_mm": "200", "focal_length_mm": "800"},
            "Newtonian, 200 mm aperture, 800 mm focal length, f/4",
            "Newtonian, 7.874 in aperture, 31.5 in focal length, f/4",
        ),
        (
            "camera",
            {"colour": "mono", "pixel_um": "3.76", "width_px": "6248", "height_px": "4176"},
            "mono, 3.76 µm pixels, 6248 × 4176 px",
            "mono, 3.76 µm pixels, 6248 × 4176 px",
        ),
        ("filter", {"format": "other"}, "", ""),
        (
            "mount",
            {"mount_type": "strain-wave", "rated_kg": "13"},
            "strain-wave, rated 13 kg",
            "strain-wave, rated 28.7 lb",
        ),
        ("shim", {}, "", ""),
    ],
)
def test_a_part_is_told_in_one_line(kind: str, texts: dict[str, str], metric: str, imperial: str) -> None:
    part = read_part(kind, {"model": "X", **texts})
    assert write_gist(part, "metric") == metric
    assert write_gist(part, "imperial") == imperial


@settings(
    max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much]
)
@given(parts)
def test_every_part_has_a_line_and_its_cautions(part: Part) -> None:
    assert "\n" not in write_gist(part, "imperial")
    assert all(one.sentence for one in cautions_of(part))


@pytest.mark.parametrize(
    ("kind", "texts", "topics"),
    [
        ("filter", {"solar": "yes"}, ["sun"]),
        ("filter", {"solar": "no"}, []),
        ("filter", {}, []),
        ("counterweight", {"mass_kg": "5"}, ["counterweights"]),
        ("counterweight", {"mass_kg": "10"}, ["counterweights", "lifting"]),
        ("mount", {"rated_with": "without"}, []),
        ("mount", {}, ["counterweights"]),
        ("power_source", {"chemistry": "lead_acid"}, ["power"]),
        ("power_source", {}, ["power", "power"]),
        ("optical_tube", {"mass_kg": "8", "mass_with_rings_kg": "9.2"}, ["lifting"]),
        ("optical_tube", {"mass_kg": "9"}, []),
    ],
)
def test_what_can_hurt_someone_is_said_of_the_part(
    kind: str, texts: dict[str, str], topics: list[str]
) -> None:
    assert [one.topic for one in cautions_of(read_part(kind, {"model": "X", **texts}))] == topics


def test_the_forms_of_dangerous_kinds_carry_their_caution_from_the_start() -> None:
    with_caution = {kind for kind in KINDS if cautions_of_kind(kind)}
    assert with_caution == {"filter", "counterweight", "mount", "power_source"}
