"""How deep a rig goes on a target from a site: rates, sub-exposures, hours, and how far off they may be."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

from pydantic import Field

from server.domain.measure import Frozen, nominal
from server.domain.missing import lacks, wants
from server.domain.parts import Camera, Filter
from server.domain.parts.cameras import GainRow
from server.domain.said import Missing, Said, said
from server.domain.sky.site import Site
from server.domain.sky.target import Target
from server.domain.stars.field import pupil_of
from server.domain.stars.telescope import Telescope

if TYPE_CHECKING:
    from server.sky.exposure import Rates

Unsure = Literal["sky", "target", "optics", "sensor", "filter", "read", "dark"]
"""What may be off, each as one figure."""
APERTURE_WIDTHS = 0.68
APERTURE_SHARE = 1.0 - math.exp(-4.0 * math.log(2.0) * APERTURE_WIDTHS**2)
"""Radius of the circle that a faint star is best measured in, in its full widths, and the share of a Gaussian
star's light in it (Naylor, MNRAS 296, 339 (1998), from memory).
"""
STAR_MAG = 18.0
"""The star whose signal to noise is told."""
PRACTICAL_SUBS_S = (5, 10, 15, 20, 30, 45, 60, 90, 120, 180, 240, 300, 420, 600, 900, 1200, 1800)
"""Lengths that people take (a choice of ours, no source)."""
NARROW_NM = 30.0
"""A band as narrow as this is one for a line."""
LINE_KINDS = ("HII", "EmN", "SNR", "PN", "Neb", "Cl+N")
"""Kinds that shine in lines."""
NEBULAE = ("HII", "EmN", "SNR", "Neb", "Cl+N", "RfN")
"""Kinds of which the catalogue's sizes and magnitudes, where it has any, are of different things."""
RAYLEIGH_PHOTONS = 1e10 / (4.0 * math.pi) / 206264.806**2
"""Photons per second, square metre and square arcsecond of one rayleigh: 10^10/(4 pi) for each steradian
(Baker and Romick, Applied Optics 15, 1966 (1976), from memory).
"""
_PLANCK_C = 6.62607015e-34 * 2.99792458e8 * 1e9
"""h c in J nm (SI, exact)."""


@dataclass(frozen=True)
class Span:
    """A figure that may be off: as it is taken, and its honest ends."""

    value: float
    low: float
    high: float


# Shares that are usual for what nobody has measured. Common practice, no source.
OPTICS: Mapping[str, Span] = {
    "achromat": Span(0.90, 0.84, 0.96),
    "apochromat": Span(0.90, 0.84, 0.96),
    "camera_lens": Span(0.85, 0.75, 0.92),
    "newtonian": Span(0.80, 0.70, 0.90),
}
TWO_MIRRORS_AND_PLATE = Span(0.76, 0.65, 0.88)
UNKNOWN_EFFICIENCY = Span(0.70, 0.50, 0.90)
OF_PEAK_BROAD = Span(0.85, 0.75, 0.95)
"""The mean over a wide band of a sensor's efficiency, of its peak."""
OF_PEAK_LINE = Span(0.80, 0.60, 1.0)
"""At one line, of the peak."""
COLOUR_BROAD, COLOUR_LINE = Span(0.33, 0.28, 0.40), Span(0.25, 0.20, 0.45)
"""What the mosaic of a colour camera leaves of the light, of all and of a line."""
UNKNOWN_FILTER = Span(0.92, 0.80, 0.98)
UNKNOWN_READ_E = Span(2.0, 1.0, 5.0)
UNKNOWN_DARK_E_S = Span(0.003, 0.0005, 0.05)
STARS = ("OCl", "*Ass", "*", "**", "Nova")
"""Kinds that are stars with sky between them: they have no surface."""
USUAL_NEBULA, USUAL_RAYLEIGH = Span(23.0, 21.5, 24.5), Span(100.0, 30.0, 400.0)
"""What nebulae that people photograph shine with: V magnitudes per square arcsecond, and rayleighs in their
line of hydrogen (both common practice, no source)."""
COLOUR_B_V = Span(0.8, 0.4, 1.0)
"""B-V of galaxies, where only B is known."""
MAGNITUDE_OFF, SIZE_OFF = 0.3, 0.5
"""How far off a mean surface brightness from the catalogue's figures is, in magnitudes: of a galaxy's
isophote, and of magnitude over size.
"""


class DepthWishes(Frozen):
    """What is asked of the depth.

    Attributes:
        signal_to_noise: wanted per square arcsecond.
        read_share: what read noise may add to the noise at the shortest sub-exposure.
        sub_s: length of one exposure; None: as short as read noise allows, rounded up.
        hours: a total time, for what it gives.
        altitude_deg: of the target, None as it usually stands while it is photographed.
        gain: the setting, None for the lowest read noise.
        surface_mag: brightness of what is to be seen, V magnitudes per square arcsecond; None: the target's
            mean. rayleigh: of a line instead, behind a narrow filter.
    """

    signal_to_noise: float = Field(default=10.0, ge=0.5, le=1000.0)
    read_share: float = Field(default=0.05, ge=0.005, le=1.0)
    sub_s: float | None = Field(default=None, gt=0.0, le=7200.0)
    hours: float = Field(default=5.0, gt=0.0, le=1000.0)
    altitude_deg: float | None = Field(default=None, ge=10.0, le=90.0)
    gain: float | None = Field(default=None, ge=0.0, le=10_000.0)
    surface_mag: float | None = Field(default=None, ge=10.0, le=32.0)
    rayleigh: float | None = Field(default=None, gt=0.0, le=100_000.0)


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


@dataclass
class _Reckoning:
    """What goes into the sums, each a span."""

    spans: dict[Unsure, Span] = field(default_factory=dict)
    missing: list[Missing] = field(default_factory=list)
    assumed: list[Said] = field(default_factory=list)
    line: bool = False
    rayleigh: bool = False


def surface_of(target: Target) -> Span | None:
    """The target's mean surface brightness, V magnitudes per square arcsecond; None while unknown.

    A galaxy's B isophote less a usual colour, what is usual for a nebula, else magnitude over the ellipse.
    """
    if target.surface_v_mag is not None:
        mag = target.surface_v_mag
        return Span(mag, mag - 0.1, mag + 0.1)
    if target.surface_b_mag is not None:
        mag, off = target.surface_b_mag, MAGNITUDE_OFF
        return Span(mag - COLOUR_B_V.value, mag - COLOUR_B_V.high - off, mag - COLOUR_B_V.low + off)
    if target.kind in NEBULAE:
        return USUAL_NEBULA
    if target.kind in STARS:
        return None
    ellipse = target.ellipse_arcmin
    if ellipse is None or (target.v_mag is None and target.b_mag is None):
        return None
    from server.sky.profiles import mean_surface_magnitude, share_within

    total = target.v_mag if target.v_mag is not None else (target.b_mag or 0.0) - COLOUR_B_V.value
    inside = total - 2.5 * math.log10(share_within(target.kind, target.hubble))
    mag = float(mean_surface_magnitude(inside, *ellipse))
    return Span(mag, mag - SIZE_OFF, mag + SIZE_OFF)


def dark_at(camera: Camera, temperature_c: float | None) -> float | None:
    """Dark current, e/s, at a temperature (None: the coldest that is known); None while unknown.

    Between two temperatures its logarithm is straight; beyond them the nearest holds.
    """
    rows = sorted(camera.dark_current, key=lambda row: row.temperature_c)
    if not rows:
        return None
    if temperature_c is None or temperature_c <= rows[0].temperature_c:
        return rows[0].dark_e_s
    for low, high in pairwise(rows):
        if temperature_c <= high.temperature_c:
            share = (temperature_c - low.temperature_c) / (high.temperature_c - low.temperature_c)
            if min(low.dark_e_s, high.dark_e_s) <= 0.0:
                return low.dark_e_s + share * (high.dark_e_s - low.dark_e_s)
            return float(low.dark_e_s * (high.dark_e_s / low.dark_e_s) ** share)
    return rows[-1].dark_e_s


def _reckon(telescope: Telescope, site: Site, target: Target, wishes: DepthWishes) -> _Reckoning | Missing:
    """Gather what goes into the sums; a single reference where the sky's brightness is not known."""
    sky = site.sky
    if sky is None:
        return wants("sky_brightness")
    found, camera, tube = _Reckoning(), telescope.camera.part, telescope.part
    spans = found.spans
    spans["sky"] = Span(sky.magnitude, sky.magnitude - sky.uncertainty, sky.magnitude + sky.uncertainty)
    found.line = telescope.band_nm[1] - telescope.band_nm[0] <= NARROW_NM
    if tube.design is None:
        found.missing.append(lacks(telescope.tube, "design"))
    spans["optics"] = OPTICS.get(tube.design or "", TWO_MIRRORS_AND_PLATE)
    found.assumed.append(said("depth.optics", share=_percent(spans["optics"])))
    of_peak = OF_PEAK_LINE if found.line else OF_PEAK_BROAD
    peak = nominal(camera.quantum_efficiency)
    if peak is None:
        found.missing.append(lacks(telescope.camera, "quantum_efficiency"))
        spans["sensor"] = UNKNOWN_EFFICIENCY
    else:
        spans["sensor"] = _times(of_peak, peak)
        found.assumed.append(said("depth.of_peak", share=_percent(of_peak)))
    if camera.colour is None:
        found.missing.append(lacks(telescope.camera, "colour"))
        # It may have a mosaic: that leaves the least of the light.
        mosaic, seen = COLOUR_LINE if found.line else COLOUR_BROAD, spans["sensor"]
        spans["sensor"] = Span(seen.value, seen.low * mosaic.low, seen.high)
    elif camera.colour == "colour":
        mosaic = COLOUR_LINE if found.line else COLOUR_BROAD
        spans["sensor"] = _product(spans["sensor"], mosaic)
        found.assumed.append(said("depth.mosaic", share=_percent(mosaic)))
    _reckon_filter(telescope, found)
    _reckon_camera(telescope, wishes, found)
    _reckon_target(target, wishes, found)
    return found


def _reckon_target(target: Target, wishes: DepthWishes, found: _Reckoning) -> None:
    surface = surface_of(target)
    if found.line and (wishes.rayleigh is not None or target.kind in LINE_KINDS):
        # Such a target shines in lines: what it sends into a narrow band no magnitude tells.
        found.rayleigh = True
        line = USUAL_RAYLEIGH if wishes.rayleigh is None else Span(*[wishes.rayleigh] * 3)
        found.spans["target"] = Span(*(-2.5 * math.log10(one) for one in (line.value, line.high, line.low)))
        if wishes.rayleigh is None:
            found.missing.append(wants("line_brightness"))
            found.assumed.append(said("depth.usual_line", rayleigh=_from_to(USUAL_RAYLEIGH)))
        return
    if wishes.surface_mag is not None:
        surface = Span(*[wishes.surface_mag] * 3)
    if surface is None:
        found.missing.append(wants("target_brightness"))
        return
    found.spans["target"] = surface
    if wishes.surface_mag is not None or target.surface_v_mag is not None:
        return
    if target.surface_b_mag is not None:
        found.assumed.append(said("depth.colour", colour=_from_to(COLOUR_B_V)))
    elif surface is USUAL_NEBULA:
        found.missing.append(wants("target_brightness"))
        found.assumed.append(said("depth.usual_nebula", magnitude=_from_to(USUAL_NEBULA)))


def _from_to(span: Span) -> str:
    return f"{span.value:g} ({span.low:g} to {span.high:g})"


def _reckon_filter(telescope: Telescope, found: _Reckoning) -> None:
    if telescope.band_of is None or not isinstance(telescope.band_of.part, Filter):
        found.assumed.append(said("depth.no_filter"))
        return
    through = nominal(telescope.band_of.part.peak_transmission)
    if through is None:
        found.missing.append(lacks(telescope.band_of, "peak_transmission"))
    found.spans["filter"] = UNKNOWN_FILTER if through is None else Span(through, through, through)


def _reckon_camera(telescope: Telescope, wishes: DepthWishes, found: _Reckoning) -> None:
    camera = telescope.camera.part
    row = gain_row(camera, wishes.gain)
    if row is None:
        found.missing.append(lacks(telescope.camera, "gains"))
        found.spans["read"] = UNKNOWN_READ_E
    else:
        found.spans["read"] = Span(row.read_noise_e, row.read_noise_e, row.read_noise_e)
    dark = dark_at(camera, None)
    if dark is None:
        found.missing.append(lacks(telescope.camera, "dark_current"))
        found.spans["dark"] = UNKNOWN_DARK_E_S
    else:
        found.spans["dark"] = Span(dark, dark, dark)


def gain_row(camera: Camera, gain: float | None) -> GainRow | None:
    """The camera's figures at a gain setting, the one of least read noise for None; None without a table."""
    if not camera.gains:
        return None
    if gain is not None:
        return min(camera.gains, key=lambda row: abs(row.gain - gain))
    return min(camera.gains, key=lambda row: (row.read_noise_e, -row.full_well_e))


def _times(span: Span, by: float) -> Span:
    return Span(span.value * by, span.low * by, span.high * by)


def _product(one: Span, other: Span) -> Span:
    return Span(one.value * other.value, one.low * other.low, one.high * other.high)


def _percent(span: Span) -> str:
    return f"{100 * span.value:.0f} % ({100 * span.low:.0f} to {100 * span.high:.0f})"


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
    from server.sky import exposure

    found = _reckon(telescope, site, target, wishes)
    if isinstance(found, Missing):
        return (found,)
    sums = _Sums(telescope, wishes, found, altitude_deg)
    values = {name: span.value for name, span in found.spans.items()}
    target_e, sky_e = sums.collected(values)
    rates = sums.rates(values)
    row = gain_row(telescope.camera.part, wishes.gain)
    shortest = float(exposure.shortest_sub_s(rates, values["read"], wishes.read_share))
    sub = wishes.sub_s or next((s for s in PRACTICAL_SUBS_S if s >= shortest), PRACTICAL_SUBS_S[-1])
    hours: Span | None = None
    weighs: tuple[tuple[Unsure, float], ...] = ()
    known = "target" in values
    if known:
        hours, weighs = _spread(found, lambda given: sums.hours(given, float(sub)))
    count = max(1.0, wishes.hours * 3600.0 / sub)
    stars = sums.stars(values, float(sub), count, fwhm_arcsec)
    part = telescope.camera.part
    pixels = (part.width_px or 0) * (part.height_px or 0)
    return Depth(
        hours=hours,
        per_px=float(exposure.signal_to_noise(rates, values["read"], sub, count, "px")) if hours else None,
        per_arcsec2=float(exposure.signal_to_noise(rates, values["read"], sub, count, "arcsec2"))
        if hours
        else None,
        shortest_s=shortest,
        sub_s=float(sub),
        saturating_mag=stars[0],
        faintest_mag=stars[1],
        star_noise=stars[2],
        frames=math.ceil(hours.value * 3600.0 / sub) if hours else None,
        bytes_each=2 * pixels,
        surface_mag=None if found.rayleigh else values.get("target"),
        rayleigh=10.0 ** (-0.4 * values["target"]) if found.rayleigh else None,
        altitude_deg=altitude_deg,
        sky_mag=sums.sky_mag(values["sky"]),
        target_e=target_e if hours else None,
        zero_e=sums.zero(values),
        sky_e=sky_e,
        dark_e=values["dark"],
        moonlit=sums.moonlit(values, sub) if hours else (),
        gain=None if row is None else row.gain,
        read_e=values["read"],
        full_well_e=None if row is None else row.full_well_e,
        band_nm=telescope.band_nm,
        line=found.line,
        weighs=weighs,
        missing=(
            *found.missing,
            *telescope.missing_scale,
        ),
        assumed=tuple(found.assumed),
    )


def _spread(
    found: _Reckoning, hours: Callable[[Mapping[Unsure, float]], float]
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


@dataclass(frozen=True)
class _Sums:
    telescope: Telescope
    wishes: DepthWishes
    found: _Reckoning
    altitude_deg: float

    @property
    def area_mm2(self) -> float:
        return pupil_of(self.telescope).clear_area * self.telescope.aperture_mm**2 / 4.0

    @property
    def middle_nm(self) -> float:
        return sum(self.telescope.band_nm) / 2.0

    def efficiency(self, values: Mapping[Unsure, float]) -> float:
        return min(1.0, values["optics"] * values["sensor"] * values.get("filter", 1.0))

    def sky_mag(self, zenith: float) -> float:
        from server.sky.sky_brightness import sky_at

        return float(sky_at(self.altitude_deg, zenith))

    @property
    def dimmed(self) -> float:
        """Magnitudes that the air takes."""
        from server.sky.sky_brightness import extinction_mag, extinction_per_air_mass

        return float(extinction_mag(self.altitude_deg, extinction_per_air_mass(self.middle_nm)))

    def zero(self, values: Mapping[Unsure, float]) -> float:
        """Electrons per second of magnitude 0, through the air."""
        from server.sky.exposure import surface_rate

        efficiency = self.efficiency(values)
        return float(surface_rate(0.0, self.area_mm2, self.telescope.band_nm, efficiency, self.dimmed))

    def rates(self, values: Mapping[Unsure, float], sky_mag: float | None = None) -> Rates:
        from server.sky.exposure import Rates

        scale = self.telescope.pixel_um / self.telescope.um_per_arcsec
        return Rates(*self.collected(values, sky_mag), values["dark"], scale)

    def collected(self, values: Mapping[Unsure, float], sky_mag: float | None = None) -> tuple[float, float]:
        """Electrons per second and square arcsecond: the target's and the sky's."""
        from server.sky import exposure

        telescope, efficiency = self.telescope, self.efficiency(values)
        target = 0.0
        if self.found.rayleigh:
            rayleigh = 10.0 ** (-0.4 * values["target"])
            flux = rayleigh * RAYLEIGH_PHOTONS * _PLANCK_C / self.middle_nm
            target = float(exposure.line_rate(flux, self.middle_nm, self.area_mm2, efficiency, self.dimmed))
        elif "target" in values:
            target = self.zero(values) * 10.0 ** (-0.4 * values["target"])
        # The sky's brightness is what is seen from the ground: the air has had its part of it.
        sky = exposure.surface_rate(
            self.sky_mag(values["sky"]) if sky_mag is None else sky_mag,
            self.area_mm2,
            telescope.band_nm,
            efficiency,
        )
        return target, float(sky)

    def hours(self, values: Mapping[Unsure, float], sub: float, sky_mag: float | None = None) -> float:
        from server.sky import exposure

        rates = self.rates(values, sky_mag)
        return float(exposure.hours_for(rates, values["read"], sub, self.wishes.signal_to_noise))

    def moonlit(self, values: Mapping[Unsure, float], sub: float) -> tuple[Moonlit, ...]:
        """Half and full, 60 degrees from the target and 45 high: as they often stand."""
        from server.sky.moonlight import moonlit_sky

        dark, found = self.sky_mag(values["sky"]), []
        without = self.hours(values, sub)
        for lit, phase in ((0.5, 90.0), (1.0, 10.0)):
            sky = float(moonlit_sky(dark, phase, 60.0, 45.0, self.altitude_deg))
            found.append(Moonlit(lit, sky, self.hours(values, sub, sky) / without))
        return tuple(found)

    def stars(
        self, values: Mapping[Unsure, float], sub: float, count: float, fwhm_arcsec: float
    ) -> tuple[float | None, float, float]:
        """The star that saturates, None without a full well, the faintest one that is seen, and the signal to
        noise of one of STAR_MAG.
        """
        from server.sky import exposure

        scale = self.telescope.pixel_um / self.telescope.um_per_arcsec
        zero = self.zero(values)
        sky = self.collected(values)[1] * scale * scale
        row = gain_row(self.telescope.camera.part, self.wishes.gain)
        full = None
        if row is not None:
            peak = exposure.peak_share(fwhm_arcsec / scale)
            full = float(exposure.saturating_magnitude(zero, peak, row.full_well_e, sky, values["dark"], sub))
        pixels = max(1.0, math.pi * (APERTURE_WIDTHS * fwhm_arcsec / scale) ** 2)
        behind = sky, values["dark"], values["read"], pixels, sub, count
        faintest = float(exposure.faintest_star(zero * APERTURE_SHARE, *behind))
        star = zero * APERTURE_SHARE * 10.0 ** (-0.4 * STAR_MAG)
        noise = float(exposure.star_signal_to_noise(star, *behind))
        return full if full is None or math.isfinite(full) else None, faintest, noise
