"""A target under the sky as its template sees it: framed, in year and night, and how deep each rig goes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, ClassVar

from markupsafe import Markup

from server.domain.fields import FieldSpec
from server.domain.observer import Observer, UnitSystem
from server.domain.sky.around import Around, around
from server.domain.sky.depth import STAR_MAG, Depth
from server.domain.sky.frame import Frame
from server.domain.sky.reckoning import Span
from server.domain.sky.sketch import WIDTH_PX, height_px, sky_noise_share
from server.domain.sky.target import ListedTarget, Target
from server.domain.sky.when import Night, Year
from server.flow.plan_sky import RigSky, SkyWishes, TargetSky
from server.flow.protocols import RigLine
from server.rim.coordinates import write_declination, write_right_ascension
from server.rim.phrasebook.tell import asked_of, plain
from server.rim.sky_compare import reasons
from server.rim.sky_wishes import DEPTH_SPECS, FRAME_SPECS, NIGHT_SPEC, wish_texts
from server.rim.sky_words import (
    altitude_words,
    clock,
    depth_words,
    fill_words,
    frames_words,
    kind_words,
    long_hours,
    mosaic_words,
    night_words,
    nights_needed,
    nights_text,
    no_night_words,
    size_doubt,
    size_words,
    sub_text,
    total_hours,
    two_digits,
    weighs_words,
    year_words,
)
from server.rim.totals import write_totals
from server.web.entering import form_for
from server.web.rendering import URLS
from server.web.sky.frame_picture import frame_svg, reach_arcmin, scale_of
from server.web.sky.ribbons import night_svg, year_svg

SKETCH_HOURS = (1.0, 5.0, 20.0)
USUAL = wish_texts(SkyWishes())


@dataclass(frozen=True)
class PanelLine:
    """A panel of a mosaic, in words."""

    name: str
    ra: str
    dec: str
    angle: str


@dataclass(frozen=True)
class SketchLine:
    """A sketch: its address, the hours, and what it shows in words."""

    url: str
    hours: str
    words: str
    height: int


@dataclass(frozen=True)
class RigColumn:
    """A rig's part of the page.

    Attributes:
        framed: how the target sits on its sensor, in a sentence; fill the short form of it.
        cells: its figures, as `ROWS` names them; empty while nothing can be reckoned.
        said: exposures and hours in sentences. lacking: what to enter, each with its address.
        assumed: what is taken for granted. trouble: why figures that are there cannot be worked with.
        sketches: at several total times.
        mosaic: the address of a mosaic that takes in a target that is too large, "" for another.
    """

    rig_id: int
    name: str
    framed: str
    fill: str
    cells: tuple[str, ...]
    said: str
    lacking: tuple[tuple[str, str], ...]
    assumed: tuple[str, ...]
    trouble: str
    sketches: tuple[SketchLine, ...]
    mosaic: str
    mosaic_words: str

    @property
    def figures(self) -> Mapping[str, str]:
        """Its cells by the names of `ROWS`."""
        return dict(zip(ROWS, self.cells, strict=False))


ROWS = (
    "to the wanted signal to noise",
    "clear nights, without the Moon",
    "frames, storage",
    "one exposure",
    "shortest for the read noise",
    "burns out at magnitude",
    "signal to noise of a pixel, in the hours set",
    "of a square arcsecond",
    "binned 2 x 2 afterwards",
    f"of a star of magnitude {STAR_MAG:g}",
    "faintest star, to a signal to noise of 5",
    "star's width, all in",
    "pixel",
    "field",
    "target's light, a square arcsecond",
    "sky's light, a square arcsecond",
    "half Moon, full Moon",
    "weighs and costs",
)


@dataclass(frozen=True)
class TargetPage:
    """One target.

    Attributes:
        listed: its line on the observer's list, None while it is not on it.
        names, place, size: what is told of it. credit: whose catalogue it is of, "" for one's own.
        sites, site_id, rigs, rig_ids: the choices, and what is chosen.
        typed, errors: the form of wishes.
        framing, framing_said: the picture and its words; turn the sensor's angle.
        size_doubt: why a nebula's listed size may be too small, "" for none.
        stars_said: what of the field's stars is drawn.
        year, year_said, months, month_heads, night, night_said, moments: when, None without a site.
        columns: the rigs. reasons: why one needs longer than another.
        altitude_said: the altitude that all are reckoned at, "" while nothing is reckoned.
        panels, panels_said, panels_url: of a mosaic; empty without one.
        query: the page's own query, for its further addresses.
    """

    template: ClassVar[str] = "sky/target.html"

    target: Target
    key: str
    listed: ListedTarget | None
    names: str
    place: str
    size: str
    credit: str
    sites: tuple[tuple[int, str], ...]
    site_id: int | None
    rigs: tuple[RigLine, ...]
    rig_ids: tuple[int, ...]
    typed: Mapping[str, str]
    errors: Mapping[str, str]
    framing: Markup | None
    framing_said: str
    size_doubt: str
    turn: float
    stars_said: str
    year: Markup | None
    year_said: str
    months: tuple[tuple[str, ...], ...]
    month_heads: tuple[str, ...]
    night: Markup | None
    night_said: str
    moments: tuple[tuple[str, ...], ...]
    trouble: str
    columns: tuple[RigColumn, ...]
    altitude_said: str
    reasons: tuple[str, ...]
    panels: tuple[PanelLine, ...]
    panels_said: str
    query: Mapping[str, Any]
    rows: tuple[str, ...] = ROWS
    night_spec: FieldSpec = NIGHT_SPEC
    frame_specs: tuple[FieldSpec, ...] = FRAME_SPECS
    depth_specs: tuple[FieldSpec, ...] = DEPTH_SPECS

    @property
    def specs(self) -> tuple[FieldSpec, ...]:
        """All fields of the form."""
        return (self.night_spec, *self.frame_specs, *self.depth_specs)

    @property
    def panel_rows(self) -> tuple[tuple[str, ...], ...]:
        """The panels as a table's rows."""
        return tuple((one.name, one.ra, one.dec, one.angle) for one in self.panels)

    @property
    def more_open(self) -> bool:
        """Whether one of the folded wishes is wished for, or could not be read."""
        return any(
            spec.name in self.errors or self.typed[spec.name] != USUAL[spec.name]
            for spec in (*self.frame_specs, *self.depth_specs)
        )


def names_of(target: Target) -> str:
    """All that it is called, the usual one first."""
    names = [target.called, *target.other_names, target.name]
    return " · ".join(dict.fromkeys(names))


def place_of(target: Target) -> str:
    """Where it stands."""
    return f"{write_right_ascension(target.ra_deg)}, {write_declination(target.dec_deg)}"


def frames_of(view: TargetSky) -> tuple[Frame, ...]:
    """The frames of the rigs that have one."""
    return tuple(one.frame for one in view.rigs if one.frame is not None)


def _lacking(one: RigSky, observer_id: int, site_id: int | None) -> Iterator[tuple[str, str]]:
    """What to enter for a rig's depth, each with the address of its field."""
    at_wish = {
        "wants.sky_brightness": URLS.site(site_id),
        "wants.target_brightness": "#wish-surface_mag",
        "wants.line_brightness": "#wish-rayleigh",
    }
    for missing, words in zip(one.missing, asked_of(one.missing), strict=True):
        form = form_for(words, one.rig.items, observer_id, one.stored.id)
        yield str(words), at_wish.get(missing.says.key, form)


def column_of(
    one: RigSky,
    view: TargetSky,
    wishes: SkyWishes,
    reader: Observer,
    noise: float | None,
    key: str,
    query: Mapping[str, Any],
    hours: tuple[float, ...] = SKETCH_HOURS,
) -> RigColumn:
    """One rig's column, with its sketches after so many hours."""
    units, observer_id = reader.units, reader.id
    depth, framed = one.depth, one.framed
    return RigColumn(
        rig_id=one.stored.id,
        name=one.rig.name,
        framed=fill_words(framed),
        fill="" if framed.fill is None else f"{100 * framed.fill:.0f} %",
        cells=()
        if depth is None or one.frame is None
        else _cells(one, depth, one.frame, view.year, units, wishes.panels),
        said=""
        if depth is None
        else " ".join(filter(None, (depth_words(depth, wishes.depth, wishes.panels), weighs_words(depth)))),
        lacking=tuple(_lacking(one, observer_id, None if view.site is None else view.site.id)),
        assumed=() if depth is None else tuple(map(plain, depth.assumed)),
        trouble="" if one.trouble is None else plain(one.trouble),
        mosaic="" if framed.panels is None else _mosaic(one, key, query),
        mosaic_words="" if framed.panels is None else mosaic_words(one.rig.name, framed.panels),
        sketches=() if noise is None else tuple(_sketches(one, noise, key, query, hours)),
    )


def _mosaic(one: RigSky, key: str, query: Mapping[str, Any]) -> str:
    """The page with the mosaic that takes the whole target in."""
    columns, rows = one.framed.panels or (1, 1)
    shape = {"columns": columns, "rows": rows, "angle_deg": f"{one.framed.along_deg:.0f}"}
    return URLS.target(key, **{**query, "rig": one.stored.id, **shape})


def _cells(
    one: RigSky, depth: Depth, frame: Frame, year: Year | None, units: UnitSystem, panels: int
) -> tuple[str, ...]:
    def figure(value: float | None, form: str) -> str:
        return "not known yet" if value is None else form.format(value)

    hours = depth.hours_of(panels)
    of_all = f", {panels} panels" if panels > 1 else ""
    wide, high = frame.width_deg, frame.height_deg
    field = f"{wide:.2f}° x {high:.2f}°" if wide >= 1.0 else f"{60 * wide:.0f}' x {60 * high:.0f}'"
    moon = " and ".join(f"{one.times:.1f}" for one in depth.moonlit)
    return (
        "not known yet" if hours is None else total_hours(hours) + of_all,
        "not known yet" if year is None else nights_needed(depth, year, panels) or "not known yet",
        frames_words(depth, panels) or "not known yet",
        sub_text(depth.sub_s),
        sub_text(depth.shortest_s),
        figure(depth.saturating_mag, "{:.1f}"),
        figure(depth.per_px, "{:.2g}"),
        figure(depth.per_arcsec2, "{:.2g}"),
        _binned(depth, frame),
        two_digits(depth.star_noise),
        f"{depth.faintest_mag:.1f}",
        "" if one.star_arcsec is None else f"{one.star_arcsec:.1f} arcsec",
        f"{frame.scale_arcsec:.2f} arcsec",
        field,
        figure(depth.target_e, "{:.2g} e-/s"),
        f"{two_digits(depth.sky_e)} e-/s at {depth.sky_mag:.1f} mag",
        f"{moon} times the hours" if moon else "not known yet",
        write_totals(one.rig, units),
    )


def _binned(depth: Depth, frame: Frame) -> str:
    """What adding up four pixels after reading changes: their light fourfold, their noise twofold."""
    if depth.per_px is None:
        return "not known yet"
    scale, noise = 2.0 * frame.scale_arcsec, 2.0 * depth.per_px
    return f"pixels of {scale:.2f} arcsec at {noise:.2g}"


def _sketches(
    one: RigSky, noise: float, key: str, query: Mapping[str, Any], at: tuple[float, ...]
) -> Iterator[SketchLine]:
    if one.depth is None or one.frame is None:
        return
    for hours in at:
        asked = {**query, "rig": None, "hours": f"{hours:g}", "noise": f"{noise:.4g}"}
        yield SketchLine(
            URLS.sketch(key, one.stored.id, **asked),
            f"{hours:g} h",
            f"Sketch of {one.rig.name} after {hours:g} hours, from catalogue figures",
            height_px(one.frame),
        )


def noise_of(view: TargetSky) -> float | None:
    """What all sketches are stretched by: the first rig's after the shortest time; None without one."""
    for one in view.rigs:
        if one.depth is not None and one.frame is not None:
            return sky_noise_share(one.depth, one.frame, 3600.0 * SKETCH_HOURS[0], WIDTH_PX)
    return None


def timed_rigs(view: TargetSky, panels: int) -> Iterator[tuple[str, Span]]:
    """The rigs whose hours are known, with those of all panels."""
    for one in view.rigs:
        hours = None if one.depth is None else one.depth.hours_of(panels)
        if hours is not None:
            yield one.rig.name, hours


def month_heads(view: TargetSky) -> tuple[str, ...]:
    """What the year's table tells of a month."""
    nights = (f"nights: {name}" if len(view.rigs) > 1 else "nights" for name, _ in timed_rigs(view, 1))
    # The year once and short months: names of rigs need the room.
    month = "month" if view.year is None else f"month of {view.year.months[0].first:%Y}"
    return (month, "dark", "moonless", "target above the line", "moonless", *nights)


def month_lines(year: Year, view: TargetSky, panels: int) -> tuple[tuple[str, ...], ...]:
    """The year's table: hours a night, and the clear nights that each rig needs there."""
    return tuple(
        (
            f"{one.first:%b}",
            *map(long_hours, (one.dark_h, one.moonless_dark_h, one.above_h, one.moonless_h)),
            *(nights_text(one, hours) for _, hours in timed_rigs(view, panels)),
        )
        for one in year.months
    )


def moment_lines(night: Night) -> tuple[tuple[str, ...], ...]:
    """The night's table, about twice an hour."""
    return tuple(
        (
            clock(one.at),
            f"{one.altitude_deg:.0f}°",
            f"{one.line_deg:.0f}°",
            f"{one.azimuth_deg:.0f}°",
            f"{one.sun_deg:.0f}°",
            f"{one.moon_deg:.0f}°",
            f"{100 * one.light:.0f} %" if one.light else "none",
        )
        for one in night.steps[::3]
    )


def picture_of(
    view: TargetSky, wishes: SkyWishes, name: str = "frame"
) -> tuple[Markup | None, Around | None, float]:
    """The framing picture, what it holds, and the sensor's angle; None without a frame. name: its ids."""
    frames = frames_of(view)
    if not frames:
        return None, None, 0.0
    shape = wishes.rows, wishes.columns, wishes.overlap
    scale = scale_of(frames, view.target, *shape)
    held = around(view.target, reach_arcmin(scale))
    angle = next(one.framed.angle_deg for one in view.rigs if one.frame is not None)
    words = f"{view.target.called}, {size_words(view.target)}, on {', '.join(one.name for one in frames)}"
    return frame_svg(view.target, frames, angle, held, words, scale, *shape, name=name), held, angle


def stars_words(view: TargetSky, held: Around | None) -> str:
    """What of the field's stars is drawn."""
    frames = frames_of(view)
    if held is None or not frames:
        return ""
    wide, high = (max(sides) for sides in zip(*(one.sides_arcmin for one in frames), strict=True))
    inside = sum(1 for x, y, _ in held.stars if max(abs(x) / wide, abs(y) / high) <= 0.5)
    said = f"Stars to magnitude {held.limit_g:g} (G) are drawn as they stand"
    return f"{said}; the largest frame holds {inside}." if inside else f"{said}; these frames hold none."


def target_page(
    view: TargetSky,
    key: str,
    listed: ListedTarget | None,
    sites: tuple[tuple[int, str], ...],
    rigs: tuple[RigLine, ...],
    wishes: SkyWishes,
    typed: Mapping[str, str],
    errors: Mapping[str, str],
    evening: date,
    panels: tuple[PanelLine, ...],
    panels_said: str,
    credit: str,
    query: Mapping[str, Any],
    reader: Observer,
) -> TargetPage:
    """Build the page."""
    target, site = view.target, view.site
    picture, held, angle = picture_of(view, wishes)
    noise = noise_of(view)
    texts = {**typed, "evening": typed.get("evening") or evening.isoformat()}
    return TargetPage(
        target=target,
        key=key,
        listed=listed,
        names=names_of(target),
        place=place_of(target),
        size=f"{kind_words(target)}, {size_words(target)}",
        credit=credit,
        sites=sites,
        site_id=None if site is None else site.id,
        rigs=rigs,
        rig_ids=tuple(one.stored.id for one in view.rigs),
        typed=texts,
        errors=errors,
        framing=picture,
        framing_said=" ".join(
            f"{one.rig.name}: {fill_words(one.framed)}" if len(view.rigs) > 1 else fill_words(one.framed)
            for one in view.rigs
            if one.frame is not None
        ),
        size_doubt=size_doubt(target),
        turn=angle,
        stars_said=stars_words(view, held),
        year=None
        if view.year is None or site is None
        else year_svg(view.year, year_words(view.year, target, site.site)),
        year_said=""
        if view.year is None or site is None
        else year_words(view.year, target, site.site) + no_night_words(view.year),
        months=() if view.year is None else month_lines(view.year, view, wishes.panels),
        month_heads=month_heads(view),
        night=None if view.night is None else night_svg(view.night, night_words(view.night, target)),
        night_said="" if view.night is None else night_words(view.night, target),
        moments=() if view.night is None else moment_lines(view.night),
        trouble="" if view.trouble is None else plain(view.trouble),
        columns=tuple(column_of(one, view, wishes, reader, noise, key, query) for one in view.rigs),
        altitude_said=next(
            (altitude_words(one.depth, wishes.depth, view.year) for one in view.rigs if one.depth), ""
        ),
        reasons=reasons(view),
        panels=panels,
        panels_said=panels_said,
        query=query,
    )
