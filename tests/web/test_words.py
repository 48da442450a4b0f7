"""What a person is told when a request is not understood, and what About says is not judged.

Source: none needed; the sentences are the project's own.
"""

from __future__ import annotations

import re

import pytest
from bs4 import BeautifulSoup
from fastapi.testclient import TestClient

from server.rim.phrasebook.common import NOT_JUDGED
from server.rim.rules import RULE_SPECS
from tests.domain.test_refusals import LIBRARY_WORDS


def text_of(page: str) -> str:
    found = BeautifulSoup(page, "html.parser").select_one("main")
    assert found is not None
    return " ".join(found.get_text(" ").split())


@pytest.fixture
def entered(client: TestClient) -> TestClient:
    client.post("/observers", data={"name": "Ana", "units": "metric"})
    return client


@pytest.mark.parametrize(
    "address",
    [
        "/shelf?page=abc",
        "/shelf?page=-1",
        "/shelf?page=99999999999999999999999",
        "/shelf?only=everything",
        "/logbook?page=x",
        f"/shelf?q={'x' * 5000}",
        "/logbook/compare?earlier=x&later=y",
    ],
)
def test_an_address_that_was_edited_by_hand_is_answered_in_our_own_words(
    entered: TestClient, address: str
) -> None:
    answer = entered.get(address)
    assert answer.status_code in (200, 404, 422)
    assert not LIBRARY_WORDS.search(text_of(answer.text))


@pytest.mark.parametrize(
    ("address", "typed"),
    [
        ("/units", {}),
        ("/observers/choose", {"observer": "nobody"}),
        ("/bench/1/undo", {"version": "first"}),
        ("/bench/1/rules", {"version": "-5"}),
    ],
)
def test_a_form_that_was_tampered_with_is_answered_in_our_own_words(
    entered: TestClient, address: str, typed: dict[str, str]
) -> None:
    answer = entered.post(address, data=typed)
    assert answer.status_code == 422
    assert not LIBRARY_WORDS.search(text_of(answer.text))


def test_about_says_what_is_kept_and_not_judged_and_which_rules_are_a_rigs_own(client: TestClient) -> None:
    said = text_of(client.get("/about").text)
    assert len(NOT_JUDGED) >= 5
    for one in (*NOT_JUDGED, *(spec.label for spec in RULE_SPECS)):
        assert " ".join(one.split()) in said
    assert not re.search(r"\b[Aa] (?:optical|adapter|off-axis|image)\b", said)
