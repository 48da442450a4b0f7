"""Check values for a star's full width through air, annular aperture and square pixel.

Kolmogorov seeing, 550 nm, pixel of 3.76 um, measured along the pixel's side: by the open image simulator
galsim 2.8.5 and by a direct two-dimensional transfer-function integral, which differ by at most 0.06 %.
"""

PIXEL_UM = 3.76
WAVELENGTH_NM = 550.0
SEEING_ARCSEC = (1.0, 2.0, 3.0)
#: Aperture and focal length in mm, linear obstruction; width in arcsec at SEEING_ARCSEC.
WIDTHS = (
    (80.0, 400.0, 0.0, (2.316, 2.921, 3.721)),
    (100.0, 700.0, 0.0, (1.737, 2.497, 3.402)),
    (150.0, 600.0, 0.35, (1.745, 2.550, 3.449)),
    (200.0, 800.0, 0.35, (1.495, 2.357, 3.294)),
    (200.0, 2000.0, 0.35, (1.279, 2.253, 3.223)),
    (280.0, 1960.0, 0.35, (1.220, 2.173, 3.154)),
)
RELATIVE_TOLERANCE = 1e-3
