"""What would better a rig, as its page tells it."""

from __future__ import annotations

import re
from typing import Any

import pytest

from tests.web.club import page_of, words_of
from tests.web.scout.conftest import Member

pytestmark = pytest.mark.file_alone(reason="drawn of what others read from both databases")


def path_of(member: Member, name: str, **query: Any) -> str:
    """The address that the Scout's page gives for a rig."""
    soup = page_of(member.get("/scout", asked="1", catalogue="1", **query))
    return str(soup.find("a", string=name)["href"])


def rows(answer: Any) -> list[list[str]]:
    found = page_of(answer).select("table.scout-table tbody tr:not(.stop-row)")
    return [[" ".join(cell.text.split()) for cell in row.find_all(["th", "td"])] for row in found]


def test_changes_are_told_with_what_is_bought_what_it_brings_and_what_is_left_over(member: Member):
    answer = member.client.get(path_of(member, "Garden refractor", payload_share="65 %"))
    found = rows(answer)
    assert found
    costs = [float(cost.split()[0].replace(",", "")) for _, cost, _, _ in found]
    assert costs == sorted(costs)
    assert all("in place of" in steps or "dd" in steps or "ake out" in steps for steps, *_ in found)
    assert any("82 triplet" in spare for *_, spare in found)


@pytest.mark.parametrize("measure", ["load", "star", "corner"])
def test_any_measure_may_be_bettered(member: Member, measure: str):
    answer = member.client.get(path_of(member, "Garden refractor") + f"&better={measure}")
    chosen = page_of(answer).select_one("select[name=better] option[selected]")
    assert chosen["value"] == measure


def test_the_next_look_asks_with_the_same_needs(member: Member):
    answer = member.client.get(path_of(member, "Garden refractor", budget="500"))
    sent = {one["name"]: one["value"] for one in page_of(answer).select("form input[type=hidden]")}
    assert (sent["budget"], sent["catalogue"], sent["asked"]) == ("500", "1", "1")
    assert all(float(cost.split()[0].replace(",", "")) <= 500 for _, cost, _, _ in rows(answer))


def test_a_rig_of_parts_beyond_the_choice_is_told_which_and_what_to_do(member: Member):
    path = path_of(member, "Garden refractor")
    camera = page_of(member.get("/scout", asked="1")).select("input[name=camera]")[-1]["value"]
    told = words_of(page_of(member.client.get(f"{path}&camera={camera}")).h2)
    assert re.fullmatch(r".+ (is|are) not among what is chosen from: untick what you keep\.", told)


def test_what_a_change_leads_to_is_looked_at_on_the_bench(member: Member):
    soup = page_of(member.client.get(path_of(member, "Garden refractor")))
    looked = page_of(member.client.get(str(soup.select_one(".scout-stops a")["href"])))
    assert len(looked.select("main li")) == len(soup.select("tbody tr:not(.stop-row)"))


def test_another_observers_rig_has_no_page(member: Member):
    path = path_of(member, "Garden refractor")
    member.sit("Declan Varrow")
    assert member.client.get(path).status_code == 404


def test_nonsense_is_no_measure(member: Member):
    answer = member.client.get(path_of(member, "Garden refractor") + "&better=cost")
    assert page_of(answer).select_one("select[name=better] option[selected]")["value"] == "hours"
