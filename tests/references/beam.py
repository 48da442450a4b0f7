"""Light through openings behind lenses, reducers and two mirrors, counted by rays.

Each case was counted by two million real rays through the same thin lenses and openings (sampling error 0.03
% of the light), independently of the project. Lengths in mm. The exit pupil's distance of the two-mirror
cases also by batoid: 743.2833 for the Ritchey-Chretien's conics, 611.4002 for the spheres.
"""

from typing import NamedTuple


class Case(NamedTuple):
    """A tube (a lens, or two mirrors by f1, m, separation), a corrector, an opening, a star's height, its
    light.

    stop_mm: the aperture stop before the primary. corrector: factor and distance before the sensor.
    """

    aperture_mm: float
    obstruction: float
    focal_mm: float
    mirrors: tuple[float, float, float] | None
    stop_mm: float
    corrector: tuple[float, float] | None
    height_mm: float
    opening_mm: float
    at_mm: float
    pupil_mm: float
    light: float


RC = (660.0, 2.7, 455.0)
SPHERES = (470.0, 4.9, 365.0)
CASES = (
    Case(92.0, 0.0, 598.0, None, 0.0, None, 21.64, 46.0, 88.0, 598.0, 0.8778),
    Case(90.0, 0.0, 540.0, None, 0.0, (0.80, 62.0), 21.64, 42.0, 40.0, -878.16, 0.2427),
    Case(90.0, 0.0, 540.0, None, 0.0, (0.80, 62.0), 21.64, 50.0, 150.0, -878.16, 0.7261),
    Case(115.0, 0.0, 805.0, None, 0.0, (0.67, 88.0), 21.64, 46.0, 70.0, -353.39, 0.2325),
    Case(235.0, 0.36, 2303.0, SPHERES, 0.0, None, 14.4, 36.0, 140.0, 611.40, 0.9945),
    Case(235.0, 0.36, 2303.0, SPHERES, 0.0, (0.63, 96.0), 14.4, 38.0, 128.0, -500.80, 0.6020),
    Case(235.0, 0.36, 2303.0, SPHERES, 365.0, (0.63, 96.0), 14.4, 38.0, 128.0, -460.79, 0.5840),
    Case(220.0, 0.46, 1782.0, RC, 0.0, None, 21.64, 50.0, 190.0, 743.28, 0.8888),
    Case(220.0, 0.46, 1782.0, RC, 0.0, (0.75, 94.0), 21.64, 45.0, 70.0, -866.32, 0.4027),
    Case(220.0, 0.30, 900.0, None, 0.0, (1.15, 68.0), 21.64, 44.0, 60.0, 362.54, 0.8348),
)
LIGHT_TOLERANCE = 6e-4
PUPIL_TOLERANCE_MM = 0.01
#: The Ritchey-Chretien with its reducer, an opening of 48 by 38 mm at (2, -1.5), 70 mm before the sensor.
OVAL_LIGHT = 0.6673
