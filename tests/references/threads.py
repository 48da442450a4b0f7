"""Check values for screw threads.

METRIC: roots as printed beside the basic diameters of ISO 724. INCH: worked from 25.4 mm to the inch.
"""

#: Nominal diameter, pitch; root of the male thread d3; mm.
METRIC = (
    (10.0, 1.0, 8.773),
    (12.0, 1.5, 10.160),
    (20.0, 1.0, 18.773),
)
PRINTED_TOLERANCE_MM = 0.0005 + 1e-9

#: Turns per inch; pitch, mm.
INCH = ((32.0, 0.79375), (24.0, 1.05833))
INCH_TOLERANCE_MM = 1e-5
