"""Check values for depth of focus.

Rayleigh's quarter-wave limit: the quarter wave and the 80 % peak stand in Born & Wolf, Principles of
Optics, sec. 9 (from memory). Peak at a quarter wave: (sin(pi/4) / (pi/4))^2 = 8/pi^2, exactly.
"""

import math


def strehl_at_defocus(defocus_mm, focal_ratio, wavelength_nm, obstruction):
    """The star's peak as a share of its peak in focus: (sin(pi W) / (pi W))^2, W the defocus in waves between
    the pupil's inner and outer edge (Born & Wolf, sec. 8.8, from memory). Not for 0.
    """
    edge_waves = defocus_mm / (8.0 * focal_ratio**2 * wavelength_nm * 1e-6)
    phase = math.pi * edge_waves * (1.0 - obstruction**2)
    return (math.sin(phase) / phase) ** 2


def blur_um(defocus_mm, focal_ratio):
    """The diameter of the cone at that way from its tip: similar triangles."""
    return abs(defocus_mm) * 1000.0 / focal_ratio


#: Focal ratio, one-sided depth in um at 550 nm.
DEPTH_550_NM = ((3.6, 14.256), (4.0, 17.6), (5.0, 27.5), (7.0, 53.9), (8.0, 70.4), (10.0, 110.0))
DEPTH_TOLERANCE_UM = 1e-9

#: Linear obstruction, peak at the one-sided depth of focus of a clear aperture.
STREHL_AT_DEPTH = ((0.0, 0.81057), (0.35, 0.85137))
STREHL_TOLERANCE = 1e-5
