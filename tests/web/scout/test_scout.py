"""The Scout's page as a browser without a script meets it."""

from __future__ import annotations

import csv
import io
import re
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from fastapi.testclient import TestClient

from server.flow import scout
from tests.web.club import page_of, words_of
from tests.web.scout.conftest import Member

pytestmark = pytest.mark.file_alone(reason="drawn of what others read from both databases")

KNOWN = re.compile(r"^([\d.,]+)(?: (?:EUR|h|kg|arcsec|%|W))?(?:, [\d.]+ px)?$")
COUNTED = re.compile(r"Of ([\d,]+) combinations ([\d,]+) meets? your needs")


def field(answer: Any, name: str) -> Any:
    """A field of the needs."""
    return page_of(answer).select_one(f"#need-{name}")


def text_in(answer: Any, name: str) -> str:
    return str(field(answer, name)["value"])


def asked_by(link: str) -> dict[str, list[str]]:
    return parse_qs(urlsplit(link).query)


def further(answer: Any) -> list[str]:
    """Every address on the page that goes on with the needs."""
    found = page_of(answer).select("#found a[href], #found form[action]")
    links = [str(one.get("href") or one.get("action")) for one in found]
    return [one for one in links if one.startswith("/scout") and "?" in one]


def refusal(answer: Any, name: str, prefix: str = "need") -> str:
    return str(page_of(answer).select_one(f"#{prefix}-{name}-error").text)


def rows(answer: Any) -> dict[str, list[str]]:
    """The table's cells of figures by the combination's key."""
    found = {}
    for row in page_of(answer).select("table.scout-table tbody tr:has(input)"):
        found[str(row.select_one("input")["value"])] = [one.text for one in row.select("td")[2:11]]
    return found


# The answer


def test_an_address_alone_is_answered_in_a_sentence_that_counts_a_plot_and_a_table(member: Member):
    page = member.client.get(member.kept())
    assert page.status_code == 200
    head = page_of(page).select_one("#answer-head").text
    of, meet = (int(one.replace(",", "")) for one in COUNTED.match(head).groups())
    tubes = int(re.search(r"(\d+) tubes? (?:is|are) not beaten by another in cost, hours and mass", head)[1])
    assert of > meet > tubes > 1
    groups = page_of(page).select("table.scout-table th[scope=rowgroup]")
    assert len(groups) == tubes
    points = page_of(page).select(".scout-plot a")
    assert [one.find("text").text for one in points] == [str(nth) for nth in range(1, len(rows(page)) + 1)]
    every = list(csv.DictReader(io.StringIO(member.client.get(csv_of(page)).text)))
    assert len(every) == of
    assert sum(one["meets the needs"] == "yes" for one in every) == meet


def csv_of(answer: Any) -> str:
    return str(page_of(answer).find("a", string="All combinations as CSV")["href"])


def test_every_tube_is_on_the_front_or_says_why_not(member: Member):
    soup = page_of(member.client.get(member.kept()))
    tubes = set(member.numbers("optical_tube"))
    front = {name for name in tubes for one in soup.select("th[scope=rowgroup]") if name in one.text}
    others = {one.a.text.split(" with ")[0]: one.text for one in soup.select("section ul li") if one.a}
    assert front
    assert tubes - front <= set(others)
    for name in tubes - front:
        assert re.search(r"beats it|fails your needs|cannot be told|practically equal", others[name]), name


def test_the_needs_of_an_address_are_in_the_form_and_in_every_further_link(member: Member):
    kept = member.kept()
    page = member.client.get(kept)
    assert [text_in(page, name) for name in ("budget", "lift_kg", "payload_share", "fill_least")] == [
        "1800",
        "10 kg",
        "65 %",
        "25 %",
    ]
    ticked = {str(one["name"]) for one in page_of(page).select("form.sky-wishes input[checked]")}
    assert {"target", "camera", "catalogue", "like", "front"} <= ticked
    links = further(page)
    assert len(links) > 5
    wanted = asked_by(kept)
    for link in links:
        needs = {name: values for name, values in asked_by(link).items() if name not in ("c", "wide")}
        assert needs == wanted, link
    side = page_of(page).select('form[action="/scout/beside"] input[type=hidden]')
    assert [(one["name"], one["value"]) for one in side] == [
        (k, v) for k, all_ in wanted.items() for v in all_
    ]


def test_a_need_that_is_cleared_stays_cleared_behind_a_link(member: Member):
    assert text_in(member.get(), "fill_least"), "who asks nothing is asked as is usual"
    asked = {"asked": "1", "catalogue": "1", "budget": "", "fill_least": "", "fill_most": "", "currency": ""}
    page = member.get(**asked)
    for link in further(page):
        assert not {"fill_least", "fill_most", "budget", "like"} & set(asked_by(link))
    again = member.client.get(csv_of(page).replace("/all.csv", ""))
    assert [text_in(again, name) for name in ("fill_least", "fill_most", "budget")] == ["", "", ""]
    assert not page_of(again).select("input[name=like][checked]")


@pytest.mark.parametrize(
    ("name", "typed", "says"),
    [
        ("budget", "lots", "“lots” is not a number"),
        ("budget", "1e400", "too large a number"),
        ("budget", "-5", "at least 0"),
        ("budget", "9" * 79, "at most 60 characters"),
        ("currency", "EU", "at least 3"),
        ("lift_kg", "0", "above 0"),
        ("lift_kg", "10 mm", "length"),
        ("payload_share", "500 %", "too much here"),
        ("collimate", "perhaps", "Type yes or no"),
        ("fill_least", "1e-320", "at least 1 %"),
    ],
)
def test_a_wrong_field_says_so_in_its_place_and_the_rest_is_answered(
    member: Member, name: str, typed: str, says: str
):
    page = member.get(**{"asked": "1", "catalogue": "1", "hours": "900", name: typed})
    assert page.status_code == 422
    assert says in refusal(page, name)
    shown = field(page, name)
    assert shown.name == "select" or shown["value"] == typed
    assert COUNTED.search(words_of(page))
    for link in further(page):
        assert asked_by(link)["hours"] == ["900"]
        assert asked_by(link).get(name) != [typed]


def test_a_least_above_the_most_is_said_at_the_field(member: Member):
    page = member.get(asked="1", fill_least="80 %", fill_most="50 %")
    assert page.status_code == 422
    assert "Swap them" in refusal(page, "fill_most")


def test_needs_that_nothing_meets_are_named_with_what_comes_nearest(member: Member):
    page = member.get(asked="1", catalogue="1", budget="0", lift_kg="0.1", like="budget")
    soup = page_of(page)
    assert re.match(r"Of [\d,]+ combinations 0 meet your needs\.", soup.select_one("#answer-head").text)
    near = [one.text for one in soup.select("#misses-head ~ ul li")]
    assert near
    assert all("where 0.1 kg is the limit" in one for one in near)
    assert not soup.select("table.scout-table")


def test_what_is_not_a_must_leaves_nothing_out_and_is_counted_as_a_wish(member: Member):
    asked = {"asked": "1", "catalogue": "1", "lift_kg": "1"}
    must, wish = (member.get(**asked, like=like) for like in ("", "lift_kg"))
    counts = [int(COUNTED.search(words_of(one))[2].replace(",", "")) for one in (must, wish)]
    assert counts[0] < counts[1]
    assert "of 1" in words_of(wish)


def test_more_combinations_than_are_looked_at_ask_to_narrow(member: Member, monkeypatch: Any):
    monkeypatch.setattr(scout, "MOST_COMBINATIONS", 3)
    page = member.get()
    assert page.status_code == 200
    assert "Keep a camera or a mount" in page_of(page).select_one("#found .notice").text
    refused = member.get("/scout/all.csv")
    assert 400 <= refused.status_code < 500
    assert "more than 3" in words_of(refused)


# CSV


def test_the_csv_holds_every_combination_with_the_tables_figures_and_nothing_for_the_unknown(
    member: Member,
):
    page = member.client.get(member.kept())
    answer = member.client.get(csv_of(page))
    assert answer.headers["content-type"].startswith("text/csv")
    lines = {one["key"]: list(one.values())[3:] for one in csv.DictReader(io.StringIO(answer.text))}
    assert {key for key, one in lines.items() if one[1] == "yes"} == set(rows(page))
    seen = {"": 0, "known": 0}
    for key, shown in rows(page).items():
        for text, figure in zip(shown, lines[key][2:11], strict=True):
            number = KNOWN.match(text)
            seen["known" if number else ""] += 1
            if number is None:
                assert (text, figure) == ("not known yet", "")
                continue
            said = float(number[1].replace(",", ""))
            value = float(figure) * (100.0 if text.endswith("%") else 1.0)
            # A cell is rounded to whole units, tenths, or two digits: at most half a unit of these is lost.
            assert said == pytest.approx(value, abs=0.51 if said < 100.0 else 5.1), (key, text, figure)
    assert all(seen.values())
    assert not re.search(r"nan|inf", answer.text)


# Entering


def test_an_empty_shelf_leads_to_entering_parts_a_site_and_targets(ann: TestClient):
    page = ann.get("/scout")
    assert page.status_code == 200
    said = page_of(page).select_one("#found .notice")
    assert "Nothing to choose from yet" in said.text
    links = [str(one["href"]) for one in said.select("a")]
    assert links == ["/shelf/new?kind=optical_tube", "/shelf/new?kind=camera", "/sky", "/sky/sites/new"]
    for link in links:
        assert ann.get(link).status_code == 200
    assert page_of(page).select_one("#enter form")
    assert ann.get("/scout/all.csv").text.count("\n") == 1
    assert ann.get("/scout/beside", params={"c": "1-0-2-0"}).status_code == 404


TUBE = {"model": "Long white", "design": "newtonian", "aperture_mm": "200", "focal_length_mm": "1000"}


def test_a_tube_of_few_figures_is_considered_with_what_is_usual_for_its_kind_said(member: Member):
    page = member.post("/scout/candidate", **TUBE)
    assert page.status_code == 200
    number = member.numbers("optical_tube", "shelf")["Long white"]
    assert "Long white" in words_of(page)
    camera = member.numbers("camera", "shelf")["Quillmoor Marl M4 mono"]
    mount = next(iter(member.numbers("mount", "shelf").values()))
    beside = member.get("/scout/beside", c=f"{number}-0-{camera}-{mount}")
    cells = {row.th.text: row.td.text for row in page_of(beside).select("table.beside tbody tr")}
    said = cells["taken as usual for its kind"]
    # Common practice, no source: a Newtonian's shade is 0.22 to 0.38 of its aperture, and the tube of one of
    # 200 mm weighs 6 to 13 kg.
    assert "its central obstruction, 22 to 38 % of its aperture" in said
    assert "its mass, 6.0 kg to 13.2 kg" in said
    assert "common practice" in said
    assert re.fullmatch(r"[\d.]+ kg", cells["mass on the mount"])
    # Nobody has said a price: the sum is a lower bound, and the cost is not known.
    assert cells["cost"] == "not known yet"
    with member.stores.reading() as store:
        assert store.shelf(member.observer.id)[number].considered == 1


def test_a_bad_quick_entry_keeps_what_was_typed_and_the_needs_and_can_be_mended(member: Member):
    page = member.client.get(member.kept())
    form = page_of(page).select_one("#enter form")
    hidden = {str(one["name"]): str(one["value"]) for one in form.select("input[type=hidden]")}
    wrong = member.post(str(form["action"]), **hidden, **{**TUBE, "aperture_mm": "wide", "price": "400 EUR"})
    assert wrong.status_code == 422
    assert "“wide”" in refusal(wrong, "aperture_mm", "tube")
    soup = page_of(wrong)
    assert soup.select_one("#tube-aperture_mm").has_attr("autofocus"), "the form stands at the page's end"
    texts = {str(one["name"]): str(one.get("value")) for one in soup.select("#enter input[type=text]")}
    assert (texts["model"], texts["focal_length_mm"], texts["price"]) == ("Long white", "1000", "400 EUR")
    assert soup.select_one("#tube-design option[selected]")["value"] == "newtonian"
    assert text_in(wrong, "budget") == "1800"
    # The browser now stands at the form's own address, which is nothing to go back to.
    referer = {"Referer": "http://127.0.0.1:8321/scout/candidate"}
    hidden = {str(one["name"]): str(one["value"]) for one in soup.select("#enter input[type=hidden]")}
    mended = member.client.post(str(form["action"]), data={**hidden, **TUBE}, headers=referer)
    assert mended.status_code == 200
    assert text_in(mended, "budget") == "1800"
    assert "Long white" in words_of(mended)


@pytest.mark.parametrize("back", ["https://elsewhere.example/scout?x=1", "//elsewhere.example", "\\", "%00"])
def test_entering_a_tube_leads_nowhere_but_to_the_scout(member: Member, back: str):
    answer = member.client.post(
        "/scout/candidate", data={**TUBE, "back": back}, headers={"Referer": back}, follow_redirects=False
    )
    assert answer.status_code == 303
    assert answer.headers["location"].split("?")[0] == "/scout"


# Units


def test_an_imperial_reader_sees_pounds_and_what_they_typed(member: Member):
    member.sit("Declan Varrow")
    page = member.get(asked="1", catalogue="1", lift_kg="5 lb", front=["cost", "load"])
    assert page.status_code == 200
    found = page_of(page).select_one("#found")
    assert re.search(r"\d lb", found.text)
    assert not re.search(r"\d kg", page.text)
    assert all(asked_by(link)["lift_kg"] == ["5 lb"] for link in further(page))
    member.post("/scout/candidate", **TUBE, mass_kg="20 lb")
    for link in further(page)[:4]:
        behind = page_of(member.client.get(link)).main
        # Moments of inertia have one unit for all, and a published equation keeps its own.
        assert behind is None or not re.search(r"\d kg\b(?! m²| x )", behind.text)


# What is sent to do harm

SCRIPT = "<script>alert(1)</script>"


@pytest.mark.parametrize(
    "asked",
    [
        {"target": SCRIPT},
        {"currency": "<u>"},
        {"budget": SCRIPT},
        {"budget": "\x00"},
        {"front": [SCRIPT] * 300},
        {"like": ["budget"] * 300},
        {"target": [f"own-{nth}" for nth in range(400)]},
        {"camera": "9" * 15},
        {"camera": "9" * 400},
        {"mount": ["9" * 15, "-1", "1.5", "²", "", "x" * 3000]},
        {"site": ["9" * 15, SCRIPT]},
        {"site": "9" * 40},
        {f"x{nth}": "1" for nth in range(2000)},
        {"budget": "1e308", "hours": "1e-308", "corner_arcsec": "1e-9"},
        {"budget": "0", "lift_kg": "1e-300 kg"},
    ],
    ids=lambda asked: "-".join(sorted(asked)[:3]),
)
@pytest.mark.parametrize(
    "path", ["/scout", "/scout/all.csv", "/scout/alike", "/scout/beside", "/scout/sketch/1-0-2-0.png"]
)
def test_what_means_harm_is_answered_in_words(member: Member, path: str, asked: dict[str, Any]):
    answer = member.get(path, asked="1", catalogue="1", c=["1-0-2-0", SCRIPT], **asked)
    assert answer.status_code < 500
    assert "<script>alert" not in answer.text
    assert "<u>" not in answer.text or path.endswith("csv")


def test_the_page_says_that_what_rings_can_mend_leaves_nothing_out(member: Member):
    said = "a drawtube that cannot come out far enough: neither leaves out a combination here"
    assert said in words_of(member.client.get(member.kept()))


def test_a_script_in_a_parts_name_is_only_a_name(member: Member):
    page = member.post("/scout/candidate", **{**TUBE, "model": SCRIPT, "mass_kg": "3 kg", "price": "10 EUR"})
    assert page.status_code == 200
    number = member.numbers("optical_tube", "shelf")[SCRIPT]
    camera = member.numbers("camera", "shelf")["Quillmoor Marl M4 mono"]
    pages = [page, member.get(asked="1", front=["cost", "load"])]
    pages.append(member.get("/scout/beside", asked="1", c=f"{number}-0-{camera}-0"))
    for one in pages:
        assert SCRIPT not in one.text
    assert "&lt;script&gt;" in pages[1].text


def test_kinds_of_target_act_as_targets_beside_ones_list_or_instead_of_it(member: Member):
    three = ["kind-small-galaxies", "kind-large-nebulae", "kind-globular-clusters"]
    page = member.get(asked="1", catalogue="1", target=three)
    assert {one["value"] for one in page_of(page).select("input[name=target][checked]")} == set(three)
    assert "for want of" not in words_of(page)
    (line, *_) = csv.DictReader(io.StringIO(member.client.get(csv_of(page)).text))
    for name in ("small galaxies", "large nebulae", "globular clusters"):
        assert float(line[f"{name} fills"]) > 0.0
        assert float(line[f"{name}, h"]) > 0.0
    own = str(page_of(page).select_one("input[name=target]")["value"])
    both = member.get(asked="1", catalogue="1", target=[own, three[0]])
    assert [one["value"] for one in page_of(both).select("input[name=target][checked]")] == [own, three[0]]
    for link in further(page):
        assert asked_by(link)["target"] == three


def test_the_rarer_needs_are_folded_away_until_one_of_them_is_set_or_wrong(member: Member):
    def folded(**asked: str) -> Any:
        (more,) = page_of(member.get(catalogue="1", **asked)).select(".scout-needs details")
        assert more.select_one("#need-guiding")
        assert not more.select_one("#need-budget")
        return not more.has_attr("open")

    assert folded()
    usual = {"payload_share": "60 %", "fill_least": "25 %", "fill_most": "85 %"}
    assert folded(asked="1", budget="2000", **usual)
    for name, text in (("guiding", "guide_scope"), ("corner_arcsec", "4"), ("spikes", "perhaps")):
        assert not folded(asked="1", **(usual | {name: text}))
