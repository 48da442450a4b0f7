"""What is left of a line behind an interference filter in a cone.

Worked independently of the project by sums over the rays of the cone with the unabridged law (Lissberger):
lambda0 sqrt(1 - sin^2 theta / n^2). Line nm, effective index, focal ratio, obstruction; mean shift nm; band
width nm, share left of a bell-shaped band and of one with steep sides.
"""

import math


def slant_shift_nm(line_nm, slope_rad, index):
    """How far the band moves to the blue for a ray so far from square, by that law."""
    return line_nm * (1.0 - math.sqrt(1.0 - (math.sin(slope_rad) / index) ** 2))


CASES = (
    (656.28, 1.8, 1.9, 0.0, 3.36, 3.0, 0.232, 0.217),
    (656.28, 1.8, 1.9, 0.0, 3.36, 6.5, 0.504, 0.477),
    (656.28, 1.8, 1.9, 0.0, 3.36, 12.0, 0.773, 0.905),
    (656.28, 2.0, 2.8, 0.0, 1.28, 3.0, 0.595, 0.583),
    (656.28, 2.0, 2.8, 0.0, 1.28, 5.0, 0.802, 0.985),
    (656.28, 2.0, 2.8, 0.0, 1.28, 6.5, 0.873, 1.0),
    (656.28, 1.8, 4.0, 0.35, 0.88, 3.0, 0.768, 0.955),
    (656.28, 1.8, 4.0, 0.35, 0.88, 5.0, 0.905, 1.0),
    (500.68, 2.0, 5.0, 0.0, 0.31, 3.0, 0.962, 1.0),
    (500.68, 1.8, 7.0, 0.0, 0.20, 3.0, 0.984, 1.0),
)
#: Share of light. The sums take a flat pupil, whose edge ray has tan u = 1 / (2 N); optics free of coma keep
#: the sine condition, sin u = 1 / (2 N), whose edge is shifted 1 / (4 N^2) more: 7 % at f/1.9, 3 % at f/2.8.
FAST_TOLERANCE, TOLERANCE = 0.05, 0.03
SHIFT_TOLERANCE_NM = 0.15
#: A filter of 5 nm made for f/1.9 (index 2), there and at f/5: share left of a bell-shaped band.
PLAIN_AT_F19, MADE_AT_F19, MADE_AT_F5 = 0.481, 0.788, 0.545
