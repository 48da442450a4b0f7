"""The Scout's candidates looked at on the bench."""

from __future__ import annotations

from server.flow.scout_stops import MOST_LOOKED_AT, look_at_all
from tests.flow.test_take_candidate import CHAIN, WHOLE, ids, install, parts, take

__all__ = ["ids", "install"]


def test_a_candidate_is_looked_at_as_one_press_puts_it_on_the_bench(install, ids):
    with install.bench() as bench:
        some = [parts(bench, ids, *names) for names in (WHOLE, CHAIN)]
        looked = look_at_all(bench, some)
        for names, findings in zip((WHOLE, CHAIN), looked, strict=True):
            pressed = bench.bench(take(bench, ids, *names).id).findings
            assert findings is not None
            assert [(one.code, one.weight) for one in findings] == [(one.code, one.weight) for one in pressed]


def test_without_rings_to_be_had_what_is_looked_at_has_no_ring_that_nobody_has(install, ids):
    with install.bench() as bench:
        bench.remove_part(ids["ring"])
        bench.remove_part(ids["extra"])
        (findings,) = look_at_all(bench, [parts(bench, ids, *WHOLE)])
        assert findings is not None
        assert "spacing.short" in {one.code for one in findings}


def test_what_the_time_or_the_number_does_not_do_for_is_said_to_be_not_looked_at(install, ids):
    with install.bench() as bench:
        whole = parts(bench, ids, *WHOLE)
        assert [one is not None for one in look_at_all(bench, [whole] * 3, longest_s=0.0)] == [
            True,
            False,
            False,
        ]
        assert look_at_all(bench, [whole] * (MOST_LOOKED_AT + 1))[-1] is None
