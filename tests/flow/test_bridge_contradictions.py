"""Demands on the Bridge that contradict each other, and what a gap lacks: said in the reader's units.

Source: none needed; the sentences are the project's own.
"""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from server.domain.connections import read_connection
from server.domain.errors import RefusedError
from server.domain.parts import Part
from server.flow.bridge_gap import find_gap
from server.flow.bridge_wishes import ContradictionError, Wishes
from server.rim.phrasebook.tell import write_words
from tests.domain.rigs import camera, corrector, rig, ring, tube, wheel
from tests.flow.test_bridge_gap import ANY, PLAIN, best, catalogued
from tests.told import refused

METRIC = re.compile(r"\d (?:mm|g|kg)\b|millimet")
FIGURE = re.compile(r"\d (?:in|lb)\b")

CONTRADICTIONS = [
    (
        (tube(), corrector(), wheel(60.0), camera()),
        ANY,
        ("stays", "a distance of 37.50 mm"),
    ),
    (
        (tube(), corrector(), wheel(20.0, clear_aperture_mm=30.0), camera()),
        Wishes(clear_mm=40.0),
        ("40 mm", "stays"),
    ),
    ((tube(), corrector(), wheel(20.0), camera()), replace(ANY, most_kg=0.3), ("300 g", "must stay")),
    ((tube(), corrector(), wheel(20.0), camera()), replace(ANY, most_joints=1), ("1 joints", "must stay")),
    ((tube(), corrector(), camera(flange_mm=70.0)), ANY, ("the distance", "at the end")),
    (
        (tube(), corrector(camera_side=read_connection("2 in barrel female")), camera()),
        replace(ANY, push_fit=False),
        ("no push-fit", "at the end"),
    ),
]


@pytest.mark.parametrize(("parts", "wishes", "pair"), CONTRADICTIONS)
def test_contradictory_demands_say_which_two_contradict(
    parts: tuple[Part, ...], wishes: Wishes, pair: tuple[str, str]
):
    with pytest.raises(ContradictionError) as caught:
        find_gap(rig(*parts), wishes)
    for words, said in zip(pair, caught.value.pair, strict=True):
        assert words in write_words(said)
        assert write_words(said) in write_words(caught.value.message)


@pytest.mark.parametrize(("parts", "wishes", "pair"), CONTRADICTIONS)
def test_an_imperial_reader_meets_no_metric_figure_in_a_contradiction(
    parts: tuple[Part, ...], wishes: Wishes, pair: tuple[str, str]
):
    with pytest.raises(ContradictionError) as caught:
        find_gap(rig(*parts), wishes)
    said = write_words(caught.value.message, "imperial")
    assert not METRIC.search(said)
    assert bool(FIGURE.search(said)) == bool(METRIC.search(write_words(caught.value.message)))


def test_a_window_between_two_steps_of_the_search_is_a_contradiction_in_the_readers_units():
    wishes = replace(ANY, distance_mm=37.505, short_mm=0.002, long_mm=0.002)
    with pytest.raises(ContradictionError) as caught:
        best(rig(*PLAIN), wishes, catalogued(ring(37.5)))
    said = write_words(caught.value.message)
    assert "“a distance of 37.505 mm” and “within 0.002 mm short and 0.002 mm long”" in said
    assert "steps of 0.01 mm" in said
    assert not METRIC.search(write_words(caught.value.message, "imperial"))


def test_an_unwanted_part_that_must_stay_is_a_contradiction():
    of = rig(tube(), corrector(), wheel(20.0), camera())
    stays = of.train.places[2].item
    with refused(ContradictionError, f"not {stays.name}"):
        find_gap(of, replace(ANY, without=(stays.id,)))


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ((tube(), corrector(back_focus_mm=None), camera()), "back focus"),
        ((tube(), corrector(), camera(flange_mm=None)), "flange distance"),
        ((tube(), corrector(camera_side=None), camera()), "connection at the camera side"),
        ((tube(), corrector(), wheel(None), camera()), "optical length"),
        ((corrector(),), "not have two parts"),
    ],
)
def test_what_is_missing_for_a_gap_is_said(parts: tuple[Part, ...], words: str):
    with refused(RefusedError, words):
        find_gap(rig(*parts), ANY)
