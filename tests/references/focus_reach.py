"""Check values for correctors off their spacing, two mirrors, tubes in the cold and a tilted sensor.

THIN_LENSES: Gaussian optics, worked by hand; the whole focal lengths also by a ray trace of two paraxial
surfaces (optiland 0.6.3). TRACED_MIRRORS: a Ritchey-Chretien of 200 mm aperture whose secondary was moved,
traced exactly with batoid 0.9.0: rays at 1 mm and 100 mm height. DRIFTS: arithmetic with the handbook's
coefficients.
"""

#: Factor, its distance, distance now; factor now, in-travel, bare focal length, whole focal length (None: not
#: worked); mm.
THIN_LENSES = (
    (0.80, 55.0, 55.0, 0.8, 13.75, 700.0, 560.0),
    (0.80, 55.0, 57.0, 0.792727, 14.9037, 700.0, 554.909),
    (0.63, 105.0, 110.0, 0.612381, None, 2000.0, 1224.762),
    (2.0, 60.0, 60.0, 2.0, None, 700.0, 1400.0),
    (2.0, 60.0, 80.0, 2.333333, None, 700.0, 1633.333),
)
FACTOR_TOLERANCE = 1e-6
LENGTH_TOLERANCE_MM = 1e-3

#: Focal length of primary, magnification, back focus behind the primary; separation (1 - k) f1, radius of the
#: secondary, its conic constant (Schroeder, Astronomical Optics, chapter 6, from memory).
RITCHEY_CHRETIEN = (600.0, 8.0 / 3.0, 180.0)
SEPARATION_MM = 387.27273
SECONDARY_RADIUS_MM = 680.72727
SECONDARY_CONIC = -6.624789
PRIMARY_CONIC = -1.154489
MIRROR_TOLERANCE_MM = 1e-4

#: Change of the separation; focus behind the primary near the axis, from the edge; focal length near the
# axis; mm.
TRACED_MIRRORS = (
    (0.0, 180.0, 180.00309, 1599.9997),
    (-5.0, 222.00512, 221.29436, 1665.2330),
    (-2.0, 196.44860, 196.18684, 1625.4699),
    (2.0, 163.99722, 164.24020, 1575.3153),
    (10.0, 104.05558, 105.04648, 1483.7516),
)
TRACED_FOCUS_TOLERANCE_MM = 2e-4
TRACED_FOCAL_TOLERANCE_MM = 2e-3

#: Length, expansion per K, change of temperature; growth in um. 23.1e-6: aluminium; 12.0e-6: steel; 1.2e-6:
# Invar.
DRIFTS = (
    (800.0, 23.1e-6, 10.0, 184.8),
    (800.0, 12.0e-6, 10.0, 96.0),
    (800.0, 1.2e-6, 10.0, 9.6),
)
DRIFT_TOLERANCE_UM = 0.01
#: m = 8/3: (m^2 + 1), also traced at +-10 um.
FOCUS_FACTOR = 8.1111
#: An aluminium tube of 387 mm between the mirrors, 10 K: growth 89.5 um, focus 0.726 mm.
MIRROR_TUBE = (387.27273, 10.0, 0.0895, 0.726)
