"""A saved entry is shared with the club, read by members, copied, and taken back."""

from __future__ import annotations

import pytest
from fastapi import FastAPI

from server.flow.accounts import form_token
from server.web.club.page import ClubPage
from tests.web.hosted import PASSWORD, Browser, joined

pytestmark = pytest.mark.usefixtures("place")

RING = {"kind": "spacer_ring", "maker": "Halden", "model": "Ring", "length_mm": "5", "owned": "2"}


def saved(browser: Browser, title: str = "First") -> str:
    """The number of an entry of someone who has a rig with one ring."""
    part = browser.post("/shelf/new?kind=spacer_ring", RING).headers["location"]
    rig = browser.post("/bench", {"name": "Garden"}).headers["location"]
    number = part.partition("?")[0].rpartition("/")[2]
    browser.post(f"{rig}/change", {"version": "1", "verb": "add", "part_id": number})
    entry = browser.post(f"{rig}/save", {"version": "2", "title": title}).headers["location"]
    return entry.partition("?")[0].rpartition("/")[2]


SHOWN = "with what it holds: parts, findings, note, measurements, the site’s place."


def test_an_entry_that_is_shared_is_listed_for_members_and_may_be_copied(hosted: FastAPI):
    ann, bob = joined(hosted, "Ann"), joined(hosted, "Bob")
    entry = saved(ann)
    assert "Nothing is shared yet" in bob.page("/club").text
    assert SHOWN in ann.page(f"/logbook/{entry}").text
    assert ann.post(f"/logbook/{entry}/club").status_code == 303
    assert SHOWN in ann.page(f"/logbook/{entry}").text
    (line,) = bob.page("/club").select("main li")
    assert "Garden: First, by Ann" in " ".join(line.text.split())
    assert "you" not in line.text
    page = bob.page(str(line.select_one("a")["href"]))
    assert "shared by Ann, to be read only" in page.text
    assert page.select_one("h1").text == "First"
    (form,) = page.select("form[action$='take-in']")
    arrived = bob.post(str(form["action"])).headers["location"]
    assert "stands in your logbook" in bob.page(arrived).text
    assert "Garden" in bob.page("/bench").text


def test_a_long_list_is_shown_by_pages_and_an_address_beyond_it_shows_the_last(
    hosted: FastAPI, monkeypatch: pytest.MonkeyPatch
):
    ann, bob = joined(hosted, "Ann"), joined(hosted, "Bob")
    for title in ("First", "Second", "Third"):
        ann.post(f"/logbook/{saved(ann, title)}/club")
    assert bob.page("/club").select(".pages") == []
    monkeypatch.setattr(ClubPage, "limit", 2)

    def titles(path: str) -> list[str]:
        return [line.a.text.rpartition(": ")[2] for line in bob.page(path).select("main li:has(time)")]

    assert titles("/club") == ["Third", "Second"]
    further = bob.page("/club").select_one(".pages a[rel=next]")
    assert titles(str(further["href"])) == ["First"]
    assert titles("/club?from=90") == ["First"]
    listed = bob.get(f"/api/observers/{bob.observer_id}/club/entries?limit=1&offset=1").json()
    assert [one["title"] for one in listed] == ["Second"]


def test_its_owner_is_led_to_the_entry_and_takes_in_nothing(hosted: FastAPI):
    ann = joined(hosted, "Ann")
    entry = saved(ann)
    ann.post(f"/logbook/{entry}/club")
    page = ann.page(f"/club/entries/{entry}")
    assert page.select_one(f"main a[href='/logbook/{entry}']") is not None
    assert page.select("form[action$='take-in']") == []
    assert ann.post(f"/club/entries/{entry}/take-in").status_code == 422
    assert ann.page("/club").select_one("main li .tag").text == "you"


def test_what_is_taken_back_or_was_never_shared_is_nowhere(hosted: FastAPI):
    ann, bob = joined(hosted, "Ann"), joined(hosted, "Bob")
    entry, other = saved(ann), saved(ann, "Second")
    ann.post(f"/logbook/{entry}/club")
    assert bob.get(f"/club/entries/{entry}").status_code == 200
    for refused in (f"/logbook/{entry}/club/withdraw", f"/logbook/{other}/club"):
        assert bob.post(refused).status_code == 404
    assert bob.get(f"/club/entries/{entry}").status_code == 200
    assert bob.get(f"/club/entries/{other}").status_code == 404
    ann.post(f"/logbook/{entry}/club/withdraw")
    for gone in (bob.get(f"/club/entries/{entry}"), bob.post(f"/club/entries/{entry}/take-in")):
        assert gone.status_code == 404
        assert "Garden" not in gone.text
    assert "Nothing is shared yet" in bob.page("/club").text


def test_who_leaves_takes_back_what_they_shared(hosted: FastAPI):
    joined(hosted, "Sue", "steward")
    ann, bob = joined(hosted, "Ann"), joined(hosted, "Bob")
    entry = saved(ann)
    ann.post(f"/logbook/{entry}/club")
    assert ann.post("/account/delete", {"leaving": PASSWORD}).status_code == 303
    assert "Nothing is shared yet" in bob.page("/club").text
    assert bob.get(f"/club/entries/{entry}").status_code == 404


def test_a_program_shares_lists_copies_and_takes_back(hosted: FastAPI):
    ann, bob = joined(hosted, "Ann"), joined(hosted, "Bob")
    entry = saved(ann)
    anns, bobs = (f"/api/observers/{one.observer_id}" for one in (ann, bob))

    def asked(browser: Browser, method: str, path: str) -> int:
        token = {"Trainwright-Token": form_token(browser.token)}
        return browser.client.request(method, path, headers=token).status_code

    assert asked(ann, "PUT", f"{anns}/entries/{entry}/club") == 204
    (line,) = bob.get(f"{bobs}/club/entries").json()
    assert (line["shared_by"], line["rig"], line["title"], line["mine"]) == ("Ann", "Garden", "First", False)
    assert bob.get(f"{bobs}/club/entries/{entry}").json()["document"]["title"] == "First"
    assert asked(bob, "POST", f"{bobs}/club/entries/{entry}/take-in") == 201
    assert asked(bob, "DELETE", f"{bobs}/entries/{entry}/club") == 404
    assert asked(ann, "DELETE", f"{anns}/entries/{entry}/club") == 204
    assert asked(bob, "GET", f"{bobs}/club/entries/{entry}") == 404


def test_what_it_cost_stays_with_its_owner(hosted: FastAPI):
    ann, bob = joined(hosted, "Ann"), joined(hosted, "Bob")
    part = ann.post("/shelf/new?kind=spacer_ring", RING | {"price": "333.71 EUR"}).headers["location"]
    rig = ann.post("/bench", {"name": "Garden"}).headers["location"]
    number = part.partition("?")[0].rpartition("/")[2]
    ann.post(f"{rig}/change", {"version": "1", "verb": "add", "part_id": number})
    entry = ann.post(f"{rig}/save", {"version": "2", "title": "First"}).headers["location"]
    entry = entry.partition("?")[0].rpartition("/")[2]
    assert "33371" in ann.get(f"/logbook/{entry}/file.json").text
    ann.post(f"/logbook/{entry}/share")
    ann.post(f"/logbook/{entry}/club")
    link = next(a["href"] for a in ann.page(f"/logbook/{entry}").select("a[href*='/s/']"))
    token = str(link).rpartition("/s/")[2].partition("/")[0]
    for path in (f"/s/{token}/file.json", f"/s/{token}/file.html", f"/club/entries/{entry}"):
        shown = bob.get(path)
        assert shown.status_code == 200
        assert "33371" not in shown.text
        assert "333.71" not in shown.text
    arrived = bob.post(f"/club/entries/{entry}/take-in").headers["location"].partition("?")[0]
    assert "33371" not in bob.get(f"{arrived}/file.json").text
    assert "33371" not in bob.get("/account/take-out.json").text
