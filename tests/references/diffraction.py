"""Check values for the star image of a round aperture.

AIRY and AMPLITUDES: tables of special functions and textbooks. ANNULUS: first dark ring and full width of
the annular aperture of Born & Wolf, Principles of Optics, sec. 8.5-8.6 (formula from memory), solved by two
independent programs that agree to 2e-4. HALF_LAMBDA_OVER_D: the same point from three open Fourier-optics
packages (prysm 0.21, poppy 1.1, hcipy 0.7), which agree to 5e-5. MTF: O'Neill, J. Opt. Soc. Am. 46, 285
(1956) (from memory), confirmed by the overlap areas of discs to 1e-6 and by a numerical autocorrelation to
3e-5.
"""

#: Abramowitz & Stegun, Handbook of Mathematical Functions, table 9.1 (from memory): x, J1(x).
BESSEL_J1 = (
    (0.0, 0.0),
    (1.0, 0.4400505857),
    (2.0, 0.5767248078),
    (5.0, -0.3275791376),
    (10.0, 0.0434727462),
)
#: Abramowitz & Stegun, table 9.5 (from memory): the first zeros of J1, DLMF notation j_(1,k).
ZEROS_OF_J1 = (3.8317059702, 7.0155866698, 10.1734681351)

#: Linear obstruction, first dark ring, full width at half maximum; lambda/D.
ANNULUS = (
    (0.0, 1.219670, 1.02899),
    (0.20, 1.166507, 1.00675),
    (0.30, 1.114518, 0.98111),
    (0.33, 1.097683, 0.97198),
    (0.40, 1.057666, 0.94864),
    (0.50, 1.000906, 0.91167),
)
ANNULUS_TOLERANCE = 2e-4

#: Linear obstruction, height of the first bright ring against the peak.
FIRST_RING_PEAK = ((0.0, 0.01750), (0.20, 0.03035), (0.33, 0.05397), (0.50, 0.09634))
FIRST_RING_TOLERANCE = 2e-5

#: Linear obstruction, intensity at half a lambda/D from the centre.
HALF_LAMBDA_OVER_D = ((0.0, 0.52085), (0.33, 0.47852), (0.50, 0.42770))
HALF_LAMBDA_OVER_D_TOLERANCE = 5e-5

MTF_FREQUENCIES = (0.1, 0.25, 0.5, 0.75, 0.9)
#: Linear obstruction, contrast at MTF_FREQUENCIES (shares of the cut-off).
MTF = (
    (0.0, (0.872889, 0.685038, 0.391002, 0.144294, 0.037386)),
    (0.20, (0.842217, 0.630248, 0.367397, 0.150306, 0.038944)),
    (0.33, (0.810935, 0.541197, 0.325159, 0.161928, 0.041955)),
    (0.50, (0.746205, 0.377051, 0.223596, 0.192391, 0.049848)),
)
MTF_TOLERANCE = 1e-5

#: Linear obstruction, diameters (lambda N) that hold half and four fifths of the light, and the share of it
#: inside the radius 1.2197 lambda N. Source: the integral of the annular intensity over circles (Born &
#: Wolf, sec. 8.5.2, from memory), solved by two independent programs that agree to 2e-4.
ENCIRCLED = (
    (0.0, 1.0697, 1.7939, 0.83778),
    (0.20, 1.1172, 3.1045, 0.76392),
    (0.33, 1.2239, 3.4818, 0.65650),
    (0.50, 2.5065, 3.8766, 0.49300),
)
#: Strehl ratio of a quarter wave of defocus: (sin(pi / 4) / (pi / 4))^2; with an obstruction of 0.35 the
#: quarter wave is shortened by 1 - 0.35^2. Mahajan, Optical Imaging and Aberrations, part II (from memory).
QUARTER_WAVE_STREHL = ((0.0, 0.81057), (0.35, 0.85137))
