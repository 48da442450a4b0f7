"""Passkeys over the pages, with an authenticator in software."""

from __future__ import annotations

import json
from collections.abc import Callable
from contextlib import suppress
from datetime import timedelta
from typing import Any

import cbor2
import pytest
from bs4 import BeautifulSoup
from fastapi import FastAPI
from fastapi.testclient import TestClient
from httpx2 import Response

from server.domain.account import CHALLENGE_GOOD
from server.domain.errors import FieldErrors
from server.flow.accounts import Club
from server.flow.passkeys import NOT_ADDED, NOT_TAKEN, Passkeys
from server.hosted import create_hosted_app
from server.settings import HostedSettings
from server.store.accounts import HostedStores
from server.web.account.gate import SESSION_COOKIE
from server.web.account.passkeys import CHALLENGE_COOKIE
from tests.authenticator import BE, BS, UP, UV, Authenticator, b64, unb64
from tests.web.hosted import ADDRESS, OTHER, PASSWORD, Browser, joined

pytestmark = pytest.mark.usefixtures("place")


def begun_adding(browser: Browser, name: str = "Telephone", password: str = PASSWORD) -> dict[str, Any]:
    answer = browser.post("/account/passkeys/new", {"passkey": name, "proof": password})
    assert answer.status_code == 200, answer.text
    form = BeautifulSoup(answer.text, "html.parser").select_one("form[data-passkey=create]")
    return json.loads(str(form["data-options"]))


def add(browser: Browser, device: Authenticator, name: str = "Telephone") -> Response:
    made = device.make(begun_adding(browser, name))
    return browser.post("/account/passkeys", {"passkey": name, "credential": made})


def asked(browser: Browser) -> dict[str, Any]:
    answer = browser.post("/sign-in/passkey/begin")
    assert answer.status_code == 200, answer.text
    return answer.json()


def sign_in(browser: Browser, device: Authenticator, after: str = "/bench") -> Response:
    given = device.sign(asked(browser))
    return browser.post("/sign-in/passkey", {"credential": given, "next": after})


@pytest.fixture
def ann(hosted: FastAPI) -> Browser:
    return joined(hosted, "Ann")


@pytest.fixture
def device() -> Authenticator:
    return Authenticator(ADDRESS)


@pytest.fixture
def added(ann: Browser, device: Authenticator) -> Authenticator:
    assert add(ann, device).status_code == 303
    return device


def log_of(app: FastAPI) -> list[str]:
    with app.state.stores.reading() as store:
        return [line.what for line in store.log_lines(20)]


def test_one_adds_a_passkey_and_signs_in_by_it_from_another_browser(
    hosted: FastAPI, ann: Browser, device: Authenticator
):
    answer = add(ann, device)
    assert answer.headers["location"] == "/account?said=passkey"
    assert "not used yet" in ann.page("/account").select_one("section[aria-labelledby=passkeys]").text
    other = Browser(hosted)
    answer = sign_in(other, device)
    assert (answer.status_code, answer.headers["location"]) == (303, "/bench")
    page = other.page("/account")
    assert "Telephone" in page.text
    assert "last used" in page.select_one("section[aria-labelledby=passkeys]").text
    assert log_of(hosted)[0] == "signed in by a passkey"
    assert "added a passkey" in log_of(hosted)
    assert sign_in(Browser(hosted), device, "https://elsewhere.example/").headers["location"] == "/"


def test_the_session_is_a_new_one_and_the_one_before_ends(
    hosted: FastAPI, club: Club, ann: Browser, added: Authenticator
):
    before = ann.token
    answer = sign_in(ann, added)
    assert answer.status_code == 303
    assert ann.token != before
    assert club.who(before) is None
    assert club.who(ann.token) is not None
    assert SESSION_COOKIE in answer.headers["set-cookie"]


def test_what_binds_the_answer_is_kept_from_scripts_other_sites_and_the_clear(hosted: FastAPI):
    cookie = Browser(hosted).post("/sign-in/passkey/begin").headers["set-cookie"]
    assert cookie.startswith(f"{CHALLENGE_COOKIE}=")
    assert {part.strip().lower() for part in cookie.split(";")[1:]} == {
        "httponly", "secure", "samesite=strict", "path=/", "max-age=300",
    }  # fmt: skip


def test_a_challenge_is_good_once_and_in_its_own_browser(hosted: FastAPI, ann: Browser, added: Authenticator):
    browser = Browser(hosted)
    given = added.sign(asked(browser))
    token = browser.client.cookies.get(CHALLENGE_COOKIE)
    stranger = Browser(hosted)
    asked(stranger)
    assert stranger.post("/sign-in/passkey", {"credential": given}).status_code == 422
    assert browser.post("/sign-in/passkey", {"credential": given}).status_code == 303
    again = Browser(hosted)
    again.client.cookies.set(CHALLENGE_COOKIE, str(token), domain="rigs.example", path="/")
    answer = again.post("/sign-in/passkey", {"credential": given})
    assert answer.status_code == 422
    assert NOT_TAKEN in answer.text


def test_any_worker_takes_the_answer(
    hosted: FastAPI,
    hosted_settings: HostedSettings,
    hosted_stores: HostedStores,
    ann: Browser,
    added: Authenticator,
):
    one, other = Browser(hosted), Browser(create_hosted_app(hosted_settings, hosted_stores))
    given = added.sign(asked(one))
    other.client.cookies = one.client.cookies
    assert other.post("/sign-in/passkey", {"credential": given}).status_code == 303


def test_a_challenge_expires(hosted: FastAPI, club: Club, ann: Browser, added: Authenticator):
    passkeys: Passkeys = hosted.state.passkeys
    browser, present = Browser(hosted), passkeys._now
    given = added.sign(asked(browser))
    passkeys._now = lambda: present() + CHALLENGE_GOOD + timedelta(seconds=1)
    assert browser.post("/sign-in/passkey", {"credential": given}).status_code == 422


def test_a_passkey_cannot_be_added_by_what_was_asked_for_a_sign_in_nor_the_other_way_round(
    hosted: FastAPI, ann: Browser, added: Authenticator
):
    asked_to_add = begun_adding(ann)
    options = {"rpId": "rigs.example", "userVerification": "required", "challenge": asked_to_add["challenge"]}
    assert ann.post("/sign-in/passkey", {"credential": added.sign(options)}).status_code == 422
    fresh = Authenticator(ADDRESS)
    options = {**begun_adding(ann), "challenge": asked(ann)["challenge"]}
    answer = ann.post("/account/passkeys", {"passkey": "Other", "credential": fresh.make(options)})
    assert answer.status_code == 422
    assert NOT_ADDED in answer.text


def test_what_another_member_began_adds_nothing(hosted: FastAPI, ann: Browser, device: Authenticator):
    bob = joined(hosted, "Bob")
    made = device.make(begun_adding(bob))
    ann.client.cookies.set(
        CHALLENGE_COOKIE, str(bob.client.cookies.get(CHALLENGE_COOKIE)), domain="rigs.example", path="/"
    )
    assert ann.post("/account/passkeys", {"passkey": "x", "credential": made}).status_code == 422
    assert "Remove the passkey" not in ann.get("/account").text


def changed(name: str, value: object) -> Callable[[Authenticator], None]:
    return lambda device: setattr(device, name, value)


WRONG = {
    "another origin": changed("origin", "https://rigs.example.elsewhere.example"),
    "the same host without https": changed("origin", "http://rigs.example"),
    "within another site's frame": changed("client", {"crossOrigin": True}),
    "below another site": changed("client", {"topOrigin": "https://elsewhere.example"}),
    "another kind": changed("client", {"type": "payment.get"}),
    "another challenge": changed("client", {"challenge": b64(b"x" * 64)}),
    "nobody there": changed("flags", UV),
    "nobody made sure of": changed("flags", UP),
    "kept elsewhere but not able to be": changed("flags", UP | UV | BS),
}


@pytest.mark.parametrize("what", WRONG)
def test_what_is_not_signed_here_by_its_owner_signs_nobody_in(
    hosted: FastAPI, ann: Browser, added: Authenticator, what: str
):
    WRONG[what](added)
    answer = sign_in(Browser(hosted), added)
    assert answer.status_code == 422
    assert NOT_TAKEN in answer.text
    assert log_of(hosted)[0] == "a passkey was refused"


@pytest.mark.parametrize("what", list(WRONG))
def test_what_is_not_made_here_by_its_owner_is_not_added(ann: Browser, device: Authenticator, what: str):
    WRONG[what](device)
    answer = add(ann, device)
    assert answer.status_code == 422
    assert NOT_ADDED in answer.text


def test_another_key_another_handle_and_a_credential_that_nobody_has_are_refused(
    hosted: FastAPI, ann: Browser, added: Authenticator
):
    impostor = Authenticator(ADDRESS, credential=added.credential, handle=added.handle)
    assert sign_in(Browser(hosted), impostor).status_code == 422
    other = Authenticator(ADDRESS, added.key, added.credential, b64(b"another"))
    assert sign_in(Browser(hosted), other).status_code == 422
    without = Authenticator(ADDRESS, added.key, added.credential)
    assert sign_in(Browser(hosted), without).status_code == 422
    nobodys = Authenticator(ADDRESS, added.key, handle=added.handle)
    answer = sign_in(Browser(hosted), nobodys)
    assert answer.status_code == 422
    assert NOT_TAKEN in answer.text
    added.count = 10
    assert sign_in(Browser(hosted), added).status_code == 303


def test_a_counter_that_goes_back_or_stands_is_refused_and_one_that_is_always_zero_is_not(
    hosted: FastAPI, ann: Browser, added: Authenticator
):
    added.count = 6
    assert sign_in(Browser(hosted), added).status_code == 303
    assert added.count == 7
    for stale in (3, 7):
        added.count = stale
        # The authenticator counts one more as it signs.
        added.count -= 1
        assert sign_in(Browser(hosted), added).status_code == 422
    plain = Authenticator(ADDRESS, counts=False)
    assert add(ann, plain, "Key").status_code == 303
    for _ in range(2):
        assert sign_in(Browser(hosted), plain).status_code == 303


def test_a_passkey_that_is_kept_on_several_devices_is_taken(hosted: FastAPI, ann: Browser):
    device = Authenticator(ADDRESS, flags=UP | UV | BE | BS, counts=False)
    assert add(ann, device).status_code == 303
    assert sign_in(Browser(hosted), device).status_code == 303


@pytest.mark.parametrize(
    "given",
    [
        "", "{", "[]", "null", "{}", '{"response": 1}', '{"id": 1, "response": {}}',
        '{"response": {"clientDataJSON": 5}}', '{"response": {"clientDataJSON": "AAAA"}}', "[" * 5000,
        '{"id": "AA", "rawId": "AA", "type": "public-key", "response": {"clientDataJSON": "e30"}}',
        r'{"id": "\ud800", "response": {}}', r'{"id": "\u0000", "response": {}}',
        '{"id": "é", "response": {}}',
    ],
)  # fmt: skip
def test_nonsense_is_refused_in_words(hosted: FastAPI, ann: Browser, given: str):
    browser = Browser(hosted)
    asked(browser)
    assert browser.post("/sign-in/passkey", {"credential": given}).status_code == 422
    begun_adding(ann)
    assert ann.post("/account/passkeys", {"passkey": "x", "credential": given}).status_code == 422


def test_an_answer_with_any_byte_changed_is_no_fault_of_ours(
    hosted: FastAPI, ann: Browser, device: Authenticator
):
    made = json.loads(device.make(begun_adding(ann)))
    whole = unb64(made["response"]["attestationObject"])
    passkeys: Passkeys = hosted.state.passkeys
    who = hosted.state.club.who(ann.token)
    for place in range(0, len(whole), 3):
        broken = whole[:place] + bytes([whole[place] ^ 0xFF]) + whole[place + 1 :]
        made["response"]["attestationObject"] = b64(broken)
        challenge = unb64(json.loads(unb64(made["response"]["clientDataJSON"]))["challenge"])
        # As if it had been begun anew, without the password a hundred times.
        token = passkeys._kept(challenge, who.account.observer_id, device.handle)
        # Of the authenticator's model and of the signatures' count nothing is asked.
        with suppress(FieldErrors):
            passkeys.add(who, token, "Broken", json.dumps(made))


@pytest.mark.parametrize(
    "wrong",
    [
        {"fmt": 7}, {"fmt": "packed"}, {"fmt": "packed", "attStmt": {"sig": b"x", "alg": -7, "x5c": [b"x"]}},
        {"fmt": "packed", "attStmt": {"sig": b"x", "alg": -7, "x5c": 5}},
        {"fmt": "tpm", "attStmt": {"ver": "2.0", "sig": b"x", "alg": -7, "x5c": [b"x"]}},
        {"fmt": "android-key", "attStmt": {"sig": b"x", "alg": -7, "x5c": [b"x"]}}, {"attStmt": 5},
        {"fmt": "android-safetynet", "attStmt": {"ver": "1", "response": b"a.b.c"}}, {"authData": 5},
        {"fmt": "fido-u2f", "attStmt": {"sig": b"x", "x5c": [b"x"]}}, {"pk": 5}, {"pk": {}}, {"pk": {1: {}}},
        {"fmt": "apple", "attStmt": {"x5c": [b"x"]}},
    ],
)  # fmt: skip
def test_a_passkey_of_any_form_that_is_none_is_refused_in_words(
    ann: Browser, device: Authenticator, wrong: dict[str, Any]
):
    made = json.loads(device.make(begun_adding(ann)))
    whole = cbor2.loads(unb64(made["response"]["attestationObject"]))
    if "pk" in wrong:
        held = 37 + 16 + 2 + len(device.credential)
        wrong = {"authData": whole["authData"][:held] + cbor2.dumps(wrong["pk"])}
    made["response"]["attestationObject"] = b64(cbor2.dumps({**whole, **wrong}))
    answer = ann.post("/account/passkeys", {"passkey": "x", "credential": json.dumps(made)})
    assert answer.status_code == 422
    assert NOT_ADDED in answer.text


def test_the_password_is_asked_for_before_one_is_added(ann: Browser):
    for sent, said in (
        ({"passkey": "Telephone", "proof": OTHER}, "This is not your password"),
        ({"passkey": " ", "proof": PASSWORD}, "Give it a name"),
        ({"passkey": "x" * 61, "proof": PASSWORD}, "at most 60 characters"),
    ):
        answer = ann.post("/account/passkeys/new", sent)
        assert answer.status_code == 422
        assert said in answer.text
        assert PASSWORD not in answer.text


def test_all_of_ones_passkeys_have_one_handle_that_says_nothing_and_are_not_made_twice_on_a_device(
    ann: Browser, added: Authenticator
):
    options = begun_adding(ann, "Key")
    assert options["user"]["id"] == added.handle
    assert len(unb64(added.handle)) == 64
    assert [one["id"] for one in options["excludeCredentials"]] == [b64(added.credential)]
    answer = ann.post("/account/passkeys", {"passkey": "Twice", "credential": added.make(options)})
    assert answer.status_code == 422


def test_one_removes_a_passkey_of_ones_own_alone(hosted: FastAPI, ann: Browser, added: Authenticator):
    (form,) = ann.page("/account").select("form[action*='/account/passkeys/'][action$='/remove']")
    assert joined(hosted, "Bob").post(str(form["action"])).status_code == 404
    assert sign_in(Browser(hosted), added).status_code == 303
    assert ann.post(str(form["action"])).headers["location"] == "/account?said=removed"
    assert sign_in(Browser(hosted), added).status_code == 422


def test_who_set_a_lost_password_is_shown_the_passkeys_that_sign_in_as_well(
    hosted: FastAPI, ann: Browser, added: Authenticator
):
    sue, here = joined(hosted, "Sue", "steward"), Browser(hosted)
    page = BeautifulSoup(sue.post(f"/members/{ann.observer_id}/password-link").text, "html.parser")
    link = str(page.select_one("#link")["value"]).removeprefix(ADDRESS)
    done = here.post(link, {"password": OTHER, "again": OTHER})
    page = here.page(done.headers["location"])
    (said,) = page.select("main > .notice.watch")
    assert "1 passkey can sign in to your account as well" in said.text
    assert page.select_one(str(said.a["href"]))
    assert here.page("/account").select("main > .notice.watch") == []


def test_a_closed_account_is_not_opened_by_a_passkey(hosted: FastAPI, ann: Browser, added: Authenticator):
    sue = joined(hosted, "Sue", "steward")
    sue.post(f"/members/{ann.observer_id}/closed", {"closed": "yes"})
    answer = sign_in(Browser(hosted), added)
    assert answer.status_code == 422
    assert NOT_TAKEN in answer.text


def test_failures_are_slowed_down_by_address(hosted: FastAPI):
    browser = Browser(hosted)
    answers = [browser.post("/sign-in/passkey", {"credential": "{}"}) for _ in range(22)]
    assert [answer.status_code for answer in answers[:20]] == [422] * 20
    assert answers[-1].status_code == 429
    assert int(answers[-1].headers["retry-after"]) >= 1
    assert browser.post("/sign-in", {"login": "Ann", "password": PASSWORD}).status_code == 429


def test_a_stranger_does_not_fill_the_store_with_what_is_begun(hosted: FastAPI):
    browser = Browser(hosted)
    answers = [browser.post("/sign-in/passkey/begin") for _ in range(52)]
    assert answers[49].status_code == 200
    assert answers[-1].status_code == 429
    assert "Too many tries" in answers[-1].json()["said"]


def test_without_a_name_as_its_address_a_club_offers_none(
    hosted_settings: HostedSettings, hosted_stores: HostedStores
):
    address = "http://127.0.0.1:8330"
    app = create_hosted_app(hosted_settings.model_copy(update={"public": address}), hosted_stores)
    client = TestClient(app, base_url=address)
    assert "passkey" not in client.get("/sign-in").text
    assert client.post("/sign-in/passkey/begin").status_code == 404


def test_what_is_taken_out_names_the_passkeys_and_holds_no_key(ann: Browser, added: Authenticator):
    told = ann.get("/account/take-out.json")
    (one,) = json.loads(told.text)["passkeys"]
    assert (one["name"], one["used_at"]) == ("Telephone", None)
    assert b64(added.credential) not in told.text


def test_passkeys_go_with_who_leaves(hosted: FastAPI, ann: Browser, added: Authenticator):
    joined(hosted, "Sue", "steward")
    assert ann.post("/account/delete", {"leaving": PASSWORD}).status_code == 303
    assert sign_in(Browser(hosted), added).status_code == 422
    with hosted.state.stores.reading() as store:
        assert store.passkeys(ann.observer_id) == ()


def test_a_page_without_javascript_shows_no_passkey_button(hosted: FastAPI, ann: Browser):
    assert Browser(hosted).page("/sign-in").select_one("form[data-passkey]").has_attr("hidden")
    assert ann.page("/account").select_one("form[data-passkey-offered]").has_attr("hidden")
