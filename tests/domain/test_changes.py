"""What changed between two entries, told from plans and parts made by hand."""

from __future__ import annotations

from bisect import bisect_left
from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.domain.changes import (
    EntryChanges,
    compare_documents,
    field_changes,
    revised_parts,
    standings_of,
)
from server.domain.entry import EntryDocument, FrozenPart, freeze
from server.domain.findings import Action, Amount, Figure, Finding, Phrase, Remedy, Weight
from server.domain.measure import Measure
from server.domain.parts import Camera, CataloguedPart, Counterweight, Filter, FilterWheel, Mount, SpacerRing
from server.domain.rig import GearPlan, PlacePlan, RigPlan, Rules, build_rig
from server.rim.changes import read_standings, write_standings

DAY = datetime(2026, 5, 3, 21, 40, tzinfo=UTC)
PARTS: dict[int, Any] = {n: SpacerRing(maker="Halden", model=f"Ring {n}") for n in range(1, 21)}
PARTS |= {
    30: FilterWheel(maker="Halden", model="Wheel"),
    31: Filter(maker="Halden", model="Red"),
    32: Filter(maker="Halden", model="Green"),
    40: Mount(maker="Velm", model="Mount"),
    41: Counterweight(maker="Velm", model="Weight"),
    50: Camera(maker="Velm", model="Auge"),
}


def entry(*places: PlacePlan, findings: tuple[Finding, ...] = (), **plan: Any) -> EntryDocument:
    return EntryDocument(
        saved_at=DAY,
        observer="Ana",
        rig="Garden",
        title="First light",
        plan=RigPlan(places=places, **plan),
        parts=tuple(FrozenPart(id=n, revision=1, entered_by="Ana", part=part) for n, part in PARTS.items()),
        findings=findings,
    )


def place(key: int, part_id: int | None = None, **more: Any) -> PlacePlan:
    return PlacePlan(key=key, part_id=part_id or key, **more)


def finding(weight: Weight, title: str = "Spacing", code: str = "spacing.long") -> Finding:
    return Finding(code=code, weight=weight, title=title, phrase=Phrase(template="So it is."))


def test_an_entry_differs_from_itself_in_nothing() -> None:
    one = entry(place(1), place(2, 30, inside=(31,)), findings=(finding("stop"),))
    assert compare_documents(one, one).nothing


def test_parts_that_came_and_went_are_named() -> None:
    changes = compare_documents(entry(place(1), place(2)), entry(place(1), place(3)))
    assert changes == EntryChanges(parts_in=("Halden Ring 3",), parts_out=("Halden Ring 2",))


def test_two_of_one_part_that_came_are_counted() -> None:
    changes = compare_documents(entry(place(1)), entry(place(1), place(2, 5), place(3, 5)))
    assert changes.parts_in == ("2 × Halden Ring 5",)


def test_a_part_taken_past_three_others_is_the_only_one_that_moved() -> None:
    before = entry(place(1), place(2), place(3), place(4))
    after = entry(place(2), place(3), place(4), place(1))
    assert compare_documents(before, after) == EntryChanges(moved=("Halden Ring 1",))


@given(st.permutations(range(1, 13)))
def test_no_more_parts_are_said_to_have_moved_than_must_have(order: list[int]) -> None:
    # The longest run that kept its order is the longest increasing subsequence, here by patience sorting
    # (Aldous and Diaconis 1999, section 1.1), which the comparison does not use.
    piles: list[int] = []
    for number in order:
        at = bisect_left(piles, number)
        piles[at : at + 1] = [number]
    changes = compare_documents(entry(*map(place, range(1, 13))), entry(*map(place, order)))
    assert len(changes.moved) == len(order) - len(piles)
    assert changes == EntryChanges(moved=changes.moved)


@given(st.lists(st.integers(1, 20), max_size=10), st.lists(st.integers(1, 20), max_size=10))
def test_what_came_less_what_went_is_the_difference_in_length(before: list[int], after: list[int]) -> None:
    changes = compare_documents(
        entry(*(place(k, n) for k, n in enumerate(before, 1))),
        entry(*(place(k, n) for k, n in enumerate(after, 1))),
    )

    def count(names: tuple[str, ...]) -> int:
        return sum(int(name.split(" × ")[0]) if " × " in name else 1 for name in names)

    assert count(changes.parts_in) - count(changes.parts_out) == len(after) - len(before)


def test_a_part_turned_round_is_named() -> None:
    changes = compare_documents(entry(place(1)), entry(place(1, flipped=True)))
    assert changes == EntryChanges(turned_round=("Halden Ring 1",))


def test_another_set_length_is_told_with_both_lengths() -> None:
    changes = compare_documents(entry(place(1, set_length_mm=12.0)), entry(place(1, set_length_mm=12.5)))
    assert changes == EntryChanges(set_lengths=(("Halden Ring 1", 12.0, 12.5),))


def test_a_filter_put_into_the_wheel_came_in() -> None:
    changes = compare_documents(entry(place(1, 30, inside=(31,))), entry(place(1, 30, inside=(31, 32))))
    assert changes == EntryChanges(parts_in=("Halden Green",))


def test_gear_is_counted() -> None:
    before = entry(place(1), gear=(GearPlan(part_id=40), GearPlan(part_id=41, quantity=1)))
    after = entry(place(1), gear=(GearPlan(part_id=41, quantity=3),))
    changes = compare_documents(before, after)
    assert changes == EntryChanges(gear_in=("2 × Velm Weight",), gear_out=("Velm Mount",))


def test_changed_rules_are_told_with_both_values() -> None:
    changes = compare_documents(entry(place(1)), entry(place(1), rules=Rules(seeing_arcsec=2.0)))
    assert changes == EntryChanges(rules=(("seeing_arcsec", 3.0, 2.0),))


def test_a_changed_specification_is_told_field_by_field() -> None:
    before = SpacerRing(maker="Halden", model="Ring", length_mm=Measure(nominal=5.0))
    after = before.model_copy(update={"length_mm": Measure(nominal=5.1), "note": "measured again"})
    told = {change.field: (change.before, change.after) for change in field_changes(before, after)}
    assert told == {
        "length_mm": (Measure(nominal=5.0), Measure(nominal=5.1)),
        "note": ("", "measured again"),
    }


def test_only_parts_that_say_something_else_today_count_as_revised() -> None:
    changed = SpacerRing(maker="Halden", model="Ring 1", note="put right")
    present = {
        1: CataloguedPart(1, 1, "Ana", 2, changed),
        2: CataloguedPart(2, 1, "Ana", 1, PARTS[2]),
    }
    assert [item.id for item in revised_parts(entry(place(1), place(2)), present)] == [1]


@pytest.mark.parametrize(
    ("before", "after", "turned"),
    [
        ((finding("stop"),), (finding("sound", code="spacing.sound"),), [("stop", "sound")]),
        ((finding("stop"),), (finding("stop", code="spacing.short"),), []),
        ((), (finding("watch"),), [(None, "watch")]),
        ((finding("watch"),), (), [("watch", None)]),
        ((), (finding("sound"),), []),
        ((finding("sound"),), (), []),
    ],
)
def test_findings_that_turned_came_or_went_are_told_and_sound_ones_that_came_or_went_are_not(
    before: tuple[Finding, ...], after: tuple[Finding, ...], turned: list[tuple[str | None, str | None]]
) -> None:
    changes = compare_documents(entry(place(1), findings=before), entry(place(1), findings=after))
    told = [(t.before and t.before.weight, t.after and t.after.weight) for t in changes.findings]
    assert told == turned


def test_a_frozen_entry_keeps_a_remedys_words_and_not_its_press_of_a_button() -> None:
    remedy = Remedy(phrase=Phrase(template="Put it in."), action=Action(verb="add", words="Put", part_id=7))
    found = Finding(
        code="joints.size",
        weight="stop",
        title="Joint",
        phrase=Phrase(template="It does not mate."),
        figure=Figure(label="gap", amount=Amount(value=1.0, dimension="length")),
        remedies=(remedy,),
    )
    plan = RigPlan(places=(place(1),))
    rig = build_rig("Garden", plan, {1: CataloguedPart(1, 1, "Ana", 1, PARTS[1])})
    frozen = freeze(rig, plan, title="T", note="", observer="Ana", saved_at=DAY, findings=(found,))
    assert frozen.findings[0].remedies == (Remedy(phrase=Phrase(template="Put it in.")),)


def joint(weight: Weight, key: int, words: str) -> Finding:
    code = f"joint.{weight}"
    return Finding(code=code, weight=weight, title="Joint", phrase=Phrase(template=words), place=key)


def test_two_rigs_that_say_the_same_at_places_of_other_numbers_differ_in_nothing() -> None:
    one = entry(place(1), findings=(joint("watch", 3, "A on B is tight."), joint("sound", 4, "B on C.")))
    two = entry(place(1), findings=(joint("sound", 3, "B on C."), joint("watch", 8, "A on B is tight.")))
    assert compare_documents(one, two).findings == ()
    # The joint of another part is as bad: it is no finding that came, and none that went.
    other = entry(place(1), findings=(joint("watch", 8, "D on E is tight."),))
    assert compare_documents(one, other).findings == ()


def test_of_several_findings_of_one_title_none_is_lost_in_another() -> None:
    leads = (finding("stop", "Lead", "power.lead_starves"), finding("watch", "Lead", "power.lead_thin"))
    turns = compare_documents(entry(place(1)), entry(place(1), findings=leads)).findings
    assert [turn.after and turn.after.weight for turn in turns] == ["stop", "watch"]
    mended = (leads[0], finding("sound", "Lead", "power.lead_sound"))
    (turn,) = compare_documents(entry(findings=leads), entry(findings=mended)).findings
    assert (turn.before and turn.before.weight, turn.after and turn.after.weight) == ("watch", "sound")


def test_standings_are_written_and_read_back_and_nothing_else_is_read() -> None:
    found = (joint("watch", 3, "A."), finding("unknown", "Guiding, by; name", "guider.x"), finding("sound"))
    told = standings_of(found)
    assert [one.weight for one in told] == ["watch", "unknown"]
    assert read_standings(write_standings(told)) == told
    assert read_standings(write_standings(())) == ()
    assert write_standings(told * 200) == ""
    for text in ("", "watch", "sound,joint,3,Joint", "watch,joint,three,Joint", "watch,joint,3", "x" * 9000):
        assert read_standings(text) is None, text
