"""The scale of a picture by the world coordinates in its header, and what it says of the focal length.

Conventions: Greisen & Calabretta 2002 (A&A 395, 1061), Calabretta & Greisen 2002 (A&A 395, 1077); SIP
polynomials: Shupe et al. 2005 (ASP Conf. Ser. 347, 491).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from server.out_of_range import OutOfRangeError

#: Arc seconds in a radian, over 1000: um by mm.
ARCSEC_BY_UM_PER_MM = 180.0 * 3600.0 / math.pi / 1000.0
_MOST_ORDER = 9


@dataclass(frozen=True)
class Plate:
    """World coordinates of a picture, in the degrees and pixels of the standard.

    Attributes:
        matrix: degrees per pixel, ((dx/di, dx/dj), (dy/di, dy/dj)).
        reference: the reference pixel, the first pixel's centre at 1.
        distortion_u, distortion_v: SIP's A and B, coefficients by the powers of u and v.
    """

    matrix: tuple[tuple[float, float], tuple[float, float]]
    reference: tuple[float, float]
    distortion_u: Mapping[tuple[int, int], float]
    distortion_v: Mapping[tuple[int, int], float]

    @property
    def scale_arcsec(self) -> float:
        """Arc seconds per pixel at the reference pixel."""
        return 3600.0 * math.sqrt(abs(self._det(self.matrix)))

    @property
    def mirrored(self) -> bool:
        """Whether east lies to the right of north where rows rise upwards."""
        return self._det(self.matrix) > 0.0

    def scale_at(self, column: float, row: float) -> float:
        """Return arc seconds per pixel at a pixel counted from 1."""
        u, v = column - self.reference[0], row - self.reference[1]
        slopes = [[float(number == 0), float(number == 1)] for number in range(2)]
        for number, terms in enumerate((self.distortion_u, self.distortion_v)):
            for (p, q), value in terms.items():
                slopes[number][0] += value * p * u ** (p - 1) * v**q if p else 0.0
                slopes[number][1] += value * q * u**p * v ** (q - 1) if q else 0.0
        (a, b), (c, d) = self.matrix
        (e, f), (g, h) = slopes
        return 3600.0 * math.sqrt(
            abs(self._det(((a * e + b * g, a * f + b * h), (c * e + d * g, c * f + d * h))))
        )

    @staticmethod
    def _det(matrix: tuple[tuple[float, float], tuple[float, float]]) -> float:
        (a, b), (c, d) = matrix
        return a * d - b * c


def plate_of(header: Mapping[str, object]) -> Plate | None:
    """Return the world coordinates of a header, None where it has none.

    CD, or PC with CDELT, or CDELT with CROTA2. Raises OutOfRangeError where they give no scale.
    """

    def number(key: str, usual: float | None = None) -> float | None:
        value = header.get(key, usual)
        return float(value) if isinstance(value, int | float) and math.isfinite(value) else None

    def pair(first: str, second: str, usual: tuple[float, float]) -> tuple[float, float]:
        one, two = number(first, usual[0]), number(second, usual[1])
        return (one if one is not None else usual[0], two if two is not None else usual[1])

    if any(f"CD{i}_{j}" in header for i in (1, 2) for j in (1, 2)):
        matrix = (pair("CD1_1", "CD1_2", (0.0, 0.0)), pair("CD2_1", "CD2_2", (0.0, 0.0)))
    else:
        across, up = number("CDELT1"), number("CDELT2")
        if (
            across is None
            or up is None
            or not str(header.get("CTYPE1", "")).startswith(("RA", "DEC", "GLON", "GLAT"))
        ):
            return None
        if any(f"PC{i}_{j}" in header for i in (1, 2) for j in (1, 2)):
            one, two = pair("PC1_1", "PC1_2", (1.0, 0.0)), pair("PC2_1", "PC2_2", (0.0, 1.0))
            matrix = ((across * one[0], across * one[1]), (up * two[0], up * two[1]))
        else:
            turn = math.radians(number("CROTA2", 0.0) or 0.0)
            matrix = (
                (across * math.cos(turn), -up * math.sin(turn)),
                (across * math.sin(turn), up * math.cos(turn)),
            )
    if not abs(matrix[0][0] * matrix[1][1] - matrix[0][1] * matrix[1][0]) > 0.0:
        raise OutOfRangeError("The header's world coordinates give no scale: their matrix has no area.")
    return Plate(matrix, pair("CRPIX1", "CRPIX2", (0.0, 0.0)), _terms(header, "A"), _terms(header, "B"))


def _terms(header: Mapping[str, object], letter: str) -> dict[tuple[int, int], float]:
    found = {}
    for p in range(_MOST_ORDER + 1):
        for q in range(_MOST_ORDER + 1 - p):
            value = header.get(f"{letter}_{p}_{q}")
            if isinstance(value, int | float) and math.isfinite(value) and value:
                found[p, q] = float(value)
    return found


def focal_length_mm(scale_arcsec: float, pixel_um: float) -> float:
    """Return the focal length at which a pixel, as large as the picture has it, covers so many arc seconds.

    Raises OutOfRangeError unless both are above 0.
    """
    if not (scale_arcsec > 0.0 and pixel_um > 0.0):
        raise OutOfRangeError(
            f"A scale of {scale_arcsec:g} arcsec with pixels of {pixel_um:g} um gives no focal length."
        )
    return ARCSEC_BY_UM_PER_MM * pixel_um / scale_arcsec
