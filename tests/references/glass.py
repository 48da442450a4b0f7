"""Check values for a plane-parallel plate in the converging beam.

PLATES: Snell's law for the marginal ray (Smith, Modern Optical Engineering, plane-parallel plate, from
memory). TRACED: the same by the open ray tracer optiland 0.6.3. Sellmeier coefficients: N-BK7 as published
with the glass (code 517642); fused silica from Malitson, J. Opt. Soc. Am. 55, 1205 (1965), equation 1 (both
from memory).
"""

#: n^2 - 1 = sum of B w^2 / (w^2 - C), w in um, C in um^2.
N_BK7_SELLMEIER = (
    (1.03961212, 0.00600069867),
    (0.231792344, 0.0200179144),
    (1.01046945, 103.560653),
)
FUSED_SILICA_SELLMEIER = (
    (0.6961663, 0.0684043**2),
    (0.4079426, 0.1162414**2),
    (0.8974794, 9.896161**2),
)
#: Helium d line, um.
D_LINE_UM = 0.5875618
INDEX_TOLERANCE = 2e-6

FOCAL_RATIOS = (None, 2.0, 2.8, 4.0, 5.0, 8.0)
#: Glass, thickness in mm, shift in mm at FOCAL_RATIOS (None: the ray near the axis).
PLATES = (
    ("N-BK7", 1.0, (0.34072, 0.35207, 0.34658, 0.34361, 0.34257, 0.34144)),
    ("N-BK7", 2.0, (0.68143, 0.70413, 0.69316, 0.68722, 0.68515, 0.68289)),
    ("N-BK7", 3.0, (1.02215, 1.05620, 1.03974, 1.03083, 1.02772, 1.02433)),
    ("fused silica", 1.0, (0.31435, 0.32543, 0.32007, 0.31717, 0.31616, 0.31506)),
    ("fused silica", 2.0, (0.62869, 0.65085, 0.64013, 0.63434, 0.63231, 0.63011)),
    ("fused silica", 3.0, (0.94304, 0.97628, 0.96020, 0.95150, 0.94847, 0.94517)),
)
SHIFT_TOLERANCE_MM = 2e-5

#: Index, thickness in mm, focal ratio (None: near the axis), traced shift in mm.
TRACED = (
    (1.5, 2.0, 2.0, 0.689229),
    (1.5, 2.0, None, 0.666667),
    (1.5168, 3.0, 4.0, 1.030830),
    (1.5168, 3.0, 5.0, 1.027719),
)
TRACED_TOLERANCE_MM = 1e-6
