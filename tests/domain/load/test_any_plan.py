"""Any rig with any plan of its load: nothing raises, what is unknown is never sound, every sentence is whole.

Source: none needed; these are properties, not values.
"""

from __future__ import annotations

from dataclasses import replace

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from server.domain.findings import Finding
from server.domain.load.bodies import work_balance
from server.domain.load.lifts import sum_trips, work_lifts
from server.domain.load.places import pack, sum_places
from server.domain.load.power import work_power
from server.domain.load_plan import Cable, Feed, Lift, LoadPlan, Spot
from server.domain.rig import Gear, Rig
from server.domain.train import Train
from server.domain.workings.case import Case
from server.rim.wording import write_phrase
from tests.domain.checks.test_all_checks import any_places, catalogued, demand_whole
from tests.told import run_checks

LOAD_GEAR = ("mount", "counterweight", "power_source", "accessory", "support", "guide_camera", "plate_rings")


def _maybe(low: float, high: float) -> st.SearchStrategy[float | None]:
    return st.none() | st.floats(low, high)


def _lifts(ids: list[int]) -> st.SearchStrategy[Lift]:
    return st.builds(
        Lift,
        name=st.sampled_from(["tube {x}", "camera"]),
        parts=st.lists(st.sampled_from(ids), min_size=1, max_size=3).map(tuple),
        from_height_mm=_maybe(0, 3000),
        to_height_mm=_maybe(0, 3000),
        reach_mm=_maybe(0, 2000),
        to_reach_mm=_maybe(0, 2000),
        twist_deg=_maybe(0, 180),
        per_minute=st.floats(0, 60),
        hours=st.floats(0.01, 8),
        coupling=st.sampled_from([None, "good", "fair", "poor"]),
        people=st.integers(1, 3),
    )


@st.composite
def any_loaded_rig(draw: st.DrawFn) -> Rig:
    train = Train(draw(any_places()))
    gear = tuple(
        Gear(draw(catalogued(kind)), draw(st.integers(1, 99)))
        for kind in draw(st.lists(st.sampled_from(LOAD_GEAR), max_size=5))
    )
    ids = [place.item.id for place in train] + [one.item.id for one in gear] + [10**9]
    named = st.sampled_from(ids)
    plan = draw(
        st.builds(
            LoadPlan,
            balance_mm=_maybe(0, 20_000),
            clamp_mm=_maybe(0, 20_000),
            drawtube_out_mm=_maybe(-500, 500),
            tube_above_saddle_mm=_maybe(0, 2000),
            change_kg=_maybe(-100, 100),
            latitude_deg=_maybe(-90, 90),
            longitude_deg=_maybe(-180, 180),
            night=st.none() | st.dates(),
            night_hours=_maybe(0.01, 24),
            low_c=_maybe(-60, 50),
            cooling_k=_maybe(0, 100),
            supply_share=_maybe(0.01, 1),
            lift_limit_kg=_maybe(0.01, 200),
            focuser_at_mm=_maybe(0, 20_000),
            lifts=st.lists(_lifts(ids), max_size=2).map(tuple),
            cables=st.lists(
                st.builds(
                    Cable,
                    part_id=named,
                    length_mm=st.floats(0.01, 100_000),
                    gauge_awg=st.none() | st.integers(0, 40),
                    area_mm2=_maybe(0.001, 200),
                ),
                max_size=2,
            ).map(tuple),
            feeds=st.lists(
                st.builds(
                    Feed,
                    part_id=named,
                    by=st.sampled_from(("straight", "converter", "port")),
                    port_of=st.none() | named,
                ),
                max_size=3,
            ).map(tuple),
            spots=st.lists(
                st.builds(
                    Spot,
                    part_id=named,
                    along_mm=st.floats(-10_000, 20_000),
                    above_mm=_maybe(-2000, 5000),
                ),
                max_size=3,
            ).map(tuple),
        )
    )
    return replace(Rig("Any", train, gear), load=plan)


def _of_load(found: tuple[Finding, ...]) -> list[Finding]:
    return [one for one in found if one.code.partition(".")[0] in ("balance", "lifting", "power", "stand")]


@settings(
    max_examples=80,
    deadline=None,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(any_loaded_rig())
def test_whatever_is_planned_is_judged_in_whole_sentences_and_the_unknown_is_never_sound(of: Rig) -> None:
    for finding in _of_load(run_checks(of)):
        demand_whole(finding)
        for units in ("metric", "imperial"):
            for phrase in (finding.phrase, *(remedy.phrase for remedy in finding.remedies)):
                said = write_phrase(phrase, units)
                assert said.strip().endswith(".")
                assert "nan" not in said.split()
    try:
        case = Case(of)
        lifts, power = work_lifts(case), work_power(of)
        work_balance(case), sum_trips(lifts), sum_places(case), pack(of)
    except ValueError as error:
        assert str(error).endswith(".")  # noqa: PT017 - a refusal is allowed, in words
        return
    for line in lifts:
        assert all((end.index is None) == bool(end.refusal) for end in line.ends)
    for lead in power.leads:
        assert lead.drop_v >= 0.0
        assert lead.lost_w >= 0.0
