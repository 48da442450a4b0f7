"""The benchmarks still run. How long anything takes is not asked here: that is `python -m tests.bench`."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.bench import (
    bridge,
    busy,
    change,
    frames,
    light,
    memory,
    rivals,
    scout,
    scout_optics,
    scout_pass,
    search,
    sky,
    stars,
    start,
)
from tests.bench.measure import Line, Times, table
from tests.search.drawers import drawer, rig
from tests.search.oracles import every_bill, ranked


def test_the_95th_percentile_is_the_nearest_rank():
    # Worked by hand: of 20 values, 19 are 95 of 100; of 10 values, 9.5 is rounded up to all 10.
    assert Times(tuple(float(n) for n in range(1, 21))).p95 == 19.0
    assert Times(tuple(float(n) for n in range(10, 0, -1))).p95 == 10.0


def test_the_table_says_which_aims_were_missed():
    written = table([Line("a", 3, "1 ms"), Line("b", 3, "9 ms", "under 5", False)])
    assert written.splitlines()[-1].endswith("MISSED")
    assert "MISSED" not in written.splitlines()[-2]


def test_a_change_on_the_bench_can_be_measured(tmp_path: Path):
    lines = change.run(tmp_path, parts=60, rounds=2, warm_up=0)
    assert [line.rounds for line in lines] == [2, 2, 2]


def test_a_search_of_the_shelf_can_be_measured(tmp_path: Path):
    lines = search.run(tmp_path, parts=2000, rounds=1, warm_up=0)
    assert {line.rounds for line in lines} == {len(search.QUERIES)}


def test_the_stars_can_be_measured(tmp_path: Path):
    lines = stars.run(tmp_path, rounds=1, warm_up=0, half_um=20.0)
    assert len(lines) == 7


def test_the_sky_can_be_measured(tmp_path: Path):
    lines = sky.run(tmp_path, rounds=1, objects=50, count=20, sampled=1, asked=2)
    assert [line.met is not None for line in lines].count(True) == 8


def test_the_scout_can_be_measured(tmp_path: Path):
    lines = scout.run(tmp_path, rounds=1, counts=(8, 2, 3, 4), few=100)
    (agreed,) = (line.met for line in lines if line.aim == "the same")
    assert agreed


def test_the_scouts_optics_can_be_measured(tmp_path: Path):
    lines = scout_optics.run(tmp_path, rounds=1, counts=(4, 2, 3, 4), some=5)
    assert [line.met is not None for line in lines].count(True) == 5


def test_the_scouts_whole_pass_can_be_measured(tmp_path: Path):
    lines = scout_pass.run(tmp_path, rounds=1, counts=(4, 2, 2, 3), some=3)
    assert [line.met is not None for line in lines].count(True) == 6


def test_a_frame_can_be_measured(tmp_path: Path):
    lines = frames.run(tmp_path, rounds=1, tiles=1, stars=150)
    assert [line.met is not None for line in lines].count(True) == 3


def test_a_light_page_beside_stars_can_be_measured(tmp_path: Path):
    assert busy.run(tmp_path, parts=60, rounds=2, warm_up=0)[-1].met is not None


def test_the_light_path_can_be_measured(tmp_path: Path):
    lines = light.run(tmp_path, columns=8, rows=6, trains=1000, rounds=1, warm_up=0)
    assert [line.met is not None for line in lines].count(True) == 3


def test_a_start_can_be_measured(tmp_path: Path):
    assert start.run(tmp_path, parts=60, rounds=1, warm_up=0)[0].met is not None


def test_memory_can_be_measured(tmp_path: Path):
    lines = memory.run(tmp_path, requests=25)
    assert "after 25 requests" in lines[1].what


def test_the_rivals_of_the_bridge_are_right():
    # A benchmark against a wrong model would mean nothing: on small drawers, plain enumeration tells.
    solved = 0
    for seed in range(16):
        pieces = drawer(seed, 12, seed % 8, 2, 12, 0.3)
        problem = rig(seed, pieces, 2, None, 4, want=5, reach=True)
        bills = every_bill(problem)
        assert bills is not None
        known = [key for key, _ in ranked(problem, bills)]
        ways = rivals.everything(problem)
        assert list(rivals.CpSat(problem, ways).best(1, 60).keys) == known[:1], seed
        assert list(rivals.highs(problem, ways, 60).keys) == known[:1], seed
        if known:
            bound = known[:5][-1][0]
            model = rivals.CpSat(problem, rivals.fixed(problem, bound), bound, many=True)
            assert list(model.best(min(5, len(known)), 60).keys) == known[:5], seed
            solved += 1
    assert solved > 5


@pytest.mark.timeout(400)  # A dozen processes, one after another: on a busy machine each takes seconds.
def test_the_bridge_can_be_measured(tmp_path: Path):
    lines = bridge.run(
        tmp_path,
        sizes=(90, 95),
        owned=10,
        rigs=1,
        few=1,
        rounds=1,
        drawers=1,
        kits=1,
        compared=1,
        seconds=0.5,
        kit_seconds=0.5,
    )
    aims = [line for line in lines if line.met is not None]
    assert len(aims) >= 15
    assert all(line.met for line in aims if "proven" in line.aim)
