"""The Bench as a browser meets it: beginning a rig, every change on it, refusals in words, saving.

Mostly as a browser without JavaScript; where htmx asks, its request headers are sent (htmx 4: HX-Request).
"""

from __future__ import annotations

import re
from typing import Any

import pytest
from bs4 import BeautifulSoup, Tag
from fastapi.testclient import TestClient

from server import paths
from server.rim.demo_club import load_demo_club
from server.store import Stores

HTMX = {"HX-Request": "true"}
VERSION = re.compile(r'<[^>]* id="bench"[^>]* data-version="(\d+)"')


def page_of(answer: Any) -> BeautifulSoup:
    return BeautifulSoup(answer.text, "html.parser")


def words_of(answer: Any) -> str:
    return " ".join(page_of(answer).get_text(" ").split())


def enter(client: TestClient, kind: str, **texts: str) -> int:
    """Enter a part through its form and put one on the shelf; the number it got."""
    data = {"maker": "Brindle", "owned": "1", **texts}
    answer = client.post(f"/shelf/new?kind={kind}", data=data, follow_redirects=False)
    assert answer.status_code == 303, words_of(answer)
    return int(answer.headers["location"].removeprefix("/shelf/").partition("?")[0])


class Bench:
    """One rig in one browser, with the version that its page shows."""

    def __init__(self, client: TestClient, name: str = "Garden") -> None:
        self.client = client
        answer = client.post("/bench", data={"name": name}, follow_redirects=False)
        assert answer.status_code == 303
        self.url = answer.headers["location"]

    @property
    def page(self) -> BeautifulSoup:
        return page_of(self.client.get(self.url))

    @property
    def version(self) -> str:
        # To parse the page for it, before each post, took a third of these tests' time.
        (found,) = VERSION.findall(self.client.get(self.url).text)
        return str(found)

    def post(self, step: str = "change", **data: Any) -> Any:
        data = {"version": self.version, **data}
        return self.client.post(f"{self.url}/{step}", data=data)

    def names(self) -> list[str]:
        return [" ".join(name.get_text().split()) for name in self.page.select(".place-name a")]

    def key(self, name: str) -> str:
        for place in self.page.select("li.place"):
            link = place.select_one(".place-name a")
            if link is not None and name in link.get_text():
                return str(place["data-key"])
        raise AssertionError(f"{name} is not in the run")

    def sentences(self) -> dict[str, str]:
        """The findings' sentences by title; the last one where a title stands twice."""
        return {
            finding.select_one("h2, h3, .line-title").get_text(): " ".join(
                finding.select_one(".finding-sentence").get_text().split()
            )
            for finding in self.page.select(".finding")
        }

    def press(self, button: Any) -> Any:
        """What a button of the bench's one form does."""
        form = self.page.select_one(f"form#{button['form']}")
        assert isinstance(form, Tag)
        sent = {str(one["name"]): str(one["value"]) for one in form.select("input")}
        return self.client.post(str(form["action"]), data=sent | {str(button["name"]): str(button["value"])})


@pytest.fixture
def parts(ann: TestClient) -> dict[str, int]:
    """A tube, a corrector that asks for 55 mm, two rings that make it with the camera, a mount."""
    return {
        "tube": enter(
            ann,
            "optical_tube",
            model="Tube",
            aperture_mm="80 mm",
            focal_length_mm="480 mm",
            obstruction_mm="0",
            camera_side="M63x1 male",
            image_circle_mm="44",
            mass_kg="3 kg",
        ),
        "corrector": enter(
            ann,
            "corrector",
            model="Flat",
            factor="1",
            back_focus_mm="55 +- 0.2 mm",
            sky_side="M63x1 female",
            camera_side="M48x0.75 male",
            corrected_circle_mm="44",
            mass_kg="0.4",
        ),
        "ring20": enter(
            ann,
            "spacer_ring",
            model="Ring 20",
            length_mm="20",
            sky_side="M48x0.75 female",
            camera_side="M48x0.75 male",
            clear_aperture_mm="46",
            mass_kg="30 g",
            reversible="yes",
        ),
        "ring17": enter(
            ann,
            "spacer_ring",
            model="Ring 17.5",
            length_mm="17.5",
            sky_side="M48x0.75 female",
            camera_side="M48x0.75 male",
            clear_aperture_mm="46",
            mass_kg="30 g",
        ),
        "camera": enter(
            ann,
            "camera",
            model="Camera",
            sky_side="M48x0.75 female",
            flange_mm="17.5",
            flange_quoted="optical",
            width_px="6000",
            height_px="4000",
            pixel_um="3.76",
            mass_kg="0.6",
        ),
        "mount": enter(ann, "mount", model="Mount", rated_kg="20 kg", mass_kg="9"),
    }


@pytest.fixture
def bench(ann: TestClient, parts: dict[str, int]) -> Bench:
    """The whole train, sound."""
    made = Bench(ann)
    for name in ("tube", "camera", "corrector", "ring20", "ring17"):
        assert made.post(verb="add", part_id=parts[name]).status_code == 200
    return made


def test_a_rig_begins_empty_and_says_how_to_begin(ann: TestClient) -> None:
    bench = Bench(ann)
    assert bench.names() == []
    assert "Begin with the tube and the camera" in words_of(ann.get(bench.url))


def test_a_rig_without_a_name_is_refused_beside_its_field(ann: TestClient) -> None:
    answer = ann.post("/bench", data={"name": "   "})
    assert answer.status_code == 422
    assert "Give the rig a name" in page_of(answer).select_one(".field-error").get_text()


def test_tube_and_camera_take_the_ends_and_the_rest_goes_between(bench: Bench) -> None:
    assert bench.names() == [
        "Brindle Tube",
        "Brindle Flat",
        "Brindle Ring 20",
        "Brindle Ring 17.5",
        "Brindle Camera",
    ]
    assert bench.sentences()["Spacing"].startswith("The sensor sits where Brindle Flat asks for it")


def test_a_part_added_at_a_joint_stands_there(bench: Bench, parts: dict[str, int]) -> None:
    bench.post(verb="add", part_id=parts["ring20"], at=2)
    assert bench.names()[2:4] == ["Brindle Ring 20", "Brindle Ring 20"]
    assert "20.00 mm too far behind" in bench.sentences()["Spacing"]


def test_a_part_moves_up_and_down_and_never_past_the_ends(bench: Bench) -> None:
    bench.post(verb="move", to=2, place=bench.key("Ring 17.5"))
    assert bench.names()[2:4] == ["Brindle Ring 17.5", "Brindle Ring 20"]
    bench.post(verb="move", to=99, place=bench.key("Ring 17.5"))
    assert bench.names()[-1] == "Brindle Camera"


def test_what_was_done_can_be_undone_and_redone_in_words(bench: Bench) -> None:
    bench.post(verb="remove", place=bench.key("Ring 20"))
    assert "Undo: took out Brindle Ring 20" in bench.page.select_one("#undo").get_text()
    bench.post("undo")
    assert "Brindle Ring 20" in bench.names()
    bench.post("redo")
    assert "Brindle Ring 20" not in bench.names()


def test_a_reversible_part_is_turned_round_and_others_offer_no_button(bench: Bench) -> None:
    assert bench.page.select_one(f"#flip-{bench.key('Ring 17.5')}") is None
    key = bench.key("Ring 20")
    bench.post(verb="flip", place=key)
    assert "turned round" in bench.page.select_one(f"#place-{key}").get_text()


def test_a_joint_that_does_not_mate_is_a_stop_and_names_the_adapter_on_the_shelf(
    ann: TestClient, parts: dict[str, int]
) -> None:
    enter(ann, "camera", model="Small", sky_side="M42x0.75 female", flange_mm="17.5", flange_quoted="optical")
    adapter = enter(
        ann,
        "adapter",
        model="48 to 42",
        sky_side="M48x0.75 female",
        camera_side="M42x0.75 male",
        length_mm="3 mm",
    )
    bench = Bench(ann)
    small = next(i["data-part"] for i in bench.page.select(".tray-item") if "Small" in i.get_text())
    for part in (parts["tube"], small, parts["corrector"]):
        bench.post(verb="add", part_id=part)
    assert "Stop" in bench.page.select_one("#answer").get_text()
    assert "Brindle 48 to 42 on your shelf joins them" in words_of(ann.get(bench.url))
    bench.post(verb="add", part_id=adapter, at=2)
    assert "Joint" not in bench.sentences()
    assert "All 3 joints mate" in bench.sentences()["Joints"]


def test_the_load_is_summed_once_a_mount_stands_beside_the_train(bench: Bench, parts: dict[str, int]) -> None:
    assert "add a mount" in bench.sentences()["Load"]
    bench.post(verb="gear", part_id=parts["mount"], quantity=1)
    assert "The load is 4.1 kg of the 12.0 kg that is usual for imaging" in bench.sentences()["Load"]


def test_adding_a_part_beside_again_brings_one_more(bench: Bench, parts: dict[str, int]) -> None:
    tray = page_of(bench.client.get(f"{bench.url}?tray=1"))
    button = tray.select_one(f'.tray-item[data-part="{parts["mount"]}"] button')
    assert isinstance(button, Tag)
    assert bench.press(button).status_code == 200
    assert "1 part, 9.0 kg" in words_of(bench.client.get(bench.url))
    refused = bench.press(button)
    assert "A rig stands on one mount." in words_of(refused)


def test_a_solar_filter_is_added_beside_the_train_and_the_sun_is_then_sound(
    ann: TestClient, bench: Bench, parts: dict[str, int]
) -> None:
    aperture = {"clear_aperture_mm": "300 mm", "mass_kg": "0.2 kg", "format": "other"}
    noon = enter(ann, "filter", model="Noon", solar="yes", **aperture)
    item = page_of(bench.client.get(f"{bench.url}?tray=1")).select_one(f'.tray-item[data-part="{noon}"]')
    assert isinstance(item, Tag)
    assert item["data-beside"] == "1"
    assert bench.press(item.button).status_code == 200
    assert "over the front of the tube" in " ".join(bench.page.select_one("#gear").get_text(" ").split())
    assert "The Sun" not in bench.sentences()
    assert "Brindle Noon" not in bench.names()
    asked = bench.page.select_one("details#purpose[open]")
    assert asked is not None, "a part that is made for the Sun asks whether the Sun is the target"
    purpose = asked.select_one("form")
    assert isinstance(purpose, Tag)
    assert "Brindle Noon" in asked.get_text()
    saved = ann.post(str(purpose["action"]), data={"for": "sun"}, follow_redirects=False)
    assert saved.status_code == 303, words_of(saved)
    assert bench.page.select_one("details#purpose input[value=sun][checked]") is not None
    assert "Brindle Noon sits over the front of the tube" in bench.sentences()["The Sun"]
    bench.post(verb="gear", part_id=noon, quantity=0)
    assert "do not point it there" in bench.sentences()["The Sun"]


def test_a_stale_change_is_refused_in_words_and_changes_nothing(bench: Bench) -> None:
    old = bench.version
    bench.post(verb="remove", place=bench.key("Ring 20"))
    answer = bench.post(version=old, verb="remove", place=bench.key("Ring 17.5"))
    assert answer.status_code == 409
    assert "was changed elsewhere" in words_of(answer)
    assert "Brindle Ring 17.5" in bench.names()


def test_htmx_gets_the_bench_alone_with_its_new_version(bench: Bench) -> None:
    data: dict[str, Any] = {
        "version": bench.version,
        "verb": "move",
        "to": 2,
        "place": bench.key("Ring 17.5"),
    }
    answer = bench.client.post(f"{bench.url}/change", data=data, headers=HTMX)
    assert answer.status_code == 200
    assert answer.text.lstrip().startswith('<div id="bench"')
    block = page_of(answer).select_one("#bench")
    assert block is not None
    assert int(str(block["data-version"])) == int(data["version"]) + 1
    assert "Moved Brindle Ring 17.5" in block.get_text()


def test_the_tray_offers_first_what_mates_at_a_joint(bench: Bench) -> None:
    tray = page_of(bench.client.get(f"{bench.url}?at=2", headers=HTMX))
    assert tray.select_one("#tray-title").get_text() == "After Brindle Flat"
    first = tray.select_one(".tray-list")
    assert first is not None
    names = [name.get_text() for name in first.select(".tray-name")]
    assert "Brindle Ring 20" in names
    assert "Brindle Tube" not in names


def test_a_change_that_makes_no_sense_is_refused_in_words(bench: Bench, parts: dict[str, int]) -> None:
    answer = bench.post(verb="add", part_id=parts["mount"])
    assert answer.status_code == 422
    assert "not a part of the light path" in words_of(answer)
    assert bench.post(verb="fly", place=1).status_code == 422
    assert bench.post(verb="remove", place=99).status_code == 422
    assert bench.post(verb="add", part_id=999_999).status_code == 404


def test_rules_are_typed_with_units_and_refused_at_their_field(bench: Bench) -> None:
    answer = bench.post("rules", seeing_arcsec="3 kg", spacing_mm="0.5 mm")
    assert answer.status_code == 422
    page = page_of(answer)
    assert "mass" in page.select_one("#rule-seeing_arcsec-error").get_text()
    assert page.select_one("#rule-seeing_arcsec")["value"] == "3 kg"
    bench.post("rules", seeing_arcsec="2 arcsec", spacing_mm="0.02 in")
    assert "air of 2 arcsec" in bench.sentences()["Sampling"]


def test_an_entry_without_a_title_keeps_its_note(bench: Bench) -> None:
    answer = bench.post("save", title="", note="clear night")
    assert answer.status_code == 422
    assert page_of(answer).select_one("#save-note").get_text() == "clear night"
    assert "Give the entry a title" in words_of(answer)


def test_saving_leads_to_the_entry(bench: Bench) -> None:
    answer = bench.post("save", title="First light", note="")
    assert answer.status_code == 200
    assert "First light" in words_of(answer)


def test_every_number_can_be_asked_how_it_was_worked_out(bench: Bench) -> None:
    asked = bench.page.select("a[data-fetch]")
    assert len(asked) > 10
    for link in asked:
        whole = bench.client.get(str(link["href"]))
        assert page_of(whole).select_one("h1").get_text() == "How this was worked out"
        part = page_of(bench.client.get(str(link["href"]), headers=HTMX))
        assert part.select_one(".working-in .source") is not None, link["href"]
        assert part.select_one("h1") is None


def test_the_working_of_what_is_found_no_longer_is_not_there(bench: Bench) -> None:
    answer = bench.client.get(f"{bench.url}/working/spacing.no_such")
    assert answer.status_code == 404
    assert "Load its page again" in words_of(answer)


def test_another_observers_rig_is_not_there(bench: Bench) -> None:
    other = TestClient(bench.client.app, base_url=str(bench.client.base_url))
    other.post("/observers", data={"name": "Bob", "units": "imperial"})
    assert other.get(bench.url).status_code == 404
    assert (
        other.post(f"{bench.url}/change", data={"version": 1, "verb": "remove", "place": 1}).status_code
        == 404
    )


def test_an_imperial_reader_reads_inches_and_pounds(bench: Bench) -> None:
    bench.client.post("/units", data={"units": "imperial"})
    page = bench.page
    assert "0.787 in" in page.select_one(f"#place-{bench.key('Ring 20')}").get_text()
    assert "lb" in bench.sentences()["Load"]


def test_names_that_hold_markup_or_braces_are_shown_as_they_are(
    ann: TestClient, parts: dict[str, int]
) -> None:
    name = "<script>alert(1)</script> {error} {0}"
    hostile = enter(
        ann, "spacer_ring", model=name, length_mm="1", sky_side="M48x0.75 f", camera_side="M48x0.75 m"
    )
    bench = Bench(ann, name)
    for part in (parts["tube"], parts["camera"], parts["corrector"], hostile):
        bench.post(verb="add", part_id=part)
    answer = ann.get(bench.url)
    assert "<script>alert" not in answer.text
    assert f"Brindle {name}" in bench.names()


def test_filters_go_into_a_wheel_and_the_first_is_in_the_beam(bench: Bench) -> None:
    wheel = enter(
        bench.client,
        "filter_wheel",
        model="Wheel",
        length_mm="20",
        positions="2",
        sky_side="M48x0.75 f",
        camera_side="M48x0.75 m",
    )
    red = enter(
        bench.client, "filter", model="Red", format="round_36", thickness_mm="2 mm", refractive_index="1.5"
    )
    blue = enter(bench.client, "filter", model="Blue", format="round_36", thickness_mm="3 mm")
    bench.post(verb="swap", place=bench.key("Ring 20"), part_id=wheel)
    key = bench.key("Wheel")
    assert bench.post(verb="add", part_id=red).status_code == 422
    bench.post(verb="put_filter", place=key, part_id=red)
    # 2 mm of index 1.5 at f/6 by hand: tan u = 1/12, 2 (1 - 0.996546 / 1.497699) = 0.66923 mm (plane-parallel
    # plate; Smith, Modern Optical Engineering, from memory): 55 mm asked becomes 55.67 mm.
    assert (
        "55.67 mm is asked for" in bench.sentences()["Spacing"]
        or "of 55.67 mm" in bench.sentences()["Spacing"]
    )
    bench.post(verb="put_filter", place=key, part_id=blue)
    beam = bench.page.select_one(f"#place-{key} .inside li")
    assert "Blue" in beam.get_text()
    assert "in the beam" in beam.get_text()


def test_the_demo_clubs_faulty_rig_is_mended_by_the_remedy_it_offers(
    client: TestClient, stores: Stores
) -> None:
    with stores.writing() as store:
        load_demo_club(store, paths.SEED_DATA)
        ruta = next(o for o in store.observers() if o.name.startswith("Ruta"))
    client.post("/observers/choose", data={"observer": ruta.id})
    link = next(
        a for a in page_of(client.get("/bench")).select(".cards h2 a") if a.get_text() == "Fast Newtonian"
    )
    url = str(link["href"])
    page = page_of(client.get(url))
    assert "stop" in page.select_one("#answer")["class"]
    data = {
        "version": page.select_one("#bench")["data-version"],
        "press": page.select_one("#answer button")["value"],
    }
    answer = page_of(client.post(f"{url}/change", data=data))
    assert "stop" not in answer.select_one("#answer")["class"]


def test_an_address_with_a_number_beyond_the_database_is_not_there(ann: TestClient) -> None:
    assert ann.get("/bench/99999999999999999999").status_code in (404, 422)
    assert ann.get("/logbook/99999999999999999999").status_code in (404, 422)
