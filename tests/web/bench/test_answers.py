"""What the bench answers to what was just done: brought back, taken back, refused with a way out, removed."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient

from server.domain.verdicts import Later
from tests.web.bench.test_page import HTMX, Bench, enter, page_of, words_of

# On SQLite and on PostgreSQL.

TUBE = {"model": "Tube", "focal_length_mm": "400", "aperture_mm": "80", "camera_side": "M48x0.75 female"}
RING = {
    "model": "Ring",
    "length_mm": "10",
    "sky_side": "M48x0.75 male",
    "camera_side": "M48x0.75 female",
    "clear_aperture_mm": "44",
}


@pytest.fixture
def rig(ann: TestClient) -> Bench:
    bench = Bench(ann)
    for kind, texts in (("optical_tube", TUBE), ("spacer_ring", RING)):
        bench.post(verb="add", part_id=enter(ann, kind, **texts))
    return bench


def saved(rig: Bench, title: str) -> str:
    answer = rig.client.post(
        f"{rig.url}/save", data={"version": rig.version, "title": title}, follow_redirects=False
    )
    return str(answer.headers["location"])


def test_bringing_back_says_that_todays_figures_count_and_which_parts_differ(rig: Bench) -> None:
    entry = saved(rig, "As bought")
    ring = rig.page.select(".place-name a")[1]["href"]
    form = page_of(rig.client.get(f"{ring}/edit"))
    revision = form.select_one("[name=revision]")["value"]
    texts = {**RING, "maker": "Brindle", "length_mm": "12", "revision": revision}
    assert rig.client.post(f"{ring}/edit", data=texts).status_code == 200
    rig.post(verb="remove", place=rig.key("Ring"))

    answer = rig.client.post(f"{entry}/bring-back")
    notice = page_of(answer).select_one("#brought")
    said = " ".join(notice.get_text(" ").split())
    assert "“As bought”" in said
    assert "these differ from the entry's: Brindle Ring." in said
    assert f"{entry}#since-head" in {link["href"] for link in notice.select("a")}
    assert page_of(rig.client.get(entry)).select_one("#since-head") is not None
    # Once something else was done, the sentence would no longer be true.
    rig.post(verb="remove", place=rig.key("Ring"))
    assert page_of(rig.client.get(str(answer.url))).select_one("#brought") is None


def test_bringing_back_an_entry_whose_parts_are_unchanged_says_so(rig: Bench) -> None:
    entry = saved(rig, "As bought")
    said = words_of(rig.client.post(f"{entry}/bring-back"))
    assert "Every part is as it was in the entry." in said


def test_an_entry_of_another_rig_says_nothing_on_this_one(rig: Bench) -> None:
    entry = saved(rig, "As bought")
    number = entry.rsplit("/", 1)[1]
    other = Bench(rig.client, "Other")
    for query in (number, "999999"):
        page = page_of(rig.client.get(f"{other.url}?brought={query}"))
        assert page.select_one("#brought") is None


def test_undo_and_redo_are_told_by_what_was_undone_and_redone(rig: Bench) -> None:
    def step(name: str) -> str:
        answer = rig.client.post(f"{rig.url}/{name}", data={"version": rig.version}, headers=HTMX)
        return " ".join(page_of(answer).select_one("#bench-status").get_text().split())

    assert step("undo").startswith("Undone: added Brindle Ring.")
    assert step("redo").startswith("Made again: added Brindle Ring.")


def test_a_change_that_changes_nothing_does_not_tell_the_step_before_as_if_it_were_made(rig: Bench) -> None:
    typed = {str(field["name"]): str(field["value"]) for field in rig.page.select("#rules input[type=text]")}
    answer = rig.client.post(f"{rig.url}/rules", data={**typed, "version": rig.version}, headers=HTMX)
    assert page_of(answer).select_one("#bench-status").get_text().startswith("Nothing was changed.")


def test_a_filter_without_a_cell_is_refused_with_a_button_for_each_wheel(rig: Bench) -> None:
    bare = enter(rig.client, "filter", model="Bare", format="round_31", thickness_mm="2")
    lone = rig.post(verb="add", part_id=bare)
    assert lone.status_code == 422
    assert not page_of(lone).select("#bench-trouble button")

    wheel = enter(rig.client, "filter_wheel", model="Wheel", length_mm="20", positions="5")
    rig.post(verb="add", part_id=wheel)
    refused = rig.post(verb="add", part_id=bare)
    assert refused.status_code == 422
    button = page_of(refused).select_one("#bench-trouble button")
    assert button.get_text() == "Put it into Brindle Wheel"
    answer = rig.press(button)
    assert answer.status_code == 200
    assert page_of(answer).select_one(".inside li span").get_text() == "Brindle Bare"


def test_a_rig_is_removed_only_by_a_second_press_that_names_it(rig: Bench) -> None:
    fold = rig.page.select_one("details.remove")
    assert not fold.has_attr("open")
    assert "does not come back" in fold.get_text()
    assert fold.form.button.get_text() == "Remove Garden for good"
    sent = {str(field["name"]): str(field["value"]) for field in fold.form.select("input")}
    assert rig.client.post(str(fold.form["action"]), data=sent).status_code == 200
    assert rig.client.get(rig.url).status_code == 404


def test_more_pieces_than_are_owned_are_told_at_the_place_and_in_the_tray(rig: Bench) -> None:
    ring = rig.page.select(".place-name a")[1]["href"].rsplit("/", 1)[1]

    def tray_note(page: Any) -> str:
        return str(page.select_one(f".tray-item[data-part='{ring}'] .tray-note").get_text())

    assert tray_note(rig.page) == "In this rig already; you own 1."
    assert not rig.page.select(".short-of")
    page = page_of(rig.post(verb="add", part_id=ring))
    assert tray_note(page) == "In this rig already 2 times; you own 1."
    assert len(page.select("#run .short-of")) == 2
    rig.client.post(f"/shelf/{ring}/holding", data={"step": "owned:1"})
    assert not rig.page.select(".short-of")
    rig.client.post(f"/shelf/{ring}/holding", data={"step": "owned:1"})
    assert tray_note(rig.page) == "In this rig 2 times; you own 3."


def test_what_a_finding_lacks_links_to_the_field_of_its_part_and_back_to_the_rig(rig: Bench) -> None:
    number = enter(rig.client, "camera", model="Cam")
    rig.post(verb="add", part_id=number)
    links = {
        one.label.get_text(): str(one.select_one(".settle-for a")["href"])
        for one in rig.page.select(".settle-one")
        if one.label and "Brindle Cam" in one.label.get_text()
    }
    rig_id = rig.url.rsplit("/", 1)[1]
    assert links["The pixel size of Brindle Cam"] == f"/shelf/{number}/edit?rig={rig_id}#f-pixel_um"
    form = page_of(rig.client.get(f"/shelf/{number}/edit?rig={rig_id}"))
    for url in links.values():
        assert form.select_one(f"#{url.partition('#')[2]}") is not None, url
    texts = {
        "maker": "Brindle",
        "model": "Cam",
        "pixel_um": "3.76",
        "revision": form.select_one("[name=revision]")["value"],
    }
    # A mistake keeps the way back, and so does the form's own action.
    wrong = rig.client.post(str(form.select_one("#part-form")["action"]), data=texts | {"pixel_um": "3 kg"})
    action = page_of(wrong).select_one("#part-form")["action"]
    answer = rig.client.post(str(action), data=texts, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, rig.url)
    assert "The pixel size of Brindle Cam" not in words_of(rig.client.get(rig.url))


def test_what_is_not_judged_is_said_at_the_foot_of_the_findings(rig: Bench) -> None:
    foot = rig.page.select_one(".bench-feet > #not-judged")
    assert "Guiding" in foot.get_text()
    assert len(foot.select("li")) > 3


def test_an_imperial_reader_has_scale_bars_of_round_inches(rig: Bench) -> None:
    rig.client.post("/units", data={"units": "imperial"})
    # An inch is 25.4 mm exactly (international yard and pound agreement, 1959).
    bars = [float(str(bar["data-mm"])) / 25.4 for bar in rig.page.select("g.dw-scale")]
    assert bars
    for inches in bars:
        assert round(inches, 2) == pytest.approx(inches, abs=1e-9)
    words = [bar.get_text() for bar in rig.page.select("g.dw-scale text")]
    assert all(text.endswith(" in") for text in words)


def test_every_rule_of_the_form_is_read_from_it(rig: Bench) -> None:
    typed = {str(field["name"]): str(field["value"]) for field in rig.page.select("#rules input[type=text]")}
    assert len(typed) >= 5
    refused = rig.post("rules", **dict.fromkeys(typed, "no number"))
    page = page_of(refused)
    assert refused.status_code == 422
    for name in typed:
        assert page.select_one(f"#rule-{name}")["value"] == "no number"
        assert page.select_one(f"#rule-{name}-error") is not None
    assert rig.post("rules", **typed).status_code == 200


def test_a_change_is_told_with_what_turned_by_it_and_not_with_what_stood_there_before(rig: Bench) -> None:
    def told(**change: Any) -> str:
        headers = HTMX | {"Trainwright-Stood": str(rig.page.select_one("#bench")["data-stood"])}
        answer = rig.client.post(
            f"{rig.url}/change", data={"version": rig.version, **change}, headers=headers
        )
        return " ".join(page_of(answer).select_one("#bench-status").get_text().split())

    camera = enter(rig.client, "camera", model="Cam", sky_side="M42x0.75 male", flange_mm="17.5")
    assert "Stop: Joint" in told(verb="add", part_id=camera)
    tripod = enter(rig.client, "support", model="Tripod", mass_kg="5 kg")
    said = told(verb="gear", part_id=tripod)
    assert said.startswith("Added Brindle Tripod")
    assert "Joint" not in said, "it was there before, and a tripod has nothing to do with it"
    assert said.endswith("What is found stays the same.")
    assert "No longer: Joint" in told(verb="remove", place=rig.key("Cam"))


def test_a_change_puts_no_inputs_together_and_its_workings_do(
    rig: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Any] = []
    made = Later.__init__

    def counted(self: Later, put_together: Any, *of: Any) -> None:
        def asked_for() -> Any:
            asked.append(of)
            return put_together(*of)

        made(self, asked_for)

    monkeypatch.setattr(Later, "__init__", counted)
    mount = enter(rig.client, "mount", model="Mount", rated_kg="15")
    change = page_of(rig.post(verb="add", part_id=mount))
    workings = [str(link["href"]) for link in change.select("[data-fetch]")]
    assert workings
    assert asked == []
    tables = [page_of(rig.client.get(working)).select_one("table.inputs") for working in workings]
    assert any(tables)
    assert asked
