"""Looking through the catalogue: what is kept, what comes first, and when it is well placed."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from server.domain.sky.finding import GROUPS, WELL_PLACED_H, Found, TargetQuery, find_targets, lines_of
from server.domain.sky.frame import Frame, frame_of
from server.domain.sky.site import Site
from server.domain.sky.target import Target, catalogue_target, target_of
from server.domain.sky.when import work_year
from server.sky.deep_sky import deep_sky
from tests.domain.rigs import camera, case, tube

GARDEN = Site(name="The garden", latitude_deg=50.0, longitude_deg=10.0, zone="Europe/Berlin")
CAPE = Site(name="The cape", latitude_deg=-33.9, longitude_deg=18.5, zone="Africa/Johannesburg")


def found(site: Site | None = None, frame: Frame | None = None, **query) -> Found:
    return find_targets(TargetQuery(**({"limit": 200} | query)), site, frame)


def names(of: Found) -> list[str]:
    return [line.target.name for line in of.lines]


def by_hand(keep) -> set[str]:
    """The names of all objects that pass, one by one."""
    return {one.name for one in map(target_of, deep_sky().objects) if keep(one)}


@pytest.mark.parametrize(
    ("query", "keep"),
    [
        (
            {"kind": "galaxies", "least_arcmin": 15.0},
            lambda one: one.kind in GROUPS["galaxies"] and (one.major_arcmin or 0.0) >= 15.0,
        ),
        ({"kind": "SNR"}, lambda one: one.kind == "SNR"),
        (
            {"constellation": "And", "most_arcmin": 1.0, "faintest_mag": 14.0},
            lambda one: (
                one.constellation == "And"
                and (one.major_arcmin or 99.0) <= 1.0
                and (one.v_mag or one.b_mag or 99.0) <= 14.0
            ),
        ),
        ({"faintest_surface": 21.0}, lambda one: (one.surface_b_mag or 99.0) <= 21.0),
    ],
)
def test_filters_keep_what_a_look_at_each_object_keeps(query, keep):
    kept = by_hand(keep)
    assert 0 < len(kept) <= 200, "else nothing is compared"
    answer = found(**query)
    assert set(names(answer)) == kept
    assert answer.total == len(kept)


def test_what_is_not_known_is_in_no_range():
    sizeless = by_hand(lambda one: one.major_arcmin is None and one.kind == "Neb")
    assert sizeless
    assert not sizeless & set(names(found(kind="Neb", most_arcmin=3600.0)))
    assert sizeless <= set(names(found(kind="Neb")))


def test_a_text_finds_names_by_their_beginnings_and_the_nearest_first():
    assert names(found(text="androm")) == ["NGC 224"]
    assert names(found(text="m31"))[0] == "NGC 224"
    assert found(text="no such thing").total == 0
    assert found(text="no such thing", site=GARDEN, month=3).lines == ()


@pytest.mark.parametrize(
    ("order", "figure"),
    [
        ("size", lambda one: -(one.major_arcmin or 0.0)),
        ("brightness", lambda one: one.v_mag if one.v_mag is not None else (one.b_mag or 99.0)),
    ],
)
def test_the_largest_or_the_brightest_comes_first_and_the_unknown_last(order, figure):
    lines = [line.target for line in found(kind="PN", order=order).lines]
    figures = [figure(one) for one in lines]
    assert figures == sorted(figures)
    assert figures[0] != figures[-1]


def test_by_name_the_catalogues_own_order_is_kept():
    order = {one.name: at for at, one in enumerate(deep_sky().objects)}
    places = [order[name] for name in names(found(kind="SNR", order="name"))]
    assert places == sorted(places)


def test_pages_follow_one_another_and_count_them_all():
    whole = found(kind="GCl", limit=60)
    assert whole.total > 60
    assert names(found(kind="GCl", limit=25)) + names(found(kind="GCl", limit=35, offset=25)) == names(whole)
    beyond = found(kind="GCl", offset=100_000)
    assert (beyond.lines, beyond.total) == ((), whole.total)


@pytest.mark.parametrize("site", [GARDEN, CAPE])
def test_in_a_month_only_the_well_placed_are_kept_most_moonless_hours_first(site):
    answer = found(site, month=1, year=2027, kind="clusters", least_arcmin=30.0)
    kept = set(names(answer))
    assert kept
    for one in map(target_of, deep_sky().objects):
        if one.kind in GROUPS["clusters"] and (one.major_arcmin or 0.0) >= 30.0:
            january = work_year(site, one, 2027).months[0]
            if abs(january.above_h - WELL_PLACED_H) > 0.02:
                assert (one.name in kept) == (january.above_h > WELL_PLACED_H), one.name
    hours = [line.moonless_h or 0.0 for line in answer.lines]
    # To the nearest half hour; among equals the largest comes first.
    halves = [round(2.0 * one) for one in hours]
    assert halves == sorted(halves, reverse=True)
    for half in set(halves):
        sizes = [
            line.target.major_arcmin or 0.0
            for line, at in zip(answer.lines, halves, strict=True)
            if at == half
        ]
        assert sizes == sorted(sizes, reverse=True)


def test_a_line_says_of_a_target_what_its_own_year_does():
    targets = [catalogue_target(name) for name in ("M 31", "M 42", "M 8", "NGC 104")]
    for line in lines_of(targets, 0, 2026, GARDEN, None):
        year = work_year(GARDEN, line.target, 2026)
        assert line.culmination_deg == pytest.approx(year.culmination_deg, abs=0.01)
        if year.best is None:
            assert (line.best_month, line.above_h, line.moonless_h) == (0, 0.0, 0.0)
        else:
            assert line.best_month == year.best.first.month
            assert line.above_h == pytest.approx(year.best.above_h, abs=1 / 60)
            assert line.moonless_h == pytest.approx(year.best.moonless_h, abs=1 / 60)


def test_with_a_month_the_hours_are_that_months_and_the_best_month_is_still_told():
    (line,) = lines_of([catalogue_target("M 31")], 3, 2026, GARDEN, None)
    march = work_year(GARDEN, catalogue_target("M 31"), 2026).months[2]
    assert line.above_h == pytest.approx(march.above_h, abs=1 / 60)
    assert line.best_month == 11


def test_december_is_a_month_too():
    answer = found(GARDEN, month=12, year=2026, text="M 42")
    december = work_year(GARDEN, catalogue_target("M 42"), 2026).months[11]
    assert answer.lines[0].above_h == pytest.approx(december.above_h, abs=1 / 60)


def test_without_a_site_nothing_is_said_of_when():
    (line,) = found(text="androm", month=6).lines
    assert (line.culmination_deg, line.above_h, line.moonless_h, line.best_month) == (None, None, None, None)
    assert lines_of([], 0, 2026, GARDEN, None) == []


def test_on_a_rig_each_line_says_how_it_fills_its_frame():
    frame = frame_of(case(tube(), camera()))
    assert isinstance(frame, Frame)
    own = Target(name="A point", ra_deg=1.0, dec_deg=2.0)
    galaxy, point = lines_of([catalogue_target("M 31"), own], 0, 2026, None, frame)
    assert galaxy.framed is not None
    assert galaxy.framed.fill is not None
    assert point.framed is not None
    assert point.framed.fill is None
    # 178' x 70' on a frame of 154.6' x 103.1': more than all of it along the width, about all across.
    assert 0.9 < galaxy.framed.fill < 1.16


@pytest.mark.parametrize(
    "query",
    [{"month": 13}, {"year": 1900}, {"limit": 0}, {"offset": -1}, {"text": "x" * 81}, {"order": "luck"}],
)
def test_what_cannot_be_looked_for_is_refused(query):
    with pytest.raises(ValidationError):
        TargetQuery(**query)
