"""How long tries that fail are waited for, and how long a session is good."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from server.domain.account import LONGEST_WAIT_S, Session, Tries, after_failure, login_key

NOW = datetime(2026, 3, 20, 22, 0, tzinfo=UTC)


def waits(count: int, free: int) -> list[float]:
    tries: Tries | None = None
    found = []
    for _ in range(count):
        tries = after_failure(tries, free, NOW)
        found.append((tries.until - NOW).total_seconds())
    return found


def test_the_first_tries_are_free_and_each_later_one_doubles_the_wait():
    assert waits(8, free=3) == [0, 0, 2, 4, 8, 16, 32, 64]


def test_the_wait_has_an_end_however_often_one_fails():
    assert max(waits(200, free=3)) == LONGEST_WAIT_S == 900


def test_after_a_day_without_a_try_all_is_forgotten():
    tries = Tries(50, NOW - timedelta(days=1, seconds=1), NOW)
    assert after_failure(tries, 5, NOW).failed == 1
    assert after_failure(Tries(50, NOW - timedelta(hours=23), NOW), 5, NOW).failed == 51


@pytest.mark.parametrize("typed", ["ANN lee", "  Ann   Lee ", "Ａnn Lee"])
def test_a_name_is_known_in_any_letter_case_and_way_of_writing(typed: str):
    assert login_key(typed) == login_key("Ann Lee")


@pytest.mark.parametrize(
    ("began", "seen", "good"),
    [(0, 0, True), (6, 6, True), (8, 8, False), (29, 1, True), (31, 0, False)],
)
def test_a_session_ends_after_a_week_without_use_and_after_thirty_days(began: int, seen: int, good: bool):
    session = Session(1, 1, NOW - timedelta(days=began), NOW - timedelta(days=seen), "")
    assert session.is_good(NOW) is good
