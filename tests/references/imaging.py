"""Check values for scale, field and sampling.

Scales and fields: rectilinear projection, 206 264.806 arcsec to the radian. Nyquist: cut-off 1/(lambda N)
of an aberration-free system (Born & Wolf, Principles of Optics, sec. 9.5, from memory), two samples a
period. THROUGH_CORRECTOR: thin-lens systems traced by the open ray tracer optiland 0.6.3 with two ideal
surfaces.
"""

#: Pixel in um, focal length in mm, arcsec per pixel.
SCALES = ((3.76, 400.0, 1.938889), (3.76, 800.0, 0.969445), (9.0, 2000.0, 0.928192))
SCALE_TOLERANCE_ARCSEC = 1e-6

#: Width and height in mm, focal length in mm; angles of width, height and diagonal in degrees.
FIELDS = (
    (23.5, 15.7, 400.0, (3.36516, 2.24857, 4.04655)),
    (36.0, 24.0, 800.0, (2.57788, 1.71874, 3.09799)),
    (36.0, 24.0, 135.0, (15.18929, 10.15922, 18.20812)),
)
FIELD_TOLERANCE_DEG = 1e-5

#: Focal ratio, largest pixel in um at 550 nm.
NYQUIST_550_NM = ((4.0, 1.100), (5.0, 1.375), (8.0, 2.200))
NYQUIST_TOLERANCE_UM = 1e-9

#: Focal length of the tube in mm, factor, traced focal length of the system in mm.
THROUGH_CORRECTOR = (
    (700.0, 0.8, 560.0),
    (700.0, 0.792727273, 554.90909),
    (2000.0, 0.612380952, 1224.76190),
    (700.0, 2.333333333, 1633.33333),
)
FOCAL_LENGTH_TOLERANCE_MM = 1e-5
