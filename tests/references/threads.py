"""Check values for screw threads.

METRIC: basic diameters as printed in tables of ISO 724 (M10x1, M12x1.5, M20x1; M10x0.75 also in tap
catalogues, which give no root). INCH: profile of ASME B1.1 (from memory), worked from 25.4 mm to the inch.
"""

#: Nominal diameter, pitch; pitch diameter d2, minor diameter D1, root of the male thread d3 (None: not
#: printed); mm.
METRIC = (
    (10.0, 1.0, 9.350, 8.917, 8.773),
    (12.0, 1.5, 11.026, 10.376, 10.160),
    (20.0, 1.0, 19.350, 18.917, 18.773),
    (10.0, 0.75, 9.513, 9.188, None),
)
PRINTED_TOLERANCE_MM = 0.0005 + 1e-9

#: Nominal diameter in mm, turns per inch; pitch, pitch diameter, minor diameter; mm.
INCH = (
    (25.4, 32.0, 0.79375, 24.8844, 24.5407),
    (50.8, 24.0, 1.05833, 50.1126, 49.6543),
)
INCH_TOLERANCE_MM = 1e-4
