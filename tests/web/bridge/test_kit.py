"""One kit for several rigs, as a browser meets it: the choice, the kit, a stack put in, stopping."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from typing import Any

import pytest
from bs4 import Tag
from fastapi.testclient import TestClient

from server.domain.observer import Holding
from server.flow import bridge_kit
from server.flow.workbench import Workbench
from server.rim.phrasebook.tell import tell
from server.search.kit_planner import KitOutcome
from server.store import Stores
from tests.web.club import observer_named, page_of, sit_down, words_of

pytestmark = pytest.mark.file_alone(reason="drawn of what others read from both databases")

HTMX = {"HX-Request": "true"}


class Bench:
    """An observer's rigs, by name."""

    def __init__(self, client: TestClient, stores: Stores, owner: str) -> None:
        self.client = client
        observer = observer_named(stores, owner)
        sit_down(client, observer)
        with stores.reading() as store:
            self.rigs = {line.name: line.id for line in Workbench(store, observer, tell).rigs()}

    def kit(self, *names: str, **query: Any) -> Any:
        rigs = [self.rigs[name] for name in names or self.rigs]
        return self.client.get("/bench/kit", params={"rig": rigs, "wait": 1, **query})


@pytest.fixture
def declan(client: TestClient, stores: Stores) -> Bench:
    return Bench(client, stores, "Declan Varrow")


def stacks(answer: Any) -> dict[str, Tag]:
    """The line of each rig."""
    found = page_of(answer).select("tr.stack-line")
    return {next(one.select_one("th").stripped_strings): one for one in found}


def test_the_list_of_rigs_and_the_bridge_lead_to_it(declan: Bench):
    rigs = page_of(declan.client.get("/bench"))
    assert rigs.select_one("a[href='/bench/kit']") is not None
    number = declan.rigs["Nebula refractor"]
    bridge = page_of(declan.client.get(f"/bench/{number}/bridge"))
    link = bridge.select_one("a[href^='/bench/kit']")
    assert link is not None
    page = page_of(declan.client.get(str(link["href"])))
    ticked = [str(box["value"]) for box in page.select("input[name=rig][checked]")]
    assert ticked == [str(number)]
    assert page.select("tr.stack-line") == []


def test_every_rig_gets_its_stack_and_the_page_says_what_is_proven(declan: Bench):
    answer = declan.kit()
    assert answer.status_code == 200
    said = words_of(answer)
    assert "Proven: nothing has to be bought." in said
    assert "Proven: no kit of this price needs fewer joints undone." in said
    assert set(stacks(answer)) == {"Nebula refractor", "Galaxy scope"}
    opened = declan.kit(open=[declan.rigs[name] for name in stacks(answer)])
    assert len(page_of(opened).select("article.stack svg.dw-stack")) == 2
    assert len({str(bar["data-mm"]) for bar in page_of(opened).select(".dw-scale")}) == 1


def test_the_stack_that_mends_the_nebula_refractor_is_put_in_with_one_press_and_undone(declan: Bench):
    card = stacks(declan.kit())["Nebula refractor"]
    form = card.select_one("form")
    assert form is not None
    data = {str(field["name"]): str(field["value"]) for field in form.select("input[name]")}
    done = declan.client.post(str(form["action"]), data=data, follow_redirects=False)
    number = declan.rigs["Nebula refractor"]
    assert (done.status_code, done.headers["location"]) == (303, f"/bench/{number}")
    bench = page_of(declan.client.get(f"/bench/{number}"))
    assert bench.select("article.finding.stop") == []
    version = str(bench.select_one("#bench")["data-version"])
    declan.client.post(f"/bench/{number}/undo", data={"version": version})
    assert page_of(declan.client.get(f"/bench/{number}")).select("article.finding.stop") != []


def test_the_table_of_joints_adds_up(declan: Bench):
    page = page_of(declan.kit())
    rows = page.select("table.front tbody tr")
    numbers = [int(cell.get_text()) for row in rows for cell in row.select("td") if cell.get_text() != "–"]
    head = page.select_one("#undone-title")
    assert head is not None
    assert head.get_text().startswith(f"{sum(numbers)} joints undone")


def test_one_rig_is_no_kit_yet_and_six_are_too_many(declan: Bench):
    assert "Choose two to five rigs" in words_of(declan.kit("Galaxy scope"))
    for at in range(5):
        declan.client.post("/bench", data={"name": f"Rig {at}"})
    page = page_of(declan.client.get("/bench/kit"))
    rigs = [str(box["value"]) for box in page.select("input[name=rig]")]
    answer = declan.client.get("/bench/kit", params={"rig": rigs})
    assert answer.status_code == 422
    assert "Choose 2 to 5 rigs" in words_of(answer)


def test_a_rig_without_a_gap_says_why_beside_its_name(declan: Bench):
    declan.client.post("/bench", data={"name": "Empty"})
    page = page_of(declan.client.get("/bench/kit"))
    empty = next(
        str(label.select_one("input")["value"])
        for label in page.select("label.tick")
        if "Empty" in label.get_text()
    )
    answer = declan.client.get("/bench/kit", params={"rig": [empty, declan.rigs["Galaxy scope"]]})
    assert answer.status_code == 422
    assert "not have two parts yet" in stacks(answer)["Empty"].get_text()


def test_what_must_be_bought_is_named_with_its_price_and_the_rigs_it_is_for(
    client: TestClient, stores: Stores
):
    annika = Bench(client, stores, "Annika Thornquist")
    # The adapter that both rigs with the lens share is taken from the shelf: it must be bought, nothing else.
    observer = observer_named(stores, "Annika Thornquist")
    with stores.writing() as store:
        workbench = Workbench(store, observer, tell)
        for line in workbench.bench(annika.rigs["Holiday tracker"]).rig.train:
            if line.item.kind == "adapter":
                store.set_holding(observer.id, line.item.id, Holding())
    page = page_of(annika.kit())
    head = page.select_one("#buy-title")
    assert head is not None
    assert head.get_text() == "To buy: 39 EUR"
    (bought,) = page.select(".kit-buy li")
    assert "Heron bayonet to 42" in bought.get_text()
    assert "for Wide lens on the garden mount, Holiday tracker" in bought.get_text()


def test_anothers_rig_is_not_planned_with(declan: Bench, stores: Stores):
    sit_down(declan.client, observer_named(stores, "Pavo Lindgarth"))
    assert declan.kit().status_code in (403, 404)


# A planning that takes its time


@pytest.fixture
def slow(monkeypatch: pytest.MonkeyPatch) -> Iterator[threading.Event]:
    """A planning that has found a kit and goes on until it is stopped or let go."""
    real, let_go = bridge_kit.search_kit, threading.Event()

    def planning(posed: Any, progress: Any) -> KitOutcome:
        found = real(posed)
        first = KitOutcome(found.kit, money_proven=False, money_bound=0)
        while progress(first):
            if let_go.wait(0.02):
                return found
        return first

    monkeypatch.setattr("server.web.bridge.jobs.search_kit", planning)
    yield let_go
    let_go.set()


def test_a_long_planning_grows_on_the_page_and_what_it_has_found_stays_when_it_is_stopped(
    declan: Bench, slow: threading.Event
):
    for _ in range(100):
        answer = declan.client.get("/bench/kit", params={"rig": list(declan.rigs.values())}, headers=HTMX)
        if stacks(answer):
            break
        time.sleep(0.05)
    said = words_of(answer)
    assert "a cheaper kit may come" in said
    assert "Still planning" in said
    stop = page_of(answer).select_one("form[action^='/bench/kit/stop']")
    assert stop is not None
    stopped = declan.client.post(str(stop["action"]), headers=HTMX)
    assert "Not proven: a cheaper kit may exist" in words_of(stopped)
    assert len(stacks(stopped)) == 2
    again = page_of(stopped).select_one("a[href*='again=1']")
    assert again is not None
    slow.set()
    declan.client.get(str(again["href"]))
    assert "Proven:" in words_of(declan.kit())
