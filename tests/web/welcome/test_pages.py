"""The first page, as a browser without JavaScript meets it."""

from __future__ import annotations

from typing import Any

import pytest
from bs4 import BeautifulSoup, Tag
from fastapi.testclient import TestClient

from server import paths
from server.rim.demo_club import load_demo_club
from server.rim.glossary import WORDS
from server.rim.phrasebook import cautions
from server.store import Stores
from server.web.urls import Urls


def page_of(answer: Any) -> BeautifulSoup:
    return BeautifulSoup(answer.text, "html.parser")


def words_of(answer: Any) -> str:
    return " ".join(page_of(answer).get_text(" ").split())


def only(answer: Any, selector: str) -> Tag:
    """The one element of the page that the selector finds."""
    found = page_of(answer).select(selector)
    assert len(found) == 1, selector
    return found[0]


def heading(answer: Any) -> str:
    return only(answer, "h1").get_text()


def theme_of(answer: Any) -> str:
    return str(only(answer, "html")["data-theme"])


def pressed(answer: Any, name: str) -> str:
    """The value of the pressed button of a choice in the bar."""
    return str(only(answer, f'button[name="{name}"][aria-pressed="true"]')["value"])


# -- The very beginning


def test_an_empty_install_offers_to_start_empty_or_to_load_the_demo_club(client: TestClient):
    page = page_of(client.get("/"))
    assert page.h1 is not None
    assert page.h1.get_text()
    assert page.select_one('form[action="/observers"] input[name="name"]') is not None
    assert page.select_one('form[action="/demo"] button') is not None
    assert page.select_one("svg[role=img], svg g[role=img]") is not None


def test_a_new_observer_is_greeted_by_name_with_the_first_thing_to_do(client: TestClient):
    answer = client.post("/observers", data={"name": "  Ann   of the hill ", "units": "imperial"})
    assert answer.url.path == "/"
    assert heading(answer) == "Ann of the hill’s bench"
    assert pressed(answer, "units") == "imperial"
    assert page_of(answer).select_one('.next a[href="/shelf/new"]') is not None


def test_making_an_observer_is_answered_by_a_redirect_so_that_reloading_makes_no_second(client: TestClient):
    answer = client.post("/observers", data={"name": "Ann"}, follow_redirects=False)
    assert answer.status_code == 303
    assert answer.headers["location"] == "/"


def test_the_observers_cookie_is_kept_from_scripts_and_from_other_sites(client: TestClient):
    answer = client.post("/observers", data={"name": "Ann"}, follow_redirects=False)
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie


@pytest.mark.parametrize("name", ["", "   ", "x" * 81, "bell\x07"])
def test_a_name_that_cannot_be_taken_is_refused_beside_its_field_with_what_was_typed(
    client: TestClient, name: str
):
    answer = client.post("/observers", data={"name": name, "units": "imperial"})
    page = page_of(answer)
    field = page.select_one('input[name="name"]')
    assert answer.status_code == 422
    assert field is not None
    assert field["aria-invalid"] == "true"
    error = page.find(id=str(field["aria-describedby"]).split()[0])
    assert error is not None
    assert len(error.get_text()) > 20
    checked = page.select_one('input[name="units"][checked]')
    assert checked is not None
    assert checked["value"] == "imperial"
    assert page_of(client.get("/")).select_one(".person") is None


def test_what_was_typed_stands_in_the_refused_field_and_cannot_break_out_of_it(client: TestClient):
    typed = '"><script>alert(1)</script>' + "x" * 80
    answer = client.post("/observers", data={"name": typed})
    assert "<script>alert" not in answer.text
    field = page_of(answer).select_one('input[name="name"]')
    assert field is not None
    assert field["value"] == typed


def test_a_name_that_is_here_already_is_refused_whatever_its_case(ann: TestClient):
    answer = ann.post("/observers", data={"name": "ANN"})
    assert answer.status_code == 422
    assert "here already" in words_of(answer)


# -- Choosing


def test_without_a_choice_the_observers_of_the_install_are_offered(ann: TestClient):
    ann.post("/observers", data={"name": "Bert"})
    ann.cookies.clear()
    names = [name.get_text() for name in page_of(ann.get("/")).select(".person-name")]
    assert names == ["Ann", "Bert"]


def test_choosing_an_observer_opens_their_bench(ann: TestClient):
    ann.post("/observers", data={"name": "Bert"})
    ann.cookies.clear()
    button = only(ann.get("/"), '.person:-soup-contains("Ann")')
    answer = ann.post("/observers/choose", data={"observer": str(button["value"])})
    assert heading(answer) == "Ann’s bench"


def test_choosing_an_observer_that_is_not_there_says_so_and_leaves_the_choice(ann: TestClient):
    assert ann.post("/observers/choose", data={"observer": "999"}).status_code == 404
    assert heading(ann.get("/")) == "Ann’s bench"


@pytest.mark.parametrize("cookie", ["999", "x", "-1", "1e3", "9" * 40, ""])
def test_a_cookie_that_names_nobody_brings_the_choice_and_no_error(ann: TestClient, cookie: str):
    ann.cookies.clear()
    ann.cookies.set("observer", cookie)
    answer = ann.get("/")
    assert answer.status_code == 200
    assert heading(answer) == "Who is at the bench?"


# -- Units and theme


def test_units_are_chosen_by_the_observer_and_kept_with_them(ann: TestClient):
    answer = ann.post(
        "/units", data={"units": "imperial"}, headers={"Referer": "http://127.0.0.1:8321/about"}
    )
    assert answer.url.path == "/about"
    assert pressed(answer, "units") == "imperial"
    number = ann.cookies["observer"]
    ann.cookies.clear()
    ann.cookies.set("observer", number)
    assert pressed(ann.get("/"), "units") == "imperial"


def test_before_anyone_is_chosen_units_are_kept_by_the_browser(client: TestClient):
    assert pressed(client.get("/"), "units") == "metric"
    assert pressed(client.post("/units", data={"units": "imperial"}), "units") == "imperial"


def test_the_theme_follows_the_device_until_one_is_chosen(client: TestClient):
    assert theme_of(client.get("/")) == "system"
    answer = client.post("/theme", data={"theme": "red"})
    assert theme_of(answer) == "red"
    assert theme_of(client.get("/about")) == "red"


@pytest.mark.parametrize("path", ["/theme", "/units"])
def test_a_theme_or_unit_that_does_not_exist_changes_nothing(client: TestClient, path: str):
    answer = client.post(path, data={path[1:]: '"><script>'})
    assert answer.status_code == 200
    assert theme_of(answer) == "system"
    assert pressed(answer, "units") == "metric"


def test_after_choosing_a_theme_one_is_on_the_same_page_with_the_same_search(client: TestClient):
    answer = client.post(
        "/theme",
        data={"theme": "dark"},
        headers={"Referer": "http://127.0.0.1:8321/about?a=1&b=2"},
        follow_redirects=False,
    )
    assert answer.headers["location"] == "/about?a=1&b=2"


@pytest.mark.parametrize(
    "referer",
    ["http://evil.example/about", "http://127.0.0.1:8321//evil.example/", "javascript:alert(1)", "nonsense"],
)
def test_a_referer_from_elsewhere_never_leads_away(client: TestClient, referer: str):
    answer = client.post(
        "/theme", data={"theme": "dark"}, headers={"Referer": referer}, follow_redirects=False
    )
    assert answer.headers["location"] == "/"


# -- The demo club and an observer's own page


@pytest.fixture
def club(client: TestClient, stores: Stores) -> TestClient:
    with stores.writing() as store:
        load_demo_club(store, paths.SEED_DATA)
    return client


def test_the_demo_club_is_loaded_by_one_button_and_its_observers_are_offered(client: TestClient):
    answer = client.post("/demo")
    assert answer.status_code == 200
    assert len(page_of(answer).select(".person")) >= 3


def test_what_the_first_page_says_of_the_demo_club_is_so(client: TestClient, stores: Stores):
    said = words_of(client.get("/"))
    with stores.writing() as store:
        loaded = load_demo_club(store, paths.SEED_DATA)
    numbers = {3: "three", 4: "four", 5: "five", 6: "six", 7: "seven", 8: "eight", 13: "thirteen"}
    assert f"{numbers[len(loaded.observers)]} observers" in said
    assert f"{numbers[loaded.rigs]} rigs" in said
    assert "some hundred parts" in said
    assert 85 <= loaded.parts <= 115


def test_the_demo_club_cannot_be_loaded_twice_and_the_page_says_why(club: TestClient):
    before = club.get("/").text
    answer = club.post("/demo")
    assert answer.status_code == 422
    assert len(words_of(answer)) > 100
    assert club.get("/").text == before


def test_the_first_page_of_an_observer_shows_rigs_with_what_the_checks_say(club: TestClient, stores: Stores):
    with stores.reading() as store:
        busy = max(store.observers(), key=lambda observer: len(store.entries(observer.id)))
        rigs = {rig.name for rig in store.rigs(busy.id)}
        newest = store.entries(busy.id)[0].document.title
    page = page_of(club.post("/observers/choose", data={"observer": str(busy.id)}))
    assert {name.get_text() for name in page.select(".rig-card h3")} == rigs
    assert len(page.select(".rig-card .weights")) == len(rigs)
    assert newest in page.get_text()


def test_somewhere_in_the_club_a_rig_is_marked_as_one_that_will_not_work(club: TestClient, stores: Stores):
    with stores.reading() as store:
        observers = store.observers()
    stops = 0
    for observer in observers:
        page = page_of(club.post("/observers/choose", data={"observer": str(observer.id)}))
        stops += len(page.select(".rig-card .weight.stop"))
    assert stops >= 1


# -- Cautions and about


def test_the_cautions_are_linked_from_every_page_and_name_each_danger(client: TestClient):
    for path in ("/", "/about", "/nowhere"):
        assert page_of(client.get(path)).select_one('footer a[href="/cautions"]') is not None
    words = words_of(client.get("/cautions")).casefold()
    for danger in ("sun", "full-aperture", "lifting", "counterweight", "fuse", "lithium", "mains", "laser"):
        assert danger in words
    for key, clause in cautions.WORDS.items():
        assert clause.casefold() in words, key
    for deference in ("local code", "licensed", "not medical advice"):
        assert deference in words


def test_the_about_page_names_the_licence_and_what_is_not_modelled(client: TestClient):
    words = words_of(client.get("/about"))
    assert "MIT" in words
    assert "What it does not model" in words


def test_the_page_of_words_has_every_word_at_its_address_and_every_page_leads_to_it(
    client: TestClient,
) -> None:
    page = page_of(client.get("/words"))
    anchors = {str(one["id"]): one.get_text(" ") for one in page.select("dl > div")}
    assert list(anchors) == list(WORDS)
    for key, one in WORDS.items():
        assert one.says in anchors[key]
    for path in ("/", "/about"):
        assert page_of(client.get(path)).select_one(f'a[href="{Urls().words()}"]')


def test_a_word_that_is_pressed_opens_the_note_that_stands_behind_it(
    client: TestClient, stores: Stores
) -> None:
    with stores.writing() as store:
        load_demo_club(store, paths.SEED_DATA)
    client.post("/observers/choose", data={"observer": 1})
    met: set[str] = set()
    for path, most in (
        ("/bench/1?tray=1", 3),
        ("/bench/1/bridge?wait=1", 3),
        ("/bench/1/stars", 9),
        ("/bench/stars?rig=1&rig=2", 9),
        ("/shelf/new?kind=corrector", 9),
        ("/shelf/new?kind=camera", 9),
    ):
        page = page_of(client.get(path))
        pressed = [str(one["popovertarget"]) for one in page.select("button.word")]
        assert 1 <= len(pressed) <= most, path
        assert len(pressed) == len(set(pressed)), "a word has its note where it stands first"
        for name in pressed:
            note = page.select_one(f"#{name}[popover]")
            assert note is not None
            key = name.removeprefix("note-")
            assert WORDS[key].says in note.get_text()
            assert note.select_one(f'a[href="{Urls().words(key)}"]')
            assert note.find_parent("label") is None
            met.add(key)
    assert met >= {"run", "tray", "beside", "bridge", "front", "strehl-ratio", "asinh", "rms"}
    assert met >= {"reference-shoulder", "back-focus", "principal-plane", "flange-distance"}
