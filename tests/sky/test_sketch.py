"""A drawn frame: its light, its places and its noise, by hand and against galsim."""

from __future__ import annotations

import math
import time
from dataclasses import replace

import galsim
import numpy as np
import pytest

from server.sky.exposure import Rates, signal_to_noise
from server.sky.sketch import Patch, Star, draw_sketch, stretch

NO_STARS = Star([], [], [])
#: A drawing of 301 x 201 pixels of 0.1 arcmin; 10 exposures of 60 s; a sensor's pixel of 2 arcsec.
FRAME = {"width_px": 301, "height_px": 201, "arcmin_per_px": 0.1, "sensor_pixel_arcsec": 2.0}
DARK_SKY = {
    "sky_e_s_arcsec2": 0.0,
    "sky_gradient_share": 0.0,
    "dark_e_s_px": 0.0,
    "read_noise_e": 0.0,
    "sub_s": 60.0,
    "total_s": 600.0,
    "full_well_e": 1e9,
    "seed": 1,
}


def drawn(patches=(), stars=NO_STARS, **changes):
    given = {**FRAME, **DARK_SKY, "fwhm_arcsec": 9.0, **changes}
    return draw_sketch(patches=patches, stars=stars, **given)


def bell(fwhm_px, around):
    at = np.arange(-around, around + 1)
    line = np.exp(-4.0 * math.log(2.0) * (at / fwhm_px) ** 2)
    return np.outer(line, line) / line.sum() ** 2


LOOKS = [{"fwhm_arcsec": 2.0}, {"fwhm_arcsec": 9.0}, {"fwhm_arcsec": 70.0}, {"star_picture": bell(3.0, 8)}]


@pytest.mark.parametrize("look", LOOKS)
def test_a_star_keeps_its_light_and_its_place(look):
    # 4.37 arcmin right and 2.62 up of the middle: column 194.2, row 74.3 of pixels' edges; 100 e/s for 600 s.
    # A star a third of a pixel wide has its pixel's place.
    mean = drawn(stars=Star(4.37, 2.62, 100.0), **look).mean_e
    rows, columns = np.mgrid[0:201, 0:301] + 0.5
    assert mean.sum() == pytest.approx(60_000.0, rel=1e-4)
    off = 0.31 if look == {"fwhm_arcsec": 2.0} else 0.01
    assert (mean * columns).sum() / mean.sum() == pytest.approx(150.5 + 43.7, abs=off)
    assert (mean * rows).sum() / mean.sum() == pytest.approx(100.5 - 26.2, abs=off)


def test_a_star_looks_as_galsim_draws_it():
    # A Gaussian of 9 arcsec on pixels of 6, its middle off a pixel's by (+0.3, -0.2); galsim's y goes up.
    mean = drawn(stars=Star(0.03, 0.02, 1.0)).mean_e[90:111, 140:161]
    image = galsim.Gaussian(fwhm=9.0, flux=600.0).drawImage(nx=21, ny=21, scale=6.0, offset=(0.3, 0.2)).array
    assert np.abs(mean - image[::-1]).max() < 1e-3 * image.max()


def test_a_wide_star_and_its_picture_are_as_wide_as_told():
    for look in ({"fwhm_arcsec": 120.0}, {"star_picture": bell(20.0, 45)}):
        mean = drawn(stars=Star(0.0, 0.0, 1.0), **look).mean_e
        across = np.average((np.arange(301) - 150.0) ** 2, weights=mean.sum(axis=0))
        assert 2.354820 * math.sqrt(across) == pytest.approx(20.0, rel=0.005)


def test_many_stars_add_up_and_those_outside_send_only_what_hangs_over():
    # One stands on the left edge: half of it is seen. One is far outside.
    for look in LOOKS:
        mean = drawn(stars=Star([0.0, -15.05, 100.0], [0.0, 0.0, 3.0], [2.0, 1.0, 50.0]), **look).mean_e
        assert mean.sum() == pytest.approx(2.5 * 600.0, rel=0.001)


PATCHES = [
    Patch(1.0, -2.0, 8.0, 3.0, 25.0, "G", "Sb", 10.0),
    Patch(1.0, -2.0, 9.0, 1.0, 80.0, "G", "Sc", 10.0),
    Patch(0.03, 0.02, 0.3, 0.2, 0.0, "G", "E", 10.0),
    Patch(0.0, 0.0, 0.02, 0.001, 10.0, "G", "Sc", 10.0),
    Patch(0.0, 0.0, 6.0, 6.0, 0.0, "GCl", "", 10.0),
    Patch(0.0, 0.0, 1.0, 1.0, 0.0, "PN", "", 10.0),
    Patch(-3.0, 1.0, 12.0, 6.0, -30.0, "HII", "", 10.0),
]


@pytest.mark.parametrize("patch", PATCHES)
def test_a_target_keeps_its_light_whatever_its_size(patch):
    mean = drawn([patch]).mean_e.astype(float)
    rows, columns = np.mgrid[0:201, 0:301]
    x, y = (columns - 150.0) * 0.1 - patch.x_arcmin, (100.0 - rows) * 0.1 - patch.y_arcmin
    turn = math.radians(patch.angle_deg)
    along, across = y * math.cos(turn) - x * math.sin(turn), x * math.cos(turn) + y * math.sin(turn)
    margin = 0.06  # what a pixel over the ellipse's edge may hold
    wide = (along / (patch.major_arcmin / 2 + margin)) ** 2 + (
        across / (patch.minor_arcmin / 2 + margin)
    ) ** 2
    outskirts = {"G": 1.36, "GCl": 1.04}.get(patch.kind, 1.0)
    assert 6000.0 * 0.999 <= mean.sum() <= 6000.0 * (outskirts + 0.001)
    assert mean[wide <= 1.0].sum() == pytest.approx(6000.0, rel=0.03) or patch.minor_arcmin < 1.0


def test_a_target_larger_than_the_frame_is_as_bright_as_its_light_spread_over_it():
    # A nebula of 100 x 80 arcmin fills the frame evenly: brighter than its mean, and by a known factor: a
    # flat patch to 0.6 of the radius and half a wave to the edge holds 0.6476 of a full disc.
    mean = drawn([Patch(0.0, 0.0, 100.0, 80.0, 0.0, "HII", "", 1000.0)]).mean_e
    even = 1000.0 * 600.0 / (math.pi / 4.0 * 100.0 * 80.0) * 0.01 / 0.6476
    assert mean == pytest.approx(even, rel=1e-3)


def test_a_great_galaxy_cut_by_the_frame_is_the_one_that_is_drawn_whole():
    # The same galaxy on a drawing that holds all of it and on one that shows its middle only.
    galaxy = Patch(0.0, 0.0, 60.0, 40.0, 20.0, "G", "E", 1000.0)
    part = drawn([galaxy], arcmin_per_px=0.05).mean_e.astype(float)
    whole = drawn([galaxy], arcmin_per_px=0.5, width_px=301, height_px=201).mean_e
    # 301 x 201 small pixels are 30.1 x 20.1 large ones: sum the 30 x 20 about the same middle.
    block = whole[100 - 10 : 100 + 11, 150 - 15 : 150 + 16].astype(float)
    edges_y, edges_x = np.ones(21), np.ones(31)
    edges_y[[0, -1]], edges_x[[0, -1]] = (20.1 - 19.0) / 2.0, (30.1 - 29.0) / 2.0
    assert part.sum() == pytest.approx(float(edges_y @ block @ edges_x), rel=0.01)


@pytest.mark.parametrize("major", [8.0, 90.0])
@pytest.mark.parametrize(("x", "y"), [(14.0, 8.0), (-16.0, 1.0), (3.0, 12.0), (-16.5, -11.0), (0.0, -11.5)])
def test_a_target_on_the_edge_is_cut_by_it_and_not_changed(x, y, major):
    # The same on a drawing of more pixels about the same middle.
    galaxy = [Patch(x, y, major, 0.7 * major, 20.0, "G", "Sb", 1000.0)]
    wide = drawn(galaxy, width_px=501, height_px=401).mean_e
    assert drawn(galaxy).mean_e == pytest.approx(wide[100:301, 100:401], rel=1e-5)


def test_a_target_points_where_its_angle_says():
    # 45 degrees from up to the left: the upper left quarter has more of it than the upper right.
    mean = drawn([Patch(0.0, 0.0, 12.0, 3.0, 45.0, "G", "Sc", 10.0)]).mean_e
    assert mean[:100, :150].sum() > 5.0 * mean[:100, 151:].sum()
    assert drawn([Patch(500.0, 0.0, 12.0, 3.0, 45.0, "G", "Sc", 10.0)]).mean_e.sum() == 0.0


SKY = {"sky_e_s_arcsec2": 0.5, "dark_e_s_px": 0.01, "read_noise_e": 2.0}


def test_an_empty_frame_has_the_noise_of_all_its_sensors_pixels():
    # 0.1 arcmin are 36 arcsec2 and 9 pixels of 2 arcsec. Sky 0.5 x 36 x 600 = 10 800, dark 54, read noise
    # 4 x 9 x 10 = 360: 11 214, whose root is 105.896.
    sketch = drawn(**SKY)
    assert sketch.sky_e == pytest.approx(10_854.0)
    assert sketch.sky_noise_e == pytest.approx(105.896, abs=0.001)
    assert sketch.mean_e == pytest.approx(10_854.0, rel=1e-6)
    assert sketch.noise_e == pytest.approx(105.896, rel=1e-5)
    # 60 501 pixels tell a mean to 0.43 and a spread to 0.3 %.
    assert float(sketch.counts_e.mean()) == pytest.approx(10_854.0, abs=2.0)
    assert float(sketch.counts_e.std()) == pytest.approx(105.896, rel=0.012)


def test_a_target_stands_out_as_the_exposures_sums_say():
    nebula = Patch(0.0, 0.0, 100.0, 80.0, 0.0, "HII", "", 3000.0)
    sketch, empty = drawn([nebula], **SKY), drawn(**SKY)
    target = float(sketch.mean_e[100, 150] - empty.mean_e[100, 150]) / 600.0 / 36.0
    ratio = signal_to_noise(Rates(target, 0.5, 0.01, 2.0), 2.0, 60.0, 10, per="px")
    shown = (sketch.mean_e[100, 150] - empty.mean_e[100, 150]) / sketch.noise_e[100, 150]
    # Nine pixels of a sensor in one of the drawing: three times the ratio.
    assert float(shown) == pytest.approx(3.0 * float(ratio), rel=1e-3)


def test_the_sky_grows_brighter_downwards_by_its_share():
    mean = drawn(**{**SKY, "dark_e_s_px": 0.0}, sky_gradient_share=0.2).mean_e
    assert float(mean[100].mean()) == pytest.approx(10_800.0)
    assert float(mean[200].mean() - mean[0].mean()) == pytest.approx(0.2 * 10_800.0 * 200.0 / 201.0, rel=1e-4)


def test_a_full_pixel_takes_no_more():
    # Nine pixels, ten exposures, a well of 1000: 90 000.
    mean = drawn(stars=Star(0.0, 0.0, 1e6), full_well_e=1000.0).mean_e
    assert float(mean.max()) == 90_000.0


def test_stars_of_one_brightness_may_be_told_by_one_number():
    one, many = Star([0.0, 3.0], 1.0, 5.0), Star([0.0, 3.0], [1.0, 1.0], [5.0, 5.0])
    for look in LOOKS:
        assert np.array_equal(drawn(stars=one, **look).mean_e, drawn(stars=many, **look).mean_e)


def test_very_many_stars_look_as_few_of_them_do():
    # 9,000 stars of 8 pixels are spread at once instead of drawn one by one.
    draw = np.random.default_rng(5)
    x, y = draw.uniform(-16, 16, 9000), draw.uniform(-11, 11, 9000)
    together = drawn(stars=Star(x, y, 1.0), fwhm_arcsec=47.0).mean_e
    parts = [drawn(stars=Star(x[at::9], y[at::9], 1.0), fwhm_arcsec=47.0).mean_e for at in range(9)]
    assert together == pytest.approx(sum(parts), rel=0.02)


def test_the_same_seed_draws_the_same_noise():
    first, again, other = (drawn(**{**SKY, "seed": seed}).counts_e for seed in (3, 3, 4))
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)


def test_grey_begins_two_noises_below_the_sky_and_ends_at_white():
    grey = stretch([700.0, 800.0, 1000.0, 3000.0, 100_800.0, 1e9], 1000.0, 100.0, white_noises=1000.0)
    assert list(grey[[0, 1, 4, 5]]) == [0, 0, 255, 255]
    assert 0 < grey[2] < grey[3] < 255
    assert grey.dtype == np.uint8


def test_of_two_frames_stretched_alike_the_one_with_more_light_is_lighter_and_its_noise_shows_less():
    nebula = Patch(0.0, 0.0, 100.0, 80.0, 0.0, "HII", "", 5e4)
    faint, strong = drawn([nebula], **SKY), drawn([replace(nebula, e_s=1e6)], **SKY)
    greys = [stretch(one.counts_e, faint.sky_e, faint.sky_noise_e).astype(float) for one in (faint, strong)]
    assert greys[1].mean() > greys[0].mean() + 20.0
    assert greys[1].std() < greys[0].std()


def test_a_frame_of_1100_by_740_with_2000_stars_takes_less_than_four_tenths_of_a_second():
    draw = np.random.default_rng(7)
    stars = Star(draw.uniform(-55, 55, 2000), draw.uniform(-37, 37, 2000), 10 ** draw.uniform(0, 4, 2000))
    size = {"width_px": 1100, "height_px": 740}
    patches = [*PATCHES, Patch(0.0, 0.0, 60.0, 20.0, 30.0, "G", "Sb", 1e4)]
    for look in LOOKS:
        took = []
        for _ in range(3):
            began = time.process_time()
            sketch = drawn(patches, stars, **{**SKY, **size, **look})
            stretch(sketch.counts_e, sketch.sky_e, sketch.sky_noise_e)
            took.append(time.process_time() - began)
        assert min(took) < 0.4


@pytest.mark.parametrize(
    "given",
    [
        {"width_px": 0},
        {"arcmin_per_px": 0.0},
        {"sensor_pixel_arcsec": -1.0},
        {"sub_s": 0.0},
        {"full_well_e": 0.0},
        {"sky_e_s_arcsec2": -1.0},
        {"sky_gradient_share": 3.0},
        {"stars": Star([0.0], [0.0], [-1.0])},
        {"patches": [Patch(0.0, 0.0, 1.0, 1.0, 0.0, "G", "", -1.0)]},
        {"patches": [Patch(0.0, 0.0, 1.0, 0.0, 0.0, "G", "", 1.0)]},
        {"patches": [Patch(float("nan"), 0.0, 1.0, 1.0, 0.0, "G", "", 1.0)]},
        {"fwhm_arcsec": 0.0},
        {"fwhm_arcsec": None},
        {"star_picture": np.ones((4, 4)) / 16.0},
    ],
)
def test_what_no_frame_has_is_refused_in_words(given):
    with pytest.raises(ValueError, match=r"; .*\."):
        drawn(**given)
