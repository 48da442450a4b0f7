"""The star's picture: its light and its middle, against closed forms and two independent programs.

Sources: the geometric place of the rays (closed forms, worked by hand); poppy 1.1, an open Fourier-optics
package; galsim 2.8, an open image simulator; the width of stars by galsim and a direct integral
(references/seeing.py).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from server.optics.pupil import Pupil, PupilStop, Vanes, pupil_mask
from server.optics.star_image import (
    ARCSEC,
    FINEST,
    Air,
    StarImage,
    band_of,
    cells_for,
    collected_image,
    instrument_image,
    on_pixels,
    samples_for,
    seen_image,
)
from server.optics.star_numbers import centroid_um, numbers_of
from server.optics.wavefront import Aberrations
from tests.references import diffraction, seeing

GREEN = ((550.0, 1.0),)
RGB = band_of((450.0, 550.0, 650.0))
N = 4.0
LAM_N = 2.2
"""550 nm at f/4, um."""
WINDOW_UM = 0.02
"""How far the cut wings of a picture may shift its middle, um."""


OPEN, PERFECT = Pupil(200.0), Aberrations()


def drawn(pupil=OPEN, wave=PERFECT, step=0.4, cells=501, band=GREEN, ratio=N):
    return instrument_image(pupil, wave, ratio, band, step, cells)


@pytest.mark.parametrize("eps", [0.0, 0.33, 0.5])
def test_all_the_light_is_in_the_picture_but_what_the_rings_carry_out_of_it(eps):
    # Beyond a radius of x lambda N there is 2 / (pi^2 x (1 - eps)) of the light (asymptotic form of Born &
    # Wolf's encircled energy): at 45 lambda N between 0.45 and 0.9 %; a square holds a little more than its
    # circle.
    total = drawn(Pupil(200.0, eps)).values.sum()
    outside = 2.0 / (math.pi**2 * (100.2 / LAM_N) * (1.0 - eps))
    assert 1.0 - 1.3 * outside < total < 1.0 - 0.6 * outside


def test_light_that_a_blur_carries_out_of_the_picture_does_not_come_in_again_at_the_other_side():
    # Of a normal spot of sigma 10 um 0.7063 squared lie within 10.5 um to each side (a table of the normal
    # integral), 0.4989; of the star's own light 0.038 lie without before. Round the other side came 0.07.
    total = drawn(wave=Aberrations(blur_um=10.0 * math.sqrt(2.0)), step=1.0, cells=21).values.sum()
    assert 0.455 < total < 0.4989


@pytest.mark.parametrize(
    ("wave", "x", "y"),
    [
        # The mean of -2 N dW/dx over the pupil: W = c x rho^2 gives -2 N c (3 x^2 + y^2), in the mean -2 N c.
        (Aberrations(coma_x_um=1.0), -8.0, 0.0),
        (Aberrations(coma_y_um=-1.5), 0.0, 12.0),
        (Aberrations(defocus_um=1.0), 0.0, 0.0),
        (Aberrations(astig_0_um=1.0, spherical_um=0.5), 0.0, 0.0),
    ],
)
def test_the_middle_of_the_light_is_where_the_rays_mean_falls(wave, x, y):
    found = centroid_um(drawn(wave=wave))
    assert found == pytest.approx((x, y), abs=10 * WINDOW_UM)


def test_the_tail_of_coma_lies_where_its_edge_rays_fall():
    # W = -c x rho^2 with c = 3 um: the ray from (1, 0) falls at 2 N 3 c = +72 um, none beyond it.
    image = drawn(wave=Aberrations(coma_x_um=-3.0), step=0.8, cells=301)
    across = image.values.sum(axis=0)
    assert across[image.places_um > 76.0].sum() < 0.01
    assert across[image.places_um > 60.0].sum() > 0.02
    assert across[image.places_um < -6.0].sum() < 0.02


def test_a_defocused_star_is_a_disc_of_the_blurs_diameter():
    # 0.4 mm behind the focus at f/4: W = 400 / (8 x 16) = 3.125 um, and a disc 0.4 / 4 = 0.1 mm across.
    image = drawn(wave=Aberrations(defocus_um=3.125), step=0.8, cells=251)
    radius = np.hypot(image.places_um[None, :], image.places_um[:, None])
    # Diffraction carries a few percent over its edge.
    assert image.values[radius < 56.0].sum() > 0.95
    # Evenly lit: a quarter of the light within half of the radius.
    assert image.values[radius < 25.0].sum() == pytest.approx(0.25, abs=0.02)


@pytest.mark.parametrize(("eps", "strehl"), diffraction.QUARTER_WAVE_STREHL)
def test_a_quarter_wave_of_defocus_leaves_the_strehl_ratio_that_is_published(eps, strehl):
    image = drawn(Pupil(200.0, eps), Aberrations(defocus_um=0.55 / 4.0), step=0.3, cells=201)
    assert numbers_of(image).strehl == pytest.approx(strehl, abs=2e-3)


def test_the_star_through_a_cut_pupil_is_longer_across_the_cut():
    cut = Pupil(200.0, stops=(PupilStop.disc(0.9, 0.0, 1.0),))
    shape = numbers_of(drawn(cut, step=0.3, cells=201)).shape
    assert shape.eccentricity > 0.4
    assert shape.direction_deg == pytest.approx(0.0, abs=2.0) or shape.direction_deg == pytest.approx(
        180.0, abs=2.0
    )


def test_poppy_draws_the_same_star():
    import poppy
    from astropy import units as u

    # A ring with a half wave of coma and a third of a wave of defocus, on a grid of 256, at f/4.
    coma, defocus = 0.275, 0.18
    system = poppy.OpticalSystem(pupil_diameter=0.2 * u.m, npix=256, oversample=1)
    system.add_pupil(poppy.CircularAperture(radius=0.1 * u.m, gray_pixel=True))
    system.add_pupil(poppy.SecondaryObscuration(secondary_radius=0.035 * u.m, n_supports=0))

    class Wave(poppy.AnalyticOpticalElement):  # type: ignore[misc]
        def __init__(self):
            super().__init__(name="wave", planetype=poppy.poppy_core.PlaneType.pupil)

        def get_transmission(self, wave):
            return np.ones(wave.shape)

        def get_opd(self, wave):
            y, x = self.get_coordinates(wave)
            rho2 = (x * x + y * y) / 0.01
            return (defocus * rho2 + coma * x / 0.1 * rho2) * 1e-6

    system.add_pupil(Wave())
    step = 0.8
    scale = step / 1000.0 / 800.0 * ARCSEC
    system.add_detector(pixelscale=scale * u.arcsec / u.pixel, fov_pixels=101)
    # Its shares are of the light that falls on the whole aperture; ours of what passes the ring.
    theirs = system.calc_psf(550e-9)[0].data / (1.0 - 0.35**2)
    ours = drawn(
        Pupil(200.0, 0.35), Aberrations(defocus_um=defocus, coma_x_um=coma), step=step, cells=101
    ).values
    # One of the two programs draws the picture turned by half a turn, as eye and sensor see it.
    best = min(np.abs(ours - turned).max() for turned in (theirs, theirs[::-1, ::-1]))
    assert best < 5e-3 * ours.max()
    assert ours.sum() == pytest.approx(theirs.sum(), abs=5e-3)


@pytest.mark.parametrize(("aperture", "focal", "eps", "widths"), seeing.WIDTHS)
def test_through_air_and_pixels_a_star_is_as_wide_as_galsim_and_an_integral_make_it(
    aperture, focal, eps, widths
):
    ratio = focal / aperture
    for arcsec, wanted in zip(seeing.SEEING_ARCSEC, widths, strict=True):
        um = arcsec * focal * 1000.0 / ARCSEC
        step, cells = cells_for(seeing.PIXEL_UM, 550.0, ratio, 4.0 * um + 30.0)
        image = seen_image(
            instrument_image(Pupil(aperture, eps), Aberrations(), ratio, GREEN, step, cells),
            Air(arcsec),
            focal,
        )
        width = along_the_side(image, seeing.PIXEL_UM) / um * arcsec
        assert width == pytest.approx(wanted, rel=seeing.RELATIVE_TOLERANCE)


def along_the_side(image, pixel_um):
    """Full width, um, of the picture folded with a pixel, along its side: read off its Fourier series."""
    n = image.values.shape[0]
    nu = np.fft.fftfreq(n, image.step_um)
    middle = np.exp(2j * np.pi * nu * (n - 1) / 2.0 * image.step_um)
    series = np.fft.fft2(image.values) * np.outer(np.sinc(nu * pixel_um), np.sinc(nu * pixel_um))
    row = (series * middle[:, None]).sum(axis=0) * middle
    x = np.linspace(0.0, n * image.step_um / 3.0, 2001)
    profile = np.real(np.exp(2j * np.pi * np.outer(x, nu)) @ row)
    below = int(np.argmax(profile < profile[0] / 2.0)) + 1
    return 2.0 * np.interp(-profile[0] / 2.0, -profile[:below], x[:below])


def test_galsim_smears_a_comatic_star_alike():
    import galsim

    # 200 mm f/4 with 35 % obstruction and 1.1 waves (at 550 nm) of coma at the edge, 2 arcsec of air, 0.7 of
    # guiding. Zernike (Noll) 8: sqrt(8) (3 rho^3 - 2 rho) cos: c rho^3 cos is c / (3 sqrt 8) of it beside a
    # shift of the star.
    eps, coma, focal = 0.35, 0.6, 800.0
    optical = galsim.OpticalPSF(
        lam=550.0, diam=0.2, obscuration=eps, coma2=coma / 0.55 / (3.0 * math.sqrt(8.0)), pad_factor=2.0
    )
    sky = galsim.Convolve(optical, galsim.Kolmogorov(fwhm=2.0), galsim.Gaussian(sigma=0.7 / math.sqrt(2.0)))
    step, cells = cells_for(3.76, 550.0, N, 60.0)
    scale = step / 1000.0 / focal * ARCSEC
    theirs = sky.drawImage(nx=cells, ny=cells, scale=scale, method="no_pixel").array * 1.0
    ours = seen_image(
        drawn(Pupil(200.0, eps), Aberrations(coma_x_um=coma), step, cells), Air(2.0, 0.7), focal
    )
    mine, other = numbers_of(ours), numbers_of(StarImage(step, theirs))
    assert mine.fwhm_um == pytest.approx(other.fwhm_um, rel=0.01)
    assert mine.d80_um == pytest.approx(other.d80_um, rel=0.015)
    assert mine.shape.eccentricity == pytest.approx(other.shape.eccentricity, abs=0.02)


def test_air_and_pixels_lose_no_light_and_leave_the_middle_where_it_is():
    step, cells = cells_for(3.76, 450.0, N, 110.0)
    image = drawn(Pupil(200.0, 0.35, Vanes(4, 1.0)), Aberrations(coma_x_um=-0.8), step, cells, RGB)
    seen = seen_image(image, Air(2.5, 0.7), 800.0)
    pixels = on_pixels(seen, 3.76, cells // round(3.76 / step))
    assert seen.values.sum() == pytest.approx(image.values.sum(), abs=0.01)
    assert pixels.sum() == pytest.approx(seen.values.sum(), abs=1e-12)
    assert centroid_um(seen) == pytest.approx(centroid_um(image), abs=0.2)
    middle = (np.arange(pixels.shape[0]) - pixels.shape[0] // 2) * 3.76
    assert float(pixels.sum(axis=0) @ middle / pixels.sum()) == pytest.approx(centroid_um(seen)[0], abs=1e-3)


def test_a_finer_grid_draws_the_same_star(monkeypatch):
    wave = Aberrations(defocus_um=0.4, coma_x_um=-2.0, astig_45_um=0.8)
    usual = drawn(Pupil(200.0, 0.35), wave, 0.6, 251)
    monkeypatch.setattr("server.optics.star_image.COARSEST", 512)
    finer = drawn(Pupil(200.0, 0.35), wave, 0.6, 251)
    assert np.abs(usual.values - finer.values).max() < 0.01 * finer.values.max()


def test_a_wave_too_steep_for_the_finest_grid_is_drawn_by_rays_and_says_so():
    # 4 mm behind the focus at f/2: a disc 2 mm across.
    wave = Aberrations(defocus_um=4000.0 / 32.0)
    assert samples_for(wave, 2.0, 450.0, 1200.0) is None
    image = instrument_image(Pupil(200.0), wave, 2.0, GREEN, 10.0, 251)
    assert image.method == "rays"
    radius = np.hypot(image.places_um[None, :], image.places_um[:, None])
    assert image.values[radius < 1010.0].sum() == pytest.approx(1.0, abs=1e-3)
    assert image.values[radius < 500.0].sum() == pytest.approx(0.25, abs=0.01)


def test_waves_and_rays_agree_where_both_hold(monkeypatch):
    wave = Aberrations(defocus_um=6.0, coma_x_um=-9.0, coma_y_um=3.0, astig_0_um=3.0)
    waves = numbers_of(drawn(Pupil(200.0, 0.35), wave, 2.4, 261))
    monkeypatch.setattr("server.optics.star_image.samples_for", lambda *_: None)
    rays = numbers_of(drawn(Pupil(200.0, 0.35), wave, 2.4, 261))
    assert waves.d80_um == pytest.approx(rays.d80_um, rel=0.05)
    assert waves.centroid_um == pytest.approx(rays.centroid_um, abs=1.5)


def test_a_round_blur_of_unknown_wave_widens_the_star_by_its_own_square():
    plain = drawn(step=2.0, cells=301)
    wide = drawn(wave=Aberrations(blur_um=60.0), step=2.0, cells=301)
    # A normal blur of 60 um RMS radius: half of its light within 60 sqrt(ln 2) = 49.953 um.
    assert numbers_of(wide).d50_um == pytest.approx(2 * 49.953, rel=0.02)
    assert wide.values.sum() == pytest.approx(plain.values.sum(), abs=2e-3)


def test_cells_fill_pixels_whole_and_an_odd_number_of_them():
    step, cells = cells_for(3.76, 450.0, 4.0, 40.0)
    per = round(3.76 / step)
    assert per * step == pytest.approx(3.76)
    assert step <= 0.45 * 4.0 / 3.0 + 1e-12
    assert (cells // per) % 2 == 1
    assert cells % per == 0
    assert cells * step / 2.0 >= 40.0


def test_what_cannot_be_drawn_is_refused_in_words():
    with pytest.raises(ValueError, match="no wavelength"):
        drawn(band=())
    with pytest.raises(ValueError, match="weights"):
        drawn(band=((550.0, -1.0),))
    with pytest.raises(ValueError, match="whole number of cells"):
        on_pixels(drawn(cells=21), 1.0, 3)
    with pytest.raises(ValueError, match="seeing is 40"):
        seen_image(drawn(cells=21), Air(40.0), 800.0)


def test_the_finest_grid_is_a_few_megabytes():
    assert pupil_mask(Pupil(200.0, 0.3), FINEST).nbytes < 5e6


@pytest.mark.parametrize("pixel", [1.0, 2.5, 6.0])
def test_a_pixel_adds_a_twelfth_of_its_square_to_a_stars_second_moment_and_keeps_its_light(pixel):
    # The variance of an even box, p^2 / 12, adds to that of what it is folded with (any text on probability).
    places = (np.arange(161) - 80.0) * 0.25
    row = np.exp(-0.5 * (places / 2.0) ** 2)
    star = StarImage(0.25, np.outer(row, row) / row.sum() ** 2)
    found = collected_image(star, pixel)
    assert found.values.sum() == pytest.approx(1.0, abs=1e-9)
    assert centroid_um(found) == pytest.approx((0.0, 0.0), abs=1e-9)
    moment = float(found.values.sum(axis=0) @ places**2)
    assert moment == pytest.approx(4.0 + pixel**2 / 12.0, rel=1e-3)
