"""The lifting equation against the printed examples of its applications manual, and its exact formula.

Source of the examples: NIOSH 94-110 (revised 2021), examples 1, 3 and 4. Printed limits come from
multipliers rounded to two decimals: they hold to 3 %. Loads and inputs in pounds and inches, as printed (1
and 3 partly from memory).
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.mechanics.lifting import (
    FREQUENCIES,
    METRIC,
    Lifted,
    duration_of,
    frequency_multiplier,
    lifting_index,
    recommended_limit,
)
from tests.references import lifting as reference

PRINTED = 0.03

#: Load, lift in inches, printed limit and index, limit to full precision.
EXAMPLES = (
    (44.0, Lifted(23, 15, 15, 48, 0, "fair"), 16.3, 2.7, 16.031),
    (44.0, Lifted(23, 63, 15, 48, 0, "fair"), 14.5, 3.0, 14.308),
    (40.0, Lifted(18, 15, 15, 21, 45, "fair"), 18.9, 2.1, 18.521),
    (26.0, Lifted(10, 22, 22, 37, 0, "fair", 3.0), 34.9, 0.7, 34.814),
    (26.0, Lifted(20, 59, 22, 37, 0, "fair", 3.0), 15.2, 1.7, 15.253),
)


@pytest.mark.parametrize(("load", "lifted", "limit", "index", "exact"), EXAMPLES)
def test_the_printed_examples_hold_to_their_rounding(load, lifted, limit, index, exact):
    found = recommended_limit(lifted, reference.US)
    assert found == pytest.approx(limit, rel=PRINTED)
    assert found == pytest.approx(exact, rel=1e-4)
    assert lifting_index(load, found) == pytest.approx(index, abs=0.1)


def test_the_metric_equation_is_exact():
    # Worked by hand: 23 x 25/35 x 0.985 x 0.92 x 1 x 1 x 0.95; and 23 x 25/45 x 0.865 x 0.860909 x 0.904 x
    # 0.9.
    near = recommended_limit(Lifted(35, 70, 70, 45, 0, "fair"))
    assert near == pytest.approx(14.1432, rel=1e-4)
    assert lifting_index(18.0, near) == pytest.approx(1.2727, rel=1e-4)
    far = recommended_limit(Lifted(45, 30, 30, 110, 30, "poor"))
    assert far == pytest.approx(7.7418, rel=1e-4)
    assert lifting_index(22.0, far) == pytest.approx(2.8417, rel=1e-4)


@pytest.mark.parametrize(
    "lifted",
    [
        Lifted(64, 70, 70, 45, 0, "fair"),
        Lifted(35, 176, 70, 106, 0, "fair"),
        Lifted(35, 70, 70, 176, 0, "fair"),
        Lifted(35, 70, 70, 45, 136, "fair"),
        Lifted(35, 70, 70, 45, 0, "fair", 16.0),
        Lifted(35, 60, 60, 45, 0, "fair", 13.0),
    ],
)
def test_outside_its_range_the_equation_gives_a_sentence_and_no_number(lifted):
    with pytest.raises(ValueError, match="outside the equation's range: do not lift so"):
        recommended_limit(lifted)


def test_a_reach_below_nothing_is_a_slip_and_said_so():
    with pytest.raises(ValueError, match="must be 0 or more"):
        recommended_limit(Lifted(-1, 70, 70, 45, 0, "fair"))
    with pytest.raises(ValueError, match="8"):
        duration_of(9.0)


def test_a_load_held_close_counts_as_held_at_the_bodys_own_depth():
    assert recommended_limit(Lifted(10, 75, 75, 10, 0, "good")) == pytest.approx(METRIC.load)


def test_the_frequency_is_read_between_the_tables_lines():
    assert frequency_multiplier(0.1, "short", high=False) == 1.0
    assert frequency_multiplier(1.5, "moderate", high=False) == pytest.approx(0.86)
    assert frequency_multiplier(9.0, "long", high=True) == 0.15
    with pytest.raises(ValueError, match="too many"):
        frequency_multiplier(9.0, "long", high=False)


CELLS = [
    (per_minute, hours, duration, high, printed)
    for per_minute, *columns in reference.FREQUENCIES
    for (hours, duration), pair in zip(reference.COLUMNS, columns, strict=True)
    for high, printed in zip((False, True), pair, strict=True)
]


@pytest.mark.parametrize(("per_minute", "hours", "duration", "high", "printed"), CELLS)
def test_every_cell_of_the_printed_table_of_frequencies(per_minute, hours, duration, high, printed):
    assert duration_of(hours) == duration
    if printed:
        assert frequency_multiplier(per_minute, duration, high=high) == pytest.approx(printed, abs=1e-12)
    else:
        with pytest.raises(ValueError, match="too many"):
            frequency_multiplier(per_minute, duration, high=high)


def test_the_table_holds_every_line_that_is_printed_and_no_other():
    assert len(CELLS) == 6 * len(FREQUENCIES)
    assert [row[0] for row in FREQUENCIES] == [row[0] for row in reference.FREQUENCIES]
    for duration in ("short", "moderate", "long"):
        for high in (False, True):
            with pytest.raises(ValueError, match="too many"):
                frequency_multiplier(reference.MORE_THAN, duration, high=high)


@pytest.mark.parametrize(("coupling", "low", "high"), reference.COUPLINGS)
def test_every_cell_of_the_printed_table_of_couplings(coupling, low, high):
    # The vertical multiplier is worked out of the equation again, so that the coupling's alone is left.
    for height, printed in ((74.99, low), (75.0, high), (175.0, high), (0.0, low)):
        limit = recommended_limit(Lifted(25, height, 75, 25, 0, coupling))
        vertical = 1 - 0.003 * abs(height - 75)
        assert limit / (23.0 * vertical) == pytest.approx(printed, rel=1e-12)


@pytest.mark.parametrize(("name", "edge"), reference.EDGES)
def test_the_edge_itself_is_in_range_and_a_hair_beyond_is_not(name, edge):
    usual = Lifted(35, 70, 70, 45, 0, "fair")
    at = recommended_limit(replace(usual, **{name: edge}))
    assert at > 0.0
    with pytest.raises(ValueError, match="outside the equation's range: do not lift so"):
        recommended_limit(replace(usual, **{name: edge + 1e-6}))


def test_at_the_edges_the_multipliers_are_those_of_the_equation():
    best = Lifted(25, 75, 75, 25, 0, "good")
    assert recommended_limit(best) == pytest.approx(23.0)
    assert recommended_limit(replace(best, reach_cm=63)) == pytest.approx(23 * 25 / 63)
    assert recommended_limit(replace(best, height_cm=175)) == pytest.approx(23 * 0.7)
    assert recommended_limit(replace(best, way_cm=175)) == pytest.approx(23 * (0.82 + 4.5 / 175))
    assert recommended_limit(replace(best, twist_deg=135)) == pytest.approx(23 * 0.568)


def test_the_column_of_the_frequencies_goes_by_the_hands_at_the_start_from_75_cm_on():
    often = Lifted(25, 75, 75, 25, 0, "good", 9.0, "long")
    assert recommended_limit(often) == pytest.approx(23 * 0.15)
    with pytest.raises(ValueError, match="too many"):
        recommended_limit(replace(often, start_cm=74.999))


def test_the_table_never_rises():
    for column in range(3):
        for which in (1, 2):
            values = [row[which][column] for row in FREQUENCIES]
            assert values == sorted(values, reverse=True)


LIFTS = st.builds(
    Lifted,
    reach_cm=st.floats(0, 63),
    height_cm=st.floats(0, 175),
    start_cm=st.floats(0, 175),
    way_cm=st.floats(0, 175),
    twist_deg=st.floats(0, 135),
    coupling=st.sampled_from(["good", "fair", "poor"]),
)


@given(LIFTS, st.floats(0.1, 60), st.floats(0.01, 0.99))
def test_splitting_a_load_never_raises_the_index_of_its_parts(lifted, load_kg, part):
    limit = recommended_limit(lifted)
    whole = lifting_index(load_kg, limit)
    assert lifting_index(load_kg * part, limit) <= whole
    assert lifting_index(load_kg * (1 - part), limit) <= whole


@given(LIFTS, st.floats(0, 20))
def test_reaching_further_or_turning_more_never_raises_the_limit(lifted, more):
    limit = recommended_limit(lifted)
    for changed in (
        replace(lifted, reach_cm=min(63.0, lifted.reach_cm + more)),
        replace(lifted, twist_deg=min(135.0, lifted.twist_deg + more)),
    ):
        assert recommended_limit(changed) <= limit + 1e-12
