"""In a club a price is its member's own: nobody else is shown it, and nothing is counted by another's."""

from __future__ import annotations

import json
import re

import pytest
from fastapi import FastAPI
from httpx2 import Response

from server.flow.accounts import form_token
from tests.web.hosted import PASSWORD, Browser, joined

pytestmark = pytest.mark.usefixtures("place")

RING = {
    "kind": "spacer_ring",
    "maker": "Halden",
    "model": "Ring 10",
    "length_mm": "10",
    "price": "23.70 EUR",
    "owned": "1",
}


def entered(browser: Browser) -> str:
    """The number of a ring at 23.70 EUR."""
    answer = browser.post("/shelf/new?kind=spacer_ring", RING)
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"]).partition("?")[0].rpartition("/")[2]


def everywhere(browser: Browser, part: str) -> str:
    """All that shows a part's price, without the pages' random tokens, in which any figures may stand."""
    me = f"/api/observers/{browser.observer_id}"
    pages = (
        f"/shelf/{part}",
        "/shelf?holding=catalogue",
        "/shelf/export.csv?holding=catalogue",
        "/account/take-out.json",
        f"{me}/parts/{part}",
        f"{me}/parts",
    )
    answers = [browser.get(page) for page in pages]
    assert {answer.status_code for answer in answers} == {200}
    return re.sub("[0-9a-f]{16,}", "", "\n".join(answer.text for answer in answers))


def test_what_one_enters_is_shown_to_nobody_else(hosted: FastAPI):
    ann, bob = joined(hosted, "Ann"), joined(hosted, "Bob")
    part = entered(ann)
    bob.post(f"/shelf/{part}/holding", {"step": "owned:1"})
    assert "23.70" in ann.get(f"/shelf/{part}").text
    assert "Only you see the price" in ann.get(f"/shelf/{part}").text
    found = everywhere(bob, part)
    assert "23.70" not in found
    assert "2370" not in found


def test_each_has_their_own_for_the_same_part(hosted: FastAPI):
    ann, bob, eve = (joined(hosted, name) for name in ("Ann", "Bob", "Eve"))
    part = entered(ann)
    kept = bob.post(f"/club/prices/{part}", {"price": "19.50 USD"})
    assert kept.status_code == 303
    assert "kept, for you alone" in bob.page(kept.headers["location"]).text
    assert bob.page(f"/shelf/{part}").select_one("#f-price")["value"] == "19.50 USD"
    bob.post(f"/shelf/{part}/holding", {"step": "wished:1"})
    assert "19.50 USD" in bob.get("/shelf/export.csv").text
    price = json.loads(bob.get("/account/take-out.json").text)["parts"][0]["part"]["price"]
    assert price == {"hundredths": 1950, "currency": "USD"}
    assert "19.50 USD" not in everywhere(ann, part)
    assert "23.70" in everywhere(ann, part)
    for other in ("19.50 USD", "23.70", "1950", "2370"):
        assert other not in everywhere(eve, part)
    assert bob.post(f"/club/prices/{part}", {"price": ""}).status_code == 303
    assert bob.page(f"/shelf/{part}").select_one("#f-price")["value"] == ""


def test_what_is_no_price_stands_beside_the_field(hosted: FastAPI):
    ann, bob = joined(hosted, "Ann"), joined(hosted, "Bob")
    part = entered(ann)
    answer = bob.post(f"/club/prices/{part}", {"price": "cheap"})
    assert answer.status_code == 422
    assert 'value="cheap"' in answer.text
    assert "is not a price" in answer.text


def test_a_program_keeps_ones_own_price(hosted: FastAPI):
    ann, bob = joined(hosted, "Ann"), joined(hosted, "Bob")
    part = entered(ann)

    def kept(browser: Browser, price: dict[str, object] | None) -> Response:
        place = f"/api/observers/{browser.observer_id}/parts/{part}/price"
        headers = {"Trainwright-Token": form_token(browser.token)}
        return browser.client.request("PUT", place, headers=headers, json={"price": price})

    assert kept(bob, {"hundredths": 1950, "currency": "USD"}).json()["part"]["price"]["hundredths"] == 1950
    assert kept(ann, {"hundredths": 3000, "currency": "EUR"}).json()["part"]["price"]["hundredths"] == 3000
    assert (
        bob.get(f"/api/observers/{bob.observer_id}/parts/{part}").json()["part"]["price"]["currency"] == "USD"
    )
    assert kept(bob, None).json()["part"]["price"] is None
    assert kept(ann, None).json()["part"]["price"] is None


def test_a_file_brings_ones_own_prices_and_no_part_twice(hosted: FastAPI):
    ann, bob = joined(hosted, "Ann"), joined(hosted, "Bob")
    part = entered(ann)
    table = ann.get("/shelf/export.csv").text.replace("23.70", "21.00").encode()
    sent = bob.post("/shelf/import", {}, files={"file": ("parts.csv", table, "text/csv")})
    assert sent.status_code == 200, sent.text
    form = next(one for one in _forms(sent) if "enter" in str(one["action"]))
    fields = {one["name"]: one.get("value", "") for one in form.select("input[name], textarea[name]")}
    assert bob.post(str(form["action"]), fields).status_code == 303
    told = bob.get(f"/api/observers/{bob.observer_id}/parts").json()
    assert [(one["id"], one["part"]["price"]["hundredths"]) for one in told["parts"]] == [(int(part), 2100)]


def _forms(answer: Response):
    from bs4 import BeautifulSoup

    return BeautifulSoup(answer.text, "html.parser").select("form")


def test_who_leaves_takes_their_prices_along(hosted: FastAPI):
    joined(hosted, "Sue", "steward")
    ann, bob = joined(hosted, "Ann"), joined(hosted, "Bob")
    part = entered(ann)
    bob.post(f"/shelf/{part}/holding", {"step": "owned:1"})
    assert ann.post("/account/delete", {"leaving": PASSWORD}).status_code == 303
    with hosted.state.stores.reading() as store:
        held = store._connection.exec_driver_sql("SELECT document, price_hundredths FROM part").one()
    assert "price" not in held[0]
    assert held[1] is None
    assert "Halden Ring 10" in bob.get("/shelf").text
