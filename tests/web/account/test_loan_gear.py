"""What the club lends: stewards keep it, and members find it beside their own parts, marked as the club's."""

from __future__ import annotations

import pytest
from fastapi import FastAPI
from httpx2 import Response

from server.domain.errors import RefusedError
from server.domain.observer import Holding
from server.domain.rig import PlacePlan, RigPlan
from server.flow.accounts import Club, form_token
from tests.domain.rigs import camera, corrector, ring, tube
from tests.web.hosted import Browser, joined

pytestmark = pytest.mark.usefixtures("place")

THREAD = "M48x0.75"
RING = {
    "kind": "spacer_ring",
    "maker": "Halden",
    "model": "Ring 10",
    "length_mm": "10",
    "sky_side": f"{THREAD} male",
    "camera_side": f"{THREAD} female",
}


def number_of(answer: Response) -> str:
    """The number that a new part's or rig's address ends in."""
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"]).partition("?")[0].rpartition("/")[2]


def lent(hosted: FastAPI, many: int = 2) -> tuple[Browser, str]:
    """A steward, and the number of a ring that the club lends."""
    sue = joined(hosted, "Sue", "steward")
    assert sue.post("/club/as-club").status_code == 303
    part = number_of(sue.post("/shelf/new?kind=spacer_ring", {**RING, "owned": str(many)}))
    sue.post("/club/as-oneself")
    return sue, part


def words(text: str) -> str:
    return " ".join(text.split())


def test_a_steward_works_as_the_club_and_every_page_says_so(hosted: FastAPI):
    sue = joined(hosted, "Sue", "steward")
    assert "You work as the club" not in sue.page("/shelf").text
    sue.post("/club/as-club")
    page = sue.page("/shelf")
    assert "You work as the club." in page.text
    assert "Your shelf is empty" in page.text or "No part has been entered yet" in page.text
    assert "Sue" in sue.page("/account").text
    sue.post("/club/as-oneself")
    assert "You work as the club" not in sue.page("/shelf").text


def test_a_member_cannot_work_as_the_club(hosted: FastAPI):
    lent(hosted)
    ann = joined(hosted, "Ann")
    assert ann.page("/club").select("form[action='/club/as-club']") == []
    assert ann.post("/club/as-club").status_code == 404
    assert "You work as the club" not in ann.page("/shelf").text


def test_who_is_no_steward_any_more_works_as_themselves(hosted: FastAPI):
    sue, _ = lent(hosted)
    ann = joined(hosted, "Ann", "steward")
    ann.post("/club/as-club")
    assert "You work as the club" in ann.page("/shelf").text
    sue.post(f"/members/{ann.observer_id}/role", {"role": "member"})
    assert "You work as the club" not in ann.page("/shelf").text


def test_members_see_what_the_club_lends(hosted: FastAPI):
    _, part = lent(hosted)
    ann = joined(hosted, "Ann")
    (line,) = ann.page("/club").select("section[aria-labelledby=gear] li")
    assert words(line.text) == "Halden Ring 10, spacer ring 2 pieces"
    found = ann.page("/shelf?holding=lent")
    assert "Halden Ring 10" in found.text
    assert "The club lends 2." in found.text
    assert "Halden" not in ann.page("/shelf").select_one("#found").text
    assert "The club lends 2." in ann.page(f"/shelf/{part}").text
    (told,) = ann.get(f"/api/observers/{ann.observer_id}/club/gear").json()
    assert (told["part"]["name"], told["lends"]) == ("Halden Ring 10", 2)


def test_the_tray_offers_it_and_the_rig_says_whose_it_is(hosted: FastAPI):
    _, part = lent(hosted, many=1)
    ann = joined(hosted, "Ann")
    rig = f"/bench/{number_of(ann.post('/bench', {'name': 'Garden'}))}"
    assert "the club lends 1" in ann.page(f"{rig}?tray=1").select_one("#tray").text
    ann.post(f"{rig}/change", {"version": "1", "verb": "add", "part_id": part})
    assert "The club’s." in ann.page(rig).select_one("#run").text
    ann.post(f"{rig}/change", {"version": "2", "verb": "add", "part_id": part})
    run = ann.page(rig).select_one("#run").text
    assert "you own none and the club lends 1: 1 too many." in run


def test_the_bridge_closes_a_gap_with_it_and_says_whose_it_is(hosted: FastAPI):
    ann = joined(hosted, "Ann")
    with hosted.state.stores.writing() as store:
        club = store.add_observer("The club", "metric").id
        store.set_club(club)
        # A corrector asks for 55 mm, the camera has 17.5: 37.5 mm of ring are lacking.
        ring_ = store.add_part(ring(37.5), club).id
        store.set_holding(club, ring_, Holding(owned=1))
        parts = (tube(), corrector(), camera(width_px=4500, height_px=3000))
        own = [store.add_part(part, ann.observer_id).id for part in parts]
        plan = RigPlan(places=tuple(PlacePlan(key=n + 1, part_id=one) for n, one in enumerate(own)))
        rig = store.add_rig(ann.observer_id, "Garden", plan).id
    page = ann.page(f"/bench/{rig}/bridge?wait=1&source=owned")
    assert "nothing to buy" in page.text
    assert [tag.text for tag in page.select(".stack-parts .tag")] == ["the club’s"]


def test_borrowing_leaves_the_members_own_shelf_as_it_is(hosted: FastAPI):
    _, part = lent(hosted)
    ann = joined(hosted, "Ann")
    ann.post(f"/shelf/{part}/holding", {"step": "owned:1"})
    holding = ann.get(f"/api/observers/{ann.observer_id}/parts/{part}").json()["holding"]
    assert holding == {"owned": 1, "wished": 0, "considered": 0}
    ann.post(f"/shelf/{part}/holding", {"step": "owned:-1"})
    assert "Halden" not in ann.get("/account/take-out.json").text


def test_the_club_has_no_account_and_is_no_member(hosted: FastAPI, club: Club):
    sue, _ = lent(hosted)
    assert "The club" not in sue.page("/members").select_one("section[aria-labelledby=all]").text
    with hosted.state.stores.reading() as store:
        number = store.club_id()
    with pytest.raises(RefusedError, match="no account"):
        club.invite(None, "member", number)
    token = {"Trainwright-Token": form_token(sue.token)}
    assert sue.post(f"/members/{number}/password-link").status_code == 404
    assert sue.post(f"/members/{number}/role", {"role": "steward"}).status_code == 404
    assert sue.client.get(f"/api/observers/{number}", headers=token).status_code == 404


def test_the_club_takes_another_name_where_a_member_has_its_own(hosted: FastAPI):
    joined(hosted, "The club")
    sue = joined(hosted, "Sue", "steward")
    assert sue.post("/club/as-club").status_code == 303
    assert "The club’s loan gear" in sue.page("/").text
