"""What the Scout's answer holds back until it is opened: tubes, lines, practically equal ones."""

from __future__ import annotations

import csv
import io
import re
from typing import Any

import pytest

from server.web.scout import alike_page, page
from tests.web.club import page_of
from tests.web.scout.conftest import Member

pytestmark = pytest.mark.file_alone(reason="drawn of what others read from both databases")

ASKED: dict[str, Any] = {"asked": "1", "catalogue": "1", "front": ["cost", "hours", "corner"]}


def keys(answer: Any) -> list[str]:
    return [str(one["value"]) for one in page_of(answer).select("table.scout-table input[name=c]")]


def link(answer: Any, words: str) -> Any:
    """Where the link with these words leads, without its place on the page."""
    (found,) = page_of(answer).find_all("a", string=re.compile(words))
    return str(found["href"]).partition("#")


def front(member: Member) -> list[str]:
    """The keys of the front, as the CSV has them."""
    lines = csv.DictReader(io.StringIO(member.get("/scout/all.csv", **ASKED).text))
    return sorted(line["key"] for line in lines if line["on the front"] == "yes")


def test_the_whole_front_is_reached_by_links_whose_address_keeps_what_is_open(
    member: Member, monkeypatch: pytest.MonkeyPatch
):
    whole = front(member)
    tubes = {key.split("-")[0] for key in whole}
    monkeypatch.setattr(page, "MOST_TUBES", 1)
    monkeypatch.setattr(page, "MOST_OF_A_TUBE", 1)
    first = member.get(**ASKED)
    assert len(keys(first)) == 1
    address, _, _ = link(first, rf"^All {len(tubes)} tubes$")
    shown = member.client.get(address)
    assert sorted(key.split("-")[0] for key in keys(shown)) == sorted(tubes)
    while more := page_of(shown).find("a", string=re.compile(r"^\d+ more of this tube$")):
        address, _, place = str(more["href"]).partition("#")
        shown = member.client.get(address)
        assert page_of(shown).find(id=place)
    assert sorted(keys(shown)) == whole
    beside = member.client.get(str(page_of(shown).select_one("tbody th[scope=row] a")["href"]))
    assert sorted(keys(member.client.get(link(beside, "^Back to the Scout$")[0]))) == whole
    fewer = member.client.get(link(shown, "^The first tubes alone$")[0])
    assert {key.split("-")[0] for key in keys(fewer)} == {keys(first)[0].split("-")[0]}


def test_where_all_of_it_is_shown_no_link_offers_more(member: Member):
    shown = member.get(asked="1", catalogue="1", front="cost")
    assert not page_of(shown).find("a", string=re.compile("more of this tube|tubes alone|^All .* tubes$"))


def test_those_that_a_combination_stands_for_are_listed_with_it_each_with_its_own_page(
    member: Member, monkeypatch: pytest.MonkeyPatch
):
    (one, *_) = page_of(member.get(**ASKED)).find_all("a", string=re.compile("^stands for"))
    count = int(re.search(r"\d+", one.text.replace(",", ""))[0])
    address = str(one["href"])
    listed = member.client.get(address)
    assert listed.status_code == 200
    every = keys(listed)
    assert len(set(every)) == count + 1
    heading = page_of(listed).select_one("#alike-head").text
    assert heading == f"It stands for {count} more that {'is' if count == 1 else 'are'} practically equal"
    assert "steps of 100 EUR of cost, 10 % of the hours and 0.25 arcsec of star in the corner" in listed.text
    for row in page_of(listed).select("tbody tr:not(.stop-row)")[1:4]:
        beside = member.client.get(str(row.select_one("th a")["href"]))
        assert "practically equal to" in beside.text
        assert "which stands for it" in beside.text
    monkeypatch.setattr(alike_page, "AT_ONCE", 1)
    paged, shown = [], member.client.get(address)
    for _ in range(count + 1):
        paged += keys(shown)
        if len(paged) <= count:
            shown = member.client.get(link(shown, "^Those after$")[0])
    assert paged == every
    assert not page_of(shown).find("a", string="Those after")
    assert keys(member.client.get(link(shown, "^Those before$")[0])) == every[-2:-1]


@pytest.mark.parametrize("asked", [{}, {"c": "1-2"}, {"c": "999999-0-1-0"}, {"c": "1-0-2-0", "from": "-1"}])
def test_what_is_not_there_stands_for_nothing(member: Member, asked: dict[str, str]):
    assert member.get("/scout/alike", asked="1", **asked).status_code in (404, 422)
