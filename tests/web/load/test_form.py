"""The one form of the load's page: every field of the plan, typed as people type it, refused, and kept.

An inch is 25.4 mm and a pound 0.45359237 kg exactly (NIST SP 811, appendix B.8).
"""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from server.domain.load_plan import Lift, LoadPlan
from server.flow.assemble_train import SetGear
from server.flow.workbench import Workbench
from server.out_of_range import OutOfRangeError
from server.rim.load_form import understood
from server.rim.load_specs import LIFT_SPECS, LOAD_SPECS, PURPOSE_SPECS, SPOT_SPECS
from server.rim.phrasebook.tell import tell
from server.store import Stores
from tests.web.club import page_of, words_of
from tests.web.load.test_page import Garden, place  # noqa: F401 - a fixture

INCH_MM, POUND_KG = 25.4, 0.45359237


@pytest.fixture
def garden(client: TestClient, stores: Stores) -> Garden:
    """The demo rig with one lift planned: the mount, from the floor onto its stand."""
    found = Garden(client, stores)
    part = found.part("Boulder 14")
    found.send(lift__new__name="mount onto the tripod", lift__new__part=[part], do="lift")
    assert [lift.parts for lift in found.plan.lifts] == [(part,)]
    return found


def test_the_form_offers_every_field_of_a_plan_and_of_a_lift(garden: Garden):
    """Cases are kept on the packing list, cables by the lead's fields, feeds by one field a device."""
    asked = {spec.name for spec in LOAD_SPECS} | {"lifts", "spots", "feeds", "cables", "cases"}
    purpose = {spec.name for spec in PURPOSE_SPECS}
    assert asked | purpose == set(LoadPlan.model_fields)
    assert {spec.name for spec in LIFT_SPECS} | {"parts"} == set(Lift.model_fields)
    page = garden.page
    for spec in LOAD_SPECS:
        assert page.select_one(f"form#load [name={spec.name}]") is not None, spec.name
    for spec in LIFT_SPECS:
        assert page.select_one(f"form#load [name=lift-new-{spec.name}]") is not None, spec.name
        assert page.select_one(f"form#load [name=lift-0-{spec.name}]") is not None, spec.name
    for spec in (*LOAD_SPECS, *LIFT_SPECS, *SPOT_SPECS):
        assert spec.help, f"{spec.name} says neither what it is for nor what happens while it is empty"


@pytest.mark.parametrize(
    ("name", "typed", "stored"),
    [
        ("tube_above_saddle_mm", "3 in", 3 * INCH_MM),
        ("clamp_mm", "4 1/2 in", 4.5 * INCH_MM),
        ("focuser_at_mm", "1 ft", 12 * INCH_MM),
        ("drawtube_out_mm", "-1/2 in", -0.5 * INCH_MM),
        ("change_kg", "3 lb", 3 * POUND_KG),
        ("lift_limit_kg", "20 lb", 20 * POUND_KG),
        ("supply_share", "90 %", 0.9),
        ("night_hours", "9.5", 9.5),
        ("latitude_deg", "-33.9", -33.9),
        ("longitude_deg", "-70.4", -70.4),
        ("low_c", "23 °F", -5.0),
        ("cooling_k", "35 K", 35.0),
    ],
)
def test_a_field_is_read_kept_said_and_shown_again(garden: Garden, name: str, typed: str, stored: float):
    answer = garden.send(**{name: typed})
    assert answer.status_code == 200
    assert getattr(garden.plan, name) == pytest.approx(stored)
    assert page_of(answer).select_one(".notice.sound[role=status]") is not None
    before = garden.plan
    again = garden.send()
    assert "nothing was changed" in words_of(again)
    assert garden.plan == before, "what the form shows is what it reads"


@pytest.mark.parametrize(
    ("name", "typed"),
    [("change_kg", "3 in"), ("supply_share", "120 %"), ("supply_share", "0"), ("focuser_at_mm", "-1 mm")],
)
def test_a_field_that_cannot_be_taken_is_said_above_and_beside_it_and_comes_into_focus(
    garden: Garden, name: str, typed: str
):
    before = garden.plan
    answer = garden.send(**{name: typed, "balance_mm": "444"})
    assert answer.status_code == 422
    page = page_of(answer)
    above = page.select_one("#refused[role=alert]")
    assert "Nothing is stored yet. 1 field could not be taken" in " ".join(above.get_text(" ").split())
    assert [link["href"] for link in above.select("a")] == [f"#load-{name}"]
    assert page.select_one(f"#load-{name}")["value"] == typed
    assert [field["name"] for field in page.select("[autofocus]")] == [name]
    assert page.select_one("#load-balance_mm")["value"] == "444"
    assert "Understood: 444 mm" in page.select_one("#load-balance_mm-understood").get_text()
    assert garden.plan == before


def test_what_is_typed_anywhere_is_kept_by_every_button(garden: Garden):
    """What somebody typed at the balance is stored with the lead."""
    camera = str(garden.page.select("#load-lead-device option")[1]["value"])
    garden.send(
        balance_mm="444", lead__device=camera, lead__wire="1.5 mm2", lead__length_mm="10 ft", do="lead"
    )
    assert garden.plan.balance_mm == 444.0
    assert garden.plan.cables[0].length_mm == pytest.approx(120 * INCH_MM)
    assert garden.plan.cables[0].area_mm2 == 1.5


def test_a_form_that_holds_one_field_changes_no_other(garden: Garden):
    before = garden.plan
    version = garden.form()["version"]
    garden.client.post(garden.url, data={"version": version, "clamp_mm": "99"})
    assert garden.plan == before.model_copy(update={"clamp_mm": 99.0})


def test_a_long_plan_has_more_fields_than_forms_usually_hold(garden: Garden):
    """20 lifts with 12 fields and up to 60 ticks each."""
    part = garden.part("Boulder 14")
    more = {f"spot-{number}-along_mm": "" for number in range(10**6, 10**6 + 1500)}
    answer = garden.client.post(
        garden.url,
        data=garden.form() | more | {"lift-0-part": [part], "clamp_mm": "77"},
        follow_redirects=True,
    )
    assert answer.status_code == 200
    assert garden.plan.clamp_mm == 77.0


@pytest.mark.parametrize("version", ["", "x", "-1", "9" * 30])
def test_a_form_without_its_version_stores_nothing(garden: Garden, version: str):
    before = garden.plan
    assert garden.client.post(garden.url, data={"version": version, "clamp_mm": "77"}).status_code == 409
    assert garden.plan == before


def test_gear_on_the_tube_is_given_its_place_where_the_page_asks_for_it(garden: Garden):
    """Without it no rig with rings could ever be balanced."""
    foot = garden.part("Lens foot")
    garden.send(**{f"spot__{foot}__along_mm": "", f"spot__{foot}__above_mm": ""})
    assert garden.plan.spots == ()
    asked = garden.page.select(f"a[href='#load-spot-{foot}-along_mm']")
    assert asked
    assert "sits on the tube" in asked[0].get_text()
    answer = garden.send(**{f"spot__{foot}__above_mm": "2 in"})
    assert answer.status_code == 422
    assert "along the tube" in page_of(answer).select_one(f"#load-spot-{foot}-along_mm-error").get_text()
    garden.send(**{f"spot__{foot}__along_mm": "12 in", f"spot__{foot}__above_mm": "2 in"})
    (spot,) = garden.plan.spots
    assert spot.part_id == foot
    assert spot.along_mm == pytest.approx(12 * INCH_MM)
    assert spot.above_mm == pytest.approx(2 * INCH_MM)
    assert not garden.page.select(f"a[href='#load-spot-{foot}-along_mm']")
    assert garden.page.select_one(f"#load-spot-{foot}-along_mm")["value"] == "304.8 mm"


def test_how_far_the_balance_moves_with_another_camera_is_said(garden: Garden):
    """A mass m put on at x moves the centre of M at c by m (x - c) / (M + m): the definition of a centre."""
    # Camera 0.62 kg at 160.7 mm; centre 174.8 / 1.736 = 100.72 (seed_data/rigs.toml):
    # 0.5 x (160.7 - 100.72) / 2.236 = 13.4 mm.
    said = words_of(garden.send(change_kg="0.5 kg"))
    assert "moves with 0.50 kg more at the camera 13 mm towards the camera" in said
    # -0.5 x (160.7 - 100.72) / 1.236 = -24.3 mm.
    said = words_of(garden.send(change_kg="-0.5 kg"))
    assert "moves with 0.50 kg less at the camera 24 mm towards the front" in said


@pytest.mark.parametrize("name", ["from_height_mm", "to_height_mm", "reach_mm", "to_reach_mm", "carry_mm"])
def test_a_bare_number_for_a_lift_is_asked_about_and_never_taken_for_millimetres(garden: Garden, name: str):
    """The equation raises a reach below 25 cm to 25 cm (NIOSH 94-110, 1994): 45 mm would look safe."""
    part = garden.part("Stonecrake")
    typed = {"lift__new__name": "mount", "lift__new__part": [part], f"lift__new__{name}": "45"}
    planned = len(garden.plan.lifts)
    answer = garden.send(**typed, do="lift")
    assert answer.status_code == 422
    said = page_of(answer).select_one(f"#load-lift-new-{name}-error").get_text()
    assert "no unit" in said
    assert "45 cm" in said or "45 m" in said
    assert len(garden.plan.lifts) == planned
    garden.send(**{**typed, f"lift__new__{name}": "45 in"}, do="lift")
    assert getattr(garden.plan.lifts[-1], name) == pytest.approx(45 * INCH_MM)


def test_what_is_understood_is_said_while_one_types(garden: Garden):
    def said(**typed: str) -> str:
        names = {name.replace("__", "-"): text for name, text in typed.items()}
        return words_of(garden.client.get("/bench/load/understood", params=names))

    assert said(lift__new__reach_mm="16 in") == "Understood: 40.64 cm"
    assert said(lift__0__carry_mm="130 ft") == "Understood: 39.624 m"
    assert said(clamp_mm="4 in") == "Understood: 101.6 mm"
    assert "no unit" in said(lift__new__reach_mm="45")
    assert said(lift__new__reach_mm="0") == "Understood: 0 cm"
    assert garden.client.get("/bench/load/understood", params={"x": "1"}).status_code == 404
    with pytest.raises(KeyError):
        understood("lift-new-along_mm", "1 mm")


def test_a_planned_lift_is_changed_in_place(garden: Garden):
    before = garden.plan.lifts
    answer = garden.send(lift__0__hours="2", lift__0__reach_mm="16 in", lift__0__twist_deg="30")
    assert answer.status_code == 200
    now = garden.plan.lifts
    assert len(now) == len(before)
    assert now[0].hours == 2.0
    assert now[0].reach_mm == pytest.approx(16 * INCH_MM)
    assert now[0].parts == before[0].parts
    said = words_of(answer)
    assert "turned aside by 30°" in said
    assert "for 2 h" in said


def test_a_change_of_a_lift_that_cannot_be_taken_loses_nothing(garden: Garden):
    before = garden.plan
    answer = garden.send(
        lift__0__name="tube and camera", lift__0__reach_mm="40", lift__0__part=[], balance_mm="444"
    )
    assert answer.status_code == 422
    page = page_of(answer)
    assert page.select_one("#load-lift-0-name")["value"] == "tube and camera"
    assert page.select_one("#load-lift-0-reach_mm")["value"] == "40"
    assert page.select_one("#load-balance_mm")["value"] == "444"
    opened = page.select_one("#load-lift-0-reach_mm").find_parent("details")
    assert opened.has_attr("open")
    assert not page.select("input[name=lift-0-part][checked]")
    assert [link["href"] for link in page.select("#refused a")] == [
        "#load-lift-0-reach_mm",
        "#load-lift-0-part",
    ]
    assert garden.plan == before


def test_a_weight_that_is_lifted_twice_over_is_ticked_twice(garden: Garden):
    weight = garden.part("3.5 kg")
    with garden.stores.writing() as store:
        version = int(garden.form()["version"])
        change = SetGear(part_id=weight, quantity=2)
        Workbench(store, garden.owner, tell).change_rig(garden.id, version, change)
    boxes = garden.page.select(f"#lift input[value='{weight}']")
    assert [box.find_parent("label").get_text(strip=True)[-8:] for box in boxes] == ["(1 of 2)", "(2 of 2)"]
    garden.send(lift__new__name="both", lift__new__part=[weight] * 2, do="lift")
    assert garden.plan.lifts[-1].parts == (weight,) * 2
    assert len(garden.page.select(f"input[name=lift-1-part][value='{weight}'][checked]")) == 2


def test_lifts_changed_elsewhere_are_never_written_over(garden: Garden):
    form = garden.form()
    garden.send(lift__new__name="mount", lift__new__part=[garden.part("Stonecrake")], do="lift")
    now = garden.plan
    answer = garden.client.post(garden.url, data=form | {"lift-0-name": "other", "clamp_mm": "77"})
    assert answer.status_code == 409
    page = page_of(answer)
    assert page.select_one("#load-lift-0-name")["value"] == now.lifts[0].name
    assert page.select_one("#load-clamp_mm")["value"] == "77"
    assert garden.plan == now


def test_trips_are_summed_in_a_row_that_says_what_it_is(garden: Garden):
    """Mass times distance: 8.20 kg over 40 m, twice, and over 20 m: 8.20 x 100 = 820 kg m."""
    part = garden.part("Boulder")
    for way, trips in (("40 m", "2"), ("20 m", "1")):
        said = words_of(
            garden.send(
                lift__new__name=f"mount {way}",
                lift__new__part=[part],
                lift__new__carry_mm=way,
                lift__new__trips=trips,
                do="lift",
            )
        )
    assert "All trips together : at least 820 kg m" in said
    assert "10 kg carried over 40 m is 400 kg m" in said


@pytest.mark.parametrize("path", ["lift", "lift/remove", "lead", "lead/remove"])
def test_an_address_beneath_the_load_leads_to_its_page(garden: Garden, path: str):
    answer = garden.client.get(f"{garden.url}/{path}", follow_redirects=False)
    assert answer.status_code == 303
    assert answer.headers["location"] == garden.url


def test_the_page_holds_the_findings_of_the_load_and_no_others(garden: Garden):
    garden.point("sun")
    garden.send(lift_limit_kg="8 kg")
    told = {one["id"].split("-")[1] for one in garden.page.select(".finding")}
    assert told == {"sun", "balance", "lifting", "payload", "stand"}


def test_a_block_that_cannot_be_worked_out_hides_no_caution_and_no_finding(
    garden: Garden, monkeypatch: pytest.MonkeyPatch
):
    def refuse(_: object) -> None:
        raise OutOfRangeError("Seven sorts are too many.")

    garden.point("sun")
    before = [one["id"] for one in garden.page.select(".finding")]
    for block in ("work_balance", "work_lifts", "work_power", "sum_places", "pack"):
        monkeypatch.setattr(f"server.web.load.blocks.{block}", refuse)
    for path in ("load", "packing"):
        page = page_of(garden.client.get(f"/bench/{garden.id}/{path}"))
        cautions = [one.get_text() for one in page.select(".load-cautions li")]
        assert cautions[0].startswith("The Sun.")
        assert any("go on before the tube" in one for one in cautions)
        assert any("ask a clinician" in one for one in cautions), "lifting cannot be judged: it is warned of"
        assert "Seven sorts are too many." in page.get_text()
    page = garden.page
    assert [one["id"] for one in page.select(".finding")] == before
    assert page.select_one("#load-lift-0-name")["value"] == "mount onto the tripod"


def test_the_packing_list_has_the_cautions_first_and_marks_what_two_should_lift(garden: Garden):
    garden.point("sun")
    garden.send(lift_limit_kg="8 kg")
    answer = garden.client.get(f"/bench/{garden.id}/packing")
    page = page_of(answer)
    assert page.select(".load-cautions li")[0].get_text().startswith("The Sun.")
    assert answer.text.index("load-cautions") < answer.text.index("packing-case")
    marked = [one.find_parent("li").get_text(" ", strip=True) for one in page.select("li .packing-heavy")]
    assert len(marked) == 1, "of all pieces only the mount weighs more than 8 kg: 8.2 kg"
    assert "Boulder 14" in marked[0]
    assert "two people" in marked[0]
    garden.send(lift_limit_kg="")
    page = page_of(garden.client.get(f"/bench/{garden.id}/packing"))
    assert not page.select("li .packing-heavy"), "8.2 kg is below 9.07 kg, 20 lb"


def test_without_a_limit_of_ones_own_heavy_loads_are_marked_all_the_same(garden: Garden):
    """Many keep what they lift alone below 20 lb, 9.07 kg (common practice, no source)."""
    both = [garden.part("Boulder 14"), garden.part("3.5 kg")]
    said = words_of(garden.send(lift_limit_kg="", lift__0__part=both))
    assert "Mount onto the tripod : 11.70 kg heavy: two people" in said
    said = words_of(garden.send(lift__0__people="2"))
    assert "Mount onto the tripod : 11.70 kg 2 parts Stonecrake" in said
    assert "by 2 people, and the lifting equation is for one" in said


def test_how_a_device_is_fed_is_chosen_kept_and_shown_again(garden: Garden):
    selects = {str(one["name"]): one for one in garden.page.select("select[name^=feed-]")}
    assert selects, "each device that takes current is asked about"
    name = next(iter(selects))
    number = int(name.split("-")[1])
    garden.client.post(garden.url, data=garden.form() | {name: "converter"}, follow_redirects=True)
    assert [(feed.part_id, feed.by) for feed in garden.plan.feeds] == [(number, "converter")]
    assert garden.page.select_one(f"select[name={name}] option[selected]")["value"] == "converter"
    answer = garden.client.post(garden.url, data=garden.form() | {name: str(number)}, follow_redirects=True)
    assert answer.status_code == 422, "nothing hangs on a port of its own"
    assert "how it is fed" in words_of(answer)
    garden.client.post(garden.url, data=garden.form() | {name: ""}, follow_redirects=True)
    assert garden.plan.feeds == ()
