"""Check values for discs that overlap and stops in a converging beam (plane geometry).

OVERLAPS: by two independent ways, the closed form and polygons of many sides. STOPS: the same for a cone of
light (beam diameter x/N, offset h(1 - x/L)). FALLOFF: the cosine-fourth law; 30 degrees is (3/4)^2 exactly.
"""

import math

#: First radius, second radius, distance of the centres, common area; mm and mm^2.
OVERLAPS = (
    (1.0, 1.0, 1.0, 1.228370),
    (10.0, 15.0, 12.0, 193.089186),
    (18.0, 10.0, 20.0, 101.150213),
    (3.0, 10.0, 5.0, 28.274334),
    (10.0, 15.0, 25.0, 0.0),
)
OVERLAP_TOLERANCE_MM2 = 1e-6

#: Clear diameter, distance, focal ratio, exit pupil, image height; beam diameter, offset, share of the light.
STOPS = (
    (31.0, 20.0, 4.0, math.inf, 14.0, 5.000, 14.0000, 0.848163),
    (28.0, 25.0, 4.0, math.inf, 14.0, 6.250, 14.0000, 0.476287),
    (44.0, 17.5, 5.0, 600.0, 21.6, 3.500, 20.9700, 0.847147),
    (46.0, 55.0, 5.0, 700.0, 21.6, 11.000, 19.9029, 0.822555),
)
STOP_TOLERANCE = 1e-5
OFFSET_TOLERANCE_MM = 1e-4

#: Field angle in degrees, brightness against the centre.
FALLOFF = ((0.0, 1.0), (1.0, 0.999391), (2.0, 0.997566), (5.0, 0.984865), (10.0, 0.940602), (30.0, 0.5625))
FALLOFF_TOLERANCE = 1e-6

#: Middle (x, y) and radius of three discs, and their common area by a count of small squares and by polygons.
THREE_DISCS = ((0.0, 0.0, 10.0), (6.0, 0.0, 12.0), (0.0, 5.0, 9.0))
THREE_DISCS_AREA = 157.9164
THREE_DISCS_TOLERANCE = 1e-3
