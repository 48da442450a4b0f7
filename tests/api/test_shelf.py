"""The catalogue and one observer's shelf."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient

from server.domain.parts import KINDS
from tests.api.conftest import Api, good, measure, thread, trouble

# On SQLite and on PostgreSQL.
RING = {
    "kind": "spacer_ring",
    "maker": "Halden",
    "model": "Ring 10",
    "length_mm": {"nominal": 10.0, "plus": 0.05, "minus": 0.02, "basis": "maker"},
    "mass_kg": {"nominal": 0.04, "plus": None, "minus": None, "basis": None},
    "price": {"hundredths": 2490, "currency": "EUR"},
    "sky_side": thread(42, "male"),
    "note": "Bought second-hand.\nAnodised.",
}


def test_a_part_comes_back_as_it_was_entered_with_what_is_unknown_as_null(ana: Api):
    made = good(ana.post("/parts", {"part": RING, "holding": {"owned": 2}}), 201)
    seen = good(ana.get(f"/parts/{made['id']}"))
    assert seen == made
    assert (seen["revision"], seen["entered_by_name"], seen["holding"]["owned"]) == (1, "Ana", 2)
    expected = {**RING, "sky_side": {**thread(42, "male"), "type": "metric_thread", "thread_mm": None}}
    assert {name: seen["part"][name] for name in RING} == expected
    assert seen["part"]["camera_side"] is None


def test_what_is_read_can_be_written_back_unchanged(ana: Api):
    made = good(ana.post("/parts", {"part": RING}), 201)
    again = good(ana.put(f"/parts/{made['id']}", {"revision": 1, "part": made["part"]}))
    assert again["part"] == made["part"]
    assert again["revision"] == 2


def test_a_whole_number_is_one_with_and_without_its_point(ana: Api):
    # Source: JSON Schema Validation 2020-12, section 6.1.1: an integer is any number without a fraction.
    price = {"hundredths": 2490.0, "currency": "EUR"}
    made = good(ana.post("/parts", {"part": {**RING, "price": price}, "holding": {"owned": 2.0}}), 201)
    assert (made["holding"]["owned"], made["part"]["price"]["hundredths"]) == (2, 2490)
    half = ana.put(f"/parts/{made['id']}/holding", {"owned": 2.5})
    assert "owned" in trouble(half, 422)["fields"]


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_can_be_entered_with_nothing_but_a_name(ana: Api, kind: str):
    number = ana.part(kind, "Nameless")
    assert good(ana.get(f"/parts/{number}"))["part"]["kind"] == kind


def test_a_part_without_any_name_is_refused(ana: Api):
    assert "model" in trouble(ana.post("/parts", {"part": {"kind": "shim"}}), 422)["fields"]


@pytest.mark.parametrize(
    ("fields", "named"),
    [
        ({"length_mm": measure(3000)}, "length_mm"),
        ({"length_mm": measure(-1)}, "length_mm"),
        ({"mass_kg": measure(0)}, "mass_kg"),
        ({"price": {"hundredths": 10**12, "currency": "EUR"}}, "price.hundredths"),
        ({"price": {"hundredths": 10, "currency": "euro"}}, "price.currency"),
        ({"sky_side": {"type": "metric_thread", "diameter_mm": 1e9}}, "sky_side.metric_thread.diameter_mm"),
        ({"sky_side": {"type": "rope"}}, "sky_side"),
        ({"reversible": "yes"}, "reversible"),
        ({"colour_of_box": "red"}, "colour_of_box"),
        ({"maker": "x" * 81}, "maker"),
        ({"model": "turned \u202e round"}, "model"),
        ({"model": "nul \x00"}, "model"),
    ],
)
def test_a_field_is_held_to_the_same_limits_as_on_the_form(ana: Api, fields: dict, named: str):
    part = {"kind": "spacer_ring", "model": "Ring", **fields}
    assert trouble(ana.post("/parts", {"part": part}), 422)["fields"].keys() == {named}
    assert good(ana.get("/parts"))["total"] == 0


@pytest.mark.parametrize("part", [{"model": "No kind"}, {"kind": "rocket", "model": "A"}, {"kind": 5}])
def test_an_unknown_kind_is_named_as_such(ana: Api, part: dict):
    assert "kind" in trouble(ana.post("/parts", {"part": part}), 422)["fields"]


@pytest.mark.parametrize("part", [None, 5, "shim", [], [["kind", "shim"]]])
def test_what_is_no_document_is_no_part(ana: Api, part: object):
    trouble(ana.post("/parts", {"part": part}), 422)


def test_a_search_asks_what_the_shelf_asks(ana: Api, ben: Api):
    ring, camera = ana.ring("Ring 10"), ana.camera()
    ben.ring("Ring 20")

    def found(**query: str | int) -> list[str]:
        return [one["part"]["model"] for one in good(ana.get("/parts", **query))["parts"]]

    assert found() == ["Auge 26", "Ring 10", "Ring 20"]
    assert found(text="hald rin") == ["Ring 10", "Ring 20"]
    assert found(kind="camera") == ["Auge 26"]
    assert found(holding="shelf") == ["Auge 26", "Ring 10"]
    assert found(connection="M42x0.75 female") == ["Auge 26"]
    assert found(mates_with="M42x0.75 female") == ["Ring 10", "Ring 20"]
    assert found(offset=1, limit=1) == ["Ring 10"]
    assert {ring, camera} == {one["id"] for one in good(ana.get("/parts", holding="owned"))["parts"]}


@pytest.mark.parametrize(
    ("query", "named"),
    [
        ({"connection": "something round"}, "connection"),
        ({"mates_with": "M42x0.75 upside down"}, "mates_with"),
        ({"kind": "rocket"}, "kind"),
        ({"holding": "stolen"}, "holding"),
        ({"limit": 201}, "limit"),
        ({"limit": "all"}, "limit"),
        ({"offset": -1}, "offset"),
        ({"text": "x" * 201}, "text"),
    ],
)
def test_a_search_that_makes_no_sense_is_refused_by_its_field(ana: Api, query: dict, named: str):
    assert trouble(ana.get("/parts", **query), 422)["fields"].keys() == {named}


@pytest.mark.parametrize("text", ['"', "NEAR(", "a* OR b", "-", "\x00", "'; drop table part; --", "é ☃ 望"])
def test_no_text_breaks_the_search(ana: Api, text: str):
    good(ana.get("/parts", text=text))


def test_a_copy_is_ones_own_to_change(ana: Api, ben: Api):
    number = ana.ring()
    copy = good(ben.post(f"/parts/{number}/copy"), 201)
    assert (copy["entered_by_name"], copy["part"]["model"]) == ("Ben", "Ring 10 (copy)")
    good(ben.put(f"/parts/{copy['id']}", {"revision": 1, "part": copy["part"] | {"model": "Ring 10.1"}}))
    assert good(ana.get(f"/parts/{number}"))["part"]["model"] == "Ring 10"


def test_a_holding_is_each_observers_own_and_nothing_takes_the_part_off_the_shelf(ana: Api, ben: Api):
    number = ana.ring()
    assert good(ben.put(f"/parts/{number}/holding", {"wished": 3}))["holding"] == {
        "owned": 0,
        "wished": 3,
        "considered": 0,
    }
    assert good(ana.get(f"/parts/{number}"))["holding"]["owned"] == 1
    good(ben.put(f"/parts/{number}/holding", {}))
    assert good(ben.get("/parts", holding="shelf"))["parts"] == []


@pytest.mark.parametrize("owned", [-1, 1000, 1.5, "1", True, None])
def test_a_holding_is_a_whole_number_within_reason(ana: Api, owned: object):
    assert trouble(ana.put(f"/parts/{ana.ring()}/holding", {"owned": owned}), 422)["fields"].keys() == {
        "owned"
    }


def test_a_part_that_nothing_holds_can_be_removed(ana: Api):
    number = ana.ring()
    assert ana.delete(f"/parts/{number}").status_code == 204
    trouble(ana.get(f"/parts/{number}"), 404)


def test_the_kinds_tell_what_each_field_is_and_may_be(client: TestClient):
    kinds = {kind["kind"]: kind for kind in good(client.get("/api/kinds"))}
    assert kinds.keys() == KINDS.keys()
    fields = {field["name"]: field for field in kinds["spacer_ring"]["fields"]}
    length = fields["length_mm"]
    assert (length["shape"], length["unit"], length["minimum"], length["maximum"]) == (
        "measure",
        "mm",
        0,
        500,
    )
    assert fields["basis"]["choices"]["maker"] == "the maker's figures"
    tube = {field["name"]: field for field in kinds["optical_tube"]["fields"]}
    assert tube["obstruction_share"]["unit"] == "", "a document holds a share of 1, not per cent"
    assert [column["unit"] for column in tube["spot_sizes"]["columns"]] == ["mm", "um"]
    assert kinds["mount"]["in_train"] is False


json_values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=10), inner, max_size=4),
    max_leaves=12,
)


@given(data=st.data())
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_part_with_anything_in_its_fields_is_stored_as_sent_or_refused(ana: Api, data: st.DataObject):
    kind = data.draw(st.sampled_from(sorted(KINDS)))
    names = sorted(spec.name for spec in KINDS[kind].specs())
    fields = data.draw(st.dictionaries(st.sampled_from(names), json_values, max_size=3))
    part = {"kind": kind, "model": "Thing", **fields}
    answer = ana.post("/parts", {"part": part})
    if answer.status_code == 422:
        trouble(answer, 422)
        return
    stored = good(ana.get(f"/parts/{good(answer, 201)['id']}"))["part"]
    for name, value in part.items():
        expected = value.strip() if isinstance(value, str) else value
        assert stored[name] == expected or isinstance(value, dict)


def test_a_change_made_on_an_older_revision_of_a_part_is_refused_and_the_newer_one_stays(ana: Api):
    number = ana.ring()
    made = good(ana.get(f"/parts/{number}"))
    path = f"/parts/{number}"
    first = {"revision": made["revision"], "part": made["part"] | {"model": "First"}}
    good(ana.put(path, first))
    stale = trouble(ana.put(path, first | {"part": made["part"] | {"model": "Second"}}), 409)
    assert stale["current_version"] == made["revision"] + 1
    assert good(ana.get(path))["part"]["model"] == "First"
