"""A lost password by mail, against mail servers on this machine."""

from __future__ import annotations

import json
import re
import socket
import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI

from server.flow.lost_passwords import LINK_OVER, LostPasswords
from server.hosted import create_hosted_app
from server.settings import HostedSettings
from server.store.accounts import HostedStores
from server.web.account import post
from tests.loop import run_to_its_end
from tests.mail import Box, Taking, until
from tests.web.hosted import ADDRESS, OTHER, PASSWORD, Browser, joined

pytestmark = [
    pytest.mark.usefixtures("place"),
    # aiosmtpd 1.4 leaves its socket to be collected.
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]


@pytest.fixture
def by_mail(
    hosted_settings: HostedSettings, hosted_stores: HostedStores, taking: Callable[..., Taking]
) -> Iterator[Callable[[int], FastAPI]]:
    """The app with a mail server at some port of this machine."""
    opened: list[FastAPI] = []

    def open_one(port: int) -> FastAPI:
        chosen = {"mail": f"smtp://127.0.0.1:{port}", "mail_from": "club@rigs.example"}
        opened.append(create_hosted_app(hosted_settings.model_copy(update=chosen), hosted_stores))
        return opened[-1]

    yield open_one
    for app in opened:
        # What it looks up after an answer would meet the next test's database.
        run_to_its_end(app.state.at_end())


@pytest.fixture
def mailing(by_mail: Callable[[int], FastAPI], taking: Callable[..., Taking], box: Box) -> FastAPI:
    return by_mail(taking(box).port)


def link_in(mail: EmailMessage) -> str:
    (found,) = re.findall(rf"{ADDRESS}(/\S+)", mail.get_content())
    return str(found)


def enter(browser: Browser, box: Box, mail: str) -> str:
    """Enters an address; the link that came there."""
    answer = browser.post("/account/mail", {"mail": mail, "mail_proof": PASSWORD})
    assert answer.headers.get("location") == "/account?said=mailed", answer.text
    return link_in(until(lambda: box.to(mail))[-1])


def confirmed(browser: Browser, box: Box, mail: str) -> None:
    assert browser.post(enter(browser, box, mail)).headers["location"] == "/account?said=confirmed"


def idle(app: FastAPI) -> None:
    """Waits until all that was to be written is."""
    jobs = app.state.lost_passwords._post
    done: list[bool] = []
    jobs.later(lambda: done.append(True))
    until(lambda: done)


def test_one_confirms_an_address_and_sets_a_lost_password_by_a_link_sent_there(mailing: FastAPI, box: Box):
    ann = joined(mailing, "Ann")
    link = enter(ann, box, "ann@home.example")
    assert "Take the address out" not in ann.get("/account").text
    assert "ann@home.example" in ann.page(link).select_one("main").text
    assert ann.post(link).status_code == 303
    assert "Take the address out" in ann.get("/account").text
    stranger = Browser(mailing)
    assert "/lost-password" in stranger.get("/sign-in").text
    for typed in ("ANN ", "Ann@Home.example"):
        box.mails.clear()
        assert "Look into your mail" in stranger.post("/lost-password", {"login": typed}).text
        (mail,) = until(lambda: box.to("ann@home.example"))
    link = link_in(mail)
    assert stranger.page(link).select_one("h1").text == "A new password"
    assert stranger.post(link, {"password": OTHER, "again": OTHER}).status_code == 303
    assert "Ann" in stranger.page("/").title.text
    assert ann.get("/").status_code == 302, "all other sessions end"
    over = Browser(mailing).get(link)
    assert over.status_code == 404
    assert 'href="/lost-password"' in over.text
    wrong = Browser(mailing).post("/sign-in", {"login": "Ann", "password": PASSWORD})
    assert "steward" not in wrong.text


def test_a_name_that_is_anothers_address_keeps_nobody_from_their_link(mailing: FastAPI, box: Box):
    confirmed(joined(mailing, "Ann"), box, "ann@home.example")
    joined(mailing, "ann@home.example")
    box.mails.clear()
    Browser(mailing).post("/lost-password", {"login": "ann@home.example"})
    (mail,) = until(lambda: box.to("ann@home.example"))
    assert "the password of Ann at" in mail.get_content()


def test_the_mail_is_short_plain_and_for_nobody_to_answer(mailing: FastAPI, box: Box):
    ann = joined(mailing, "Änne")
    confirmed(ann, box, "ann@home.example")
    Browser(mailing).post("/lost-password", {"login": "Änne"})
    mail = until(lambda: [one for one in box.mails if "password" in one["Subject"]])[0]
    assert mail.get_content_type() == "text/plain"
    assert mail["From"] == "club@rigs.example"
    assert mail["Auto-Submitted"] == "auto-generated"
    assert mail["Date"]
    assert mail["Message-ID"].endswith("@rigs.example>")
    text = mail.get_content()
    assert "Somebody (you, we hope) has lost the password of Änne at" in text
    assert len(text.splitlines()) <= 8
    assert text.count("https://") == 2, "the club and the link"


def test_whether_there_is_such_a_member_is_told_by_nothing(mailing: FastAPI, box: Box):
    joined(mailing, "Ann")
    confirmed(joined(mailing, "Bob"), box, "bob@home.example")
    sue, zoe = joined(mailing, "Sue", "steward"), joined(mailing, "Zoe")
    confirmed(zoe, box, "zoe@home.example")
    sue.post(f"/members/{zoe.observer_id}/closed", {"closed": "yes"})
    box.mails.clear()
    answers = {
        typed: Browser(mailing).post("/lost-password", {"login": typed})
        for typed in ("Ann", "Bob", "Nobody", "bob@home.example", "no@home.example", "Zoe", "", "x\r\nTo: y")
    }
    assert len({(answer.status_code, answer.text) for answer in answers.values()}) == 1
    assert len({str(sorted(answer.headers.items())) for answer in answers.values()}) == 1
    idle(mailing)
    assert {mail["To"] for mail in box.mails} == {"bob@home.example"}


def test_the_answer_waits_for_no_mail_server_and_for_no_member_to_be_found(
    by_mail: Callable[[int], FastAPI], hosted_stores: HostedStores
):
    with socket.create_server(("127.0.0.1", 0)) as silent:
        app = by_mail(silent.getsockname()[1])
        ann = joined(app, "Ann")
        with hosted_stores.writing() as store:
            store.set_mail(ann.observer_id, "ann@home.example")
        lost: LostPasswords = app.state.lost_passwords
        jobs: list[Any] = []

        class Waiting:
            def later(self, job: Any) -> None:
                jobs.append(job)

        sending, lost._post = lost._post, Waiting()
        for typed in ("Ann", "Nobody"):
            assert Browser(app).post("/lost-password", {"login": typed}).status_code == 200
        with hosted_stores.reading() as store:
            assert store.links("password") == (), "nothing was looked up yet"
        lost._post = sending
        begun = time.monotonic()
        for _ in range(3):
            assert Browser(app).post("/lost-password", {"login": "Ann"}).status_code == 200
        assert time.monotonic() - begun < post.PATIENCE_S / 2


def test_few_mails_go_to_one_member_and_few_are_asked_for_from_one_place(mailing: FastAPI, box: Box):
    ann = joined(mailing, "Ann")
    with mailing.state.stores.writing() as store:
        store.set_mail(ann.observer_id, "ann@home.example")
    browser = Browser(mailing)
    answers = [browser.post("/lost-password", {"login": "Ann"}) for _ in range(22)]
    assert [answer.status_code for answer in answers[:20]] == [200] * 20
    assert answers[-1].status_code == 429
    assert int(answers[-1].headers["retry-after"]) >= 1
    idle(mailing)
    assert len(box.mails) == 3
    lost: LostPasswords = mailing.state.lost_passwords
    present = lost._now
    lost._now = lambda: present() + timedelta(minutes=16)
    lost.ask("Ann", "198.51.100.9", str)
    lost.ask("Ann", "198.51.100.9", str)
    idle(mailing)
    assert len(box.mails) == 4


def test_a_link_that_a_steward_made_is_not_lost_by_a_stranger_who_asks(mailing: FastAPI, box: Box):
    sue, ann = joined(mailing, "Sue", "steward"), joined(mailing, "Ann")
    confirmed(ann, box, "ann@home.example")
    made = sue.post(f"/members/{ann.observer_id}/password-link").text
    link = made.split('id="link"')[1].split(f'value="{ADDRESS}')[1].split('"')[0]
    box.mails.clear()
    Browser(mailing).post("/lost-password", {"login": "Ann"})
    mailed = link_in(until(lambda: box.mails)[0])
    assert Browser(mailing).post(link, {"password": OTHER, "again": OTHER}).status_code == 303
    assert Browser(mailing).get(mailed).status_code == 404, "one that is used ends the others"


def test_a_link_by_mail_is_good_for_an_hour_and_kept_as_its_hash(
    mailing: FastAPI, box: Box, hosted_settings: HostedSettings
):
    confirmed(joined(mailing, "Ann"), box, "ann@home.example")
    box.mails.clear()
    Browser(mailing).post("/lost-password", {"login": "Ann"})
    link = link_in(until(lambda: box.mails)[0])
    with mailing.state.stores.reading() as store:
        (kept,) = store.links("password")
        assert kept.expires_at - kept.made_at == timedelta(hours=1)
    present = mailing.state.club._now
    mailing.state.club._now = lambda: present() + timedelta(hours=1, seconds=1)
    assert Browser(mailing).get(link).status_code == 404
    if "://" not in hosted_settings.place:
        assert link.rpartition("/")[2].encode() not in Path(hosted_settings.place).read_bytes()


def test_an_address_is_confirmed_by_its_own_member_alone_and_once(mailing: FastAPI, box: Box):
    ann, bob = joined(mailing, "Ann"), joined(mailing, "Bob")
    link = enter(ann, box, "ann@home.example")
    assert Browser(mailing).get(link).headers["location"].startswith("/sign-in?next=")
    assert bob.get(link).status_code == bob.post(link).status_code == 404
    assert ann.post(link).status_code == 303
    again = ann.post(link)
    assert again.status_code == 404
    assert LINK_OVER[:30] in again.text


def test_an_address_is_one_members_alone(mailing: FastAPI, box: Box):
    confirmed(joined(mailing, "Ann"), box, "both@home.example")
    bob = joined(mailing, "Bob")
    answer = bob.post(enter(bob, box, "Both@home.example"))
    assert answer.status_code == 422
    assert "Another account has this address" in answer.text


def test_the_password_is_asked_for_before_an_address_is_entered(mailing: FastAPI, box: Box):
    ann = joined(mailing, "Ann")
    for sent, said in (
        ({"mail": "ann@home.example", "mail_proof": OTHER}, "This is not your password"),
        ({"mail": "ann", "mail_proof": PASSWORD}, "no address that mail can be sent to"),
        ({"mail": "ann@home.example\nBcc: x@y.example", "mail_proof": PASSWORD}, "no address"),
        ({"mail": f"{'a' * 65}@home.example", "mail_proof": PASSWORD}, "no address"),
    ):
        answer = ann.post("/account/mail", sent)
        assert answer.status_code == 422
        assert said in answer.text
        assert PASSWORD not in answer.text
    idle(mailing)
    assert box.mails == []


def test_an_address_is_taken_out_with_ones_data_removed_and_gone_with_who_leaves(mailing: FastAPI, box: Box):
    joined(mailing, "Sue", "steward")
    ann = joined(mailing, "Ann")
    confirmed(ann, box, "ann@home.example")
    assert json.loads(ann.get("/account/take-out.json").text)["mail"] == "ann@home.example"
    box.mails.clear()
    Browser(mailing).post("/lost-password", {"login": "Ann"})
    link = link_in(until(lambda: box.mails)[0])
    assert ann.post("/account/mail/forget").status_code == 303
    assert Browser(mailing).get(link).status_code == 404, "what was sent there leads nowhere"
    assert json.loads(ann.get("/account/take-out.json").text)["mail"] == ""
    with mailing.state.stores.writing() as store:
        store.set_mail(ann.observer_id, "ann@home.example")
    assert ann.post("/account/delete", {"leaving": PASSWORD}).status_code == 303
    with mailing.state.stores.reading() as store:
        assert store.account_mailed("ann@home.example") is None


def test_a_club_without_mail_offers_none(hosted: FastAPI):
    ann = joined(hosted, "Ann")
    assert "/lost-password" not in Browser(hosted).get("/sign-in").text
    assert Browser(hosted).get("/lost-password").status_code == 404
    assert "/account/mail" not in ann.get("/account").text
    assert ann.post("/account/mail", {"mail": "a@b.example"}).status_code == 404
    with hosted.state.stores.writing() as store:
        store.set_mail(ann.observer_id, "ann@home.example")
    assert "sends no mail now" in ann.get("/account").text
    assert ann.post("/account/mail/forget").status_code == 303
    assert "ann@home.example" not in ann.get("/account").text
