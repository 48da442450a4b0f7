"""Which of the Scout's combinations stop on the bench."""

from __future__ import annotations

import re

import pytest
from bs4 import Tag

from server.web.scout import stops_page
from tests.web.club import page_of, words_of
from tests.web.scout.conftest import Member

ASKED = {"asked": "1", "catalogue": "1", "budget": "20000"}
HX = {"HX-Request": "true"}


def address(member: Member) -> str:
    """Where the Scout's page asks for the marks of its rows."""
    return str(page_of(member.get(**ASKED)).select_one(".scout-stops a")["href"])


def pieces(member: Member) -> list[Tag]:
    """The answers that htmx asks for one behind the other."""
    url, found = address(member), list[Tag]()
    while url:
        found.append(page_of(member.client.get(url, headers=HX)))
        further = found[-1].select_one("[data-hx-trigger=load]")
        url = "" if further is None else str(further["data-hx-get"])
    return found


def filled(member: Member, what: str) -> dict[str, Tag]:
    """By the key of a row what is put into its place of that name."""
    name = f"{what}-"
    return {
        str(one["id"]).removeprefix(name): one
        for piece in pieces(member)
        for one in piece.select(f'[data-hx-swap-oob][id^="{name}"]')
    }


def marks(member: Member) -> dict[str, str]:
    """By the key of a row what marks it."""
    return {key: words_of(one) for key, one in filled(member, "stop").items()}


def test_every_row_of_the_front_is_looked_at_and_none_is_left_out(member: Member):
    soup = page_of(member.get(**ASKED))
    keys = [str(one["value"]) for one in soup.select(".scout-table input[name=c]")]
    assert [one["id"] for one in soup.select(".row-stop")] == [f"stop-{key}" for key in keys]
    page = page_of(member.client.get(address(member)))
    assert len(page.select("main li")) == len(keys) > 3
    stopped = len(marks(member))
    assert 0 < stopped < len(keys)
    assert words_of(page.h2).startswith(f"On the bench {stopped} of these {len(keys)} stop")


def test_without_a_script_a_page_of_its_own_says_of_each_what_stops_it(member: Member):
    lines = [words_of(one) for one in page_of(member.client.get(address(member))).select("main li")]
    said = {
        bool(re.search(r"Stop .+\.$", line)) or line.endswith("Nothing that is known stops it.")
        for line in lines
    }
    assert said == {True}
    assert sum("Nothing that is known" in line for line in lines) == len(lines) - len(marks(member))


def test_a_mark_says_what_the_bench_says_after_the_press_and_so_does_side_by_side(member: Member):
    key, mark = next(iter(marks(member).items()))
    sentence = mark.removeprefix("Stop ")
    beside = page_of(member.get("/scout/beside", **ASKED, c=key))
    (row,) = [
        one for one in beside.select("table.beside tr") if words_of(one.th) == "what stops it on the bench"
    ]
    assert words_of(row.select_one(".stop-mark")) == mark
    bench = page_of(member.post("/scout/take", c=key))
    assert sentence in words_of(bench.main)


def test_what_is_not_among_the_parts_is_not_looked_at(member: Member):
    page = page_of(member.get("/scout/stops", **ASKED, c=["999-0-998-0", "nonsense"]))
    assert page.select("main li") == []


def test_practically_equal_ones_are_looked_at_too(member: Member):
    url = str(page_of(member.client.get(member.kept())).select_one(".scout-table a.sky-what")["href"])
    page = page_of(member.client.get(url))
    assert "/scout/stops?" in str(page.select_one(".scout-stops a")["href"])


def test_who_names_none_is_sent_to_the_scout(member: Member):
    page = page_of(member.get("/scout/stops"))
    assert words_of(page.h2) == "Nothing is chosen to be looked at: begin at the Scout."
    assert not page.select("main li")


def test_what_stops_is_marked_in_the_drawing_too_and_a_sentence_says_so(member: Member):
    drawn = {str(one["id"]) for one in page_of(member.get(**ASKED)).select(".scout-plot .plot-stop")}
    marked = filled(member, "plot-stop")
    assert list(marked) == list(marks(member))
    assert {str(one["id"]) for one in marked.values()} <= drawn
    assert "× what the bench stops" in words_of(page_of(member.get(**ASKED)).main)


def test_answers_come_piece_by_piece_and_one_may_rest_there(member: Member, monkeypatch: pytest.MonkeyPatch):
    keys = {str(one["value"]) for one in page_of(member.get(**ASKED)).select(".scout-table input[name=c]")}
    whole = marks(member)
    monkeypatch.setattr(stops_page, "PIECE_S", 0.0)
    some = pieces(member)
    assert [one.progress and one.progress["value"] for one in some] == [
        *(str(looked) for looked in range(1, len(keys))),
        None,
    ]
    assert marks(member) == whole
    assert words_of(some[1].p).startswith(f"2 of {len(keys)} looked at on the bench: ")
    (rest,) = [one for one in some[1].select("a") if words_of(one) == "Stop"]
    rested = page_of(member.client.get(str(rest["href"]), headers=HX))
    assert not rested.select("[data-hx-swap-oob], [data-hx-trigger=load]")
    assert words_of(rested.p).startswith(f"2 of {len(keys)} looked at")
    on = page_of(member.client.get(str(rested.a["href"]), headers=HX))
    assert on.progress["value"] == "3"


def test_a_row_gets_its_corner_star_and_what_its_rings_cost(member: Member):
    stars, rings = filled(member, "corner"), filled(member, "rings")
    soup = page_of(member.get(**ASKED))
    for one in (*stars.values(), *rings.values()):
        assert soup.find(id=one["id"]) is not None
    assert stars
    assert all(one.img["src"].startswith("data:image/png") for one in stars.values())
    key, one = next(iter(rings.items()))
    beside = words_of(page_of(member.get("/scout/beside", **ASKED, c=key)).main)
    assert "to close the back focus" in beside
    assert re.fullmatch(r"and rings, (at least )?[\d,.]+ EUR|and rings, not known yet", words_of(one))
