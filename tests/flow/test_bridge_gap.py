"""From a gap to a search and back: distances worked by hand, parts left out, contradictions.

The plain rig of tests/domain/rigs.py: a corrector that asks for 55 mm and shows M48x0.75 female, a camera
with a flange distance of 17.5 mm and M48x0.75 male before it.
So 55 - 17.5 = 37.5 mm are asked for between them.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from server.domain.connections import read_connection
from server.domain.errors import RefusedError
from server.domain.measure import Money
from server.domain.observer import Holding
from server.domain.parts import CataloguedPart, Part
from server.domain.rig import PlacePlan, Rig, RigPlan, Rules, build_rig
from server.domain.train import Place, Train
from server.flow.assemble_train import ReplaceStack, StackUse, apply_change
from server.flow.bridge_gap import find_gap
from server.flow.bridge_offers import offers_of, search_front, search_stacks
from server.flow.bridge_pose import connection_words, pose
from server.flow.bridge_wishes import Wishes
from server.flow.protocols import Stock
from server.flow.workbench import Workbench
from server.rim.phrasebook.tell import plain, tell, write_words
from server.store import open_stores
from tests.domain.rigs import (
    M42F,
    M42M,
    M48F,
    M48M,
    adapter,
    camera,
    corrector,
    focuser,
    glass,
    holding,
    item,
    mm,
    rig,
    ring,
    shim,
    tube,
    wheel,
)
from tests.references.illumination import STOPS
from tests.told import refused, run_checks

HUNDREDTH_MM = 0.01
ANY = Wishes(clear_mm=0.0)
"""No smallest aperture, so that a test says what it is about."""
OWNED = Holding(owned=1)


def euro(amount: float) -> Money:
    return Money(hundredths=round(amount * 100), currency="EUR")


def stock(*items: CataloguedPart) -> Stock:
    return Stock((len(items), 0, 0), items)


def catalogued(*parts: Part) -> list[CataloguedPart]:
    return [item(part) for part in parts]


def best(of: Rig, wishes: Wishes, parts: list[CataloguedPart], shelf: dict[int, Holding] | None = None):
    """(posed, outcome, offers) over these parts, all of them owned once unless a shelf says otherwise."""
    had = {part.id: OWNED for part in parts} if shelf is None else shelf
    posed = pose(find_gap(of, wishes), wishes, stock(*parts), had)
    outcome = search_stacks(posed)
    return posed, outcome, offers_of(posed, outcome)


def lengths(offer) -> list[float]:
    return [place.length.nominal for place in offer.places]


PLAIN = (tube(), corrector(), camera())


# What is asked for


def test_the_gap_is_what_the_corrector_asks_for_less_what_stands_outside_it():
    gap = find_gap(rig(*PLAIN), ANY)
    assert gap.distance_mm == pytest.approx(37.5)
    assert (gap.short_mm, gap.long_mm, gap.whose) == (0.5, 0.5, "rules")


def test_a_filter_behind_the_corrector_lengthens_the_gap():
    # 3 mm of N-BK7 at f/4: 1.03083 mm (references/glass.py).
    gap = find_gap(rig(tube(), corrector(), holding(wheel(20.0), glass(3.0)), camera()), ANY)
    assert gap.distance_mm == pytest.approx(38.53083, abs=1e-4)
    let_go = find_gap(gap.rig, replace(ANY, leave=(gap.kept[0].key,)))
    assert let_go.distance_mm == pytest.approx(37.5)


def test_the_correctors_own_tolerance_counts_before_the_rigs_rule():
    exact = corrector(back_focus_mm=mm(55.0, 0.3, 0.1))
    gap = find_gap(rig(tube(), exact, camera()), ANY)
    assert (gap.short_mm, gap.long_mm, gap.whose) == (0.1, 0.3, "corrector")


def test_a_narrower_gap_leaves_what_stands_outside_it_where_it_is():
    of = rig(tube(), corrector(), ring(10.0), wheel(20.0), ring(7.0), camera())
    gap = find_gap(of, replace(ANY, sky=of.train.places[2].key, camera=of.train.places[3].key))
    # 55 - 17.5 - 10 (ring) - 20 (wheel) - 7 (ring) = 0.5 mm between ring and wheel.
    assert gap.distance_mm == pytest.approx(0.5)
    assert gap.between == ()


def test_a_joint_opens_the_gap_between_the_powered_parts_around_it():
    of = rig(tube(), focuser(), corrector(), ring(10.0), camera())
    before = find_gap(of, replace(ANY, joint=of.train.places[1].key))
    assert (before.sky.part.kind, before.camera.part.kind) == ("optical_tube", "corrector")
    assert before.whose == "nobody"
    behind = find_gap(of, replace(ANY, joint=of.train.places[4].key))
    assert (behind.sky.part.kind, behind.camera.part.kind) == ("corrector", "camera")


def test_without_a_corrector_the_focusers_travel_is_the_window():
    # The focus lies 150 mm behind the tube; 150 - 17.5 = 132.5 mm. Going in allows 12 mm more, drawing out
    # 18 mm less.
    bare = tube(back_focus_mm=150.0, focuser_in_mm=12.0, focuser_out_mm=18.0)
    gap = find_gap(rig(bare, camera()), ANY)
    assert gap.distance_mm == pytest.approx(132.5)
    assert (gap.short_mm, gap.long_mm, gap.whose) == (18.0, 12.0, "focuser")


def test_the_smallest_aperture_is_what_the_light_cone_needs_at_the_sky_end():
    # By geometry (tests/references): 46 mm at 55 mm before the sensor, f/5, pupil 700 mm, 21.6 mm high, keeps
    # 0.822555 of the light.
    opening, at, ratio, pupil, height, _, _, share = STOPS[3]
    assert (at, height) == (55.0, 21.6)
    of = rig(
        tube(focal_length_mm=pupil, aperture_mm=pupil / ratio),
        corrector(),
        # 8640 by 6480 pixels of 4 um: 34.56 by 25.92 mm, diagonal 43.2 mm (3, 4, 5 times 8.64).
        camera(width_px=8640, height_px=6480),
        rules=Rules(corner_light=share),
    )
    gap = find_gap(of, Wishes())
    assert gap.cone_mm is not None
    assert gap.cone_mm[1] == pytest.approx(opening, abs=HUNDREDTH_MM)
    assert gap.clear_mm == pytest.approx(opening, abs=0.11)


# The parts


def test_owned_rings_that_add_up_exactly_come_first():
    parts = catalogued(ring(20.0), ring(10.0), ring(7.5), ring(38.0, price=euro(9)))
    _, outcome, offers = best(rig(*PLAIN), ANY, parts)
    assert outcome.proven
    assert sorted(lengths(offers[0])) == [7.5, 10.0, 20.0]
    assert offers[0].error_mm == pytest.approx(0.0)
    fewest_first = best(rig(*PLAIN), replace(ANY, lead="money"), parts)[2]
    assert sorted(lengths(fewest_first[0])) == [38.0]


def test_at_the_same_money_an_exact_stack_with_a_shim_comes_before_one_that_is_short():
    # 37.5 mm are asked for.
    parts = catalogued(ring(37.2), shim(0.3), ring(37.5, price=euro(9)))
    shelf = {part.id: OWNED for part in parts[:2]}
    offers = best(rig(*PLAIN), ANY, parts, shelf)[2]
    assert [sorted(lengths(offer)) for offer in offers][:3] == [[0.3, 37.2], [37.2], [37.5]]


def test_within_a_focusers_travel_all_fits_and_fewer_joints_come_first():
    # In focus 32.5 mm of ring short of the drawtube's middle; a ring less of travel is no fault.
    bare = tube(back_focus_mm=50.0, focuser_in_mm=20.0, focuser_out_mm=20.0)
    offers = best(rig(bare, camera()), ANY, catalogued(ring(20.0), ring(12.5)))[2]
    assert [lengths(offer) for offer in offers][:2] == [[20.0], [12.5]]


def test_a_ring_whose_thread_is_known_to_bottom_is_not_offered_and_another_is():
    # 8 mm of thread in 5 mm: the shoulders would stay 3 mm apart. Of the other ring no length is known.
    deep = corrector(camera_side=read_connection("M48x0.75 female, 5 mm deep"))
    long = ring(37.5, sky_side=read_connection("M48x0.75 male, 8 mm long"))
    parts = catalogued(long, ring(37.5, price=euro(9)))
    shelf = {parts[0].id: OWNED}
    offers = best(rig(tube(), deep, camera()), ANY, parts, shelf)[2]
    assert [offer.hundredths for offer in offers] == [900]
    assert [offer.hundredths for offer in best(rig(*PLAIN), ANY, parts, shelf)[2]] == [0, 900]
    # Turned round or behind another ring it seats: where its thread meets a hole of unknown depth.
    halves = catalogued(ring(18.75), ring(18.75, sky_side=long.sky_side))
    (offer,) = best(rig(tube(), deep, camera()), ANY, halves)[2]
    assert [place.item.id for place in offer.places] == [part.id for part in halves]


def test_a_part_owned_once_is_used_once():
    # Two of 18.75 mm would close it exactly; only one is owned, and none can be bought.
    parts = catalogued(ring(18.75), ring(37.9))
    offers = best(rig(*PLAIN), ANY, parts)[2]
    assert [lengths(offer) for offer in offers] == [[37.9]]
    two = {parts[0].id: Holding(owned=2), parts[1].id: OWNED}
    offers = best(rig(*PLAIN), replace(ANY, lead="error"), parts, two)[2]
    assert lengths(offers[0]) == [18.75, 18.75]


def test_a_part_that_another_place_of_the_train_needs_is_not_free():
    (needed,) = catalogued(ring(10.0))
    here = Train(
        (
            *rig(tube()).train,
            Place(7, needed),
            *[replace(p, key=p.key + 10) for p in rig(corrector(), camera()).train],
        )
    )
    of = Rig("Test rig", here)
    other = item(ring(37.5))
    posed, _, offers = best(of, ANY, [needed, other])
    assert [line for line in posed.left_out if needed in line.items]
    assert [lengths(offer) for offer in offers] == [[37.5]]


def test_wished_parts_are_to_be_bought_and_only_where_they_are_asked_for():
    wished, listed = catalogued(ring(37.5, price=euro(12)), ring(37.4, price=euro(10)))
    shelf = {wished.id: Holding(wished=1)}
    _, outcome, _ = best(rig(*PLAIN), replace(ANY, source="owned"), [wished, listed], shelf)
    assert outcome.best == ()
    offers = best(rig(*PLAIN), replace(ANY, source="wished"), [wished, listed], shelf)[2]
    assert [(lengths(o), o.stack.money) for o in offers] == [([37.5], 1200)]
    assert [(part.id, count) for part, count in offers[0].bought] == [(wished.id, 1)]
    offers = best(rig(*PLAIN), ANY, [wished, listed], shelf)[2]
    assert [o.stack.money for o in offers] == [1000, 1200]


@pytest.mark.parametrize(
    ("part", "words"),
    [
        (ring(None), "length is not known"),
        (ring(5.0, sky_side=read_connection("M48x0.75")), "gender is not known"),
        (ring(5.0, camera_side=None), "connection or its gender"),
        (ring(5.0, clear_aperture_mm=None), "clear aperture is not known"),
        (ring(5.0, clear_aperture_mm=20.0), "too small"),
        (ring(5.0, mass_kg=None), "mass is not known"),
        (ring(5.0, longest_mm=9.0), "adjustable"),
        (shim(0.5, fits_from_mm=None), "inner diameter"),
        (ring(5.0, sky_side=read_connection("2 in barrel male")), "push-fit"),
    ],
)
def test_a_part_of_which_something_is_missing_is_left_out_with_the_reason(part: Part, words: str):
    wishes = Wishes(clear_mm=30.0, most_kg=1.0)
    posed = best(rig(*PLAIN), wishes, catalogued(part))[0]
    assert posed.problem.pieces == ()
    (line,) = posed.left_out
    assert words in plain(line.reason)


def test_a_part_of_no_known_opening_is_searched_unless_a_person_asks_for_an_opening():
    parts = catalogued(ring(37.5, clear_aperture_mm=None))
    assert [lengths(o) for o in best(rig(*PLAIN), Wishes(), parts)[2]] == [[37.5]]
    narrow = best(rig(*PLAIN), Wishes(), catalogued(ring(37.5, clear_aperture_mm=5.0)))
    assert narrow[2] == (), "the light asks for an opening here, and a known one is held against it"
    assert best(rig(*PLAIN), Wishes(clear_mm=30.0), parts)[2] == ()


def test_money_is_counted_in_the_most_common_currency():
    pounds = Money(hundredths=1, currency="GBP")
    parts = catalogued(
        ring(37.5, price=pounds), ring(37.4, price=euro(9)), ring(37.3, price=euro(8)), ring(37.2)
    )
    posed, _, offers = best(rig(*PLAIN), ANY, parts, {})
    assert posed.pieces.currency == "EUR"
    assert [o.stack.money for o in offers] == [800, 900]
    reasons = {plain(line.reason): line.items for line in posed.left_out}
    assert [items for reason, items in reasons.items() if "GBP" in reason] == [(parts[0],)]
    assert [items for reason, items in reasons.items() if "price is not known" in reason] == [(parts[3],)]


def test_a_shim_goes_only_into_a_joint_that_its_diameter_fits():
    fits, too_small, too_wide = shim(0.5), shim(0.5, fits_from_mm=42.0), shim(0.5, fits_from_mm=52.0)
    for thin, found in ((fits, True), (too_small, False), (too_wide, False)):
        parts = catalogued(ring(37.0), thin)
        offers = best(rig(*PLAIN), replace(ANY, lead="error"), parts)[2]
        assert (lengths(offers[0]) in ([37.0, 0.5], [0.5, 37.0])) is found


def test_a_ring_is_turned_round_only_where_it_is_marked_reversible():
    turned = {"sky_side": M48F, "camera_side": M48M, "reversible": True}
    offers = best(rig(*PLAIN), ANY, catalogued(ring(37.5, **turned)))[2]
    assert offers[0].places[0].flipped
    _, outcome, _ = best(rig(*PLAIN), ANY, catalogued(ring(37.5, **turned | {"reversible": False})))
    assert outcome.best == ()
    assert outcome.nearest is not None


def test_an_adjustable_ring_that_stands_there_stays_as_it_is_set():
    set_ring = item(ring(5.0, longest_mm=9.0))
    of = rig(tube(), corrector(), Place(0, set_ring, set_length_mm=7.5), camera())
    _, _, offers = best(of, replace(ANY, lead="error"), [set_ring, item(ring(30.0))])
    assert sorted(lengths(offers[0])) == [7.5, 30.0]
    assert offers[0].error_mm == pytest.approx(0.0)


# What stays


def test_what_must_stay_keeps_its_key_its_filters_and_its_order():
    of = rig(
        tube(), corrector(), holding(wheel(20.0), glass(3.0)), ring(5.0), focuser(length_mm=10.0), camera()
    )
    _, _, offers = best(of, replace(ANY, lead="error"), catalogued(ring(8.52), ring(30.0)))
    kinds = [place.part.kind for place in offers[0].places]
    assert kinds.index("filter_wheel") < kinds.index("focuser")
    kept = next(place for place in offers[0].places if place.part.kind == "filter_wheel")
    assert kept == of.train.places[2]
    # 38.53083 asked, 20 + 10 + 8.52 = 38.52 there: 0.01083 mm short.
    assert offers[0].error_mm == pytest.approx(-0.01083, abs=1e-4)


@pytest.mark.parametrize(
    ("aperture_mm", "shift_mm"), [(400.0, 0.704), (200.0, 0.687), (100.0, 0.683), (None, 0.681)]
)
def test_a_bridge_that_meets_its_target_is_judged_to_be_without_error(aperture_mm, shift_mm):
    # 2 mm of N-BK7 at f/2, f/4, f/8 and near the axis (references/glass.py), to the ring's micrometre.
    of = rig(tube(aperture_mm=aperture_mm), corrector(), holding(wheel(20.0), glass(2.0)), camera())
    _, _, offers = best(of, replace(ANY, lead="error"), catalogued(ring(17.5 + shift_mm)))
    judged = next(f for f in run_checks(offers[0].rig) if f.code.startswith("spacing."))
    assert judged.code == "spacing.sound"
    assert judged.figure is not None
    assert judged.figure.amount.value == pytest.approx(0.0, abs=0.0005)
    assert offers[0].error_mm == pytest.approx(judged.figure.amount.value, abs=1e-9)


def test_parts_that_are_glued_together_are_one_piece():
    long, short = catalogued(ring(30.0), ring(7.5))
    alone = best(rig(*PLAIN), ANY, [long, short])[2]
    assert len(alone) == 1
    other = item(ring(3.1, price=euro(3)))
    offers = best(rig(*PLAIN), replace(ANY, glued=((long.id, short.id),)), [long, short, other])[2]
    assert [lengths(offer) for offer in offers] == [[30.0, 7.5]]
    with refused(RefusedError, "no copy"):
        best(
            rig(*PLAIN),
            replace(ANY, glued=((long.id, other.id),)),
            [long, other],
            {long.id: OWNED, other.id: Holding(wished=1)},
        )


# And back


def test_where_no_stack_exists_the_nearest_miss_and_its_ring_are_told():
    posed, outcome, _ = best(rig(*PLAIN), replace(ANY, source="owned"), catalogued(ring(30.0)))
    nearest = outcome.nearest
    assert nearest is not None
    assert (nearest.why, nearest.stack.error) == ("length", -750)
    closing = {one.length for one in nearest.closings}
    assert 750 in closing
    words = connection_words(posed)
    assert {words[node] for one in nearest.closings for node in one.nodes} <= {
        "M48x0.75 female",
        "M48x0.75 male",
    }


def test_a_gap_that_no_thread_crosses_says_what_can_be_reached():
    of = rig(tube(), corrector(), camera(sky_side=M42F))
    posed, outcome, _ = best(of, ANY, catalogued(ring(20.0)))
    assert outcome.nearest is not None
    assert outcome.nearest.why == "unreachable"
    joined = best(of, ANY, catalogued(ring(20.0), adapter(17.5)))[2]
    assert lengths(joined[0]) == [20.0, 17.5]
    assert M42M in (joined[0].places[-1].camera_connection,)
    assert posed.problem.start != posed.problem.end


def test_the_front_holds_no_stack_that_another_beats_in_everything():
    parts = catalogued(
        ring(37.5, price=euro(30)),
        ring(37.2),
        ring(20.0, price=euro(5)),
        ring(17.5, price=euro(5)),
        ring(37.9),
    )
    shelf = {parts[1].id: OWNED, parts[4].id: OWNED}
    posed, outcome, _ = best(rig(*PLAIN), ANY, parts, shelf)
    front = search_front(posed, outcome)
    assert front.complete
    # By hand: 37.2 free, 2 joints, 0.3 off beats 37.9 (0.4 off, same mass); two rings for 10 EUR exact; one
    # for 30 EUR exact with a joint less.
    found = {(stack.money, stack.joints, abs(stack.error)) for stack in front.points}
    assert found == {(0, 2, 30), (1000, 3, 0), (3000, 2, 0)}


def test_the_judge_finds_nothing_against_the_joints_and_the_spacing_of_any_stack_of_the_demo_club(
    club_place: Path | str,
):
    stores = open_stores(club_place)
    judged = 0
    with stores.reading() as store:
        for observer in store.observers():
            bench = Workbench(store, observer, tell)
            for line in bench.rigs():
                view = bench.bridge(line.id, Wishes())
                assert view.posed is not None, view.trouble
                for offer in offers_of(view.posed, search_stacks(view.posed)):
                    stops = {one.code for one in offer.findings if one.weight == "stop"}
                    assert not [code for code in stops if code.startswith(("joints.", "spacing."))]
                    assert "spacing.long" not in {one.code for one in offer.findings}
                    judged += 1
    stores.close()
    assert judged > 60


def plan_of(of: Rig) -> tuple[RigPlan, dict[int, CataloguedPart]]:
    places = tuple(
        PlacePlan(key=p.key, part_id=p.item.id, flipped=p.flipped, inside=tuple(i.id for i in p.inside))
        for p in of.train
    )
    parts = {p.item.id: p.item for p in of.train} | {i.id: i for p in of.train for i in p.inside}
    return RigPlan(places=places), parts


def test_a_stack_is_put_in_at_one_change_and_the_judge_sees_the_same_train():
    of = rig(tube(), corrector(), holding(wheel(20.0), glass(3.0)), ring(5.0), camera())
    new = catalogued(ring(18.5))
    _, _, offers = best(of, ANY, new)
    plan, parts = plan_of(of)
    parts |= {one.id: one for one in new}
    after, words = apply_change(plan, offers[0].change, parts)
    assert "between" in write_words(words)
    assert build_rig("Test rig", after, parts).train == offers[0].rig.train
    assert [p.key for p in after.places][:3] == [1, 2, after.places[2].key]
    assert {1, 2, 3, 5} <= {p.key for p in after.places}


@pytest.mark.parametrize("place", [99, 2])
def test_a_stack_of_a_page_that_is_out_of_date_is_refused(place: int):
    of = rig(tube(), corrector(), ring(5.0), camera())
    plan, parts = plan_of(of)
    use = StackUse(part_id=of.train.places[2].item.id, place=place)
    with refused(RefusedError, "out of date"):
        apply_change(plan, ReplaceStack(sky=2, camera=4, uses=(use,)), parts)


def test_a_stack_turns_nothing_that_cannot_be_turned():
    of = rig(tube(), corrector(), ring(5.0), camera())
    plan, parts = plan_of(of)
    use = StackUse(part_id=of.train.places[2].item.id, flipped=True)
    with refused(RefusedError, "turned round"):
        apply_change(plan, ReplaceStack(sky=2, camera=4, uses=(use,)), parts)


def test_before_the_corrector_the_focusers_travel_asks_for_the_distance():
    # 60 - (20 + 30 + 37.5 + 17.5) = 45 mm inwards of 20: 25 too long. The 20 mm that stand there are not
    # enough; with 130 the drawtube comes out by 25, of 30 that it can: 45 in and 5 out are left.
    def ends(back_mm):
        bare = tube(back_focus_mm=back_mm, focuser_in_mm=20.0, focuser_out_mm=30.0)
        places = rig(bare, ring(20.0), corrector(), ring(37.5), camera())
        joint = places.train.corrector
        assert joint is not None
        return find_gap(places, replace(ANY, joint=joint.key))

    gap = ends(130.0)
    assert gap.whose == "focuser"
    assert gap.now_mm == pytest.approx(20.0)
    # From 15 mm (5 less: the drawtube wholly out) to 65 mm (45 more: wholly in).
    assert gap.distance_mm - gap.short_mm == pytest.approx(15.0)
    assert gap.distance_mm + gap.long_mm == pytest.approx(65.0)
    assert ends(60.0).whose == "nobody"
