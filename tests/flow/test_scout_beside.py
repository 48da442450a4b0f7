"""What the Scout takes off the shelf for guiding and filters, over a real store, and the need for room.

Source: worked by hand: a corrector asks for 55 mm and the camera has 17.5, so 37.5 mm are left for the rest.
"""

from __future__ import annotations

from server.domain.observer import Holding
from server.domain.scout.needs import Needs
from server.flow.scout import Answer, choice_of, gains_of, lines_of, scout, why_not
from server.flow.take_candidate import parts_named
from tests.domain.rigs import camera, corrector, guider, mount, ring, tube, wheel
from tests.domain.scout.made import FULL_SENSOR, GARDEN, SMALL, choice, euros
from tests.flow.test_workbench import Install, install

__all__ = ["install"]

BOTH = Needs(guiding="off_axis_guider", filters=True)
OWNED, WEIGHED = Holding(owned=1), Holding(considered=1)


def asked(needs: Needs, *back_focus_mm: float) -> Answer:
    """One tube behind correctors of these back focuses."""
    lenses = [corrector(model=f"To {one:g}", back_focus_mm=one) for one in back_focus_mm]
    some = choice([tube()], [camera(**FULL_SENSOR)], lenses, [mount()])
    return scout(some, needs, (SMALL,), GARDEN)


def test_of_several_the_thinnest_that_is_owned_is_taken(install: Install):
    with install.bench() as bench:
        for part, held in (
            (wheel(30.0, model="Thick"), OWNED),
            (wheel(22.0, model="Mine"), OWNED),
            (wheel(12.0, model="Another's"), WEIGHED),
        ):
            bench.add_part(part, held)
        found = choice_of(bench.store, bench.observer.id, BOTH)
    assert [item.part.model for item in found.beside] == ["Mine"]
    assert found.lacking == ("off_axis_guider",)


def test_nothing_is_taken_that_is_not_asked_for(install: Install):
    with install.bench() as bench:
        bench.add_part(guider(), OWNED)
        found = choice_of(bench.store, bench.observer.id, Needs())
    assert (found.beside, found.lacking) == ((), ())


def test_a_rig_with_too_little_room_fails_by_the_millimetres_that_it_lacks():
    needs = Needs(filters=True, payload_share=None)
    some = asked(needs, 30.0, 55.0).table.choice
    found = scout(type(some)(**{**vars(some), "lacking": ("filter_wheel",)}), needs, (SMALL,), GARDEN)
    numbers = {found.table.candidate(n).corrector: n for n in range(found.table.count)}
    _, near, far = some.correctors
    assert near is not None
    assert far is not None
    ((line, room),) = why_not(found, numbers[near.id]).failed
    # 12.5 mm are there, and 20 are usual of a wheel.
    assert (line.name, room) == ("filters", 12.5 - 20.0)
    assert numbers[far.id] in found.passing
    assert [one.name for one, _ in gains_of(found)] == ["filters"]


def test_room_that_nobody_can_tell_passes_and_is_counted():
    found = asked(Needs(filters=True))
    # Without a corrector, and the tube's focal plane is not known.
    assert (found.passing.tolist(), found.judged.unknown.tolist()) == ([0], [True])


def test_a_guide_scope_asks_for_no_room_and_a_wish_for_it_is_no_must():
    assert "room" not in {line.measure for line in lines_of(Needs(guiding="guide_scope"))}
    (room,) = [line for line in lines_of(BOTH) if line.measure == "room"]
    assert room.must
    liked = Needs(guiding="off_axis_guider", filters=True, like=("guiding", "filters"))
    (room,) = [line for line in lines_of(liked) if line.measure == "room"]
    assert not room.must


def test_one_press_puts_guider_and_wheel_between_corrector_and_camera(install: Install):
    with install.bench() as bench:
        # A sensor so small that its light passes rings of 46 mm.
        eye = camera(width_px=4500, height_px=3000)
        between = guider(), wheel(16.5), ring(5.0, price=euros(9.0))
        for part in (tube(), corrector(), *between, eye, mount()):
            bench.add_part(part, OWNED)
        table = scout(choice_of(bench.store, bench.observer.id, BOTH), BOTH, (SMALL,), GARDEN).table
        (one,) = [cand for n in range(table.count) if (cand := table.candidate(n)).corrector]
        stored = bench.take_candidate(parts_named(bench.store, bench.observer.id, one.key))
        train = [place.item.part.kind for place in bench.bench(stored.id).rig.train]
    assert train[:2] == ["optical_tube", "corrector"]
    assert sorted(train[2:-1]) == ["filter_wheel", "off_axis_guider", "spacer_ring"]
