"""Combinations side by side, and the one that goes on the bench."""

from __future__ import annotations

import base64
import io
import re
from typing import Any

import pytest
from PIL import Image

from server.flow.workbench import Workbench
from server.rim.phrasebook.tell import tell
from tests.web.club import observer_named, page_of, sit_down, words_of
from tests.web.scout.conftest import Member

pytestmark = pytest.mark.file_alone(reason="drawn of what others read from both databases")


@pytest.fixture
def asked(member: Member) -> dict[str, list[str]]:
    """What the form beneath the table sends when nothing is ticked."""
    form = page_of(member.client.get(member.kept())).select_one('form[action="/scout/beside"]')
    found: dict[str, list[str]] = {}
    for one in form.select("input[type=hidden]"):
        found.setdefault(str(one["name"]), []).append(str(one["value"]))
    return found


@pytest.fixture
def front(member: Member) -> list[str]:
    """The keys of the front."""
    soup = page_of(member.client.get(member.kept()))
    return [str(one["value"]) for one in soup.select("table.scout-table input[name=c]")]


@pytest.fixture
def every(member: Member) -> list[str]:
    """The keys of all combinations."""
    answer = member.client.get(member.kept().replace("/scout?", "/scout/all.csv?"))
    return [line.split(",")[0] for line in answer.text.splitlines()[1:]]


def columns(answer: Any) -> list[str]:
    return [str(one.contents[0]).strip() for one in page_of(answer).select("table.beside thead th")]


def lines(answer: Any) -> dict[str, list[Any]]:
    rows = page_of(answer).select("table.beside tbody tr")
    return {row.th.get_text(" ", strip=True): row.select("td") for row in rows}


def texts(answer: Any, name: str) -> list[str]:
    return [" ".join(one.text.split()) for one in lines(answer)[name]]


# Side by side


def test_two_that_are_ticked_stand_side_by_side_with_stars_sketch_and_what_is_to_be_bought(
    member: Member, asked: dict[str, list[str]], front: list[str]
):
    page = member.get("/scout/beside", **asked, c=front[:2])
    assert page.status_code == 200
    assert len(columns(page)) == 2
    assert texts(page, "on the front?") == ["Nothing that meets your needs beats it."] * 2
    assert all(one.img and one.img["alt"] for one in lines(page)["star in the centre"])
    # Of a tube that nobody says what it draws no corner star is drawn, which would look perfect.
    told = zip(lines(page)["star in the widest corner"], texts(page, "star in the corner"), strict=True)
    known = {(one.img is not None, figure == "not known yet") for one, figure in told}
    assert known == {(True, False), (False, True)}
    for cell in lines(page)["NGC 1499 after 5 hours, sketch"]:
        picture = member.client.get(str(cell.img["src"]))
        assert picture.headers["content-type"] == "image/png"
    assert all(texts(page, "collimation and upkeep"))
    ids = re.findall(r' id="([^"]+)"', page.text)
    assert len(ids) == len(set(ids)), "two drawings share a name"


def test_the_figures_are_those_of_the_scouts_table(
    member: Member, asked: dict[str, list[str]], front: list[str]
):
    soup = page_of(member.client.get(member.kept()))
    shown = {row.input["value"]: row.select("td")[1:-1] for row in soup.select("tbody tr:has(input)")}
    heads = [one.text for one in soup.select("table.scout-table thead th")][2:]
    page = member.get("/scout/beside", **asked, c=front[:2])
    for head in ("cost", "hours", "mass on the mount", "heaviest piece", "fills"):
        nth = heads.index(head)
        assert texts(page, head) == [shown[key][nth].text for key in front[:2]], head


def amount(text: str) -> float:
    return float(text.replace(",", ""))


def test_what_is_to_be_paid_is_the_sum_of_what_is_to_be_bought(
    member: Member, asked: dict[str, list[str]], every: list[str]
):
    page = member.get("/scout/beside", **asked, c=every[:4])
    for cell, total in zip(lines(page)["to be bought"], texts(page, "in all, yet to be paid"), strict=True):
        items = [" ".join(one.text.split()) for one in cell.select("li")]
        prices = [one for item in items for one in re.findall(r", ([\d.,]+) ([A-Z]{3}) \(", item)]
        sums = {code: sum(amount(price) for price, other in prices if other == code) for _, code in prices}
        told = {code: amount(price) for price, code in re.findall(r"([\d.,]+) ([A-Z]{3})", total)}
        assert told == pytest.approx(sums)
        assert total.startswith("at least") == (0 < len(prices) < len(items))
        assert all(member.client.get(str(one["href"])).status_code == 200 for one in cell.select("a"))


def test_what_is_to_be_bought_says_where_its_figures_are_written_or_where_to_say_it(
    member: Member, asked: dict[str, list[str]], every: list[str]
):
    behind = every[0].partition("-")[2]
    tube = {"design": "apochromat", "aperture_mm": "80 mm", "price": "10 EUR"}
    sources = {
        "Linked": {"document": "https://example.org/sheet?a=1&b=2"},
        "Papered": {"document": "Leaflet in the box"},
        "Noted": {"note": "Weighed by hand. " * 20},
        "Bare": {},
    }
    for name, source in sources.items():
        added = member.post(
            "/shelf/new?kind=optical_tube", **tube, model=name, focal_length_mm="400 mm", **source
        )
        assert added.status_code == 200
    numbers = member.numbers("optical_tube")
    page = member.get("/scout/beside", **asked, c=[f"{numbers[name]}-{behind}" for name in sources])
    told = {name: cell.li for name, cell in zip(sources, lines(page)["to be bought"], strict=True)}
    assert told["Linked"].select_one(".beside-source a")["href"] == sources["Linked"]["document"]
    assert told["Papered"].select_one(".beside-source").text == "Leaflet in the box"
    noted = told["Noted"].select_one(".beside-source").text
    assert noted.startswith("Weighed by hand. Weighed")
    assert len(noted) <= 200
    form = member.client.get(str(told["Bare"].select_one(".beside-source a")["href"]))
    assert page_of(form).select_one("[name=document]") is not None


def test_what_the_rings_change_of_the_figures_that_are_shown_is_said_with_both(
    member: Member, asked: dict[str, list[str]], every: list[str]
):
    page, seen = member.get("/scout/beside", **asked, c=every[:4]), set()
    for nth, said in enumerate(texts(page, "back focus")):
        changed = said.partition("So built: ")[2].removesuffix(".")
        for one in filter(None, changed.split("; ")):
            now, _, before = one.partition(" instead of ")
            # The star's width says in whose seeing it is.
            name = next(row for row in lines(page) if now.startswith(row.split(" in the site")[0]))
            assert before == texts(page, name)[nth]
            assert now != f"{name} {before}"
            seen.add(name)
    assert {"mass on the mount", "share of the mount's rating"} <= seen


def test_back_focus_says_between_which_parts_it_is_closed_and_that_something_else_stops_the_rig(
    member: Member, asked: dict[str, list[str]], every: list[str]
):
    tubes, behind = member.numbers("optical_tube"), member.numbers("corrector")
    tube = next(number for name, number in tubes.items() if "N 192" in name)
    corrector = next(number for name, number in behind.items() if "CR 87" in name)
    key = next(one for one in every if one.startswith(f"{tube}-{corrector}-"))
    page = member.get("/scout/beside", **asked, c=key)
    (stop,), (said,) = texts(page, "what stops it on the bench"), texts(page, "back focus")
    assert "do not mate" in stop
    assert re.match("[A-Z][a-z -]* to camera: closed, ", said), said
    assert "See what stops it." in said
    found = page_of(page).select(".beside-rigs .finding.stop")
    more = re.search(r"And (\d+) more stops? it\.", stop)
    assert (int(more[1]) if more else 0) == len(found) - 1


def test_what_is_to_be_paid_stands_beside_the_budget(
    member: Member, asked: dict[str, list[str]], every: list[str]
):
    page = member.get("/scout/beside", **asked | {"currency": ["EUR"]}, c=every[:4])
    seen = set()
    for total, beside in zip(
        texts(page, "in all, yet to be paid"), texts(page, "beside the budget"), strict=True
    ):
        unsure = "at least" in total or " and " in total or "not known" in total
        paid = re.search(r"([\d.,]+) EUR", total)
        left = 1800.0 - (amount(paid[1]) if paid else 0.0)
        how = "of your 1,800 EUR left" if left >= 0.0 else "more than your 1,800 EUR"
        sure = "" if not unsure else "at most " if left >= 0.0 else "at least "
        assert beside == f"{sure}{abs(left):,.{0 if left == int(left) else 2}f} EUR {how}"
        seen.add((unsure, left >= 0.0))
    assert len(seen) > 1, "the columns are to be of several kinds"
    without = member.get("/scout/beside", **asked | {"budget": []}, c=every[:4])
    assert "beside the budget" not in lines(without)


def test_four_stand_side_by_side_at_most_and_the_page_says_what_it_leaves_out(
    member: Member, asked: dict[str, list[str]], every: list[str]
):
    six = every[::30][:6]
    page = member.get("/scout/beside", **asked, c=six)
    assert len(columns(page)) == 4
    assert "Four at most stand side by side: 2 more are left out." in words_of(page)
    assert "at most stand" not in words_of(member.get("/scout/beside", **asked, c=six[:4]))


def test_one_that_is_not_among_them_is_left_out_and_takes_no_place(
    member: Member, asked: dict[str, list[str]], front: list[str]
):
    strangers = [f"{nth}-0-{nth}-0" for nth in range(9001, 9006)]
    page = member.get("/scout/beside", **asked, c=[*strangers, front[0], front[0], front[1]])
    assert page.status_code == 200
    assert len(columns(page)) == 2
    assert "5 of those asked for are not among what is chosen from" in words_of(page)
    none = member.get("/scout/beside", **asked, c=strangers)
    assert "None of these is among what is chosen from" in words_of(none)


def test_each_can_be_taken_out_and_the_needs_stay(
    member: Member, asked: dict[str, list[str]], front: list[str]
):
    page = member.get("/scout/beside", **asked, c=front[:2])
    out = page_of(page).select_one('a[aria-label^="take out"]')
    alone = member.client.get(str(out["href"]))
    assert columns(alone) == columns(page)[1:]
    assert page_of(alone).h1.text == columns(page)[1]
    assert not page_of(alone).select('a[aria-label^="take out"]')
    back = member.client.get(str(page_of(alone).find("a", string="Back to the Scout")["href"]))
    assert page_of(back).select_one("#need-budget")["value"] == "1800"


@pytest.mark.parametrize(
    "key", ["", "nonsense", "1-2-3", "1-2-3-4-5-6-7", "-1-0-2-0", "1.0-0-2-0", "²-0-2-0", "1-0-2-" + "9" * 16]
)
def test_a_key_that_names_nothing_is_not_here(member: Member, key: str):
    assert member.get("/scout/beside", c=key).status_code == 404
    assert member.get(f"/scout/sketch/{key}x.png").status_code == 404
    assert member.post("/scout/take", c=key).status_code in (404, 422)


def test_who_ticks_nothing_is_told_to_tick(member: Member, asked: dict[str, list[str]]):
    page = member.get("/scout/beside", **asked)
    assert page.status_code == 422
    soup = page_of(page)
    assert words_of(soup.select_one(".notice[role=alert]")).startswith("Nothing was ticked: tick up to four")
    assert soup.select(".scout-table input[name=c]")


def test_an_imperial_reader_meets_no_kilograms(member: Member, asked: dict[str, list[str]], every: list[str]):
    sit_down(member.client, observer_named(member.stores, "Declan Varrow"))
    asked = {**asked, "camera": [], "lift_kg": ["22 lb"], "site": []}
    page = member.get("/scout/beside", **asked, c=every[:2])
    assert len(columns(page)) == 2
    assert all(one.endswith(" lb") for one in texts(page, "mass on the mount"))
    assert not re.search(r"\d (kg|N m)\b", page_of(page).select_one("table.beside").text)


# On the bench


def test_one_press_puts_a_whole_rig_on_the_bench_and_wishes_for_what_is_not_owned(
    member: Member, every: list[str]
):
    owned = member.numbers("optical_tube", "shelf"), member.numbers("camera", "shelf")
    key = next(one for one in every if not {int(one.split("-")[0])} & set(owned[0].values()))
    tube, corrector, camera, mount = map(int, key.split("-"))
    answer = member.client.post("/scout/take", data={"c": key}, follow_redirects=False)
    assert answer.status_code == 303
    path = answer.headers["location"]
    rig = int(re.fullmatch(r"/bench/(\d+)", path)[1])
    assert member.client.get(path).status_code == 200
    with member.stores.reading() as store:
        stored, shelf = store.rig(rig), store.shelf(member.observer.id)
        assert stored.observer_id == member.observer.id
        numbers = [place.part_id for place in stored.plan.places]
        assert [numbers[0], numbers[-1]] == [tube, camera]
        assert not corrector or numbers[1] == corrector
        assert mount in [one.part_id for one in stored.plan.gear]
        assert all(shelf[one].owned or shelf[one].wished for one in stored.plan.part_ids)
        assert shelf[tube].wished == 1


def test_what_one_member_takes_is_no_other_members(member: Member, front: list[str]):
    path = str(member.client.post("/scout/take", data={"c": front[0]}).url.path)
    other = observer_named(member.stores, "Declan Varrow")
    with member.stores.reading() as store:
        rigs = [line.id for line in Workbench(store, other, tell).rigs()]
        shelf = store.shelf(other.id)
    assert int(path.split("/")[-1]) not in rigs
    sit_down(member.client, other)
    assert member.get(path).status_code == 404
    with member.stores.reading() as store:
        assert store.shelf(other.id) == shelf


@pytest.mark.parametrize("sent", [{}, {"c": "9" * 400}, {"c": "9001-0-9002-0"}, {"c": "<script>"}])
def test_what_cannot_be_taken_is_refused_in_words_and_nothing_is_made(member: Member, sent: dict[str, str]):
    before = words_of(member.get("/bench"))
    answer = member.post("/scout/take", **sent)
    assert answer.status_code in (404, 422)
    assert "<script>" not in answer.text
    assert page_of(answer).h1
    assert words_of(member.get("/bench")) == before


def test_drawings_are_to_one_scale_and_sketches_stretched_alike(
    member: Member, asked: dict[str, list[str]], front: list[str]
):
    page = member.get("/scout/beside", **asked, c=front[:2])
    scales = []
    for drawing in page_of(page).select("svg.dw:not(.sky-frame)"):
        bar = drawing.select("g.dw-scale")[-1]
        xs = [float(point.split(",")[0]) for point in bar.polyline["points"].split()]
        scales.append((max(xs) - min(xs)) / float(str(bar["data-mm"])))
    # Each for a wide page and for a phone.
    assert len(scales) == 4
    assert scales == pytest.approx([scales[0]] * 4, rel=0.01)
    sketches = [str(one.img["src"]) for one in lines(page)["NGC 1499 after 5 hours, sketch"]]
    assert all(f"stretch={front[0]}" in one for one in sketches)
    own = re.sub(r"stretch=[\d-]+&?", "", sketches[1])
    assert member.client.get(sketches[1]).content != member.client.get(own).content


def test_each_target_lies_on_each_sensor_and_all_fields_are_drawn_to_one_scale(
    member: Member, asked: dict[str, list[str]], front: list[str]
):
    page = member.get("/scout/beside", **asked, c=front[:3])
    fills: dict[str, list[float]] = {key: [] for key in front[:3]}
    widths = []
    for target in ("NGC 1499", "M 31", "NGC 6960"):
        for key, cell in zip(front, lines(page)[f"{target} on the sensor"], strict=False):
            frame, patch = cell.select_one("rect.frame-1"), cell.select_one("polygon.patch")
            widths.append((key, float(frame["width"])))
            assert patch
            assert cell.figcaption.text.strip().startswith("It ")
            said = re.search(r"fills (\d+) %|([\d.]+) times as large", cell.figcaption.text)
            fills[key].append(float(said[1]) if said[1] else 100.0 * float(said[2]))
    # One scale: a sensor is as wide in each of its pictures, and the widest field has the widest frame.
    assert len(set(widths)) == 3
    assert sorted(front[:3], key=lambda key: fills[key][0]) == sorted(
        front[:3], key=lambda k: -dict(widths)[k]
    )
    assert "Each picture of a target is" in words_of(page)
    assert "OpenNGC" in words_of(page), "the catalogue's licence asks for its name"
    ids = re.findall(r' id="([^"]+)"', page.text)
    assert len(ids) == len(set(ids)), "two drawings share a name"
    bare = member.get("/scout/beside", **{**asked, "target": ["nonsense"]}, c=front[:2])
    assert not page_of(bare).select(".sky-frame")


def test_a_link_of_the_answer_leads_to_a_refractor_against_a_reflector_with_their_obstruction_told(
    member: Member,
):
    answer = page_of(member.client.get(member.kept()))
    for words in ("Refractor against reflector", "Small and light against deep"):
        page = member.client.get(str(answer.find("a", string=words)["href"]))
        assert len(columns(page)) == 2
        told = page_of(page).select_one(".beside-against")
        names = [one.split(" with ")[0] for one in columns(page)]
        assert all(name in told.p.text for name in names)
        assert "of the contrast" in told.p.text.lower()
        assert told.select_one("details.working .source")
        assert page_of(page).find("a", string="Back to the Scout")


def test_of_one_tube_nothing_is_told_against_another(
    member: Member, asked: dict[str, list[str]], every: list[str]
):
    tube = every[0].split("-")[0]
    same = [key for key in every if key.split("-")[0] == tube][:2]
    assert not page_of(member.get("/scout/beside", **asked, c=same)).select(".beside-against")


def brightest(cell: Any) -> int:
    """Of a drawn star, 0 to 255."""
    picture = Image.open(io.BytesIO(base64.b64decode(str(cell.img["src"]).partition(",")[2])))
    return max(picture.convert("L").tobytes())


def test_all_stars_have_one_white_so_that_a_wider_one_is_dimmer(
    member: Member, asked: dict[str, list[str]], front: list[str]
):
    page = member.get("/scout/beside", **asked, c=front[:3])
    (width,) = (name for name in lines(page) if name.startswith("star's width"))
    widths = [float(text.split()[0]) for text in texts(page, width)]
    whites = [brightest(cell) for cell in lines(page)["star in the centre"]]
    assert len(set(widths)) == 3
    assert max(whites) == 255
    order = range(3)
    assert sorted(order, key=lambda n: widths[n]) == sorted(order, key=lambda n: -whites[n])
    assert "one white" in words_of(page)


def test_a_stars_width_says_of_which_seeing_it_is_and_the_findings_of_which(
    member: Member, asked: dict[str, list[str]], front: list[str]
):
    page = member.get("/scout/beside", **asked, c=front[:1])
    assert "star's width in the site's seeing, 3.5 arcsec" in lines(page)
    assert "The findings below take the rules' seeing, 3 arcsec." in words_of(page)


def test_a_star_of_a_tube_whose_obstruction_nobody_has_said_says_that_it_is_drawn_without(
    member: Member, asked: dict[str, list[str]], front: list[str]
):
    entered = {"maker": "Tarnholt", "model": "N 130", "design": "newtonian"}
    member.post("/scout/candidate", **entered, aperture_mm="130", focal_length_mm="650")
    (tube,) = (number for name, number in member.numbers("optical_tube").items() if "N 130" in name)
    key = "-".join([str(tube), *front[0].split("-")[1:]])
    page = member.get("/scout/beside", **asked, c=[key, front[0]])
    told, known = texts(page, "star in the centre")
    assert told == "its obstruction is not known: drawn without"
    assert known == ""
    assert (
        "its central obstruction, 22 to 38 % of its aperture" in texts(page, "taken as usual for its kind")[0]
    )
    against = page_of(page).select_one(".beside-against").text
    assert "30 % of its diameter, as is usual for its kind: nobody has said" in against


def test_each_figure_is_followed_to_its_working_and_each_rig_to_its_inputs(
    member: Member, asked: dict[str, list[str]], front: list[str]
):
    page = page_of(member.get("/scout/beside", **asked, c=front[:2]))
    heads = [row.th.contents[0].strip() for row in page.select("table.beside tbody tr:has(td)")]
    worked = {one.dt.text: one.dd for one in page.select(".beside-worked > div")}
    figures = heads[heads.index("cost") : heads.index("fills") + 1]
    assert list(worked) == figures
    assert all(one.select_one(".formula").text for one in worked.values())
    assert all(len(one.select_one(".source").text) > len("Source: ") for one in worked.values())
    for rig in page.select(".beside-rigs > section"):
        sound = rig.select("details.beside-sound .finding")
        assert rig.select_one("details.beside-sound > summary").text.startswith(f"{len(sound)} finding")
        assert sound
        assert all(one.select_one("table.inputs, .formula") for one in sound)
        assert not rig.select("details.beside-sound .finding:not(.sound)")


def test_a_tube_is_swapped_into_a_rig_that_is_there(
    member: Member, asked: dict[str, list[str]], front: list[str]
):
    page = page_of(member.get("/scout/beside", **asked, c=front[-1:]))
    form = page.select_one('form[action="/scout/swap"]')
    rig = next(str(one["value"]) for one in form.select("option") if one.text == "Garden refractor")
    answer = member.post("/scout/swap", c=form.select_one("input[name=c]")["value"], rig=rig)
    assert answer.url.path == f"/bench/{rig}"
    with member.stores.reading() as store:
        ((_, built),) = Workbench(store, member.observer, tell).rigs_in_hand((int(rig),))
    assert str(built.train.tube.item.id) == front[-1].split("-")[0]


def test_a_tube_is_not_swapped_into_another_observers_rig(member: Member, front: list[str]):
    assert member.post("/scout/swap", c=front[0], rig=999_999).status_code == 404
    assert member.post("/scout/swap", c="1-2-3", rig=1).status_code == 404
