"""What a rig's own frames said, over a real store: whose it is, its screws, and what a turn of one tells.

Source: none needed but for the turn, which is worked by hand where it stands.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from typing import Any

import pytest

from server.domain.errors import FieldErrors, NotFoundError, RefusedError
from server.domain.frames.measured import Measured, Screws, Value
from server.flow import keep_frames
from server.flow.keep_frames import (
    frame_plan,
    keep_measured,
    measured_of_rig,
    own_measured,
    remove_measured,
    set_screws,
    tell_turn,
    view_frames,
)
from server.flow.workbench import Workbench
from server.rim.phrasebook.tell import tell
from server.store import Stores, open_stores
from tests import own_frames
from tests.places import Place

SCREWS = Screws(radius_mm=40.0, angles_deg=(30.0, 150.0, 270.0), pitch_mm=0.5)


class Install:
    """A store with two observers, a rig of Ana's, and a bench for either."""

    def __init__(self, stores: Stores) -> None:
        self.stores = stores
        with stores.writing() as store:
            self.observers = {name: store.add_observer(name, "metric") for name in ("Ana", "Bo")}
        with self.bench() as bench:
            self.rig = own_frames.take_rig(bench).id

    @contextmanager
    def bench(self, name: str = "Ana") -> Iterator[Workbench]:
        with self.stores.writing() as store:
            yield Workbench(store, self.observers[name], tell)


@pytest.fixture
def install(place: Place) -> Iterator[Install]:
    stores = open_stores(place)
    yield Install(stores)
    stores.close()


@pytest.fixture(scope="module")
def one(tmp_path_factory: pytest.TempPathFactory) -> Measured:
    """A set of frames without tilt."""
    return own_frames.measured(tmp_path_factory.mktemp("frames"), own_frames.Truth(0j))


def tilted(one: Measured, tilt: complex) -> Measured:
    """The same with another tilt: `tilt` is its rise per half diagonal, um."""
    assert one.surface is not None
    u, v = (Value(value=part, error=0.5) for part in (tilt.real, tilt.imag))
    return one.model_copy(update={"surface": one.surface.model_copy(update={"tilt_u": u, "tilt_v": v})})


def keep(bench: Workbench, rig: int, measured: Measured, name: str = "A set") -> int:
    return keep_measured(bench.store, bench.observer, rig, name, measured, None).id


@pytest.mark.parametrize(
    "act",
    [
        lambda bench, number: own_measured(bench.store, bench.observer, number),
        lambda bench, number: remove_measured(bench.store, bench.observer, number),
        lambda bench, number: set_screws(bench.store, bench.observer, number, SCREWS),
        lambda bench, number: tell_turn(bench.store, bench.observer, number, number, 1, 9.0),
    ],
)
def test_nobody_meets_a_measurement_of_another(
    install: Install, one: Measured, act: Callable[[Workbench, int], Any]
):
    with install.bench() as bench:
        number = keep(bench, install.rig, one)
    with install.bench("Bo") as bench, pytest.raises(NotFoundError):
        act(bench, number)
    with install.bench("Bo") as bench, pytest.raises(NotFoundError):
        measured_of_rig(bench.store, bench.observer, install.rig)
    with install.bench() as bench:
        assert [line.id for line in measured_of_rig(bench.store, bench.observer, install.rig)] == [number]


def test_nothing_is_kept_with_another_ones_rig_or_another_rigs_entry(install: Install, one: Measured):
    with install.bench("Bo") as bench, pytest.raises(NotFoundError):
        keep(bench, install.rig, one)
    with install.bench() as bench:
        other = own_frames.take_rig(bench, "Other")
        entry = bench.save_entry(other.id, other.version, "Saved", "")
        with pytest.raises(NotFoundError, match="no such entry of this rig"):
            keep_measured(bench.store, bench.observer, install.rig, "A set", one, entry.id)
        kept = keep_measured(bench.store, bench.observer, other.id, "A set", one, entry.id)
        assert [line.id for line in bench.store.measurements_of_entry(entry.id)] == [kept.id]


def test_so_many_are_kept_of_a_rig(install: Install, one: Measured, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(keep_frames, "MOST_KEPT", 2)
    with install.bench() as bench:
        for _ in range(2):
            keep(bench, install.rig, one)
        with pytest.raises(RefusedError, match="remove some"):
            keep(bench, install.rig, one)


def test_screws_stay_from_the_set_before_and_what_a_turn_told_with_them(install: Install, one: Measured):
    with install.bench() as bench:
        first = keep(bench, install.rig, one)
        set_screws(bench.store, bench.observer, first, SCREWS)
        second = keep(bench, install.rig, tilted(one, -24.0 * cmath.exp(1j * math.pi / 6.0)))
        assert own_measured(bench.store, bench.observer, second).measured.screws == SCREWS
        tell_turn(bench.store, bench.observer, second, first, 1, 1053.0)
        third = own_measured(bench.store, bench.observer, keep(bench, install.rig, one))
        assert (third.measured.screws, third.measured.lies) == (SCREWS, "as it is")
        same = set_screws(bench.store, bench.observer, third.id, SCREWS)
        assert same.measured.lies == "as it is"
        moved = SCREWS.model_copy(update={"radius_mm": 42.0})
        assert set_screws(bench.store, bench.observer, third.id, moved).measured.lies is None
        other = own_frames.take_rig(bench, "Other")
        assert own_measured(bench.store, bench.observer, keep(bench, other.id, one)).measured.screws is None


@pytest.mark.parametrize(
    ("seen", "lies"),
    [
        (complex(-1.0, -1.0), "as it is"),
        (complex(1.0, -1.0), "left and right"),
        (complex(-1.0, 1.0), "up and down"),
        (complex(1.0, 1.0), "half turn"),
    ],
)
def test_a_turn_of_one_screw_tells_how_the_picture_lies(
    install: Install, one: Measured, seen: complex, lies: str
):
    # Three screws 40 mm from the axis: each stands 60 mm from the line through the other two. Moved out by
    # 1053 um at 30 degrees, the sensor rises there by 1053 / 60 um a mm, or 24 um over the half diagonal of
    # 0.5 x hypot(600, 400) x 3.8 um = 1.37 mm. Best focus, as the sensor sees it, falls by as much towards
    # there: (-20.8, -12) um, and any mirror turns the sign of one part or of both.
    tilt = complex(seen.real * 20.8, seen.imag * 12.0)
    with install.bench() as bench:
        before = keep(bench, install.rig, tilted(one, 5.0 + 8.0j))
        set_screws(bench.store, bench.observer, before, SCREWS)
        after = keep(bench, install.rig, tilted(one, 5.0 + 8.0j + tilt))
        told = tell_turn(bench.store, bench.observer, after, before, 1, 1053.0)
        assert told.measured.lies == lies
        assert own_measured(bench.store, bench.observer, after).measured.lies == lies


def test_rows_that_run_down_are_turned_over_before_a_turn_tells(install: Install, one: Measured):
    upright = one.model_copy(update={"rows_up": False})
    with install.bench() as bench:
        before = keep(bench, install.rig, tilted(upright, 0j))
        set_screws(bench.store, bench.observer, before, SCREWS)
        after = keep(bench, install.rig, tilted(upright, -20.8 + 12.0j))
        told = tell_turn(bench.store, bench.observer, after, before, 1, 1053.0)
        assert told.measured.lies == "as it is"


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"screws": None}, "radius_mm"),
        ({"number": 4}, "number"),
        ({"same": True}, "before"),
        ({"other_rig": True}, "before"),
        ({"surface": None}, "before"),
        ({"tilt": 0.5 + 0.5j}, "out_um"),
        ({"four": True}, "radius_mm"),
    ],
)
def test_a_turn_that_tells_nothing_is_refused_at_its_field(
    install: Install, one: Measured, change: dict[str, Any], field: str
):
    four = SCREWS.model_copy(update={"angles_deg": (0.0, 90.0, 180.0, 270.0)})
    screws = change.get("screws", four if "four" in change else SCREWS)
    last = tilted(one, change.get("tilt", -20.8 - 12.0j))
    if "surface" in change:
        last = last.model_copy(update={"surface": None})
    with install.bench() as bench:
        rig = own_frames.take_rig(bench, "Other").id if "other_rig" in change else install.rig
        before = keep(bench, rig, tilted(one, 0j))
        after = keep(bench, install.rig, last)
        set_screws(bench.store, bench.observer, after, screws)
        earlier = after if "same" in change else before
        with pytest.raises(FieldErrors) as refused:
            tell_turn(bench.store, bench.observer, after, earlier, change.get("number", 1), 1053.0)
    assert list(refused.value.errors) == [field]


def test_only_sets_of_the_same_optics_at_another_spacing_tell_of_it(install: Install, one: Measured):
    def at(spacing_mm: float, **changed: Any) -> Measured:
        return one.model_copy(update={"spacing_mm": spacing_mm, **changed})

    others = (
        at(55.0),  # the same spacing
        at(56.0),  # measured anew by the next one
        at(56.0),
        at(57.0, made_at=one.made_at - timedelta(days=200)),  # who knows what was changed since
        at(56.0, width_px=500),  # another size
        at(56.0, light=own_frames.LIGHT.model_copy(update={"focal_ratio": 4.8})),  # another beam
        at(56.0, surface=None),
    )
    with install.bench() as bench:
        numbers = [keep(bench, install.rig, other) for other in others]
        kept = measured_of_rig(bench.store, bench.observer, install.rig)
        rig = bench.rigs_in_hand((install.rig,))[0][1]
        view = view_frames(rig, at(55.0), kept)
    assert [other.id for other in view.others] == [numbers[2]]


def test_the_plan_of_a_rig_without_figures_says_what_is_missing(install: Install):
    with install.bench() as bench:
        plan = frame_plan(bench.rigs_in_hand((install.rig,))[0][1])
        bare = frame_plan(bench.rigs_in_hand((bench.new_rig("Bare").id,))[0][1])
    # Four pixels of 3.8 um at f/6: the note of the method.
    assert plan.away_um == pytest.approx(91.2)
    assert plan.sensor_px == (own_frames.WIDTH, own_frames.HEIGHT)
    assert (bare.away_um, bool(bare.missing)) == (None, True)
