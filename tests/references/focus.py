"""Check values for depth of focus.

Rayleigh's quarter-wave limit: the quarter wave and the 80 % peak stand in Born & Wolf, Principles of
Optics, sec. 9 (from memory). Peak at a quarter wave: (sin(pi/4) / (pi/4))^2 = 8/pi^2, exactly.
"""

#: Focal ratio, one-sided depth in um at 550 nm.
DEPTH_550_NM = ((3.6, 14.256), (4.0, 17.6), (5.0, 27.5), (7.0, 53.9), (8.0, 70.4), (10.0, 110.0))
DEPTH_TOLERANCE_UM = 1e-9

#: Linear obstruction, peak at the one-sided depth of focus of a clear aperture.
STREHL_AT_DEPTH = ((0.0, 0.81057), (0.35, 0.85137))
STREHL_TOLERANCE = 1e-5
