"""What the sky answers: targets, how they are framed, when they are up, how deep a rig goes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, datetime
from typing import Self

from pydantic import BaseModel, Field

from server.domain.guarded import Failed
from server.domain.sky.depth import Depth
from server.domain.sky.finding import FoundTarget
from server.domain.sky.frame import Frame, Framed
from server.domain.sky.panels import Panels
from server.domain.sky.reckoning import DepthWishes, Span, Unsure
from server.domain.sky.site import Site
from server.domain.sky.target import Target, TargetKind
from server.domain.sky.when import Night, Standing, Step, Year
from server.flow.plan_sky import RigSky, SkyWishes, TargetSky, panels_on
from server.rim.phrasebook.tell import asked_of, plain
from server.rim.sky_compare import reasons
from server.rim.sky_words import (
    KIND_WORDS,
    UNSURE_WORDS,
    depth_words,
    fill_words,
    night_words,
    nights_in,
    nights_needed,
    panels_words,
    year_words,
)


class TargetAnswer(BaseModel):
    """A target: the catalogue's object, or the observer's own. J2000; null is not known."""

    name: str = Field(examples=["NGC 224"])
    called: str = Field(description="What sentences call it.", examples=["M 31"])
    other_names: tuple[str, ...]
    kind: TargetKind
    kind_words: str
    constellation: str = Field(description="Its three letters; empty for the observer's own.")
    ra_deg: float
    dec_deg: float
    major_arcmin: float | None
    minor_arcmin: float | None
    angle_deg: float | None = Field(description="Of the long side, from north through east.")
    v_mag: float | None
    b_mag: float | None
    surface_b_mag: float | None = Field(
        description="Mean within the isophote of 25, B magnitudes per square arcsecond."
    )
    surface_v_mag: float | None = Field(description="As its owner says, V magnitudes per square arcsecond.")
    hubble: str
    own: bool

    @classmethod
    def of(cls, target: Target) -> Self:
        """The answer for a target."""
        figures = {name: getattr(target, name) for name in Target.model_fields}
        return cls(called=target.called, kind_words=KIND_WORDS[target.kind], **figures)


class FrameAnswer(BaseModel):
    """What a rig takes in."""

    width_deg: float
    height_deg: float
    scale_arcsec: float = Field(description="Of a pixel.")
    focal_length_mm: float = Field(description="At the sensor.")
    width_mm: float
    height_mm: float
    width_px: int
    height_px: int

    @classmethod
    def of(cls, frame: Frame) -> Self:
        """The answer for a frame."""
        return cls(
            width_deg=frame.width_deg,
            height_deg=frame.height_deg,
            scale_arcsec=frame.scale_arcsec,
            focal_length_mm=frame.focal_mm,
            width_mm=frame.sensor_mm[0],
            height_mm=frame.sensor_mm[1],
            width_px=frame.width_px,
            height_px=frame.height_px,
        )


class FramedAnswer(BaseModel):
    """A target on a rig's frame. Angles are of the sensor's upper side, from north through east."""

    frame: FrameAnswer | None = Field(description="Null while something is missing.")
    missing: tuple[str, ...] = Field(description="What to enter for it.")
    angle_deg: float | None
    fill: float | None = Field(
        description="The most that the target fills of a side, a share of 1; above 1 it is cut off."
    )
    best_fill: float | None
    best_angle_deg: float | None = Field(description="Null where no angle is better than another.")
    sentence: str

    @classmethod
    def of(cls, framed: Framed) -> Self:
        """The answer for a target on a frame."""
        angled = framed.best_fill is not None and not framed.any_angle
        return cls(
            frame=None if framed.frame is None else FrameAnswer.of(framed.frame),
            missing=asked_of(framed.missing),
            angle_deg=None if framed.frame is None else framed.angle_deg,
            fill=framed.fill,
            best_fill=framed.best_fill,
            best_angle_deg=framed.best_angle_deg if angled else None,
            sentence=fill_words(framed),
        )


class FoundAnswer(BaseModel):
    """A line of what a search finds. Hours are of a night, on average over the month."""

    target: TargetAnswer
    culmination_deg: float | None = Field(description="Null without a site, like what follows.")
    above_h: float | None = Field(
        description="In the dark above the site's line, in the month asked for, else in its best one."
    )
    moonless_h: float | None = Field(description="Of these without the Moon.")
    best_month: int | None = Field(description="1 to 12; null too where it is never up in the dark.")
    framed: FramedAnswer | None = Field(description="On the rig; null without one.")

    @classmethod
    def of(cls, one: FoundTarget) -> Self:
        """The answer for a line."""
        return cls(
            target=TargetAnswer.of(one.target),
            culmination_deg=one.culmination_deg,
            above_h=one.above_h,
            moonless_h=one.moonless_h,
            best_month=one.best_month or None,
            framed=None if one.framed is None else FramedAnswer.of(one.framed),
        )


class MonthAnswer(BaseModel):
    """A month's nights: hours a night, on average."""

    month: int
    dark_h: float
    above_h: float = Field(description="In the dark with the target above the line.")
    moonless_h: float = Field(description="Of these without the Moon.")


class SpanAnswer(BaseModel):
    """A figure with its honest ends."""

    value: float
    low: float
    high: float

    @classmethod
    def of(cls, span: Span) -> Self:
        """The answer for a span."""
        return cls(value=span.value, low=span.low, high=span.high)


class RangeAnswer(BaseModel):
    """From, to."""

    low: float
    high: float


class YearAnswer(BaseModel):
    """A target's year at a site."""

    year: int
    months: tuple[MonthAnswer, ...]
    best_month: int | None = Field(description="Of most hours without the Moon; null: never up in the dark.")
    standing: Standing = Field(description="Whether it never comes above the line, always is, or sets.")
    culmination_deg: float
    usual_altitude_deg: float | None = Field(
        description="On average while its light comes in, in the best month."
    )
    grazing_h: RangeAnswer | None = Field(
        description="Hours of the best month's nights by a line a little higher and lower; null where that "
        "makes no odds."
    )
    sentence: str

    @classmethod
    def of(cls, year: Year, target: Target, site: Site) -> Self:
        """The answer for a year."""
        months = (
            MonthAnswer(
                month=one.first.month, dark_h=one.dark_h, above_h=one.above_h, moonless_h=one.moonless_h
            )
            for one in year.months
        )
        grazing = year.grazing_h
        return cls(
            year=year.months[0].first.year,
            months=tuple(months),
            best_month=None if year.best is None else year.best.first.month,
            standing=year.standing,
            culmination_deg=year.culmination_deg,
            usual_altitude_deg=year.usual_altitude_deg,
            grazing_h=None if grazing is None else RangeAnswer(low=grazing[0], high=grazing[1]),
            sentence=year_words(year, target, site),
        )


class WindowAnswer(BaseModel):
    """From, to."""

    start: datetime
    end: datetime


class StepAnswer(BaseModel):
    """A moment of the night; altitudes through the air."""

    at: datetime
    altitude_deg: float
    azimuth_deg: float
    line_deg: float = Field(description="The site's line below the target.")
    sun_deg: float
    moon_deg: float
    light: float = Field(
        description="Share of the target's light that comes in; 0 by day and below the line."
    )

    @classmethod
    def of(cls, step: Step) -> Self:
        """The answer for a moment."""
        return cls(**{name: getattr(step, name) for name in cls.model_fields})


class NightAnswer(BaseModel):
    """One night, by the site's clock."""

    evening: date
    dusk: datetime | None = Field(description="Where darkness begins; null where it does not get dark.")
    dawn: datetime | None
    dark_h: float
    above_h: float = Field(description="In the dark with the target above the line.")
    moonless_h: float = Field(description="Of these without the Moon.")
    windows: tuple[WindowAnswer, ...] = Field(description="Above the line in the dark.")
    highest: StepAnswer | None = Field(description="Null where it is not up in the dark.")
    moon_lit: float = Field(description="Share of the Moon's disc at the night's middle.")
    moon_distance_deg: float = Field(description="From the target then.")
    moon_up: tuple[WindowAnswer, ...] = Field(description="From sunset to sunrise.")
    steps: tuple[StepAnswer, ...] = Field(description="From sunset to sunrise.")
    sentence: str

    @classmethod
    def of(cls, night: Night, target: Target) -> Self:
        """The answer for a night."""
        return cls(
            evening=night.evening,
            dusk=night.dusk,
            dawn=night.dawn,
            dark_h=night.dark_h,
            above_h=night.above_h,
            moonless_h=night.moonless_h,
            windows=_windows(night.windows),
            highest=None if night.highest is None else StepAnswer.of(night.highest),
            moon_lit=night.moon_lit,
            moon_distance_deg=night.moon_distance_deg,
            moon_up=_windows(night.moon_up),
            steps=tuple(map(StepAnswer.of, night.steps)),
            sentence=night_words(night, target),
        )


def _windows(runs: Iterable[tuple[datetime, datetime]]) -> tuple[WindowAnswer, ...]:
    return tuple(WindowAnswer(start=start, end=end) for start, end in runs)


class MoonlitAnswer(BaseModel):
    """The hours with the Moon up."""

    lit: float = Field(description="Share of its disc.")
    sky_mag: float = Field(description="Magnitudes per square arcsecond.")
    times: float = Field(description="As many times the hours without the Moon.")


class UnsureAnswer(BaseModel):
    """What the hours are least sure by."""

    what: Unsure
    words: str
    share: float = Field(description="Of the spread.")


class NightsAnswer(BaseModel):
    """Clear nights without the Moon that the hours take in one month."""

    month: int
    least: int | None = Field(description="Null, like the most, where the month gives the target no hours.")
    most: int | None


class DepthAnswer(BaseModel):
    """How deep a rig goes. Brightness is in magnitudes per square arcsecond, light in electrons a second."""

    hours: SpanAnswer | None = Field(
        description="For the wanted signal to noise, of one panel; null while the target's brightness is not "
        "known."
    )
    nights: str = Field(
        description="Clear nights that all panels take in the best month, in words; empty where not known."
    )
    nights_by_month: tuple[NightsAnswer, ...] = Field(
        description="Likewise in each month, from January; empty while the hours are not known."
    )
    signal_to_noise_px: float | None = Field(description="After the total time asked for, in a pixel.")
    signal_to_noise_arcsec2: float | None = Field(description="Likewise, in a square arcsecond.")
    shortest_s: float = Field(description="The shortest exposure that the read noise allows.")
    sub_s: float = Field(description="The exposure that is reckoned with.")
    saturating_mag: float | None = Field(description="The star whose brightest pixel is full after it.")
    faintest_mag: float = Field(description="The star at a signal to noise of 5 after the total time.")
    frames: int | None = Field(description="Exposures of `sub_s` for all panels.")
    bytes_each: int = Field(description="Of a frame, at 16 bits.")
    surface_mag: float | None = Field(description="What is reckoned with, above the air; or `rayleigh` is.")
    rayleigh: float | None
    altitude_deg: float
    sky_mag: float = Field(description="At that altitude.")
    target_e_s_arcsec2: float | None
    sky_e_s_arcsec2: float
    dark_e_s_px: float
    zero_e_s: float = Field(description="Of a star of magnitude 0.")
    gain: float | None
    read_e: float
    full_well_e: float | None
    band_nm: RangeAnswer
    line: bool = Field(description="Whether one line is collected, in a narrow band.")
    moonlit: tuple[MoonlitAnswer, ...]
    least_sure: tuple[UnsureAnswer, ...] = Field(description="The heaviest first.")
    assumed: tuple[str, ...]
    sentence: str

    @classmethod
    def of(cls, depth: Depth, year: Year | None, wishes: DepthWishes, panels: int) -> Self:
        """The answer for a depth."""
        return cls(
            hours=None if depth.hours is None else SpanAnswer.of(depth.hours),
            nights="" if year is None else nights_needed(depth, year, panels),
            nights_by_month=() if year is None else tuple(_nights(depth, year, panels)),
            signal_to_noise_px=depth.per_px,
            signal_to_noise_arcsec2=depth.per_arcsec2,
            shortest_s=depth.shortest_s,
            sub_s=depth.sub_s,
            saturating_mag=depth.saturating_mag,
            faintest_mag=depth.faintest_mag,
            frames=None if depth.frames is None else panels * depth.frames,
            bytes_each=depth.bytes_each,
            surface_mag=depth.surface_mag,
            rayleigh=depth.rayleigh,
            altitude_deg=depth.altitude_deg,
            sky_mag=depth.sky_mag,
            target_e_s_arcsec2=depth.target_e,
            sky_e_s_arcsec2=depth.sky_e,
            dark_e_s_px=depth.dark_e,
            zero_e_s=depth.zero_e,
            gain=depth.gain,
            read_e=depth.read_e,
            full_well_e=depth.full_well_e,
            band_nm=RangeAnswer(low=depth.band_nm[0], high=depth.band_nm[1]),
            line=depth.line,
            moonlit=tuple(
                MoonlitAnswer(lit=one.lit, sky_mag=one.sky_mag, times=one.times) for one in depth.moonlit
            ),
            least_sure=tuple(
                UnsureAnswer(what=name, words=UNSURE_WORDS[name], share=share) for name, share in depth.weighs
            ),
            assumed=tuple(map(plain, depth.assumed)),
            sentence=depth_words(depth, wishes, panels),
        )


def _nights(depth: Depth, year: Year, panels: int) -> Iterator[NightsAnswer]:
    hours = depth.hours_of(panels)
    if hours is None:
        return
    for month in year.months:
        least, most = nights_in(month, hours) or (None, None)
        yield NightsAnswer(month=month.first.month, least=least, most=most)


class PanelAnswer(BaseModel):
    """One panel of a mosaic, J2000; rows count from the top, columns from the left."""

    row: int
    column: int
    ra_deg: float
    dec_deg: float
    angle_deg: float


class PanelsAnswer(BaseModel):
    """A mosaic."""

    panels: tuple[PanelAnswer, ...]
    shared_width_arcmin: float = Field(description="The edge that neighbours share, across.")
    shared_height_arcmin: float
    width_deg: float = Field(description="What all of it takes in.")
    height_deg: float
    turn_missing_deg: float = Field(description="The most that a panel is out of its angle.")
    uncovered_share: float = Field(description="Of the whole, in no panel.")
    sentence: str

    @classmethod
    def of(cls, panels: Panels, depth: Depth | None) -> Self:
        """The answer for a mosaic."""
        return cls(
            panels=tuple(
                PanelAnswer(
                    row=one.row + 1,
                    column=one.column + 1,
                    ra_deg=one.ra_deg,
                    dec_deg=one.dec_deg,
                    angle_deg=one.angle_deg,
                )
                for one in panels.panels
            ),
            shared_width_arcmin=panels.shared_arcmin[0],
            shared_height_arcmin=panels.shared_arcmin[1],
            width_deg=panels.covered_deg[0],
            height_deg=panels.covered_deg[1],
            turn_missing_deg=panels.turn_missing_deg,
            uncovered_share=panels.uncovered_share,
            sentence=panels_words(panels, depth),
        )


class RigSkyAnswer(BaseModel):
    """One rig under the target."""

    rig_id: int
    rig: str
    framed: FramedAnswer
    star_arcsec: float | None = Field(description="A star's full width in the middle, all in.")
    depth: DepthAnswer | None = Field(description="Null without a site, and while something is missing.")
    missing: tuple[str, ...] = Field(description="What to enter for the depth, or to be surer of it.")
    panels: PanelsAnswer | None = Field(description="Null where no mosaic is asked for.")
    trouble: str = Field(
        description="Why figures that are there cannot be worked with; empty where they can."
    )

    @classmethod
    def of(cls, one: RigSky, view: TargetSky, wishes: SkyWishes) -> Self:
        """The answer for a rig."""
        panels = panels_on(one, view.target, wishes)
        failed = panels.why if isinstance(panels, Failed) else None
        depth = one.depth
        return cls(
            rig_id=one.stored.id,
            rig=one.rig.name,
            framed=FramedAnswer.of(one.framed),
            star_arcsec=one.star_arcsec,
            depth=None if depth is None else DepthAnswer.of(depth, view.year, wishes.depth, wishes.panels),
            missing=asked_of(one.missing),
            panels=PanelsAnswer.of(panels, depth) if isinstance(panels, Panels) else None,
            trouble=" ".join(plain(why) for why in (one.trouble, failed) if why is not None),
        )


class TargetSkyAnswer(BaseModel):
    """A target under the sky of a site, on rigs."""

    target: TargetAnswer
    credit: str = Field(
        description="Whose catalogue it is of, and its licence; empty for the observer's own."
    )
    listed: int | None = Field(description="Its number on the observer's list; null where it is not on it.")
    site_id: int | None
    year: YearAnswer | None = Field(description="Null without a site, like the night.")
    night: NightAnswer | None
    trouble: str = Field(description="Why year or night could not be worked out; empty where they could.")
    rigs: tuple[RigSkyAnswer, ...]
    reasons: tuple[str, ...] = Field(description="Why one rig needs longer than another.")

    @classmethod
    def of(cls, view: TargetSky, wishes: SkyWishes, credit: str, listed: int | None) -> Self:
        """The answer for a target."""
        site, year, night = view.site, view.year, view.night
        return cls(
            target=TargetAnswer.of(view.target),
            credit=credit,
            listed=listed,
            site_id=None if site is None else site.id,
            year=None if year is None or site is None else YearAnswer.of(year, view.target, site.site),
            night=None if night is None else NightAnswer.of(night, view.target),
            trouble="" if view.trouble is None else plain(view.trouble),
            rigs=tuple(RigSkyAnswer.of(one, view, wishes) for one in view.rigs),
            reasons=reasons(view),
        )
