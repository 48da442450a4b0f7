"""What the sky gives, in sentences: read as a person reads them."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.domain.parts.cameras import DarkRow, GainRow
from server.domain.sky.depth import Depth
from server.domain.sky.finding import KINDS
from server.domain.sky.panels import work_panels
from server.domain.sky.reckoning import DepthWishes, Span
from server.domain.sky.site import Site, StoredSite
from server.domain.sky.target import Target, catalogue_target
from server.domain.sky.when import work_night, work_year
from server.flow.plan_sky import RigSky, SkyWishes, TargetSky, plan_target
from server.flow.protocols import StoredRig
from server.rim.sky_wishes import unused
from server.rim.sky_words import (
    KIND_WORDS,
    UNSURE_WORDS,
    altitude_words,
    clock,
    depth_words,
    fill_words,
    fit_words,
    frames_words,
    kind_words,
    long_hours,
    night_words,
    nights_in,
    nights_needed,
    nights_text,
    no_night_words,
    panels_words,
    site_words,
    size_words,
    sub_text,
    total_hours,
    two_digits,
    weighs_words,
    year_words,
)
from tests.domain.rigs import camera, rig, tube

GARDEN = Site(
    name="The garden",
    latitude_deg=50.0,
    longitude_deg=10.0,
    zone="Europe/Berlin",
    brightness_by="magnitude",
    brightness=20.4,
)
ARCTIC = GARDEN.model_copy(update={"name": "The arctic", "latitude_deg": 78.0})
POLE = GARDEN.model_copy(update={"name": "The pole", "latitude_deg": 85.0})
M31 = catalogue_target("M 31")
SOUTHERN = Target(name="A southern star", ra_deg=100.0, dec_deg=-60.0)
GRAZING = Target(name="A grazing star", ra_deg=100.0, dec_deg=-9.9)
NOT_WORDS = re.compile(r"\bnan\b|\binf\b|None|\be[+-]\d|[<>{}]|\(\)|datetime|  ", re.IGNORECASE)


def is_plain(text: str) -> bool:
    """Whether a text is whole sentences without what only a program would write."""
    return not NOT_WORDS.search(text) and (text == "" or text.rstrip().endswith("."))


@cache
def planned(target=M31, site=GARDEN, focal_mm=400.0, **wishes) -> TargetSky:
    sensor = camera(
        colour="mono",
        quantum_efficiency=0.9,
        gains=(GainRow(gain=0.0, read_noise_e=1.5, full_well_e=50_000.0, conversion_e=0.8),),
        dark_current=(DarkRow(temperature_c=-10.0, dark_e_s=0.002),),
    )
    plain = tube(focal_length_mm=focal_mm, aperture_mm=focal_mm / 5.0, obstruction_mm=0.0)
    name = f"The {focal_mm:g}"
    stored = StoredRig(id=1, observer_id=1, name=name, version=1, plan=None)  # type: ignore[arg-type]
    own = rig(plain, sensor)
    kept = StoredSite(id=1, observer_id=1, revision=1, site=site)
    wished = SkyWishes(depth=DepthWishes(**wishes))
    return plan_target(target, kept, ((stored, replace(own, name=name)),), wished, date(2026, 10, 12))


def depth_of(view: TargetSky) -> Depth:
    found = view.rigs[0].depth
    assert found is not None
    return found


# -- Numbers


@pytest.mark.parametrize(
    ("hours", "text"),
    [
        (0.0, "0 min"),
        (0.04, "0 min"),
        (0.1, "5 min"),
        (0.99, "1 h"),
        (1.0, "1 h"),
        (6.17, "6 h 10 min"),
        (6.98, "7 h"),
        (24.0, "24 h"),
    ],
)
def test_a_length_within_a_night_is_told_in_steps_of_five_minutes(hours, text):
    assert long_hours(hours) == text


@given(st.floats(0.0, 24.0))
def test_no_length_has_sixty_minutes(hours):
    assert "60 min" not in long_hours(hours)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"),
        (0.0123, "0.012"),
        (0.5, "0.50"),
        (4.739, "4.7"),
        (47.39, "47"),
        (473.9, "470"),
        (12345, "12,000"),
    ],
)
def test_a_figure_has_the_two_digits_that_it_carries(value, text):
    assert two_digits(value) == text


@pytest.mark.parametrize(
    ("span", "text"),
    [
        (Span(4.739, 2.9, 7.8), "4.7 h (2.9 to 7.8)"),
        (Span(120.0, 40.0, 1234.0), "120 h (40 to 1,200)"),
        (Span(0.5, 0.25, 1.5), "30 min (15 to 90)"),
        (Span(1e-6, 1e-7, 1e-5), "1 min (1 to 1)"),
    ],
)
def test_a_time_of_exposure_has_its_ends_and_is_in_minutes_below_an_hour(span, text):
    assert total_hours(span) == text


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(0.5, "0.50 s"), (30.0, "30 s"), (90.0, "90 s"), (180.0, "3.0 min"), (1800.0, "30 min")],
)
def test_one_exposure_is_in_seconds_to_two_minutes(seconds, text):
    assert sub_text(seconds) == text


def test_a_time_of_day_is_rounded_to_the_minute_over_midnight():
    assert clock(datetime(2026, 1, 1, 23, 59, 29, tzinfo=UTC)) == "23:59"
    assert clock(datetime(2026, 1, 1, 23, 59, 31, tzinfo=UTC)) == "00:00"


# -- Sites and targets


def test_a_site_is_told_without_where_it_lies():
    assert site_words(GARDEN) == "The garden: 20.4 ± 0.1 magnitudes per square arcsecond"
    air = GARDEN.model_copy(update={"seeing_arcsec": 2.5, "brightness": None, "brightness_by": None})
    assert site_words(air) == "The garden: how dark it is, is not known yet, seeing 2.5 arcsec"
    assert "50" not in site_words(GARDEN)


def test_every_kind_and_every_doubt_has_its_words():
    assert set(KIND_WORDS) == set(KINDS)
    assert len(set(KIND_WORDS.values())) == len(KINDS)
    names = {name for name, _ in depth_of(planned()).weighs}
    assert names <= set(UNSURE_WORDS)
    assert kind_words(M31) == "galaxy in Andromeda"
    assert kind_words(GRAZING) == "another object"


def test_a_size_is_told_once_where_it_is_round():
    assert size_words(M31) == "178' x 69.7'"
    assert size_words(M31.model_copy(update={"minor_arcmin": None})) == "178'"
    assert size_words(GRAZING) == "no listed size"


# -- Year and night


def test_a_year_is_told_by_its_best_month():
    year = work_year(GARDEN, M31, 2026)
    assert year.best is not None
    words = year_words(year, M31, GARDEN)
    assert words.startswith(f"Best in November: {long_hours(year.best.moonless_h)} a night without the Moon")
    assert words.endswith("It culminates at 81°.")
    assert no_night_words(year) == " No darkness in June."


@pytest.mark.parametrize(
    ("site", "target", "words"),
    [
        (GARDEN, SOUTHERN, "A southern star never comes above the line of The garden"),
        (GARDEN, GRAZING, "It grazes the line: "),
        (ARCTIC, M31, "It culminates at 53°."),
        (POLE, M31, "It culminates at 46°."),
    ],
)
def test_every_year_is_told_in_plain_sentences(site, target, words):
    year = work_year(site, target, 2026)
    told = year_words(year, target, site)
    assert words in told
    assert is_plain(told)
    assert is_plain(no_night_words(year))


@pytest.mark.parametrize(
    ("site", "target", "evening", "words"),
    [
        (
            GARDEN,
            M31,
            date(2026, 10, 12),
            "Dark from 20:22 to 05:51; M 31 is above the line from 20:22 to 05:51",
        ),
        (GARDEN, SOUTHERN, date(2026, 10, 12), "A southern star is not above the line then. The Moon is"),
        (ARCTIC, M31, date(2026, 6, 20), "The night of 20 June 2026 does not get dark."),
        (POLE, M31, date(2026, 12, 20), "It is dark all day; M 31 is above the line from"),
        (GARDEN, GRAZING, date(2026, 1, 12), "highest at 23:32 with 30°"),
    ],
)
def test_every_night_is_told_in_plain_sentences(site, target, evening, words):
    told = night_words(work_night(site, target, evening), target)
    assert words in told
    assert is_plain(told)


def test_the_moon_is_told_by_what_it_leaves_of_the_night():
    # New Moon on 10 October 2026, full on 26 October (published almanacs).
    dark, full = (night_words(work_night(GARDEN, M31, date(2026, 10, day)), M31) for day in (12, 26))
    assert "9 h 30 min of that without it" in dark
    assert "up all the while" in full


# -- Depth


def test_a_depth_is_told_by_its_hours_and_its_exposure():
    depth = depth_of(planned())
    assert depth.hours is not None
    words = depth_words(depth, DepthWishes())
    assert words.startswith(f"{total_hours(depth.hours)} for a signal to noise of 10 per square arcsecond.")
    assert f"Expose {sub_text(depth.sub_s)} or more" in words
    assert (
        f"from {sub_text(depth.shortest_s)} on, reading out the camera makes the noise at most 5 % larger."
        in words
    )
    assert is_plain(words)
    short = depth_words(replace(depth, sub_s=depth.shortest_s / 2.0), DepthWishes(read_share=0.025))
    assert "makes the noise more than 2.5 % larger; from" in short
    assert is_plain(short)


def test_the_altitude_that_is_reckoned_with_is_told_and_why_that_one():
    year, depth = work_year(GARDEN, M31, 2026), depth_of(planned())
    assert depth.altitude_deg == year.usual_altitude_deg
    usual = altitude_words(depth, DepthWishes(), year)
    assert usual == (
        f"Reckoned with the target {depth.altitude_deg:.0f}° high, as it stands on average while it is "
        "photographed in November."
    )
    asked = altitude_words(replace(depth, altitude_deg=35.0), DepthWishes(altitude_deg=35.0), year)
    assert asked == "Reckoned with the target 35° high."
    never = replace(year, best=None, ribbons=())
    assert altitude_words(replace(depth, altitude_deg=25.0), DepthWishes(), never).endswith(
        "25° high, the highest that it comes."
    )


def test_without_hours_only_the_exposure_is_told():
    depth = depth_of(planned(GRAZING))
    assert depth.hours is None
    assert depth_words(depth, DepthWishes()).startswith("Expose ")
    year = work_year(GARDEN, SOUTHERN, 2026)
    assert nights_needed(depth, year) == ""
    assert weighs_words(depth) == ""


@pytest.mark.parametrize(
    ("low", "high", "text"),
    [(0.1, 0.2, "1 in November"), (0.1, 6.0, "1 to 2 in November"), (9.0, 9.6, "2 in November")],
)
def test_nights_are_whole_and_told_once_where_both_ends_are_the_same(low, high, text):
    year = work_year(GARDEN, M31, 2026)
    assert year.best is not None
    assert year.best.moonless_h == pytest.approx(4.84, abs=0.01)
    depth = replace(depth_of(planned()), hours=Span(low, low, high))
    assert nights_needed(depth, year) == text


def test_the_exposures_of_a_mosaic_are_those_of_all_its_panels_and_say_how_long_each_is():
    # 2 x 9000 x 6000 bytes: 108 MB each.
    depth = replace(depth_of(planned()), frames=100, sub_s=60.0, bytes_each=108_000_000)
    assert frames_words(depth) == "100 of 60 s, 11 GB"
    assert frames_words(depth, 4) == "400 of 60 s in 4 panels, 43 GB"
    assert frames_words(replace(depth, frames=None)) == ""
    assert "per square arcsecond in each panel." in depth_words(depth, DepthWishes(), 4)
    year = work_year(GARDEN, M31, 2026)
    # 4.84 hours a night in November: 4 x 4 hours take 4.
    hours = replace(depth, hours=Span(4.0, 4.0, 4.0))
    assert nights_needed(hours, year) == "1 in November"
    assert nights_needed(hours, year, 4) == "4 in November"


def test_each_month_has_its_own_nights_and_none_where_the_target_gives_no_hours():
    year = work_year(GARDEN, M31, 2026)
    nights = [nights_in(month, Span(10.0, 8.0, 12.0)) for month in year.months]
    # June has no darkness at 50 north, and the Sun stands near it in April and May: not an hour to add to.
    assert [at for at, found in enumerate(nights, start=1) if found is None] == [4, 5, 6]
    for month, found in zip(year.months, nights, strict=True):
        if found is not None:
            # So many average nights hold the hours, and one fewer does not.
            for hours, count in zip((8.0, 12.0), found, strict=True):
                assert (count - 1) * month.moonless_h < hours <= count * month.moonless_h
    assert nights_text(year.months[5], Span(10.0, 8.0, 12.0)) == nights_text(year.months[0], None) == "-"


def test_what_the_hours_are_least_sure_by_is_at_most_two_things():
    depth = depth_of(planned())
    heavy = replace(depth, weighs=(("target", 0.6), ("sky", 0.3), ("optics", 0.1)))
    assert weighs_words(heavy) == "Least sure by how bright the target is and how dark the sky is."
    alone = replace(depth, weighs=(("read", 0.9), ("dark", 0.1)))
    assert weighs_words(alone) == "Least sure by the read noise."
    assert weighs_words(replace(depth, weighs=tuple((name, 0.14) for name in UNSURE_WORDS))) == ""


def test_a_brightness_that_a_rig_does_not_reckon_with_is_told_at_its_field():
    view = planned()
    (one,) = view.rigs
    line = replace(
        one, rig=replace(one.rig, name="The narrow"), depth=replace(depth_of(view), rayleigh=100.0)
    )
    both_given = DepthWishes(surface_mag=22.0, rayleigh=100.0)
    told = unused(replace(view, rigs=(one, line)), both_given)
    assert told["rayleigh"].startswith(
        "Not used for The 400: the brightness of a line counts behind a narrow"
    )
    assert told["surface_mag"].startswith("Not used for The narrow: behind a narrow filter")
    assert all(map(is_plain, told.values()))
    assert unused(view, DepthWishes(surface_mag=22.0)) == {}
    assert unused(replace(view, rigs=(line,)), DepthWishes(rayleigh=100.0)) == {}
    assert unused(replace(view, rigs=()), both_given) == {}


# -- Frames


def test_a_frame_is_told_by_its_share_and_its_best_angle():
    framed = planned().rigs[0].framed
    # 178' x 70' at 35 degrees on 309' x 206'.
    assert fill_words(framed).endswith(
        f" % of the frame, as it fits best, with the upper side at {framed.best_angle_deg:.0f}°."
    )
    turned = replace(framed, fill=0.8, best_fill=0.5, best_angle_deg=12.4)
    assert fill_words(turned) == "It fills 80 % of the frame; it would be 50 % with the upper side at 12°."
    large = replace(framed, fill=2.345, best_fill=2.345)
    assert fill_words(large).startswith("It is 2.3 times as large as the frame, as it fits best, with")
    point = replace(framed, fill=None, best_fill=None)
    assert fill_words(point) == "Its size is not listed: it is drawn as a point."
    assert fill_words(replace(framed, frame=None)) == ""
    unknown = fill_words(replace(framed, any_angle=True, which_way=True))
    assert unknown.endswith(", as it fits best; which way it lies is not listed.")


def _views(*fills: float | None) -> list[tuple[Target, RigSky]]:
    view = planned().rigs[0]
    return [
        (
            Target(name=f"T{at}", ra_deg=1.0, dec_deg=2.0),
            replace(view, framed=replace(view.framed, fill=fill)),
        )
        for at, fill in enumerate(fills)
    ]


@pytest.mark.parametrize(
    ("fills", "words"),
    [
        ((0.5,), "The 400 frames 1 of 1. All of it takes "),
        ((0.5, 1.2), "The 400 frames 1 of 2; T1 reaches beyond it. "),
        ((1.5, 1.2, 0.1), "The 400 frames 1 of 3; T0 and T1 reach beyond it; T2 is small in it. "),
        ((0.1, 0.2), "The 400 frames 2 of 2; T0 and T1 are small in it. "),
        ((None,), "The 400: not known yet; its frame or the targets' sizes are missing."),
    ],
)
def test_what_of_several_targets_a_rig_frames_is_told_with_the_right_plurals(fills, words):
    told = fit_words("The 400", _views(*fills))
    assert told.startswith(words)
    assert is_plain(told)


def test_all_hours_are_added_and_not_told_where_one_is_unknown():
    views = _views(0.5, 0.5)
    hours = depth_of(planned()).hours
    assert hours is not None
    twice = Span(2.0 * hours.value, 2.0 * hours.low, 2.0 * hours.high)
    assert fit_words("A", views).endswith(f"All of it takes {total_hours(twice)}.")
    target, one = views[1]
    mosaic = replace(one, framed=replace(one.framed, fill=1.5, best_fill=1.5, panels=(3, 2)))
    seven = Span(7.0 * hours.value, 7.0 * hours.low, 7.0 * hours.high)
    told = fit_words("A", [views[0], (target, mosaic)])
    assert told.endswith(f"All of it takes {total_hours(seven)}, in 7 panels.")
    too_many = replace(mosaic, framed=replace(mosaic.framed, panels=None))
    assert "takes" not in fit_words("A", [views[0], (target, too_many)])
    # Turned by hand out of a frame that it fits, it needs no second panel.
    turned = replace(one, framed=replace(one.framed, fill=1.5, best_fill=0.9, panels=None))
    assert fit_words("A", [views[0], (target, turned)]).endswith(f"All of it takes {total_hours(twice)}.")
    unknown = (views[1][0], replace(views[1][1], depth=None))
    assert "takes" not in fit_words("A", [views[0], unknown])


def test_a_mosaic_is_told_with_what_a_fixed_camera_misses():
    frame = planned().rigs[0].frame
    assert frame is not None
    turned = panels_words(work_panels(M31, frame, 0.0, 2, 2, 0.15, False), None)
    assert turned == "4 panels cover 9.53° x 6.36°; neighbours share 46' across and 31' up."
    depth = replace(depth_of(planned()), hours=Span(2.0, 1.5, 3.0))
    timed = panels_words(work_panels(M31, frame, 0.0, 2, 2, 0.15, False), depth)
    assert timed.endswith("All of them take 8.0 h (6.0 to 12).")
    polar = work_panels(Target(name="P", ra_deg=1.0, dec_deg=85.0), frame, 0.0, 2, 2, 0.15, True)
    assert panels_words(polar, None).endswith("So near the pole, turn the camera from panel to panel.")
    assert is_plain(panels_words(polar, None))


def test_a_night_in_local_time_is_told_by_its_clock():
    night = work_night(GARDEN, M31, date(2026, 10, 12))
    assert night.dusk is not None
    assert night.dusk.utcoffset() == timedelta(hours=2)
    assert clock(night.dusk) in night_words(night, M31)


def test_two_digits_stay_two_where_they_round_up():
    assert [two_digits(one) for one in (9.97, 0.0996, 99.7, 1240.0, 0.0)] == [
        "10",
        "0.10",
        "100",
        "1,200",
        "0",
    ]
