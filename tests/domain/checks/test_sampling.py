"""Field, scale, stars against pixels, focal ratio against pixels.

Sources: rectilinear projection, 206 264.806 arcsec to the radian; Nyquist: cut-off 1/(lambda N) (Born &
Wolf, Principles of Optics, sec. 9.5, from memory); the width of a star by the open image simulator galsim
2.8.5 and a direct integral (tests/references/seeing.py). Effective focal lengths by the open ray tracer
optiland 0.6.3. The rules of a third to a half of the seeing and of 1.5 times the pixel: common practice, no
source.
"""

from __future__ import annotations

import pytest

from server.domain.rig import Rules
from tests.domain.rigs import camera, corrector, finding, findings, input_named, number, ring, tube
from tests.references import imaging, seeing

SCALE = imaging.SCALE_TOLERANCE_ARCSEC
FIELD = imaging.FIELD_TOLERANCE_DEG


def titled(title, *parts, **beside):
    return next(f for f in findings("sampling", *parts, **beside) if f.title == title)


@pytest.mark.parametrize(("pixel", "focal", "scale"), imaging.SCALES)
def test_the_published_scales_come_out_of_whole_rigs(pixel, focal, scale):
    found = titled("Sampling", tube(focal_length_mm=focal), camera(pixel_um=pixel))
    assert number(found, "scale") == pytest.approx(scale, abs=SCALE)


def test_a_sensor_of_36_by_24_mm_at_800_mm_sees_2_57788_by_1_71874_degrees():
    found = titled("Field", tube(), camera())
    assert number(found, "width") == pytest.approx(2.57788, abs=FIELD)
    assert number(found, "height") == pytest.approx(1.71874, abs=FIELD)
    assert number(found, "ratio") == pytest.approx(4.0)


def test_a_wide_field_is_worked_out_exactly_and_not_by_small_angles():
    # The small-angle form would give 15.279 degrees.
    found = titled("Field", tube(focal_length_mm=135.0, aperture_mm=50.0), camera())
    assert number(found, "width") == pytest.approx(15.18929, abs=FIELD)


@pytest.mark.parametrize(("focal", "factor", "traced"), imaging.THROUGH_CORRECTOR)
def test_the_correctors_factor_makes_the_focal_length_that_was_traced(focal, factor, traced):
    found = titled("Field", tube(focal_length_mm=focal), corrector(factor=factor), ring(37.5), camera())
    assert number(found, "focal") == pytest.approx(traced, abs=imaging.FOCAL_LENGTH_TOLERANCE_MM)
    assert input_named(found, "factor") == factor


@pytest.mark.parametrize(
    ("focal", "factor", "asked", "actual", "traced"),
    [
        # Two ideal lenses in a ray-trace library: a reducer of 0.8 at 55 mm has fR = 275 mm; at 57 mm it
        # works
        # as 0.792727. One of 0.63 at 105 mm, at 110 mm: 0.612381. An extender of 2 (fB = 60 mm) at 80 mm:
        # 2.3333.
        (700.0, 0.80, 55.0, 57.0, 554.90909),
        (2000.0, 0.63, 105.0, 110.0, 1224.76190),
        (700.0, 2.0, 60.0, 80.0, 1633.33333),
    ],
)
def test_a_corrector_away_from_its_back_focus_works_with_another_factor_everywhere(
    focal, factor, asked, actual, traced
):
    parts = (
        tube(focal_length_mm=focal, aperture_mm=100.0),
        corrector(factor=factor, back_focus_mm=asked, principal_mm=0.0),
        ring(actual - 17.5),
        camera(),
    )
    found = titled("Field", *parts)
    assert number(found, "focal") == pytest.approx(traced, abs=imaging.FOCAL_LENGTH_TOLERANCE_MM)
    assert number(found, "ratio") == pytest.approx(traced / 100.0, abs=1e-6)
    assert number(found, "stated") == factor
    # 206.265 arcsec per radian and um over mm, 4 um pixels.
    assert number(titled("Sampling", *parts), "scale") == pytest.approx(206.264806 * 4.0 / traced, abs=1e-5)


def test_two_correctors_multiply():
    found = titled("Field", tube(), corrector(factor=0.8), corrector(factor=2.0), ring(37.5), camera())
    assert number(found, "focal") == pytest.approx(1280.0)
    assert number(found, "ratio") == pytest.approx(6.4)


@pytest.mark.parametrize(
    ("aperture", "focal", "obstruction", "air", "width"),
    [
        (aperture, focal, share, air, width)
        for aperture, focal, share, widths in seeing.WIDTHS
        for air, width in zip(seeing.SEEING_ARCSEC, widths, strict=True)
    ],
)
def test_a_star_comes_out_as_wide_as_an_image_simulator_draws_it(aperture, focal, obstruction, air, width):
    scope = tube(
        aperture_mm=aperture, focal_length_mm=focal, design="astrograph", obstruction_share=obstruction
    )
    rules = Rules(seeing_arcsec=air, wavelength_nm=seeing.WAVELENGTH_NM)
    found = titled("Sampling", scope, camera(pixel_um=seeing.PIXEL_UM), rules=rules)
    assert number(found, "star") == pytest.approx(width, rel=seeing.RELATIVE_TOLERANCE)
    drawn = next(one for one in found.inputs if one.label.startswith("width of the star"))
    assert drawn.text.startswith(f"the integral is good to {100 * seeing.RELATIVE_TOLERANCE:.1f} %")


@pytest.mark.parametrize(
    ("air", "code", "weight"),
    [
        (1.9, "sampling.coarse", "sound"),  # Half of 1.9 is 0.95.
        (2.0, "sampling.sound", "sound"),
        (2.9, "sampling.sound", "sound"),  # A third of 2.9 is 0.967.
        (3.0, "sampling.fine", "sound"),
        (12.0, "sampling.fine", "watch"),  # A quarter of a third of it is 1.
    ],
)
def test_0_97_arcsec_a_pixel_is_judged_by_half_and_a_third_of_the_seeing(air, code, weight):
    # Beyond the usual two to three pixels is told; only what is out of the ordinary is a watch.
    found = titled("Sampling", tube(), camera(pixel_um=3.76), rules=Rules(seeing_arcsec=air))
    assert (found.code, found.weight) == (code, weight)


def test_a_rule_that_its_owner_typed_is_held_to():
    typed = Rules(seeing_arcsec=3.0, pixels_most=2.9)
    found = titled("Sampling", tube(), camera(pixel_um=3.76), rules=typed)
    assert (found.code, found.weight) == ("sampling.fine", "watch")


@pytest.mark.parametrize(("ratio", "pixel"), imaging.NYQUIST_550_NM)
def test_the_finest_pixel_is_the_published_one(ratio, pixel):
    found = titled("Focal ratio", tube(aperture_mm=100.0, focal_length_mm=100.0 * ratio), camera())
    assert number(found, "nyquist") == pytest.approx(pixel, abs=imaging.NYQUIST_TOLERANCE_UM)


def test_a_focal_ratio_of_just_one_and_a_half_times_the_pixel_keeps_to_the_rule():
    # 3.76 x 1.5 = 5.64.
    just = titled("Focal ratio", tube(aperture_mm=100.0, focal_length_mm=564.0), camera(pixel_um=3.76))
    assert (just.code, just.weight) == ("sampling.ratio", "sound")
    over = titled("Focal ratio", tube(aperture_mm=100.0, focal_length_mm=565.0), camera(pixel_um=3.76))
    assert (over.code, over.weight) == ("sampling.slow", "sound")
    typed = titled(
        "Focal ratio",
        tube(aperture_mm=100.0, focal_length_mm=565.0),
        camera(pixel_um=3.76),
        rules=Rules(ratio_per_um=1.4),
    )
    assert (typed.code, typed.weight) == ("sampling.slow", "watch")


def test_a_refractor_needs_no_word_that_nothing_obstructs_it():
    found = titled("Sampling", tube(), camera(), rules=Rules(seeing_arcsec=2.5))
    assert (found.weight, found.missing) == ("sound", ())
    assert input_named(found, "central obstruction") == 0.0


def test_a_reflector_of_unknown_obstruction_is_never_sound():
    found = titled("Sampling", tube(design="newtonian"), camera(), rules=Rules(seeing_arcsec=2.5))
    assert (found.weight, found.missing) == ("unknown", ("the central obstruction of Halden Tube",))
    odd = titled("Sampling", tube(design="newtonian"), camera(pixel_um=3.76), rules=Rules(seeing_arcsec=12.0))
    assert (odd.weight, odd.missing) == ("watch", found.missing)


def test_an_obstruction_given_as_a_diameter_is_shown_as_a_share():
    found = titled("Sampling", tube(design="newtonian", obstruction_mm=70.0), camera())
    assert input_named(found, "central obstruction") == pytest.approx(0.35)


def test_without_an_aperture_scale_and_field_are_still_told():
    found = findings(
        "sampling", tube(aperture_mm=None), camera(pixel_um=3.76), rules=Rules(seeing_arcsec=2.5)
    )
    assert [f.title for f in found] == ["Field", "Sampling"]
    assert number(found[1], "scale") == pytest.approx(0.969445, abs=SCALE)
    assert (found[1].weight, found[1].missing) == ("unknown", ("the aperture of Halden Tube",))


def test_without_pixel_counts_the_scale_is_still_told():
    field, stars, _ = findings("sampling", tube(), camera(width_px=None), rules=Rules(seeing_arcsec=2.5))
    assert field.weight == "unknown"
    assert number(stars, "scale") > 0
    assert stars.weight == "sound"


@pytest.mark.parametrize(
    ("scope", "cam", "missing"),
    [
        (tube(focal_length_mm=None), camera(), "the focal length of Halden Tube"),
        (tube(), camera(pixel_um=None), "the pixel size of Quill Cam"),
    ],
)
def test_what_everything_hangs_on_is_asked_for(scope, cam, missing):
    found = finding("sampling", scope, cam)
    assert (found.weight, found.missing) == ("unknown", (missing,))


def test_a_star_beyond_the_integrals_range_leaves_the_other_findings_standing():
    found = findings("sampling", tube(focal_length_mm=20000.0, aperture_mm=0.001), camera())
    assert found[0].code == "sampling.field"
    assert "sampling.outside" in [f.code for f in found]


def test_a_factor_that_no_corrector_has_is_asked_for_again():
    found = finding("sampling", tube(), corrector(factor=0.001), camera())
    assert found.weight == "unknown"
    assert "out of range" in found.missing[0]
