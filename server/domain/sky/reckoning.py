"""What goes into the depth of a rig: each figure that is not known to the last digit as a span."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal

from pydantic import Field

from server.domain.measure import Frozen, nominal
from server.domain.missing import lacks, wants
from server.domain.parts import Camera, Filter
from server.domain.parts.cameras import GainRow
from server.domain.said import Missing, Said, said
from server.domain.sky.site import Site
from server.domain.sky.target import Target
from server.domain.stars.telescope import Telescope

Unsure = Literal["sky", "target", "optics", "sensor", "filter", "read", "dark"]
"""What may be off, each as one figure."""
NARROW_NM = 30.0
"""A band as narrow as this is one for a line."""
LINE_KINDS = ("HII", "EmN", "SNR", "PN", "Neb", "Cl+N")
"""Kinds that shine in lines."""
NEBULAE = ("HII", "EmN", "SNR", "Neb", "Cl+N", "RfN")
"""Kinds of which the catalogue's sizes and magnitudes, where it has any, are of different things."""


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
        temperature_c: of the sensor; None: the coldest that its dark current is known at.
        surface_mag: brightness of what is to be seen, V magnitudes per square arcsecond; None: the target's
            mean. rayleigh: of a line instead, behind a narrow filter.
    """

    signal_to_noise: float = Field(default=10.0, ge=0.5, le=1000.0)
    read_share: float = Field(default=0.05, ge=0.005, le=1.0)
    sub_s: float | None = Field(default=None, gt=0.0, le=7200.0)
    hours: float = Field(default=5.0, gt=0.0, le=1000.0)
    altitude_deg: float | None = Field(default=None, ge=10.0, le=90.0)
    gain: float | None = Field(default=None, ge=0.0, le=10_000.0)
    temperature_c: float | None = Field(default=None, ge=-100.0, le=60.0)
    surface_mag: float | None = Field(default=None, ge=10.0, le=32.0)
    rayleigh: float | None = Field(default=None, gt=0.0, le=100_000.0)


@dataclass
class Reckoning:
    """What goes into the sums.

    Attributes:
        spans: each as a span; "target" in magnitudes, of a line -2.5 log of its rayleighs.
        missing: what to enter to be surer. assumed: what is taken for granted.
        line: a line is collected, in a narrow band. rayleigh: the target is said in rayleighs.
    """

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


def reckon(telescope: Telescope, site: Site, target: Target, wishes: DepthWishes) -> Reckoning | Missing:
    """Gather what goes into the sums; a single reference where the sky's brightness is not known."""
    sky = site.sky
    if sky is None:
        return wants("sky_brightness")
    found, camera, tube = Reckoning(), telescope.camera.part, telescope.part
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


def _reckon_target(target: Target, wishes: DepthWishes, found: Reckoning) -> None:
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


def _reckon_filter(telescope: Telescope, found: Reckoning) -> None:
    if telescope.band_of is None or not isinstance(telescope.band_of.part, Filter):
        found.assumed.append(said("depth.no_filter"))
        found.missing.extend(telescope.missing_band)
        return
    through = nominal(telescope.band_of.part.peak_transmission)
    if through is None:
        found.missing.append(lacks(telescope.band_of, "peak_transmission"))
    found.spans["filter"] = UNKNOWN_FILTER if through is None else Span(through, through, through)


def _reckon_camera(telescope: Telescope, wishes: DepthWishes, found: Reckoning) -> None:
    camera = telescope.camera.part
    row = gain_row(camera, wishes.gain)
    if row is None:
        found.missing.append(lacks(telescope.camera, "gains"))
        found.spans["read"] = UNKNOWN_READ_E
    else:
        found.spans["read"] = Span(row.read_noise_e, row.read_noise_e, row.read_noise_e)
    dark = dark_at(camera, wishes.temperature_c)
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
