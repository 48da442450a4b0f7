"""The guide camera in focus too, as a browser meets it.

The Fast Newtonian's figures are worked by hand in seed_data/rigs.toml: with its ring of 3.2 mm behind the
guider 48.010 mm lie from the prism to the main sensor, 38.5 mm from the prism to the guide sensor without a
ring, and an adapter of 3.0 and rings of 1.5 and 5.0 mm in Ruta's drawer make the 9.5 mm that lack.
"""

from __future__ import annotations

from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from bs4 import BeautifulSoup, Tag
from fastapi.testclient import TestClient

from server.flow.workbench import Workbench
from server.rim.phrasebook.tell import tell
from server.store import Stores
from tests.web.bridge.test_page import Rig, cards, part_names, put
from tests.web.club import observer_named, page_of, words_of

pytestmark = pytest.mark.file_alone(reason="drawn of what others read from both databases")

CHAIN = [
    "Brindlewick Works 42 to 1 in-32, 3 mm",
    "Brindlewick Works Ring 1 in-32, 1.5 mm",
    "Brindlewick Works Ring 1 in-32, 5 mm",
]


@pytest.fixture
def newtonian(client: TestClient, stores: Stores) -> Rig:
    return Rig(client, stores, "Ruta Ommerli", "Fast Newtonian")


@pytest.fixture
def big(client: TestClient, stores: Stores) -> Rig:
    return Rig(client, stores, "Ruta Ommerli", "The big one on the old mount")


def chain_of(card: Tag) -> Tag:
    found = card.select_one(".guide-chain")
    assert found is not None
    return found


def names(page: BeautifulSoup) -> str:
    run = page.select_one(".guide-run")
    assert run is not None
    return " ".join(run.get_text(" ").split())


def guide_finding(rig: Rig) -> str:
    (found,) = rig.bench.select(".finding[id^='finding-guide_branch-']")
    return str(found["class"][1])


def step(rig: Rig, verb: str) -> None:
    version = str(rig.bench.select_one("#bench")["data-version"])
    rig.client.post(f"/bench/{rig.id}/{verb}", data={"version": version})


def change(rig: Rig, **form: Any) -> Any:
    version = str(rig.bench.select_one("#bench")["data-version"])
    return rig.client.post(
        f"/bench/{rig.id}/change", data={"version": version, **form}, follow_redirects=False
    )


# From the finding to the guide camera in focus


def test_the_finding_leads_to_the_bridge_with_the_tick_set(newtonian: Rig):
    assert guide_finding(newtonian) == "unknown"
    link = newtonian.bench.select_one("#finding-guide_branch-open-8 .finding-bridge a") or (
        newtonian.bench.select_one("article[id^='finding-guide_branch'] .finding-bridge a")
    )
    assert link is not None
    page = page_of(newtonian.client.get(str(link["href"])))
    tick = page.select_one("input[name=guide]")
    assert tick is not None
    assert tick.has_attr("checked")


def test_both_chains_are_shown_to_one_scale_with_their_paths(newtonian: Rig):
    best = cards(newtonian.bridge(guide=1))[0]
    chain = chain_of(best)
    assert part_names(chain) == CHAIN
    assert "nothing to buy" in best.get_text()
    said = " ".join(chain.get_text(" ").split())
    assert "Prism to main sensor 48.01 mm" in said
    assert "Prism to guide sensor 48.00 mm" in said
    assert "0.01 mm too short" in said
    scales = {str(bar["data-mm"]) for bar in best.select(".dw-scale")}
    assert len(best.select("svg.dw-stack")) == 2
    assert len(scales) == 1


def test_one_press_puts_both_chains_in_and_one_undo_takes_both_out(newtonian: Rig):
    before, empty = newtonian.run(), names(newtonian.bench)
    done = put(newtonian, cards(newtonian.bridge(guide=1))[0])
    assert (done.status_code, done.headers["location"]) == (303, f"/bench/{newtonian.id}")
    shown = names(newtonian.bench)
    assert all(part in shown for part in CHAIN)
    assert "Glint G2" in shown
    assert guide_finding(newtonian) == "sound"
    assert "stop" not in newtonian.weights()
    step(newtonian, "undo")
    assert (newtonian.run(), names(newtonian.bench)) == (before, empty)
    step(newtonian, "redo")
    assert names(newtonian.bench) == shown


def test_what_stands_before_the_guide_camera_is_what_the_bridge_finds_again(newtonian: Rig):
    put(newtonian, cards(newtonian.bridge(guide=1))[0])
    best = cards(newtonian.bridge(guide=1))[0]
    assert "This is what stands there now." in words_of_tag(best)
    assert [tag.get_text() for tag in chain_of(best).select(".tag")] == ["there now"] * 3


def words_of_tag(tag: Tag) -> str:
    return " ".join(tag.get_text(" ").split())


def test_a_stack_without_the_guide_camera_leaves_its_chain_alone(big: Rig):
    assert "42 to 1 in-32, 3 mm" in names(big.bench)
    put(big, cards(big.bridge(lead="error"))[0])
    assert "42 to 1 in-32, 3 mm" in names(big.bench)


def test_the_address_keeps_the_tick_and_how_far_off_it_may_be(newtonian: Rig):
    answer = newtonian.bridge(guide=1, guide_off="0.3 mm")
    link = cards(answer)[0].select_one(".guide-chain a.not-this")
    assert link is not None
    kept = parse_qs(urlsplit(str(link["href"])).query)
    assert (kept["guide"], kept["guide_off"]) == (["1"], ["0.3 mm"])
    again = cards(newtonian.client.get(str(link["href"])))
    assert all(CHAIN[0] not in part_names(chain_of(card)) for card in again)


@pytest.mark.parametrize("text", ["5 kg", "-1 mm", "wide"])
def test_a_width_that_is_no_length_is_said_beside_its_field(newtonian: Rig, text: str):
    answer = newtonian.bridge(guide=1, guide_off=text)
    assert answer.status_code == 422
    assert page_of(answer).select_one("#bridge-guide_off-error") is not None


def test_where_the_guide_chain_cannot_be_built_it_is_said_how_long_it_would_be(newtonian: Rig):
    said = words_of(newtonian.bridge(guide=1, source="owned", guide_off="0.005 mm"))
    assert "No stack exists" in said
    assert "the guide chain then needs" in said
    assert "A ring of" in said


def test_a_rig_without_a_guider_has_no_tick_and_refuses_in_words(client: TestClient, stores: Stores):
    garden = Rig(client, stores, "Annika Thornquist", "Garden refractor")
    assert page_of(garden.bridge()).select("input[name=guide]") == []
    answer = garden.bridge(guide=1)
    assert answer.status_code == 422
    assert "holds no off-axis guider" in words_of(answer)


@pytest.mark.parametrize("branch", ["x", "1@", "7t2"])
def test_what_the_bridge_never_wrote_is_no_guide_chain(newtonian: Rig, branch: str):
    data = {"version": 1, "sky": 1, "camera": 2, "uses": "", "branch": branch}
    answer = newtonian.client.post(f"/bench/{newtonian.id}/bridge/put", data=data)
    assert answer.status_code == 422
    assert "no stack that the Bridge offered" in words_of(answer)


# On the bench


def test_a_ring_is_added_before_the_guide_camera_and_taken_out_by_hand(newtonian: Rig):
    tray = page_of(newtonian.client.get(f"/bench/{newtonian.id}?guide=1"))
    head = tray.select_one("#tray-title")
    assert head is not None
    assert head.get_text() == "Before the guide camera"
    item = next(one for one in tray.select(".tray-item") if "42 to 1 in-32" in one.get_text())
    assert change(newtonian, press=str(item.button["value"])).status_code == 303
    assert "42 to 1 in-32, 3 mm" in names(newtonian.bench)
    # 38.5 + 3.0 = 41.5 mm against 48.010: too short by 6.5.
    assert guide_finding(newtonian) == "stop"
    out = next(one for one in newtonian.bench.select(".guide-run button") if "take out" in one.get_text())
    change(newtonian, press=str(out["value"]))
    assert "42 to 1 in-32" not in names(newtonian.bench)


def test_the_tray_before_the_guide_camera_offers_rings_only(newtonian: Rig):
    tray = page_of(newtonian.client.get(f"/bench/{newtonian.id}?guide=1"))
    kinds = {one.get_text().split(" · ")[0].strip() for one in tray.select(".tray-kind")}
    assert kinds <= {"spacer ring", "adapter", "shim", "spacing ring"}


def test_a_guide_chain_outlives_its_guider_and_can_still_be_taken_out(big: Rig):
    key = next(
        str(row["data-key"]) for row in big.bench.select("li.place") if "kind-off_axis_guider" in row["class"]
    )
    change(big, verb="remove", place=key)
    assert "Guide chain without an off-axis guider" in names(big.bench)
    button = big.bench.select_one(".guide-run button")
    assert button is not None
    change(big, press=str(button["value"]))
    assert big.bench.select(".guide-run") == []


# In the logbook


def test_a_saved_entry_and_its_files_say_the_guide_chain(big: Rig, stores: Stores):
    version = str(big.bench.select_one("#bench")["data-version"])
    big.client.post(f"/bench/{big.id}/save", data={"version": version, "title": "Guided"})
    with stores.reading() as store:
        ruta = observer_named(stores, "Ruta Ommerli")
        entry = next(e for e in Workbench(store, ruta, tell).entries() if e.document.title == "Guided")
    said = words_of(big.client.get(f"/logbook/{entry.id}"))
    assert "Guide chain, from the off-axis guider's side port:" in said
    assert "42 to 1 in-32, 3 mm" in said
    page = words_of(big.client.get(f"/logbook/{entry.id}/file.html"))
    assert "Guide chain, from the off-axis guider's side port:" in page
    data = big.client.get(f"/logbook/{entry.id}/file.json").json()
    (place,) = data["plan"]["branch"]
    assert place["part_id"] in [part["id"] for part in data["parts"]]


def test_an_observer_cannot_put_a_chain_into_anothers_rig(newtonian: Rig, stores: Stores):
    newtonian.client.cookies.set("observer", str(observer_named(stores, "Pavo Lindgarth").id))
    data = {"version": 1, "sky": 1, "camera": 2, "uses": "", "branch": ""}
    assert newtonian.client.post(f"/bench/{newtonian.id}/bridge/put", data=data).status_code in (403, 404)
