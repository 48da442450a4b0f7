"""The light cone through the openings before the sensor.

Sources: plane geometry of two discs and similar triangles: beam x / N, offset h (1 - x / L), overlap of two
circles, checked against polygons of many sides (shapely). The cases of tests/references/illumination.py are
carried through whole rigs. Of those, the rigs here can hold the ones whose exit pupil lies one focal length
away, as the check assumes (assumed, no source); for parallel beams a focal length of 20 m stands for
infinity.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.domain.parts import OpticalTube
from server.domain.train import Place
from tests.domain.rigs import (
    camera,
    corrector,
    finding,
    glass,
    holding,
    input_named,
    item,
    number,
    ring,
    tube,
    wheel,
)
from tests.references.illumination import STOP_TOLERANCE, STOPS

WIDE = 200.0


def light(found):
    """The share of the light in the corner, by the finding's figure."""
    assert found.figure is not None
    return 1 - found.figure.amount.value


def refractor(focal, ratio, **given) -> OpticalTube:
    return tube(focal_length_mm=focal, aperture_mm=focal / ratio, drawtube_bore_mm=WIDE, **given)


def sensor(diagonal_mm, flange_mm, **given):
    """A 3-4-5 sensor of this diagonal, in pixels of 0.4 um."""
    size = {"width_px": round(diagonal_mm * 2000), "height_px": round(diagonal_mm * 1500), "pixel_um": 0.4}
    return camera(**{"flange_mm": flange_mm, "clear_aperture_mm": WIDE} | size | given)


@pytest.mark.parametrize("stop", [s for s in STOPS if s[3] < 1000.0])
def test_published_stops_darken_the_corner_by_as_much_in_a_whole_rig(stop):
    clear, at, ratio, pupil, height, _, _, share = stop
    narrow = ring(10.0, clear_aperture_mm=clear, aperture_at_mm=0.0)
    found = finding("beam", refractor(pupil, ratio), narrow, sensor(2 * height, at - 10.0))
    assert light(found) == pytest.approx(share, abs=STOP_TOLERANCE)
    assert input_named(found, "exit pupil") == pupil


def test_a_31_mm_stop_with_nearly_parallel_beams_comes_close_to_the_published_share():
    # L infinite gives 0.848163; at 20 m the offset of 14 mm is 0.014 mm less, which gains a little light.
    narrow = ring(10.0, clear_aperture_mm=31.0, aperture_at_mm=0.0)
    found = finding("beam", refractor(20000.0, 4.0), narrow, sensor(28.0, 10.0))
    assert light(found) == pytest.approx(0.848163, abs=0.005)
    assert light(found) > 0.848163


def test_full_light_is_sound_down_to_the_opening_that_just_lets_it_through():
    # 2 x 21.6 x (1 - 17.5 / 600) + 17.5 / 5 = 45.44 mm.
    for clear, code in ((45.45, "beam.sound"), (45.0, "beam.little")):
        narrow = ring(7.5, clear_aperture_mm=clear, aperture_at_mm=0.0)
        found = finding("beam", refractor(600.0, 5.0), narrow, sensor(43.2, 10.0))
        assert found.code == code


def test_where_the_opening_is_not_said_the_worse_shoulder_counts():
    # Nearer the sensor the beam is thinner and stands further out.
    rig = (refractor(600.0, 5.0), ring(7.5, clear_aperture_mm=44.0), sensor(43.2, 10.0))
    either = light(finding("beam", *rig))
    ends = [
        light(
            finding(
                "beam",
                refractor(600.0, 5.0),
                ring(7.5, clear_aperture_mm=44.0, aperture_at_mm=at),
                sensor(43.2, 10.0),
            )
        )
        for at in (0.0, 7.5)
    ]
    assert ends[0] != pytest.approx(ends[1], abs=1e-3)
    assert either == min(ends)


def test_a_part_turned_round_has_its_opening_at_the_other_end():
    narrow = ring(7.5, clear_aperture_mm=44.0, aperture_at_mm=0.0, reversible=True)
    turned = finding("beam", refractor(600.0, 5.0), Place(0, item(narrow), flipped=True), sensor(43.2, 10.0))
    near = ring(7.5, clear_aperture_mm=44.0, aperture_at_mm=7.5)
    assert light(turned) == pytest.approx(
        light(finding("beam", refractor(600.0, 5.0), near, sensor(43.2, 10.0)))
    )


def test_the_filter_of_a_wheel_is_an_opening_of_its_own():
    small = glass(2.0, clear_aperture_mm=36.0)
    found = finding(
        "beam", refractor(600.0, 5.0), holding(wheel(20.0, clear_aperture_mm=WIDE), small), sensor(43.2, 10.0)
    )
    assert "Sell Glass" in found.phrase.template


def test_glass_nearer_the_sensor_brings_openings_closer_by_its_shift():
    # 3 mm of index 1.5 take 1.005533 mm at f/5: tan u = 1/10, by hand. Drawtube and the ring's sky-side end:
    # 27.5 + 20 + 10 = 57.5 mm, less that. The wheel's filter and the camera have none of that glass behind
    # them and keep their 27.5 mm.
    filtered = holding(
        wheel(20.0, clear_aperture_mm=WIDE, filter_at_mm=20.0),
        glass(3.0, refractive_index=1.5, clear_aperture_mm=WIDE),
    )
    above = ring(10.0, clear_aperture_mm=WIDE, aperture_at_mm=0.0)
    found = finding("beam", refractor(600.0, 5.0), above, filtered, sensor(43.2, 27.5))
    distances = [i.amount.value for i in found.inputs if i.label.startswith("its distance") and i.amount]
    assert distances[:2] == pytest.approx([56.494467, 56.494467])
    assert distances[3:] == pytest.approx([27.5, 27.5])


def test_a_corner_that_loses_more_than_the_rule_allows_is_a_watch_and_told_how_wide_it_must_be():
    # Between 44 mm (0.847) and what keeps 0.8 lies the answer, and an opening of that width keeps just that.
    narrow = ring(7.5, clear_aperture_mm=42.0, aperture_at_mm=0.0)
    found = finding("beam", refractor(600.0, 5.0), narrow, sensor(43.2, 10.0))
    assert (found.weight, found.code) == ("watch", "beam.corners")
    needed = found.remedies[0].phrase.amounts["needed"].value
    assert 42.0 < needed < 44.0
    wide_enough = ring(7.5, clear_aperture_mm=needed, aperture_at_mm=0.0)
    assert finding("beam", refractor(600.0, 5.0), wide_enough, sensor(43.2, 10.0)).code == "beam.little"


def test_two_openings_that_cut_the_same_part_of_the_cone_take_it_once():
    # Each of two openings at one place keeps 0.847147 of the light, and so do both.
    narrow = ring(0.0, clear_aperture_mm=44.0, aperture_at_mm=0.0)
    found = finding("beam", refractor(600.0, 5.0), narrow, narrow, sensor(43.2, 17.5))
    assert light(found) == pytest.approx(0.847147, abs=STOP_TOLERANCE)
    assert (found.weight, found.code) == ("sound", "beam.little")


def test_a_corner_outside_the_opening_is_dark():
    found = finding("beam", refractor(600.0, 5.0), ring(7.5, clear_aperture_mm=30.0), sensor(43.2, 10.0))
    assert (found.weight, found.code) == ("stop", "beam.dark")


def test_an_opening_narrower_than_the_cone_stops_down_the_centre():
    # 100 mm before the sensor the cone at f/5 is 20 mm wide; a 10 mm hole passes a quarter of it.
    hole = ring(90.0, clear_aperture_mm=10.0, aperture_at_mm=0.0)
    found = finding("beam", refractor(600.0, 5.0), hole, sensor(1.0, 10.0))
    assert number(found, "centre") == pytest.approx(0.75, abs=1e-9)
    assert found.code == "beam.centre"


@pytest.mark.parametrize(
    ("parts", "missing"),
    [
        ((ring(7.5, clear_aperture_mm=None),), "the clear aperture of Brask Ring"),
        ((corrector(clear_aperture_mm=None), ring(7.5)), "the clear aperture of Halden Flat"),
        ((holding(wheel(20.0), glass(2.0, clear_aperture_mm=None)),), "the clear aperture of Sell Glass"),
        ((ring(None, model="Gap"), ring(7.5)), "the optical length of Brask Gap"),
    ],
)
def test_an_unknown_opening_is_named_and_never_sound(parts, missing):
    found = finding("beam", refractor(600.0, 5.0), *parts, sensor(20.0, 10.0))
    assert (found.weight, found.missing) == ("unknown", (missing,))


def test_an_unknown_throat_or_drawtube_is_never_sound():
    no_throat = finding("beam", refractor(600.0, 5.0), sensor(20.0, 10.0, clear_aperture_mm=None))
    assert no_throat.missing == ("the clear aperture of Quill Cam",)
    no_bore = finding("beam", tube(drawtube_bore_mm=None), sensor(20.0, 10.0))
    assert (no_bore.weight, no_bore.missing) == ("unknown", ("the drawtube bore of Halden Tube",))


def test_what_is_known_to_be_dark_is_a_stop_whatever_else_is_unknown():
    found = finding(
        "beam",
        refractor(600.0, 5.0),
        ring(7.5, clear_aperture_mm=None),
        ring(7.5, clear_aperture_mm=30.0),
        sensor(43.2, 10.0),
    )
    assert (found.weight, found.code) == ("stop", "beam.dark")


@given(st.floats(1.0, 60.0), st.floats(0.0, 30.0), st.floats(0.0, 100.0))
def test_a_wider_opening_never_darkens_a_corner(clear, wider, length):
    lights = [
        light(finding("beam", refractor(600.0, 5.0), ring(length, clear_aperture_mm=c), sensor(43.2, 17.5)))
        for c in (clear, clear + wider)
    ]
    assert lights[0] <= lights[1] + 1e-12
