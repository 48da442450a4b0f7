"""The spikes of a bright star, against a plain transform of the same pupil and against the slits' closed
forms.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from server.optics.pupil import Pupil, Vanes, pupil_mask
from server.optics.spikes import NEAR_PIXELS, bright_star, spike_count, spike_share
from server.optics.star_image import Air, instrument_image
from server.optics.wavefront import Aberrations

GREEN = ((550.0, 1.0),)
CALM = Air(0.05)
FOUR = Pupil(200.0, 0.35, Vanes(4, 1.0))


def ring_of(image, pixel_um, low_um, high_um):
    """Light between two radii, and how much of it lies within 10 degrees of the axes."""
    places = (np.arange(image.shape[0]) - image.shape[0] // 2) * pixel_um
    radius = np.hypot(places[None, :], places[:, None])
    angle = np.degrees(np.arctan2(places[:, None], places[None, :]))
    inside = (radius >= low_um) & (radius < high_um)
    near = np.abs((angle + 45.0) % 90.0 - 45.0) < 10.0
    return image[inside].sum(), image[inside & near].sum()


def test_the_light_in_the_spikes_is_the_vanes_share_of_what_comes_through():
    # 4 x 65 x 1 mm^2 of pi (100^2 - 35^2): 0.9431 %, of the 99.0569 % that come through.
    assert spike_share(FOUR) == pytest.approx(0.009431 / 0.990569, rel=1e-4)
    assert spike_share(Pupil(200.0, 0.35)) == 0.0


def transformed(pupil, n=512, size=2048):
    """The star by a plain padded transform, in its own order: cells of n / size lambda N, summing to 1."""
    mask = pupil_mask(pupil, n)
    return np.abs(np.fft.fft2(mask, (size, size))) ** 2 / size**2 / mask.sum()


def test_a_plain_transform_finds_as_much_light_in_the_spikes():
    # Babinet: the wave is that of the ring less that of the slits. Outside the core the light is the ring's
    # and the slits' q, less what both have in common: 2 q of the ring's own share there.
    u = np.abs(np.fft.fftfreq(2048)) * 512
    away = (u[None, :] > 2.0) | (u[:, None] > 2.0)
    outside = [transformed(pupil)[away].sum() for pupil in (Pupil(200.0, 0.35), FOUR)]
    gained = outside[1] - outside[0]
    assert gained + 2.0 * 0.009431 * outside[0] == pytest.approx(spike_share(FOUR), rel=0.06)


@pytest.mark.parametrize("angle", [0.0, 30.0, 45.0])
def test_the_far_picture_holds_along_a_spike_and_beside_it_what_a_plain_transform_does(angle):
    # Cells of a quarter of lambda N; pixels of 11 of them, 2.75 lambda N = 6.05 um at f/4.
    pupil = Pupil(200.0, 0.35, Vanes(4, 3.0, angle))
    light = np.fft.fftshift(transformed(pupil))
    middle, half = 1024, 5 + 11 * 40
    cut = light[middle - half : middle + half + 1, middle - half : middle + half + 1]
    plain = cut.reshape(81, 11, 81, 11).sum(axis=(1, 3))
    far = bright_star(pupil, 4.0, 800.0, GREEN, 11 * 0.55, 81, Air(0.0))
    places = np.arange(81) - 40
    turn = np.radians(angle)
    along = np.abs(places[None, :] * np.cos(turn) + places[:, None] * np.sin(turn))
    across = np.abs(places[:, None] * np.cos(turn) - places[None, :] * np.sin(turn))
    # From 8 to 20 pixels out, before the slit's first gap (lam / w: 147 um, 24 pixels): on an arm, off it.
    on = (along > 8.0) & (along < 20.0) & (across < 2.0)
    off = (along > 8.0) & (along < 20.0) & (across > 5.0) & (across < along)
    assert far[on].sum() == pytest.approx(plain[on].sum(), rel=0.06)
    assert far[off].sum() == pytest.approx(plain[off].sum(), rel=0.12)
    assert far[on].mean() > 5.0 * far[off].mean()


def test_the_peak_of_the_star_falls_by_twice_what_the_vanes_take():
    # Published from the same pupil: 4 vanes of 1 mm leave (1 - q)^2 = 0.98123 of the peak, per whole light
    # (1 - q).
    plain = instrument_image(Pupil(200.0, 0.35), Aberrations(), 4.0, GREEN, 0.3, 101).values.max()
    spider = instrument_image(FOUR, Aberrations(), 4.0, GREEN, 0.3, 101).values.max()
    assert spider / plain * (1.0 - 0.009431) == pytest.approx(0.98123, abs=5e-4)


@pytest.mark.parametrize(
    ("count", "curved", "spikes"), [(4, False, 4), (3, False, 6), (2, False, 2), (3, True, 0)]
)
def test_vanes_in_pairs_share_their_spikes_and_odd_ones_do_not(count, curved, spikes):
    assert spike_count(Pupil(200.0, 0.35, Vanes(count, 1.0, curved=curved))) == spikes


def test_straight_vanes_draw_their_light_into_four_arms_and_curved_ones_all_round():
    pixel = 3.76
    straight = bright_star(FOUR, 4.0, 800.0, GREEN, pixel, 201, CALM)
    bent = bright_star(Pupil(200.0, 0.35, Vanes(3, 1.0, curved=True)), 4.0, 800.0, GREEN, pixel, 201, CALM)
    # The rings alone, which both have, are taken off.
    rings = bright_star(Pupil(200.0, 0.35), 4.0, 800.0, GREEN, pixel, 201, CALM)
    whole, arms = ring_of(straight - rings, pixel, 100.0, 350.0)
    assert arms > 0.95 * whole
    whole, arms = ring_of(bent - rings, pixel, 100.0, 350.0)
    assert arms == pytest.approx(whole * 80.0 / 360.0, rel=0.3)


def test_the_first_gap_of_a_spike_lies_where_its_slit_says():
    # lam / w: 550 nm over 4 mm at 800 mm: 110 um from the star.
    wide = Pupil(200.0, 0.35, Vanes(4, 4.0))
    row = bright_star(wide, 4.0, 800.0, GREEN, 2.0, 201, CALM)[100]
    arm = np.convolve(row, np.ones(3) / 3.0, "same")[100 + 30 : 100 + 80]
    assert (np.argmin(arm) + 30) * 2.0 == pytest.approx(110.0, abs=6.0)


def test_the_far_picture_carries_on_where_the_one_by_waves_ends():
    # Around the seam the light per pixel, taken round, falls as the cube of the radius and has no step.
    pixel = 3.76
    image = bright_star(Pupil(200.0, 0.35), 4.0, 800.0, GREEN, pixel, 101, CALM)
    places = (np.arange(101) - 50) * pixel
    radius = np.hypot(places[None, :], places[:, None]) / pixel
    inner = image[(radius > NEAR_PIXELS - 2.5) & (radius < NEAR_PIXELS)].mean()
    outer = image[(radius > NEAR_PIXELS + 2.5) & (radius < NEAR_PIXELS + 5.0)].mean()
    middle_in, middle_out = NEAR_PIXELS - 1.2, NEAR_PIXELS + 3.8
    assert inner / outer == pytest.approx((middle_out / middle_in) ** 3, rel=0.35)


@pytest.mark.parametrize(
    ("focal", "pixel"), [(400.0, 9.0), (800.0, 3.76), (2000.0, 3.76), (3000.0, 2.4)], ids=str
)
@pytest.mark.parametrize("angle", [0.0, 45.0])
def test_the_far_picture_holds_all_light_but_what_rings_and_spikes_carry_out_of_it(focal, pixel, angle):
    # Beyond x lambda N lies 2 / (pi^2 x (1 - eps)) of the ring's light (asymptotic encircled energy), and
    # some of the spikes' 0.95 %.
    pupil = Pupil(200.0, 0.35, Vanes(4, 1.0, angle))
    total = bright_star(pupil, focal / 200.0, focal, GREEN, pixel, 201, Air(2.5, 0.7)).sum()
    beyond = 2.0 / (math.pi**2 * 0.65 * 100.5 * pixel / (0.55 * focal / 200.0))
    assert 1.0 - 1.1 * beyond - 0.0095 < total < 1.0 - 0.7 * beyond + 0.005


@pytest.mark.parametrize(
    "wave",
    [Aberrations(defocus_um=2.0), Aberrations(coma_x_um=-3.0), Aberrations(defocus_um=1.0, blur_um=20.0)],
    ids=["defocus", "coma", "blur"],
)
def test_a_star_out_of_focus_or_drawn_out_keeps_its_light(wave):
    # As far as its outermost ray falls, 64 to 144 um, it is drawn by waves.
    total = bright_star(FOUR, 4.0, 800.0, GREEN, 3.76, 201, Air(2.5, 0.7), wave).sum()
    assert total == pytest.approx(1.0, abs=0.012)


def test_an_even_picture_has_no_middle_pixel_and_is_refused():
    with pytest.raises(ValueError, match="must be odd"):
        bright_star(FOUR, 4.0, 800.0, GREEN, 3.76, 200, CALM)
    assert math.isfinite(bright_star(FOUR, 4.0, 800.0, GREEN, 3.76, 15, CALM).sum())


@pytest.mark.parametrize("blur_px", [0.6, 1.5, 2.4, 4.0])
def test_air_draws_no_lines_through_the_star_of_a_tube_without_vanes(blur_px):
    # A star without vanes is round: what lies on a row through it differs from the row beside it by no more
    # than its fall with the distance from the middle (light as 1 / r^3: 3 / 2 (1 / r)^2 of it, r in pixels).
    focal_mm, pixel_um = 451.0, 3.8
    air = Air(blur_px * pixel_um / focal_mm / 1000.0 * 206264.8)
    image = bright_star(Pupil(82.0), 5.5, focal_mm, GREEN, pixel_um, 201, air)
    row, beside = image[100, 108:], image[101, 108:]
    assert image.min() > 0.0
    assert np.abs(row / beside - 1.0).max() < 2.0 * 1.5 / 8.0**2
