"""The verbs of accounts, over a real store in a file."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from argon2 import PasswordHasher

from server.domain.account import Role, SignedIn
from server.domain.errors import FieldErrors, NotFoundError, RefusedError, TooSoonError
from server.flow import accounts
from server.flow.accounts import LAST_STEWARD, LINK_OVER, NOT_TOGETHER, Club, form_token, is_form_token
from server.flow.passwords import is_right
from server.store import open_stores
from server.store.accounts import HostedStores
from tests.web.hosted import OTHER, PASSWORD, kept

HERE = "192.0.2.7"
LOG_KEPT = timedelta(days=40)


class Clock:
    def __init__(self) -> None:
        self.now = datetime(2026, 3, 20, 22, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.now

    def later(self, **by: float) -> None:
        self.now += timedelta(**by)


class Here:
    def __init__(self, stores: HostedStores) -> None:
        self.stores = stores
        self.clock = Clock()
        self.club = Club(stores, ("rigs", "example"), self.clock, LOG_KEPT)

    def join(self, name: str, role: Role = "member") -> SignedIn:
        with self.stores.writing() as store:
            number = store.add_observer(name, "metric").id
            store.add_account(number, name, role, kept(PASSWORD), self.clock())
        return self.who(self.club.begun(number, "signed in", "a test"))

    def who(self, token: str) -> SignedIn:
        found = self.club.who(token)
        assert found is not None
        return found

    def log(self) -> list[str]:
        with self.stores.reading() as store:
            return [f"{line.by}|{line.what}|{line.about}" for line in store.log_lines(100)]


@pytest.fixture
def here(place: Path | str) -> Iterator[Here]:
    stores = HostedStores(open_stores(place))
    yield Here(stores)
    stores.close()


def test_one_signs_in_by_name_in_any_letter_case_and_out_again(here: Here):
    ann = here.join("Ann")
    token = here.club.sign_in("aNN ", PASSWORD, HERE, "Browser")
    who = here.who(token)
    assert (who.account.login, who.session.agent) == ("Ann", "Browser")
    here.club.sign_out(who)
    assert here.club.who(token) is None
    assert [one.id for one in here.club.sessions(ann)] == [ann.session.id]


def test_every_sign_in_has_another_token_of_256_bits(here: Here):
    here.join("Ann")
    tokens = {here.club.sign_in("Ann", PASSWORD, HERE, "") for _ in range(2)}
    assert len(tokens) == 2
    assert {len(token) for token in tokens} == {43}


def test_a_wrong_name_a_wrong_password_and_a_closed_account_answer_alike(
    here: Here, monkeypatch: pytest.MonkeyPatch
):
    steward, ann = here.join("Sue", "steward"), here.join("Ann")
    hashes: list[str | None] = []

    def counted(password: str, kept: str | None) -> bool:
        hashes.append(kept)
        return is_right(password, kept)

    monkeypatch.setattr(accounts, "is_right", counted)
    here.club.set_closed(steward, ann.account.observer_id, closed=True)
    for name, password in (("Nobody", PASSWORD), ("Sue", OTHER), ("Ann", PASSWORD)):
        with pytest.raises(RefusedError) as refused:
            here.club.sign_in(name, password, HERE, "")
        assert refused.value.message == NOT_TOGETHER
    assert len(hashes) == 3, "each costs the time of one hash"


@pytest.mark.parametrize("name", ["Ann", "Nobody"])
def test_tries_that_fail_are_slowed_down_whether_or_not_there_is_such_an_account(here: Here, name: str):
    here.join("Ann")
    for _ in range(5):
        with pytest.raises(RefusedError, match="do not go together"):
            here.club.sign_in(name, OTHER, HERE, "")
    with pytest.raises(TooSoonError) as soon:
        here.club.sign_in(name, PASSWORD, "198.51.100.9", "")
    assert 2 <= soon.value.seconds <= 3
    here.clock.later(seconds=2)
    with pytest.raises(RefusedError):
        here.club.sign_in(name, OTHER, HERE, "")
    with pytest.raises(TooSoonError) as soon:
        here.club.sign_in(name, OTHER, HERE, "")
    assert 4 <= soon.value.seconds <= 5


def test_the_right_password_after_the_wait_begins_anew(here: Here):
    here.join("Ann")
    for _ in range(5):
        with pytest.raises(RefusedError):
            here.club.sign_in("Ann", OTHER, HERE, "")
    here.clock.later(seconds=2)
    here.club.sign_in("Ann", PASSWORD, HERE, "")
    with pytest.raises(RefusedError, match="do not go together"):
        here.club.sign_in("Ann", OTHER, HERE, "")


def test_one_address_that_tries_many_names_is_slowed_down_and_others_are_not(
    here: Here, monkeypatch: pytest.MonkeyPatch
):
    here.join("Ann")
    monkeypatch.setattr(
        accounts, "is_right", lambda password, kept: password == PASSWORD and kept is not None
    )
    for number in range(20):
        with pytest.raises(RefusedError, match="do not go together"):
            here.club.sign_in(f"Name {number}", OTHER, "2001:db8::1", "")
    with pytest.raises(TooSoonError):
        here.club.sign_in("Ann", PASSWORD, "2001:db8::ffff", "")
    here.club.sign_in("Ann", PASSWORD, "2001:db8:1::1", "")


def test_a_hash_of_older_parameters_is_made_anew_at_the_sign_in(here: Here):
    ann = here.join("Ann")
    old = PasswordHasher(time_cost=1, memory_cost=8192, parallelism=1).hash(PASSWORD)
    with here.stores.writing() as store:
        store.set_password_hash(ann.account.observer_id, old)
    here.club.sign_in("Ann", PASSWORD, HERE, "")
    with here.stores.reading() as store:
        found = store.account_named("ann")
    assert found is not None
    assert "m=65536" in found[1]


def test_a_session_ends_by_lying_idle_and_at_its_longest(here: Here):
    here.join("Ann")
    token = here.club.sign_in("Ann", PASSWORD, HERE, "")
    for _ in range(5):
        here.clock.later(days=5)
        assert here.club.who(token) is not None
    here.clock.later(days=5)
    assert here.club.who(token) is None
    again = here.club.sign_in("Ann", PASSWORD, HERE, "")
    here.clock.later(days=7)
    assert here.club.who(again) is None


def test_nobody_ends_anothers_session(here: Here):
    ann, bob = here.join("Ann"), here.join("Bob")
    here.club.end_session(bob, ann.session.id)
    assert len(here.club.sessions(ann)) == 1


# Links


def test_an_invitation_is_good_once(here: Here):
    steward = here.join("Sue", "steward")
    token = here.club.invite(steward, "member")
    who = here.who(here.club.accept(token, "Ann", PASSWORD, PASSWORD, ""))
    assert (who.account.login, who.account.role) == ("Ann", "member")
    with pytest.raises(NotFoundError, match=LINK_OVER[:30]):
        here.club.accept(token, "Bob", PASSWORD, PASSWORD, "")


@pytest.mark.parametrize("days", [7, 8])
def test_an_invitation_expires(here: Here, days: int):
    token = here.club.invite(None, "steward")
    here.clock.later(days=days)
    with pytest.raises(NotFoundError):
        here.club.link(token, "invitation")


def test_links_of_one_purpose_are_no_good_for_the_other_and_unknown_ones_answer_alike(here: Here):
    steward = here.join("Sue", "steward")
    invitation = here.club.invite(steward, "member")
    lost = here.club.password_link(steward, steward.account.observer_id)
    for token, purpose in (
        (invitation, "password"),
        (lost, "invitation"),
        ("nothing", "password"),
        ("", "invitation"),
    ):
        with pytest.raises(NotFoundError) as refused:
            here.club.link(token, purpose)  # type: ignore[arg-type]
        assert refused.value.message == LINK_OVER


def test_a_taken_name_leaves_the_invitation_as_it_was(here: Here):
    here.join("Ann")
    token = here.club.invite(None, "member")
    with pytest.raises(FieldErrors) as refused:
        here.club.accept(token, "ANN", PASSWORD, PASSWORD, "")
    assert refused.value.errors.keys() == {"login"}
    here.club.accept(token, "Bob", PASSWORD, PASSWORD, "")


def test_an_observer_of_a_database_that_moved_here_may_be_given_an_account(here: Here):
    with here.stores.writing() as store:
        number = store.add_observer("Ann", "imperial").id
    who = here.who(here.club.accept(here.club.invite(None, "member", number), "Ann", PASSWORD, PASSWORD, ""))
    assert who.account.observer_id == number


def test_nobody_is_given_a_second_account(here: Here):
    with here.stores.writing() as store:
        number = store.add_observer("Ann", "imperial").id
    one, other = (here.club.invite(None, "member", number) for _ in range(2))
    here.club.accept(one, "Ann", PASSWORD, PASSWORD, "")
    with pytest.raises(RefusedError, match="has an account already"):
        here.club.accept(other, "Anna", OTHER, OTHER, "")
    with pytest.raises(RefusedError, match="has an account already"):
        here.club.invite(None, "member", number)


def test_a_lost_password_is_set_by_a_link_that_a_steward_makes_and_ends_every_session(here: Here):
    steward, ann = here.join("Sue", "steward"), here.join("Ann")
    first, token = (here.club.password_link(steward, ann.account.observer_id) for _ in range(2))
    with pytest.raises(NotFoundError):
        here.club.link(first, "password")
    here.club.set_lost_password(token, OTHER, OTHER, "")
    assert [one.id for one in here.club.sessions(ann)] != [ann.session.id]
    assert here.club.sign_in("Ann", OTHER, HERE, "")
    with pytest.raises(NotFoundError):
        here.club.set_lost_password(token, PASSWORD, PASSWORD, "")


# The door


def test_who_asks_at_the_door_comes_in_when_a_steward_confirms(here: Here):
    steward = here.join("Sue", "steward")
    here.club.ask("Ann", " Sue  knows me ", PASSWORD, PASSWORD, HERE)
    with pytest.raises(RefusedError):
        here.club.sign_in("Ann", PASSWORD, HERE, "")
    (asked,) = here.club.members(steward).asked
    assert (asked.login, asked.words) == ("Ann", "Sue knows me")
    here.club.answer_asked(steward, asked.id, "confirm")
    assert here.who(here.club.sign_in("Ann", PASSWORD, HERE, "")).account.role == "member"
    assert "Sue|let a member in|Ann" in here.log()


def test_the_door_does_not_tell_whether_a_name_is_taken_but_the_steward_sees_it(here: Here):
    steward = here.join("Sue", "steward")
    here.club.ask("sue", "", PASSWORD, PASSWORD, HERE)
    (asked,) = here.club.members(steward).asked
    assert here.club.members(steward).taken == {asked.id}
    with pytest.raises(RefusedError, match="“sue” is taken"):
        here.club.answer_asked(steward, asked.id, "confirm")
    here.club.answer_asked(steward, asked.id, "decline")
    assert here.club.members(steward).asked == ()


def test_who_asks_again_and_again_is_slowed_down_and_forgotten_after_a_month(here: Here):
    steward = here.join("Sue", "steward")
    for number in range(5):
        here.club.ask(f"Ann {number}", "", PASSWORD, PASSWORD, HERE)
    with pytest.raises(TooSoonError):
        here.club.ask("Ann", "", PASSWORD, PASSWORD, HERE)
    here.clock.later(days=31)
    here.club.ask("Zoe", "", PASSWORD, PASSWORD, HERE)
    assert [one.login for one in here.club.members(steward).asked] == ["Zoe"]


# One's own account


def test_a_changed_password_ends_all_other_sessions(here: Here):
    ann = here.join("Ann")
    other = here.club.sign_in("Ann", PASSWORD, HERE, "")
    here.club.change_password(ann, PASSWORD, OTHER, OTHER, HERE)
    assert here.club.who(other) is None
    assert len(here.club.sessions(ann)) == 1
    with pytest.raises(FieldErrors) as refused:
        here.club.change_password(ann, PASSWORD, OTHER, OTHER, HERE)
    assert refused.value.errors.keys() == {"present"}


def test_a_link_for_a_lost_password_is_over_once_the_password_is_changed(here: Here):
    steward, ann = here.join("Sue", "steward"), here.join("Ann")
    token = here.club.password_link(steward, ann.account.observer_id)
    here.club.change_password(ann, PASSWORD, OTHER, OTHER, HERE)
    with pytest.raises(NotFoundError):
        here.club.link(token, "password")


def test_the_last_steward_can_neither_leave_nor_be_closed_nor_become_a_member(here: Here):
    sue = here.join("Sue", "steward")
    number = sue.account.observer_id
    for act in (
        lambda: here.club.delete(sue, PASSWORD, HERE),
        lambda: here.club.set_closed(sue, number, closed=True),
        lambda: here.club.set_role(sue, number, "member"),
    ):
        with pytest.raises(RefusedError) as refused:
            act()
        assert refused.value.message == LAST_STEWARD
    here.club.set_role(sue, here.join("Ann").account.observer_id, "steward")
    here.club.delete(sue, PASSWORD, HERE)


# Stewards


def test_a_member_does_nothing_that_stewards_do(here: Here):
    ann, number = here.join("Ann"), 1
    for act in (
        lambda: here.club.members(ann),
        lambda: here.club.log(ann),
        lambda: here.club.invite(ann, "steward"),
        lambda: here.club.password_link(ann, number),
        lambda: here.club.set_role(ann, number, "steward"),
        lambda: here.club.set_closed(ann, number, closed=True),
        lambda: here.club.answer_asked(ann, 1, "confirm"),
        lambda: here.club.withdraw_invitation(ann, 1),
    ):
        with pytest.raises(NotFoundError):
            act()


def test_who_is_no_steward_any_more_does_nothing_by_a_page_that_is_still_open(here: Here):
    sue, ann = here.join("Sue", "steward"), here.join("Ann", "steward")
    here.club.set_role(sue, ann.account.observer_id, "member")
    assert ann.account.is_steward
    with pytest.raises(NotFoundError):
        here.club.invite(ann, "steward")


def test_a_closed_account_is_signed_out_everywhere_until_it_is_opened_again(here: Here):
    sue, ann = here.join("Sue", "steward"), here.join("Ann")
    token = here.club.sign_in("Ann", PASSWORD, HERE, "")
    here.club.set_closed(sue, ann.account.observer_id, closed=True)
    assert here.club.who(token) is None
    here.club.set_closed(sue, ann.account.observer_id, closed=False)
    here.club.sign_in("Ann", PASSWORD, HERE, "")


def test_an_invitation_that_was_withdrawn_leads_nowhere(here: Here):
    sue = here.join("Sue", "steward")
    token = here.club.invite(sue, "member")
    here.club.withdraw_invitation(sue, here.club.members(sue).invitations[0].id)
    with pytest.raises(NotFoundError):
        here.club.link(token, "invitation")


def test_the_log_says_who_did_what_for_as_long_as_it_is_kept(here: Here):
    sue = here.join("Sue", "steward")
    here.club.sign_in("Sue", PASSWORD, HERE, "")
    with pytest.raises(RefusedError):
        here.club.sign_in("Sue", OTHER, HERE, "")
    here.club.invite(sue, "member")
    assert here.log()[:3] == ["Sue|invited a member|", "|wrong password|Sue", "Sue|signed in|"]
    here.clock.later(days=41)
    assert here.club.log(sue) == ()
    Club(here.stores, now=here.clock).invite(None, "member")
    assert len(here.log()) > 1, "Who runs the machine knows not for how long it is kept."
    here.club.invite(sue, "member")
    assert here.log() == ["Sue|invited a member|", "|invited a member|"]


# Tokens of forms


def test_a_forms_token_is_another_each_time_and_good_for_its_session_alone():
    one, two = form_token("session"), form_token("session")
    assert one != two
    assert is_form_token("session", one)
    assert is_form_token("session", two)
    for wrong in (
        "",
        one[:16],
        one[:-1],
        "0" * len(one),
        form_token("another"),
        "ü" * 80,
        two[:16] + one[16:],
    ):
        assert not is_form_token("session", wrong), wrong
