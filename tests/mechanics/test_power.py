"""Leads and batteries. Wire sizes: ASTM B258's formula; resistances of copper at 20 C by the International
Annealed Copper Standard; drops and charges worked by hand.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.mechanics.batteries import (
    cold_share,
    cooling_current_a,
    cooling_short_k,
    drain_share,
    end_voltage_v,
    hours_by_peukert,
    mean_current_a,
    usable_wh,
)
from server.mechanics.cables import (
    GAUGES,
    area_of_gauge_mm2,
    density_a_mm2,
    drop_v,
    fuse_that_carries_a,
    fuse_to_ask_about_a,
    gauge_for,
    longest_mm,
    lost_w,
    most_a,
    resistance_ohm,
)

#: Gauge, mm^2, ohm in a km.
WIRES = (
    (12, 3.30877, 5.2107),
    (14, 2.08091, 8.2853),
    (16, 1.30870, 13.1742),
    (18, 0.82305, 20.9478),
    (20, 0.51762, 33.3083),
    (22, 0.32553, 52.9622),
)


@pytest.mark.parametrize(("gauge", "area", "ohm"), WIRES)
def test_a_gauge_has_the_standards_copper(gauge, area, ohm):
    assert area_of_gauge_mm2(gauge) == pytest.approx(area, rel=2e-5)
    assert resistance_ohm(1e6, area_of_gauge_mm2(gauge)) == pytest.approx(ohm, rel=1e-4)


@pytest.mark.parametrize(
    ("gauge", "length_mm", "current", "drop"),
    [(20, 2000.0, 5.0, 0.66617), (18, 3000.0, 8.0, 1.00549), (14, 5000.0, 10.0, 0.82853)],
)
def test_a_lead_loses_on_its_way_there_and_back(gauge, length_mm, current, drop):
    assert drop_v(length_mm, area_of_gauge_mm2(gauge), current) == pytest.approx(drop, rel=1e-4)


def test_the_cold_makes_copper_better_by_four_parts_in_a_thousand_for_each_degree():
    assert resistance_ohm(1000.0, 1.0, -10.0) / resistance_ohm(1000.0, 1.0) == pytest.approx(1 - 30 * 0.00393)


def test_the_thinnest_gauge_that_holds_is_named_and_none_where_none_does():
    # 3 A over 8 m: 18 AWG loses 1.0055 V, 20 AWG 1.599 V; 3.75 A and more ask for a fuse of 4 A, of 4.94.
    assert gauge_for(8000.0, 3.0, 1.01) == 18
    assert gauge_for(8000.0, 3.0, 1.0) == 16
    # 8 A ask for a fuse of 10 A: 16 AWG bears 7.85 by the rule, 14 AWG 12.49, however short they are.
    assert gauge_for(10.0, 8.0, 1.0) == 14
    assert gauge_for(100_000.0, 40.0, 0.1) is None
    assert list(GAUGES) == sorted(GAUGES)


def test_the_longest_lead_loses_just_what_it_may_and_its_heat_is_its_drop_times_the_current():
    # 18 AWG at 8 A loses 1.00549 V over 3 m: 0.6 V over 3 x 0.6 / 1.00549 = 1.7902 m, and 8.0439 W in all.
    area = area_of_gauge_mm2(18)
    assert longest_mm(area, 8.0, 0.6) == pytest.approx(1790.17, abs=0.2)
    assert lost_w(3000.0, area, 8.0) == pytest.approx(8.0439, rel=1e-4)
    assert longest_mm(area, 8.0, 0.0) == 0.0
    assert longest_mm(area, 0.0, 0.6) is None


@given(st.sampled_from(GAUGES), st.floats(0.01, 40.0), st.floats(0.01, 5.0), st.floats(-40.0, 20.0))
def test_at_its_longest_a_lead_loses_the_limit_and_in_the_cold_less(gauge, current, most_v, at_c):
    area = area_of_gauge_mm2(gauge)
    longest = longest_mm(area, current, most_v)
    assert longest is not None
    assert drop_v(longest, area, current) == pytest.approx(most_v)
    assert drop_v(longest, area, current, at_c) <= most_v * (1 + 1e-12)


def test_the_fuse_is_the_next_above_a_quarter_more():
    assert fuse_to_ask_about_a(4.0, 10.0) == 5.0
    assert fuse_to_ask_about_a(4.1, 10.0) == 7.5
    assert fuse_to_ask_about_a(100.0, 100.0) is None


@pytest.mark.parametrize(("gauge", "fuse"), [(18, 4.0), (22, None), (24, None), (30, None)])
def test_no_fuse_is_named_above_what_its_wire_is_taken_to_bear(gauge, fuse):
    # 6 A/mm²: 4.94, 1.95, 1.23 and 0.31 A; 3 A ask for 3.75 and more.
    assert fuse_to_ask_about_a(3.0, area_of_gauge_mm2(gauge)) == fuse
    assert density_a_mm2(area_of_gauge_mm2(30), 3.0) == pytest.approx(58.9, abs=0.1)


def test_between_two_fuses_of_the_series_the_smaller_one_that_carries_the_peak_guards_the_wire():
    # 18 AWG bears 4.94 A: 3.3 A ask for 4.125 and so for 5 A, which is too much; 4 A carries 3.3 A.
    area = area_of_gauge_mm2(18)
    assert fuse_to_ask_about_a(3.3, area) is None
    assert fuse_that_carries_a(3.3, area) == 4.0
    # 4.2 A would blow it, and 5 A is too much for the wire.
    assert fuse_that_carries_a(4.2, area) is None
    # With a quarter to spare nothing changes.
    assert fuse_that_carries_a(3.0, area) == 4.0


@pytest.mark.parametrize(("area", "most"), [(0.5, 3.0), (0.75, 6.0), (1.0, 10.0), (1.5, 16.0), (2.5, 25.0)])
def test_the_rule_for_a_wires_current_is_never_above_the_published_one_for_supply_cords(area, most):
    # IEC 60335-1, the least cross-section of a supply cord by the rated current (from memory).
    assert most / 3.0 <= most_a(area) <= most


@pytest.mark.parametrize(
    ("chemistry", "volts", "share", "end"),
    [
        # Cells of 1.9, 3.0 and 3.3 V at the usual share, of 1.75, 2.5 and 3.0 V when empty: common practice.
        ("lead_acid", 12.0, 0.5, 11.4),
        ("agm", 12.0, 1.0, 10.5),
        ("lead_acid", 12.0, 0.75, 10.95),
        ("lifepo4", 12.8, 0.8, 12.0),
        ("lifepo4", 12.8, 1.0, 10.0),
        ("lithium_ion", 11.1, 0.3, 9.9),
        ("mains", 12.0, 1.0, 12.0),
    ],
)
def test_a_battery_gives_less_voltage_at_the_end_of_its_discharge(chemistry, volts, share, end):
    assert end_voltage_v(chemistry, volts, share) == pytest.approx(end)


def test_four_amperes_for_eight_hours_ask_for_64_ah_of_lead_and_40_of_lithium():
    # 32 Ah at 12 V are 384 Wh: half of 64 Ah, four fifths of 40 Ah.
    assert usable_wh(64.0, 12.0, 0.5, "lead_acid", 20.0) == pytest.approx(384.0)
    assert usable_wh(40.0, 12.0, 0.8, "lifepo4", 20.0) == pytest.approx(384.0)
    assert usable_wh(40.0, 12.0, 0.8, "lifepo4", 0.0) == pytest.approx(384.0 * 0.85)


def test_heaters_and_coolers_take_their_share():
    assert mean_current_a(2.0, 0.0, 0.5) == 1.0
    assert cooling_current_a(0.6, 3.1, 33.0, 33.0) == pytest.approx(3.1)
    assert cooling_current_a(0.6, 3.1, 16.5, 33.0) == pytest.approx(1.85)
    assert cooling_current_a(0.6, 3.1, 50.0, 33.0) == pytest.approx(3.1)


def test_a_camera_that_cannot_cool_as_far_as_it_is_asked_says_so():
    assert cooling_short_k(60.0, 35.0) == 25.0
    for asked in (0.0, 20.0, 35.0):
        assert cooling_short_k(asked, 35.0) == 0.0
    with pytest.raises(ValueError, match="Enter both"):
        cooling_short_k(-1.0, 35.0)


@given(
    st.sampled_from(["lead_acid", "agm", "lifepo4", "lithium_ion", "mains"]),
    st.floats(-40, 40),
    st.floats(0, 20),
)
def test_colder_never_gives_more(chemistry, at, colder):
    assert cold_share(chemistry, at - colder) <= cold_share(chemistry, at) + 1e-12
    assert 0.0 < cold_share(chemistry, at) <= 1.0


def test_a_wire_may_be_short_and_one_of_no_length_resists_nothing():
    assert resistance_ohm(0.0, 1.0) == 0.0
    assert resistance_ohm(0.5, 1.0) == pytest.approx(resistance_ohm(1000.0, 1.0) / 2000.0)


@pytest.mark.parametrize(
    "call",
    [
        lambda: area_of_gauge_mm2(50),
        lambda: resistance_ohm(-1.0, 1.0),
        lambda: drop_v(1.0, 1.0, -1.0),
        lambda: lost_w(1.0, 1.0, math.nan),
        lambda: longest_mm(1.0, 1.0, -0.1),
        lambda: longest_mm(0.0, 1.0, 0.1),
        lambda: fuse_to_ask_about_a(-1.0, 1.0),
        lambda: fuse_to_ask_about_a(math.nan, 1.0),
        lambda: fuse_to_ask_about_a(1.0, 0.0),
        lambda: most_a(math.nan),
        lambda: density_a_mm2(0.0, 1.0),
        lambda: density_a_mm2(1.0, -1.0),
        lambda: end_voltage_v("agm", 0.0, 0.5),
        lambda: end_voltage_v("agm", 12.0, 1.1),
        lambda: usable_wh(10.0, 12.0, 1.2, "agm", 20.0),
        lambda: mean_current_a(1.0, 0.0, 1.5),
        lambda: cooling_current_a(1.0, 2.0, 10.0, 0.0),
    ],
)
def test_what_cannot_be_is_refused_in_words(call):
    with pytest.raises(ValueError, match=r"\."):
        call()


@pytest.mark.parametrize(("exponent", "hours"), [(1.25, 8.409), (1.10, 9.330), (1.05, 9.659)])
def test_a_fast_drain_empties_a_lead_battery_sooner_than_its_charge_says(exponent, hours):
    # 100 Ah at 20 hours, drawn at 10 A: 20 x (100 / 200)^k, worked by hand.
    assert hours_by_peukert(100.0, 10.0, exponent, 20.0) == pytest.approx(hours, abs=0.001)


def test_only_lead_loses_by_a_fast_drain_and_nothing_gains_by_a_slow_one():
    assert drain_share("lead_acid", 100.0, 10.0) == pytest.approx(0.8409, abs=1e-4)
    assert drain_share("lead_acid", 100.0, 1.0) == 1.0
    assert drain_share("lead_acid", 100.0, 0.0) == 1.0
    assert drain_share("lead_acid", 100.0, 2e-305) == 1.0
    assert drain_share("lifepo4", 100.0, 50.0) == 1.0
    with pytest.raises(ValueError, match="above 0"):
        hours_by_peukert(0.0, 1.0, 1.1, 20.0)


def test_a_charge_next_to_nothing_is_gone_at_once():
    assert drain_share("lead_acid", 5e-324, 1e6) == 0.0
