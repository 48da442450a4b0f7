"""The Scout's candidates looked at on the bench."""

from __future__ import annotations

from server.flow.scout_stops import as_time_does_for, look_at
from tests.flow.test_take_candidate import CHAIN, WHOLE, ids, install, parts, take

__all__ = ["ids", "install"]


def test_a_candidate_is_looked_at_as_one_press_puts_it_on_the_bench(install, ids):
    with install.bench() as bench:
        some = [parts(bench, ids, *names) for names in (WHOLE, CHAIN)]
        looked = [look_at(bench, parts) for parts in some]
        for names, one in zip((WHOLE, CHAIN), looked, strict=True):
            pressed = bench.bench(take(bench, ids, *names).id).findings
            assert [(f.code, f.weight) for f in one.findings] == [(f.code, f.weight) for f in pressed]


def test_without_rings_to_be_had_what_is_looked_at_has_no_ring_that_nobody_has(install, ids):
    with install.bench() as bench:
        bench.remove_part(ids["ring"])
        bench.remove_part(ids["extra"])
        looked = look_at(bench, parts(bench, ids, *WHOLE))
        assert "spacing.short" in {one.code for one in looked.findings}


def test_one_is_taken_and_as_many_as_the_time_does_for(monkeypatch):
    now = iter(range(100))
    monkeypatch.setattr("server.flow.scout_stops.time.monotonic", lambda: float(next(now)))
    assert list(as_time_does_for("abcdef", 0.0)) == ["a"]
    assert list(as_time_does_for("abcdef", 3.0)) == ["a", "b", "c"]
    assert list(as_time_does_for("abcdef", 50.0)) == list("abcdef")
    assert list(as_time_does_for("", 1.0)) == []
