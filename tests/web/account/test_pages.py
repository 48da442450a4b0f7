"""The account's pages, as people use them."""

from __future__ import annotations

import csv
import io
import json
import zipfile

import pytest
from bs4 import BeautifulSoup
from fastapi import FastAPI

from server.rim.tables import read_csv
from server.web.urls import Urls
from tests.web.hosted import ADDRESS, OTHER, PASSWORD, Browser, joined

FIREFOX = "Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0"
RING = {"kind": "spacer_ring", "maker": "Halden", "model": "Ring", "length_mm": "5", "owned": "2"}


def test_a_steward_invites_and_the_link_is_shown_once(hosted: FastAPI):
    sue = joined(hosted, "Sue", "steward")
    answer = sue.post("/members/invite", {"role": "member"})
    link = answer.text.split('id="link"')[1].split('value="')[1].split('"')[0]
    assert link.startswith(f"{ADDRESS}/invitation/")
    assert "/invitation/" not in sue.get("/members").text
    path = link.removeprefix(ADDRESS)
    new = Browser(hosted)
    assert new.page(path).select_one("h1").text == "You are invited"
    short = new.post(path, {"login": "Ann", "password": "short", "again": "short"})
    assert short.status_code == 422
    assert "at least 15 characters" in short.text
    assert 'value="short"' not in short.text
    assert new.post(path, {"login": "Ann", "password": OTHER, "again": OTHER}).status_code == 303
    assert "Ann" in new.page(Urls().home()).title.text
    assert Browser(hosted).get(path).status_code == 404


def test_one_changes_the_password_and_sees_where_one_is_signed_in(hosted: FastAPI):
    ann = joined(hosted, "Ann")
    other = Browser(hosted)
    other.post(
        "/sign-in",
        {"login": "Ann", "password": PASSWORD},
        headers={"User-Agent": FIREFOX},
    )
    page = ann.page("/account")
    assert "Firefox on Linux" in page.text
    assert len(page.select("section[aria-labelledby=sessions] li")) == 2
    wrong = ann.post("/account/password", {"present": OTHER, "password": OTHER, "again": OTHER})
    assert "This is not your password" in wrong.text
    done = ann.post("/account/password", {"present": PASSWORD, "password": OTHER, "again": OTHER})
    assert "was changed" in ann.page(done.headers["location"]).text
    assert other.get("/account").status_code == 302


def test_one_ends_a_session_of_ones_own(hosted: FastAPI):
    ann, other = joined(hosted, "Ann"), Browser(hosted)
    other.post("/sign-in", {"login": "Ann", "password": PASSWORD})
    (form,) = ann.page("/account").select("form[action*='/account/sessions/'][action$='/end']")
    ann.post(str(form["action"]))
    assert other.get("/").status_code == 302
    assert ann.get("/").status_code == 200


def test_everything_is_taken_out_as_one_file(hosted: FastAPI):
    ann = joined(hosted, "Ann")
    rig = ann.post("/bench", {"name": "Garden"}).headers["location"]
    assert ann.post("/shelf/new?kind=spacer_ring", RING).status_code == 303
    ann.post(f"{rig}/change", {"version": "1", "verb": "add", "part_id": "1"})
    assert ann.post(f"{rig}/save", {"version": "2", "title": "First"}).status_code == 303
    ann.post("/sky/list", {"name": "NGC7000"})
    answer = ann.get("/account/take-out.json")
    assert "attachment" in answer.headers["content-disposition"]
    told = json.loads(answer.text)
    assert told["observer"] == {"name": "Ann", "units": "metric"}
    assert [one["name"] for one in told["rigs"]] == ["Garden"]
    assert [one["part"]["model"] for one in told["parts"]] == ["Ring"]
    assert [one["document"]["title"] for one in told["entries"]] == ["First"]
    assert [one["name"] for one in told["targets"]] == ["NGC 7000"]
    assert (told["sites"], told["needs"], told["measurements"]) == ([], [], [])
    assert "argon2" not in answer.text


def test_everything_is_taken_out_as_tables_that_no_spreadsheet_runs(hosted: FastAPI):
    ann = joined(hosted, "Ann")
    rig = ann.post("/bench", {"name": "=Garden"}).headers["location"]
    assert ann.post("/shelf/new?kind=spacer_ring", {**RING, "note": "=1+1"}).status_code == 303
    wished = {**RING, "model": "@Wish", "owned": "0", "wished": "1"}
    assert ann.post("/shelf/new?kind=spacer_ring", wished).status_code == 303
    ann.post(f"{rig}/change", {"version": "1", "verb": "add", "part_id": "1"})
    assert ann.post(f"{rig}/save", {"version": "2", "title": "+First"}).status_code == 303
    ann.post("/sky/list", {"name": "NGC7000"})
    garden = {"name": "Yard", "latitude_deg": "-33.5", "longitude_deg": "18", "zone": "Europe/Berlin"}
    assert ann.post("/sky/sites/new", {**garden, "seeing_arcsec": "3"}).status_code == 303
    ann.post("/scout/keep", {"name": "Mine"})
    answer = ann.get("/account/take-out.zip")
    assert "attachment" in answer.headers["content-disposition"]
    with zipfile.ZipFile(io.BytesIO(answer.content)) as packed:
        files = {name.removesuffix(".csv"): packed.read(name) for name in packed.namelist()}
    tables = {
        name: list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline="")))
        for name, data in files.items()
    }
    assert [row["model"] for row in tables["shelf"]] == ["Ring", "'@Wish"]
    assert [row.part.model for row in read_csv(files["shelf"]).good] == ["Ring", "@Wish"]
    assert [row.holding.wished for row in read_csv(files["wish-list"]).good] == [1]
    assert [(row["name"], row["id"]) for row in tables["rigs"]] == [("'=Garden", "1")]
    (place,) = tables["places"]
    assert (place["rig"], place["where"], place["part"]) == ("'=Garden", "train", "Halden Ring")
    assert [row["title"] for row in tables["logbook"]] == ["'+First"]
    assert [row["name"] for row in tables["targets"]] == ["NGC 7000"]
    # A number is no formula.
    assert [row["site.latitude_deg"] for row in tables["sites"]] == ["-33.5"]
    assert [row["name"] for row in tables["needs"]] == ["Mine"]
    assert "measurements" not in tables
    assert all(data.decode("utf-8-sig") for data in files.values()), "none is a mark alone"
    cells = [cell for table in tables.values() for row in table for cell in row.values()]
    assert not any(cell.startswith(("=", "+", "@", "\t", "\r")) for cell in cells)


def test_the_log_says_for_how_long_it_is_kept(hosted: FastAPI):
    assert "A line is kept for 90 days." in joined(hosted, "Sue", "steward").page("/members/log").text


def test_one_deletes_the_account_by_ones_password(hosted: FastAPI):
    joined(hosted, "Sue", "steward")
    ann = joined(hosted, "Ann")
    wrong = ann.post("/account/delete", {"leaving": OTHER})
    assert wrong.status_code == 422
    assert "not your password" in wrong.text
    done = ann.post("/account/delete", {"leaving": PASSWORD})
    assert done.status_code == 303
    assert "Your account is gone" in ann.page(done.headers["location"]).text
    assert ann.get("/").status_code == 302
    assert Browser(hosted).post("/sign-in", {"login": "Ann", "password": PASSWORD}).status_code == 422


def test_a_steward_lets_in_who_asks_closes_and_makes_stewards(hosted: FastAPI):
    sue, ann = joined(hosted, "Sue", "steward"), joined(hosted, "Ann")
    asked = Browser(hosted).post(
        "/door", {"login": "Zoe", "words": "Hello", "password": OTHER, "again": OTHER}
    )
    assert "You have asked" in asked.text
    form = sue.page("/members").select_one("form[action*='/members/asked/']")
    done = sue.post(str(form["action"]), {"answer": "confirm"})
    assert "Zoe may sign in now" in sue.page(done.headers["location"]).text
    assert Browser(hosted).post("/sign-in", {"login": "Zoe", "password": OTHER}).status_code == 303
    sue.post(f"/members/{ann.observer_id}/closed", {"closed": "yes"})
    assert ann.get("/").status_code == 302
    sue.post(f"/members/{ann.observer_id}/closed", {"closed": ""})
    done = sue.post(f"/members/{ann.observer_id}/role", {"role": "steward"})
    assert "Ann is a steward now." in sue.page(done.headers["location"]).text
    assert "password for Ann, good once" in sue.post(f"/members/{ann.observer_id}/password-link").text
    assert "Ann, steward" in sue.page("/members").text
    assert "made a steward (Ann)" in " ".join(sue.page("/members/log").text.split())


def test_who_asks_by_a_name_that_is_taken_can_only_be_declined(hosted: FastAPI):
    sue, zoe = joined(hosted, "Sue", "steward"), {"login": "Zoe", "password": OTHER, "again": OTHER}
    Browser(hosted).post("/door", zoe)
    form = sue.page("/members").select_one("form[action*='/members/asked/']")
    assert form.select_one("button[value=confirm]")
    joined(hosted, "zoe")
    answer = sue.post(str(form["action"]), {"answer": "confirm"})
    assert answer.status_code == 422
    page = BeautifulSoup(answer.text, "html.parser")
    assert page.select_one("h1").text == "Members"
    refused = page.select_one("[role=alert].stop").text.strip()
    assert refused == "The name “Zoe” is taken: decline, and let them ask by another name."
    page = sue.page("/members")
    assert "This name is taken" in page.select_one("section[aria-labelledby=asked]").text
    assert page.select_one(f"form[action='{form['action']}'] button[value=confirm]") is None


@pytest.mark.parametrize(
    ("path", "sent", "field"),
    [
        ("/account/password", {"present": OTHER, "password": OTHER, "again": OTHER}, "present"),
        ("/account/password", {"present": PASSWORD, "password": OTHER, "again": "x"}, "again"),
        ("/account/passkeys/new", {"passkey": "", "proof": PASSWORD}, "passkey"),
        ("/account/passkeys/new", {"passkey": "Key", "proof": OTHER}, "proof"),
        ("/account/delete", {"leaving": OTHER}, "leaving"),
        ("/account/delete", {"leaving": PASSWORD}, "leaving"),
    ],
)
def test_after_a_refusal_one_stands_at_the_field_that_says_why(
    hosted: FastAPI, path: str, sent: dict[str, str], field: str
):
    sue = joined(hosted, "Sue", "steward")
    answer = sue.post(path, sent)
    assert answer.status_code == 422
    page = BeautifulSoup(answer.text, "html.parser")
    (at,) = page.select("[autofocus]")
    assert at["name"] == field
    assert at.find_parent("form").has_attr("hidden") is False
    assert page.select_one("[role=alert].stop").text.strip() == "It was not done. The field says why."
    assert sue.page("/account").select("[autofocus]") == []


def test_a_link_that_is_over_leads_on_to_the_sign_in(hosted: FastAPI):
    for path in ("/password/none", "/invitation/none"):
        for answer in (
            Browser(hosted).get(path),
            Browser(hosted).post(path, {"login": "x", "password": OTHER, "again": OTHER}),
        ):
            assert answer.status_code == 404
            main = BeautifulSoup(answer.text, "html.parser").select_one("main")
            assert "used before" in main.text
            assert "Ask a steward" in main.text
            assert main.select_one("a[href='/sign-in']")
            assert main.select_one("a[href='/lost-password']") is None


def test_a_shared_entry_is_read_without_an_account_and_leads_nowhere_else(hosted: FastAPI):
    ann = joined(hosted, "Ann")
    rig = ann.post("/bench", {"name": "Garden"}).headers["location"]
    ann.post("/shelf/new?kind=spacer_ring", RING)
    ann.post(f"{rig}/change", {"version": "1", "verb": "add", "part_id": "1"})
    ann.post(f"{rig}/save", {"version": "2", "title": "First"})
    ann.post("/logbook/1/share")
    with hosted.state.stores.reading() as store:
        (share,) = store.shares(1)
    page = Browser(hosted).page(f"/s/{share.token}")
    assert f"{ADDRESS}/s/{share.token}" in page.text
    assert "First" in page.text
    assert not page.select("form[method=post]")
    assert not page.select("nav.places")
