"""One kit for several rigs, from their gaps: worked by hand over small drawers.

The plain rig of tests/domain/rigs.py asks for 37.5 mm between corrector and camera (test_bridge_gap.py).
"""

from __future__ import annotations

from dataclasses import replace

from server.domain.errors import RefusedError
from server.domain.measure import Money
from server.domain.observer import Holding
from server.domain.parts import CataloguedPart, Part
from server.domain.rig import Rig
from server.domain.train import Place
from server.flow.bridge_gap import find_gap
from server.flow.bridge_kit import KitOffer, KitPosed, gaps_of, kit_offer, pose_kit, search_kit
from server.flow.bridge_wishes import Gap, Wishes
from server.flow.protocols import Stock
from server.rim.phrasebook.tell import write_words
from server.search.kit_planner import KitOutcome
from tests.domain.rigs import camera, corrector, item, mm, rig, ring, tube, wheel
from tests.told import refused

EXACT = Wishes(clear_mm=0.0, short_mm=0.0, long_mm=0.0)
OWNED = Holding(owned=1)


def euro(amount: float) -> Money:
    return Money(hundredths=round(amount * 100), currency="EUR")


def catalogued(*parts: Part) -> list[CataloguedPart]:
    return [item(part) for part in parts]


def planned(
    rigs: list[Rig], parts: list[CataloguedPart], owned: dict[int, int], wishes: Wishes = EXACT
) -> tuple[KitPosed, KitOutcome, KitOffer | None]:
    gaps = [find_gap(one, wishes) for one in rigs]
    shelf = {number: Holding(owned=count) for number, count in owned.items()}
    posed = pose_kit(gaps, wishes, Stock((len(parts), 0, 0), tuple(parts)), shelf)
    outcome = search_kit(posed)
    return posed, outcome, kit_offer(posed, outcome)


def plain(back_focus_mm: float = 55.0) -> Rig:
    return rig(tube(), corrector(back_focus_mm=back_focus_mm), camera())


def lengths(offer: KitOffer) -> list[list[float]]:
    return [sorted(place.length.nominal for place in one.places if place.length) for one in offer.offers]


def test_a_ring_bought_once_serves_both_rigs():
    # 37.5 = 20 + 17.5 and 47.5 = 30 + 17.5: with 20 and 30 owned the kit is one ring of 17.5 for both.
    drawer = catalogued(
        ring(20.0),
        ring(30.0),
        ring(17.5, price=euro(15)),
        ring(37.5, price=euro(10)),
        ring(47.5, price=euro(11)),
    )
    posed, outcome, offer = planned([plain(), plain(65.0)], drawer, {drawer[0].id: 1, drawer[1].id: 1})
    assert offer is not None
    # Each for itself would take the cheaper single rings, 10 + 11 = 21 together.
    assert outcome.money_proven
    assert offer.money == euro(15)
    assert [(part.id, count) for part, count in offer.bought] == [(drawer[2].id, 1)]
    assert lengths(offer) == [[17.5, 20.0], [17.5, 30.0]]
    for one in offer.offers:
        assert [place.item.id for place in one.places if place.key in one.bought_keys] == [drawer[2].id]
    assert posed.pieces.currency == "EUR"


def test_nothing_is_bought_where_the_drawer_does_for_all():
    drawer = catalogued(ring(37.5), ring(10.0), ring(1.0, price=euro(1)))
    _, outcome, offer = planned([plain(), plain(65.0)], drawer, {drawer[0].id: 1, drawer[1].id: 1})
    assert offer is not None
    assert (outcome.money_proven, offer.bought) == (True, ())
    assert lengths(offer) == [[37.5], [10.0, 37.5]]


def test_the_joints_undone_are_the_fewest():
    # Both rigs can be built as 10 + 27.5 and 10 + 27.5 + 10 with a common beginning; 37.5 shares nothing.
    drawer = catalogued(ring(27.5), ring(10.0), ring(37.5))
    rigs = [plain(), plain(65.0)]
    _, outcome, offer = planned(rigs, drawer, {part.id: 2 for part in drawer})
    assert offer is not None
    assert outcome.joints_proven
    table = offer.undone
    assert offer.joints_undone == table[0][1] + table[1][0]
    # Different tubes, correctors and cameras: the ends always come apart, two joints of each stack at least.
    assert table[0][1] >= 2
    assert table[0][0] == 0


def test_what_a_rig_needs_outside_its_gap_is_not_free():
    ten = item(ring(10.0, price=euro(5)))
    before = Place(9, ten)
    of = rig(tube(), before, corrector(), camera())
    drawer = [ten, item(ring(27.5, price=euro(7)))]
    _, _, offer = planned([of, plain()], drawer, {ten.id: 1, drawer[1].id: 1})
    assert offer is not None
    assert [(part.id, count) for part, count in offer.bought] == [(ten.id, 1)]


def test_a_rig_that_no_kit_builds_is_named():
    drawer = catalogued(ring(37.5))
    _, outcome, offer = planned([plain(), plain(80.0)], drawer, {drawer[0].id: 1})
    assert outcome.impossible == (1,)
    assert offer is None


def test_too_narrow_for_one_rig_may_serve_another():
    narrow = ring(37.5, clear_aperture_mm=mm(30.0))
    wide = ring(37.5, clear_aperture_mm=mm(70.0), price=euro(9))
    drawer = catalogued(narrow, wide)
    wishes = replace(EXACT, clear_mm=None)
    small = rig(tube(), corrector(), camera(width_px=1000, height_px=1000))
    _, _, offer = planned([plain(), small], drawer, {drawer[0].id: 1}, wishes)
    assert offer is not None
    # The narrow ring is owned and would do for the small sensor; the large one asks for the wide ring.
    assert offer.offers[0].places[0].item.id == drawer[1].id
    assert offer.money == euro(9)


def test_what_stays_in_both_rigs_is_one_thing_to_the_joints():
    the_wheel = item(wheel(20.0))
    front, back = item(corrector()), item(camera())
    rigs = [rig(tube(), Place(0, front), Place(0, the_wheel), Place(0, back)) for _ in range(2)]
    drawer = catalogued(ring(17.5))
    _, outcome, offer = planned(rigs, drawer, {drawer[0].id: 1})
    assert offer is not None
    # Corrector, wheel, ring and camera are the same parts: nothing has to be undone at all.
    assert outcome.joints_proven
    assert offer.joints_undone == 0
    assert all(3 in [place.key for place in one.places] for one in offer.offers)


def test_a_rig_without_a_gap_says_why():
    found = gaps_of([plain(), rig(tube())], EXACT)
    assert isinstance(found[0], Gap)
    assert isinstance(found[1], RefusedError)
    assert "not have two parts yet" in write_words(found[1].message)


def test_a_planning_that_is_stopped_keeps_what_it_has():
    drawer = catalogued(ring(20.0), ring(30.0), ring(17.5, price=euro(15)))
    gaps = [find_gap(one, EXACT) for one in (plain(), plain(65.0))]
    shelf = {drawer[0].id: OWNED, drawer[1].id: OWNED}
    posed = pose_kit(gaps, EXACT, Stock((3, 0, 0), tuple(drawer)), shelf)
    seen: list[KitOutcome] = []

    def stop(outcome: KitOutcome) -> bool:
        seen.append(outcome)
        return False

    outcome = search_kit(posed, stop)
    assert len(seen) == 1
    assert outcome.kit is not None
    assert not outcome.joints_proven


def test_a_contradiction_in_one_rig_is_said_of_it():
    with refused(RefusedError, "contradict"):
        find_gap(rig(tube(), corrector(back_focus_mm=20.0), wheel(20.0), camera()), EXACT)
