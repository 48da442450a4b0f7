"""The load's pages as a browser meets them. The figures of the demo rig are worked by hand in
seed_data/rigs.toml.
"""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient

from server.flow.workbench import Workbench
from server.rim.phrasebook.tell import tell
from server.store import Stores
from tests.places import Place
from tests.web.club import observer_named, page_of, sit_down, words_of

NAME = "Wide lens on the garden mount"


@pytest.fixture
def place(club_place: Place) -> Place:
    return club_place


class Garden:
    """Annika's rig whose load fails in two ways, before she had any site."""

    def __init__(self, client: TestClient, stores: Stores) -> None:
        self.client, self.stores = client, stores
        self.owner = observer_named(stores, "Annika Thornquist")
        sit_down(client, self.owner)
        with stores.writing() as store:
            for one in store.sites(self.owner.id):
                store.remove_site(one.id)
        with stores.reading() as store:
            self.id = next(r.id for r in Workbench(store, self.owner, tell).rigs() if r.name == NAME)
        self.url = f"/bench/{self.id}/load"

    @property
    def plan(self) -> Any:
        with self.stores.reading() as store:
            return Workbench(store, self.owner, tell).bench(self.id).rig.load

    @property
    def page(self) -> Any:
        return page_of(self.client.get(self.url))

    def form(self) -> dict[str, Any]:
        """What the page's form holds, as a browser sends it."""
        found: dict[str, Any] = {}
        form = self.page.select_one("form#load")
        for field in form.select("input[type=text], input[type=hidden], input[type=checkbox][checked]"):
            name = str(field["name"])
            if field["type"] == "checkbox":
                found.setdefault(name, []).append(str(field["value"]))
            else:
                found[name] = str(field.get("value", ""))
        for select in form.select("select"):
            chosen = select.select_one("option[selected]")
            found[str(select["name"])] = str(chosen["value"]) if chosen else ""
        return found

    def send(self, **typed: Any) -> Any:
        """Send the form with those fields typed; "__" in a name stands for "-"."""
        names = {name.replace("__", "-"): text for name, text in typed.items()}
        return self.client.post(self.url, data=self.form() | names, follow_redirects=True)

    def point(self, *at: str) -> Any:
        """Say what the rig is for, as its form on the bench sends it."""
        return self.client.post(f"/bench/{self.id}/purpose", data={"for": list(at)}, follow_redirects=True)

    def part(self, name: str) -> int:
        """The number of the rig's part of that name."""
        labels = self.page.select("#lift label.tick")
        box = next(label for label in labels if name in label.get_text()).select_one("input")
        return int(str(box["value"]))


@pytest.fixture
def garden(client: TestClient, stores: Stores) -> Garden:
    return Garden(client, stores)


def test_all_three_faults_are_said_with_what_to_change(garden: Garden):
    said = words_of(garden.client.get(garden.url))
    assert "1.7 kg of the 8.4 kg that is usual" in said
    assert "No counterweight at hand balances the load" in said
    assert "Get a weight of 0.96 kg" in said
    assert "Above your own limit of 8 kg" in said
    assert "lift it with two people" in said


def test_the_cautions_stand_open_and_first(garden: Garden):
    answer = garden.client.get(garden.url)
    page = page_of(answer)
    cautions = page.select(".load-cautions li")
    assert any("ask a clinician" in one.get_text() for one in cautions)
    assert any("go on before the tube" in one.get_text() for one in cautions)
    assert page.select_one("details .caution") is None
    assert answer.text.index("load-cautions") < answer.text.index("finding-sentence")


def test_where_the_sun_is_the_target_its_caution_and_its_finding_come_first(garden: Garden):
    garden.point("sun")
    page = garden.page
    assert page.select(".load-cautions li")[0].get_text().startswith("The Sun.")
    assert (
        page.select("article.finding h3")[0].get_text()
        == page.select("article[id^=finding-sun] h3")[0].get_text()
    )
    assert garden.plan.sun


def test_the_balance_is_drawn_and_says_the_same_in_words(garden: Garden):
    picture = garden.page.select_one(".load-picture svg")
    assert picture is not None
    said = picture.select_one("desc").get_text()
    # (0.78 x 62 + 0.096 x 130 + 0.62 x 161 + 0.24 x 60) / 1.736 mm: about 101 (the files' own figures).
    assert "balance 101 mm from the front" in said


def test_what_the_owner_measures_wins_and_is_kept_with_undo(garden: Garden):
    answer = garden.send(balance_mm="4 in")
    assert garden.plan.balance_mm == pytest.approx(101.6)
    assert "102 mm (measured)" in words_of(answer)
    bench = page_of(garden.client.get(f"/bench/{garden.id}"))
    assert "changed the plan of the load" in bench.select_one("#undo").get_text()


def test_what_cannot_be_read_is_said_at_its_field_and_nothing_is_kept(garden: Garden):
    before = garden.plan
    answer = garden.send(clamp_mm="3 kg", lift_limit_kg="9 kg")
    assert answer.status_code == 422
    page = page_of(answer)
    assert page.select_one("#load-clamp_mm-error") is not None
    assert page.select_one("#load-clamp_mm")["value"] == "3 kg"
    assert page.select_one("#load-lift_limit_kg")["value"] == "9 kg"
    assert garden.plan == before


def test_a_lift_is_added_with_its_carry_and_taken_out(garden: Garden):
    parts = [str(box["value"]) for box in garden.page.select("#lift input[type=checkbox]")][:2]
    planned = len(garden.plan.lifts)
    answer = garden.send(
        lift__new__name="all in one",
        lift__new__carry_mm="40 m",
        lift__new__trips="2",
        lift__new__part=parts,
        do="lift",
    )
    assert "all in one" in words_of(answer)
    assert f"Stored: lifts: {planned + 1} in the plan" in words_of(answer)
    assert garden.plan.lifts[-1].carry_mm == 40_000.0
    garden.send(do=f"drop-lift:{planned}")
    assert len(garden.plan.lifts) == planned


def test_a_lift_of_nothing_is_refused_and_what_was_typed_stays(garden: Garden):
    answer = garden.send(lift__new__carry_mm="40 m", do="lift")
    assert answer.status_code == 422
    page = page_of(answer)
    assert page.select_one("#load-lift-new-part-error") is not None
    assert page.select_one("#load-lift-new-name-error") is not None
    assert page.select_one("#load-lift-new-carry_mm")["value"] == "40 m"
    assert page.select_one("details#lift").has_attr("open")


def test_a_stale_page_is_refused_in_words_and_keeps_what_was_typed(garden: Garden):
    form = garden.form()
    garden.send(clamp_mm="90 mm")
    answer = garden.client.post(garden.url, data=form | {"clamp_mm": "80 mm"})
    assert answer.status_code == 409
    assert "changed meanwhile" in words_of(answer)
    assert page_of(answer).select_one("#load-clamp_mm")["value"] == "80 mm"
    assert garden.plan.clamp_mm == 90.0


def test_the_packing_list_sums_each_case_and_keeps_what_is_typed(garden: Garden):
    url = f"/bench/{garden.id}/packing"
    page = page_of(garden.client.get(url))
    assert [head.get_text(" ", strip=True) for head in page.select(".packing-case h2")] == [
        "Small case 1.74 kg",
        "Loose 24.90 kg",
    ]
    assert len(page.select(".packing-box")) == 8
    fields = {str(i["name"]): str(i["value"]) for i in page.select("form.load-form input")}
    mount = next(
        str(label["for"]) for label in page.select("label") if label.get_text() == "Stonecrake Boulder 14"
    )
    answer = garden.client.post(url, data=fields | {mount: "Blue crate"}, follow_redirects=True)
    assert "Blue crate 8.20 kg" in words_of(answer)
    assert "Stored: which case each part travels in" in words_of(answer)
    long = garden.client.post(url, data=fields | {mount: "x" * 80})
    assert long.status_code == 422
    assert "too many: 60 at most" in words_of(long)
    above = page_of(long).select_one("#refused[role=alert]")
    assert "1 field could not be taken" in above.get_text()
    assert above.select_one("a")["href"] == f"#{mount}"
    assert [field["id"] for field in page_of(long).select("[autofocus]")] == [mount]


def test_an_empty_rig_says_what_goes_here(client: TestClient, garden: Garden):
    started = client.post("/bench", data={"name": "Nothing yet"}, follow_redirects=True)
    number = str(started.url).rsplit("/", 1)[-1].split("?")[0]
    assert client.get(f"/bench/{number}/load").status_code == 200
    assert "nothing to pack yet" in words_of(client.get(f"/bench/{number}/packing"))


def test_the_bench_leads_to_the_load_and_to_the_packing_list(garden: Garden):
    bench = page_of(garden.client.get(f"/bench/{garden.id}"))
    assert bench.select_one(f"a[href='{garden.url}']") is not None
    assert bench.select_one(f"a[href='/bench/{garden.id}/packing']") is not None


def test_the_night_and_a_lead_are_kept_and_judged(garden: Garden):
    said = words_of(garden.send(latitude_deg="52", night="2026-12-21"))
    assert "from sunset to sunrise on 21 December 2026" in said
    assert "at full cooling all night" in said
    camera = str(garden.page.select("#load-lead-device option")[1]["value"])
    lead = {"lead__device": camera, "do": "lead"}
    answer = garden.send(**lead, lead__wire="20 AWG", lead__length_mm="3 m")
    assert garden.plan.cables[0].gauge_awg == 20
    assert garden.plan.cables[0].length_mm == 3000.0
    assert "20 AWG, 3 m: loses" in words_of(answer)
    bad = garden.send(**lead, lead__wire="thick", lead__length_mm="3 kg")
    assert bad.status_code == 422
    assert page_of(bad).select_one("#load-lead-wire-error") is not None
    assert page_of(bad).select_one("#load-lead-wire")["value"] == "thick"
    garden.send(do=f"drop-lead:{camera}")
    assert garden.plan.cables == ()


SITE = {
    "name": "Suburban garden",
    "latitude_deg": "50.1234 N",
    "longitude_deg": "8.6543 E",
    "zone": "Europe/Berlin",
    "horizon": "0: 30",
}


def choose(garden: Garden, site: str) -> Any:
    """Choose the usual site, as its form on the load's page sends it."""
    page = garden.page
    select = page.select_one("#load-site")
    form = page.select_one(f"form#{select['form']}")
    return garden.client.post(
        str(form["action"]),
        data={str(select["name"]): site},
        headers={"referer": f"{garden.client.base_url}{garden.url}"},
        follow_redirects=True,
    )


def test_without_a_site_the_page_leads_to_where_one_is_entered(garden: Garden):
    page = garden.page
    assert page.select_one("#load-site") is None
    assert page.select_one("section[aria-labelledby=power-head] a[href='/sky/sites/new']") is not None


def test_the_night_is_reckoned_for_the_usual_site_until_a_latitude_is_typed(garden: Garden):
    garden.send(night_hours="", night="2026-12-21")
    garden.client.post("/sky/sites/new", data=SITE)
    (site,) = (str(one["value"]) for one in garden.page.select("#load-site option") if one["value"])
    before = garden.form()
    answer = choose(garden, site)
    said = words_of(answer)
    assert "hours, from sunset to sunrise on 21 December 2026, by Suburban garden." in said
    page = page_of(answer)
    assert page.select_one("#load-site option[selected]")["value"] == site
    assert page.select_one("#load-latitude_deg")["value"] == "", "nothing of it is typed"
    assert garden.form()["version"] == before["version"]
    garden.send(balance_mm="444")
    with garden.stores.reading() as store:
        stored = Workbench(store, garden.owner, tell).bench(garden.id).stored
    assert (stored.plan.load.balance_mm, stored.plan.load.latitude_deg) == (444.0, None)
    garden.client.post(f"/bench/{garden.id}/purpose", data={"for": ["sun"]})
    garden.client.post(f"/bench/{garden.id}/packing", data={"version": garden.form()["version"]})
    assert garden.page.select_one("#load-latitude_deg")["value"] == ""
    typed = words_of(garden.send(latitude_deg="52"))
    assert "at Greenwich's longitude: it may be some minutes off" in typed
    assert "by Suburban garden" not in typed
    assert "What is typed of the night counts in its place." in typed
    garden.send(latitude_deg="")
    assert "by Suburban garden" not in words_of(choose(garden, ""))


def test_a_year_in_which_the_sun_is_not_known_is_said_at_its_field(garden: Garden):
    for year in ("1972", "2099"):
        answer = garden.send(night=f"{year}-06-01")
        assert answer.status_code == 422
        assert "from 1973 to 2098" in page_of(answer).select_one("#load-night-error").get_text()
    for year in ("1973", "2098"):
        assert garden.send(night=f"{year}-06-01").status_code == 200


def test_a_date_that_is_none_is_said_at_its_field(garden: Garden):
    answer = garden.send(night="next Friday"[:10])
    assert answer.status_code == 422
    assert "is no date" in page_of(answer).select_one("#load-night-error").get_text()


STEPS = ("Mass and rating", "What is lifted", "Balance", "Power")


def test_the_page_goes_in_four_steps_and_each_is_a_press_away(garden: Garden):
    page = garden.page
    assert [head.get_text(strip=True) for head in page.select("form#load > .card > h2")] == list(STEPS)
    links = page.select("nav[aria-label=Steps] a")
    assert all(page.select_one(str(link["href"])) is not None for link in links)
    assert len(links) == len(STEPS)


def test_balance_is_said_before_anything_of_it_is_measured(garden: Garden):
    """Five pieces of gear of which nobody said where they sit: anywhere on the tube's 372 mm."""
    with garden.stores.reading() as store:
        rigs = Workbench(store, garden.owner, tell).rigs()
    number = next(rig.id for rig in rigs if rig.name == "Garden refractor")
    answer = garden.client.get(f"/bench/{number}/load")
    card = page_of(answer).select_one("section[aria-labelledby=balance-head]")
    said = " ".join(card.get_text(" ").split())
    # 1411.2 kg mm without them / 5.65 kg = 249.8 with each at 186 mm, and 1.76 kg x 186 / 5.65 = 57.9 either
    # way, with 3.8 for the train in its own length.
    assert "balances between 188 mm and 311 mm from the front of the tube, near 250 mm" in said
    assert "Clamp it there. To shift it, loosen the saddle only as far as it slides, hold the tube" in said
    assert "(assumed, 0 to 372 mm)" in said
    assert "what opens the range most first: where Stonecrake Rings 96 with narrow plate sits" in said
    assert card.select_one(".finding.sound") is None, "what is assumed is never sound"
    assert "balances between 188 mm and 311 mm" in card.select_one("svg desc").find_parent("svg").get_text()


def test_a_measured_balance_point_takes_the_place_of_what_is_assumed(garden: Garden):
    said = words_of(garden.send(balance_mm="100 mm", clamp_mm=""))
    assert "balances between" not in said


def test_what_the_rig_is_for_is_kept_and_taken_back(garden: Garden):
    garden.point("sun", "solar_filter")
    assert (garden.plan.sun, garden.plan.solar_filter) == (True, True)
    before = garden.plan
    garden.send(clamp_mm="99 mm")
    assert garden.plan == before.model_copy(update={"clamp_mm": 99.0}), (
        "the load's form changes nothing of it"
    )
    assert garden.page.select_one("form#load [name=sun]") is None, "it is asked once, with the rig"
    garden.point()
    assert (garden.plan.sun, garden.plan.solar_filter) == (False, False)


def test_the_battery_answers_before_the_night_is_known(garden: Garden):
    said = words_of(garden.client.get(garden.url))
    # (3.10 + 1.10) A x 12.8 V = 53.8 W; 6 and 14 hours of it, to two figures.
    assert "takes 54 W on the mean" in said
    assert "one of 6 to 14 hours takes 320 Wh to 750 Wh" in said
