"""A target under the sky on several rigs: what each lacks, and that none takes another down.

Figures are told by the tests of the domain (tests/domain/sky); here it is which of them are there.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from functools import cache
from typing import Any

import pytest

from server.domain.guarded import Failed
from server.domain.parts.cameras import DarkRow, GainRow
from server.domain.rig import Rig, RigPlan
from server.domain.sky.frame import MOST_PANELS
from server.domain.sky.panels import Panels
from server.domain.sky.reckoning import DepthWishes
from server.domain.sky.site import Site, StoredSite
from server.domain.sky.target import Target, catalogue_target
from server.domain.sky.when import work_night, work_year
from server.domain.stars.field import work_stars
from server.flow.plan_sky import (
    LEAST_ALTITUDE_DEG,
    SkyWishes,
    TargetSky,
    altitude_of,
    panels_on,
    plan_target,
)
from server.flow.protocols import StoredRig
from tests.domain.rigs import camera, rig, ring, tube

GARDEN = Site(
    name="The garden",
    latitude_deg=50.0,
    longitude_deg=10.0,
    zone="Europe/Berlin",
    brightness_by="magnitude",
    brightness=20.4,
    seeing_arcsec=2.5,
)
M31 = catalogue_target("M 31")
SOUTHERN = Target(name="A southern star", ra_deg=100.0, dec_deg=-60.0, surface_v_mag=22.0)
EVENING = date(2026, 10, 12)


def sensor(**given: Any):
    usual = {
        "colour": "mono",
        "quantum_efficiency": 0.9,
        "gains": (GainRow(gain=0.0, read_noise_e=1.5, full_well_e=50_000.0, conversion_e=0.8),),
        "dark_current": (DarkRow(temperature_c=-10.0, dark_e_s=0.002),),
    }
    return camera(**(usual | given))


FULL = rig(tube(aperture_mm=100.0, focal_length_mm=500.0, obstruction_mm=0.0), sensor())


def plan(*rigs: Rig, target=M31, site: Site | None = GARDEN, evening=EVENING, **wishes) -> TargetSky:
    stored = [
        (StoredRig(id=at, observer_id=1, name=one.name, version=1, plan=RigPlan()), one)
        for at, one in enumerate(rigs, start=1)
    ]
    kept = None if site is None else StoredSite(id=1, observer_id=1, revision=1, site=site)
    return plan_target(target, kept, tuple(stored), SkyWishes(**wishes), evening)


@cache
def whole() -> TargetSky:
    return plan(FULL)


def test_a_full_rig_at_a_site_has_its_year_its_night_its_frame_its_stars_and_its_depth():
    view = whole()
    assert view.year == work_year(GARDEN, M31, 2026)
    assert view.night == work_night(GARDEN, M31, EVENING)
    assert view.trouble is None
    (one,) = view.rigs
    assert one.framed.fill is not None
    assert one.depth is not None
    assert one.depth.hours is not None
    assert (one.missing, one.trouble) == ((), None)
    assert view.year is not None
    assert one.depth.altitude_deg == view.year.usual_altitude_deg


def test_stars_are_as_wide_as_the_sites_seeing_makes_them():
    # A seeing of 2.5" at this tube's and pixels' own; an apochromat of 100 mm has 1.4" of its own, a pixel of
    # 4 um at 500 mm 1.65": wider than the seeing alone, and less than all of them in a row.
    (good,), (bad,) = whole().rigs, plan(FULL, site=GARDEN.model_copy(update={"seeing_arcsec": 5.0})).rigs
    assert good.star_arcsec is not None
    assert bad.star_arcsec is not None
    assert 2.5 < good.star_arcsec < 5.55
    assert bad.star_arcsec > good.star_arcsec + 1.5


def test_without_a_site_there_is_a_frame_and_a_star_but_no_night_and_no_depth():
    view = plan(FULL, site=None)
    assert (view.site, view.year, view.night, view.trouble) == (None, None, None, None)
    (one,) = view.rigs
    assert one.framed.fill == whole().rigs[0].framed.fill
    assert one.star_arcsec is not None
    assert (one.depth, one.missing, one.trouble) == (None, (), None)


def test_without_a_rig_there_is_still_the_year_and_the_night():
    view = plan()
    assert view.rigs == ()
    assert view.year is not None
    assert view.night is not None


def test_a_site_of_unknown_darkness_is_asked_for_it():
    (one,) = plan(FULL, site=GARDEN.model_copy(update={"brightness": None, "brightness_by": None})).rigs
    assert one.depth is None
    assert [missing.says.key for missing in one.missing] == ["wants.sky_brightness"]


@pytest.mark.parametrize(
    ("poor", "field", "framed"),
    [
        (rig(tube(focal_length_mm=None), sensor()), "focal_length_mm", False),
        (rig(tube(), sensor(pixel_um=None)), "pixel_um", False),
        (rig(tube(aperture_mm=None, focal_length_mm=500.0), sensor()), "aperture_mm", True),
    ],
)
def test_a_rig_that_says_too_little_says_what_it_lacks_and_has_no_depth(poor, field, framed):
    (one,) = plan(poor).rigs
    assert field in {missing.field for missing in one.missing}
    assert (one.frame is not None) == framed
    assert (one.depth, one.stars, one.star_arcsec, one.trouble) == (None, None, None, None)


def test_an_empty_rig_asks_for_its_ends():
    (one,) = plan(rig()).rigs
    assert one.frame is None
    assert one.missing


def test_a_full_depth_may_still_ask_for_what_would_make_it_surer():
    (one,) = plan(rig(tube(obstruction_mm=0.0), sensor(dark_current=()))).rigs
    assert one.depth is not None
    assert {missing.field for missing in one.missing} == {"dark_current"}


def test_of_four_rigs_one_that_cannot_be_worked_with_takes_no_other_down():
    # A tube whose focal ratio of 0.1 is none that ever was.
    absurd = rig(tube(aperture_mm=3000.0, focal_length_mm=300.0, obstruction_mm=0.0), sensor())
    poor, rich = rig(tube(), ring(10.0)), replace(FULL, name="The other")
    view = plan(FULL, absurd, poor, rich)
    first, broken, lacking, last = view.rigs
    assert [one.rig.name for one in view.rigs] == [FULL.name, absurd.name, poor.name, "The other"]
    assert first.depth == whole().rigs[0].depth
    assert last.depth == first.depth
    assert lacking.missing
    assert broken.depth is None
    assert broken.trouble is not None
    assert view.trouble is None


def test_a_fault_of_ours_in_one_rig_is_told_there_and_nowhere_else(monkeypatch, caplog):
    def faulty(case, telescope, wishes):
        if case.rig.name == "The faulty":
            raise RuntimeError("ours")
        return work_stars(case, telescope, wishes)

    monkeypatch.setattr("server.flow.plan_sky.work_stars", faulty)
    caplog.set_level("CRITICAL")
    good, bad = plan(FULL, replace(FULL, name="The faulty")).rigs
    assert good.depth is not None
    assert bad.trouble is not None
    assert bad.trouble.key == "fault"
    assert bad.framed.fill is not None, "what was worked out before stands"


def test_a_year_that_no_ephemeris_knows_is_told_and_the_frames_stand():
    view = plan(FULL, evening=date(2150, 1, 1))
    assert (view.year, view.night) == (None, None)
    assert view.trouble is not None
    assert view.rigs[0].framed.fill is not None
    # Nobody knows whether it stands too low: that is not said.
    assert view.rigs[0].trouble is not None
    assert view.rigs[0].trouble.key == "depth.no_altitude"
    asked = plan(FULL, evening=date(2150, 1, 1), depth=DepthWishes(altitude_deg=35.0))
    assert asked.rigs[0].depth is not None


# -- The altitude that is reckoned with


def test_the_altitude_is_the_one_asked_for_else_the_usual_one():
    (asked,) = plan(FULL, depth=DepthWishes(altitude_deg=35.0)).rigs
    assert asked.depth is not None
    assert asked.depth.altitude_deg == 35.0
    assert altitude_of(SkyWishes(), whole().year) == pytest.approx(62.0, abs=1.0)


def test_a_target_that_never_stands_high_enough_has_no_depth_and_the_reason_is_told():
    (one,) = plan(FULL, target=SOUTHERN).rigs
    assert one.depth is None
    assert one.trouble is not None
    assert one.trouble.key == "depth.too_low"
    assert one.star_arcsec is not None
    (asked,) = plan(FULL, target=SOUTHERN, depth=DepthWishes(altitude_deg=LEAST_ALTITUDE_DEG)).rigs
    assert asked.depth is not None


def test_a_target_below_the_line_but_high_enough_is_reckoned_at_its_highest():
    # Culminates at 40 - 15 = 25 degrees, under a line of 30.
    low = Target(name="A low star", ra_deg=100.0, dec_deg=-15.0, surface_v_mag=22.0)
    (one,) = plan(FULL, target=low).rigs
    assert one.depth is not None
    assert one.depth.altitude_deg == pytest.approx(25.0, abs=0.1)


# -- Frames and mosaics


def test_the_angle_that_is_asked_for_holds_for_every_rig():
    view = plan(FULL, replace(FULL, name="The other"), angle_deg=77.0)
    assert [one.framed.angle_deg for one in view.rigs] == [77.0, 77.0]


def test_a_mosaic_is_laid_out_on_a_rig_and_one_frame_is_none():
    (one,) = whole().rigs
    assert panels_on(one, M31, SkyWishes()) is None
    laid = panels_on(one, M31, SkyWishes(rows=2, columns=3))
    assert isinstance(laid, Panels)
    assert len(laid.panels) == 6
    (frameless,) = plan(rig()).rigs
    assert panels_on(frameless, M31, SkyWishes(rows=2)) is None


def test_a_mosaic_that_reaches_too_far_fails_alone():
    (wide,) = plan(rig(tube(aperture_mm=10.0, focal_length_mm=20.0, obstruction_mm=0.0), sensor())).rigs
    laid = panels_on(wide, M31, SkyWishes(rows=MOST_PANELS, columns=MOST_PANELS))
    assert isinstance(laid, Failed)
    assert not laid.fault
