"""How light lies in a target, by its kind: enough for a sketch and for asking how bright its parts may be.

A target is an ellipse as a catalogue has it. A radius is a share: 0 in the middle, 1 on the ellipse's edge,
wherever one goes out. Kinds are the codes of the OpenNGC catalogue ("G", "GCl", "PN" ...), and `hubble` its
type of a galaxy ("Sb", "E", ""). Arms, knots, dust and filaments are not modelled.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from server.sky.ranges import Numbers, checked

_GALAXIES = frozenset({"G", "GPair", "GTrpl", "GGroup"})
#: Hubble types without bars on the numerical scale. Source: de Vaucouleurs et al., Third Reference Catalogue
#: of Bright Galaxies (from memory).
_TYPES = ("E", "E-S0", "S0", "S0-a", "Sa", "Sab", "Sb", "Sbc", "Sc", "Scd", "Sd", "Sm", "I")
_NUMBERS = (-5.0, -3.0, -2.0, 0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 9.0, 10.0)
_STAGES = dict(zip(_TYPES, _NUMBERS, strict=True))
#: A galaxy of no known type is taken as the most usual spiral.
_USUAL_STAGE = 3.0
#: Sersic's index by that scale: 4 for ellipticals (de Vaucouleurs 1948), 1 for late discs (Freeman 1970);
#: what lies between is a judgement, since the bulges shrink from one to the other.
_INDEX = ((-5.0, 0.0, 5.0, 9.0), (4.0, 2.3, 1.3, 1.0))
#: Radius of half the light over the catalogue's (to 25 magnitudes in a square arcsec, B). Source: solved from
#: the mean brightness within it of the 3,300 galaxies above 1.5 arcmin in OpenNGC, medians by type.
_HALF_LIGHT = ((-5.0, 0.0, 1.0, 3.0, 5.0, 10.0), (0.83, 0.73, 0.50, 0.46, 0.43, 0.45))
#: Radius of half a globular's light over the catalogue's: 0.2 to 0.28 of the large ones (Harris, AJ 112, 1487
#: (1996), from memory).
_GLOBULAR_CORE = 0.23
#: The hole of a planetary nebula's shell, and where a nebula's edge begins to soften: judgements.
_HOLE, _SOFT = 0.6, 0.6
#: Beyond the ellipse galaxies and globulars shine on; they are faded out between these radii.
_FADE, _REACH = 1.4, 2.0
#: For integrals by Gauss and Legendre.
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(64)


@dataclass(frozen=True)
class _Sersic:
    """A galaxy: exp(-b (r / half)^(1 / n))."""

    index: float
    half: float
    b: float

    def at(self, r: Numbers) -> Numbers:
        return np.asarray(np.exp(-self.b * (r / self.half) ** (1.0 / self.index)))

    def light(self, radius: float) -> float:
        """The integral of brightness over a disc, in discs of radius 1; with u = r^(1/n) it is smooth."""
        top = radius ** (1.0 / self.index)
        u = 0.5 * top * (_NODES + 1.0)
        inner = np.exp(-self.b * u / self.half ** (1.0 / self.index)) * u ** (2.0 * self.index - 1.0)
        return float(2.0 * self.index * 0.5 * top * (_WEIGHTS @ inner))

    def whole(self) -> float:
        n = self.index
        return 2.0 * n * self.half**2 * math.pow(self.b, -2.0 * n) * math.gamma(2.0 * n)


@lru_cache(maxsize=64)
def _galaxy(hubble: str) -> _Sersic:
    stage = hubble_stage(hubble)
    known = _USUAL_STAGE if stage is None else stage
    n = float(np.interp(known, *_INDEX))
    return _Sersic(n, float(np.interp(known, *_HALF_LIGHT)), sersic_b(n))


def hubble_stage(hubble: str) -> float | None:
    """Return a galaxy type's number, -5 (E) to 10 (I), bars or not, or None for one that is not known.

    Source: `_STAGES`.
    """
    text = hubble.strip().rstrip("?")
    for bar, plain in (("SAB", "S"), ("SB", "S"), ("IAB", "I"), ("IB", "I")):
        if text.startswith(bar):
            return _STAGES.get(plain + text[len(bar) :])
    return _STAGES.get(text)


def sersic_b(index: float) -> float:
    """Return b of Sersic's law, by which half the light lies within its radius.

    index: 0.5 to 10. Raises OutOfRangeError. From 1 on good to 3e-5. Source: Ciotti and Bertin,
    A&A 352, 447 (1999), equation 18 (from memory).
    """
    n = float(checked("Sersic's index", index, 0.5, 10.0, "", "Give 1 for a disc, 4 for an elliptical."))
    series = 4.0 / (405.0 * n) + 46.0 / (25515.0 * n**2) + 131.0 / (1148175.0 * n**3)
    return 2.0 * n - 1.0 / 3.0 + series - 2194697.0 / (30690717750.0 * n**4)


def surface_profile(kind: str, hubble: str, radius_share: npt.ArrayLike) -> Numbers:
    """Return the brightness at radii over the mean within the ellipse; 0 beyond twice the ellipse.

    radius_share: 0 to 1e6, any shape. Raises OutOfRangeError. Galaxies by Sersic's law, globulars by
    Plummer's, planetaries as a hollow shell, all else as a flat patch whose edge softens. True
    faces differ from these by as much as a factor of two (a judgement).
    Source: Sersic 1968 with `_INDEX`; Plummer, MNRAS 71, 460 (1911); the shell by geometry; the patch a
    judgement.
    """
    r = checked("The radius", radius_share, 0.0, 1e6, "", "Give a share of the ellipse's radius.")
    if kind in _GALAXIES:
        galaxy = _galaxy(hubble)
        return np.asarray(galaxy.at(r) / galaxy.light(1.0) * _soft_edge(r, _FADE, _REACH))
    if kind == "GCl":
        core2 = _GLOBULAR_CORE**2
        return np.asarray((1.0 + 1.0 / core2) / (1.0 + r * r / core2) ** 2 * _soft_edge(r, _FADE, _REACH))
    if kind == "PN":
        depth = np.sqrt(np.maximum(1.0 - r * r, 0.0)) - np.sqrt(np.maximum(_HOLE**2 - r * r, 0.0))
        return np.asarray(depth * 1.5 / (1.0 - _HOLE**3))
    width = 1.0 - _SOFT
    mean = _SOFT**2 + width * (_SOFT + width * (0.5 - 2.0 / math.pi**2))
    return np.asarray(_soft_edge(r, _SOFT, 1.0) / mean)


@lru_cache(maxsize=256)
def light_within(kind: str, hubble: str, radius_share: float = 1.0) -> float:
    """Return the light within a radius over that within the ellipse: 1 at its edge.

    radius_share: 0 to 2. Raises OutOfRangeError. Source: the integrals of `surface_profile`, those of patches
    and shells by sums.
    """
    edge = float(checked("The radius", radius_share, 0.0, _REACH, "", "Give a share of the ellipse's."))
    if edge > 1.0:
        return 1.0 + _summed(kind, hubble, 1.0, edge)
    if kind in _GALAXIES:
        return _galaxy(hubble).light(edge) / _galaxy(hubble).light(1.0)
    return _summed(kind, hubble, 0.0, edge)


def share_within(kind: str, hubble: str) -> float:
    """Return the share of a target's whole light that lies within its ellipse, above 0 to 1.

    A total magnitude counts the light outside as well: for a galaxy's ellipse only 0.55 (E) to 0.88 (Sm) of
    it lies inside. Source: as `surface_profile`, to infinity.
    """
    if kind in _GALAXIES:
        return _galaxy(hubble).light(1.0) / _galaxy(hubble).whole()
    return 1.0 / (1.0 + _GLOBULAR_CORE**2) if kind == "GCl" else 1.0


def mean_surface_magnitude(
    total_mag: npt.ArrayLike, major_arcmin: npt.ArrayLike, minor_arcmin: npt.ArrayLike
) -> Numbers:
    """Return the mean brightness, magnitudes in a square arcsec, of light spread over an ellipse.

    total_mag: of the light within, -30 to 40 (of a galaxy's total: `share_within`, else 0.2 to 0.7 too
    bright). major_arcmin, minor_arcmin: full axes, above 0. Raises OutOfRangeError. Source: m + 2.5
    log(area), Pogson.
    """
    magnitude = checked("The magnitude", total_mag, -30.0, 40.0, "", "Give the target's total magnitude.")
    area = _axis(major_arcmin) * _axis(minor_arcmin) * math.pi / 4.0 * 3600.0
    return np.asarray(magnitude + 2.5 * np.log10(area), dtype=np.float64)


def surface_map(
    kind: str,
    hubble: str,
    x_arcmin: npt.ArrayLike,
    y_arcmin: npt.ArrayLike,
    major_arcmin: float,
    minor_arcmin: float,
    angle_deg: float,
) -> Numbers:
    """Return the share of the light within the ellipse that lies in a square arcmin at points.

    x_arcmin, y_arcmin: from the target's middle, right and up; they broadcast. major_arcmin, minor_arcmin:
    full axes, above 0. angle_deg: of the major axis, from up anticlockwise. Its integral within the ellipse
    is 1. Raises OutOfRangeError. Source: `surface_profile` over the ellipse's area.
    """
    major, minor = float(_axis(major_arcmin)), float(_axis(minor_arcmin))
    turn = math.radians(angle_deg)
    x, y = np.asarray(x_arcmin, dtype=np.float64), np.asarray(y_arcmin, dtype=np.float64)
    along = y * math.cos(turn) - x * math.sin(turn)
    across = x * math.cos(turn) + y * math.sin(turn)
    r = 2.0 * np.hypot(along / major, across / minor)
    return np.asarray(surface_profile(kind, hubble, r) * 4.0 / (math.pi * major * minor))


def reach(kind: str) -> float:
    """Return how far out a target of a kind shines, in radii of its ellipse. Source: `surface_profile`."""
    return _REACH if kind in _GALAXIES or kind == "GCl" else 1.0


def _soft_edge(r: Numbers, start: float, end: float) -> Numbers:
    """1 up to the start, 0 from the end on, half a wave between."""
    return np.asarray(0.5 * (1.0 + np.cos(math.pi * np.clip((r - start) / (end - start), 0.0, 1.0))))


def _summed(kind: str, hubble: str, start: float, end: float) -> float:
    """The light of a ring, over that within the ellipse; good to 1e-5 where there is no cusp."""
    r = start + (np.arange(4000) + 0.5) / 4000.0 * (end - start)
    return float(np.mean(surface_profile(kind, hubble, r) * r) * 2.0 * (end - start))


def _axis(arcmin: npt.ArrayLike) -> Numbers:
    return checked("The target's size", arcmin, 0.0, 1e5, "arcmin", "Give the full axis.", above=True)
