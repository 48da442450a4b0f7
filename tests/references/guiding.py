"""Check values for guide stars.

COUNTS: Tycho-2 and UCAC4 over the whole sky, a published table. FIELDS: Poisson, worked by hand. RATIOS:
signal to noise by astropy.stats.signal_to_noise_oir_ccd. EXPOSURES: the same, worked from the photon zero
point.
"""

#: V magnitude, stars brighter in a square degree.
COUNTS = (
    (8.0, 1.18),
    (9.0, 3.38),
    (10.0, 9.28),
    (11.0, 25.41),
    (12.0, 71.65),
    (13.0, 178.1),
    (14.0, 417.3),
    (15.0, 954.8),
    (16.0, 2154.9),
)

#: Galactic latitude, V magnitude, stars in a square degree by the Galaxy model of Bahcall and Soneira (ApJS
#: 44, 73, 1980) scaled to Gaia's count at magnitude 10; how far a spread of bright stars' slopes may be off
#: it, as a share of it.
MODEL = (
    (30.0, 12.0, 40.3, 0.36),
    (30.0, 14.0, 228.0, 0.36),
    (30.0, 16.0, 1010.0, 0.36),
    (60.0, 13.0, 54.0, 0.15),
    (60.0, 16.0, 450.0, 0.15),
    (80.0, 16.0, 370.0, 0.15),
)
#: Focal length of the guiding telescope, stars in a square degree; field of 4.8 x 3.6 mm, stars on it (None:
# not
#: printed), chance of one.
FIELDS = (
    (800.0, 10.65, 0.08864, 0.9439, 0.6109),
    (2000.0, 23.30, 0.01418, None, 0.2814),
    (800.0, 56.90, 0.08864, None, 0.9935),
)
FIELD_TOLERANCE = 1e-4

#: Exposure, star, sky, dark, read noise, pixels; ratio.
RATIOS = (
    (300.0, 50.0, 4.0, 0.02, 3.5, 30.0, 66.0674),
    (60.0, 2.0, 1.2, 0.005, 1.6, 40.0, 2.15028),
)
RATIO_TOLERANCE = 1e-5

#: Aperture, obstruction, focal length, pixel, efficiency, magnitude of star and sky, read noise, dark,
# exposure,
#: pixels; signal of the star and of the sky on a pixel (electrons per s), ratio in one exposure.
EXPOSURES = (
    (200.0, 0.35, 800.0, 3.76, 0.64, 20.0, 20.5, 1.5, 0.002, 300.0, 7.5212, 1.5508, 0.91958, 9.1920),
    (80.0, 0.0, 400.0, 3.76, 0.75, 18.0, 21.0, 1.6, 0.003, 120.0, 7.5212, 2.0907, 0.49591, 9.3472),
)
EXPOSURE_TOLERANCE = 1e-3
