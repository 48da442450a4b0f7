"""The benchmarks still run. How long anything takes is not asked here: that is `python -m tests.bench`."""

from __future__ import annotations

from pathlib import Path

from tests.bench import change, light, memory, search, start
from tests.bench.measure import Line, Times, table


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


def test_the_light_path_can_be_measured(tmp_path: Path):
    lines = light.run(tmp_path, columns=8, rows=6, trains=1000, rounds=1, warm_up=0)
    assert [line.met is not None for line in lines].count(True) == 3


def test_a_start_can_be_measured(tmp_path: Path):
    assert start.run(tmp_path, parts=60, rounds=1, warm_up=0)[0].met is not None


def test_memory_can_be_measured(tmp_path: Path):
    lines = memory.run(tmp_path, requests=25)
    assert "after 25 requests" in lines[1].what
