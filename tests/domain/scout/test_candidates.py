"""Combinations, their names in addresses, and the rigs that they make.

Source: sums worked by hand: a corrector asks for 55 mm, the camera has 17.5, so 37.5 mm of ring are lacking.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.domain.measure import nominal
from server.domain.parts import STANDING_IN
from server.domain.rig import Rig
from server.domain.scout.candidates import NO_CORRECTOR, Candidate, Choice, bare_rig, closed, read_key, suits
from server.domain.train import Train
from server.domain.workings.case import Case
from server.domain.workings.worked import work_spacing
from server.rim.wording import write_phrase
from tests.domain.rigs import camera, corrector, mount, tube
from tests.domain.scout.made import choice, drawn, euros
from tests.told import run_checks

NUMBERS = st.integers(0, 10**15 - 1)


def one_of_each(**of_corrector) -> tuple[Choice, Candidate]:
    these = choice(
        [tube(price=euros(1000))],
        [camera(price=euros(500.25), model="Ours")],
        [corrector(**of_corrector)],
        [mount()],
        owned=("Ours",),
    )
    lens, on = these.correctors[1], these.mounts[0]
    assert lens is not None
    assert on is not None
    return these, Candidate(these.tubes[0].id, lens.id, these.cameras[0].id, on.id)


# -- Names in addresses


@given(NUMBERS, NUMBERS, NUMBERS, NUMBERS, st.lists(NUMBERS, max_size=2).map(tuple))
def test_a_combination_is_read_back_from_its_key(tube_no, corrector_no, camera_no, mount_no, beside):
    one = Candidate(tube_no, corrector_no, camera_no, mount_no, beside)
    assert read_key(one.key) == one


@pytest.mark.parametrize(
    "text",
    ["", "1", "1-2-3", "1-2-3-4-5-6-7", "1--3-4", "a-2-3-4", "1-2-3-²", "1.0-2-3-4", "1-2-3-" + "9" * 16],
)
def test_what_names_no_combination_is_none(text):
    assert read_key(text) is None


# -- Rigs


def test_the_back_focus_of_a_combination_is_closed_by_a_ring_without_mass():
    these, one = one_of_each()
    rig = these.of(one)
    assert rig is not None
    assert [place.item.id for place in rig.train] == [one.tube, one.corrector, STANDING_IN, one.camera]
    ring = rig.train.places[2].part
    assert nominal(ring.mass_kg) == 0.0
    assert rig.train.places[2].length is not None
    assert rig.train.places[2].length.nominal == pytest.approx(37.5)
    spacing = Case(rig).spacing
    assert spacing is not None
    assert spacing.error_mm == pytest.approx(0.0, abs=1e-9)
    assert [gear.item.id for gear in rig.gear] == [one.mount]


def test_the_focus_is_told_with_the_spacer_that_is_not_there_yet_and_without_a_word_of_it_once_it_is():
    open_tube = tube(back_focus_mm=100.0, focuser_in_mm=20.0, focuser_out_mm=30.0)
    these = choice([open_tube], [camera()], [corrector()])
    bare = bare_rig([one for one in (*these.tubes, *these.correctors, *these.cameras) if one is not None])
    rig, _ = closed(bare)

    def said(of: Rig) -> str:
        (found,) = [it for it in run_checks(of) if it.code.startswith("reach.")]
        return write_phrase(found.phrase, "metric")

    counted = "Counted with 37.5 mm of spacer before the camera that is not there yet"
    assert counted in said(rig)
    there = replace(rig.train.places[2], item=replace(rig.train.places[2].item, id=77))
    built = replace(rig, train=Train((*rig.train.places[:2], there, rig.train.places[3])))
    assert counted not in said(built)


def test_the_spacing_of_the_closed_rig_is_that_which_the_bench_works_out_of_it():
    these = drawn(11, 6, 4, 4, 1, lacking=0.2)
    bare = [
        bare_rig([tube, *([] if lens is None else [lens]), camera])
        for tube in these.tubes
        for lens in these.correctors
        for camera in these.cameras
    ]
    closings = [closed(one)[0] for one in bare]
    assert sum(len(rig.train.places) == 4 for rig in closings) > 5
    for rig in closings:
        assert Case(rig).spacing == work_spacing(rig.train)


@pytest.mark.parametrize(
    "of_corrector", [{"back_focus_mm": 17.5}, {"back_focus_mm": 10.0}, {"back_focus_mm": None}]
)
def test_where_nothing_is_lacking_or_nobody_knows_there_is_no_ring(of_corrector):
    these, one = one_of_each(**of_corrector)
    rig = these.of(one)
    assert rig is not None
    assert [place.item.id for place in rig.train] == [one.tube, one.corrector, one.camera]


def test_without_corrector_and_mount_tube_and_camera_are_left():
    these, one = one_of_each()
    rig = these.of(Candidate(one.tube, NO_CORRECTOR, one.camera, 0))
    assert rig is not None
    assert [place.item.id for place in rig.train] == [one.tube, one.camera]
    assert rig.gear == ()


def test_a_combination_of_parts_that_are_not_chosen_from_makes_no_rig():
    these, one = one_of_each()
    for gone in (Candidate(99_999_999, 0, one.camera, 0), Candidate(one.tube, 0, one.camera, 99_999_999)):
        assert these.of(gone) is None


def test_all_combinations_are_counted_the_one_without_corrector_with_them():
    these, _ = one_of_each()
    assert these.combinations == 2
    assert len(these.by_number) == 4
    assert choice([], [camera()]).combinations == 0


def test_what_is_owned_costs_nothing_more_and_what_nobody_priced_is_unknown():
    these, _ = one_of_each()
    tube_price, camera_price = (these.price_of(item) for item in (these.tubes[0], these.cameras[0]))
    assert tube_price == euros(1000)
    assert camera_price is not None
    assert camera_price.hundredths == 0
    assert these.price_of(these.mounts[0]) is None
    none = these.price_of(None)
    assert none is not None
    assert none.hundredths == 0


# -- What suits


@pytest.mark.parametrize(
    ("of_tube", "of_corrector", "suited"),
    [
        ({}, {}, True),
        ({"design": "newtonian"}, {"for_designs": ("apochromat", "achromat")}, False),
        ({"design": "achromat"}, {"for_designs": ("apochromat", "achromat")}, True),
        ({"design": None}, {"for_designs": ("apochromat",)}, True),
        ({"design": "apochromat"}, {"corrector_type": "coma_corrector"}, False),
        ({"design": "newtonian"}, {"corrector_type": "coma_corrector"}, True),
        ({"design": None}, {"corrector_type": "coma_corrector"}, True),
        ({"focal_length_mm": 799.0}, {"fastest_ratio": 4.0}, False),
        ({"focal_length_mm": 800.0}, {"fastest_ratio": 4.0}, True),
        ({"focal_length_mm": 1201.0}, {"slowest_ratio": 6.0}, False),
        ({"focal_length_mm": 1200.0}, {"slowest_ratio": 6.0}, True),
        ({"focal_length_mm": None}, {"fastest_ratio": 4.0}, True),
    ],
)
def test_a_corrector_suits_a_tube_unless_somebody_has_said_otherwise(of_tube, of_corrector, suited):
    assert suits(tube(**of_tube), corrector(**of_corrector)) == suited


def test_no_corrector_suits_every_tube():
    assert suits(tube(design=None, focal_length_mm=None), None)
