"""A candidate of the Scout put on the bench by one press, over a real store.

Source: sums worked by hand: a corrector asks for 55 mm, the camera has 17.5, so 37.5 mm of ring are lacking.
"""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from server.domain.errors import NotFoundError
from server.domain.observer import Holding
from server.domain.parts import CataloguedPart, Part
from server.domain.scout.candidates import Candidate, bare_rig
from server.domain.scout.needs import Needs
from server.flow.protocols import StoredRig
from server.flow.scout import choice_of, scout
from server.flow.take_candidate import LONGEST_NAME, name_of
from server.flow.workbench import Workbench
from tests.domain.rigs import M42F, camera, corrector, item, mount, ring, tube
from tests.domain.scout.made import euros
from tests.flow.test_workbench import Install, codes, install

__all__ = ["install"]

NONE = Holding()
WISHED = Holding(wished=1)
CHAIN = ("tube", "corrector", "camera")
WHOLE = (*CHAIN, "mount")


@pytest.fixture
def ids(install: Install) -> dict[str, int]:
    """Parts of Ana's; a sensor so small that its light passes rings of 46 mm.
    The Bridge buys no ring without a price."""
    some: dict[str, Part] = {
        "tube": tube(),
        "corrector": corrector(),
        "ring": ring(37.5, price=euros(20.0)),
        "extra": ring(2.0, model="Extra", price=euros(20.0)),
        "camera": camera(width_px=4500, height_px=3000),
        "small": camera(model="Small", sky_side=M42F),
        "mount": mount(),
    }
    with install.bench() as bench:
        return {name: bench.add_part(part, Holding(owned=1)).id for name, part in some.items()}


def parts(bench: Workbench, numbers: dict[str, int], *names: str) -> tuple[CataloguedPart, ...]:
    return tuple(bench.part(numbers[name]) for name in names)


def take(bench: Workbench, numbers: dict[str, int], *names: str) -> StoredRig:
    return bench.take_candidate(parts(bench, numbers, *names))


def in_train(bench: Workbench, stored: StoredRig) -> list[int]:
    return [place.item.id for place in bench.bench(stored.id).rig.train]


def wish_away(bench: Workbench, numbers: Iterable[int]) -> None:
    for number in numbers:
        bench.set_holding(number, NONE)


# -- On the bench


def test_a_candidate_stands_on_the_bench_in_order_its_rings_in_and_its_mount_beneath(install, ids):
    with install.bench() as bench:
        stored = take(bench, ids, *WHOLE)
        view = bench.bench(stored.id)
        assert in_train(bench, stored) == [ids[name] for name in ("tube", "corrector", "ring", "camera")]
        assert [(gear.item.id, gear.quantity) for gear in view.rig.gear] == [(ids["mount"], 1)]
        assert codes(view)["spacing"] == "spacing.sound"
        assert codes(view)["joints"] == "joints.mate"
        assert view.stored.name == "Halden Tube with Halden Flat"


def test_what_is_owned_is_not_wished_for(install, ids):
    with install.bench() as bench:
        take(bench, ids, *WHOLE)
        assert {bench.holding(number) for number in ids.values()} == {Holding(owned=1)}


def test_what_is_not_owned_is_wished_for_once_the_rings_with_it(install, ids):
    with install.bench() as bench:
        wish_away(bench, ids.values())
        bench.set_holding(ids["tube"], Holding(considered=2))
        bench.set_holding(ids["mount"], Holding(wished=3))
        taken = take(bench, ids, *WHOLE)
        assert ids["ring"] in in_train(bench, taken)
        assert bench.holding(ids["tube"]) == Holding(considered=2, wished=1)
        assert bench.holding(ids["mount"]) == Holding(wished=3)
        assert [bench.holding(ids[name]) for name in ("corrector", "ring", "camera")] == [WISHED] * 3
        assert [bench.holding(ids[name]) for name in ("extra", "small")] == [NONE] * 2


def test_a_ring_that_is_needed_twice_and_owned_once_is_wished_for(install, ids):
    with install.bench() as bench:
        bench.remove_part(ids["ring"])
        bench.remove_part(ids["extra"])
        half = bench.add_part(ring(18.75, model="Half", price=euros(20.0)), Holding(owned=1)).id
        stored = take(bench, ids, *CHAIN)
        assert in_train(bench, stored).count(half) == 2
        assert bench.holding(half) == Holding(owned=1, wished=1)


def test_where_no_rings_close_the_back_focus_the_parts_are_taken_as_they_are(install, ids):
    with install.bench() as bench:
        bench.remove_part(ids["ring"])
        short = bench.change_part(ids["extra"], 1, ring(40.0, model="Extra", price=euros(20.0))).id
        stored = take(bench, ids, *WHOLE)
        assert in_train(bench, stored) == [ids[name] for name in CHAIN]
        assert short not in in_train(bench, stored)
        assert codes(bench.bench(stored.id))["spacing"] == "spacing.short"


def test_a_tube_without_corrector_goes_with_its_camera_alone(install, ids):
    with install.bench() as bench:
        stored = take(bench, ids, "tube", "camera", "mount")
        assert in_train(bench, stored)[0] == ids["tube"]
        assert in_train(bench, stored)[-1] == ids["camera"]
        assert ids["corrector"] not in in_train(bench, stored)
        assert bench.bench(stored.id).rig.mount is not None


def test_a_drawtube_that_cannot_come_out_far_enough_is_lengthened_or_told_as_the_bench_tells_it(install, ids):
    # In focus 90 behind the tube, the camera 17.5 and the drawtube 40 at most: 32.5 are lacking.
    short = tube(model="Short", back_focus_mm=90.0, focuser_in_mm=10.0, focuser_out_mm=40.0)
    with install.bench() as bench:
        ids["short"] = bench.add_part(short, Holding(owned=1)).id
        closing = bench.closing_of(parts(bench, ids, "short", "camera"))
        assert closing.offer is not None
        assert closing.offer.posed.gap.whose == "focuser"
        assert [place.item.id for place in closing.offer.places] == [ids["ring"]]
        assert codes(bench.bench(take(bench, ids, "short", "camera").id))["reach"] != "reach.outwards"
        # Without rings to be had, side by side says of the parts as they are what the bench says.
        told = {finding.code for finding in bench.look_at(bare_rig(parts(bench, ids, "short", "camera")))}
        assert "reach.outwards" in told


def test_without_a_mount_nothing_stands_beside_the_train(install, ids):
    with install.bench() as bench:
        assert bench.bench(take(bench, ids, *CHAIN).id).rig.gear == ()


def test_what_was_taken_can_be_undone_step_by_step(install, ids):
    with install.bench() as bench:
        stored = take(bench, ids, *WHOLE)
        view = bench.step_rig(stored.id, stored.version, -1)
        assert in_train(bench, view.stored) == [ids[name] for name in CHAIN]
        view = bench.step_rig(view.stored.id, view.stored.version, -1)
        assert view.rig.gear == ()


def test_the_same_taken_twice_are_two_rigs(install, ids):
    with install.bench() as bench:
        first, second = (take(bench, ids, *CHAIN) for _ in range(2))
        assert first.id != second.id
        assert in_train(bench, first) == in_train(bench, second)


def test_the_parts_of_another_are_taken_and_wished_for_by_oneself_alone(install, ids):
    with install.bench("Bo") as bench:
        stored = take(bench, ids, *WHOLE)
        taken = [ids[name] for name in ("tube", "corrector", "ring", "camera", "mount")]
        assert [bench.holding(number) for number in taken] == [WISHED] * 5
        assert stored.observer_id == install.observers["Bo"].id
    with install.bench("Ana") as bench:
        assert [bench.holding(number) for number in taken] == [Holding(owned=1)] * 5
        with pytest.raises(NotFoundError):
            bench.bench(stored.id)


def test_what_the_bridge_says_before_is_what_is_then_put_in(install, ids):
    with install.bench() as bench:
        some = parts(bench, ids, *WHOLE)
        closing = bench.closing_of(some)
        assert closing.offer is not None
        assert [place.item.id for place in closing.offer.places] == [ids["ring"]]
        assert closing.offer.bought == ()
        assert abs(closing.offer.error_mm) < 1e-9


# -- What is chosen from


def test_the_shelf_is_chosen_from_or_the_whole_catalogue(install, ids):
    with install.bench("Bo") as bench:
        shelf = choice_of(bench.store, bench.observer.id, Needs())
        assert (shelf.tubes, shelf.correctors, shelf.cameras, shelf.mounts) == ((), (None,), (), (None,))
        assert scout(shelf, Needs(), (), None).table.count == 0
        every = choice_of(bench.store, bench.observer.id, Needs(considered=True))
        assert [one.id for one in every.tubes] == [ids["tube"]]
        assert {one.id for one in every.cameras} == {ids["camera"], ids["small"]}
        assert every.owned == frozenset()
        bench.set_holding(ids["tube"], Holding(considered=1))
        shelf = choice_of(bench.store, bench.observer.id, Needs())
        assert [one.id for one in shelf.tubes] == [ids["tube"]]


def test_what_is_kept_is_all_that_is_chosen_from(install, ids):
    with install.bench() as bench:
        kept = choice_of(
            bench.store, bench.observer.id, Needs(cameras=(ids["small"],), mounts=(ids["mount"],))
        )
        assert [one.id for one in kept.cameras] == [ids["small"]]
        assert [one and one.id for one in kept.mounts] == [ids["mount"]]
        assert {ids["tube"], ids["small"], ids["mount"]} <= kept.owned


def test_the_answers_candidate_is_the_rig_on_the_bench(install, ids):
    with install.bench() as bench:
        choice = choice_of(bench.store, bench.observer.id, Needs(cameras=(ids["camera"],)))
        answer = scout(choice, Needs(), (), None)
        names = WHOLE
        wanted = Candidate(*(ids[name] for name in names))
        assert answer.table.number_of(wanted) is not None
        assert choice.parts_of(wanted) == parts(bench, ids, *names)
        assert choice.parts_of(Candidate(ids["tube"], 0, ids["camera"], 0)) == parts(
            bench, ids, "tube", "camera"
        )
        assert choice.parts_of(Candidate(ids["tube"], 0, ids["small"], 0)) == ()


def test_a_rig_of_long_names_has_one_that_can_be_kept():
    long = "A very long name " * 7
    name = name_of((item(tube(model=long)), item(corrector(model=long)), item(camera()), item(mount())))
    assert len(name) == LONGEST_NAME
