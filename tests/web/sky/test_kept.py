"""Sites and own targets as their forms keep them."""

from __future__ import annotations

import pytest

from tests.web.club import observer_named, page_of, sit_down, words_of
from tests.web.sky.conftest import GARDEN, Garden

# On SQLite and on PostgreSQL.


def test_a_site_is_kept_as_typed_and_told_in_all_measures_of_darkness(garden: Garden):
    page = garden.get(f"/sky/sites/{garden.site}")
    fields = {one["name"]: one.get("value") for one in page_of(page).select("form.sky-form input[name]")}
    assert fields["latitude_deg"] == "50° N"
    assert fields["longitude_deg"] == "8.6° E"
    assert page_of(page).select_one("#site-horizon").text.strip() == "90: 35\n180: 20\n270: 45"
    assert "19.8 ± 0.1 magnitudes per square arcsecond: stars to 5." in words_of(page)
    assert "sky class" in words_of(page)


@pytest.mark.parametrize(
    ("field", "text", "says"),
    [
        ("latitude_deg", "95", "95° lies beyond ±90°"),
        ("longitude_deg", "8 h", "Hours are for right ascensions"),
        ("zone", "Berlin", "There is no time zone “Berlin”"),
        ("horizon", "95", "altitude: 95° is too much here"),
        ("horizon", "90: 35\n90: 20", "One direction has two altitudes"),
        ("brightness", "30", "it must be 15 to 22.2"),
        ("name", "", "Give it a name"),
    ],
)
def test_what_cannot_be_is_said_at_its_field_and_nothing_typed_is_lost(
    garden: Garden, field: str, text: str, says: str
):
    answer = garden.client.post(f"/sky/sites/{garden.site}", data={**GARDEN, field: text, "revision": "1"})
    assert answer.status_code == 422
    page = page_of(answer)
    assert says in page.select_one(f"#site-{field}-error").text
    assert page.select_one("#site-seeing_arcsec")["value"] == "3"
    shown = page.select_one(f"#site-{field}")
    assert (shown.text.strip() if shown.name == "textarea" else shown["value"]) == text


def test_a_site_that_was_changed_elsewhere_is_not_overwritten_unasked(garden: Garden):
    path = f"/sky/sites/{garden.site}"
    assert garden.client.post(path, data={**GARDEN, "name": "First", "revision": "1"}).status_code == 200
    late = garden.client.post(path, data={**GARDEN, "name": "Second", "revision": "1"})
    assert late.status_code == 409
    assert "changed meanwhile" in words_of(late)
    page = page_of(late)
    assert page.select_one("#site-name")["value"] == "Second"
    again = {**GARDEN, "name": "Second", "revision": page.select_one("input[name=revision]")["value"]}
    garden.client.post(path, data=again)
    assert garden.bench().sites()[0].site.name == "Second"


def test_a_site_is_nobody_elses(garden: Garden):
    sit_down(garden.client, observer_named(garden.stores, "Declan Varrow"))
    assert garden.get(f"/sky/sites/{garden.site}").status_code == 404
    assert garden.client.post(f"/sky/sites/{garden.site}/remove").status_code == 404
    rig = garden.rig("doublet, bare")
    assert garden.client.post(f"/sky/rigs/{rig}/site", data={"site": garden.site}).status_code == 404


def test_a_removed_site_leaves_its_rigs_without_one(garden: Garden):
    rig = garden.rig("doublet, bare")
    garden.client.post(f"/sky/rigs/{rig}/site", data={"site": str(garden.site)})
    with garden.stores.reading() as store:
        assert store.rig(rig).site_id == garden.site
    garden.client.post(f"/sky/sites/{garden.site}/remove")
    with garden.stores.reading() as store:
        assert store.rig(rig).site_id is None


def test_an_own_target_begins_with_the_catalogues_figures_and_goes_on_the_list(garden: Garden):
    form = page_of(garden.get("/sky/targets/new", like="NGC 7000"))
    texts = {str(one["name"]): str(one["value"]) for one in form.select("form.sky-form input[type=text]")}
    assert texts["major_arcmin"] == "120"
    answer = garden.client.post(
        "/sky/targets/new",
        data={**texts, "name": "The whole cloud", "minor_arcmin": "100", "surface_v_mag": "22.5"},
    )
    assert "The whole cloud" in words_of(answer)
    (listed,) = garden.bench().targets()
    assert listed.target is not None
    assert listed.target.minor_arcmin == 100.0
    assert listed.target.ra_deg == pytest.approx(314.82, abs=0.01)
    refused = garden.client.post(
        f"/sky/targets/{listed.id}", data={**texts, "name": "x", "minor_arcmin": "130", "revision": "1"}
    )
    assert refused.status_code == 422
    assert "longer than the long one" in page_of(refused).select_one("#target-minor_arcmin-error").text


def test_a_target_goes_on_the_list_once_and_off_again(garden: Garden):
    for _ in range(2):
        garden.client.post("/sky/list", data={"name": "Andromeda Galaxy"})
    assert [one.name for one in garden.bench().targets()] == ["NGC 224"]
    page = garden.get("/sky", mine=1)
    assert "Andromeda Galaxy" in words_of(page)
    off = page_of(page).select_one('form[action$="/remove"]')["action"]
    garden.client.post(str(off))
    assert garden.bench().targets() == ()
    assert "Your list is empty" in words_of(garden.get("/sky", mine=1))
    assert garden.client.post("/sky/list", data={"name": "no such"}).status_code == 404
