"""Where everything lies in a train, and who meets whom. Source: sums of lengths, worked by hand."""

from __future__ import annotations

import pytest

from server.domain.connections import read_connection
from server.domain.train import Place, Train
from tests.domain.rigs import (
    camera,
    corrector,
    focuser,
    glass,
    holding,
    item,
    mm,
    places,
    ring,
    shim,
    tube,
    wheel,
)

ROUNDING_MM = 1e-9


def train(*parts):
    return Train(places(parts))


def test_shoulders_are_counted_from_the_sensor_towards_the_sky():
    found = train(tube(), corrector(), ring(10.0), ring(27.5), camera()).shoulders
    # 17.5 flange; 17.5 + 27.5 = 45; + 10 = 55; + the corrector's 30 = 85.
    assert [s.sky_mm for s in found] == [None, 85.0, 55.0, 45.0, 17.5]
    assert [s.camera_mm for s in found] == [85.0, 55.0, 45.0, 17.5, 0.0]


def test_a_shim_has_shoulders_like_any_part():
    found = train(ring(10.0), shim(0.5), camera()).shoulders
    assert [(s.sky_mm, s.camera_mm) for s in found] == [(28.0, 18.0), (18.0, 17.5), (17.5, 0.0)]


def test_distances_end_at_the_first_unknown_length():
    found = train(tube(), ring(5.0), ring(None), ring(10.0), camera()).shoulders
    assert [s.sky_mm for s in found] == [None, None, None, 27.5, 17.5]
    assert [s.camera_mm for s in found] == [None, None, 27.5, 17.5, 0.0]


def test_nothing_lies_anywhere_without_a_camera_at_the_end():
    for parts in ((tube(), ring(5.0)), (tube(), camera(), ring(5.0)), ()):
        assert all(s.sky_mm is None and s.camera_mm is None for s in train(*parts).shoulders)


def test_a_joint_is_between_neighbours_with_its_shims_inside():
    found = train(tube(), ring(5.0), shim(0.2), shim(0.3), camera()).joints
    assert [(j.upper.key, j.lower.key, [s.key for s in j.shims]) for j in found] == [
        (1, 2, []),
        (2, 5, [3, 4]),
    ]
    assert [j.mating.verdict for j in found] == ["mates", "mates"]


def test_a_part_added_at_a_joint_goes_before_its_shims():
    found = train(tube(), shim(0.2), ring(5.0), camera()).joints
    assert [j.index for j in found] == [1, 3]


def test_a_part_that_is_turned_round_offers_its_ends_the_other_way():
    part = item(ring(5.0, sky_side=read_connection("M42x1 male"), reversible=True))
    straight, turned = Place(1, part), Place(1, part, flipped=True)
    assert straight.sky_connection == turned.camera_connection == part.part.sky_side
    assert straight.camera_connection == turned.sky_connection == part.part.camera_side
    assert straight.can_flip
    assert not Place(1, item(ring(5.0))).can_flip


def test_an_adjustable_part_is_as_long_as_it_is_set_with_its_own_tolerance():
    part = item(ring(mm(20.0, 0.1), longest_mm=30.0))
    assert Place(1, part).length == mm(20.0, 0.1)
    assert Place(1, part, set_length_mm=25.0).length == mm(25.0, 0.1)
    assert Place(1, part).adjustable_to_mm == 30.0
    assert Place(1, item(ring(20.0))).adjustable_to_mm is None


def test_a_camera_is_as_long_as_its_flange_distance_and_a_tube_has_no_length_here():
    assert Place(1, item(camera())).length == mm(17.5)
    assert Place(1, item(tube())).length is None


def test_tube_corrector_camera_and_focusers_are_found():
    found = train(tube(), focuser(), corrector(), corrector(model="Last"), ring(5.0), camera())
    assert found.tube is not None
    assert found.camera is not None
    assert found.corrector is not None
    assert (found.tube.key, found.corrector.key, found.camera.key) == (1, 4, 6)
    assert [p.key for p in found.focusers] == [2]
    assert [p.key for p in found.after(found.corrector)] == [5, 6]


def test_the_filter_in_the_beam_is_the_part_itself_or_the_first_in_its_wheel():
    first, second = glass(2.0, model="First"), glass(2.0, model="Second")
    held = holding(wheel(20.0), first, second)
    assert held.filter_in_beam is held.inside[0]
    assert holding(wheel(20.0)).filter_in_beam is None
    alone = Place(1, item(first))
    assert alone.filter_in_beam is alone.item


def test_two_places_of_one_part_are_two_places():
    part = item(ring(10.0))
    doubled = Train((Place(1, part), Place(2, part), Place(3, item(camera()))))
    assert doubled.index_of(doubled.places[1]) == 1
    assert doubled.shoulders[0].sky_mm == pytest.approx(37.5, abs=ROUNDING_MM)
