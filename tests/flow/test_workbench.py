"""The workbench over a real store on a file of its own: who may do what, and what each verb leaves behind.

Source: none needed: the rules are the bench's own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from server.domain.errors import (
    FieldErrors,
    NotFoundError,
    NotYoursError,
    PartInUseError,
    RefusedError,
    StaleVersionError,
)
from server.domain.load_plan import LoadPlan
from server.domain.observer import Holding
from server.domain.parts import Part
from server.domain.rig import Rig, RigPlan, Rules
from server.domain.sky.site import Site
from server.flow.assemble_train import AddPart, Change, MovePart, RemovePart, SetGear, SetLoad, SetRules
from server.flow.bridge_wishes import Wishes
from server.flow.views import BenchView
from server.flow.workbench import Workbench
from server.rim.phrasebook.tell import tell, write_words
from server.store import Stores, open_stores
from tests.domain.rigs import M42F, adapter, camera, corrector, mount, ring, tube
from tests.told import refused

DAY = datetime(2026, 6, 1, 22, 0, tzinfo=UTC)


class Install:
    """A store with two observers, and a bench for either."""

    def __init__(self, stores: Stores) -> None:
        self.stores = stores
        with stores.writing() as store:
            self.observers = {name: store.add_observer(name, "metric") for name in ("Ana", "Bo")}

    @contextmanager
    def bench(self, name: str = "Ana") -> Iterator[Workbench]:
        with self.stores.writing() as store:
            yield Workbench(store, self.observers[name], tell, now=lambda: DAY)


@pytest.fixture
def install(place: Path | str) -> Iterator[Install]:
    stores = open_stores(place, lambda: DAY)
    yield Install(stores)
    stores.close()


@pytest.fixture
def ids(install: Install) -> dict[str, int]:
    parts: dict[str, Part] = {
        "tube": tube(),
        "corrector": corrector(),
        "ring": ring(37.5),
        "extra": ring(2.0, model="Extra"),
        "camera": camera(),
        "small": camera(model="Small", sky_side=M42F),
        "joiner": adapter(5.0, model="Joiner"),
        "mount": mount(),
    }
    with install.bench() as bench:
        return {name: bench.add_part(part, Holding(owned=1)).id for name, part in parts.items()}


def made(bench: Workbench, *changes: Change, name: str = "Garden") -> BenchView:
    view = bench.bench(bench.new_rig(name).id)
    for change in changes:
        view = bench.change_rig(view.stored.id, view.stored.version, change)
    return view


def train(ids: dict[str, int], *names: str) -> list[Change]:
    return [AddPart(part_id=ids[name], at=40) for name in names]


def codes(view: BenchView) -> dict[str, str]:
    return {f.code.partition(".")[0]: f.code for f in view.findings}


# -- The bench


def test_each_change_is_stored_checked_and_named_for_undo(install, ids):
    with install.bench() as bench:
        view = made(bench, *train(ids, "tube", "camera", "corrector", "ring", "extra"))
        assert codes(view)["spacing"] == "spacing.long"
        assert write_words(view.stored.undo_words) == "added Brask Extra"
        mended = bench.change_rig(view.stored.id, view.stored.version, RemovePart(place=5))
        assert codes(mended)["spacing"] == "spacing.sound"
    with install.bench() as again:
        assert again.bench(mended.stored.id) == mended


def test_undo_and_redo_step_through_what_was_done(install, ids):
    with install.bench() as bench:
        view = made(bench, *train(ids, "tube", "camera"))
        back = bench.step_rig(view.stored.id, view.stored.version, -1)
        assert [p.name for p in back.rig.train] == ["Halden Tube"]
        assert write_words(back.stored.redo_words) == "added Quill Cam"
        again = bench.step_rig(back.stored.id, back.stored.version, 1)
        assert [p.name for p in again.rig.train] == ["Halden Tube", "Quill Cam"]
        with pytest.raises(RefusedError):
            bench.step_rig(again.stored.id, again.stored.version, 1)


def test_a_change_on_an_old_version_is_refused_with_what_changed_since(install, ids):
    with install.bench() as bench:
        view = made(bench, *train(ids, "tube"))
        bench.change_rig(view.stored.id, view.stored.version, AddPart(part_id=ids["camera"]))
        with refused(StaleVersionError, "The last change there: added Quill Cam") as caught:
            bench.change_rig(view.stored.id, view.stored.version, AddPart(part_id=ids["ring"]))
        assert caught.value.current_version == view.stored.version + 1
        assert len(bench.bench(view.stored.id).rig.train) == 2


def test_a_change_that_changes_nothing_takes_no_step(install, ids):
    with install.bench() as bench:
        view = made(bench, *train(ids, "tube", "ring", "camera"))
        same = bench.change_rig(view.stored.id, view.stored.version, MovePart(place=2, to=1))
        assert same.stored.version == view.stored.version
        assert write_words(same.stored.undo_words) == "added Quill Cam"


def test_a_refused_change_leaves_the_rig_as_it_was(install, ids):
    with install.bench() as bench:
        view = made(bench, *train(ids, "tube", "camera"))
        with pytest.raises(RefusedError):
            bench.change_rig(view.stored.id, view.stored.version, AddPart(part_id=ids["small"]))
        assert bench.bench(view.stored.id) == view


def test_a_part_that_is_in_no_catalogue_cannot_be_added(install, ids):
    with install.bench() as bench:
        view = made(bench, *train(ids, "tube"))
        with pytest.raises(NotFoundError):
            bench.change_rig(view.stored.id, view.stored.version, AddPart(part_id=999_999))


def test_the_adapter_on_the_shelf_that_joins_a_joint_is_offered_and_mends_it(install, ids):
    # M48 female above, M42 female below: the adapter of M48 male to M42 male is on the shelf.
    with install.bench() as bench:
        view = made(bench, *train(ids, "tube", "small"))
        broken = next(f for f in view.findings if f.code == "joints.size")
        action = broken.remedies[0].action
        assert action is not None
        assert (action.verb, action.part_id, action.at) == ("add", ids["joiner"], 1)
        mended = bench.change_rig(
            view.stored.id, view.stored.version, AddPart(part_id=ids["joiner"], at=action.at)
        )
        assert codes(mended)["joints"] == "joints.mate"


def test_an_adapter_that_is_only_in_the_catalogue_is_not_called_ones_own(install, ids):
    with install.bench("Bo") as bench:
        view = made(bench, *train(ids, "tube", "small"))
        broken = next(f for f in view.findings if f.code == "joints.size")
        assert [r.action for r in broken.remedies] == [None]


def test_rules_and_gear_change_the_findings(install, ids):
    with install.bench() as bench:
        view = made(bench, *train(ids, "tube", "camera"), SetGear(part_id=ids["mount"], quantity=1))
        assert codes(view)["payload"] == "payload.sound"
        stricter = bench.change_rig(
            view.stored.id, view.stored.version, SetRules(rules=Rules(payload_share=0.1))
        )
        assert codes(stricter)["payload"] == "payload.over_usable"


# -- Whose things


@pytest.mark.parametrize(
    "touch",
    [
        lambda bench, rig: bench.bench(rig),
        lambda bench, rig: bench.rename_rig(rig, 1, "Mine"),
        lambda bench, rig: bench.change_rig(rig, 1, RemovePart(place=1)),
        lambda bench, rig: bench.step_rig(rig, 1, -1),
        lambda bench, rig: bench.save_entry(rig, 1, "Mine", ""),
        lambda bench, rig: bench.remove_rig(rig, 1),
    ],
)
def test_anothers_rig_answers_as_if_it_were_not_there(
    install, ids, touch: Callable[[Workbench, int], object]
):
    with install.bench() as bench:
        rig = made(bench, *train(ids, "tube")).stored.id
    with install.bench("Bo") as other, pytest.raises(NotFoundError):
        touch(other, rig)
    with install.bench() as bench:
        assert len(bench.bench(rig).rig.train) == 1


def test_only_who_entered_a_part_changes_or_removes_it_and_others_copy_it(install, ids):
    with install.bench("Bo") as other:
        with refused(NotYoursError, "entered by Ana"):
            other.change_part(ids["ring"], 1, ring(40.0))
        with refused(NotYoursError, "Copy it"):
            other.remove_part(ids["ring"])
        copy = other.copy_part(ids["ring"])
        changed = other.change_part(copy.id, copy.revision, ring(40.0, model="Mine"))
        assert (changed.name, changed.revision, changed.entered_by_name) == ("Brask Mine", 2, "Bo")
        assert other.part(ids["ring"]).name == "Brask Ring"


def test_a_part_that_rigs_use_is_not_removed_and_the_rigs_are_named(install, ids):
    with install.bench() as bench:
        view = made(bench, *train(ids, "tube", "ring"))
        with refused(PartInUseError, "Garden") as caught:
            bench.remove_part(ids["ring"])
        assert caught.value.rig_names == ("Garden",)
        # What undo can bring back is in use as well.
        bench.change_rig(view.stored.id, view.stored.version, RemovePart(place=2))
        with refused(PartInUseError, "undo can bring it back there.*goes once each such rig is"):
            bench.remove_part(ids["ring"])
        bench.remove_part(ids["extra"])
        with pytest.raises(NotFoundError):
            bench.part(ids["extra"])


@pytest.mark.parametrize(("name", "says"), [("  ", "Give the rig a name"), ("x" * 121, "at most 120")])
def test_a_rig_has_a_name_of_reasonable_length(install, name, says):
    with install.bench() as bench:
        with pytest.raises(FieldErrors) as caught:
            bench.new_rig(name)
        assert says in caught.value.errors["name"]
        assert bench.new_rig("  North   pier ").name == "North pier"


# -- The logbook


def test_an_entry_keeps_its_parts_while_the_catalogue_goes_on(install, ids):
    with install.bench() as bench:
        view = made(bench, *train(ids, "tube", "corrector", "ring", "camera"))
        entry = bench.save_entry(view.stored.id, view.stored.version, " First  light ", " Cold. ")
        assert (entry.document.title, entry.document.note, entry.number) == ("First light", "Cold.", 1)
        bench.change_part(ids["ring"], bench.part(ids["ring"]).revision, ring(39.0))
        opened = bench.entry(entry.id)
        assert [p.name for p in opened.revised] == ["Brask Ring"]
        saved = {f.code for f in opened.entry.document.findings}
        assert "spacing.sound" in saved
        assert saved == {f.code for f in opened.findings_now}
        assert codes(bench.bench(view.stored.id))["spacing"] == "spacing.long"


@pytest.mark.parametrize(
    ("title", "note", "field"), [("", "", "title"), ("x" * 121, "", "title"), ("Ok", "x" * 4001, "note")]
)
def test_a_title_and_a_note_of_reasonable_length_are_asked_for(install, ids, title, note, field):
    with install.bench() as bench:
        view = made(bench, *train(ids, "tube"))
        with pytest.raises(FieldErrors) as caught:
            bench.save_entry(view.stored.id, view.stored.version, title, note)
        assert list(caught.value.errors) == [field]


def test_an_empty_train_and_an_old_version_are_not_saved(install, ids):
    with install.bench() as bench:
        empty = made(bench)
        with refused(RefusedError, "empty"):
            bench.save_entry(empty.stored.id, empty.stored.version, "Nothing", "")
        view = made(bench, *train(ids, "tube", "camera"), name="South")
        with pytest.raises(StaleVersionError):
            bench.save_entry(view.stored.id, view.stored.version - 1, "Old", "")
        assert bench.entries() == ()


def test_two_entries_are_compared_and_the_earlier_is_brought_back(install, ids):
    with install.bench() as bench:
        view = made(bench, *train(ids, "tube", "corrector", "ring", "camera"))
        first = bench.save_entry(view.stored.id, view.stored.version, "Right", "")
        longer = bench.change_rig(view.stored.id, view.stored.version, AddPart(part_id=ids["extra"], at=2))
        second = bench.save_entry(longer.stored.id, longer.stored.version, "Too long", "")
        changes = bench.compare(first.id, second.id)
        assert (changes.parts_in, changes.parts_out, changes.moved) == (("Brask Extra",), (), ())
        turns = [(t.before and t.before.code, t.after and t.after.code) for t in changes.findings]
        assert turns == [("spacing.sound", "spacing.long")]
        assert bench.compare(first.id, first.id).nothing
        assert [e.number for e in bench.entries()] == [2, 1]
        back = bench.bring_back(first.id)
        assert write_words(back.undo_words) == "brought back entry 1"
        assert back.plan == view.stored.plan
        assert bench.bring_back(first.id).version == back.version


# -- The usual site


def sited(bench: Workbench, view: BenchView, **place: float) -> BenchView:
    at = {"latitude_deg": 50.1234, "longitude_deg": -8.6543, **place}
    site = bench.add_site(Site.model_validate({"name": "Suburban garden", "zone": "Europe/Berlin", **at}))
    bench.set_rig_site(view.stored.id, site.id)
    return bench.bench(view.stored.id)


def place_of(plan: RigPlan | Rig) -> tuple[float | None, float | None]:
    return plan.load.latitude_deg, plan.load.longitude_deg


def test_a_rig_is_judged_and_saved_at_its_usual_site_to_a_tenth_of_a_degree(install, ids):
    with install.bench() as bench:
        view = made(bench, *train(ids, "tube", "camera"), SetLoad(load=LoadPlan(night=date(2026, 6, 21))))
        there = sited(bench, view)
        assert place_of(there.rig) == place_of(there.plan) == (50.1, -8.7)
        assert there.stored.plan == view.stored.plan, "nothing of it is typed"
        assert (there.stored.version, there.stored.undo_words) == (
            view.stored.version,
            view.stored.undo_words,
        )
        entry = bench.save_entry(view.stored.id, view.stored.version, "At home", "")
        assert place_of(entry.document.plan) == place_of(entry.document.build()) == (50.1, -8.7)
        assert entry.document.findings == there.findings
        text = entry.document.model_dump_json()
        assert not [one for one in ("Suburban", "50.12", "8.65") if one in text]


def test_a_typed_latitude_wins_over_the_site(install, ids):
    with install.bench() as bench:
        typed = SetLoad(load=LoadPlan(latitude_deg=-33.9, night=date(2026, 6, 21)))
        there = sited(bench, made(bench, *train(ids, "tube", "camera"), typed))
        assert place_of(there.rig) == (-33.9, None)


def test_a_place_on_the_equator_has_no_sign(install, ids):
    with install.bench() as bench:
        there = sited(bench, made(bench, *train(ids, "tube")), latitude_deg=-0.04, longitude_deg=-0.01)
        assert [str(one) for one in place_of(there.rig)] == ["0.0", "0.0"]


def test_an_entry_that_comes_back_leaves_the_place_to_the_site(install, ids):
    with install.bench() as bench:
        view = made(bench, *train(ids, "tube", "camera"))
        sited(bench, view)
        entry = bench.save_entry(view.stored.id, view.stored.version, "At home", "")
        assert bench.bring_back(entry.id).version == view.stored.version, "it is what stands there"
        longer = bench.change_rig(view.stored.id, view.stored.version, AddPart(part_id=ids["extra"], at=1))
        back = bench.bring_back(entry.id)
        assert (back.version, back.plan) == (longer.stored.version + 1, view.stored.plan)
        moved = sited(bench, bench.bench(back.id), latitude_deg=20.0)
        assert place_of(moved.rig) == (20.0, -8.7)
        # What was saved elsewhere comes back as it was.
        assert place_of(bench.bring_back(entry.id).plan) == (50.1, -8.7)


def test_the_other_ways_to_a_rig_give_its_site_as_well(install, ids):
    with install.bench() as bench:
        there = sited(bench, made(bench, *train(ids, "tube", "ring", "camera")))
        number = there.stored.id
        assert [place_of(rig) for _, rig in bench.rigs_in_hand([number])] == [(50.1, -8.7)]
        assert place_of(bench.bridge(number, Wishes()).rig) == (50.1, -8.7)
        assert [place_of(rig) for _, rig, _ in bench.kit([number], Wishes()).rigs] == [(50.1, -8.7)]


def test_a_link_shows_one_entry_until_it_is_withdrawn_and_a_member_takes_it_over(install, ids):
    with install.bench() as bench:
        view = made(bench, *train(ids, "tube", "camera"))
        entry = bench.save_entry(view.stored.id, view.stored.version, "For Bo", "")
        link = bench.share(entry.id)
        # 128 random bits are 22 characters of base 64 at least.
        assert len(link.token) >= 22
        assert bench.share(entry.id).token != link.token
    with install.bench("Bo") as other:
        taken = other.put_on_shelf(link.token).entry
        assert taken.document.observer == "Ana"
        assert [p.name for p in other.bench(taken.rig_id).rig.train] == ["Halden Tube", "Quill Cam"]
        assert other.holding(ids["tube"]) == Holding(considered=1)
        with pytest.raises(NotFoundError):
            other.share(entry.id)
        with pytest.raises(NotFoundError):
            other.withdraw(entry.id, link.id)
    with install.bench() as bench:
        bench.withdraw(entry.id, link.id)
        with pytest.raises(NotFoundError):
            bench.put_on_shelf(link.token)
        with pytest.raises(NotFoundError, match="does not belong"):
            bench.withdraw(entry.id, 999_999)
