"""What the sky gives, in sentences."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from server.domain.sky.depth import Depth
from server.domain.sky.focal import LEAST_FILL
from server.domain.sky.frame import Framed
from server.domain.sky.panels import Panels
from server.domain.sky.reckoning import NEBULAE, DepthWishes, Span, Unsure
from server.domain.sky.site import Site
from server.domain.sky.target import Target, TargetKind
from server.domain.sky.when import Month, Night, Year
from server.flow.plan_sky import RigSky
from server.rim.constellations import CONSTELLATIONS

if TYPE_CHECKING:
    from server.sky.sky_brightness import SkyBrightness

KIND_WORDS: dict[TargetKind, str] = {
    "G": "galaxy",
    "GPair": "pair of galaxies",
    "GTrpl": "triplet of galaxies",
    "GGroup": "group of galaxies",
    "OCl": "open cluster",
    "GCl": "globular cluster",
    "Cl+N": "cluster with nebula",
    "PN": "planetary nebula",
    "HII": "ionised hydrogen region",
    "EmN": "emission nebula",
    "Neb": "nebula",
    "RfN": "reflection nebula",
    "SNR": "supernova remnant",
    "DrkN": "dark nebula",
    "*Ass": "association of stars",
    "*": "star",
    "**": "double star",
    "Nova": "nova",
    "Other": "another object",
}
UNSURE_WORDS: dict[Unsure, str] = {
    "sky": "how dark the sky is",
    "target": "how bright the target is",
    "optics": "the light that mirrors and lenses pass",
    "sensor": "the sensor's efficiency",
    "filter": "what the filter passes",
    "read": "the read noise",
    "dark": "the dark current",
}
OUT_OF_REACH_H = 10_000.0
"""Longer than anybody exposes."""
GB = 1e9
FULL = 1.0
"""A target that fills more than the side is cut off."""


def clock(at: datetime) -> str:
    """A time of day, to the minute."""
    return f"{at + timedelta(seconds=30):%H:%M}"


def long_hours(hours: float) -> str:
    """A length of time within a night: "6 h 10 min", in steps of five minutes."""
    minutes = 5 * round(hours * 12.0)
    whole, rest = divmod(minutes, 60)
    if not whole:
        return f"{rest} min"
    return f"{whole} h {rest} min" if rest else f"{whole} h"


def two_digits(value: float) -> str:
    """A figure with the two digits that it carries."""
    if value <= 0.0:
        return "0"
    rounded = float(f"{value:.1e}")
    return f"{rounded:,.{max(0, 1 - math.floor(math.log10(rounded)))}f}"


def total_hours(span: Span) -> str:
    """A time of exposure with its honest ends: "4.7 h (2.9 to 7.8)"."""
    if span.value > OUT_OF_REACH_H:
        return f"over {OUT_OF_REACH_H:,.0f} h"
    if span.value >= 1.0:
        return f"{two_digits(span.value)} h ({two_digits(span.low)} to {two_digits(span.high)})"
    low, value, high = (max(1, round(60.0 * one)) for one in (span.low, span.value, span.high))
    return f"{value} min ({low} to {high})"


def brightness_words(sky: SkyBrightness) -> str:
    """How dark a sky is."""
    return f"{sky.magnitude:.1f} ± {sky.uncertainty:.1f} magnitudes per square arcsecond"


def in_other_measures(sky: SkyBrightness) -> str:
    """How dark a sky is, in all measures that observers use."""
    from server.sky.sky_brightness import naked_eye_limit, sky_class

    ends = (sky.magnitude - sky.uncertainty, sky.magnitude + sky.uncertainty)
    dim, bright = (naked_eye_limit(one) for one in ends)
    worst, best = (sky_class(one) for one in ends)
    classes = f"sky class {best}" if best == worst else f"sky class {best} to {worst}"
    return f"{brightness_words(sky)}: stars to {dim:.1f} or {bright:.1f} by eye overhead, {classes}"


def site_words(site: Site) -> str:
    """A site in a line, without where it lies."""
    dark = "how dark it is, is not known yet" if site.sky is None else brightness_words(site.sky)
    seeing = "" if site.seeing_arcsec is None else f", seeing {site.seeing_arcsec:g} arcsec"
    return f"{site.name}: {dark}{seeing}"


def fit_words(rig: str, sky: Sequence[tuple[Target, RigSky]]) -> str:
    """What of several targets a rig frames, and how long all of it takes, in as many panels as take each in,
    in a sentence or two.
    """
    sized = [(target, one.framed.fill) for target, one in sky if one.framed.fill is not None]
    if not sized:
        return f"{rig}: not known yet; its frame or the targets' sizes are missing."
    too_large = [target.called for target, fill in sized if fill > FULL]
    small = [target.called for target, fill in sized if fill < LEAST_FILL]
    said = f"{rig} frames {len(sized) - len(too_large)} of {len(sized)}"
    if too_large:
        said += f"; {' and '.join(too_large)} {'reach' if len(too_large) > 1 else 'reaches'} beyond it"
    if small:
        said += f"; {' and '.join(small)} {'are' if len(small) > 1 else 'is'} small in it"
    panels = [one.panels for _, one in sky]
    hours = [
        hours
        for (_, one), count in zip(sky, panels, strict=True)
        if one.depth is not None and count is not None and (hours := one.depth.hours_of(count)) is not None
    ]
    if len(hours) < len(sky):
        return f"{said}."
    count = sum(filter(None, panels))
    in_panels = f", in {count} panels" if count > len(sky) else ""
    total = Span(*(sum(getattr(one, end) for one in hours) for end in ("value", "low", "high")))
    return f"{said}. All of it takes {total_hours(total)}{in_panels}."


def sub_text(seconds: float) -> str:
    """One exposure's length."""
    return f"{two_digits(seconds)} s" if seconds < 120.0 else f"{two_digits(seconds / 60.0)} min"


def kind_words(target: Target) -> str:
    """What a target is, and where: "galaxy in Andromeda"."""
    where = CONSTELLATIONS.get(target.constellation)
    return KIND_WORDS[target.kind] + (f" in {where}" if where else "")


def size_words(target: Target) -> str:
    """A target's size."""
    ellipse = target.ellipse_arcmin
    if ellipse is None:
        return "no listed size"
    if ellipse[0] == ellipse[1]:
        return f"{ellipse[0]:.3g}'"
    return f"{ellipse[0]:.3g}' x {ellipse[1]:.3g}'"


def size_doubt(target: Target) -> str:
    """Why a nebula's listed size is not to be framed by unseen, "" for what is no nebula or has none."""
    if target.own or target.kind not in NEBULAE or target.ellipse_arcmin is None:
        return ""
    return "The size listed for a nebula is often only that of its brightest part, or of the cluster inside."


def fill_words(framed: Framed) -> str:
    """How a target sits on a sensor."""
    if framed.frame is None:
        return ""
    if framed.fill is None or framed.best_fill is None:
        return "Its size is not listed: it is drawn as a point."
    said = f"It fills {100 * framed.fill:.0f} % of the frame"
    if framed.fill > FULL:
        said = f"It is {two_digits(framed.fill)} times as large as the frame"
    if framed.which_way:
        return f"{said}, as it fits best; which way it lies is not listed."
    if framed.any_angle:
        return f"{said} at any angle."
    if abs(framed.fill - framed.best_fill) < 0.01:
        return f"{said}, as it fits best, with the upper side at {framed.angle_deg:.0f}°."
    best = f"{100 * framed.best_fill:.0f} % with the upper side at {framed.best_angle_deg:.0f}°"
    return f"{said}; it would be {best}."


def year_words(year: Year, target: Target, site: Site) -> str:
    """When in the year, in a sentence or two."""
    top = f"{year.culmination_deg:.0f}°"
    if year.standing == "never":
        return f"{target.called} never comes above the line of {site.name}: it stands {top} high at most."
    if all(month.dark_h == 0.0 for month in year.months):
        return f"At {site.name} it never gets dark."
    if year.best is None:
        return f"{target.called} is never above the line of {site.name} in the dark; it culminates at {top}."
    best = year.best
    said = (
        f"Best in {best.first:%B}: {long_hours(best.moonless_h)} a night without the Moon, on average, above "
        f"the line of {site.name}. It culminates at {top}."
    )
    if year.grazing_h is not None:
        low, high = year.grazing_h
        said += f" It grazes the line: {long_hours(low)} to {long_hours(high)} with the Moon or without."
    return said


def no_night_words(year: Year) -> str:
    """The months without any darkness, "" for none."""
    names = ", ".join(f"{month.first:%B}" for month in year.no_night)
    return f" No darkness in {names}." if names else ""


def night_words(night: Night, target: Target) -> str:
    """One night, in a sentence or two."""
    if night.dusk is None or night.dawn is None:
        return f"The night of {night.evening:%d %B %Y} does not get dark."
    dark = (
        "It is dark all day"
        if night.dark_h >= 24.0
        else f"Dark from {clock(night.dusk)} to {clock(night.dawn)}"
    )
    moon = f"The Moon is {100 * night.moon_lit:.0f} % lit and {night.moon_distance_deg:.0f}° away"
    if night.highest is None:
        return f"{dark}; {target.called} is not above the line then. {moon}."
    when = " and ".join(f"from {clock(a)} to {clock(b)}" for a, b in night.windows)
    left = (
        f"{long_hours(night.moonless_h)} of that without it"
        if night.moonless_h >= 0.05
        else "up all the while"
    )
    return (
        f"{dark}; {target.called} is above the line {when}, highest at {clock(night.highest.at)} with "
        f"{night.highest.altitude_deg:.0f}°. {moon}: {left}."
    )


def depth_words(depth: Depth, wishes: DepthWishes, panels: int = 1) -> str:
    """Sub-exposures and hours, in a sentence or two; the hours are of each of so many panels."""
    share = f"{100 * wishes.read_share:.2g} %"
    said = (
        f"Expose {sub_text(depth.sub_s)} or more: from {sub_text(depth.shortest_s)} on, reading out the "
        f"camera makes the noise at most {share} larger."
        if depth.sub_s >= depth.shortest_s
        else f"In exposures of {sub_text(depth.sub_s)} reading out the camera makes the noise more than "
        f"{share} larger; from {sub_text(depth.shortest_s)} on it does not."
    )
    if depth.hours is None:
        return said
    wanted = wishes.signal_to_noise
    each = " in each panel" if panels > 1 else ""
    return (
        f"{total_hours(depth.hours)} for a signal to noise of {wanted:g} per square arcsecond{each}. {said}"
    )


def altitude_words(depth: Depth, wishes: DepthWishes, year: Year | None) -> str:
    """The altitude that is reckoned with, and why that one."""
    said = f"Reckoned with the target {depth.altitude_deg:.0f}° high"
    if wishes.altitude_deg is not None or year is None:
        return f"{said}."
    if year.usual_altitude_deg is None or year.best is None:
        return f"{said}, the highest that it comes."
    return f"{said}, as it stands on average while it is photographed in {year.best.first:%B}."


def nights_in(month: Month, hours: Span) -> tuple[int, int] | None:
    """How many clear nights of a month so many hours take without the Moon, at least and at most; None where
    it gives none.
    """
    if month.moonless_h <= 0.0:
        return None
    least, most = (max(1, math.ceil(one / month.moonless_h)) for one in (hours.low, hours.high))
    return least, most


def nights_text(month: Month, hours: Span | None) -> str:
    """The same in words: "3 to 5", "-" for none."""
    nights = None if hours is None else nights_in(month, hours)
    if nights is None:
        return "-"
    return f"{nights[0]:,}" if nights[0] == nights[1] else f"{nights[0]:,} to {nights[1]:,}"


def nights_needed(depth: Depth, year: Year, panels: int = 1) -> str:
    """How many clear nights so many panels take in the best month, "" where that is not known."""
    hours = depth.hours_of(panels)
    if hours is None or year.best is None:
        return ""
    return f"{nights_text(year.best, hours)} in {year.best.first:%B}"


def frames_words(depth: Depth, panels: int = 1) -> str:
    """How many exposures, of what length, so many panels take, and what they fill; "" while not known."""
    if depth.frames is None:
        return ""
    count = panels * depth.frames
    said = f"{count:,} of {sub_text(depth.sub_s)}" + (f" in {panels} panels" if panels > 1 else "")
    return f"{said}, {two_digits(count * depth.bytes_each / GB)} GB"


def weighs_words(depth: Depth) -> str:
    """What the hours are least sure by."""
    heavy = [UNSURE_WORDS[name] for name, share in depth.weighs[:2] if share > 0.2]
    return f"Least sure by {' and '.join(heavy)}." if heavy else ""


def mosaic_words(rig: str, panels: tuple[int, int]) -> str:
    """What takes in a target that is too large."""
    columns, rows = panels
    return f"{columns} x {rows} panels of {rig} take it in"


def panels_words(panels: Panels, depth: Depth | None) -> str:
    """A mosaic in a sentence or two; depth: of one of its panels."""
    across, up = panels.covered_deg
    said = (
        f"{len(panels.panels)} panels cover {across:.2f}° x {up:.2f}°; neighbours share "
        f"{panels.shared_arcmin[0]:.0f}' across and {panels.shared_arcmin[1]:.0f}' up."
    )
    hours = None if depth is None else depth.hours_of(len(panels.panels))
    if hours is not None:
        said += f" All of them take {total_hours(hours)}."
    if panels.fixed:
        said += (
            f" With the camera at one angle a panel is up to {panels.turn_missing_deg:.1f}° out, and "
            f"{100 * panels.uncovered_share:.2g} % of the whole is in no panel."
        )
        if panels.better_turned:
            said += " So near the pole, turn the camera from panel to panel."
    return said
