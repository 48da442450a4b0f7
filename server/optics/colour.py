"""How far apart a lens of two glasses brings the colours to focus: the secondary spectrum.

Two thin lenses in contact, joined for F and C. What is left bends like a parabola about the green, steeper in
the violet. Not modelled: the lenses' thickness and gap, spherical aberration that changes with colour.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

from server.optics.ranges import checked, checked_focal_ratio, checked_length_mm

#: Fraunhofer's lines, nm. Source: ISO 7944 for d, the others as every glass catalogue has them.
LINE_C, LINE_D, LINE_F = 656.27, 587.56, 486.13
BLUEST_NM, REDDEST_NM = 350.0, 1100.0


@dataclass(frozen=True)
class Glass:
    """A glass by its Sellmeier coefficients: n^2 = 1 + sum B L^2 / (L^2 - C), L in um, against air."""

    b: tuple[float, float, float]
    c: tuple[float, float, float]

    def index(self, nm: float) -> float:
        """The refractive index at a wavelength of 350 to 1100 nm. Raises ValueError outside."""
        um2 = (
            checked("The wavelength", nm, BLUEST_NM, REDDEST_NM, "nm", "Give visible light.") / 1000.0
        ) ** 2
        return math.sqrt(1.0 + sum(b * um2 / (um2 - c) for b, c in zip(self.b, self.c, strict=True)))

    @property
    def dispersion(self) -> float:
        """Abbe's number for d, F and C."""
        return (self.index(LINE_D) - 1.0) / (self.index(LINE_F) - self.index(LINE_C))


# Source of the first two: the glass maker's catalogue of 2017 in the public-domain (CC0) refractive-index
# database. The other three are from a public copy of such tables, the database itself not seen; all agree
# with their codes 517642, 620364, 673322, 487845, 613445 (index and Abbe's number, three digits each).
N_BK7 = Glass((1.03961212, 0.231792344, 1.01046945), (0.00600069867, 0.0200179144, 103.560653))
F2 = Glass((1.34533359, 0.209073176, 0.937357162), (0.00997743871, 0.0470450767, 111.886764))
N_SF5 = Glass((1.52481889, 0.187085527, 1.42729015), (0.011254756, 0.0588995392, 129.141675))
N_FK51A = Glass((0.971247817, 0.216901417, 0.904651666), (0.00472301995, 0.0153575612, 168.68133))
N_KZFS4 = Glass((1.35055424, 0.197575506, 1.09962992), (0.0087628207, 0.0371767201, 90.3866994))

PAIRS: dict[str, tuple[Glass, Glass]] = {
    "crown_flint": (N_BK7, F2),
    "crown_dense_flint": (N_BK7, N_SF5),
    "fluor_crown_short_flint": (N_FK51A, N_KZFS4),
}
USUAL_PAIR = "crown_flint"


@lru_cache(1024)
def focus_shift(pair: str, nm: float) -> float:
    """Return how much longer the focal length is at a wavelength than at d, as a share of it.

    pair: a key of `PAIRS`. nm: 350 to 1100. Raises ValueError outside. Source: thin lenses in contact, powers
    V1 / (V1 - V2) and -V2 / (V1 - V2); Smith, Modern Optical Engineering (from memory).
    """
    crown, flint = PAIRS[pair]
    v1, v2 = crown.dispersion, flint.dispersion
    power = sum(
        share * (glass.index(nm) - 1.0) / (glass.index(LINE_D) - 1.0)
        for glass, share in ((crown, v1 / (v1 - v2)), (flint, -v2 / (v1 - v2)))
    )
    return 1.0 / power - 1.0


@lru_cache(256)
def focus_span(pair: str, low_nm: float, high_nm: float) -> float:
    """Return the longest less the shortest focal length over a band, as a share of it.

    low_nm, high_nm: 350 to 1100. Raises ValueError outside. Source: `focus_shift` at 61 wavelengths: right to
    a thousandth of it, and exact for a band on one side of the green.
    """
    found = [focus_shift(pair, low_nm + (high_nm - low_nm) * i / 60.0) for i in range(61)]
    return max(found) - min(found)


def blur_um(span_mm: float, focal_ratio: float) -> float:
    """Return the diameter, um, that the first and last colour draw with the focus midway between theirs.

    span_mm: of the foci at the sensor, 0 to 100 000. focal_ratio: there. Raises ValueError outside.
    Source: similar triangles, half the span over N.
    """
    return 500.0 * checked_length_mm("The span of the foci", span_mm) / checked_focal_ratio(focal_ratio)
