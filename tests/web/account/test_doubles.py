"""A part's history, what a steward corrects, and doubles that are merged, as people see them."""

from __future__ import annotations

import pytest
from bs4 import BeautifulSoup
from fastapi import FastAPI

from server.flow.accounts import form_token
from server.web.rendering import TOKEN_HEADER
from tests.web.hosted import PASSWORD, Browser, joined

RING = {"kind": "spacer_ring", "maker": "Halden", "model": "Ring 5", "length_mm": "5", "owned": "2"}


def entered(browser: Browser, **fields: str) -> str:
    """Enters a ring; its page."""
    answer = browser.post("/shelf/new?kind=spacer_ring", {**RING, **fields})
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"]).partition("?")[0]


def changed(browser: Browser, part: str, **fields: str) -> None:
    form = browser.page(f"{part}/edit").select_one("#part-form")
    sent = {
        str(one["name"]): str(one.get("value", ""))
        for one in form.select("input[type=text], input[type=hidden]")
    }
    sent.pop("form_token", None)
    answer = browser.post(f"{part}/edit", {**sent, **fields})
    assert answer.status_code == 303, answer.text


def words(found) -> str:
    assert found is not None
    return " ".join(found.get_text(" ").split())


def history(page: BeautifulSoup) -> list[str]:
    return [words(line.select_one("div")) for line in page.select("section[aria-labelledby=history] li")]


def test_a_parts_page_says_who_changed_what_and_who_left_has_no_name(hosted: FastAPI):
    joined(hosted, "Sue", "steward")
    ann, bob = joined(hosted, "Ann"), joined(hosted, "Bob")
    part = entered(ann)
    assert history(ann.page(part)) == []
    changed(ann, part, length_mm="5.5")
    bob.post(f"{part}/holding", {"step": "owned:1"})
    assert history(ann.page(part)) == ["By you Optical length 5 mm → 5.5 mm"]
    bob.post("/units", {"units": "imperial"})
    (line,) = history(bob.page(part))
    assert line.startswith("By Ann Optical length 0.19")
    assert " in → 0.21" in line
    assert ann.post("/account/delete", {"leaving": PASSWORD}).status_code == 303
    assert history(bob.page(part))[0].startswith("By someone who left")
    assert "Ann" not in bob.page(part).text


def test_a_steward_corrects_anothers_part_and_a_member_cannot(hosted: FastAPI):
    sue, ann, bob = joined(hosted, "Sue", "steward"), joined(hosted, "Ann"), joined(hosted, "Bob")
    part = entered(ann)
    assert "As a steward" not in bob.page(part).text
    assert bob.get(f"{part}/edit").status_code == 403
    page = sue.page(part)
    assert "Ann entered this part" in page.text
    assert page.select_one(f"a[href='{part}/edit']").text == "Correct it"
    assert "you correct it as a steward" in sue.page(f"{part}/edit").text
    assert "as a steward" not in ann.page(f"{part}/edit").text
    changed(sue, part, length_mm="6")
    assert history(ann.page(part)) == ["By Sue Optical length 5 mm → 6 mm"]
    assert "Sue: corrected the part Halden Ring 5 (Ann)" in words(sue.page("/members/log"))
    # What the owner had open meanwhile is noticed, and one's own changes are no business of the log.
    stale = ann.post(f"{part}/edit", {**RING, "revision": "1"})
    assert stale.status_code == 409
    changed(ann, part, length_mm="7")
    assert words(sue.page("/members/log")).count("corrected") == 1


def test_who_is_a_steward_no_more_corrects_nothing(hosted: FastAPI):
    sue, ann = joined(hosted, "Sue", "steward"), joined(hosted, "Ann", "steward")
    part = entered(ann)
    ann.post(f"/members/{sue.observer_id}/role", {"role": "member"})
    assert sue.post(f"{part}/edit", {**RING, "revision": "1", "length_mm": "6"}).status_code == 403


def test_a_steward_lays_doubles_side_by_side_and_says_which_one_stays(hosted: FastAPI):
    sue, ann, bob = joined(hosted, "Sue", "steward"), joined(hosted, "Ann"), joined(hosted, "Bob")
    one, other = entered(ann), entered(bob, model="RING-5", length_mm="5.1")
    entered(ann, model="Ring 6")
    rig = bob.post("/bench", {"name": "Garden"}).headers["location"]
    bob.post(f"{rig}/change", {"version": "1", "verb": "add", "part_id": other.rpartition("/")[2]})
    assert bob.get("/members/doubles").status_code == 404
    page = sue.page("/members/doubles")
    (link,) = page.select("ul.account-doubles a")
    assert link.text == "Beside Halden RING-5"
    assert link["href"] in {
        link["href"] for link in sue.page(f"/members/doubles/{one[7:]}?q=Ring").select(".account-list a")
    }
    pair = sue.page(str(link["href"]))
    rows = [[cell.text for cell in row.select("th, td")] for row in pair.select("tbody tr")]
    assert rows == [["Model", "Ring 5", "RING-5"], ["Optical length", "5 mm", "5.1 mm"]]
    assert "In no rigs, on 1 shelf" in pair.text
    assert "In 1 rig, on 1 shelf" in pair.text
    fields = {
        str(one["name"]): str(one["value"]) for one in pair.select("form[action*=doubles] input[type=hidden]")
    }
    stays = one.rpartition("/")[2]
    done = sue.post(str(link["href"]), {**fields, "keep": stays})
    assert (done.status_code, done.headers["location"]) == (303, f"{one}?said=merged")
    assert history(bob.page(one)) == [
        "Sue merged “Halden RING-5” into this part; it said otherwise: "
        "Model RING-5 (here Ring 5) Optical length 5.1 mm (here 5 mm)"
    ]
    assert "Halden Ring 5" in bob.page(rig).text
    assert "merged the part Halden RING-5" in words(sue.page("/members/log"))
    # A page that was open meanwhile still names the one that went.
    late = bob.post(f"{rig}/change", {"version": "2", "verb": "add", "part_id": other.rpartition("/")[2]})
    assert late.status_code == 422
    assert "merged into another meanwhile" in late.text
    # An old address leads to what stayed, and a second press changes nothing.
    assert bob.get(other).headers["location"] == one
    assert sue.post(str(link["href"]), {**fields, "keep": stays}).status_code == 422
    assert sue.page("/members/doubles").select("ul.account-doubles a") == []


def test_the_number_of_a_part_that_was_merged_stands_for_the_one_that_stayed(hosted: FastAPI):
    sue, bob = joined(hosted, "Sue", "steward"), joined(hosted, "Bob")
    one, other = (entered(sue).rpartition("/")[2] for _ in range(2))
    sue.post(f"/members/doubles/{one}/{other}", {"keep": one, "revision": "1", "other_revision": "1"})
    kept = bob.post(f"/club/prices/{other}", {"price": "19.50 USD"})
    assert (kept.status_code, kept.headers["location"]) == (303, f"/shelf/{one}?said=price")
    assert bob.post(f"/shelf/{other}/holding", {"step": "owned:1"}).status_code == 303
    place = f"/api/observers/{bob.observer_id}/parts/{other}"
    headers = {TOKEN_HEADER: form_token(bob.token)}

    def put(what: str, document: dict[str, object]) -> dict:
        answer = bob.client.put(f"{place}/{what}", headers=headers, json=document)
        assert answer.status_code == 200, answer.text
        return answer.json()

    assert put("price", {"price": {"hundredths": 5, "currency": "EUR"}})["holding"]["owned"] == 1
    assert put("holding", {"owned": 3})["holding"]["owned"] == 3
    told = bob.get(place).json()
    assert (told["id"], told["holding"]["owned"], told["part"]["price"]["hundredths"]) == (int(one), 3, 5)


def test_other_connections_are_said_plainly_and_want_a_tick(hosted: FastAPI):
    sue = joined(hosted, "Sue", "steward")
    one = entered(sue, camera_side="M48x0.75 male").rpartition("/")[2]
    other = entered(sue, camera_side="M42x0.75 male").rpartition("/")[2]
    where = f"/members/doubles/{one}/{other}"
    pair = sue.page(where)
    assert "They connect differently: Camera-side connection." in pair.text
    sent = {"keep": one, "revision": "1", "other_revision": "1"}
    refused = sue.post(where, sent)
    assert refused.status_code == 422
    assert "Tick that they are one part all the same" in refused.text
    assert sue.post(where, {**sent, "joints": "yes"}).status_code == 303


@pytest.mark.parametrize("fields", [{}, {"revision": "2"}])
def test_parts_of_two_kinds_and_parts_changed_meanwhile_are_not_merged(
    hosted: FastAPI, fields: dict[str, str]
):
    sue = joined(hosted, "Sue", "steward")
    one = entered(sue).rpartition("/")[2]
    shim = sue.post("/shelf/new?kind=shim", {"maker": "Halden", "model": "Ring 5", "length_mm": "0.5"})
    other = shim.headers["location"].partition("?")[0].rpartition("/")[2]
    if fields:
        other = entered(sue).rpartition("/")[2]
    where = f"/members/doubles/{one}/{other}"
    page = sue.page(where)
    assert bool(page.select("form[action*=doubles] button")) == bool(fields)
    refused = sue.post(where, {"keep": one, "revision": "1", "other_revision": "1", **fields})
    assert refused.status_code == (409 if fields else 422)
    assert ("changed" if fields else "parts of different kinds") in refused.text
    assert "Ring 5" in sue.page(f"/shelf/{other}").text


def test_the_local_form_shows_nothing_of_it(ann):
    part = ann.post("/shelf/new?kind=spacer_ring", data=RING).url.path
    form = {**RING, "length_mm": "6", "revision": "1"}
    assert ann.post(f"{part}/edit", data=form).status_code == 200
    page = ann.get(part).text
    assert "6 mm" in page
    assert "What was changed" not in page
    assert "As a steward" not in page
    assert ann.get("/members/doubles").status_code == 404
