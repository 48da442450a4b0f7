"""The Scout's candidates looked at on the bench."""

from __future__ import annotations

from server.flow.scout_stops import look_at_all
from tests.flow.test_take_candidate import CHAIN, WHOLE, ids, install, parts, take

__all__ = ["ids", "install"]


def test_a_candidate_is_looked_at_as_one_press_puts_it_on_the_bench(install, ids):
    with install.bench() as bench:
        some = [parts(bench, ids, *names) for names in (WHOLE, CHAIN)]
        looked = look_at_all(bench, some)
        for names, one in zip((WHOLE, CHAIN), looked, strict=True):
            pressed = bench.bench(take(bench, ids, *names).id).findings
            assert [(f.code, f.weight) for f in one.findings] == [(f.code, f.weight) for f in pressed]


def test_without_rings_to_be_had_what_is_looked_at_has_no_ring_that_nobody_has(install, ids):
    with install.bench() as bench:
        bench.remove_part(ids["ring"])
        bench.remove_part(ids["extra"])
        (looked,) = look_at_all(bench, [parts(bench, ids, *WHOLE)])
        assert "spacing.short" in {one.code for one in looked.findings}


def test_one_is_looked_at_and_as_many_as_the_time_does_for(install, ids):
    with install.bench() as bench:
        whole = parts(bench, ids, *WHOLE)
        assert len(look_at_all(bench, [whole] * 3, longest_s=0.0)) == 1
        assert len(look_at_all(bench, [whole] * 3)) == 3
        assert look_at_all(bench, []) == ()
