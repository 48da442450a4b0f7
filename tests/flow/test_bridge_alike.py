"""Stacks beside one another, on the plain rig of tests/flow/test_bridge_gap.py: 37.5 mm are asked for."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

import pytest

from server.domain.observer import Holding
from server.flow.bridge_alike import difference, equal_part, gather, same_part
from server.flow.bridge_closing import closing_rings
from server.flow.bridge_offers import search_front
from server.flow.bridge_wishes import Lead
from tests.domain.rigs import mm, rig, ring, shim
from tests.flow.test_bridge_gap import ANY, OWNED, PLAIN, best, catalogued, euro, lengths


def test_stacks_of_equal_rings_are_gathered_behind_the_cheapest():
    parts = catalogued(ring(37.5, price=euro(9)), ring(37.5, price=euro(5)), ring(37.2, price=euro(1)))
    posed, _, offers = best(rig(*PLAIN), ANY, parts, {})
    groups = gather(posed, offers, None)
    assert [(lengths(one.offer), len(one.alike)) for one in groups] == [([37.2], 0), ([37.5], 1)]
    assert groups[1].offer.hundredths == 500
    assert groups[1].alike[0].hundredths == 900


def test_a_lighter_and_dearer_ring_that_nothing_beats_keeps_a_line_of_its_own():
    parts = catalogued(
        ring(37.5, price=euro(5), mass_kg=mm(0.05)), ring(37.5, price=euro(9), mass_kg=mm(0.02))
    )
    posed, outcome, offers = best(rig(*PLAIN), ANY, parts, {})
    groups = gather(posed, offers, search_front(posed, outcome))
    assert [(one.offer.hundredths, one.unbeaten) for one in groups] == [(500, True), (900, True)]


@pytest.mark.parametrize("lead", get_args(Lead))
def test_of_stacks_that_are_else_the_same_the_lightest_is_the_best_and_on_the_front(lead: Lead):
    heavy, light = ring(37.5, mass_kg=mm(0.101)), ring(37.5, mass_kg=mm(0.098))
    posed, outcome, offers = best(rig(*PLAIN), replace(ANY, lead=lead), catalogued(heavy, light))
    assert [offer.mass_kg for offer in offers] == [0.098, 0.101]
    assert gather(posed, offers, search_front(posed, outcome))[0].unbeaten


def test_what_only_the_front_has_stands_behind_the_others():
    parts = catalogued(ring(37.2), ring(37.5, price=euro(30)))
    posed, outcome, offers = best(rig(*PLAIN), ANY, parts, {parts[0].id: OWNED})
    groups = gather(posed, offers[:1], search_front(posed, outcome))
    assert [(lengths(one.offer), one.unbeaten) for one in groups] == [([37.2], True), ([37.5], True)]


def test_a_difference_counts_equal_parts_and_names_the_others():
    parts = catalogued(ring(10.0), ring(20.0), ring(7.5), ring(30.0), shim(0.2))
    shelf = {part.id: Holding(owned=1) for part in parts}
    _, _, offers = best(rig(*PLAIN), replace(ANY, lead="error"), parts, shelf)
    three = next(offer.places for offer in offers if sorted(lengths(offer)) == [7.5, 10.0, 20.0])
    two = next(offer.places for offer in offers if sorted(lengths(offer)) == [7.5, 30.0])
    added, gone = difference(three, two, equal_part)
    assert [place.length.nominal for place in added] == [30.0]
    assert sorted(place.length.nominal for place in gone) == [10.0, 20.0]
    assert difference(two, tuple(reversed(two)), same_part) == ((), ())


def test_a_ring_that_closes_the_gap_may_miss_it_as_far_as_the_gap_allows():
    # 37.5 - 30 = 7.5 mm lack; the rig's rule allows 0.5 mm either way.
    posed, outcome, _ = best(rig(*PLAIN), replace(ANY, source="owned"), catalogued(ring(30.0)))
    assert outcome.nearest is not None
    found = closing_rings(posed, outcome.nearest.closings)
    assert (7.5, 7.0, 8.0) in [(one.length_mm, one.least_mm, one.most_mm) for one in found]
    assert {seat for one in found for seat in one.seats} <= {"M48x0.75 female", "M48x0.75 male"}
    assert all(one.seats for one in found)
    nameless = [replace(one, nodes=(999,)) for one in outcome.nearest.closings]
    assert closing_rings(posed, nameless) == ()
