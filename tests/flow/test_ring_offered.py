"""A ring of one's own shelf that alone mends a spacing that is too short.

Source: sums worked by hand: 35.5 + 17.5 = 53.0 mm where 55 mm is asked for, so that 2.0 mm are lacking.
"""

from __future__ import annotations

import pytest

from server.domain.connections import read_connection
from server.domain.findings import Action
from server.domain.observer import Holding
from server.flow.assemble_train import AddPart, SwapPart
from server.flow.views import BenchView
from server.flow.workbench import Workbench
from server.rim.wording import write_phrase
from tests.domain.rigs import M42F, ring
from tests.flow.test_workbench import Install, ids, install, made, train

__all__ = ["ids", "install"]


def too_short(bench: Workbench, ids: dict[str, int]) -> BenchView:
    short = bench.add_part(ring(35.5, model="Short"), Holding(owned=1)).id
    return made(bench, *train(ids | {"short": short}, "tube", "corrector", "short", "camera"))


def offers(view: BenchView) -> list[Action]:
    found = next(f for f in view.findings if f.code == "spacing.short")
    return [remedy.action for remedy in found.remedies if remedy.action is not None]


def test_a_ring_of_the_shelf_that_makes_up_what_is_lacking_is_named_and_put_in_at_one_press(
    install: Install, ids: dict[str, int]
) -> None:
    with install.bench() as bench:
        view = too_short(bench, ids)
        found = next(f for f in view.findings if f.code == "spacing.short")
        assert write_phrase(found.remedies[0].phrase, "metric") == (
            "Put in Brask Extra (2.00 mm) from your shelf: then the sensor sits in its place."
        )
        (action,) = offers(view)
        assert (action.verb, action.part_id) == ("add", ids["extra"])
        assert action.at is not None
        mended = bench.change_rig(
            view.stored.id, view.stored.version, AddPart(part_id=ids["extra"], at=action.at)
        )
        codes = {finding.code for finding in mended.findings}
        assert {"spacing.sound", "joints.mate"} <= codes


def test_the_ring_that_comes_nearest_is_offered_first(install: Install, ids: dict[str, int]) -> None:
    with install.bench() as bench:
        near = bench.add_part(ring(1.7, model="Near"), Holding(owned=1)).id
        assert [action.part_id for action in offers(too_short(bench, ids))] == [ids["extra"], near]


@pytest.mark.parametrize("holding", [Holding(owned=0, wished=1), Holding(considered=2)])
def test_a_ring_that_is_not_owned_is_not_offered(
    install: Install, ids: dict[str, int], holding: Holding
) -> None:
    with install.bench() as bench:
        bench.set_holding(ids["extra"], holding)
        view = too_short(bench, ids)
        assert offers(view) == []
        found = next(f for f in view.findings if f.code == "spacing.short")
        assert write_phrase(found.remedies[0].phrase, "metric") == (
            "Add 2.00 mm between corrector and camera."
        )


def test_a_ring_that_this_rig_holds_already_is_offered_only_if_another_is_owned(
    install: Install, ids: dict[str, int]
) -> None:
    with install.bench() as bench:
        # 2.0 + 33.5 + 17.5 = 53.0 mm.
        rest = bench.add_part(ring(33.5, model="Rest"), Holding(owned=1)).id
        view = made(bench, *train(ids | {"rest": rest}, "tube", "corrector", "extra", "rest", "camera"))
        assert offers(view) == []
        bench.set_holding(ids["extra"], Holding(owned=2))
        assert [action.part_id for action in offers(bench.bench(view.stored.id))] == [ids["extra"]]


def test_a_ring_of_another_thread_is_not_offered(install: Install, ids: dict[str, int]) -> None:
    with install.bench() as bench:
        bench.set_holding(ids["extra"], Holding(owned=0, considered=1))
        bench.add_part(ring(2.0, model="Other", camera_side=M42F), Holding(owned=1))
        assert offers(too_short(bench, ids)) == []


def test_where_a_joint_does_not_mate_a_part_that_goes_in_for_the_wrong_one_is_put_in_at_one_press(
    install: Install, ids: dict[str, int]
) -> None:
    wrong = {"camera_side": read_connection("M42x1 male")}
    with install.bench() as bench:
        bad = bench.add_part(ring(36.0, model="Wrong").model_copy(update=wrong), Holding(owned=1)).id
        good = bench.add_part(ring(36.2, model="Right"), Holding(owned=1)).id
        view = made(bench, *train(ids | {"bad": bad}, "tube", "corrector", "bad", "camera"))
        found = next(f for f in view.findings if f.weight == "stop" and f.code.startswith("joints."))
        said = [write_phrase(remedy.phrase, "metric") for remedy in found.remedies]
        assert "Brask Right on your shelf joins them in place of Brask Wrong." in said
        action = found.remedies[
            said.index("Brask Right on your shelf joins them in place of Brask Wrong.")
        ].action
        assert action is not None
        assert (action.verb, action.part_id, action.words) == ("swap", good, "Put Brask Right in")
        assert action.place is not None
        mended = bench.change_rig(
            view.stored.id, view.stored.version, SwapPart(place=action.place, part_id=good)
        )
        assert "joints.mate" in {finding.code for finding in mended.findings}
