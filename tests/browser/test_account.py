"""The hosted form in a browser: its pages in every theme, and that htmx's requests carry the token."""

from __future__ import annotations

import shutil
import socket
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from server.domain.account import OneTimeLink
from server.flow.accounts import Club, digest
from server.hosted import create_hosted_app
from server.settings import HostedSettings
from server.store.accounts import HostedStores
from tests.browser.conftest import Opener, Watch
from tests.browser.serving import answering
from tests.browser.test_every_page import CONTRAST, EVERYTHING, NARROW, WIDE, violations
from tests.store.conftest import ring
from tests.web.hosted import PASSWORD, joined

pytestmark = pytest.mark.browser

THEMES = ("light", "dark", "red")


@dataclass(frozen=True)
class Hosted:
    address: str
    club: Club
    stores: HostedStores

    def mailed(self, name: str) -> str:
        """The token of a link that confirms someone's address, with another one that is confirmed."""
        token, now = f"mailed to {name}".replace(" ", "-"), datetime.now(UTC)
        with self.stores.writing() as store:
            (account,) = (one for one in store.accounts() if one.login == name)
            mail = "a.rather.long.name.of.somebody@observatory.example"
            until = now + timedelta(hours=1)
            link = OneTimeLink(0, "mail", account.role, account.observer_id, now, until, mail)
            store.add_link(digest(token), link)
            store.set_mail(account.observer_id, mail)
        return token


@pytest.fixture
def hosted(tmp_path: Path, empty_database: Path) -> Iterator[Hosted]:
    shutil.copyfile(empty_database, tmp_path / "club.sqlite3")
    with socket.create_server(("127.0.0.1", 0)) as listener:
        address = f"http://localhost:{listener.getsockname()[1]}"
        place = str(tmp_path / "club.sqlite3")
        mail = {"mail": "smtp://127.0.0.1:9", "mail_from": "club@rigs.example"}
        settings = HostedSettings(data=tmp_path, place=place, public=address, door="open")
        settings = settings.model_copy(update=mail)
        app = create_hosted_app(settings)
        joined(app, "Sue", "steward")
        joined(app, "Ann")
        club: Club = app.state.club
        with app.state.stores.writing() as store:
            sue, ann = (one.id for one in sorted(store.observers(), key=lambda one: one.name != "Sue"))
            rings = [ring("Ring 5", "M48x0.75 male"), ring("RING-5", "M54x0.75 male", note="Worn")]
            numbers = store.add_parts(rings, ann)
            store.change_part(numbers[0], ring("Ring 5", "M48x0.75 male", note="Loose"), sue)
        club.ask("Zoe", "We met in May.", PASSWORD, PASSWORD, "")
        with answering(app, listener):
            yield Hosted(address, club, app.state.stores)


def has_authenticator(page: Page) -> None:
    """Puts an authenticator beside this page, with whose owner all is well."""
    devtools = page.context.new_cdp_session(page)
    devtools.send("WebAuthn.enable")
    options = {
        "protocol": "ctap2",
        "transport": "internal",
        "hasResidentKey": True,
        "hasUserVerification": True,
        "isUserVerified": True,
        "automaticPresenceSimulation": True,
    }
    devtools.send("WebAuthn.addVirtualAuthenticator", {"options": options})


def begin_passkey(page: Page) -> None:
    page.goto("/account")
    page.get_by_label("Name of the new passkey").fill("This telephone")
    page.get_by_label("Your password, to add it").fill(PASSWORD)
    page.get_by_role("button", name="Add a passkey").click()


def sign_in(page: Page, name: str) -> None:
    page.goto("/sign-in")
    page.get_by_label("Name").fill(name)
    page.get_by_label("Password", exact=True).fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url("**/")


def looked_at(page: Page, path: str, options: dict[str, Any]) -> None:
    page.goto(path)
    for size in (WIDE, NARROW):
        page.set_viewport_size(size)
        assert violations(page, options) == [], path
        assert page.evaluate("document.documentElement.scrollWidth") <= size["width"], path
    page.set_viewport_size(WIDE)


@pytest.mark.parametrize("theme", THEMES)
def test_the_pages_before_the_sign_in_are_accessible_in_every_theme(
    hosted: Hosted, new_context: Opener, watch: Watch, theme: str
):
    page = new_context(hosted.address, theme=theme).new_page()
    for path in ("/sign-in", "/lost-password", "/door", f"/invitation/{hosted.club.invite(None, 'member')}"):
        looked_at(page, path, EVERYTHING if theme == "light" else CONTRAST)


@pytest.mark.parametrize("theme", THEMES)
def test_the_pages_behind_it_are_accessible_in_every_theme(
    hosted: Hosted, new_context: Opener, watch: Watch, theme: str
):
    page = new_context(hosted.address, theme=theme).new_page()
    sign_in(page, "Sue")
    confirming = f"/account/mail/{hosted.mailed('Sue')}"
    doubles = ("/members/doubles", "/members/doubles/1", "/members/doubles/1/2", "/shelf/1", "/shelf/1/edit")
    for path in (confirming, "/account", "/members", "/members/log", *doubles):
        looked_at(page, path, EVERYTHING if theme == "light" else CONTRAST)


@pytest.mark.parametrize("theme", THEMES)
def test_what_the_club_has_in_common_is_accessible_in_every_theme(
    hosted: Hosted, new_context: Opener, watch: Watch, theme: str
):
    options = EVERYTHING if theme == "light" else CONTRAST
    sue, ann = (new_context(hosted.address, theme=theme).new_page() for _ in range(2))
    sign_in(sue, "Sue")
    sue.goto("/club")
    sue.get_by_role("button", name="Work as the club").click()
    sue.goto("/shelf/new?kind=spacer_ring")
    sue.get_by_label("Maker").fill("Halden")
    sue.get_by_label("Model").fill("Ring")
    sue.locator("#part-form button.strong").first.click()
    sue.wait_for_url("**/shelf/3?*")
    looked_at(sue, "/shelf", options)
    sign_in(ann, "Ann")
    for path in ("/club", "/shelf?holding=lent", "/shelf/3"):
        looked_at(ann, path, options)
    ann.get_by_label("What it costs you").fill("cheap")
    watch.allow_status(422)
    ann.get_by_role("button", name="Keep the price").click()
    assert "is not a price" in ann.locator("#f-price-error").inner_text()
    rig = "/bench/1"
    ann.goto("/bench")
    ann.get_by_label("Name").first.fill("Garden")
    ann.get_by_role("button", name="Begin").first.click()
    ann.wait_for_url(f"**{rig}*")
    ann.get_by_role("button", name="Add Halden Ring", exact=True).click()
    ann.locator(".of-club").wait_for()
    looked_at(ann, rig, options)
    ann.goto(rig)
    ann.get_by_text("Save to the logbook").first.click()
    ann.get_by_label("Title").fill("First")
    ann.get_by_role("button", name="Save").last.click()
    ann.wait_for_url("**/logbook/1*")
    ann.get_by_role("button", name="Share with the club").click()
    ann.get_by_role("button", name="Take it back").wait_for()
    looked_at(ann, "/logbook/1", options)
    looked_at(sue, "/club/entries/1", options)


def test_one_comes_by_invitation_and_what_htmx_sends_is_taken(
    hosted: Hosted, new_context: Opener, watch: Watch
):
    page = new_context(hosted.address).new_page()
    page.goto(f"/invitation/{hosted.club.invite(None, 'member')}")
    page.get_by_label("Name").fill("Yan")
    page.get_by_label("New password").fill(PASSWORD)
    page.get_by_label("The same once more").fill(PASSWORD)
    page.get_by_role("button", name="Begin").click()
    page.goto("/shelf/new?kind=spacer_ring")
    page.get_by_label("Maker").fill("Halden")
    page.get_by_label("Model").fill("Ring")
    page.locator("#part-form button.strong").first.click()
    page.goto("/shelf?holding=catalogue")
    for _ in range(2):
        with page.expect_response(lambda answer: "/holding" in answer.url) as found:
            page.locator("form.holding button").last.click()
        assert found.value.status == 200
        assert found.value.request.headers["hx-request"] == "true"
    page.goto("/shelf")
    page.locator("details.me summary").click()
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in")
    page.goto("/shelf")
    assert page.url.endswith("/sign-in?next=%2Fshelf")


@pytest.mark.parametrize("theme", THEMES)
def test_a_passkey_is_made_and_signs_in_and_its_pages_are_accessible(
    hosted: Hosted, new_context: Opener, watch: Watch, theme: str
):
    page = new_context(hosted.address, theme=theme).new_page()
    has_authenticator(page)
    sign_in(page, "Ann")
    begin_passkey(page)
    expect(page.get_by_role("heading", name="A new passkey")).to_be_visible()
    options = EVERYTHING if theme == "light" else CONTRAST
    for size in (WIDE, NARROW):
        page.set_viewport_size(size)
        assert violations(page, options) == []
    page.get_by_role("button", name="Make it").click()
    page.wait_for_url("**/account?said=passkey")
    expect(page.get_by_text("This telephone")).to_be_visible()
    looked_at(page, "/account", options)
    page.locator("details.me summary").click()
    page.get_by_role("button", name="Sign out", exact=True).click()
    page.wait_for_url("**/sign-in")
    page.goto("/shelf")
    page.get_by_role("button", name="Use a passkey").click()
    page.wait_for_url("**/shelf")
    begin_passkey(page)
    page.get_by_role("button", name="Make it").click()
    expect(
        page.get_by_role("alert").filter(has_text="has a passkey for your account already")
    ).to_be_visible()
    page.goto("/account")
    page.get_by_role("button", name="Remove the passkey This telephone").click()
    page.wait_for_url("**/account?said=removed")


def test_a_passkey_that_nobody_has_leaves_the_password_to_sign_in_by(
    hosted: Hosted, new_context: Opener, watch: Watch
):
    page = new_context(hosted.address).new_page()
    has_authenticator(page)
    page.goto("/sign-in")
    page.get_by_role("button", name="Use a passkey").click()
    expect(page.get_by_text("No passkey was used")).to_be_visible()
    expect(page.get_by_role("button", name="Use a passkey")).to_be_enabled()


def test_without_a_script_the_password_alone_is_shown(hosted: Hosted, new_context: Opener, watch: Watch):
    page = new_context(hosted.address, java_script_enabled=False).new_page()
    page.goto("/sign-in")
    expect(page.get_by_role("button", name="Sign in")).to_be_visible()
    expect(page.get_by_role("button", name="Use a passkey")).to_be_hidden()


def test_a_link_is_asked_for_by_mail(hosted: Hosted, new_context: Opener, watch: Watch):
    page = new_context(hosted.address).new_page()
    page.goto("/sign-in")
    page.get_by_role("link", name="Lost your password?").click()
    page.get_by_label("Name or address").fill("Nobody")
    page.get_by_role("button", name="Send the link").click()
    expect(page.get_by_role("heading", name="Look into your mail")).to_be_visible()
    for size in (WIDE, NARROW):
        page.set_viewport_size(size)
        assert violations(page, EVERYTHING) == []


@pytest.mark.parametrize(
    ("label", "button"),
    [
        ("Your password, to add it", "Add a passkey"),
        ("Your password, to delete everything", "Delete my account"),
    ],
)
def test_what_was_refused_on_ones_account_stands_in_view(
    hosted: Hosted, new_context: Opener, watch: Watch, label: str, button: str
):
    watch.allow_status(422)
    page = new_context(hosted.address).new_page()
    page.set_viewport_size(NARROW)
    sign_in(page, "Sue")
    page.goto("/account")
    page.get_by_label("Name of the new passkey").fill("Key")
    page.get_by_label(label).fill("wrong")
    page.get_by_role("button", name=button).click()
    expect(page.get_by_label(label)).to_be_focused()
    expect(page.get_by_text("This is not your password")).to_be_in_viewport()
    assert violations(page, EVERYTHING) == []
