"""How deep a rig goes on a target from a site: rates, sub-exposures, hours, and how far off they may be."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from server.domain.said import Missing, Said
from server.domain.sky.collector import Collector, practical_sub_s
from server.domain.sky.reckoning import DepthWishes, Reckoning, Span, Unsure, gain_row, reckon
from server.domain.sky.site import Site
from server.domain.sky.target import Target
from server.domain.stars.field import pupil_of
from server.domain.stars.telescope import Telescope

APERTURE_WIDTHS = 0.68
APERTURE_SHARE = 1.0 - math.exp(-4.0 * math.log(2.0) * APERTURE_WIDTHS**2)
"""Radius of the circle that a faint star is best measured in, in its full widths, and the share of a Gaussian
star's light in it (Naylor, MNRAS 296, 339 (1998), from memory).
"""
STAR_MAG = 18.0
"""The star whose signal to noise is told."""
RAYLEIGH_PHOTONS = 1e10 / (4.0 * math.pi) / 206264.806**2
"""Photons per second, square metre and square arcsecond of one rayleigh: 10^10/(4 pi) for each steradian
(Baker and Romick, Applied Optics 15, 1966 (1976), from memory).
"""
_PLANCK_C = 6.62607015e-34 * 2.99792458e8 * 1e9
"""h c in J nm (SI, exact)."""


@dataclass(frozen=True)
class Moonlit:
    """Hours with the Moon up, against the same without: at a lit share of the disc."""

    lit: float
    sky_mag: float
    times: float


@dataclass(frozen=True)
class Depth:
    """How deep a rig goes.

    Attributes:
        hours: for the wanted signal to noise; None while the target's brightness is not known.
        per_px, per_arcsec2: signal to noise after the wished total time; None likewise.
        shortest_s, sub_s: the shortest sub-exposure, and the one reckoned with.
        saturating_mag: the star whose brightest pixel is full after one of them; None without a full well.
        faintest_mag: the star at a signal to noise of 5 after the total time. star_noise: the signal to noise
            of a star of STAR_MAG then.
        frames, bytes_each: how many for the wanted hours, and how large one is, at 16 bits.
        surface_mag, rayleigh: what was reckoned with, above the air; one of them. altitude_deg: likewise.
        sky_mag: at that altitude.
        target_e, sky_e, dark_e: electrons per second and square arcsecond, the last per pixel; zero_e those
            of a star of magnitude 0.
        moonlit: what the Moon makes of the hours.
        gain: the setting, None where none is known. read_e, full_well_e: at it.
        band_nm: from, to. line: a line is collected, in a narrow band.
        weighs: what the hours are least sure by, with the share of the spread, the heaviest first.
        missing: what to enter to be surer. assumed: what is taken for granted.
    """

    hours: Span | None
    per_px: float | None
    per_arcsec2: float | None
    shortest_s: float
    sub_s: float
    saturating_mag: float | None
    faintest_mag: float
    star_noise: float
    frames: int | None
    bytes_each: int
    surface_mag: float | None
    rayleigh: float | None
    altitude_deg: float
    sky_mag: float
    target_e: float | None
    zero_e: float
    sky_e: float
    dark_e: float
    moonlit: tuple[Moonlit, ...]
    gain: float | None
    read_e: float
    full_well_e: float | None
    band_nm: tuple[float, float]
    line: bool
    weighs: tuple[tuple[Unsure, float], ...]
    missing: tuple[Missing, ...]
    assumed: tuple[Said, ...]

    def hours_of(self, panels: int) -> Span | None:
        """The hours of so many panels, each to the wanted signal to noise."""
        if self.hours is None:
            return None
        return Span(panels * self.hours.value, panels * self.hours.low, panels * self.hours.high)


def work_depth(
    telescope: Telescope,
    site: Site,
    target: Target,
    wishes: DepthWishes,
    fwhm_arcsec: float,
    altitude_deg: float,
) -> Depth | tuple[Missing, ...]:
    """Reckon how deep a rig goes, or say what to enter before anything can be said.

    fwhm_arcsec: of a star in the picture, all in. altitude_deg: of the target. Raises ValueError for figures
    that no formula holds for.
    """
    from server.sky.exposure import signal_to_noise

    found = reckon(telescope, site, target, wishes)
    if isinstance(found, Missing):
        return (found,)
    sums = _Sums(telescope, wishes, found, altitude_deg)
    values = {name: span.value for name, span in found.spans.items()}
    collector = sums.collector(values)
    row = gain_row(telescope.camera.part, wishes.gain)
    shortest = float(collector.shortest_s(wishes.read_share))
    sub = wishes.sub_s or float(practical_sub_s(shortest))
    count = max(1.0, wishes.hours * 3600.0 / sub)
    target_e = sums.target_e(collector, values)
    hours: Span | None = None
    weighs: tuple[tuple[Unsure, float], ...] = ()
    noise: tuple[float | None, float | None] = (None, None)
    if target_e is not None:
        hours, weighs = _spread(found, lambda given: sums.hours(given, sub))
        rates = collector.rates(target_e)
        per_px, per_arcsec2 = (
            float(signal_to_noise(rates, values["read"], sub, count, per)) for per in ("px", "arcsec2")
        )
        noise = per_px, per_arcsec2
    stars = sums.stars(collector, sub, count, fwhm_arcsec)
    part = telescope.camera.part
    return Depth(
        hours=hours,
        per_px=noise[0],
        per_arcsec2=noise[1],
        shortest_s=shortest,
        sub_s=sub,
        saturating_mag=stars[0],
        faintest_mag=stars[1],
        star_noise=stars[2],
        frames=math.ceil(hours.value * 3600.0 / sub) if hours else None,
        bytes_each=2 * (part.width_px or 0) * (part.height_px or 0),
        surface_mag=None if found.rayleigh else values.get("target"),
        rayleigh=10.0 ** (-0.4 * values["target"]) if found.rayleigh else None,
        altitude_deg=altitude_deg,
        sky_mag=float(collector.sky_mag),
        target_e=target_e,
        zero_e=float(collector.zero_e),
        sky_e=float(collector.sky_e()),
        dark_e=values["dark"],
        moonlit=sums.moonlit(values, sub) if hours else (),
        gain=None if row is None else row.gain,
        read_e=values["read"],
        full_well_e=None if row is None else row.full_well_e,
        band_nm=telescope.band_nm,
        line=found.line,
        weighs=weighs,
        missing=(*found.missing, *telescope.missing_scale),
        assumed=tuple(found.assumed),
    )


def _spread(
    found: Reckoning, hours: Callable[[Mapping[Unsure, float]], float]
) -> tuple[Span, tuple[tuple[Unsure, float], ...]]:
    """The hours with their honest ends: each unsure figure moved alone, their logarithms added in squares."""
    values = {name: span.value for name, span in found.spans.items()}
    middle = hours(values)
    up, down, weighs = 0.0, 0.0, {}
    for name, span in found.spans.items():
        moved = [math.log(hours({**values, name: end}) / middle) for end in (span.low, span.high)]
        more, less = max(0.0, *moved), min(0.0, *moved)
        up, down = up + more * more, down + less * less
        weighs[name] = max(more, -less)
    total = sum(one * one for one in weighs.values())
    shares = ((name, one * one / total) for name, one in weighs.items() if total > 0 and one > 0)
    heaviest = tuple(sorted(shares, key=lambda one: -one[1]))
    return Span(middle, middle * math.exp(-math.sqrt(down)), middle * math.exp(math.sqrt(up))), heaviest


def efficiency_of(values: Mapping[Unsure, float]) -> float:
    """What of the light becomes electrons."""
    return min(1.0, values["optics"] * values["sensor"] * values.get("filter", 1.0))


def clear_mm2(telescope: Telescope, obstruction: float | None = None) -> float:
    """The opening, less what stands before it. obstruction: in place of the telescope's own."""
    if obstruction is not None and obstruction != telescope.obstruction:
        telescope = replace(telescope, obstruction=obstruction)
    return pupil_of(telescope).clear_area * telescope.aperture_mm**2 / 4.0


def collector_of(
    telescope: Telescope,
    values: Mapping[Unsure, float],
    altitude_deg: float,
    obstruction: float | None = None,
) -> Collector:
    """What collects the light, by the figures that are reckoned with. obstruction: in place of the
    telescope's own.
    """
    return Collector(
        area_mm2=clear_mm2(telescope, obstruction),
        efficiency=efficiency_of(values),
        band_nm=telescope.band_nm,
        scale_arcsec=telescope.pixel_um / telescope.um_per_arcsec,
        read_e=values["read"],
        dark_e=values["dark"],
        altitude_deg=altitude_deg,
        zenith_mag=values["sky"],
    )


@dataclass(frozen=True)
class _Sums:
    telescope: Telescope
    wishes: DepthWishes
    found: Reckoning
    altitude_deg: float

    def collector(self, values: Mapping[Unsure, float]) -> Collector:
        return collector_of(self.telescope, values, self.altitude_deg)

    def target_e(self, collector: Collector, values: Mapping[Unsure, float]) -> float | None:
        """Electrons per second and square arcsecond of the target; None while its brightness is not known."""
        from server.sky.exposure import line_rate

        if "target" not in values:
            return None
        if not self.found.rayleigh:
            return float(collector.surface_e(values["target"]))
        rayleigh = 10.0 ** (-0.4 * values["target"])
        flux = rayleigh * RAYLEIGH_PHOTONS * _PLANCK_C / collector.middle_nm
        line = collector.middle_nm, collector.area_mm2, collector.efficiency, collector.dimmed_mag
        return float(line_rate(flux, *line))

    def hours(self, values: Mapping[Unsure, float], sub: float, sky_mag: float | None = None) -> float:
        collector = self.collector(values)
        target_e = self.target_e(collector, values) or 0.0
        return float(collector.hours(target_e, sub, self.wishes.signal_to_noise, sky_mag))

    def moonlit(self, values: Mapping[Unsure, float], sub: float) -> tuple[Moonlit, ...]:
        """Half and full, 60 degrees from the target and 45 high: as they often stand."""
        from server.sky.moonlight import moonlit_sky

        dark, found = float(self.collector(values).sky_mag), []
        without = self.hours(values, sub)
        for lit, phase in ((0.5, 90.0), (1.0, 10.0)):
            sky = float(moonlit_sky(dark, phase, 60.0, 45.0, self.altitude_deg))
            found.append(Moonlit(lit, sky, self.hours(values, sub, sky) / without))
        return tuple(found)

    def stars(
        self, collector: Collector, sub: float, count: float, fwhm_arcsec: float
    ) -> tuple[float | None, float, float]:
        """The star that saturates, None without a full well, the faintest one that is seen, and the signal to
        noise of one of STAR_MAG.
        """
        from server.sky.exposure import (
            faintest_star,
            peak_share,
            saturating_magnitude,
            star_signal_to_noise,
        )

        scale, zero = self.telescope.pixel_um / self.telescope.um_per_arcsec, float(collector.zero_e)
        sky, dark = float(collector.sky_e()) * scale * scale, collector.dark_e
        row = gain_row(self.telescope.camera.part, self.wishes.gain)
        full = None
        if row is not None:
            peak = peak_share(fwhm_arcsec / scale)
            full = float(saturating_magnitude(zero, peak, row.full_well_e, sky, dark, sub))
        pixels = max(1.0, math.pi * (APERTURE_WIDTHS * fwhm_arcsec / scale) ** 2)
        behind = sky, dark, collector.read_e, pixels, sub, count
        star = zero * APERTURE_SHARE * 10.0 ** (-0.4 * STAR_MAG)
        return (
            full if full is None or math.isfinite(full) else None,
            float(faintest_star(zero * APERTURE_SHARE, *behind)),
            float(star_signal_to_noise(star, *behind)),
        )
