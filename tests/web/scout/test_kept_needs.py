"""Needs that are kept by a name."""

from __future__ import annotations

import re
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from bs4 import Tag

from server.flow.scout import MOST_KEPT
from tests.web.club import page_of, words_of
from tests.web.scout.conftest import KEPT, Member

# On SQLite and on PostgreSQL.


def names(answer: Any) -> list[str]:
    return [one.text for one in page_of(answer).select(".scout-kept a")]


def forget(answer: Any, name: str) -> str:
    """The address that forgets needs."""
    line = page_of(answer).find("a", string=name).parent
    assert isinstance(line, Tag)
    return str(line.form["action"])


def keep(answer: Any) -> str:
    """The address that keeps a page's needs."""
    return str(page_of(answer).select_one("form.scout-keep")["action"])


def test_the_demo_clubs_needs_are_answered_with_a_sentence_that_counts(member: Member):
    assert names(member.get()) == [KEPT]
    page = member.client.get(member.kept())
    said = page_of(page).select_one("#answer-head").text
    found = re.match(
        r"Of ([\d,]+) combinations ([\d,]+) meet your needs; (\d+) tubes are not beaten by another in cost, "
        r"hours and mass on the mount\.$",
        said,
    )
    assert found, said
    assert int(found[1].replace(",", "")) > int(found[2].replace(",", "")) > int(found[3]) > 1
    assert "limit" in words_of(page), "what fails says at which limit"
    assert page_of(page).select("#gains-head ~ ul li")
    assert page_of(page).select("#matters-head ~ ul li a[href^='/shelf/']")


def test_kept_needs_are_asked_again_by_one_link_with_the_same_answer(member: Member):
    asked = {"asked": "1", "catalogue": "1", "budget": "2500", "lift_kg": "12 kg", "collimate": "no"}
    first = member.get(**asked, like="collimate", front=["cost", "load"])
    after = member.client.post(keep(first), data={"name": "  Light   and plain "})
    assert "Light and plain" in names(after)
    again = member.client.get(member.kept("Light and plain"))
    for page in (after, again):
        soup = page_of(page)
        assert soup.select_one("#answer-head").text == page_of(first).select_one("#answer-head").text
        assert soup.select_one("#need-budget")["value"] == "2500"
        assert soup.select_one("#need-collimate option[selected]")["value"] == "no"
        ticked = [
            str(one["value"]) for one in soup.select("input[name=front][checked], input[name=like][checked]")
        ]
        assert ticked == ["collimate", "cost", "load"]
    assert page_of(again).select_one("#need-fill_least")["value"] == "", "what was left open stays open"


def test_one_name_holds_one_list_of_needs(member: Member):
    for budget in ("700", "900"):
        member.client.post(keep(member.get(asked="1", budget=budget)), data={"name": "Small"})
    assert names(member.get()).count("Small") == 1
    assert parse_qs(urlsplit(member.kept("Small")).query)["budget"] == ["900"]


def test_forgotten_needs_are_gone_and_cannot_be_forgotten_twice(member: Member):
    path = forget(member.get(), KEPT)
    page = member.post(path)
    assert page.status_code == 200
    assert names(page) == []
    again = member.post(path)
    assert again.status_code == 404
    assert "list of needs" in words_of(again)


def test_needs_are_never_another_observers(member: Member):
    path = forget(member.get(), KEPT)
    member.sit("Declan Varrow")
    assert names(member.get()) == []
    assert member.post(path).status_code == 404
    member.client.post(keep(member.get(asked="1", budget="5")), data={"name": KEPT})
    member.sit("Annika Thornquist")
    assert parse_qs(urlsplit(member.kept()).query)["budget"] == ["1800"]


def test_an_address_with_another_observers_site_is_answered_from_ones_own(member: Member):
    site = parse_qs(urlsplit(member.kept()).query)["site"][0]
    with member.stores.reading() as store:
        name = store.site(int(site)).site.name
    member.sit("Declan Varrow")
    page = member.get(asked="1", site=site)
    assert page.status_code == 200
    assert name not in words_of(page)


def test_needs_that_cannot_be_read_are_kept_without_what_is_wrong(member: Member):
    page = member.get(asked="1", budget="lots", hours="40")
    assert page.status_code == 422
    member.client.post(keep(page), data={"name": "Some"})
    assert "budget" not in parse_qs(urlsplit(member.kept("Some")).query)
    assert parse_qs(urlsplit(member.kept("Some")).query)["hours"] == ["40"]


@pytest.mark.parametrize("name", ["", "   "])
def test_needs_without_a_name_are_kept_as_needs(member: Member, name: str):
    assert "Needs" in names(member.client.post(keep(member.get()), data={"name": name}))


def test_a_script_in_a_name_is_only_a_name(member: Member):
    page = member.client.post(keep(member.get()), data={"name": "<script>alert(1)</script>"})
    assert "<script>alert(1)</script>" in names(page)
    assert "<script>alert" not in page.text


@pytest.mark.parametrize("number", ["0", "9" * 15, "9" * 40, "-1", "x", "1;drop"])
def test_what_was_never_kept_cannot_be_forgotten(member: Member, number: str):
    assert member.post(f"/scout/kept/{number}/forget").status_code in (404, 422)
    assert names(member.get()) == [KEPT]


def test_a_name_that_is_too_long_and_one_list_too_many_are_refused_in_words(member: Member):
    path = keep(member.get())
    assert member.client.post(path, data={"name": "x" * 81}).status_code == 422
    for nth in range(MOST_KEPT - 1):
        assert member.client.post(path, data={"name": f"n{nth}"}).status_code == 200
    refused = member.client.post(path, data={"name": "one more"})
    assert refused.status_code == 422
    assert "forget some of them" in words_of(refused)
    assert len(names(member.get())) == MOST_KEPT


def test_what_was_typed_in_pounds_comes_back_in_pounds(member: Member):
    first = member.get(asked="1", catalogue="1", lift_kg="22 lb")
    member.client.post(keep(first), data={"name": "By the pound"})
    again = member.client.get(member.kept("By the pound"))
    assert page_of(again).select_one("#need-lift_kg")["value"] == "22 lb"
