"""A part in one line, and the cautions it is never shown without (common practice, no source)."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings

from server.domain.cautions import cautions_of, cautions_of_kind
from server.domain.load.work import work_cautions
from server.domain.parts import KINDS, Part
from server.rim.forms import read_part
from server.rim.gist import write_gist
from server.rim.phrasebook.tell import phrase_of, plain
from tests.domain.rigs import camera, rig, tube
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
    assert all(phrase_of(one.says).template for one in cautions_of(part))


@pytest.mark.parametrize(
    ("kind", "texts", "titles"),
    [
        ("filter", {"solar": "yes"}, ["The Sun"]),
        ("filter", {"solar": "no"}, []),
        ("filter", {}, []),
        ("counterweight", {"mass_kg": "5"}, ["Counterweights"]),
        ("counterweight", {"mass_kg": "10"}, ["Lifting", "Counterweights"]),
        ("mount", {"rated_with": "without"}, ["Clutches"]),
        ("mount", {"mount_type": "tracker"}, []),
        ("mount", {}, ["Counterweights", "Clutches"]),
        ("power_source", {"chemistry": "lead_acid"}, ["Lead-acid batteries"]),
        ("power_source", {}, ["Lithium batteries", "Lead-acid batteries", "Mains"]),
        ("optical_tube", {"mass_kg": "8", "mass_with_rings_kg": "9.2"}, ["Lifting"]),
        ("optical_tube", {"mass_kg": "9"}, []),
    ],
)
def test_what_can_hurt_someone_is_said_of_the_part_and_of_a_rig_that_it_belongs_to(
    kind: str, texts: dict[str, str], titles: list[str]
) -> None:
    part = read_part(kind, {"model": "X", **texts})
    assert [plain(one.title) for one in cautions_of(part)] == titles
    beside = rig(tube(mass_kg=1.0), camera(mass_kg=0.5), gear=[part])
    assert set(cautions_of(part)) <= set(work_cautions(beside))


@pytest.mark.parametrize("chemistry", ["lifepo4", "lithium_ion"])
def test_lithium_is_not_to_be_charged_below_freezing_wherever_its_caution_stands(chemistry: str) -> None:
    part = read_part("power_source", {"model": "X", "chemistry": chemistry})
    (note,) = cautions_of(part)
    assert "do not charge it below freezing" in phrase_of(note.says).template
    assert note in cautions_of_kind("power_source")
    assert note in work_cautions(rig(tube(), camera(), gear=[part]))


def test_the_forms_of_dangerous_kinds_carry_their_caution_from_the_start() -> None:
    with_caution = {kind for kind in KINDS if cautions_of_kind(kind)}
    assert with_caution == {"filter", "counterweight", "mount", "power_source"}
