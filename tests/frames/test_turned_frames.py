"""What must turn with a frame, and what must not change at all."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.frames.measuring import Shapes
from server.frames.surface import Surface, fit_surface
from tests.frames.reckoned import light_of, shapes_of, surface_of, taken
from tests.frames.simulator import Field, Night, Optics, frame

TWO = (-60.0, 60.0)
OPTICS = Optics(tilt=30 - 15j, curvature=25, astigmatism=15, coma=1.5 + 0.8j)
NIGHT, THERE = Night(drift_px=1.5, drift_deg=25), Field(seed=5)


@cache
def pictures() -> list[Any]:
    return taken(OPTICS, NIGHT, THERE, TWO)


@cache
def plain() -> Surface:
    return surface_of(pictures(), TWO, OPTICS)


@cache
def shapes() -> list[Shapes]:
    return shapes_of(pictures())


def assert_alike(one: Surface, tilt: complex, curvature: float, astigmatism: float, share: float = 1.0):
    """The figures are these within a share of one stated error."""
    assert one.tilt_u.value == pytest.approx(tilt.real, abs=share * one.tilt_u.error)
    assert one.tilt_v.value == pytest.approx(tilt.imag, abs=share * one.tilt_v.error)
    assert one.curvature.value == pytest.approx(curvature, abs=share * one.curvature.error)
    assert one.astigmatism.value == pytest.approx(astigmatism, abs=share * one.astigmatism.error)


def test_a_frame_that_is_turned_by_half_turns_tilt_and_coma_and_no_line():
    was, one = plain(), surface_of([picture[::-1, ::-1] for picture in pictures()], TWO, OPTICS)
    assert_alike(one, -was.tilt, was.curvature.value, was.astigmatism.value)
    assert one.drift == pytest.approx(was.drift, abs=2.0 * was.drift_error)
    assert one.coma == pytest.approx(-was.coma, abs=2.0 * was.coma_error)


@pytest.mark.parametrize("over", ["left and right", "up and down"])
def test_a_mirrored_frame_mirrors_the_answer(over: str):
    def mirror(arrow: complex) -> complex:
        return -arrow.conjugate() if over == "left and right" else arrow.conjugate()

    step = (slice(None), slice(None, None, -1)) if over == "left and right" else (slice(None, None, -1),)
    was, one = plain(), surface_of([picture[step] for picture in pictures()], TWO, OPTICS)
    assert_alike(one, mirror(was.tilt), was.curvature.value, was.astigmatism.value)
    # A line has no head: either mirror turns its angle over.
    assert one.drift == pytest.approx(was.drift.conjugate(), abs=2.0 * was.drift_error)
    assert one.coma == pytest.approx(mirror(was.coma), abs=2.0 * was.coma_error)


def test_a_frame_on_its_side_has_its_tilt_on_its_side():
    was, one = plain(), surface_of([picture.T for picture in pictures()], TWO, OPTICS)
    assert_alike(
        one, complex(was.tilt.imag, was.tilt.real), was.curvature.value, was.astigmatism.value, share=1.5
    )


def test_a_level_under_all_pixels_changes_nothing():
    was, one = plain(), surface_of([picture.astype(np.int32) + 5000 for picture in pictures()], TWO, OPTICS)
    assert_alike(one, was.tilt, was.curvature.value, was.astigmatism.value, share=0.1)


def test_a_brighter_sky_changes_nothing_but_errors():
    was = plain()
    one = surface_of(taken(OPTICS, replace(NIGHT, sky_e=4000.0), THERE, TWO), TWO, OPTICS)
    assert_alike(one, was.tilt, was.curvature.value, was.astigmatism.value, share=1.5)
    assert_alike(one, OPTICS.tilt, OPTICS.curvature, OPTICS.astigmatism, share=2.0)
    assert one.stars < was.stars
    assert one.coma_error > was.coma_error


@given(seed=st.integers(0, 2**32 - 1))
@settings(max_examples=10)
def test_the_order_of_the_stars_changes_nothing(seed: int):
    order = np.random.default_rng(seed).permutation(len(shapes()[0].x))
    names = ("x", "y", "half_flux", "moment", "size", "third", "flux")
    mixed = [replace(one, **{name: getattr(one, name)[order] for name in names}) for one in shapes()]
    assert_same(fit_surface(mixed, list(TWO), light_of(OPTICS), OPTICS.columns, OPTICS.rows))


def test_the_order_of_the_frames_changes_nothing_but_whose_centres_are_the_places():
    was = plain()
    back = fit_surface(shapes()[::-1], list(TWO[::-1]), light_of(OPTICS), OPTICS.columns, OPTICS.rows)
    assert_alike(back, was.tilt, was.curvature.value, was.astigmatism.value, share=0.05)


def assert_same(one: Surface) -> None:
    was = plain()
    # Float rounding of a least-squares sum; um.
    hair = 1e-3
    assert one.stars == was.stars
    assert (one.tilt, one.curvature.value) == pytest.approx((was.tilt, was.curvature.value), abs=hair)
    assert one.astigmatism.value == pytest.approx(was.astigmatism.value, abs=hair)
    assert one.drift == pytest.approx(was.drift, abs=hair)


@given(across=st.floats(-0.5, 0.5), up=st.floats(-0.5, 0.5))
@settings(max_examples=4)
def test_where_in_its_pixels_the_field_lies_changes_nothing(across: float, up: float):
    shift = complex(across, up)
    moved = [frame(OPTICS, NIGHT, THERE, at, number, shift) for number, at in enumerate(TWO)]
    was = plain()
    assert_alike(surface_of(moved, TWO, OPTICS), was.tilt, was.curvature.value, was.astigmatism.value)


def test_frames_that_are_shifted_against_each_other_tell_the_same():
    moved = [frame(OPTICS, NIGHT, THERE, at, n, n * (45.3 - 30.6j)) for n, at in enumerate(TWO)]
    was, one = plain(), surface_of(moved, TWO, OPTICS)
    assert_alike(one, was.tilt, was.curvature.value, was.astigmatism.value, share=1.5)


def test_the_focuser_counted_the_other_way_turns_the_surface_over():
    was, one = plain(), surface_of(pictures(), TWO[::-1], OPTICS)
    assert_alike(one, -was.tilt, -was.curvature.value, -was.astigmatism.value, share=0.01)
