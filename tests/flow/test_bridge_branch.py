"""Main chain and guide chain from one drawer, put into a rig, kept, frozen and compared.

The rig is that of tests/domain/checks/test_guide_branch.py: the corrector asks for 55 mm; guider 16, wheel 20
and the camera's 17.5 leave 1.5 mm for rings. With the prism 8 mm before its camera side, prism to main
sensor is 8 + 20 + 17.5 = 45.5 mm and what stands between guider and camera besides; prism to guide sensor is
26 + 12.5 = 38.5 mm and the guide chain.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest

from server.domain.changes import compare_documents
from server.domain.entry import freeze, read_entry
from server.domain.errors import RefusedError
from server.domain.limits import MOST_BRANCH
from server.domain.observer import Holding
from server.domain.parts import CataloguedPart, Part
from server.domain.rig import GearPlan, PlacePlan, Rig, RigPlan, build_rig
from server.domain.train import Place
from server.flow.assemble_train import (
    AddPart,
    FlipPart,
    MovePart,
    RemovePart,
    ReplaceStack,
    StackUse,
    apply_change,
)
from server.flow.bridge_branch import pose_gap
from server.flow.bridge_gap import find_gap
from server.flow.bridge_offers import Offer, offers_of, search_pairs
from server.flow.bridge_wishes import ContradictionError, Wishes
from server.flow.protocols import Stock
from server.flow.save_entry import renumbered
from server.search.pairs import PairOutcome
from tests.domain.checks.test_guide_branch import (
    INCH_F,
    INCH_M,
    guide_camera,
    guided,
    guider,
    judged,
    to_inch,
)
from tests.domain.rigs import M42F, M42M, camera, corrector, glass, holding, item, mm, ring, tube, wheel
from tests.told import refused

BOTH = Wishes(clear_mm=0.0, guide=True)
OWNED = Holding(owned=1)
ON_THE_DAY = datetime(2026, 5, 1, 12, 0, tzinfo=UTC)


def catalogued(*parts: Part) -> list[CataloguedPart]:
    return [item(part) for part in parts]


def search(
    of: Rig, parts: list[CataloguedPart], wishes: Wishes = BOTH, shelf: dict[int, Holding] | None = None
) -> tuple[PairOutcome, tuple[Offer, ...]]:
    """Over these parts, all of them owned once unless a shelf says otherwise."""
    had = {part.id: OWNED for part in parts} if shelf is None else shelf
    stock = Stock((len(parts), 0, 0), tuple(parts))
    posed = pose_gap(find_gap(of, wishes), wishes, stock, had)
    outcome = search_pairs(posed)
    return outcome, offers_of(posed, outcome)


def main_lengths(offer: Offer) -> list[float]:
    return [place.length.nominal for place in offer.places if place.length and place.length.nominal < 10]


def guide_lengths(offer: Offer) -> list[float]:
    assert offer.guide is not None
    return [place.length.nominal for place in offer.guide.places if place.length]


# What is found


def test_the_guide_chain_is_as_long_as_the_main_chain_asks():
    # 7.0 mm for the guide chain where the ring of 1.5 stands before the guider, 8.5 mm where behind.
    drawer = catalogued(ring(1.5), to_inch(5.0), ring(3.5, sky_side=INCH_F, camera_side=INCH_M))
    outcome, (best, *_) = search(guided(), drawer)
    assert outcome.proven
    assert [place.part.kind for place in best.places] == ["off_axis_guider", "spacer_ring", "filter_wheel"]
    assert guide_lengths(best) == [5.0, 3.5]
    assert best.guide is not None
    assert best.guide.main_mm == pytest.approx(47.0)
    assert best.guide.guide_mm == pytest.approx(47.0)
    assert judged(best.rig).weight == "sound"


def test_the_glass_behind_the_prism_shortens_the_guide_chain():
    # 3 mm of N-BK7 at f/4 shift by 1.0308 mm (references/glass.py): 45.5 - 1.0308 - 38.5 = 5.9692 mm. The
    # corrector then asks for 56.0308.
    parts = (tube(), corrector(), guider(), holding(wheel(20.0), glass(3.0)), camera())
    drawer = catalogued(ring(2.5), to_inch(6.0))
    _, found = search(guided(parts=parts), drawer, replace(BOTH, guide_mm=0.05))
    assert [guide_lengths(one) for one in found] == [[6.0]]
    assert found[0].places[0].part.kind == "spacer_ring"


def test_a_ring_that_is_owned_once_serves_one_of_the_two_chains():
    # The ring of 1.5 mm fits both chains and both need it: 1.5 in the main one, 5.5 + 1.5 before the guide.
    parts = (
        tube(),
        corrector(),
        guider(side_port=M42F, sky_side=M42M, camera_side=M42F),
        wheel(20.0, sky_side=M42M, camera_side=M42F),
        camera(sky_side=M42M),
    )
    shared = ring(1.5, sky_side=M42M, camera_side=M42F)
    of = guided(parts=(tube(), corrector(camera_side=M42F), *parts[2:]))
    drawer = catalogued(shared, to_inch(5.5))
    wishes = replace(BOTH, guide_mm=0.0, short_mm=0.0, long_mm=0.0, source="owned")
    alone, _ = search(of, drawer, wishes)
    assert alone.best == ()
    two = {drawer[0].id: Holding(owned=2), drawer[1].id: OWNED}
    both, offers = search(of, drawer, wishes, two)
    assert both.proven
    assert guide_lengths(offers[0]) == [1.5, 5.5]


def test_what_is_too_narrow_for_the_main_chain_may_stand_before_the_guide_camera():
    narrow = to_inch(7.0, clear_aperture_mm=mm(20.0))
    wide = ring(1.5, clear_aperture_mm=mm(46.0))
    thin = ring(1.5, clear_aperture_mm=mm(20.0))
    wishes = replace(BOTH, clear_mm=40.0)
    parts = (
        tube(),
        corrector(),
        guider(clear_aperture_mm=mm(44.0)),
        wheel(20.0),
        camera(),
    )
    assert search(guided(parts=parts), catalogued(narrow, thin), wishes)[0].best == ()
    _, found = search(guided(parts=parts), catalogued(narrow, thin, wide), wishes)
    assert main_lengths(found[0]) == [1.5]
    assert [
        place.part.clear_aperture_mm.nominal for place in found[0].places if place.part.kind == "spacer_ring"
    ] == [46.0]


def test_the_guide_camera_on_the_side_port_itself_needs_no_ring():
    of = guided(camera_part=guide_camera(sky_side=M42M, flange_mm=mm(19.5)))
    _, found = search(of, catalogued(ring(1.5)), replace(BOTH, guide_mm=0.0))
    assert guide_lengths(found[0]) == []


def test_where_no_guide_chain_exists_it_is_said_how_long_it_must_be():
    outcome, _ = search(guided(), catalogued(ring(1.5), to_inch(2.0)), replace(BOTH, guide_mm=0.1))
    assert outcome.best == ()
    assert outcome.nearest is not None
    assert outcome.nearest.asked in (700, 850)
    assert outcome.nearest.guide is not None


# What is refused


@pytest.mark.parametrize(
    ("guider_part", "guide", "words"),
    [
        ({"prism_at_mm": None}, {}, "where the prism of Quill Prism sits"),
        ({"side_path_mm": None}, {}, "the path from prism to side port of Quill Prism"),
        ({"side_port": None}, {}, "the side port of Quill Prism, with its gender"),
        ({}, {"flange_mm": None}, "the flange distance of Quill Guide"),
        ({}, {"sky_side": None}, "the front connection of Quill Guide, with its gender"),
    ],
)
def test_what_must_be_entered_first_is_said(guider_part: dict[str, Any], guide: dict[str, Any], words: str):
    parts = (tube(), corrector(), guider(**guider_part), wheel(20.0), camera())
    with refused(RefusedError, words):
        search(guided(parts=parts, camera_part=guide_camera(**guide)), catalogued(ring(1.5)))


def test_a_guider_that_may_go_contradicts_a_guide_camera_in_focus():
    of = guided()
    key = next(place.key for place in of.train if place.part.kind == "off_axis_guider")
    with refused(ContradictionError, "may go"):
        search(of, catalogued(ring(1.5)), replace(BOTH, leave=(key,)))


def test_a_guider_outside_the_gap_is_refused_in_words():
    of = guided()
    key = next(place.key for place in of.train if place.part.kind == "filter_wheel")
    with refused(RefusedError, "stands outside this gap"):
        search(of, catalogued(ring(1.5)), replace(BOTH, sky=key))


# In the plan


PARTS = {
    part.id: part
    for part in (
        CataloguedPart(number, 1, "Ana", 1, part)
        for number, part in enumerate(
            (
                tube(),
                corrector(),
                guider(),
                wheel(20.0),
                camera(),
                guide_camera(),
                to_inch(5.0),
                ring(1.5),
                ring(3.5, sky_side=INCH_M, camera_side=INCH_F, reversible=True),
            ),
            start=1,
        )
    )
}
TUBE, CORRECTOR, GUIDER, WHEEL, CAMERA, GUIDE, TO_INCH, RING, INCH_RING = PARTS
PLAN = RigPlan(
    places=tuple(PlacePlan(key=n, part_id=n) for n in (TUBE, CORRECTOR, GUIDER, WHEEL, CAMERA)),
    gear=(GearPlan(part_id=GUIDE),),
)


def change(plan: RigPlan, *steps: Any) -> RigPlan:
    for step in steps:
        plan, _ = apply_change(plan, step, PARTS)
    return plan


def branch(plan: RigPlan) -> list[tuple[int, bool]]:
    return [(place.part_id, place.flipped) for place in plan.branch]


def test_one_change_puts_in_both_chains():
    put = ReplaceStack(
        sky=CORRECTOR,
        camera=CAMERA,
        uses=(
            StackUse(part_id=GUIDER, place=GUIDER),
            StackUse(part_id=RING),
            StackUse(part_id=WHEEL, place=WHEEL),
        ),
        branch=(StackUse(part_id=TO_INCH), StackUse(part_id=INCH_RING, flipped=True)),
    )
    plan = change(PLAN, put)
    assert [place.part_id for place in plan.places] == [TUBE, CORRECTOR, GUIDER, RING, WHEEL, CAMERA]
    assert branch(plan) == [(TO_INCH, False), (INCH_RING, True)]
    keys = [place.key for place in (*plan.places, *plan.branch)]
    assert len(set(keys)) == len(keys)
    assert judged(build_rig("R", plan, PARTS)).weight == "sound"
    # Without a branch a stack leaves it as it is.
    assert branch(change(plan, put.model_copy(update={"branch": None, "uses": put.uses[:1]}))) == branch(plan)


def test_rings_are_added_turned_to_fit_taken_out_and_turned_by_hand():
    plan = change(PLAN, AddPart(part_id=TO_INCH, branch=True), AddPart(part_id=INCH_RING, branch=True))
    assert branch(plan) == [(TO_INCH, False), (INCH_RING, True)]
    key = plan.branch[1].key
    assert branch(change(plan, FlipPart(place=key)))[1] == (INCH_RING, False)
    assert branch(change(plan, RemovePart(place=key))) == [(TO_INCH, False)]
    assert [place.part_id for place in plan.places] == [place.part_id for place in PLAN.places]


@pytest.mark.parametrize("part", [WHEEL, CAMERA, GUIDE])
def test_only_rings_adapters_and_shims_go_before_a_guide_camera(part: int):
    with refused(RefusedError, "Only rings, adapters and shims"):
        change(PLAN, AddPart(part_id=part, branch=True))


def test_the_branch_holds_a_handful_of_parts():
    full = change(PLAN, *[AddPart(part_id=TO_INCH, branch=True)] * MOST_BRANCH)
    with refused(RefusedError, "Take one out first"):
        change(full, AddPart(part_id=TO_INCH, branch=True))


def test_what_the_branch_has_no_words_for_is_refused():
    plan = change(PLAN, AddPart(part_id=TO_INCH, branch=True))
    with refused(RefusedError, "Take Brask Ring out"):
        change(plan, MovePart(place=plan.branch[0].key, to=1))


def test_the_branch_counts_among_the_plans_parts_and_is_renumbered():
    plan = change(PLAN, AddPart(part_id=TO_INCH, branch=True))
    assert TO_INCH in plan.part_ids
    moved = renumbered(plan, {number: number + 50 for number in PARTS})
    assert [place.part_id for place in moved.branch] == [TO_INCH + 50]


def test_a_plan_that_was_stored_before_there_were_branches_is_read():
    old = PLAN.model_dump(mode="json")
    del old["branch"]
    assert RigPlan.model_validate(old) == PLAN


# In the logbook


def saved(plan: RigPlan) -> Any:
    return freeze(
        build_rig("R", plan, PARTS),
        plan,
        title="T",
        note="",
        observer="Ana",
        saved_at=ON_THE_DAY,
        findings=(),
    )


def test_an_entry_holds_the_branch_and_its_file_is_read_back():
    plan = change(PLAN, AddPart(part_id=TO_INCH, branch=True))
    document = saved(plan)
    assert TO_INCH in {part.id for part in document.parts}
    again = read_entry(document.model_dump(mode="json"))
    assert again == document
    assert [place.item.id for place in again.build().branch] == [TO_INCH]
    old = saved(PLAN).model_dump(mode="json")
    del old["plan"]["branch"]
    assert read_entry(old).plan == PLAN


def test_a_file_whose_branch_holds_a_camera_is_damaged():
    document = saved(PLAN).model_dump(mode="json")
    document["plan"]["branch"] = [{"key": 99, "part_id": CAMERA}]
    with pytest.raises(RefusedError, match="where only rings go"):
        read_entry(document)


def test_two_entries_tell_what_came_before_the_guide_camera_and_what_went():
    one = change(PLAN, AddPart(part_id=TO_INCH, branch=True))
    two = change(one, AddPart(part_id=INCH_RING, branch=True), RemovePart(place=one.branch[0].key))
    changes = compare_documents(saved(one), saved(two))
    assert changes.branch_in == (PARTS[INCH_RING].name,)
    assert changes.branch_out == (PARTS[TO_INCH].name,)
    assert (changes.parts_in, changes.parts_out) == ((), ())


def test_places_of_the_branch_are_found_by_their_places():
    rig = build_rig("R", change(PLAN, AddPart(part_id=TO_INCH, branch=True)), PARTS)
    assert [type(place) for place in rig.branch] == [Place]
    assert len(rig.train) == len(PLAN.places)
